"""page: the whole program for a phone, as files for any web server."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

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
