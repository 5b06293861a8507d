"""The only writer of files: in one step or not at all, and never over what a person wrote.

A page, a picture or a table may replace an older one. It never replaces the visit it tells about, nor the baseline that this
visit names, nor any file laid out as a visit, nor a .yaml or .yml file, for this program writes no page under such a name: what
stands there is somebody's work. A YAML file is replaced only by an edit of itself (`update`), and only while it still holds
what the edit began from. A link is written through: the file it leads to is looked at and replaced, and the link stays, so
that a page may be linked into another folder.
"""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

from diagnose import yamlfile
from diagnose.yamlfile import InputProblems
from diagnose.yamlfile.problems import reason_of, refusal

YAML_ENDINGS = (".yaml", ".yml")
NOT_TEXT = (".pdf", ".png", ".jpg", ".jpeg", ".gif", ".doc", ".docx", ".odt", ".xls", ".xlsx")
"""Endings of files that are no text: whoever opened one of ours under such a name would find it broken."""
STANDARD_OUTPUT = "-"
_NO_NAME = "the name cannot be used"
_MINE = "Name another: nothing is written over."


def refuse(path: Path, over: bool = True, visit: str | Path = "") -> None:
    """Raises InputProblems where a file could not be written: before the work, not after it.

    over: it may replace a page. visit: the file that the page tells about.
    """
    if str(path) == STANDARD_OUTPUT:
        return
    if path.suffix.lower() in NOT_TEXT:
        fix = f"Write a page, `{path.stem}.html`, and print it from the browser."
        raise refusal(f"no {path.suffix} file is written here", fix, path)
    try:
        if not over and os.path.lexists(path):
            raise refusal("there is a file of this name already", _MINE, path)
        real = Path(os.path.realpath(path))
        if not real.parent.is_dir():
            what = "this file cannot be written: there is no such folder"
            raise refusal(what, "Make the folder first, or name another.", path)
        try:
            mode = os.stat(path).st_mode
        except FileNotFoundError:
            if not os.access(real.parent, os.W_OK):
                raise PermissionError(13, os.strerror(13)) from None
            return
        if stat.S_ISDIR(mode):
            raise refusal("this file cannot be written: there is a folder of this name", "Name another.", path)
        if not os.access(path, os.W_OK):
            raise PermissionError(13, os.strerror(13))
        if stat.S_ISREG(mode):
            _refuse_a_persons(path, real, visit)
    except (OSError, ValueError) as error:
        if isinstance(error, InputProblems):
            raise
        raise _unwritable(path, error) from None


def _refuse_a_persons(path: Path, real: Path, visit: str | Path) -> None:
    """Raises InputProblems where this file is a visit or YAML of another kind."""
    for other, what in _read_from(visit):
        if os.path.exists(other) and os.path.samefile(path, other):
            raise refusal(what, "Name another file: it would be lost.", path)
    if YAML_ENDINGS[0] in (path.suffix.lower(), real.suffix.lower()) or real.suffix.lower() in YAML_ENDINGS:
        what = "this file is YAML that somebody wrote, and would be replaced by a page"
        raise refusal(what, "Name another file, or move this one away.", path)
    if _is_a_visit(_data(real)):
        raise refusal(
            "this file is a visit, and would be replaced by a page", "Name another file: it would be lost.", path
        )


def _read_from(visit: str | Path) -> list[tuple[Path, str]]:
    """The visit's own file and its baseline's, each with what is said of it."""
    if str(visit) in ("", STANDARD_OUTPUT):
        return []
    own = Path(visit)
    data = _data(own)
    inner = data.get("visit") if isinstance(data, Mapping) else None
    baseline = (inner if isinstance(inner, Mapping) else data if isinstance(data, Mapping) else {}).get("baseline")
    found = [(own, "this is the visit itself")]
    if isinstance(baseline, str):
        found.append((own.parent / baseline.strip(), "this is the baseline that the visit names"))
    return found


def _data(path: Path) -> object:
    """What a file says as YAML; nothing where it is none."""
    try:
        return yamlfile.read(path).data
    except InputProblems:
        return None


