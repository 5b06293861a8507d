"""Reads the rule files, lays a company's own over the shipped ones, and makes a checked Rulebook.

Every mistake in every file is listed at once, each with its place. What the checks across files are is in `checking.py`.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

from diagnose import yamlfile
from diagnose.rulebook.book import Rulebook
from diagnose.rulebook.checking import Gathered, Placed, check_book
from diagnose.rulebook.models import (
    CautionsFile,
    Change,
    ChangesFile,
    ChecksFile,
    FaultEntry,
    FindingsFile,
    OwnRulesFile,
    ReadinessFile,
    SourcesFile,
    StatesFile,
)
from diagnose.shipped import shipped
from diagnose.yamlfile import Document, InputProblems, Problem

FILES: Mapping[str, type[BaseModel]] = {
    "findings.yaml": FindingsFile,
    "states.yaml": StatesFile,
    "readiness.yaml": ReadinessFile,
    "cautions.yaml": CautionsFile,
    "checks.yaml": ChecksFile,
    "sources.yaml": SourcesFile,
}
OWN_FILES: Mapping[str, type[BaseModel]] = {**FILES, "rules.yaml": OwnRulesFile, "changes.yaml": ChangesFile}
VARIABLE = "DIAGNOSE_RULES"
M = TypeVar("M", bound=BaseModel)
Kept = dict[str, list[int]]


class RuleError(InputProblems):
    """The rule files cannot be used. `problems` lists every mistake."""


def load_rules(*folders: Path | str) -> Rulebook:
    """The shipped rule book with these folders of a company's own rules laid over it, in any order. Cached.

    Without folders those of DIAGNOSE_RULES are taken (several are separated as in PATH). A folder that holds a whole book,
    laid out like the shipped `rules/`, stands in its place. Raises RuleError with every mistake in the files.
    """
    given = [Path(folder) for folder in folders]
    if not given:
        given = [Path(part) for part in os.environ.get(VARIABLE, "").split(os.pathsep) if part]
    missing = [
        Problem(str(folder), 0, 0, "there is no such folder of rules", "Check the name.")
        for folder in given
        if not folder.is_dir()
    ]
    if missing:
        raise RuleError(missing)
    return rulebook_in(*sorted({folder.resolve() for folder in given}))


@lru_cache(maxsize=8)
def rulebook_in(*folders: Path) -> Rulebook:
    """The same by absolute folders; each set of folders is read once in the life of the process."""
    whole = [folder for folder in folders if is_whole(folder)]
    if len(whole) > 1:
        problems = [Problem(str(folder), 0, 0, "two whole rule books cannot be used at once") for folder in whole]
        raise RuleError(problems)
    base = whole[0] if whole else shipped("rules")
    return _Loader(base, [folder for folder in folders if folder not in whole]).book()


def is_whole(folder: Path) -> bool:
    """Whether a folder holds a whole rule book, not only what is to be laid over one."""
    # One file may be missing: that is then a mistake in a whole book, and told as one.
    return sum((folder / name).is_file() for name in FILES) >= len(FILES) - 1 and (folder / "faults").is_dir()


@dataclass
class _Loader:
    base: Path
    overlays: Sequence[Path]
    problems: list[Problem] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)
    whole: bool = True  # whether every file could be read, so that what is missing is really missing
    digest: Any = field(default_factory=hashlib.sha256)

    def book(self) -> Rulebook:
        gathered = Gathered()
        self.folder(self.base, "", gathered)
        for folder in self.overlays:
            self.folder(folder, folder.name, gathered)
        if not self.whole:
            self.stop()
        book, across = check_book(gathered, self.name(), frozenset(self.unsure))
        self.problems += across
        if book is None or self.problems:
            self.stop()
        return book

    def name(self) -> str:
        base = "shipped" if self.base == shipped("rules") else self.base.name
        return " + ".join([base, *(folder.name for folder in self.overlays)]) + f" ({self.digest.hexdigest()[:8]})"

    def stop(self) -> NoReturn:
        raise RuleError(sorted(self.problems, key=lambda p: (p.file, p.line, p.column)))

    # -- one folder ------------------------------------------------------------------------------------------------
    def folder(self, folder: Path, own: str, into: Gathered) -> None:
        """Everything in a folder; `own` is the folder's name where it is a company's own, and empty for the base."""
        files = OWN_FILES if own else FILES
        for path in sorted(folder.glob("*.yaml")):
            if path.name not in files:
                fix = yamlfile.did_you_mean(path.name, files) or f"Known: {', '.join(files)}, and the folder faults."
                self.problems.append(
                    Problem(_short(path, folder), 0, 0, "no rules are read from a file of this name", fix)
                )
        for name, model in files.items():
            if not own or (folder / name).is_file():
                entry, document, kept = self.read(folder / name, folder, model)
                if entry is not None and document is not None:
                    _gather(entry, document, kept, own, into)
        for path in sorted((folder / "faults").glob("*.yaml")):
            fault, document, kept = self.read(path, folder, FaultEntry)
            if fault is not None and document is not None:
                into.faults.append(Placed(fault, document, (), own))
                into.kept[document.name] = kept.get("rules", [])
            else:
                self.unsure.add(path.stem)

    def read(self, path: Path, folder: Path, model: type[M]) -> tuple[M | None, Document | None, Kept]:
        """What a file holds, and for each section which of its entries that are, where some are broken."""
        try:
            document = yamlfile.read(path)
        except InputProblems as error:
            self.problems += error.problems
            self.whole = False
            return None, None, {}
        self.digest.update("\n".join(document.lines).encode())
        document = Document(_short(path, folder), document.data, document.lines, document.marks, document.keys)
        try:
            return model.model_validate(document.data), document, {}
        except ValidationError as error:
            self.problems += yamlfile.model_problems(document, error, known=_fields(model))
            return self.salvaged(document, error, model)

    def salvaged(
        self, document: Document, error: ValidationError, model: type[M]
    ) -> tuple[M | None, Document | None, Kept]:
        """The file without its broken entries, so that the others are checked all the same.

        The names of the broken ones go to `unsure`, so that nobody is told that they do not exist.
        """
        nothing: tuple[None, None, Kept] = (None, None, {})
        places = [one["loc"] for one in error.errors(include_url=False)]
        data = document.data
        if not isinstance(data, dict) or any(len(place) < 2 for place in places):
            self.whole = False
            return nothing
        broken: dict[str, set[str | int]] = {}
        for place in places:
            broken.setdefault(str(place[0]), set()).add(place[1])
        kept: Kept = {}
        for section, keys in broken.items():
            entries = data[section]
            if not isinstance(entries, list):
                self.whole = False
                return nothing
            kept[section] = [i for i in range(len(entries)) if i not in keys]
            self.unsure |= {name for i in keys for name in _names(entries[int(i)])}
        sound = data | {section: [data[section][i] for i in indices] for section, indices in kept.items()}
        try:
            return model.model_validate(sound), document, kept
        except ValidationError:
            self.whole = False
            return nothing


def _names(entry: object) -> Iterator[str]:
    """What a broken entry is called, whatever it is."""
    if isinstance(entry, dict):
        yield from (entry[key] for key in ("finding", "state", "check", "id") if isinstance(entry.get(key), str))


def _gather(entry: BaseModel, document: Document, kept: Kept, own: str, into: Gathered) -> None:
    """Takes the entries out of a file, each with its place."""

    def placed(section: str, entries: Sequence[Any]) -> list[Placed[Any]]:
        indices = kept.get(section, range(len(entries)))
        return [Placed(one, document, (section, i), own) for i, one in zip(indices, entries, strict=True)]

    if isinstance(entry, FindingsFile):
        into.findings += placed("findings", entry.findings)
    elif isinstance(entry, StatesFile):
        into.states += placed("states", entry.states)
        into.rules += placed("rules", entry.rules)
    elif isinstance(entry, ReadinessFile):
        if entry.charge is not None:
            into.charge.append(Placed(entry.charge, document, ("charge",), own))
        into.rules += placed("rules", entry.rules)
    elif isinstance(entry, CautionsFile | OwnRulesFile):
        into.rules += placed("rules", entry.rules)
    elif isinstance(entry, ChecksFile):
        into.checks += placed("checks", entry.checks)
    elif isinstance(entry, SourcesFile):
        into.sources += [(key, Placed(one, document, ("sources", key), own)) for key, one in entry.sources.items()]
    elif isinstance(entry, ChangesFile):
        changes: list[Placed[Change]] = placed("changes", entry.changes)
        into.changes += changes


def _short(path: Path, folder: Path) -> str:
    """How a file is named in messages: from the folder of the rules on."""
    return str(Path(folder.name) / path.relative_to(folder))


def _fields(model: type[BaseModel]) -> Any:
    """Names that may stand at a path of the model, for did-you-mean."""

    def known(path: Sequence[str | int]) -> Iterator[str]:
        at: Any = model
        for step in path:
            if isinstance(step, int):
                continue
            if isinstance(at, type) and issubclass(at, BaseModel) and step in at.model_fields:
                at = _inner(at.model_fields[step].annotation)
            else:
                return iter(())
        return iter(at.model_fields) if isinstance(at, type) and issubclass(at, BaseModel) else iter(())

    return known


def _inner(annotation: Any) -> Any:
    arguments = [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]
    while arguments:
        annotation = arguments[-1]
        arguments = [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]
    return annotation
