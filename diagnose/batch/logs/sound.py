"""Sensors that cannot be believed: a figure that stands still while the machine starts and stops, and one whose unit changed
without a word. What they say is left out from there on, and told. The figures are judgement."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from diagnose.batch.logs.model import Log, RunningSpell, SwitchedBy, number_in
from diagnose.batch.logs.running import spells, states
from diagnose.rulebook.judgement import LogFigures
from diagnose.units.table import UNITS, Kind, Unit
from diagnose.visit.reason import Reason

MOVED = frozenset(
    {"suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature", "discharge line temperature",
     "supply air dry bulb", "vapour line temperature", "vapour line pressure", "compressor current", "electric power"}
)  # fmt: skip
"""Readings that a compressor moves when it starts or stops."""
BESIDE = 5 * 60.0  # s that a figure stands still on either side of a start or stop
LEAST_RECORDS = 20
FINE = {"temperature": 0.2, "difference": 0.2, "current": 0.02, "percent": 0.011}
"""SI; of steps as small as these a figure does not stand still by chance."""
FINE_SHARE = 0.004  # the same for all others, of the figure itself
JUMP = 0.25  # share by which a changed unit moves the figure at the least
NEAR = 0.05  # share within which it then agrees with another unit
LOOKS = 10  # records for which it must stay there


@dataclass(frozen=True, slots=True)
class _Ran:
    """When the machine ran, and what shows it."""

    by: SwitchedBy
    spelled: tuple[RunningSpell, ...]

    def turns(self, log: Log) -> list[float]:
        """Every start and stop, s."""
        starts = [log.times[spell.begin] for spell in self.spelled if spell.started]
        return starts + [log.times[spell.end] for spell in self.spelled if spell.stopped]


def without_faults(log: Log, figures: LogFigures) -> Log:
    """The log without what such sensors say, and with a note of each."""
    notes = list(log.notes)
    for look in (_one_unit, _moving):
        by, running = states(log)
        ran = _Ran(by, spells(log, running))
        values = {}
        for name, each in log.values.items():
            values[name], told = look(log, name, each, ran, figures)
            notes += told
        log = replace(log, values=values)
    kept = {name: each for name, each in log.values.items() if any(map(math.isfinite, each))}
    return replace(log, values=kept, notes=tuple(notes))


# -- a unit that changed without a word ----------------------------------------------------------------------------------


def _one_unit(
    log: Log, name: str, values: Sequence[float], ran: _Ran, figures: LogFigures
) -> tuple[tuple[float, ...], list[Reason]]:
    kind = log.kinds[name]
    found, notes = list(values), []
    turns = ran.turns(log) if name in MOVED else []  # where it jumps by itself
    for (first, last), units in zip(log.pieces, log.units, strict=True):
        known = [i for i in range(first, last) if math.isfinite(values[i])]
        numbers = [number_in(units[name], kind, values[i]) for i in known]
        for k in range(1, len(known)):
            before, now = numbers[k - 1], numbers[k]
            later = numbers[k : k + LOOKS]
            if (
                not _far(before, now)
                or len(later) < 3
                or any(abs(log.times[known[k]] - at) <= BESIDE for at in turns)
                or any(_far(each, now) for each in later)
                or (other := _other_unit(kind, units[name], values[known[k - 1]], now)) is None
            ):
                continue
            told = {"reading": name, "at": log.times[known[k]], "from": units[name].name, "to": other.name}
            notes.append(Reason("log-unit-jumps", told))
            for i in known[k:]:
                found[i] = math.nan
            break
    return tuple(found), notes


def _far(one: float, other: float) -> bool:
    return abs(one - other) > JUMP * max(abs(one), abs(other))


def _other_unit(kind: Kind, unit: Unit, true: float, number: float) -> Unit | None:
    """The unit in which a value (SI) is written as this number."""
    for other in UNITS[kind]:
        same = other.gauge == unit.gauge and (other.scale, other.offset) != (unit.scale, unit.offset)
        if same and not other.ask and other.scale > 0:
            expected = number_in(other, kind, true)
            if abs(number - expected) <= max(NEAR * abs(expected), 1e-9):
                return other
    return None


# -- a figure that stands still ------------------------------------------------------------------------------------------


def _moving(
    log: Log, name: str, values: Sequence[float], ran: _Ran, figures: LogFigures
) -> tuple[tuple[float, ...], list[Reason]]:
    found, notes = list(values), []
    turns = ran.turns(log)
    step = _smallest_step(values)
    for begin, end in _runs(values):
        since, until = log.times[begin], log.times[end - 1]
        if end - begin < LEAST_RECORDS or values[begin] == 0:
            continue
        fine = step is not None and step <= FINE.get(log.kinds[name], FINE_SHARE * abs(values[begin]))
        if name in MOVED:
            of_switch = ran.by == name or (ran.by == "pressures" and "pressure" in name)
            passed = not of_switch and any(since + BESIDE <= at <= until - BESIDE for at in turns)
            overlaps = (
                min(until, log.times[spell.end - 1]) - max(since, log.times[spell.begin]) for spell in ran.spelled
            )
            stuck = passed or (fine and max(overlaps, default=0.0) >= figures.still)
        else:
            unit = log.units[log.piece_of(begin)][name]
            part = (number_in(unit, log.kinds[name], values[begin]) + 1e-6) % 1  # whole degrees stand still long
            stuck = until - since >= figures.still_air and (fine or (step is None and part > 2e-6))
        if stuck:
            notes.append(Reason("log-stuck", {"reading": name, "from": since, "to": until}))
            found[begin:end] = [math.nan] * (end - begin)
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
