"""What the page asks of the program, as JSON in and out: it runs in the browser's worker, and in the tests on the desk.

No sentence, formula or unit is written again in JavaScript: the form comes from the visit's table of fields, what is read
goes through the reader of visit files, and what is told comes from `report` and `lessons` as blocks.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict
from typing import Any

from diagnose import units
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import STEPS
from diagnose.quantities.uncertainty import absolute
from diagnose.report.blocks import Block, as_data
from diagnose.report.changed import changed_text
from diagnose.report.dangers import danger_text
from diagnose.report.first_screen import first_screen
from diagnose.report.following import next_page
from diagnose.report.pages import diagnosis_page
from diagnose.report.trace import why_page
from diagnose.report.wording import name_of, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import from_data
from diagnose.visit import COOLING, HEATING, System, Visit, VisitError
from diagnose.visit.fields import DEFROSTED, FIELDS, LINE_SET, LINES, MACHINE, MINUTES, READINGS, ROUND, Field, Word

Told = dict[str, Any]
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
GROUPS = ("Machine", "Air side", "What is seen", "Gauges and lines", "More of the machine", "More readings")
AIR = ("air thermometers", "humidity meter")


class Engine:
    """One rule book and the last answer, so that it can be told what a new reading changed."""

    def __init__(self, rules: Rulebook) -> None:
        self.rules = rules
        self._last: tuple[dict[str, Any], Diagnosis] | None = None

    # -- the form -------------------------------------------------------------------------------------------------------

    def form(self) -> Told:
        """Every field of a visit, in the order of the work: name, question, unit choices, examples, and for which mode."""
        groups: dict[str, list[Told]] = {name: [] for name in GROUPS}
        for field in FIELDS:
            if field.section in ("machine", "readings") and (field.question or field.name in (MINUTES, DEFROSTED)):
                groups[_group(field)].append(_field(field))
        for name, size in LINE_SET.items():
            groups[GROUPS[4]].append(_field(size, path=f"machine/{LINES.name}/{name}"))
        for name, entry in self.rules.seen.items():
            shown = {
                "path": f"seen/{name}",
                "label": upper_first(name),
                "hint": entry.ask or "",
                "choices": entry.words,
            }
            groups[GROUPS[2]].append({**shown, "first": True, "modes": self._modes_of_seen(name)})
        for listed in groups.values():
            listed.sort(key=lambda f: f.get("asked") or 99)
        return {
            "groups": [{"title": title, "fields": fields} for title, fields in groups.items()],
            "book": self.rules.name,
            "faults": {name: entry.name for name, entry in self.rules.faults.items()},
        }

    def _modes_of_seen(self, name: str) -> list[str]:
        """The modes in which anything is made of it."""
        found = []
        for mode in (COOLING, HEATING):
            rules = self.rules.in_mode(mode).rules
            if any(name in rule.findings for rule in rules):
                found.append(mode)
        return found

    # -- the answer -----------------------------------------------------------------------------------------------------

    def look(self, visit: dict[str, Any], system: System) -> Told:
        """The answer to what has been typed so far; what cannot be read is told by its place and left out."""
        problems = dict(self._unreadable(visit))
        kept = _without(visit, problems)
        try:
            d = examine(kept, self.rules).told_in(system)
        except VisitError as error:  # lines that cannot be right together
            return {"problems": problems, "wrong": [f"{p.what}. {p.fix}" for p in error.problems], "screen": []}
        changed = "" if self._last is None else changed_text(self._last[1], d, _one_difference(self._last[0], kept))
        self._last = (kept, d)
        return {
            "problems": problems,
            "wrong": [],
            "screen": [as_data(block) for block in first_screen(d, more="")[:-1]],
            "stop": d.stop,
            "dangers": [danger_text(d, danger)[0] for danger in d.dangers],
            "first": d.faults[0].fault if d.faults else "",
            "ranked": [
                {
                    "fault": r.fault,
                    "name": upper_first(name_of(r.fault, d.rules)),
                    "share": r.share,
                    "strength": r.strength,
                }
                for r in d.faults[:5]
            ],
            "verdict": d.charge.verdict,
            "status": "outside" if d.outside else "not ready" if d.not_ready else "diagnosed",
            "checks": [
                {
                    "ask": c.ask,
                    "why": c.why,
                    "minutes": c.minutes,
                    "fields": list(_fields_for(c.gives, kept, self.rules)),
                }
                for c in next_checks(d)[:3]
            ],
            "changed": changed,
        }

    def result(self, visit: dict[str, Any]) -> Told:
        """The JSON result of the command line."""
        return examine(visit, self.rules).to_dict()

    def told(self, what: str, visit: dict[str, Any], system: System) -> Told:
        """A page on demand: `full`, `next`, `pictures`, `lesson`, `why FAULT`, `lesson FAULT`, `lesson heating`, `glossary`."""
        word, _, of = what.partition(" ")
        if word == "lesson" and of:
            return {"blocks": [as_data(b) for b in self._lesson(of, system)]}
        d = examine(_without(visit, dict(self._unreadable(visit))), self.rules).told_in(system)
        pages: dict[str, Callable[[], list[Block]]] = {
            "full": lambda: diagnosis_page(d),
            "next": lambda: next_page(d),
            "why": lambda: why_page(d, of),
            "pictures": lambda: list(_pictures(d)),
            "lesson": lambda: _visit_lesson(d),
        }
        return {"blocks": [as_data(b) for b in pages[word]()]}

    def _lesson(self, of: str, system: System) -> list[Block]:
        from diagnose import lessons

        if of == HEATING:
            return lessons.heating_page(self.rules, system)
        return lessons.fault_page(of, self.rules, system)

    def knobs(self) -> Told:
        """What can be turned on the machine of the lessons."""
        from diagnose.lessons.example import DEVICES
        from diagnose.lessons.what_if import FIGURES, KNOBS

        return {"devices": DEVICES, "knobs": [asdict(knob) for knob in KNOBS], "figures": FIGURES}

    def what_if(self, metering: str, turned: dict[str, float], system: System) -> Told:
        """What that machine reads and what is said of it; `why` instead where it cannot run like that."""
        from diagnose.lessons.what_if import SAME, what_if
        from diagnose.report.wording import number

        found = what_if("fixed orifice" if metering == "fixed orifice" else "TXV", turned, self.rules, system)
        if isinstance(found, str):
            return {"why": found}
        figures = [
            {
                "name": name,
                "value": number(found.d.estimates[name].value, found.d.estimates[name].kind, system),
                "moved": number(by, "difference", system),
                "way": "stays" if abs(by) < SAME else "rises" if by > 0 else "falls",
            }
            for name, by in found.moved.items()
        ]
        return {"figures": figures, "screen": [as_data(b) for b in first_screen(found.d, more="")[:-1]]}

    # -- files and units ------------------------------------------------------------------------------------------------

    def in_system(self, visit: dict[str, Any], system: System) -> Told:
        """The same visit with every number written in the units of this system; what cannot be read stays as it is."""
        problems = dict(self._unreadable(visit))
        good = Visit.parse(_without(visit, problems))
        found: Told = json.loads(json.dumps(visit))
        last = found.get("readings")
        rounds = last if isinstance(last, list) else [last] if last else []
        for written, taken in zip(rounds, good.rounds, strict=False):
            for name in written:
                reading = taken.readings.get(name)
                if reading is not None:
                    value = absolute(reading, good.machine) - (good.machine.station_pressure if reading.gauge else 0.0)
                    written[name] = _shown(value, ROUND[name].kind, system)
        for name in found.get("machine", {}):
            if name in MACHINE and name in good.machine.facts:
                value = good.machine.facts[name]
                kind = MACHINE[name].kind
                found["machine"][name] = _shown(value - (101325.0 if kind == "pressure" else 0.0), kind, system)
        return found

    def _unreadable(self, visit: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Each line that cannot be read by itself, by its path, and how to mend it."""
        for section in ("machine", "readings", "seen"):
            rounds = visit.get(section) or {}
            for lines in rounds[-1:] if isinstance(rounds, list) else [rounds]:
                for name, value in lines.items():
                    if isinstance(value, Mapping):
                        continue
                    try:
                        examine_line(section, name, value, self.rules)
                    except VisitError as error:
                        first = error.problems[0]
                        yield f"{section}/{name}", f"{first.what}. {first.fix}".replace(f"`{name}`: ", "")


