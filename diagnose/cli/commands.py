"""All commands, put together."""

from __future__ import annotations

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
