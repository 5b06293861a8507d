"""Finds the rule book that is asked for: in this process, in the store of compiled books, or in the YAML files."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from diagnose.rulebook import store
from diagnose.rulebook.book import Rulebook, RuleError
from diagnose.rulebook.entries import Unfit
from diagnose.rulebook.folders import is_whole, parent_of_rules
from diagnose.shipped import shipped
from diagnose.yamlfile import Problem

VARIABLE = "DIAGNOSE_RULES"
HELD = 8  # books in one process


def load_rules(*folders: Path | str, drafts: bool = False) -> Rulebook:
    """The shipped rule book with these folders of a company's own rules laid over it, in any order.

    Without folders those of DIAGNOSE_RULES are taken (several are separated as in PATH). A folder that holds a whole book,
    laid out like the shipped `rules/`, stands in its place. As long as no file changes, the same object is given again.
    drafts: what is marked as a draft speaks as well. Raises RuleError with every mistake in the files.
    """
    given = given_folders(folders)
    missing = [
        Problem(
            str(folder),
            0,
            0,
            "there is no such folder of rules",
            f"This is a file: give the folder, `{folder.parent}`." if folder.is_file() else "Check the name.",
        )
        for folder in given
        if not folder.is_dir()
    ]
    missing += [problem for folder in given if folder.is_dir() for problem in parent_of_rules(folder)]
    if missing:
        raise RuleError(missing)
    return _current(_resolved(given), drafts)


def usable_rules(*folders: Path | str, drafts: bool = False) -> Rulebook:
    """The same for a visit, which no mistake in a company's own rules stops.

    Then the last of these rules that had none judge, or the shipped ones alone; `unfit` of the book says so. Raises RuleError
    where a folder that was named is not there, or the shipped book is not sound.
    """
    try:
        return load_rules(*folders, drafts=drafts)
    except RuleError as error:
        given = given_folders(folders)
        if not given or (folders and not all(folder.is_dir() for folder in given)):
            raise
        last = store.fetch_last(_stack(_resolved(given), drafts))
        book = last if last is not None else load_rules(shipped("rules"))
        told = {Path(problem.file).parts[0] for problem in error.problems if problem.file}
        names = tuple(folder.name for folder in given if folder.name in told or str(folder) in told)
        unfit = Unfit(
            names or tuple(f.name for f in given), len(error.problems), "last" if last is not None else "shipped"
        )
        return replace(book, unfit=unfit, own=replace(book.own, unsure=True))


def given_folders(folders: Sequence[Path | str]) -> list[Path]:
    """These, or those of DIAGNOSE_RULES where there are none."""
    asked = [Path(folder) for folder in folders]
    return asked or [Path(part) for part in os.environ.get(VARIABLE, "").split(os.pathsep) if part]


def _resolved(folders: Sequence[Path]) -> tuple[Path, ...]:
    return tuple(sorted({folder.resolve() for folder in folders}))


def _stack(folders: Sequence[Path], drafts: bool) -> str:
    """What stands for these folders, whatever is in them."""
    return hashlib.sha256("\0".join([str(drafts), *map(str, folders)]).encode(errors="surrogateescape")).hexdigest()


class _Held(NamedTuple):
    places: tuple[Path, ...]  # the base, then what lies over it
    stamp: store.Stamp | None
    digest: str | None
    book: Rulebook


_HELD: dict[tuple[tuple[Path, ...], bool], _Held] = {}


def _current(folders: tuple[Path, ...], drafts: bool) -> Rulebook:
    """The book as its files are now: those not touched since are trusted, those touched are read and compared."""
    key = folders, drafts
    held = _HELD.get(key)
    if held is not None and held.stamp is not None and store.stamp(held.places) == held.stamp:
        _HELD[key] = _HELD.pop(key, held)  # of too many the one goes that was asked for longest ago
        return held.book
    places = _places(folders)
    stamp, digest = store.stamp(places), store.digest(places, drafts)
    if held is not None and digest is not None and digest == held.digest:
        book = held.book
    else:
        book = _stored(places, folders, drafts, digest)
    _HELD.pop(key, None)
    while len(_HELD) >= HELD:
        _HELD.pop(next(iter(_HELD)), None)
    _HELD[key] = _Held(places, stamp, digest, book)
    return book


def _stored(places: tuple[Path, ...], folders: tuple[Path, ...], drafts: bool, digest: str | None) -> Rulebook:
    book = store.fetch(digest) if digest else None
    if book is None:
        from diagnose.rulebook.reading import read_book  # pydantic and YAML: only where nothing is stored

        book = read_book(places[0], places[1:], drafts)
        # Stored only if no file changed while they were read.
        if digest is not None and digest == store.digest(places, drafts):
            store.keep(digest, book)
        else:
            return book
    if digest is not None and places != (shipped("rules"),):
        store.keep_last(_stack(folders, drafts), digest)
    return book


def _places(folders: Sequence[Path]) -> tuple[Path, ...]:
    """The folder of the whole book, then those laid over it."""
    whole = [folder for folder in folders if is_whole(folder)]
    if len(whole) > 1:
        problems = [Problem(str(folder), 0, 0, "two whole rule books cannot be used at once") for folder in whole]
        raise RuleError(problems)
    base = whole[0] if whole else shipped("rules")
    return (base, *(folder for folder in folders if folder not in whole))
