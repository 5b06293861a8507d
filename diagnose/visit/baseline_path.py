"""The file that a visit names as its baseline: only one below the visit's own folder is opened, and only a visit is quoted."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath

from diagnose import yamlfile
from diagnose.yamlfile import Document, InputProblems, printable

FROM_A_FILE = (
    "`baseline` is a path, which can be followed from a visit file only",
    "Give the readings themselves: `baseline: {readings: {...}}`.",
)
_BELOW = "Put the file beside this visit and write its name, or give the readings: `baseline: {readings: {...}}`."


class NoBaseline(Exception):  # noqa: N818 - told as a problem of the visit
    """What is wrong with the path or with the file at its end, and how to mend it."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


def baseline_document(visit: Document, written: str) -> Document:
    """The file at a path that stands in a visit. Raises NoBaseline.

    A visit may come from anywhere, and whoever reads the messages about it need not be who may read the other files of this
    machine: nothing above the visit's folder is opened, by whatever name or link, and of a file that is no visit nothing is
    told but where it fails.
    """
    own = Path(visit.name)
    if not visit.marks or visit.name in ("", yamlfile.STANDARD_INPUT) or not own.parent.is_dir():
        raise NoBaseline(*FROM_A_FILE)
    named, shown = written.strip(), f"`baseline`: `{printable(written.strip(), 60)}`"
    parts = {*PurePosixPath(named).parts, *PureWindowsPath(named).parts}
    if PurePosixPath(named).is_absolute() or PureWindowsPath(named).anchor or ".." in parts:
        raise NoBaseline(f"{shown} leads out of the folder of this visit", _BELOW)
    try:
        folder, path = own.parent.resolve(), (own.parent / named).resolve()
        inside, plain = path.is_relative_to(folder), path.is_file() or not path.exists()
        itself = inside and path.exists() and own.exists() and path.samefile(own)
    except (OSError, ValueError, RuntimeError):  # a NUL in it, a name too long, a link to itself
        raise NoBaseline(f"{shown} cannot be used as a name of a file", "Check the name.") from None
    if not inside:
        raise NoBaseline(f"{shown} leads out of the folder of this visit", _BELOW)
    if not plain:
        raise NoBaseline(f"{shown} is not a file", "Give the name of a visit file.")
    if itself:
        raise NoBaseline(
            f"{shown} is this visit itself", "Name the file of an earlier day, when the machine was right."
        )
    try:
        document = yamlfile.read(path)
    except InputProblems as error:
        first = error.problems[0]
        if path.exists() and first.line:
            raise NoBaseline(
                f"{shown} cannot be read as a visit: it goes wrong in line {first.line}", _look(named)
            ) from None
        raise NoBaseline(f"{shown}: {first.what}", first.fix) from None
    if not isinstance(document.data, Mapping) or not {"machine", "readings", "visit"} & document.data.keys():
        raise NoBaseline(f"{shown} is not a visit: it has neither `machine:` nor `readings:`", _look(named))
    return Document(str(own.parent / named), document.data, document.lines, document.marks, document.keys)


def _look(named: str) -> str:
    return f"See what is wrong with it: `diagnose examine {printable(named, 60)}`."