def examine_line(section: str, name: str, value: object, rules: Rulebook) -> None:
    """Reads one line of a visit by itself. Raises VisitError."""
    from diagnose.diagnosis.pipeline import as_visit

    as_visit({section: {name: value}}, rules)


def _shown(value: float, kind: Any, system: System) -> str:
    return units.show(value, kind, units.unit_for(kind, system)).replace("°", "").replace(",", "")


def _group(field: Field | Word) -> str:
    if field.section == "machine":
        return GROUPS[0] if field.asked or field.name == "name" else GROUPS[4]
    if isinstance(field, Field) and field.instrument in AIR:
        return GROUPS[1] if field.asked else GROUPS[5]
    return GROUPS[3] if field.asked else GROUPS[5]


def _field(field: Field | Word, path: str = "") -> Told:
    """One field of the form. units: US first; empty for words and plain numbers. below: whether it may be below zero."""
    made: Told = {
        "path": path or f"{field.section}/{field.name}",
        "label": upper_first(field.name),
        "hint": field.about if isinstance(field, Word) or not field.where else upper_first(field.where),
        "asked": field.asked,
        "first": bool(field.asked),
        "modes": _modes(field),
        "examples": list(field.examples),
    }
    if isinstance(field, Word):
        return {**made, "choices": list(field.choices)}
    us, si = (units.unit_for(field.kind, system) for system in ("us", "si"))
    offered = dict.fromkeys([us, si, *OFFERED.get(field.kind, ())])
    return {
        **made,
        "units": [u for u in offered if u],
        "us": us,
        "si": si,
        "below": field.kind in ("temperature", "pressure"),
    }


