"""The commands: read options, call one function, print. Exit codes: 0 fine, 1 a rule or case failed, 2 bad input."""

from __future__ import annotations

import gc
import os
import sys

from diagnose.cli import draw, lessons, visits
from diagnose.cli.cases import cases_app
from diagnose.cli.lookup import lookup_app
from diagnose.cli.rules import rules_app
from diagnose.cli.shared import group

app = group("Says what is wrong with a running air conditioner or heat pump, and why, before the charge is touched.")
visits.add_to(app)
draw.add_to(app)
lessons.add_to(app)
app.add_typer(lookup_app, name="lookup")
app.add_typer(rules_app, name="rules")
app.add_typer(cases_app, name="cases")


def main() -> None:
    """The console script: no stack trace ever reaches a technician; DIAGNOSE_TRACE=1 shows it to a developer."""
    # A command lives for a fraction of a second: collecting garbage, and pydantic's search of every installed package
    # for plug-ins (there are none here), are a seventh of it. pydantic is imported after this, by the commands.
    gc.disable()
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        app()
    except Exception as error:
        if os.environ.get("DIAGNOSE_TRACE"):
            raise
        sys.stderr.write(
            f"This is a mistake in the program, not in your visit: {type(error).__name__}: {error}\n"
            "Please report it with the visit file. DIAGNOSE_TRACE=1 shows where it happened.\n"
        )
        sys.exit(1)
