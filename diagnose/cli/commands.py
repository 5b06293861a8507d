"""All commands, put together: only what is asked for is imported and made."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module

import typer

from diagnose.cli.shared import group

# Command or group -> the module and its function or group; in the order of the help.
HOMES = {
    "examine": "visits.examine",
    "why": "visits.why",
    "next": "visits.next_",
    "ask": "visits.ask",
    "compare": "visits.compare",
    "report": "visits.report",
    "draw": "visits.draw",
    "lesson": "lessons.lesson",
    "five-questions": "lessons.five_questions",
    "glossary": "lessons.glossary",
    "keep": "keeping.keep",
    "history": "keeping.history",
    "export": "keeping.export",
    "import": "keeping.import_",
    "forget": "keeping.forget",
    "fleet": "batch.fleet",
    "batch": "batch.batch",
    "serve": "serve.serve",
    "lookup": "lookup.lookup_app",
    "rules": "rules.rules_app",
    "cases": "cases.cases_app",
    "practice": "practice.practice_app",
    "page": "serve.page_app",
    "people": "serve.people_app",
}


def asked_for(word: str) -> typer.Typer:
    """The command or group of that name alone, else all."""
    return _made([word] if word in HOMES else HOMES)


def _made(names: Iterable[str]) -> typer.Typer:
    app = group(
        "Says what is wrong with a running air conditioner or heat pump, and why, before the charge is touched."
    )
    app.callback()(lambda: None)  # a group, although it may have a single command
    for name in names:
        module, what = HOMES[name].split(".")
        home = getattr(import_module(f"diagnose.cli.{module}"), what)
        if isinstance(home, typer.Typer):
            app.add_typer(home, name=name)
        else:
            app.command(name)(home)
    return app
