"""Practice on the phone: a machine of the simulator hides a fault; readings are asked for, then an answer is judged.

A sitting is its seed and what was asked, which the page keeps: the same seed with the same book gives the same machine.
"""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.page.form import JsonObject
from diagnose.practice.asking import Action, ask_further, minutes_of, opened, playable
from diagnose.practice.exercise import GAVE_UP, Exercise, fact, shown
from diagnose.practice.feedback import judged
from diagnose.practice.judging import known_answer
from diagnose.report.layout import as_page
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import BAD_VISIT
from diagnose.visit import READINGS, System
from diagnose.visit.fields import MINUTES


def sitting(made: Exercise, asked: Sequence[str], rules: Rulebook, system: System) -> JsonObject:
    """Where a practice visit stands: complaint, machine, what is known, what can be asked, minutes of work so far.

    Raises InputProblems for what this machine cannot be asked.
    """
    told, had = ask_further(made, (), asked, rules)
    visit = made.visit(opened(made, had, rules))
    notes = {name: note for one in told for name, _, note in one.lines if note}
    there = {*visit["readings"], *visit.get("seen", ())}
    known = [
        {"name": upper_first(name), "value": shown(name, str(value), system) if name in READINGS else str(value),
         "note": notes.get(name, "")}
        for section in ("readings", "seen") for name, value in visit.get(section, {}).items() if name != MINUTES
    ]  # fmt: skip
    return {
        "complaint": made.complaint,
        "machine": [[upper_first(name), fact(name, value)] for name, value in made.machine.items()],
        "known": known,
        "minutes": minutes_of(made, had, rules),
        "actions": [_action(a) for a in playable(made, rules) if not set(a.names) <= there],
        "answers": [[name, entry.name] for name, entry in rules.faults.items()]
        + [[BAD_VISIT, "A reading cannot be right"], [GAVE_UP, "I give up: show me"]],
    }  # fmt: skip


def _action(action: Action) -> JsonObject:
    name = action.ask.rstrip(".") if action.kind == "check" else upper_first(action.name)
    return {"name": action.name, "kind": action.kind, "label": name, "minutes": action.minutes}


def answer(
    made: Exercise, asked: Sequence[str], said: str, because: str, rules: Rulebook, system: System
) -> JsonObject:
    """The answer judged, with the lesson of the hidden fault. Raises InputProblems for what is no answer."""
    known = said if said == GAVE_UP else known_answer(said, rules)
    found = judged(made, asked, known, rules, because=because, system=system)
    return {"blocks": as_page(found.blocks), "right": found.right, "minutes": found.minutes}
