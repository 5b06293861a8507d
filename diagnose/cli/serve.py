"""serve, people: the office, and who may use it; page: the whole program for a phone, as files for any web
server. What needs the extra `serve` is imported when a command runs.
"""

from __future__ import annotations

import gc
import ipaddress
import sys
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from diagnose.cli.keeping import StoreOption, opened_store
from diagnose.cli.shared import (
    ModeOption,
    OneOfUnits,
    OutOption,
    RulesOption,
    book_of,
    group,
    put,
    put_page,
    sound_book,
)
from diagnose.yamlfile import printable, refusal

people_app = group("Who may use the office that `serve --listen` opens.")


def serve(
    page: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="the phone page, as `diagnose page build` made it")
    ] = None,
    listen: Annotated[
        str | None,
        typer.Option("--listen", metavar="ADDRESS", help="let others in at this address; all must sign in"),
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="0: any that is free")] = 8765,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="FILE", help="PEM, for https; phones need https")
    ] = None,
    key: Annotated[Path | None, typer.Option("--key", metavar="FILE", help="PEM, the certificate's key")] = None,
    proxy: Annotated[
        str, typer.Option("--proxy", metavar="ADDRESS", help="of a proxy that does https and says who asks")
    ] = "",
    rules: RulesOption = None,
    store: StoreOption = None,
) -> None:
    """The office: hands out the phone page, keeps the visits that phones send, shows machines, histories and reports.

    For others than you it needs `--listen`, https, and an access code for each (`people add NAME`).
    """
    try:
        import diagnose.serve as room
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] not in (
            "fastapi",
            "starlette",
            "uvicorn",
            "anyio",
            "sqlalchemy",
            "alembic",
        ):
            raise
        raise refusal(
            "the office needs FastAPI and uvicorn", "Install them: `pip install 'diagnose[serve]'`."
        ) from None
    _agree(listen, certificate, key, proxy)
    if page is not None and rules:
        fix = "Build the page with them, `diagnose page build FOLDER --rules DIR`, and leave them out here."
        raise refusal("the phone page brings its own rule book, by which the office then judges too", fix)
    site = room.read_site(page) if page is not None else None
    with opened_store(store, make=True) as (opened, keeping):
        if listen is not None and not keeping.people(opened):
            fix = "Make one for each: `diagnose people add NAME`, with the same `--store`."
            raise refusal("nobody has an access code yet, so that nobody could sign in", fix)
        office = room.Office(
            opened,
            site.book if site is not None else book_of(rules),
            site,
            demands=listen is not None,
            secure=certificate is not None or bool(proxy),
            log=_log,
        )
        scheme = "https" if certificate else "http"

        def ready(host: str, at: int) -> None:
            put(f"The office is at {scheme}://{f'[{host}]' if ':' in host else host}:{at}/office/. Ctrl-C ends it.\n")

        gc.enable()  # off in a command, which lives for a moment
        sys.setswitchinterval(0.001)
        room.run(office, room.Place(listen or "127.0.0.1", port, certificate, key, proxy), ready)


def _agree(listen: str | None, certificate: Path | None, key: Path | None, proxy: str) -> None:
    """That these options go together. Raises InputProblems."""
    if (certificate is None) != (key is None):
        raise refusal("a certificate and its key go together", "Give both: `--certificate chain.pem --key key.pem`.")
    if certificate is not None and proxy:
        raise refusal("https is either done here or by a proxy", "Give `--certificate` with `--key`, or `--proxy`.")
    if proxy:
        try:
            ipaddress.ip_network(proxy)
        except ValueError:
            fix = "Give it as a number, from where it asks this office: `--proxy 127.0.0.1`."
            raise refusal(f"`{printable(proxy)}` is no address of a proxy", fix) from None
    if listen is None and (certificate is not None or proxy):
        raise refusal(
            "these options are for an office that others come to", "Give the address too: `--listen 192.0.2.7`."
        )
    if listen is not None and certificate is None and not proxy and listen not in ("127.0.0.1", "::1", "localhost"):
        fix = "Give `--certificate` and `--key`, or `--proxy ADDRESS` with a web server that does https."
        raise refusal("without https access codes and visits could be read on their way", fix)


def _log(line: str) -> None:
    with suppress(OSError, ValueError):  # nobody reads it any more, or the disk is full: no reason to answer nobody
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()


@people_app.command("add")
def add(name: Annotated[str, typer.Argument(help="whose code it is")], store: StoreOption = None) -> None:
    """A new access code for one person. It is shown this once, and kept nowhere."""
    with opened_store(store, make=True) as (opened, room):
        code = room.add_person(opened, name, datetime.now(UTC).isoformat(timespec="seconds"))
    put(f"Access code of {' '.join(name.split())}: {code}\nIt is shown this once. Hand it over by voice or on paper.\n")


@people_app.command("list")
def list_(store: StoreOption = None) -> None:
    """Everybody who has an access code."""
    with opened_store(store) as (opened, room):
        lines = [f"{person.name}, since {person.made[:10]}\n" for person in room.people(opened)]
    put("".join(lines) or "Nobody has an access code.\n")


@people_app.command("remove")
def remove(name: Annotated[str, typer.Argument(help="as `list` shows it")], store: StoreOption = None) -> None:
    """Makes a person's access code worth nothing, and signs all their browsers out at once."""
    with opened_store(store) as (opened, room):
        room.remove_person(opened, name)
    put(
        f"The access code of {' '.join(name.split())} opens nothing any more, and every browser of theirs is signed out.\n"
    )


page_app = group("The whole program on a phone, with no signal.")


@page_app.command("build")
def page_build(
    folder: Annotated[Path, typer.Argument(help="an empty folder, or one that this command built")],
    runtime: Annotated[
        Path | None, typer.Option("--from", metavar="FOLDER", help="pyodide's files; without it npm fetches them")
    ] = None,
    rules: RulesOption = None,
) -> None:
    """Static files: the page, the program, its rule book. Serve them with any web server, by https on other machines."""
    from diagnose.page.build import build

    made = build(folder, sound_book(rules), runtime)
    size = f"{made.size / 1e6:.1f} MB, {made.packed / 1e6:.1f} MB compressed"
    put(f"{folder}: {len(made.files)} files, {size}. Version {made.version}.\n")
    put(f"Try it here: python -m http.server --directory {folder} 8000, then http://localhost:8000/\n")


@page_app.command("form")
def page_form(
    units: OneOfUnits = "us",
    mode: ModeOption = "cooling",
    output: OutOption = None,
    rules: RulesOption = None,
) -> None:
    """The same form on paper, blank, for a clipboard: one sheet, front and back, as HTML to print."""
    from diagnose.page.paper import paper_form

    put_page(paper_form(book_of(rules), units, mode), "html", output)
