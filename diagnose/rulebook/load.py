"""Finds the rule book that is asked for: in this process, in the store of compiled books, or in the YAML files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.rulebook import store
from diagnose.rulebook.book import Rulebook, RuleError
from diagnose.rulebook.folders import is_whole, parent_of_rules
from diagnose.shipped import shipped
from diagnose.yamlfile import Problem

VARIABLE = "DIAGNOSE_RULES"
HELD = 8  # books in one process


def load_rules(*folders: Path | str) -> Rulebook:
    """The shipped rule book with these folders of a company's own rules laid over it, in any order.

    Without folders those of DIAGNOSE_RULES are taken (several are separated as in PATH). A folder that holds a whole book,
    laid out like the shipped `rules/`, stands in its place. As long as no file changes, the same object is given again.
    Raises RuleError with every mistake in the files.
    """
    given = [Path(folder) for folder in folders]
    if not given:
        given = [Path(part) for part in os.environ.get(VARIABLE, "").split(os.pathsep) if part]
    missing = [
        Problem(str(folder), 0, 0, "there is no such folder of rules", "Check the name.")
        for folder in given
        if not folder.is_dir()
    ]
    missing += [problem for folder in given if folder.is_dir() for problem in parent_of_rules(folder)]
    if missing:
        raise RuleError(missing)
    return _current(tuple(sorted({folder.resolve() for folder in given})))


class _Held(NamedTuple):
    places: tuple[Path, ...]  # the base, then what lies over it
    stamp: store.Stamp | None
    digest: str | None
    book: Rulebook


_HELD: dict[tuple[Path, ...], _Held] = {}


def _current(folders: tuple[Path, ...]) -> Rulebook:
    """The book as its files are now: those not touched since are trusted, those touched are read and compared."""
    held = _HELD.get(folders)
    if held is not None and held.stamp is not None and store.stamp(held.places) == held.stamp:
        return held.book
    places = _places(folders)
    stamp, digest = store.stamp(places), store.digest(places)
    if held is not None and digest is not None and digest == held.digest:
        book = held.book
    else:
        book = _stored(places, digest)
    _HELD.pop(folders, None)
    while len(_HELD) >= HELD:
        _HELD.pop(next(iter(_HELD)), None)
    _HELD[folders] = _Held(places, stamp, digest, book)
    return book


def _stored(places: tuple[Path, ...], digest: str | None) -> Rulebook:
    book = store.fetch(digest) if digest else None
    if book is None:
        from diagnose.rulebook.reading import read_book  # pydantic and YAML: only where nothing is stored

        book = read_book(places[0], places[1:])
        # Stored only if no file changed while they were read.
        if digest is not None and digest == store.digest(places):
            store.keep(digest, book)
    return book


def _places(folders: Sequence[Path]) -> tuple[Path, ...]:
    """The folder of the whole book, then those laid over it."""
    whole = [folder for folder in folders if is_whole(folder)]
    if len(whole) > 1:
        problems = [Problem(str(folder), 0, 0, "two whole rule books cannot be used at once") for folder in whole]
        raise RuleError(problems)
    base = whole[0] if whole else shipped("rules")
    return (base, *(folder for folder in folders if folder not in whole))
