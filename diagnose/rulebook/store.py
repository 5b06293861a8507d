"""Compiled books kept in the user's cache folder, so that a command need not read and check YAML each time.

A book is found by the digest of its files, their names, the program's version and its own reading and checking code.
Its file is that digest and the one of its text, then the text: JSON, which can run nothing. What is unreadable or was
changed since is as if it were not there, and a folder that cannot be written is no mistake. DIAGNOSE_CACHE names another
folder, or is `off`.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from diagnose.rulebook.book import Rulebook
from diagnose.rulebook.data import FORMAT, from_data, to_text
from diagnose.shipped import VERSION, shipped

VARIABLE = "DIAGNOSE_CACHE"
OFF = "off"
KEPT = 16  # compiled books of each kind in the folder; the oldest go
BOOK, LAST = "book", "last"  # a book by its digest; the last of a stack of folders that had no mistake
LARGEST = 20_000_000  # bytes of a compiled book; the shipped one has 0.3 million
LARGEST_SOURCE = 2_000_000  # bytes of a rule file; larger ones are refused by the reader
FRESH = 2_000_000_000  # ns: some file systems tell no times nearer than two seconds
Stamp = tuple[tuple[Any, ...], ...]


def folder() -> Path | None:
    """Where compiled books are kept; None where they are not."""
    given = os.environ.get(VARIABLE, "").strip()
    if given:
        return None if given.lower() == OFF else Path(given)
    if sys.platform == "win32":
        root = os.environ.get("LOCALAPPDATA", "")
    else:
        root = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(root):  # XDG: a relative path is to be ignored
        return Path(root) / "diagnose"
    with suppress(RuntimeError):
        home = Path.home()
        return (home / "Library" / "Caches" if sys.platform == "darwin" else home / ".cache") / "diagnose"
    return None


# -- which book it is --------------------------------------------------------------------------------------------------


def stamp(places: Sequence[Path]) -> Stamp | None:
    """Names, sizes and times of everything in these folders of rules; None where they cannot be trusted.

    A file that changed within the last moment may change again without its time moving on.
    """
    found: list[tuple[Any, ...]] = []
    newest = 0
    try:
        for path in _rooms(places):
            with os.scandir(path) as entries:
                for entry in entries:
                    s = os.stat(entry.path)
                    changed = s.st_mtime_ns if sys.platform == "win32" else max(s.st_ctime_ns, s.st_mtime_ns)
                    newest = max(newest, changed)
                    found.append((entry.path, s.st_size, s.st_mtime_ns, s.st_ctime_ns, s.st_ino))
    except OSError:
        return None
    return None if abs(time.time_ns() - newest) < FRESH else tuple(sorted(found))


def digest(places: Sequence[Path], drafts: bool = False) -> str | None:
    """What these folders of rules, the base first, and the program that reads them amount to; None if that is unclear.

    drafts: whether what is marked as a draft speaks.
    """
    found = hashlib.sha256(f"{FORMAT} {VERSION} {_program()} {places[0] == shipped('rules')} {drafts}".encode())
    try:
        for path in _rooms(places):
            found.update(f"\0folder {path.name}".encode(errors="surrogateescape"))
            for name in sorted(os.listdir(path)):
                file = path / name
                found.update(f"\0{name}".encode(errors="surrogateescape"))
                kind = os.stat(file).st_mode
                found.update(b"\0folder" if stat.S_ISDIR(kind) else b"\0file")
                if name.lower().endswith((".yaml", ".yml")) and not stat.S_ISDIR(kind):
                    data = _bytes(file, LARGEST_SOURCE)
                    found.update(len(data).to_bytes(8, "big"))
                    found.update(data)
    except (OSError, UnicodeError, ValueError):
        return None
    return found.hexdigest()


def _rooms(places: Sequence[Path]) -> Iterator[Path]:
    """The folders whose files make the book."""
    for place in places:
        yield place
        yield from (place / room for room in ("faults", "rules") if (place / room).is_dir())


def _bytes(path: Path, most: int) -> bytes:
    """Raises ValueError for what is no plain file of at most this size: a pipe would keep the program waiting."""
    s = os.stat(path)
    if not stat.S_ISREG(s.st_mode) or s.st_size > most:
        raise ValueError("not a file of rules")
    with open(path, "rb") as file:
        return file.read(most)


@lru_cache(maxsize=1)
def _program() -> str:
    """The code that decides what a rule file means, so that a developer is never answered by yesterday's checks."""
    home = Path(__file__).resolve().parent.parent
    found = hashlib.sha256()
    for room in ("rulebook", "rulebook/matcher", "quantities", "visit", "properties", "units", "yamlfile", "."):
        for path in sorted((home / room).glob("*.py")):
            with suppress(OSError):
                found.update(path.read_bytes())
    return found.hexdigest()


# -- the folder --------------------------------------------------------------------------------------------------------


def fetch(key: str) -> Rulebook | None:
    """The compiled book that was kept under this digest; None if there is none that can be used."""
    return _fetch(_file(key), key)


def fetch_last(stack: str) -> Rulebook | None:
    """The last book of a stack of folders that had no mistake, if this version can read it."""
    return _fetch(_file(stack, LAST))


def _fetch(path: Path | None, key: str = "") -> Rulebook | None:
    if path is None:
        return None
    try:
        if not _ours(path):
            return None
        head, _, text = _bytes(path, LARGEST).partition(b"\n")
        whole = head.startswith(key.encode()) and head.endswith(hashlib.sha256(text).hexdigest().encode())
        return from_data(json.loads(text)) if whole else None
    except (OSError, ValueError, RecursionError):
        return None


def keep(key: str, book: Rulebook) -> None:
    """Writes a compiled book for the next time, whole or not at all; nothing happens where that is not possible."""
    path = _file(key)
    if path is not None:
        with suppress(OSError, ValueError):
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            text = to_text(book)
            _write(path, f"{key} {hashlib.sha256(text).hexdigest()}\n".encode() + text)


def keep_last(stack: str, key: str) -> None:
    """The book that is kept under this digest once more, as the last of its stack without a mistake."""
    book, path = _file(key), _file(stack, LAST)
    with suppress(OSError, ValueError):
        if book is None or path is None or not _ours(book):
            return
        if not (path.is_file() and _ours(path) and _begins(path, key.encode())):
            _write(path, _bytes(book, LARGEST))


def _begins(path: Path, text: bytes) -> bool:
    with open(path, "rb") as file:
        return file.read(len(text)) == text


def _write(path: Path, text: bytes) -> None:
    import tempfile

    handle, name = tempfile.mkstemp(prefix=".book-", suffix=".tmp", dir=path.parent)
    try:
        with open(handle, "wb") as file:
            file.write(text)
        os.replace(name, path)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise
    _tidy(path.parent)


def _file(key: str, kind: str = BOOK) -> Path | None:
    place = folder()
    return place / f"{kind}-{key[:32]}.book" if place is not None else None


def _ours(path: Path) -> bool:
    """Whether nobody else wrote it."""
    return sys.platform == "win32" or os.stat(path).st_uid == os.getuid()


def _tidy(place: Path) -> None:
    """The oldest books go, and what a stopped program left half written."""
    old = []
    for kind in (BOOK, LAST):
        books = sorted(place.glob(f"{kind}-*"), key=lambda path: path.stat().st_mtime, reverse=True)
        old += books[KEPT:]
    hours_old = time.time() - 3600
    left = [path for path in place.glob(".book-*.tmp") if path.stat().st_mtime < hours_old]
    for path in [*old, *left]:
        with suppress(OSError):
            path.unlink()
