"""The file of a practice visit: written, read back with what was asked so far, and written on without losing a comment.

It is an ordinary visit file. Its `practice:` block holds the complaint, what was asked, and the sealed answer with every
reading that may still be asked for, so that a reading is the same whenever it is asked, whatever was edited.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import textwrap
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from itertools import count
from pathlib import Path
from typing import Any

from diagnose import yamlfile
from diagnose.practice.exercise import Exercise
from diagnose.workshop import yamledit
from diagnose.yamlfile import Document, InputProblems, did_you_mean, files, refusal

_FILE_WORDS = ("complaint", "asked", "answered", "sealed")
_HEAD = """\
# A practice visit from a simulated machine: it hides one fault, or none. It is a visit file like any other.
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
    text: str
    document: Document
    exercise: Exercise
    asked: tuple[str, ...]
    answered: Mapping[str, str] | None


def as_file(exercise: Exercise) -> str:
    """The text of a new practice visit."""
    block = yamledit.written({"practice": _block(exercise, (), None)})
    first, rest = block.split("\n", 1)
    return f"{_HEAD}{yamledit.written(exercise.visit())}{first}\n  {_BLOCK_HEAD}\n{rest}"


def _block(exercise: Exercise, asked: Sequence[str], answered: Mapping[str, str] | None) -> dict[str, Any]:
    """What stands in `practice:`."""
    block: dict[str, Any] = {"complaint": yamledit.folded(textwrap.wrap(exercise.complaint, 106)), "asked": list(asked)}
    if answered is not None:
        block["answered"] = dict(answered)
    return block | {"sealed": yamledit.folded(textwrap.wrap(seal(asdict(exercise)), 96))}


def read_exercise(path: Path) -> Sitting:
    """The practice visit in a file. Raises InputProblems."""
    if str(path) == "-":
        what, fix = "a practice visit must be a file: what is asked is written into it", "Name the file."
        raise refusal(what, fix, "standard input")
    document = yamlfile.read(path)
    try:
        text = files.text_of(path)
    except (OSError, ValueError):  # it went away meanwhile
        raise refusal("this file cannot be read any more", "Try it again.", document.name) from None
    top = document.data
    block = top.get("practice") if isinstance(top, Mapping) else None
    if block is None:
        what = "this is not a practice visit: it has no `practice:`"
        raise refusal(what, "`diagnose practice new -o FILE` makes one.", document.name)
    return _Reading(document).sitting(path, text, block)


class _Reading:
    """Reads the block of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document

    def bad(self, at: Sequence[str | int], what: str, fix: str, key: bool = False) -> InputProblems:
        return InputProblems([self.document.problem(("practice", *at), what, fix, key)])

    def sitting(self, path: Path, text: str, block: object) -> Sitting:
        if not isinstance(block, Mapping):
            raise self.bad((), "`practice` is not a group of lines", "Take the block from the file as it was made.")
        for word in block:
            if word not in _FILE_WORDS:
                fix = did_you_mean(str(word), _FILE_WORDS) or f"Known: {', '.join(_FILE_WORDS)}."
                raise self.bad((word,), f"`{word}` is not a part of a practice visit", fix, key=True)
        asked = block.get("asked") or []
        if not isinstance(asked, list) or not all(isinstance(one, str) for one in asked):
            raise self.bad(("asked",), "`asked` must be a list of names", "For example `asked: [airflow]`.")
        answered = block.get("answered")
        if answered is not None and not isinstance(answered, Mapping):
            raise self.bad(("answered",), "`answered` must hold `fault:`", "Take the line out to answer again.")
        said = None if answered is None else {str(name): str(text) for name, text in answered.items()}
        return Sitting(path, text, self.document, self.opened(block.get("sealed")), tuple(asked), said)

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


def rewritten(sitting: Sitting, opened: Sequence[str], asked: Sequence[str], answered: Mapping[str, str] | None) -> str:
    """The text of the file with the opened readings and what was asked and answered.

    What the apprentice wrote is kept as it is, comments too. Raises InputProblems where the file cannot be edited.
    """
    visit = sitting.exercise.visit(opened)

    def change(data: Any) -> None:
        for section in ("readings", "seen"):
            there = data.get(section)
            if isinstance(there, list):
                continue  # several rounds, which the apprentice made; only what the machine showed counts
            if not there and visit.get(section):
                data[section] = yamledit.node(visit[section])
            for name, value in visit.get(section, {}).items():
                if there and (name not in there or str(there[name]) != str(value)):
                    there[name] = yamledit.node(value)
        block = _block(sitting.exercise, asked, answered)
        for name, value in block.items():
            if name in ("asked", "answered"):  # the rest is as it was sealed
                data["practice"][name] = yamledit.node(value)

    return yamledit.edited(sitting.text, change, sitting.document.name)


def write(sitting: Sitting, text: str) -> None:
    """Writes what was asked or answered over the file of this visit. Raises InputProblems."""
    files.update(sitting.path, text, sitting.text)


# -- the sealed answer -------------------------------------------------------------------------------------------------

_KEY = b"diagnose practice 1"
_SUM = 8  # bytes of the checksum
LARGEST = 200_000  # bytes of an opened seal; a visit has some two thousand


class SealBroken(ValueError):  # noqa: N818 - what happened to it
    """The sealed text is not as it was written."""


def seal(answer: dict[str, Any]) -> str:
    """Letters, digits and a few other characters, no space; equal answers give equal text."""
    packed = zlib.compress(json.dumps(answer, ensure_ascii=False, sort_keys=True).encode(), 9)
    return base64.b64encode(_checksum(packed) + _mixed(packed)).decode("ascii")


def unseal(text: str) -> dict[str, Any]:
    """What was sealed; spaces and line breaks do not matter. Raises SealBroken."""
    try:
        whole = base64.b64decode("".join(text.split()).encode("ascii"), validate=True)
    except (binascii.Error, UnicodeEncodeError) as error:
        raise SealBroken("letters are missing or were changed") from error
    checksum, packed = whole[:_SUM], _mixed(whole[_SUM:])
    if _checksum(packed) != checksum:
        raise SealBroken("letters were changed")
    try:
        opener = zlib.decompressobj()
        found = json.loads(opener.decompress(packed, LARGEST))
    except (zlib.error, ValueError) as error:
        raise SealBroken("it was sealed by another program") from error
    if not isinstance(found, dict):
        raise SealBroken("it was sealed by another program")
    return found


def _checksum(packed: bytes) -> bytes:
    return hashlib.blake2b(packed, digest_size=_SUM, key=_KEY).digest()


def _mixed(data: bytes) -> bytes:
    """The bytes under a fixed stream; done twice, they are as before."""
    stream = bytearray()
    for number in count():
        if len(stream) >= len(data):
            break
        stream += hashlib.sha256(_KEY + number.to_bytes(4, "big")).digest()
    return bytes(a ^ b for a, b in zip(data, stream, strict=False))
