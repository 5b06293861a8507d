"""Sensors that cannot be believed: a figure that stands still while the machine starts and stops, and one whose unit changed
without a word. What they say is left out from there on, and told. The figures are judgement."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

from diagnose.batch.logs.model import Log
from diagnose.batch.logs.running import spells, states
from diagnose.rulebook.judgement import LogFigures
from diagnose.units.table import UNITS, Kind, Unit
from diagnose.visit.fields import READINGS
from diagnose.visit.reason import Reason

MOVED = frozenset(
    {"suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature", "discharge line temperature",
     "supply air dry bulb", "vapour line temperature", "vapour line pressure", "compressor current", "electric power"}
)  # fmt: skip
"""Readings that a compressor moves when it starts or stops."""
BESIDE = 5 * 60.0  # s that a figure stands still on either side of a start or stop
LEAST_RECORDS = 20
FINE = {
    "temperature": 0.2,
    "difference": 0.2,
    "current": 0.02,
    "percent": 0.011,
}  # SI; steps that stand still by no chance
FINE_SHARE = 0.004  # the same for all others, of the figure itself
JUMP = 0.25  # share by which a changed unit moves the figure at the least
NEAR = 0.05  # share within which it then agrees with another unit
LOOKS = 10  # records for which it must stay there


def without_faults(log: Log, figures: LogFigures) -> Log:
    """The log without what such sensors say, and with a note of each."""
    notes = list(log.notes)
    values = dict(log.values)
    for name in values:
        values[name], told = _one_unit(log, name, values[name])
        notes += told
    log = replace(log, values=values)
    for name in values:
        values[name], told = _moving(log, name, values[name], figures)
        notes += told
    kept = {name: each for name, each in values.items() if any(map(math.isfinite, each))}
    return replace(log, values=kept, notes=tuple(notes))


# -- a unit that changed without a word ----------------------------------------------------------------------------------


def _one_unit(log: Log, name: str, values: Sequence[float]) -> tuple[tuple[float, ...], list[Reason]]:
    kind = READINGS[name].kind
    found, notes = list(values), []
    for (first, last), units in zip(log.pieces, log.units, strict=True):
        unit = units.get(name)
        if unit is None:
            continue
        known = [i for i in range(first, last) if math.isfinite(values[i])]
        for k in range(1, len(known)):
            i = known[k]
            now, before = values[i] / unit.scale - unit.offset, values[known[k - 1]] / unit.scale - unit.offset
            if abs(now - before) <= JUMP * max(abs(now), abs(before)):
                continue
            other = _other_unit(kind, unit, values[known[k - 1]], now)
            later = [values[j] / unit.scale - unit.offset for j in known[k : k + LOOKS]]
            if (
                other is None
                or len(later) < min(LOOKS, 3)
                or not all(abs(each - now) <= JUMP * abs(now) for each in later)
            ):
                continue
            notes.append(
                Reason("log-unit-jumps", {"reading": name, "at": log.times[i], "from": unit.name, "to": other.name})
            )
            for j in known[k:]:
                found[j] = math.nan
            break
    return tuple(found), notes


def _other_unit(kind: Kind, unit: Unit, true: float, number: float) -> Unit | None:
    """The unit in which a value (SI) is written as this number."""
    for other in UNITS[kind]:
        if (
            other.ask
            or other.scale < 0
            or other.gauge != unit.gauge
            or (other.scale, other.offset) == (unit.scale, unit.offset)
        ):
            continue
        expected = true / other.scale - other.offset
        if abs(number - expected) <= max(NEAR * abs(expected), 1e-9):
            return other
    return None


# -- a figure that stands still ------------------------------------------------------------------------------------------


def _moving(
    log: Log, name: str, values: Sequence[float], figures: LogFigures
) -> tuple[tuple[float, ...], list[Reason]]:
    found, notes = list(values), []
    by, running = states(log)
    spelled = spells(log, running)
    turns = [log.times[spell.begin] for spell in spelled if spell.started]
    turns += [log.times[spell.end] for spell in spelled if spell.stopped]
    step = _smallest_step(values)
    for begin, end in _runs(values):
        since, until = log.times[begin], log.times[end - 1]
        count = end - begin
        if count < LEAST_RECORDS or values[begin] == 0:
            continue
        fine = step is not None and step <= _fine(name, values[begin])
        if name in MOVED:
            of_switch = by == name or (by == "pressures" and "pressure" in name)
            passed = not of_switch and any(since + BESIDE <= at <= until - BESIDE for at in turns)
            ran = fine and any(
                min(until, log.times[spell.end - 1]) - max(since, log.times[spell.begin]) >= figures.still
                for spell in spelled
            )
            stuck = passed or ran
        else:
            stuck = until - since >= figures.still_air and (fine or step is None)
        if stuck:
            notes.append(Reason("log-stuck", {"reading": name, "from": since, "to": until}))
            for i in range(begin, end):
                found[i] = math.nan
    return tuple(found), notes


def _runs(values: Sequence[float]) -> Iterator[tuple[int, int]]:
    """From and to (not included) of each row of equal figures."""
    at = 0
    for value, same in groupby(values, key=lambda each: None if math.isnan(each) else each):
        count = len(list(same))
        if value is not None:
            yield at, at + count
        at += count


def _smallest_step(values: Sequence[float]) -> float | None:
    """The smallest step between two figures that follow each other; None where there is none."""
    known = [each for each in values if math.isfinite(each)]
    steps = [abs(b - a) for a, b in pairwise(known) if abs(b - a) > 1e-9 * max(abs(a), abs(b), 1e-9)]
    return min(steps, default=None)


def _fine(name: str, value: float) -> float:
    return FINE.get(READINGS[name].kind, FINE_SHARE * abs(value))
