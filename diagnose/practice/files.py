"""The file of a practice visit: written, read back with what was asked so far, and written on without losing a comment.

It is an ordinary visit file. Its `practice:` block holds the complaint, what was asked, and the sealed answer with every
reading that may still be asked for, so that a reading is the same whenever it is asked, whatever was edited.
"""

from __future__ import annotations

import errno
import os
import tempfile
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from diagnose import yamlfile
from diagnose.practice.exercise import Exercise
from diagnose.practice.sealing import SealBroken, seal, unseal
from diagnose.workshop.casefiles import scalar
from diagnose.yamlfile import Document, InputProblems, Problem, did_you_mean

_FILE_WORDS = ("complaint", "asked", "answered", "sealed")
_HEAD = """\
# A practice visit from a simulated machine: one fault is hidden in it, or none. It is a visit file like any other.
#   diagnose practice ask FILE --list            what can be asked, and the minutes it takes
#   diagnose practice ask FILE 'airflow'         a further reading, or a look at something
#   diagnose examine FILE                        what the program makes of the readings so far
#   diagnose practice answer FILE low-charge     your answer, and the lesson
"""
_BLOCK_HEAD = "# The program keeps this block: leave it as it is."


@dataclass(frozen=True, slots=True)
class Sitting:
    """A practice visit with what the apprentice has asked so far, in order, and the answer given (None: not yet)."""

    path: Path
    document: Document
    exercise: Exercise
    asked: tuple[str, ...]
    answered: Mapping[str, str] | None


def as_file(exercise: Exercise) -> str:
    """The text of a new practice visit."""
    return f"{_HEAD}{_visit_text(exercise.visit())}{_block(exercise, (), None)}"


def _visit_text(visit: Mapping[str, Any]) -> str:
    lines = []
    for section, values in visit.items():
        lines.append(f"{section}:")
        lines += [f"  {name}: {_written(value)}" for name, value in values.items()]
    return "\n".join(lines) + "\n"


def _written(value: object) -> str:
    return scalar(value) if isinstance(value, str) else str(value)


def _block(exercise: Exercise, asked: Sequence[str], answered: Mapping[str, str] | None) -> str:
    """The `practice:` block, which is the last of the file when it is new."""
    lines = ["practice:", f"  {_BLOCK_HEAD}", "  complaint: >", *_folded(exercise.complaint)]
    lines += ["  asked:", *(f"    - {scalar(name)}" for name in asked)] if asked else ["  asked: []"]
    if answered is not None:
        lines += ["  answered:", *(f"    {name}: {scalar(text)}" for name, text in answered.items())]
    lines += ["  sealed: >", *textwrap.wrap(_sealed(exercise), 100, initial_indent="    ", subsequent_indent="    ")]
    return "\n".join(lines) + "\n"


def _folded(text: str) -> list[str]:
    return textwrap.wrap(text, 106, initial_indent="    ", subsequent_indent="    ")


def _sealed(exercise: Exercise) -> str:
    return seal(asdict(exercise))


def read_exercise(path: Path) -> Sitting:
    """The practice visit in a file. Raises InputProblems."""
    if str(path) == "-":
        what, fix = "a practice visit must be a file: what is asked is written into it", "Name the file."
        raise InputProblems([Problem("standard input", 0, 0, what, fix)])
    document = yamlfile.read(path)
    top = document.data
    block = top.get("practice") if isinstance(top, Mapping) else None
    if block is None:
        what = "this is not a practice visit: it has no `practice:`"
        raise InputProblems([Problem(document.name, 0, 0, what, "`diagnose practice new -o FILE` makes one.")])
    return _Reading(document).sitting(path, block)


