"""What one office is made of, as every part of it needs it; and the phone page that it hands out, as `diagnose page build` made
it, taken into memory whole: what is served is always of one build.
"""

from __future__ import annotations

import gzip
import hashlib
import html
import json
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import NotABook, from_data
from diagnose.store import Store
from diagnose.yamlfile import reason_of, refusal

TYPES = {
    ".html": "text/html; charset=utf-8", ".mjs": "text/javascript", ".js": "text/javascript", ".css": "text/css",
    ".json": "application/json", ".wasm": "application/wasm", ".svg": "image/svg+xml", ".zip": "application/zip",
    ".webmanifest": "application/manifest+json",
}  # fmt: skip
MOST = 64_000_000  # bytes; the page has some 14 million
_RULES = re.compile(r'http-equiv="Content-Security-Policy" content="([^"]+)"')
_AGAIN = "Build it: `diagnose page build FOLDER`, and give that folder."


@dataclass(frozen=True, slots=True)
class File:
    """One file as it is sent. packed: by gzip; empty where that saves nothing. tag: of its content."""

    content: bytes
    packed: bytes
    kind: str
    tag: str


@dataclass(frozen=True, slots=True)
class Site:
    """Its files by name, the rule book in it, and what the page allows itself (Content-Security-Policy)."""

    files: Mapping[str, File]
    book: Rulebook
    policy: str


@dataclass(frozen=True, slots=True)
class Office:
    """store, book: what is kept, and by which book it is examined. site: the phone page; None: it is not handed out here.

    demands: whoever comes must sign in; else only this machine's own browsers are answered. secure: browsers come by https.
    log: takes one line a request. now: s since 1970.
    """

    store: Store
    book: Rulebook
    site: Site | None = None
    demands: bool = False
    secure: bool = False
    log: Callable[[str], None] = lambda line: None
    now: Callable[[], float] = time.time


def read_site(folder: Path) -> Site:
    """The page that lies in a folder. Raises InputProblems where none does."""
    try:
        paths = [path for path in sorted(folder.iterdir()) if path.suffix in TYPES and path.is_file()]
        if sum(path.stat().st_size for path in paths) > MOST:
            raise refusal("this folder holds much more than the page", _AGAIN, folder)
        found = {path.name: path.read_bytes() for path in paths}
    except OSError as error:
        raise refusal(f"the page cannot be read ({reason_of(error)})", _AGAIN, folder) from None
    page = found.get("index.html", b"").decode("utf-8", "replace")
    policy = _RULES.search(page)
    if policy is None or not {"sw.js", "book.json"} <= found.keys():
        raise refusal("no page lies in this folder", _AGAIN, folder)
    try:
        book = from_data(json.loads(found["book.json"]))
    except (NotABook, ValueError):
        raise refusal("this page was built by another version of the program", _AGAIN, folder) from None
    return Site({name: _file(name, content) for name, content in found.items()}, book, html.unescape(policy[1]))


def _file(name: str, content: bytes) -> File:
    packed = gzip.compress(content, 6, mtime=0)
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    return File(content, packed if len(packed) < 0.9 * len(content) else b"", TYPES[Path(name).suffix], tag)
