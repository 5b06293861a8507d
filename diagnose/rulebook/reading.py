"""The door of the rule files: reads them, lays a company's own over the shipped ones, and makes a checked Rulebook.

Every mistake in every file is listed at once, each with its place. What the checks across files are is in `checking.py`.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

from diagnose import yamlfile
from diagnose.rulebook.book import Rulebook, RuleError
from diagnose.rulebook.change_model import ChangesFile
from diagnose.rulebook.checking import check_book
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.folders import OWN_ROOMS, holds_rules, nothing_in
from diagnose.rulebook.judging import JudgementFile
from diagnose.rulebook.known import Gathered, Placed, Spot
from diagnose.rulebook.models import (
    CautionsFile,
    ChecksFile,
    FindingsFile,
    OwnRulesFile,
    ReadinessFile,
    SourcesFile,
    StatesFile,
)
from diagnose.rulebook.own_model import OwnFile
from diagnose.shipped import shipped
from diagnose.yamlfile import Document, InputProblems, Problem, refusal

FILES: Mapping[str, type[BaseModel]] = {
    "findings.yaml": FindingsFile,
    "states.yaml": StatesFile,
    "readiness.yaml": ReadinessFile,
    "cautions.yaml": CautionsFile,
    "checks.yaml": ChecksFile,
    "sources.yaml": SourcesFile,
    "judgement.yaml": JudgementFile,
}
_ONE_ONLY = "judgement.yaml"  # a company changes its figures in changes.yaml
_OWN = {name: model for name, model in FILES.items() if name != _ONE_ONLY}
OWN_FILES: Mapping[str, type[BaseModel]] = {
    **_OWN,
    "rules.yaml": OwnRulesFile,
    "own.yaml": OwnFile,
    "changes.yaml": ChangesFile,
}
M = TypeVar("M", bound=BaseModel)
KeptLines = dict[str, list[int]]


def read_book(base: Path, overlays: Sequence[Path], drafts: bool = False) -> Rulebook:
    """The book in the folder `base` with a company's folders laid over it, read from YAML and checked.

    drafts: what is marked as a draft speaks as well. Raises RuleError with every mistake in the files.
    """
    return _Reader(base, overlays, drafts).book()


@dataclass
class _Reader:
    base: Path
    overlays: Sequence[Path]
    drafts: bool = False
    problems: list[Problem] = field(default_factory=list)
    unsure: set[str] = field(default_factory=set)
    unread: set[str] = field(default_factory=set)  # files that could not be read: what they hold is not missing
    marks: dict[Path, Any] = field(default_factory=dict)  # by folder, of everything that was read in it

    def book(self) -> Rulebook:
        gathered = Gathered(base=self.base.name)
        self.folder(self.base, "", gathered)
        for folder in self.overlays:
            self.folder(folder, folder.name, gathered)
        book, across = check_book(gathered, self.name(), frozenset(self.unsure), frozenset(self.unread), self.drafts)
        self.problems += across
        if book is None or self.problems:
            self.stop()
        return book

    def name(self) -> str:
        """Each folder with a short mark that changes whenever one of its files does."""
        names = {self.base: "shipped"} if self.base == shipped("rules") else {}
        return " + ".join(
            f"{names.get(folder, folder.name)} ({self.mark(folder).hexdigest()[:8]})"
            for folder in (self.base, *self.overlays)
        ) + (" with drafts" if self.drafts else "")

    def mark(self, folder: Path) -> Any:
        return self.marks.setdefault(folder, hashlib.sha256())

    def stop(self) -> NoReturn:
        raise RuleError(sorted(self.problems, key=lambda p: (p.file, p.line, p.column)))

    # -- one folder ------------------------------------------------------------------------------------------------
    def folder(self, folder: Path, own: str, into: Gathered) -> None:
        """Everything in a folder; `own` is the folder's name where it is a company's own, and empty for the base."""
        files = OWN_FILES if own else FILES
        strangers = list(_strangers(folder, files))
        self.problems += strangers
        if own and not strangers and not holds_rules(folder):
            self.problems.append(nothing_in(folder))
        for name, model in files.items():
            # A file that is there in any way, also as a folder or as a link to nowhere.
            if not own or os.path.lexists(folder / name):
                self.take(folder / name, folder, model, own, into)
        for path in sorted((folder / "rules").glob("*.yaml")) if own else ():
            self.take(path, folder, OwnRulesFile, own, into)
        for path in sorted((folder / "faults").glob("*.yaml")):
            fault, document, kept = self.read(path, folder, WrittenFaultEntry)
            if fault is not None and document is not None:
                into.faults.append(Placed(fault, Spot(document), own))
                into.kept[document.name] = kept.get("rules", [])
            else:
                self.unsure.add(path.stem)

    def take(self, path: Path, folder: Path, model: type[BaseModel], own: str, into: Gathered) -> None:
        entry, document, kept = self.read(path, folder, model)
        if entry is not None and document is not None:
            _gather(entry, document, kept, own, into)

    def read(self, path: Path, folder: Path, model: type[M]) -> tuple[M | None, Document | None, KeptLines]:
        """What a file holds, and for each section which of its entries that are, where some are broken."""
        try:
            if path.is_fifo():  # opening it would wait for ever
                raise refusal("this is not a file", "Put the rules into a file.")
            document, entry = _read(yamlfile.content_of(path), model)
        except InputProblems as error:
            # Named as in all other messages, from the folder of the rules on.
            split = {yamlfile.SPLIT: _SPLIT} if model is OwnRulesFile else {}
            self.problems += [
                problem._replace(file=_short(path, folder), fix=split.get(problem.fix, problem.fix))
                for problem in error.problems
            ]
            self.unread.add(_kind(path, model))
            return None, None, {}
        self.mark(folder).update("\n".join(document.lines).encode())
        document = replace(document, name=_short(path, folder))
        if not isinstance(entry, ValidationError):
            return entry, document, {}
        self.problems += yamlfile.model_problems(document, entry, model)
        return self.salvaged(document, entry, model)

    def salvaged(
        self, document: Document, error: ValidationError, model: type[M]
    ) -> tuple[M | None, Document | None, KeptLines]:
        """The file without its broken entries, so that the others are checked all the same.

        The names of the broken ones go to `unsure`, so that nobody is told that they do not exist.
        """
        file = _kind(Path(document.name), model)
        sound, kept = self.without_broken(document.data, error, file)
        try:
            return model.model_validate(sound), document, kept
        except ValidationError:
            self.unread.add(file)
            return None, None, {}

    def without_broken(self, data: object, error: ValidationError, file: str) -> tuple[object, KeptLines]:
        places = [one["loc"] for one in error.errors(include_url=False)]
        if not isinstance(data, dict):
            return data, {}
        broken: dict[str, set[Any]] = {}
        for place in places:
            broken.setdefault(str(place[0]) if place else "", set()).add(place[1] if len(place) > 1 else None)
        if any(place[-1] in _NAMING for place in places if len(place) > 2):
            self.unread.add(file)  # nobody knows how an entry is meant to be called
        kept: KeptLines = {}
        sound = dict(data)
        for section, keys in broken.items():
            entries = data.get(section)
            if isinstance(entries, list) and None not in keys:
                kept[section] = [i for i in range(len(entries)) if i not in keys]
                sound[section] = [entries[i] for i in kept[section]]
                self.unsure |= {name for i in keys for name in _names(entries[i])}
            elif section == "sources" and isinstance(entries, dict) and None not in keys:
                sound[section] = {key: entry for key, entry in entries.items() if key not in keys}
                self.unsure |= keys
            elif section in ("charge", "lesson", "pressure_limits"):
                del sound[section]
                self.unsure.add(section)
        return sound, kept


@lru_cache(maxsize=200)  # several whole books
def _read(content: bytes, model: type[M]) -> tuple[Document, M | ValidationError]:
    """A file of rules, or what is wrong with its entries; once, for most books differ in few files. Raises InputProblems."""
    document = yamlfile.parse(content, "")
    try:
        return document, model.model_validate(document.data)
    except ValidationError as error:
        return document, error


_SPLIT = "Split it: rules may stand in several files, in a folder `rules` beside this one."


def _kind(path: Path, model: type[BaseModel]) -> str:
    """The file that a file of a book counts as."""
    return "faults" if model is WrittenFaultEntry else "rules.yaml" if model is OwnRulesFile else path.name


_DOCUMENTS = (".txt", ".text", ".rtf", ".doc", ".docx", ".odt")


def _saved_as_text(path: Path, names: Iterable[str]) -> str:
    """What a file should be called that an editor saved as `rules.yaml.txt`; nothing where it is no such file."""
    stem = path.stem.removesuffix(".yaml").removesuffix(".yml")
    if path.suffix.lower() not in _DOCUMENTS or (stem == path.stem and f"{stem}.yaml" not in names):
        return ""
    plain = "" if path.suffix.lower() in (".txt", ".text") else "Save it as plain text. "
    return f"{plain}Call it `{stem}.yaml`."


def _strangers(folder: Path, files: Mapping[str, Any]) -> Iterator[Problem]:
    """What lies in a folder of rules and looks as if it should be read, but is not."""
    rooms = OWN_ROOMS if files is OWN_FILES else ("faults",)
    for path in sorted(folder.iterdir()):
        name, near = path.name, yamlfile.did_you_mean(path.name, rooms)
        if path.suffix.lower() in (".yaml", ".yml") and name not in files:
            fix = (
                "Change the shipped figures in changes.yaml: `judgement: second fault/firm`."
                if name == _ONE_ONLY
                else ""
            )
            fix = fix or yamlfile.did_you_mean(name, files) or f"Known: {', '.join(files)}, and the folder faults."
            yield Problem(_short(path, folder), 0, 0, "no rules are read from a file of this name", fix)
        elif fix := _saved_as_text(path, files):
            yield Problem(_short(path, folder), 0, 0, "no rules are read from a file of this name", fix)
        elif name not in rooms and near and path.is_dir() and not holds_rules(path):
            yield Problem(_short(path, folder), 0, 0, "no rules are read from a folder of this name", near)
    for room in rooms:
        for path in sorted((folder / room).iterdir()) if (folder / room).is_dir() else ():
            fix = _saved_as_text(path, ())
            if path.suffix.lower() in (".yaml", ".yml") and path.suffix != ".yaml":
                fix = f"Call it `{path.stem}.yaml`."
            if fix:
                yield Problem(_short(path, folder), 0, 0, "no rules are read from a file of this name", fix)
            if path.is_dir() and any(path.glob("**/*.y*ml")):
                fix = f"Put its files into `{room}` itself, or the folder elsewhere."
                yield Problem(_short(path, folder), 0, 0, "no rules are read from a folder below this one", fix)


_NAMING = ("finding", "state", "check", "fact", "reading", "quantity", "[key]")


def _names(entry: object) -> Iterator[str]:
    """What a broken entry is called, whatever it is."""
    if isinstance(entry, dict):
        yield from (
            entry[key]
            for key in ("finding", "state", "check", "fact", "reading", "id")
            if isinstance(entry.get(key), str)
        )


def _gather(entry: BaseModel, document: Document, kept: KeptLines, own: str, into: Gathered) -> None:
    """Takes the entries out of a file, each with its place."""
    file = Spot(document)
    if isinstance(entry, JudgementFile):
        into.judgement.append(Placed(entry, file, own))
        return
    for section in type(entry).model_fields:
        value, at = getattr(entry, section), file / section
        if isinstance(value, list):
            indices = kept.get(section, range(len(value)))
            placed = [Placed(one, at / i, own) for i, one in zip(indices, value, strict=True)]
            getattr(into, "own" if isinstance(entry, OwnFile) else section).extend(placed)
        elif isinstance(value, Mapping):
            into.sources += [(key, Placed(one, at / key, own)) for key, one in value.items()]
        elif value is not None:
            getattr(into, section).append(Placed(value, at, own))


def _short(path: Path, folder: Path) -> str:
    """How a file is named in messages: from the folder of the rules on."""
    return str(Path(folder.name) / path.relative_to(folder))
