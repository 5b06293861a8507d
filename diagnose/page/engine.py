"""What the page asks of the program, as JSON in and out: it runs in the browser's worker, and in the tests on the desk.

No sentence, formula or unit is written again in JavaScript: the form comes from the visit's table of fields, what is read
goes through the reader of visit files, and what is told comes from `report` and `lessons` as blocks.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from diagnose import units
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.page.form import JsonObject, fields_of, form_of
from diagnose.quantities.uncertainty import absolute
from diagnose.report.blocks import Block
from diagnose.report.dangers import danger_text
from diagnose.report.first_screen import first_screen
from diagnose.report.following import changed_text, next_page, sensitivity_page
from diagnose.report.handover import handover_page
from diagnose.report.layout import as_page, together
from diagnose.report.news import news_page
from diagnose.report.pages import diagnosis_page
from diagnose.report.trace import why_page
from diagnose.report.wording import name_of, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.data import NotABook, from_data
from diagnose.visit import HEATING, System, Visit, VisitError
from diagnose.visit.fields import LINES, MACHINE
from diagnose.visit.own import Own
from diagnose.yamlfile import InputProblems

if TYPE_CHECKING:
    from diagnose.practice.exercise import Exercise


class Engine:
    """One rule book and the last answer, so that it can be told what a new reading changed."""

    def __init__(self, rules: Rulebook) -> None:
        self.rules = rules
        self._last: tuple[dict[str, Any], Diagnosis] | None = None
        self._drawn: tuple[tuple[int, bool], Exercise] | None = None

    def form(self) -> JsonObject:
        """Every field of a visit, in the order of the work: name, question, unit choices, examples, and for which mode."""
        return form_of(self.rules)

    # -- the answer -----------------------------------------------------------------------------------------------------

    def look(self, visit: dict[str, Any], system: System) -> JsonObject:
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
            "screen": as_page(_short(d)),
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
                    "ask": together(c.ask),
                    "why": together(c.why),
                    "minutes": c.minutes,
                    "fields": fields_of(c, d, kept),
                }
                for c in next_checks(d)[:3]
            ],
            "changed": changed,
        }

    def result(self, visit: dict[str, Any]) -> JsonObject:
        """The JSON result of the command line."""
        return examine(visit, self.rules).to_dict()

    def told(
        self, what: str, visit: dict[str, Any], system: System, earlier: dict[str, Any] | None = None
    ) -> JsonObject:
        """A page on demand: `full`, `next`, `pictures`, `sensitivity`, `why FAULT`, `lesson`, `lesson FAULT`, `lesson heating`,
        `report customer`, `report office`, and `compare` with an earlier visit, before the repair. Raises InputProblems."""
        word, _, of = what.partition(" ")
        if word == "lesson" and of:
            return {"blocks": as_page(self._lesson(of, system))}
        d = self._examined(visit).told_in(system)
        pages: dict[str, Callable[[], list[Block]]] = {
            "full": lambda: diagnosis_page(d),
            "next": lambda: next_page(d),
            "why": lambda: why_page(d, of),
            "pictures": lambda: list(_pictures(d)),
            "lesson": lambda: _visit_lesson(d),
            "sensitivity": lambda: sensitivity_page(d),
            "compare": lambda: _compared(self._examined(earlier or {}), d),
            "report": lambda: handover_page(d, "office" if of == "office" else "customer", drawn=True),
        }
        return {"blocks": as_page(pages[word]())}

    def _examined(self, visit: dict[str, Any]) -> Diagnosis:
        return examine(_without(visit, dict(self._unreadable(visit))), self.rules)

    def news(self, book: str) -> JsonObject:
        """What a newer compiled book, as `build` stored it, says otherwise than the one that runs here."""
        try:
            newer = from_data(json.loads(book))
        except (NotABook, ValueError):
            return {"blocks": [], "why": "It is written for a newer program; what differs is told after the change."}
        return {"blocks": as_page(news_page(self.rules, newer))}

    def _lesson(self, of: str, system: System) -> list[Block]:
        from diagnose import lessons

        if of == HEATING:
            return lessons.heating_page(self.rules, system)
        return lessons.fault_page(of, self.rules, system)

    def knobs(self) -> JsonObject:
        """What can be turned on the machine of the lessons."""
        from diagnose.lessons.example import DEVICES
        from diagnose.lessons.what_if import FIGURES, KNOBS, presets

        return {"presets": presets(), "devices": DEVICES, "knobs": [asdict(knob) for knob in KNOBS], "figures": FIGURES}

    def what_if(self, metering: str, turned: dict[str, float], system: System) -> JsonObject:
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
        return {"figures": figures, "screen": as_page(_short(found.d))}

    def practice(self, seed: int, hard: bool, asked: list[str], system: System) -> JsonObject:
        """Where a practice visit stands; see `practice.sitting`."""
        from diagnose.page.practice import sitting

        return sitting(self._exercise(seed, hard), asked, self.rules, system)

    def practice_answer(
        self, seed: int, hard: bool, asked: list[str], said: str, because: str, system: System
    ) -> JsonObject:
        """The answer to it, judged; see `practice.answer`."""
        from diagnose.page.practice import answer

        return answer(self._exercise(seed, hard), asked, said, because, self.rules, system)

    def _exercise(self, seed: int, hard: bool) -> Exercise:
        from diagnose.practice.exercise import new

        if self._drawn is None or self._drawn[0] != (seed, hard):
            self._drawn = (seed, hard), new(seed, self.rules, hard=hard)
        return self._drawn[1]

    # -- files and units ------------------------------------------------------------------------------------------------

    def in_system(self, visit: dict[str, Any], system: System) -> JsonObject:
        """The same visit with every number written in the units of this system; what cannot be read stays as it is."""
        problems = dict(self._unreadable(visit))
        good = Visit.parse(_without(visit, problems), self.rules.own)
        found: JsonObject = json.loads(json.dumps(visit))
        last = found.get("readings")
        rounds = last if isinstance(last, list) else [last] if last else []
        for written, taken in zip(rounds, good.rounds, strict=False):
            for name in written:
                reading = taken.readings.get(name)
                if reading is not None:
                    value = absolute(reading, good.machine) - (good.machine.station_pressure if reading.gauge else 0.0)
                    written[name] = _shown(value, reading.field.kind, system)
        sizes = MACHINE | {field.name: field for field in self.rules.own.sizes}
        for name in found.get("machine", {}):
            if name in sizes and name in good.machine.facts:
                value = good.machine.facts[name]
                kind = sizes[name].kind
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


def _short(d: Diagnosis) -> list[Block]:
    """The first screen without its last line; why nothing is judged is no part of the headline."""
    return first_screen(d, more="", apart=True)[:-1]


def examine_line(section: str, name: str, value: object, rules: Rulebook) -> None:
    """Reads one line of a visit by itself. Raises VisitError."""
    from diagnose.diagnosis.pipeline import as_visit

    as_visit({section: {name: value}}, rules)


def _shown(value: float, kind: Any, system: System) -> str:
    return units.show(value, kind, units.unit_for(kind, system)).replace("°", "").replace(",", "").replace("−", "-")


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


def _compared(before: Diagnosis, after: Diagnosis) -> list[Block]:
    from diagnose.diagnosis.after_repair import compare
    from diagnose.report.after_repair import illustrated_comparison

    return illustrated_comparison(compare(before, after))


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
    except InputProblems as error:
        return json.dumps({"error": [f"{p.what}. {p.fix}" for p in error.problems]})


def as_yaml(visit: Mapping[str, Any]) -> str:
    """The visit as the text of a visit file."""
    from diagnose.yamlfile.events import written

    return written(visit)


def from_yaml(text: str) -> Mapping[str, Any]:
    """The mapping in a visit file. Raises VisitError where it is none."""
    from diagnose import yamlfile
    from diagnose.visit.parts import in_parts

    own = _ENGINE[0].rules.own if _ENGINE else Own()
    try:
        data = yamlfile.parse(text, "").data
    except InputProblems as error:
        raise VisitError(error.problems) from None
    found = in_parts(yamlfile.from_data(data.get("visit", data) if isinstance(data, Mapping) else data), (), own).data
    Visit.parse(found, own)  # type: ignore[arg-type]
    return found  # type: ignore[return-value]


_YAML: Mapping[str, Callable[..., Any]] = {"as_yaml": as_yaml, "from_yaml": from_yaml}
