"""A log, examined: a visit of each stretch, its scatter added to the instruments' errors; what was dangerous at any moment."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from diagnose.batch.logs.model import (
    STATION,
    ExaminedLog,
    ExaminedStretch,
    Log,
    RunningSpell,
    SeenDanger,
    Stretch,
    number_in,
)
from diagnose.batch.logs.running import defrosts, short_cycling, spells, states
from diagnose.batch.logs.stamps import day_of, shown
from diagnose.batch.logs.steady import COARSEST, SETTLING, RunningSums, find_stretches, means
from diagnose.diagnosis.pipeline import examine
from diagnose.properties import saturation_temperature
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.rulebook import Rulebook
from diagnose.visit import DEFROSTED, HEATING, MINUTES, Machine, Visit, visit_in
from diagnose.visit.own import Own
from diagnose.visit.parts import in_parts, value_at
from diagnose.visit.reading import place_of
from diagnose.visit.reason import Reason
from diagnose.visit.trade_words import meant
from diagnose.yamlfile import Document, from_data

TOGETHER = 0.8  # share of a stretch's records in which a reading must be there to count
AFTER_START = 5 * 60.0  # s after a start before a low suction pressure, or a large current, means anything (judgement)
_WORST = {"liquid pressure": 1, "suction pressure": -1, "discharge line temperature": 1, "compressor current": 1}
"""Readings that can be dangerous by themselves, at whatever moment: 1 where the highest is the worst, -1 the lowest."""


def examine_log(log: Log, rules: Rulebook, machine: Document | None = None) -> ExaminedLog:
    """All that a log says. machine: a visit file, of which all but the readings holds for the log.

    Raises VisitError where the machine's facts cannot be used.
    """
    notes = list(log.notes)
    beside = _Beside(log, machine, notes, rules.own)
    plain = beside.visit(0, [{}])  # raises before any work where the facts are wrong
    if plain.machine.refrigerant is None:
        notes.insert(0, Reason("log-no-refrigerant"))
    by, running = states(log)
    spelled = spells(log, running)

    def mode_at(i: int) -> str | None:
        return (log.words["mode"][i] or None) if "mode" in log.words else plain.machine.mode

    thawed, could = defrosts(log, spelled, mode_at)
    if not could and any(mode_at(spell.begin) == HEATING for spell in spelled):
        notes.append(Reason("log-defrosts-unseen"))
    jitter, figures = rules.judgement.steadiness.repeatability, rules.judgement.logs
    superheat = _superheat(log, plain.machine)
    found, moved = find_stretches(log, spelled, thawed, superheat, jitter, by != "nothing", figures)
    notes += _unfound(log, by, spelled, bool(found))
    stretches = tuple(_examined(log, stretch, beside, rules) for stretch in found)
    events = sorted((*thawed, *short_cycling(log, spelled, figures), *moved), key=lambda each: each.begin)
    dangers = tuple(_dangers(log, spelled, stretches, beside, rules))
    return ExaminedLog(log, plain.machine, by, spelled, tuple(events), stretches, dangers, tuple(notes))


def _unfound(log: Log, by: str, spelled: Sequence[RunningSpell], found: bool) -> Iterator[Reason]:
    if log.step > COARSEST:
        yield Reason("log-too-coarse", {"step": log.step, "most": COARSEST})
    elif by == "nothing":
        yield Reason("log-running-unknown")
    elif not spelled:
        yield Reason("log-never-runs", {"by": by})
    elif not found:
        longest = max(log.times[spell.end - 1] - log.times[spell.begin] for spell in spelled)
        yield Reason("log-never-steady", {"longest": longest, "least": SETTLING})
    if by == "pressures":
        yield Reason("log-running-by-pressures")


class _Beside:
    """What holds for every visit of a log: the file beside it, and the log's own constant columns."""

    def __init__(self, log: Log, machine: Document | None, notes: list[Reason], own: Own) -> None:
        self._log, self._own = log, own
        self._document = machine or from_data({}, log.name)
        self._root = place_of(self._document)
        self._document = in_parts(self._document, self._root, own)
        whole = value_at(self._document.data, self._root)
        self._whole = dict(whole) if isinstance(whole, Mapping) else whole
        if not isinstance(self._whole, dict):
            return
        facts = self._whole.get("machine") or {}
        if isinstance(facts, Mapping):
            there = {
                name
                for word in facts
                for name in (meant("machine", str(word)) or (" ".join(str(word).lower().split()),))
            }
            twice = tuple(name for name in log.facts if name in there)
            if twice:
                notes.append(Reason("log-fact-twice", {"facts": twice}))
            self._whole["machine"] = {**{n: v for n, v in log.facts.items() if n not in there}, **facts}
        if self._whole.pop("readings", None) is not None:
            notes.append(Reason("log-readings-unused"))

    def visit(self, at: int, rounds: Sequence[Mapping[str, object]], date: str = "") -> Visit:
        """The visit of these rounds, at a record. Raises VisitError."""
        data: object = self._whole
        if isinstance(data, dict):
            changing = {name: words[at] for name, words in self._log.words.items() if words[at]}
            facts = data.get("machine")
            if changing and isinstance(facts, Mapping):
                data = {**data, "machine": {**facts, **changing}}
            taken = [dict(each) for each in rounds]
            data = {**data, "readings": taken if len(taken) > 1 else taken[0]}
            if date:
                data = {**data, "date": date}
        return visit_in(replace(self._document, data={"visit": data} if self._root else data), self._root, self._own)


