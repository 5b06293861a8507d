"""The form of the page: every field of a visit, in the order of the work, from the one table of fields."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from diagnose import units
from diagnose.diagnosis.next_checks import NextCheck
from diagnose.diagnosis.pipeline import READ_AGAIN
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import STEPS, own_steps
from diagnose.report.wording import upper_first
from diagnose.rulebook import Rulebook
from diagnose.visit import COOLING, HEATING
from diagnose.visit.fields import DEFROSTED, FIELDS, LINE_SET, LINES, MINUTES, READINGS, Field, Word

JsonObject = dict[str, Any]
OFFERED: Mapping[str, tuple[str, ...]] = {
    "pressure": ("psig", "kPa gauge", "bar gauge"),
    "capacity": ("ton", "kW", "Btu/h"),
    "mass": ("lb", "oz", "kg", "g"),
    "length": ("ft", "in", "m", "mm"),
    "airflow": ("cfm", "L/s", "m3/h"),
    "station pressure": ("inHg", "hPa"),
    "time": ("min", "h"),
}
"""Units to choose from beside a field, where there are more than the usual one of each system."""
GROUPS = (
    "Machine", "Air side", "What is seen", "If the compressor is not running", "Gauges and lines", "More of the machine",
    "More readings",
)  # fmt: skip
AIR = ("air thermometers", "humidity meter")


def form_of(rules: Rulebook) -> JsonObject:
    """Every field of a visit, in the order of the work: name, question, unit choices, examples, and for which mode."""
    groups: dict[str, list[JsonObject]] = {name: [] for name in GROUPS}
    for field in _asked(rules):
        groups[_group(field)].append(_field(field))
    for name, size in LINE_SET.items():
        groups[GROUPS[5]].append(_field(size, path=f"machine/{LINES.name}/{name}"))
    for name, entry in rules.seen.items():
        shown = {
            "path": f"seen/{name}",
            "label": upper_first(name),
            "hint": entry.ask or "",
            "choices": entry.words,
        }
        groups[GROUPS[3] if _stops(name, rules) else GROUPS[2]].append(
            {**shown, "first": True, "modes": modes_of_seen(name, rules)}
        )
    for listed in groups.values():
        listed.sort(key=lambda f: 0 if f["path"] == "machine/name" else f.get("asked") or 99)
    return {
        "groups": [{"title": title, "fields": fields} for title, fields in groups.items()],
        "book": rules.name,
        "faults": {name: entry.name for name, entry in rules.faults.items()},
    }


def _asked(rules: Rulebook) -> Iterator[Field | Word]:
    for field in (*FIELDS, *rules.own.fields):
        if field.section in ("machine", "readings") and (field.question or field.name in (MINUTES, DEFROSTED)):
            yield field


def _stops(name: str, rules: Rulebook) -> bool:
    """Whether it is looked at only to find what keeps a compressor from running."""
    weighed = {rule.fault for rule in rules.rules if name in rule.findings and rule.fault}
    return weighed == {"compressor-not-running"}


def modes_of_seen(name: str, rules: Rulebook) -> list[str]:
    """The modes in which anything is made of it."""
    found = []
    for mode in (COOLING, HEATING):
        spoken = rules.in_mode(mode).rules
        if any(name in rule.findings for rule in spoken):
            found.append(mode)
    return found


def _group(field: Field | Word) -> str:
    if field.section == "machine":
        return GROUPS[0] if field.asked or field.name == "name" else GROUPS[5]
    if isinstance(field, Field) and field.instrument in AIR:
        return GROUPS[1] if field.asked else GROUPS[6]
    return GROUPS[4] if field.asked else GROUPS[6]


def _field(field: Field | Word, path: str = "") -> JsonObject:
    """One field of the form. units: US first; empty for words and plain numbers. below: whether it may be below zero."""
    made: JsonObject = {
        "path": path or f"{field.section}/{field.name}",
        "label": upper_first(
            field.name.replace("vapour", "vapor")
        ),  # a word of visit files; labels are spelled as in the US
        "hint": field.about if isinstance(field, Word) or not field.where else upper_first(field.where),
        "asked": field.asked,
        "first": bool(field.asked),
        "modes": modes(field),
        "examples": list(field.examples),
    }
    if isinstance(field, Word):
        return {**made, "choices": list(field.choices)}
    us, si = (units.unit_for(field.kind, system) for system in ("us", "si"))
    offered = dict.fromkeys([us, si, *OFFERED.get(field.kind, ())])
    if field.instrument == "power meter":  # a power like a capacity, but nobody's meter shows tons
        us, si, offered = "kW", "kW", dict.fromkeys(["kW", "W"])
    return {
        **made,
        "units": [u for u in offered if u],
        "us": us,
        "si": si,
        "below": field.kind in ("temperature", "pressure"),
    }


def modes(field: Field | Word) -> list[str]:
    """The modes in which a reading is of use: those whose quantities look at it."""
    if field.section != "readings" or field.name == MINUTES:
        return [COOLING, HEATING]
    if field.name == DEFROSTED or field.name.startswith(("vapour line", "valve tube")):
        return [HEATING]
    reached = {field.name}
    found = set()
    for step in STEPS:
        if reached.intersection(step.reads):
            reached.add(step.name)
            found |= {step.mode} if step.mode else set()
    shared = any(not step.mode and field.name in step.reads for step in STEPS)
    return [mode for mode in (COOLING, HEATING) if shared or mode in found or not found]


def fields_of(check: NextCheck, d: Diagnosis, visit: Mapping[str, Any]) -> list[str]:
    """The fields of the form that a check is about: those it names, the doubted readings it clears, and those it fills."""
    named = [name.partition(":")[0] for name in re.findall(r"`([^`]+)`", check.ask)]
    doubted = [
        name for each in d.doubts if each.told and (each.check or READ_AGAIN) == check.check for name in each.readings
    ]
    found = [path for name in (*named, *doubted) for path in _paths(name, d.rules)]
    return list(dict.fromkeys((*found, *fields_for(check.gives, visit, d.rules))))


def _paths(name: str, rules: Rulebook) -> Iterator[str]:
    """Where the form asks for what visit files call so; nothing where it does not."""
    yield from (f"{field.section}/{name}" for field in _asked(rules) if field.name == name)
    if name in rules.seen:
        yield f"seen/{name}"


def fields_for(gives: tuple[str, ...], visit: Mapping[str, Any], rules: Rulebook) -> Iterator[str]:
    """The fields of the form that a check fills: what is looked at, and the readings its quantities still lack."""
    have = given(visit)
    needs = {step.name: step for step in (*STEPS, *own_steps(rules.own.quantities))}
    own = {field.name for field in rules.own.readings}
    told = set()
    for finding in gives:
        entry = rules.findings[finding]
        wanted = (
            [f"seen/{finding}"]
            if entry.seen
            else [f"readings/{name}" for name in _lacking(entry.quantity, needs, have, own)]
        )
        for path in wanted:
            if path not in told:
                told.add(path)
                yield path


def _lacking(name: str | None, needs: Mapping[str, Any], have: frozenset[str], own: set[str]) -> Iterator[str]:
    """Readings that a quantity needs and nobody took."""
    if name is None or name in have:
        return
    if name in READINGS or name in own or name == MINUTES:
        yield name
    elif name in needs:
        for need in needs[name].needs:
            yield from _lacking(need, needs, have, own)


def given(visit: Mapping[str, Any]) -> frozenset[str]:
    """Names of the readings of the last round and of what was seen."""
    rounds = visit.get("readings") or {}
    last = rounds[-1] if isinstance(rounds, list) and rounds else rounds
    return frozenset((*last, *(visit.get("seen") or {})))
