"""A fault on one sheet for the wall: what it is, which readings move, what it is taken for, how to prove it, what can hurt."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose.lessons import story
from diagnose.lessons.example import DEVICES, example
from diagnose.lessons.fault_lesson import MARKS
from diagnose.report import html
from diagnose.report.layout import together
from diagnose.report.webpage import own_ids
from diagnose.report.wording import step_text, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import FaultEntry, Moving
from diagnose.visit import COOLING, HEATING, System

MOST: Mapping[str, int] = {"readings": 9, "alike": 3, "confirm": 4, "care": 3}
"""How much of each fits a sheet; the lesson has it all, in the same order."""
COLUMNS: Mapping[str, str] = {"fixed orifice": "orifice", "TXV": "valve"}
LEGEND: Mapping[str, str] = {
    "up": "rises",
    "down": "falls",
    "stays": "stays",
    "stays then up": "stays at first, then rises",
    "stays then down": "stays at first, then falls",
    "either": "may rise or fall",
}
SIZES = ((1700, 12.5), (2200, 11.5), (2700, 10.5))
"""Up to so many letters in so many points; above, in the smallest that can be read at arm's length."""
SMALLEST = 9.5
DRAWN = 1000
"""Letters that would fill the place of the drawing."""


def poster_page(fault: str, rules: Rulebook, system: System = "us") -> str:
    """The sheet as one self-contained page, A4 or Letter."""
    entry = rules.faults[fault]
    mode = HEATING if dict(entry.applies).get("mode") == frozenset({HEATING}) else COOLING
    rows = list(_rows(entry, mode))
    alike = [(rules.faults[other].name, text) for other, text in entry.looks_like.items()]
    confirm = list(entry.lesson.confirm) if entry.lesson else []
    values: dict[str, Any] = {
        "title": entry.name,
        "what": together(entry.what),
        "mode": mode if mode == HEATING or entry.in_heating else "",
        "columns": list(COLUMNS.values()) if any(one != other for _, one, other in rows) else [],
        "rows": [(name, MARKS[one] if one else "", MARKS[other] if other else "") for name, one, other in rows],
        "legend": [(MARKS[m], said) for m, said in LEGEND.items() if any(m in row[1:] for row in rows)],
        "alike": [(name, together(text)) for name, text in alike[: MOST["alike"]]],
        "confirm": [together(text) for text in confirm[: MOST["confirm"]]],
        "care": [together(text) for text in _care(entry, rules)][: MOST["care"]],
        **_drawn(fault, rules, system),
        "book": rules.name,
    }
    letters = sum(map(len, _words(values))) + (DRAWN if values["svg"] else 0)
    size = next((points for most, points in SIZES if letters <= most), SMALLEST)
    return html.page("poster.html", {**values, "size": size})


def _rows(entry: FaultEntry, mode: str) -> Iterator[tuple[str, str, str]]:
    """Each reading, with the way it moves on either kind of machine; empty where the lesson says nothing."""
    found: dict[str, dict[str, str]] = {}
    for moving in entry.lesson.readings if entry.lesson else ():
        for device in COLUMNS:
            if _about(moving, device, mode):
                found.setdefault(moving.quantity, {}).setdefault(device, moving.moves)
    for name, moves in list(found.items())[: MOST["readings"]]:
        one, other = (moves.get(device, "") for device in COLUMNS)
        yield upper_first(name), one, other


def _about(moving: Moving, device: str, mode: str) -> bool:
    on = dict(moving.applies)
    return device in on.pop("metering", frozenset({device})) and mode in on.pop("mode", frozenset({mode})) and not on


def _care(entry: FaultEntry, rules: Rulebook) -> Iterator[str]:
    """What can hurt in this repair on every machine, and then what can hurt at any machine."""
    if entry.repair is not None:
        yield from (step_text(step) for step in entry.repair.cautions if not step.applies)
    always = [r for r in rules.rules if r.kind == "caution" and not (r.when or r.either or r.applies)]
    yield from (f"{rule.entry.title}. {rule.entry.why}" for rule in sorted(always, key=lambda r: r.rank))


def _drawn(fault: str, rules: Rulebook, system: System) -> dict[str, str]:
    """The cycle of the lesson's example, and what it is of."""
    for device in DEVICES:
        one = example(fault, device, rules, system)
        for block in story.side_by_side(one.faulty, one.right) if one else ():
            if block.svg:
                kind = "an expansion valve" if device == "TXV" else "a fixed orifice"
                what = f"A 3 ton (10.6 kW) R-410A machine with {kind}: {one.what if one else ''}."
                return {"svg": own_ids(block.svg, "poster-"), "caption": together(what)}
    return {"svg": "", "caption": ""}


def _words(value: Any) -> Iterator[str]:
    """Everything that is read on the sheet but the drawing."""
    if isinstance(value, str):
        yield "" if value.startswith("<svg") else value
    elif isinstance(value, Mapping):
        for one in value.values():
            yield from _words(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from _words(one)
