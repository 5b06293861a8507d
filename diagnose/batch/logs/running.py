"""When the machine runs: spells between start and stop, defrosts, and short cycling.

And sensors that cannot be believed: a figure that stands still while the machine starts and stops, and one whose unit changed
without a word. What they say is left out from there on, and told. The figures below are judgement unless a source is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from diagnose.batch.logs.heads import DEFROSTS, RUNS
from diagnose.batch.logs.model import STATION, Event, Log, RunningSpell, SwitchedBy, number_in
from diagnose.rulebook.judgement import LogFigures
from diagnose.units.table import UNITS, Kind, Unit
from diagnose.visit import HEATING
from diagnose.visit.reason import Reason

# Of what is usual while it runs, from which it counts as running, and below which as standing; between them it is as before.
ON_SHARE, OFF_SHARE = 0.12, 0.06
LEAST_CURRENT = 0.3  # A; a crankcase heater draws as much
ON_RATIO, OFF_RATIO = 1.35, 1.2
"""Of the two pressures, absolute: standing they come together (common practice, no source)."""
ON_SPLIT, OFF_SPLIT = 4.0, 2.0  # K between return and supply air
DEFROST_MOST = 20 * 60.0
"""s; a longer turn of the air is no defrost: most controls end one after 10 to 15 minutes (common practice, no source)."""

_DRAWN: tuple[SwitchedBy, ...] = ("compressor current", "electric power")
RunningStates = Sequence[bool | None]


def states(log: Log) -> tuple[SwitchedBy, list[bool | None]]:
    """Whether it runs, record by record (None: nothing tells), and what tells it."""
    if any(math.isfinite(each) for each in log.switches.get(RUNS, ())):
        return "switch", [None if math.isnan(each) else each > 0 for each in log.switches[RUNS]]
    never: tuple[SwitchedBy, list[bool | None]] | None = None
    for name in _DRAWN:
        if (found := log.values.get(name)) is not None:
            usual = _high(found)
            least = LEAST_CURRENT if name == "compressor current" else 100.0
            if usual < 2 * least:  # it never runs, or another circuit was measured: the pressures may tell
                never = never or (name, [None if math.isnan(each) else False for each in found])
                continue
            level = [each / usual for each in found]
            return name, _switched(level, max(ON_SHARE, least / usual), OFF_SHARE)
    if {"suction pressure", "liquid pressure"} <= log.values.keys():
        both = zip(log.values["liquid pressure"], log.values["suction pressure"], strict=True)
        ratio = [(high + STATION) / (low + STATION) if low > -STATION else math.nan for high, low in both]
        by_ratio = _switched(ratio, ON_RATIO, OFF_RATIO)
        if never is None or any(by_ratio):
            return "pressures", by_ratio
    if {"return air dry bulb", "supply air dry bulb"} <= log.values.keys():
        air = zip(log.values["return air dry bulb"], log.values["supply air dry bulb"], strict=True)
        by_air = _switched([abs(a - b) for a, b in air], ON_SPLIT, OFF_SPLIT)
        if never is None or any(by_air):
            return "air temperature split", by_air
    return never or ("nothing", [True] * len(log.times))


def _high(values: Sequence[float]) -> float:
    """What is exceeded by one of twenty."""
    known = sorted(each for each in values if math.isfinite(each))
    return known[int(0.95 * (len(known) - 1))] if known else 0.0


def _switched(level: Sequence[float], on: float, off: float) -> list[bool | None]:
    found: list[bool | None] = []
    now: bool | None = None
    for each in level:
        if math.isnan(each):
            found.append(None)
            continue
        now = True if each >= on else False if each < off else (now if now is not None else each >= (on + off) / 2)
        found.append(now)
    return found


def spells(log: Log, running: RunningStates) -> tuple[RunningSpell, ...]:
    """The runs, piece by piece; a record that tells nothing ends one, unless it stands alone."""
    found: list[RunningSpell] = []
    for first, last in log.pieces:
        state = list(running[first:last])
        for i in range(1, len(state) - 1):  # one missing record between two that agree is no stop
            if state[i] is None and state[i - 1] is not None and state[i - 1] == state[i + 1]:
                state[i] = state[i - 1]
        begin: int | None = None
        for i, on in enumerate([*state, None]):
            if on and begin is None:
                begin = i
            elif not on and begin is not None:
                started = begin > 0 and state[begin - 1] is False
                found.append(RunningSpell(first + begin, first + i, started, on is False))
                begin = None
    return tuple(found)


def defrosts(
    log: Log, spelled: Sequence[RunningSpell], mode_at: Callable[[int], str | None]
) -> tuple[list[Event], bool]:
    """Defrosts, and whether the log could show one: a switch, or air that is cooled while the machine heats."""
    switch = log.switches.get(DEFROSTS, ())
    if any(math.isfinite(each) for each in switch):
        return list(_stretches_of(log, [each > 0 for each in switch])), True
    values = log.values
    if "return air dry bulb" not in values or not {"supply air dry bulb", "vapour line temperature"} & values.keys():
        return [], False
    inside = values["return air dry bulb"]
    turned = [False] * len(log.times)
    for spell in spelled:
        for i in range(spell.begin, spell.end):
            if mode_at(i) == HEATING:
                cold = values.get("vapour line temperature", values.get("supply air dry bulb", ()))[i]
                turned[i] = cold < inside[i] - 1.0
    settled = [each for each in _stretches_of(log, turned) if each.end - each.begin <= DEFROST_MOST]
    begins = {spell.begin: log.times[spell.begin] for spell in spelled}
    return [each for each in settled if all(abs(each.begin - at) > 120.0 for at in begins.values())], True


def _stretches_of(log: Log, on: Sequence[bool]) -> Iterator[Event]:
    for first, last in log.pieces:
        begin: int | None = None
        for i in range(first, last + 1):
            if i < last and on[i]:
                begin = i if begin is None else begin
            elif begin is not None:
                yield Event("defrost", log.times[begin], log.times[min(i, last - 1)])
                begin = None


def short_cycling(log: Log, spelled: Sequence[RunningSpell], figures: LogFigures) -> Iterator[Event]:
    """Groups of short runs, or of more starts in an hour than a compressor should make."""
    starts = [spell for spell in spelled if spell.started]
    group: list[RunningSpell] = []

    def told() -> Iterator[Event]:
        runs = [log.times[each.end - 1] - log.times[each.begin] + log.step for each in group]
        short = sum(each < figures.short_run for each in runs)
        begin, end = log.times[group[0].begin], log.times[group[-1].end - 1]
        times = [log.times[each.begin] for each in group]
        hour = max(sum(0 <= other - at < 3600 for other in times) for at in times)
        if short >= figures.short_runs or hour > figures.starts:
            told_of = {"starts": float(len(group)), "hour": float(hour), "shortest": min(runs), "longest": max(runs)}
            yield Event("short cycling", begin, end, told_of)

    for spell in starts:
        length = log.times[spell.end - 1] - log.times[spell.begin] + log.step
        near = bool(group) and log.times[spell.begin] - log.times[group[-1].begin] <= 3600
        quick = length < figures.short_run or (
            bool(group) and log.times[spell.begin] - log.times[group[-1].begin] < 3600 / figures.starts
        )
        if group and not (near and quick):
            yield from told()
            group = []
        if quick or not group:
            group.append(spell)
    if group:
        yield from told()


# -- sensors that cannot be believed ----------------------------------------------------------------------------------

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
