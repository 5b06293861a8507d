"""From a visit file, or the same mapping from Python, to a Visit; every mistake is collected, none is guessed away."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from numbers import Integral, Real
from typing import Literal

from diagnose import units, yamlfile
from diagnose.properties import Refrigerant, UnknownRefrigerant, refrigerant, standard_pressure
from diagnose.units import Measured, UnitError
from diagnose.visit.baseline_path import NoBaseline, baseline_document
from diagnose.visit.fields import (
    CAPILLARIES,
    CAPILLARY,
    CARRIED_MINUTES,
    CHOICES,
    INSTRUMENT_FIELDS,
    INSTRUMENTS,
    LINE_SET,
    LINES,
    LONGEST_REMARK,
    MACHINE,
    MACHINE_WORDS,
    METERING_DEVICE,
    MINUTES,
    NO_TRUE_ZERO,
    PARTS,
    READINGS,
    REMARKS,
    ROUND,
    RUNNING_AT,
    SAME_AS,
    SECTIONS,
    SEER_OF_SEER2,
    STATION_ERROR,
    STATION_GAP,
    WORDS,
    Field,
    Instrument,
    Section,
)
from diagnose.visit.model import LineSet, Machine, Reading, Round, System, Visit
from diagnose.visit.reason import Reason
from diagnose.visit.trade_words import TWO_IN_ONE, elsewhere, instead, meant, misspelt, which, without_own_words
from diagnose.yamlfile import DEEPEST, MOST_VALUES, Document, InputProblems, Problem, did_you_mean, printable

At = tuple[str | int, ...]
_EXAMPLES = {part.name: part.example for part in PARTS}
_NO_BASELINE = "`baseline` must hold `readings:`, or the path of a visit file"


class VisitError(InputProblems):
    """The visit cannot be read. `problems` lists everything that is wrong with it, each with how to mend it.

    rest: what could be read of the visit, so that whoever knows more about it can add to the list.
    """

    def __init__(self, problems: Iterable[Problem], rest: Visit | None = None) -> None:
        super().__init__(problems)
        self.rest = rest


def read_visit(source: str | os.PathLike[str]) -> Visit:
    """The visit in a file (`-` for standard input). Raises VisitError with every problem."""
    try:
        path: str | bytes | None = os.fspath(source)
    except Exception:  # a number would be taken for an open file, read, and closed
        path = None
    if not isinstance(path, str):
        what = f"{_brief(source)} is neither a visit nor the path of one"
        raise VisitError([Problem("", 0, 0, what, "Give the path of a visit file, or a mapping laid out like one.")])
    try:
        document = yamlfile.read(path)
    except InputProblems as error:
        raise VisitError(error.problems) from None
    return visit_in(document, _case(document))


def visit_from(data: Mapping[str, object], name: str = "") -> Visit:
    """The visit in a mapping laid out as the visit file, or as a case file. Raises VisitError with every problem."""
    try:
        copied = _Copy().of(data)
    except _Hostile as error:
        raise VisitError([Problem(name, 0, 0, error.what, error.fix)]) from None
    document = yamlfile.from_data(copied, name)
    return visit_in(document, _case(document))


def visit_in(document: Document, at: At = ()) -> Visit:
    """The visit that stands in a document that is already read, below `at`. Raises VisitError."""
    return _Reader(document, at).visit()


def _case(document: Document) -> At:
    """Where the visit stands: a case file holds one and its answer; given as a visit, the visit in it is meant."""
    return ("visit",) if isinstance(document.data, Mapping) and {"case", "visit"} <= document.data.keys() else ()


class _Hostile(Exception):  # noqa: N818 - a signal
    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what)
        self.what, self.fix = what, fix


class _Copy:
    """A mapping from Python, copied into plain groups, lists, texts and numbers before anything else looks at it.

    It may be of any class, hold itself, have no end, or raise when it is read; a file cannot, so the same limits hold.
    """

    def __init__(self) -> None:
        self.values = 0

    def of(self, value: object, depth: int = 0) -> object:
        self.values += 1
        if self.values > 2 * MOST_VALUES:  # a file counts names and values alike
            what = f"the visit holds more than {MOST_VALUES:,} names and values"
            raise _Hostile(what, "Check that this is the right one.")
        if depth > DEEPEST:
            raise _Hostile(f"lists and groups are nested deeper than {DEEPEST}", "Check the brackets.")
        try:
            if value is None or type(value) in (str, int, float, bool):
                return value
            if isinstance(value, str):
                return str.__str__(value)
            if isinstance(value, Mapping):
                return {self.key(key): self.of(item, depth + 1) for key, item in value.items()}
            if isinstance(value, (list, tuple)):
                return [self.of(item, depth + 1) for item in value]
            if isinstance(value, Integral):  # of an array library, too
                return int(value)
            return float(value) if isinstance(value, Real) else value
        except _Hostile:
            raise
        except Exception as error:
            fix = "Give plain groups, lists, texts and numbers."
            raise _Hostile(f"a {type(value).__name__} cannot be read ({type(error).__name__})", fix) from None

    def key(self, key: object) -> object:
        return str.__str__(key) if isinstance(key, str) else key


class _Reader:
    """Walks one document and collects problems; lives for one visit only."""

    def __init__(self, document: Document, at: At = (), instruments: Mapping[str, Instrument] | None = None) -> None:
        """`instruments`: for a baseline, those it was read with where it does not say."""
        self.document = document
        self.is_baseline = instruments is not None
        self.inherited = instruments or INSTRUMENTS
        self.root = at
        self.problems: list[Problem] = []
        self.notes: list[Reason] = []
        self.written: list[str] = []
        self.as_gauge: dict[str, str] = {}  # readings without a mark, as they were written

    # -- small helpers -------------------------------------------------------------------------------------------
    def bad(self, at: At, what: str, fix: str = "", key: bool = False) -> None:
        self.problems.append(self.document.problem(self.root + at, what, fix, key))

    def place_of(self, problem: Problem) -> tuple[bool, int, int]:
        """The order of the file; what is wrong in the baseline's own file comes last."""
        return problem.file != self.document.name, problem.line, problem.column

    def note(self, reason: Reason) -> None:
        if reason not in self.notes:
            self.notes.append(reason)

    def mapping(self, value: object, at: At) -> dict[str, object]:
        """The mapping at `at`, keys as strings; empty where there is none, with a problem if it is something else."""
        if value is None:
            return {}
        if not isinstance(value, Mapping):
            last = at[-1] if at else None
            where = "a visit" if last is None else f"`{last}`" if isinstance(last, str) else f"round {last + 1}"
            example = (
                LINES.example
                if last == LINES.name
                else _EXAMPLES[str(at[0])]
                if at
                else "machine: {refrigerant: R-410A}"
            )
            self.bad(at, f"{where} must be a list of `name: value` lines", f"For example `{example}`.")
            return {}
        found: dict[str, object] = {}
        for key, item in value.items():
            name = " ".join(key.split()) if isinstance(key, str) else None
            if name is not None and name not in found:
                found[name] = item
            elif name is not None:
                self.bad((*at, name), f"{_brief(name)} is written twice", "Keep one of them.", key=True)
            else:
                self.bad(at, f"{_brief(key)} is not a name", "Names are words, for example `suction pressure`.")
        return found

    def lines(
        self, value: object, at: At, section: Section, known: Iterable[str], thing: str
    ) -> Iterator[tuple[str, At, object]]:
        """(name used here, place, what is written) of each line of a part; what is not known, or twice there, is told."""
        names, taken = tuple(known), dict[str, str]()
        for word, item in self.mapping(value, at).items():
            found = tuple(name for name in meant(section, word) if len(meant(section, word)) > 1 or name in names)
            if not found:
                self.unknown(at, word, names, thing, section)
            elif len(found) > 1:
                self.bad((*at, word), f"{_brief(word)} can mean two things", which(found), key=True)
            elif found[0] in taken:
                what = f"{_brief(taken[found[0]])} and {_brief(word)} are the same line"
                self.bad((*at, word), what, "Keep one of them.", key=True)
            else:
                taken[found[0]] = word
                yield found[0], (*at, word), item

    def unknown(self, at: At, word: str, known: Iterable[str], thing: str, section: Section | None = None) -> None:
        names = tuple(known)
        fix = instead(word) or misspelt(word, names) or elsewhere(section, word) or f"Known: {', '.join(names)}."
        self.bad((*at, word), f"{_brief(word)} is not {thing}", fix, key=True)

    def measured(self, value: object, field: Field, at: At) -> Measured | None:
        value = without_own_words(value, field.name) if isinstance(value, str) else value
        if isinstance(value, str) and field.section == "line set" and _TUBE.fullmatch(value):
            value = f"{value} in"  # tubes are sized in fractions of an inch alone
        try:
            result = units.parse(value, field.kind, field.examples[0], field.high)
        except UnitError as error:
            self.bad(at, f"{_brief(at[-1])}: {error.what}", error.fix)
            return None
        if result.note:
            self.as_gauge.setdefault(field.name, " ".join(_text(value).split())[:40])
        return result

    def fact(self, value: object, field: Field, at: At) -> float | None:
        """SI; None where it cannot be read, or cannot be on any such machine."""
        found = self.measured(value, field, at)
        if found is None:
            return None
        if not field.low <= found.value <= field.high:
            self.bad(at, f"`{at[-1]}`: {_brief(value)} is not possible here", "Look at the number and its unit.")
            return None
        # No switch is set more finely than the weather moves the pressure of the air.
        return found.value - 101325.0 if field.kind == "pressure" and not found.gauge else found.value

    # -- the parts -----------------------------------------------------------------------------------------------
    def visit(self) -> Visit:
        data: object = self.document.data
        for step in self.root:
            data = data[step] if isinstance(data, (Mapping, list)) else None  # type: ignore[index]
        if data is None:
            self.bad((), "the visit is empty", "Write at least `machine:` and `readings:`.")
        top = self.mapping(data, ())
        for word in top:
            if word not in SECTIONS:
                self.unknown((), word, SECTIONS, "a part of a visit")
        limits = self.instruments(top.get("instruments"))
        machine = self.machine(top.get("machine"))
        rounds = self.rounds(top.get("readings"), limits)
        if self.as_gauge:
            self.note(
                Reason(
                    "taken-as-gauge", {"readings": tuple(self.as_gauge), "written": next(iter(self.as_gauge.values()))}
                )
            )
        seen = self.seen(top.get("seen"))
        self.mapping(top.get("practice"), ("practice",))  # of a practice visit; read by diagnose.practice
        baseline = None
        if not self.is_baseline:
            baseline = self.baseline(top.get("baseline"), machine, limits)
        elif top.get("baseline") is not None:
            self.note(Reason("baseline-within-baseline"))
        visit = Visit(
            machine=machine,
            rounds=rounds,
            seen=seen,
            baseline=baseline,
            notes=tuple(self.notes),
            system=self.system(),
            document=self.document.name,
            remarks=self.remarks(top),
            seen_at={word: self.document.problem((*self.root, "seen", word), "", key=True) for word in seen},
        )
        if self.problems:
            raise VisitError(sorted(self.problems, key=self.place_of), visit)
        return visit

    def instruments(self, value: object) -> dict[str, Instrument]:
        limits = dict(self.inherited)
        for word, at, item in self.lines(value, ("instruments",), "instruments", INSTRUMENTS, "an instrument"):
            if item is None:
                continue
            own = self.limit_of_error(item, INSTRUMENT_FIELDS[word], at)
            if own is not None:
                limits[word] = own
        return limits

    def limit_of_error(self, value: object, field: Field, at: At) -> Instrument | None:
        """`1 %` is a share of the reading, anything else an amount; a humidity meter's percent is an amount."""
        assert field.default is not None
        assert field.believable is not None
        most, example = field.believable, f"For example `{at[-1]}: {field.examples[0]}`."
        written = _PLUS_MINUS.sub("", value) if isinstance(value, str) else value
        share = None if field.kind == "percent" else _share(written)
        if share is None:
            amount = self.amount_of_error(written, field, at)
            if amount is None:
                return None
            found, largest = Instrument(0.0, amount, field.kind, "the visit"), most.amount
        elif most.share is None:
            self.bad(at, f"`{at[-1]}`: {_brief(value)} is no limit of error: {NO_TRUE_ZERO}", example)
            return None
        else:
            found = Instrument(share, 0.0, field.kind, "the visit", least=field.default.least)
            largest = most.share
        size = found.share + found.fixed
        if size <= 0:
            what = "no instrument is without error" if size == 0 else "it must be above zero"
            self.bad(at, f"`{at[-1]}`: {_brief(value)} is no limit of error: {what}", example)
        elif size > largest * (1 + 1e-9):
            at_most = self.most(field, found.share > 0)
            self.bad(
                at, f"`{at[-1]}`: {_brief(value)} is more than the {at_most} that can be believed: {most.why}", example
            )
        else:
            return found
        return None

    def amount_of_error(self, value: object, field: Field, at: At) -> float | None:
        """SI. An error of a pressure is a difference: gauge or absolute is all the same."""
        if field.kind == "pressure" and isinstance(value, str):
            try:
                return units.parse(f"{value} absolute", field.kind).value
            except UnitError:
                pass  # it has a mark already, or something else is wrong, which is told as it is written
        found = self.measured(value, field, at)
        return None if found is None else found.value

    def most(self, field: Field, share: bool) -> str:
        """The largest limit of error that is believed, as its example is written."""
        assert field.believable is not None
        if share:
            return f"{100 * (field.believable.share or 0.0):g} %"
        one, *others = [
            self.amount(field, text.split(" ", 1)[1]) for text in field.examples if text.split(" ", 1)[1] != "%"
        ] or [self.amount(field, "%")]
        return f"{one} ({others[0]})" if others else one

    def amount(self, field: Field, unit: str) -> str:
        assert field.believable is not None
        mark = " absolute" if field.kind == "pressure" else ""
        return f"{units.from_si(field.believable.amount, unit + mark, field.kind):.2g} {unit}"

    def machine(self, value: object) -> Machine:
        facts: dict[str, float] = {}
        words: dict[str, str] = {}
        line_set: LineSet | None = None
        gas: Refrigerant | None = None
        for word, at, item in self.lines(
            value, ("machine",), "machine", (*MACHINE_WORDS, *MACHINE, LINES.name), "a machine fact"
        ):
            if item is None and (word in MACHINE or word in MACHINE_WORDS or word == LINES.name):
                continue  # a line left empty on a form says nothing
            if word in MACHINE:
                fact = self.fact(item, MACHINE[word], at)
                if fact is not None:
                    facts[word] = fact
            elif word == LINES.name:
                line_set = self.line_set(item)
            elif word in MACHINE_WORDS and not isinstance(item, (str, int, float)):
                self.bad(
                    at, f"`{word}`: {_brief(item)} is not a word", f"For example `{word}: {WORDS[word].examples[0]}`."
                )
            elif word == "refrigerant":
                gas = self.refrigerant(item, at)
            elif word in MACHINE_WORDS:
                words[word] = self.choice(word, item, at)
                if word == "metering" and " ".join(_text(item).lower().split()) in CAPILLARIES:
                    words[METERING_DEVICE] = CAPILLARY
        if words.get("compressor") == "single stage" and words.get(RUNNING_AT) in ("low", "part load"):
            what = f"`{RUNNING_AT}: {words[RUNNING_AT]}` does not go with `compressor: single stage`"
            self.bad(("machine", RUNNING_AT), what, "Correct one of the two: a single stage runs fully or not at all.")
        self.one_station(facts)
        seer2 = facts.pop("SEER2", None)
        if seer2 is not None and "SEER" not in facts:
            facts["SEER"] = seer2 * SEER_OF_SEER2
            self.note(Reason("seer-converted", {"seer2": seer2, "seer": facts["SEER"]}))
        return _machine(words, gas, facts, line_set, facts.pop("station pressure", None))

    def one_station(self, facts: Mapping[str, float]) -> None:
        """Altitude and station pressure that no weather brings together: one of them is wrong, most often the pressure."""
        altitude, station = facts.get("altitude"), facts.get("station pressure")
        likely = None if altitude is None else standard_pressure(altitude)
        if altitude is None or station is None or likely is None or abs(station - likely) <= STATION_GAP:
            return
        us = f"{altitude / units.FOOT:,.0f} ft has about {likely / units.IN_HG:.1f} inHg, not {station / units.IN_HG:.1f}"
        si = f"{altitude:,.0f} m about {likely / 100:.0f} hPa, not {station / 100:.0f}"
        self.bad(
            ("machine", "station pressure"),
            f"`altitude` and `station pressure` contradict each other: a place at {us} ({si})",
            "Write the pressure read at the place, not one reduced to sea level, or correct the altitude; one of them will do.",
        )

    def refrigerant(self, value: object, at: At) -> Refrigerant | None:
        try:
            return refrigerant(_text(value))
        except UnknownRefrigerant as error:
            self.bad(at, error.what, error.fix)
            return None

    def choice(self, word: str, value: object, at: At) -> str:
        if word == "name":
            return printable(_text(value)[:80], 80)
        text = " ".join(_text(value).split())
        if isinstance(value, bool):  # YAML reads a bare yes or no as one
            text = "yes" if value else "no"
        for known in CHOICES[word]:
            if text.lower() == known.lower():
                return known
        if word == RUNNING_AT and (speed := _share(text)) is not None and 0 < speed <= 2:
            return "high" if speed >= 0.95 else "part load"
        same = SAME_AS[word].get(text.lower())
        if same is None:
            fix = did_you_mean(text, CHOICES[word]) or f"Write one of: {', '.join(CHOICES[word])}."
            self.bad(at, f"`{word}`: {_brief(value)} is not known", fix)
        return same or ""

    def remarks(self, top: Mapping[str, object]) -> dict[str, tuple[str, ...]]:
        """Free text, kept as it is written but for its line breaks and what no page can print."""
        found: dict[str, tuple[str, ...]] = {}
        for word in REMARKS:
            listed = top.get(word) if isinstance(top.get(word), list) else [top.get(word)]
            for item in listed if isinstance(listed, list) else []:
                if isinstance(item, (Mapping, list)):
                    self.bad((word,), f"`{word}` must be a text", f"For example `{word}: {_EXAMPLES[word]}`.")
                    break
                text = " ".join("".join(c if c.isprintable() else " " for c in _text(item)).split())
                if len(text) > LONGEST_REMARK:
                    what = f"`{word}` is longer than {LONGEST_REMARK} characters"
                    self.bad((word,), what, "Shorten it: it is printed with every report.")
                elif item is not None and text:
                    found[word] = (*found.get(word, ()), text)
        return found

    def line_set(self, value: object) -> LineSet | None:
        at: At = ("machine", LINES.name)
        found: dict[str, float] = {}
        given: set[str] = set()
        for word, here, item in self.lines(value, at, "line set", LINE_SET, "a fact of a line set"):
            given.add(word)
            size = self.fact(item, LINE_SET[word], here)
            if size is not None:
                found[word] = size
        missing = [w for w in ("liquid line", "length") if w not in found]
        if missing:
            missing = [w for w in missing if w not in given]  # one that could not be read is told already
            if value is not None and missing:
                self.bad(
                    at, f"`line set` lacks {' and '.join(missing)}", f"For example `{LINES.name}: {LINES.example}`."
                )
            return None
        return LineSet(found["liquid line"], found["length"], found.get("included", 0.0))

    def rounds(self, value: object, limits: Mapping[str, Instrument]) -> tuple[Round, ...]:
        if isinstance(value, list):
            found = [self.one_round(item, ("readings", i), limits) for i, item in enumerate(value)]
            given = [item.get(MINUTES) is not None if isinstance(item, Mapping) else item is not None for item in value]
        else:
            found, given = [self.one_round(value, ("readings",), limits)], [True]
        if len(found) > 1:
            for i, each in enumerate(found):
                if each.minutes is None and not given[i]:  # one that was given and could not be read is told already
                    self.bad(
                        ("readings", i),
                        "this round of readings has no `minutes running`",
                        "With several rounds each one says when it was taken, for example `minutes running: 15`.",
                    )
            times = [r.minutes for r in found if r.minutes is not None]
            if len(set(times)) < len(times):
                self.bad(("readings",), "two rounds have the same `minutes running`", "Give each its own minute.")
            found.sort(key=lambda r: r.minutes or 0.0)
            found[-1] = self.with_the_air_before(found)
        return tuple(found) or (Round(None, {}),)

    def with_the_air_before(self, rounds: list[Round]) -> Round:
        """The last round, with what was read of the air in the minutes before it and not again."""
        last = rounds[-1]
        carried: dict[str, Reading] = {}
        for taken in reversed(rounds[:-1]):
            if taken.minutes is None or last.minutes is None or last.minutes - taken.minutes > CARRIED_MINUTES:
                continue
            for name, reading in taken.readings.items():
                of_air = READINGS[name].instrument in ("air thermometers", "humidity meter") and "standing" not in name
                if of_air and name not in last.readings and _other_humidity(name) not in {*last.readings, *carried}:
                    carried.setdefault(name, reading)
        if not carried:
            return last
        self.note(Reason("air-of-an-earlier-round", {"readings": tuple(carried)}))
        return replace(last, readings={**last.readings, **carried})

    def one_round(self, value: object, at: At, limits: Mapping[str, Instrument]) -> Round:
        minutes: float | None = None
        readings: dict[str, Reading] = {}
        taken: set[str] = set()
        for word, here, item in self.lines(value, at, "readings", ROUND, "a reading"):
            if item is None:  # a line left empty on a form is a reading not taken
                continue
            if word == MINUTES:
                time = self.measured(item, ROUND[word], here)
                if time is not None and not ROUND[word].low <= time.value <= ROUND[word].high:
                    self.bad(here, f"`{word}`: {_brief(item)} is not possible", "Write minutes since the start.")
                elif time is not None:
                    minutes = time.value / 60.0
                continue
            if word == "liquid pressure" and "discharge" in str(here[-1]).lower():
                self.note(Reason("discharge-pressure-as-liquid", {"least": 0.5, "most": 1.5}))
            for name, each in _both_bulbs(word, item):
                if name in taken:
                    self.bad(here, f"`{name}` is written twice, once behind a `/`", "Keep one of them.")
                    continue
                taken.add(name)
                reading = self.reading(name, each, here, limits)
                if reading is not None:
                    readings[name] = reading
        return Round(minutes, readings)

    def reading(self, word: str, value: object, at: At, limits: Mapping[str, Instrument]) -> Reading | None:
        spec = READINGS[word]
        found = self.measured(value, spec, at)
        if found is None:
            return None
        gauge_value = found.value if found.gauge or spec.kind != "pressure" else found.value - 101325.0
        if not spec.low <= gauge_value <= spec.high:
            self.bad(at, f"`{word}`: {_brief(value)} cannot be right", "Look at the number, the point and the unit.")
            return None
        limit = limits[spec.instrument]
        self.written.append(found.unit)
        return Reading(
            word, found.value, max(limit.share * abs(found.value) + limit.fixed, limit.least), found.unit, found.gauge
        )

    def seen(self, value: object) -> dict[str, str]:
        """Words only; which words there are stands in rules/findings.yaml and is checked against the rule book."""
        found: dict[str, str] = {}
        for word, item in self.mapping(value, ("seen",)).items():
            if item is None:
                continue
            if isinstance(item, str):
                found[word] = " ".join(item.split()).lower()
            else:
                self.bad(
                    ("seen", word), f"{_brief(word)}: {_brief(item)} is not a word", "For example `air filter: clean`."
                )
        return found

    def baseline(self, value: object, today: Machine, limits: Mapping[str, Instrument]) -> Visit | None:
        """The machine when it was right: a visit, its readings alone (then on today's machine), or the path of its file."""
        if value is None:
            return None
        at: At = ("baseline",)
        if isinstance(value, str):
            return self.baseline_file(value, today)
        if not isinstance(value, Mapping):
            self.bad(at, _NO_BASELINE, "")
            return None
        return self.nested(_Reader(self.document, (*self.root, *at), limits), today)

    def baseline_file(self, written: str, today: Machine) -> Visit | None:
        """The visit in a file beside this one. Only a visit that is a file itself, or is to become one, may name another."""
        at: At = ("baseline",)
        if written.strip() in ("", "-"):
            self.bad(at, _NO_BASELINE, "")
            return None
        try:
            document = baseline_document(self.document, written)
        except NoBaseline as error:
            self.bad(at, error.what, error.fix)
            return None
        return self.nested(_Reader(document, _case(document), INSTRUMENTS), today)

    def nested(self, reader: _Reader, today: Machine) -> Visit | None:
        """A baseline read by a reader of its own; its mistakes are mistakes of this visit."""
        try:
            found = reader.visit()
        except VisitError as error:
            self.problems += error.problems
            return None
        for note in found.notes:
            if note.code == "baseline-within-baseline":
                self.note(note)
        return replace(found, machine=_of_both(today, found.machine))

    def system(self) -> System:
        """The units of the answer: those that most readings were written in; US where it is even."""
        si = sum(unit.split(" ")[0] in _SI_UNITS for unit in self.written)
        return "si" if si * 2 > len(self.written) else "us"