def _modes(field: Field | Word) -> list[str]:
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


def _fields_for(gives: tuple[str, ...], visit: Mapping[str, Any], rules: Rulebook) -> Iterator[str]:
    """The fields of the form that a check fills: what is looked at, and the readings its quantities still lack."""
    have = _given(visit)
    needs = {step.name: step for step in STEPS}
    told = set()
    for finding in gives:
        entry = rules.findings[finding]
        wanted = (
            [f"seen/{finding}"]
            if entry.seen
            else [f"readings/{name}" for name in _lacking(entry.quantity, needs, have)]
        )
        for path in wanted:
            if path not in told:
                told.add(path)
                yield path


def _lacking(name: str | None, needs: Mapping[str, Any], have: frozenset[str]) -> Iterator[str]:
    """Readings that a quantity needs and nobody took."""
    if name is None or name in have:
        return
    if name in READINGS or name == MINUTES:
        yield name
    elif name in needs:
        for need in needs[name].needs:
            yield from _lacking(need, needs, have)


def _given(visit: Mapping[str, Any]) -> frozenset[str]:
    rounds = visit.get("readings") or {}
    last = rounds[-1] if isinstance(rounds, list) and rounds else rounds
    return frozenset((*last, *(visit.get("seen") or {})))


def _without(visit: Mapping[str, Any], problems: Mapping[str, str]) -> dict[str, Any]:
    """The visit without the lines that cannot be read, and without what is empty."""
    kept: dict[str, Any] = json.loads(json.dumps(visit))
    for path in problems:
        section, name = path.split("/", 1)
        lines = kept[section]
        (lines[-1] if isinstance(lines, list) else lines).pop(name, None)
    line_set = (kept.get("machine") or {}).get(LINES.name)
    if isinstance(line_set, dict) and not {"liquid line", "length"} <= line_set.keys():
        kept["machine"].pop(LINES.name)
    return {part: value for part, value in kept.items() if value} or {"machine": {"name": "machine"}}


def _one_difference(before: Mapping[str, Any], now: Mapping[str, Any]) -> str:
    """The one line in which two visits differ; empty where they differ in none or in several."""
    found = []
    for section in ("machine", "readings", "seen"):
        a, b = (_lines(each.get(section)) for each in (before, now))
        found += [name for name in {**a, **b} if a.get(name) != b.get(name)]
    return found[0] if len(found) == 1 else ""


def _lines(section: Any) -> Mapping[str, Any]:
    return (section[-1] if isinstance(section, list) and section else section) or {}


def _pictures(d: Diagnosis) -> Iterator[Block]:
    from diagnose.report.illustrated import OF_A_VISIT, of_visit

    for what in OF_A_VISIT:
        yield from of_visit(d, what)


def _visit_lesson(d: Diagnosis) -> list[Block]:
    from diagnose import lessons

    return lessons.lesson_page(d)


# -- what the worker calls ------------------------------------------------------------------------------------------------

_ENGINE: list[Engine] = []


def start(book: str) -> None:
    """Takes the compiled book, as `build` stored it."""
    _ENGINE[:] = [Engine(from_data(json.loads(book)))]


def call(name: str, arguments: str) -> str:
    """One of the engine's calls, or `as_yaml`, `from_yaml`: JSON in, JSON out; what goes wrong is told, never raised."""
    given = json.loads(arguments)
    try:
        if name in ("as_yaml", "from_yaml"):
            return json.dumps(_YAML[name](*given))
        return json.dumps(getattr(_ENGINE[0], name)(*given))
    except VisitError as error:
        return json.dumps({"error": [f"{p.what}. {p.fix}" for p in error.problems]})


def as_yaml(visit: Mapping[str, Any]) -> str:
    """The visit as the text of a visit file."""
    from diagnose.yamlfile.writing import written

    return written(visit)


def from_yaml(text: str) -> Mapping[str, Any]:
    """The mapping in a visit file. Raises VisitError where it is none."""
    from diagnose import yamlfile
    from diagnose.yamlfile import InputProblems

    try:
        document = yamlfile.parse(text, "")
    except InputProblems as error:
        raise VisitError(error.problems) from None
    data = document.data
    found = data.get("visit", data) if isinstance(data, Mapping) else data
    Visit.parse(found)  # type: ignore[arg-type]
    return found  # type: ignore[return-value]


_YAML: Mapping[str, Callable[..., Any]] = {"as_yaml": as_yaml, "from_yaml": from_yaml}