def _superheat(log: Log, machine: Machine) -> Callable[[int], float | None]:
    gas, line = machine.refrigerant, log.values.get("suction line temperature")
    pressure = log.values.get("suction pressure")
    if gas is None or line is None or pressure is None:
        return lambda i: None

    def of(i: int) -> float | None:
        if not math.isfinite(pressure[i]):
            return None
        boiling = saturation_temperature(gas, "dew", pressure[i] + STATION)
        return None if boiling is None else line[i] - boiling

    return of


# -- one stretch ---------------------------------------------------------------------------------------------------------


def _examined(log: Log, stretch: Stretch, beside: _Beside, rules: Rulebook) -> ExaminedStretch:
    begin, end = log.times[stretch.begin], log.times[stretch.end - 1]
    scatter: dict[str, float] = {}
    if stretch.kind == "hunting":
        rounds = list(_rounds(log, stretch))
    else:
        taken: dict[str, float] = {}
        for name, values in log.values.items():
            count, mean, spread = RunningSums(values[stretch.begin : stretch.end]).of(0, stretch.end - stretch.begin)
            if count >= TOGETHER * (stretch.end - stretch.begin):
                taken[name], scatter[name] = mean, spread
        rounds = [{**_since(stretch, 0.0), **_written(log, stretch.begin, taken)}]
    date = shown(begin, date=True) if day_of(begin) else ""
    visit = beside.visit(stretch.begin, rounds, date)
    last = {
        name: reading._replace(error=math.hypot(reading.error, COVERAGE * scatter.get(name, 0.0)))
        for name, reading in visit.last.readings.items()
    }
    visit = replace(visit, rounds=(*visit.rounds[:-1], visit.last._replace(readings=last)))
    return ExaminedStretch(stretch, begin, end, examine(visit, rules))


def _rounds(log: Log, stretch: Stretch) -> Iterator[dict[str, object]]:
    """A round each minute, so that the rules see it go up and down."""
    columns = {name: dict(zip(*means(log, stretch.begin, stretch.end, values.__getitem__), strict=True))
               for name, values in log.values.items()}  # fmt: skip
    moments = sorted({round(minute) for each in columns.values() for minute in each})
    close = [a for a, b in pairwise([*moments, math.inf]) if b - a > 0.5]
    for moment in close:
        taken = {n: v for n, each in columns.items() for m, v in each.items() if round(m) == moment}
        yield {**_since(stretch, close[-1] - moment), **_written(log, stretch.begin, taken)}


def _since(stretch: Stretch, before: float) -> dict[str, object]:
    """Minutes since start and defrost, so many before the end of the stretch."""
    found: dict[str, object] = {}
    if math.isfinite(stretch.minutes):
        found[MINUTES] = round(stretch.minutes - before, 2)
    if stretch.defrosted is not None:
        found[DEFROSTED] = round(max(stretch.defrosted - before, 0.0), 2)
    return found


def _written(log: Log, at: int, taken: Mapping[str, float]) -> dict[str, object]:
    """Readings (SI) in the unit of their column at a record."""
    now = log.units[log.piece_of(at)]
    found: dict[str, object] = {}
    for name, value in taken.items():
        unit = now[name]
        found[name] = f"{number_in(unit, log.kinds[name], value):.8g} {unit.name}"
    return found


# -- at any moment -------------------------------------------------------------------------------------------------------


def _dangers(
    log: Log, spelled: Sequence[RunningSpell], stretches: Sequence[ExaminedStretch], beside: _Beside, rules: Rulebook
) -> Iterator[SeenDanger]:
    """Each danger once: those of single readings at their worst moment, then those of the stretches."""
    told: set[str] = set()
    settled = [
        i
        for spell in spelled
        for i in range(spell.begin, spell.end)
        if not spell.started or log.times[i] - log.times[spell.begin] >= AFTER_START
    ]
    found: list[SeenDanger] = []
    for name, worse in _WORST.items():
        values = log.values.get(name)
        if values is None:
            continue
        among = range(len(values)) if name == "liquid pressure" else settled
        known = [i for i in among if math.isfinite(values[i])]
        if not known:
            continue
        at = max(known, key=lambda i: worse * values[i])
        d = examine(beside.visit(at, [_written(log, at, {name: values[at]})]), rules)
        single = [each for each in d.dangers if each.rule is None or each.rule.findings or not stretches]
        found += [SeenDanger(danger, log.times[at], d) for danger in single if danger.code != "live-parts"]
    for each in stretches:
        found += [SeenDanger(danger, each.end, each.diagnosis) for danger in each.diagnosis.dangers]
    for one in sorted(found, key=lambda each: each.danger.level != "stop"):
        if one.danger.code not in told:
            told.add(one.danger.code)
            yield one