_SI_UNITS = frozenset(
    (
        "C",
        "K",
        "Pa",
        "hPa",
        "kPa",
        "MPa",
        "bar",
        "mbar",
        "kg/cm2",
        "L/s",
        "m3/h",
        "m3/s",
        "m3/min",
        "kg",
        "g",
        "kW",
        "W",
    )
)
_TUBE = re.compile(r"\s*(?:[0-9]+[\s-]+)?[0-9]+/[0-9]+\s*")
_BOTH = re.compile(
    r"\s*([+-]?[0-9.]+)\s*(°?\s*[FCK])?\s*(?:db)?\s*(?:[/,@]|at)?\s*([+-]?[0-9.]+)\s*(°?\s*[FCK]|%)?\s*(?:wb|rh)?\s*",
    re.I,
)
_PLUS_MINUS = re.compile(r"^\s*(?:±|\+\s*/?\s*-)\s*")


def _both_bulbs(word: str, value: object) -> list[tuple[str, object]]:
    """`75/63 F` of return or supply air is its dry and wet bulb, `75 F/50 %` dry bulb and humidity; else as it is."""
    match = _BOTH.fullmatch(value) if word in TWO_IN_ONE and isinstance(value, str) else None
    if match is None or not ("/" in str(value) or (match[2] and match[4] == "%")):
        return [(word, value)]
    dry_bulb, wet_bulb = TWO_IN_ONE[word]
    first, unit, second, other = match.groups()
    if other == "%":
        return [(dry_bulb, f"{first} {unit or ''}"), (wet_bulb.replace("wet bulb", "relative humidity"), f"{second} %")]
    return [(dry_bulb, f"{first} {unit or other or ''}"), (wet_bulb, f"{second} {other or unit or ''}")]