class _Reading:
    """Reads the block of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document

    def bad(self, at: Sequence[str | int], what: str, fix: str, key: bool = False) -> InputProblems:
        return InputProblems([self.document.problem(("practice", *at), what, fix, key)])

    def sitting(self, path: Path, block: object) -> Sitting:
        if not isinstance(block, Mapping):
            raise self.bad((), "`practice` is no group of lines", "Take the block from the file as it was made.")
        for word in block:
            if word not in _FILE_WORDS:
                fix = did_you_mean(str(word), _FILE_WORDS) or f"Known: {', '.join(_FILE_WORDS)}."
                raise self.bad((word,), f"`{word}` is not a part of a practice visit", fix, key=True)
        asked = block.get("asked") or []
        if not isinstance(asked, list) or not all(isinstance(one, str) for one in asked):
            raise self.bad(("asked",), "`asked` must be a list of names", "For example `asked: [airflow]`.")
        answered = block.get("answered")
        if answered is not None and not isinstance(answered, Mapping):
            raise self.bad(("answered",), "`answered` must hold `fault:`", "Take the line out to answer anew.")
        said = None if answered is None else {str(name): str(text) for name, text in answered.items()}
        return Sitting(path, self.document, self.opened(block.get("sealed")), tuple(asked), said)

    def opened(self, sealed: object) -> Exercise:
        fix = "Make a new one with `diagnose practice new`, or take `sealed:` from a copy of the file."
        if not isinstance(sealed, str) or not sealed.strip():
            raise self.bad(("sealed",), "the sealed answer is missing", fix)
        try:
            found = unseal(sealed)
            if found.keys() != {one.name for one in fields(Exercise)}:
                raise SealBroken("it was sealed by another version of the program")
        except SealBroken as error:
            raise self.bad(("sealed",), f"the sealed answer is damaged: {error}", fix) from None
        return Exercise(**{**found, "given": tuple(found["given"])})


def edited(sitting: Sitting, opened: Sequence[str]) -> tuple[str, ...]:
    """Readings and things seen in the file that the machine did not show so, in sentences."""
    top = sitting.document.data
    assert isinstance(top, Mapping)  # it has a `practice:`
    played = sitting.exercise.visit(opened)
    notes = []
    for section in ("readings", "seen"):
        in_file = top.get(section)
        if isinstance(in_file, list):
            notes.append("The file has several rounds of readings; only the one that the machine showed counts here.")
            continue
        shown = played.get(section, {})
        for name, value in (in_file if isinstance(in_file, Mapping) else {}).items():
            if name not in shown and value is not None:
                notes.append(f"{name} was written into the file and never asked for: it does not count.")
            elif value is not None and str(value) != str(shown[name]):
                notes.append(f"{name} is {value} in the file, and the machine showed {shown[name]}: this counts.")
    return tuple(notes)


def rewritten(sitting: Sitting, opened: Sequence[str], asked: Sequence[str], answered: Mapping[str, str] | None) -> str:
    """The text of the file with the opened readings and a new `practice:` block.

    What the apprentice wrote is kept as it is, comments too; where the file is laid out in a way that does not allow it
    (all on one line, say), it is written anew.
    """
    visit = sitting.exercise.visit(opened)
    block = _block(sitting.exercise, asked, answered)
    own = _without(sitting.document, "practice")
    for section in ("readings", "seen"):
        own = _with_values(own, section, visit.get(section, {}))
    text = "\n".join([*own, block.rstrip("\n")]) + "\n"
    whole = f"{_HEAD}{_visit_text(visit)}{block}"
    top = sitting.document.data
    assert isinstance(top, Mapping)  # it has a `practice:`
    wanted = dict(top)
    for section in ("readings", "seen"):
        if section in visit:
            there = top.get(section)
            wanted[section] = {**(there if isinstance(there, Mapping) else {}), **visit[section]}
    try:
        found = yamlfile.parse(text, "").data
    except InputProblems:
        return whole
    wanted["practice"] = found.get("practice") if isinstance(found, Mapping) else None
    return text if _plain(found) == _plain(wanted) and wanted["practice"] else whole


def _plain(value: object) -> object:
    """For comparing: every value as the text that stands for it."""
    if isinstance(value, Mapping):
        return {str(name): _plain(item) for name, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list) else str(value)


def _without(document: Document, section: str) -> list[str]:
    """The file's lines without one section."""
    lines = list(document.lines)
    tops = sorted(mark.line for path, mark in document.keys.items() if len(path) == 1)
    start = document.keys[(section,)].line
    end = next((line for line in tops if line > start), len(lines) + 1)
    kept = [*lines[: start - 1], *lines[end - 1 :]]
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def _with_values(lines: list[str], section: str, values: Mapping[str, Any]) -> list[str]:
    """The lines with these values in a section: those that differ changed in place, new ones behind the last."""
    if not values:
        return lines
    try:
        document = yamlfile.parse("\n".join(lines) + "\n", "")
    except InputProblems:
        return lines
    data = document.data if isinstance(document.data, Mapping) else {}
    there = data.get(section)
    if section not in data:
        return [*lines, f"{section}:", *(f"  {name}: {_written(value)}" for name, value in values.items())]
    if not isinstance(there, Mapping) or not there:
        return lines
    changed = list(lines)
    for name, value in values.items():
        if name in there and str(there[name]) != str(value):
            mark = document.marks[(section, name)]
            old = changed[mark.line - 1]
            changed[mark.line - 1] = f"{old[: mark.column - 1]}{_written(value)}{old[mark.column - 1 + mark.width :]}"
    last = max((document.keys[(section, name)] for name in there), key=lambda mark: mark.line)
    indent = " " * (last.column - 1)
    fresh = [f"{indent}{name}: {_written(value)}" for name, value in values.items() if name not in there]
    return [*changed[: last.line], *fresh, *changed[last.line :]]


def write(path: Path, text: str) -> None:
    """Writes over a file in one step: whoever reads it finds the old text or the new one. Raises InputProblems."""
    real = path.resolve()
    try:
        mode = real.stat().st_mode & 0o777 if real.exists() else None
        if mode is not None and not os.access(real, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        handle, name = tempfile.mkstemp(dir=real.parent, prefix=f".{real.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
            os.chmod(name, 0o644 if mode is None else mode)
            os.replace(name, real)
        except BaseException:
            os.unlink(name)
            raise
    except OSError as error:
        what = f"the file cannot be written ({(error.strerror or 'no reason given').lower()})"
        raise InputProblems([Problem(str(path), 0, 0, what, "Look at the folder and its rights.")]) from None
