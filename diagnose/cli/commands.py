"""All commands, put together."""

from __future__ import annotations

from copy import copy

import typer

from diagnose.cli import batch, compare, draw, fleet, keeping, lessons, report, serve, visits
from diagnose.cli.cases import cases_app
from diagnose.cli.exam import exam_app
from diagnose.cli.lookup import lookup_app
from diagnose.cli.page import page_app
from diagnose.cli.practice import practice_app
from diagnose.cli.rules import rules_app
from diagnose.cli.shared import group

app = group("Says what is wrong with a running air conditioner or heat pump, and why, before the charge is touched.")
visits.add_to(app)
compare.add_to(app)
report.add_to(app)
draw.add_to(app)
lessons.add_to(app)
keeping.add_to(app)
fleet.add_to(app)
batch.add_to(app)
serve.add_to(app)
app.add_typer(lookup_app, name="lookup")
app.add_typer(rules_app, name="rules")
app.add_typer(cases_app, name="cases")
practice_app.add_typer(exam_app, name="exam")
app.add_typer(practice_app, name="practice")
app.add_typer(page_app, name="page")
app.add_typer(serve.people_app, name="people")


def asked_for(word: str) -> typer.Typer:
    """The command or group of that name alone, else all: to make all fifty is a tenth of the time of a command."""
    commands = [c for c in app.registered_commands if word == (c.name or getattr(c.callback, "__name__", ""))]
    groups = [group for group in app.registered_groups if group.name == word]
    if not commands and not groups:
        return app
    few = copy(app)
    few.registered_commands, few.registered_groups = commands, groups
    few.callback()(lambda: None)  # a group, although it has a single command
    return few
