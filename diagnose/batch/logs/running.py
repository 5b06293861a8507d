"""When the machine runs: spells between start and stop, defrosts, and short cycling.

The figures below are judgement unless a source is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from diagnose.batch.logs.heads import DEFROSTS, RUNS
from diagnose.batch.logs.model import STATION, Event, Log, RunningSpell, SwitchedBy
from diagnose.rulebook.judgement import LogFigures
from diagnose.visit import HEATING

# Of what is usual while it runs, from which it counts as running, and below which as standing; between them it is as before.
ON_SHARE, OFF_SHARE = 0.12, 0.06
LEAST_CURRENT = 0.3  # A; a crankcase heater draws as much
ON_RATIO, OFF_RATIO = 1.35, 1.2
"""Of the two pressures, absolute: standing they come together (common practice, no source)."""
ON_SPLIT, OFF_SPLIT = 4.0, 2.0  # K between return and supply air
DEFROST_MOST = 20 * 60.0
"""s; a longer turn of the air is no defrost: most controls end one after 10 to 15 minutes (common practice, no source)."""

_DRAWN: tuple[SwitchedBy, ...] = ("compressor current", "electric power")
State = Sequence[bool | None]


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


def spells(log: Log, running: State) -> tuple[RunningSpell, ...]:
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
