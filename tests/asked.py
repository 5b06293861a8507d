"""Asks an office within the test's own process, as a browser would: cookies are kept, redirects are not followed."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import UUID

import httpx
from kept import visit_text

from diagnose import yamlfile
from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import to_data
from diagnose.serve import Office, Site, make_app, read_site
from diagnose.store import Store, open_store

PAGE = {"accept": "text/html"}
HOST = "http://127.0.0.1:8765"


class Client:
    """One browser. log: what the office wrote."""

    def __init__(self, office: Office, app: Any, log: list[str], address: str = "127.0.0.1", base: str = HOST) -> None:
        self.office, self.app, self.log = office, app, log
        transport = httpx.ASGITransport(app, raise_app_exceptions=False, client=(address, 50000))
        self._client = httpx.AsyncClient(transport=transport, base_url=base)
        self._runner = asyncio.Runner()

    def ask(self, method: str, path: str, **more: Any) -> httpx.Response:
        return self._runner.run(self._client.request(method, path, **more))

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.ask("GET", path, **more)

    def page(self, path: str) -> str:
        found = self.get(path, headers=PAGE)
        assert found.status_code == 200, (path, found.status_code, found.text[-300:])
        return found.text

    def send(self, number: int, visit: Any, based_on: str = "", **more: Any) -> httpx.Response:
        return self.ask("PUT", f"/office/sent/{UUID(int=number)}", json={"visit": visit, "based_on": based_on}, **more)

    def sign_in(self, code: str) -> httpx.Response:
        return self.ask("POST", "/office/sign-in", data={"code": code, "to": "office"})

    @property
    def cookies(self) -> httpx.Cookies:
        return self._client.cookies

    def close(self) -> None:
        self._runner.run(self._client.aclose())
        self._runner.close()


@contextmanager
def asked(place: str | Store, book: Rulebook, base: str = HOST, **more: Any) -> Iterator[Client]:
    """A browser at an office whose store lies here."""
    log: list[str] = []
    with open_store(place) if isinstance(place, str) else place as store:
        office = Office(store, book, log=log.append, **more)
        client = Client(office, make_app(office), log, base=base)
        try:
            yield client
        finally:
            client.close()


def sent(**more: Any) -> dict[str, Any]:
    """A visit as a phone sends it."""
    found: dict[str, Any] = json.loads(json.dumps(yamlfile.parse(visit_text(**more), "").data))
    return found


def small_site(folder: Path, book: Rulebook) -> Site:
    """A page without its program: what the office looks at is all there."""
    folder.mkdir(parents=True, exist_ok=True)
    policy = "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'self'\">"
    parts = {"index.html": f"<!doctype html>{policy}", "sw.js": "1;" * 900, "book.json": json.dumps(to_data(book))}
    for name, content in {
        **parts,
        "manifest.webmanifest": "{}",
        "icon.svg": "<svg/>",
        "notes.txt": "not of it",
    }.items():
        (folder / name).write_text(content)
    return read_site(folder)
