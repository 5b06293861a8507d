"""The text of a file, before anything of it is understood; why there is none."""

from __future__ import annotations

import errno
import sys
from pathlib import Path

from diagnose.yamlfile.problems import InputProblems, Problem, printable, reason_of, refusal

LARGEST_FILE = 2_000_000  # bytes
STANDARD_INPUT = "standard input"
CSV_ENDINGS = (".csv", ".tsv")


def name_of(path: Path | str) -> str:
    """What stands in front of messages: whole, for editors jump to file:line:column."""
    return STANDARD_INPUT if str(path) == "-" else printable(str(path), 4096)


def content_of(path: Path | str) -> bytes:
    """What stands in a file, or in standard input for "-": at most a byte more than `parse` takes. Raises InputProblems."""
    content = bytes_of(path, LARGEST_FILE)
    if str(path).lower().endswith(CSV_ENDINGS):
        fix = (
            "A log of one machine is read by `diagnose examine LOG.csv`, a table of visits by `diagnose batch IN OUT`."
        )
        raise refusal("this is a table, and a YAML file is read here", fix, path)
    return content


def bytes_of(path: Path | str, most: int) -> bytes:
    """The same of any file, at most a byte more than `most`. Raises InputProblems."""
    if str(path) != "-":
        try:
            with open(path, "rb") as file:
                return file.read(most + 1)
        except (OSError, ValueError) as error:  # ValueError: a NUL in the name
            raise refusal(*unreadable(error), path) from None
    try:
        content: str | bytes = getattr(sys.stdin, "buffer", sys.stdin).read(most + 1)
    except (AttributeError, OSError, ValueError):  # the first: Python was started without one
        fix = "Give the name of a file, or send the text: `diagnose examine - < visit.yaml`."
        raise refusal("nothing can be read here", fix, STANDARD_INPUT) from None
    return content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content


def unreadable(error: OSError | ValueError) -> tuple[str, str]:
    """Why a file cannot be read, and what to do about it."""
    if isinstance(error, FileNotFoundError):
        return "there is no such file", "Check the name and the folder."
    if isinstance(error, IsADirectoryError):
        return "this is a folder", "Give the name of a file in it."
    if isinstance(error, PermissionError):
        return "you may not read this file", "Ask for the right to read it, or copy it."
    if getattr(error, "errno", None) == errno.ELOOP:
        return "this is a link that leads back to itself", "Give the name of the file itself."
    return f"the file cannot be read ({reason_of(error, 'the name cannot be used')})", "Check the name and the folder."


def decoded(content: bytes, name: str) -> str:
    """Raises InputProblems."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refusal("the file is saved as UTF-16", "Save it as UTF-8.", name)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8").removeprefix("\ufeff")
        lines = (before + "?").splitlines()
        what = f"byte {error.start + 1} of the file is not UTF-8"
        problem = Problem(name, len(lines), len(lines[-1]), what, "Save the file as UTF-8.", 1, lines[-1])
        raise InputProblems([problem]) from None