def _other_humidity(name: str) -> str:
    """Wet bulb and relative humidity tell the same of one air."""
    if "wet bulb" in name:
        return name.replace("wet bulb", "relative humidity")
    return name.replace("relative humidity", "wet bulb")


def _share(value: object) -> float | None:
    """What a percentage says; None where it is none."""
    try:
        return units.parse(value, "percent").value
    except UnitError:
        return None


def _text(value: object) -> str:
    """The value as text. Never raises, though Python refuses to print very long numbers and objects may do anything."""
    try:
        return str(value)
    except Exception:
        return f"a {type(value).__name__}"


def _brief(value: object) -> str:
    text = _text(value)
    return f"`{printable(text, 40) if len(text) <= 40 else printable(text[:37], 40) + '...'}`"


def _machine(
    words: Mapping[str, str],
    gas: Refrigerant | None,
    facts: Mapping[str, float],
    line_set: LineSet | None,
    station: float | None,
) -> Machine:
    source: Literal["measured", "altitude", "assumed"] = (
        "measured" if station is not None else "altitude" if "altitude" in facts else "assumed"
    )
    pressure = station if station is not None else standard_pressure(facts.get("altitude", 0.0))
    assert pressure is not None  # its range in the table keeps the altitude within the standard atmosphere
    return Machine(
        name=words.get("name", "unnamed machine"),
        mode=words.get("mode") or None,
        refrigerant=gas,
        metering=words.get("metering") or None,
        facts=facts,
        words={name: word for name, word in words.items() if name not in _OWN_PLACE and word},
        line_set=line_set,
        station_pressure=pressure,
        station_error=STATION_ERROR[source],
        station_from=source,
    )


_OWN_PLACE = ("name", "mode", "refrigerant", "metering")  # words that a Machine has a place of its own for


def _of_both(today: Machine, then: Machine) -> Machine:
    """The machine of a baseline: what it says itself, and today's facts where it is silent."""
    placed = then if then.station_from != "assumed" else today
    return Machine(
        name=then.name if then.name != Machine().name else today.name,
        mode=then.mode or today.mode,
        refrigerant=then.refrigerant or today.refrigerant,
        metering=then.metering or today.metering,
        facts={**today.facts, **then.facts},
        words={**today.words, **then.words},
        line_set=then.line_set or today.line_set,
        station_pressure=placed.station_pressure,
        station_error=placed.station_error,
        station_from=placed.station_from,
    )