def _is_a_visit(data: object) -> bool:
    """Whether it is laid out as a visit or a case, whatever its name is."""
    if not isinstance(data, Mapping) or "format" in data:  # `format` stands in every result
        return False
    readings = data.get("readings")
    return (
        isinstance(readings, Mapping)
        or (isinstance(readings, list) and any(isinstance(one, Mapping) for one in readings))
        or isinstance(data.get("machine"), Mapping)
        or ("case" in data and isinstance(data.get("visit"), Mapping))
    )


def write(path: Path, text: str, over: bool = True, visit: str | Path = "") -> None:
    """Writes a new file, or a page over an older one (`over`); `-` is standard output. Raises InputProblems."""
    if str(path) == STANDARD_OUTPUT:
        sys.stdout.write(text)
        return
    refuse(path, over, visit)
    try:
        _replace(path, text.encode("utf-8"), over)
    except FileExistsError:
        raise refusal("there is a file of this name already", _MINE, path) from None
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from None


def update(path: Path, text: str, was: str) -> None:
    """Writes an edit over the file that it was made from. Raises InputProblems where the file was changed meanwhile.

    was: its text when the edit began. Line ends and a byte order mark are those of `text`.
    """
    try:
        if not os.access(path, os.W_OK) and os.path.exists(path):
            raise PermissionError(13, os.strerror(13))
        if text_of(path) != was:
            what = "this file was changed while the program worked on it, and nothing was written"
            raise refusal(what, "Give the command again.", path)
        _replace(path, text.encode("utf-8"), over=True)
    except (OSError, ValueError) as error:
        if isinstance(error, InputProblems):
            raise
        raise _unwritable(path, error) from None


def put(path: Path, content: bytes) -> None:
    """Writes a file of a folder that is the program's own, over an older one. Raises InputProblems."""
    try:
        _replace(path, content, over=True)
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from None


def text_of(path: Path) -> str:
    """The text of a file with its line ends and byte order mark as they are. Raises OSError or ValueError."""
    return path.read_bytes().decode("utf-8")


def make_folder(folder: Path) -> None:
    """Makes a folder and those above it, where they are missing. Raises InputProblems."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        what = f"the folder cannot be made ({reason_of(error, _NO_NAME)})"
        raise refusal(what, "Name another folder.", folder) from None


def _replace(path: Path, content: bytes, over: bool) -> None:
    """Whoever reads the file finds the old text or the new one. What is no ordinary file (a pipe, /dev/null) is written to."""
    real = Path(os.path.realpath(path))
    try:
        mode: int | None = os.stat(real).st_mode
    except FileNotFoundError:
        mode = None
    if mode is not None and not stat.S_ISREG(mode):
        with open(real, "wb") as file:
            file.write(content)
        return
    handle, name = tempfile.mkstemp(dir=real.parent, prefix=f".{real.name[:80]}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _rights_of_new_files() if mode is None else stat.S_IMODE(mode))
        if over:
            os.replace(name, real)
        else:
            _put_new(name, real)
    except BaseException:
        os.unlink(name)
        raise


def _put_new(name: str, real: Path) -> None:
    """Gives the finished file its name, unless somebody else took it meanwhile."""
    try:
        os.link(name, real)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(real):
            raise FileExistsError from None
        os.replace(name, real)
    else:
        os.unlink(name)


def _rights_of_new_files() -> int:
    """As the user's other new files have; the umask can only be read by setting it."""
    umask = os.umask(0)
    os.umask(umask)
    return 0o666 & ~umask


def _unwritable(path: Path, error: OSError | ValueError) -> InputProblems:
    fixes: Mapping[type, str] = {
        PermissionError: "Ask for the right to write it, or name another.",
        FileNotFoundError: "Make the folder first, or name another.",
    }
    fix = "Make room, or name a place on another disk." if getattr(error, "errno", None) == 28 else ""
    what = f"this file cannot be written ({reason_of(error, _NO_NAME)})"
    return refusal(what, fix or fixes.get(type(error), "Check the name and the folder."), path)
