"""Stretches in which nothing moves: the variance over a moving window, from 15 minutes after the start (or a defrost) on.

Moving-window variance as a steady-state detector: Braun and Li, used on packaged machines. A stretch is steady where each
followed reading scatters by no more than one that drifts straight by the limits of `findings.yaml` (1 °F and 2 % in five
minutes) does within the window: width / sqrt(12), the standard deviation of a uniform distribution.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from diagnose.batch.logs.model import STATION, Event, EventKind, Log, RunningSpell, Stretch, StretchKind
from diagnose.properties.targets import F
from diagnose.quantities import steadiness
from diagnose.rulebook.judgement import LogFigures
from diagnose.visit.fields import READINGS

SETTLING = 15 * 60.0
"""s; CEC 2008 Residential Appendices RA3, p. RA3-13: fifteen minutes before readings are taken."""
WINDOW = 10 * 60.0  # s
STEPS = 3  # steps between records that a window holds at the least
COARSEST = 5 * 60.0
"""s between records beyond which nobody sees what happens between them."""
DRIFT, DRIFT_SHARE = 1 * F, 0.02
"""K and share of a pressure, in five minutes: the limits of the drifts in rules/findings.yaml."""
HUNTS = 4 * F
"""K; superheat that goes up and down by more is hunting: the limit of `superheat swing` in rules/findings.yaml."""
FOLLOWED = ("suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature")
IN_THE_AIR = ("supply air dry bulb", "return air dry bulb")  # followed where none of these was logged
_STEADIER = 60.0  # s; records are put together to this before turns are counted


class RunningSums:
    """Count, sum and sum of squares of a column up to each record, so that a window costs nothing."""

    def __init__(self, values: Sequence[float]) -> None:
        known = [each for each in values if math.isfinite(each)]
        self._zero = sum(known) / len(known) if known else 0.0
        self._count, self._sum, self._square = [0], [0.0], [0.0]
        for each in values:
            there = math.isfinite(each)
            by = each - self._zero if there else 0.0
            self._count.append(self._count[-1] + there)
            self._sum.append(self._sum[-1] + by)
            self._square.append(self._square[-1] + by * by)

    def of(self, begin: int, end: int) -> tuple[int, float, float]:
        """(records that are there, mean, standard deviation) from begin to end, not included; nan where there are none."""
        count = self._count[end] - self._count[begin]
        if not count:
            return 0, math.nan, math.nan
        mean = (self._sum[end] - self._sum[begin]) / count
        spread = (self._square[end] - self._square[begin]) / count - mean * mean
        return count, mean + self._zero, math.sqrt(max(spread, 0.0) * count / max(count - 1, 1))


Superheat = Callable[[int], float | None]


def find_stretches(
    log: Log,
    spelled: Sequence[RunningSpell],
    defrosts: Sequence[Event],
    superheat: Superheat,
    jitter: float,
    sure: bool,
    figures: LogFigures,
) -> tuple[list[Stretch], list[Event]]:
    """Steady and hunting stretches of every spell, and what kept others from being any. superheat: of a record, K; jitter:
    standard deviation of a probe against itself, K; sure: whether the log shows when it runs.
    """
    names = [name for name in FOLLOWED if name in log.values] or [name for name in IN_THE_AIR if name in log.values]
    if not names or log.step > COARSEST:
        return [], []
    sums = {name: RunningSums(log.values[name]) for name in names}
    stretches: list[Stretch] = []
    events: list[Event] = []
    for spell in spelled:
        steady, unsteady = _parts(log, spell, defrosts, sums, figures)
        for begin, end in steady:
            stretches += _visits(log, spell, begin, end, defrosts, "steady", sure, figures.longest)
        for begin, end in unsteady:
            long = log.times[end - 1] - log.times[begin] + log.step
            if long < SETTLING:
                continue
            swung = _swing(log, begin, end, superheat, jitter)
            kind: EventKind = "hunting" if swung is not None and swung > HUNTS else "unsettled"
            told = {"swing": swung} if swung is not None else {}
            events.append(Event(kind, log.times[begin], log.times[end - 1], told))
            if kind == "hunting":
                last = next(i for i in range(begin, end) if log.times[end - 1] - log.times[i] <= SETTLING)
                stretches += _visits(log, spell, last, end, defrosts, "hunting", sure, figures.longest)
    return sorted(stretches, key=lambda one: one.begin), events


def _parts(
    log: Log, spell: RunningSpell, defrosts: Sequence[Event], sums: dict[str, RunningSums], figures: LogFigures
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(steady, unsteady) rows of records of one spell, after it had time to settle."""
    window = max(WINDOW, STEPS * log.step)
    first = spell.begin
    steady: list[tuple[int, int]] = []
    unsteady: list[tuple[int, int]] = []
    now: tuple[bool, int] | None = None
    turned, said = log.times[spell.begin], dict[str, str]()  # when it started, or went to another mode or stage

    def close(end: int) -> None:
        if now is not None and end > now[1]:
            (steady if now[0] else unsteady).append((now[1], end))

    for i in range(spell.begin, spell.end):
        time = log.times[i]
        saying = {name: words[i] for name, words in log.words.items() if words[i]}
        if any(said.get(name, word) != word for name, word in saying.items()):
            turned = time
        said |= saying
        while log.times[first] < time - window - 1e-6:
            first += 1
        since = max((each.end for each in defrosts if each.begin <= time), default=-math.inf)
        during = any(each.begin <= time <= each.end for each in defrosts)
        if during or time - since < SETTLING or time - turned < SETTLING:
            close(i)
            now = None
            continue
        held = _is_steady(log, first, i + 1, window, sums)
        if now is None or now[0] != held:
            close(i)
            now = (held, i)
    close(spell.end)
    least = max(figures.shortest, 2 * log.step)
    long = [(a, b) for a, b in steady if log.times[b - 1] - log.times[a] >= least - 1e-6]
    return long, unsteady


def _is_steady(log: Log, begin: int, end: int, window: float, sums: dict[str, RunningSums]) -> bool:
    """Whether every followed reading is there and stays within its limit."""
    if log.times[end - 1] - log.times[begin] < window - 1.5 * log.step or end - begin < STEPS + 1:
        return False
    widths = window / 300.0 / math.sqrt(12.0)
    for name, column in sums.items():
        count, mean, spread = column.of(begin, end)
        if count < 0.8 * (end - begin):
            return False
        pressure = READINGS[name].kind == "pressure"
        if spread > widths * (DRIFT_SHARE * (mean + STATION) if pressure else DRIFT):
            return False
    return True


def _visits(
    log: Log,
    spell: RunningSpell,
    begin: int,
    end: int,
    defrosts: Sequence[Event],
    kind: StretchKind,
    sure: bool,
    longest: float,
) -> Iterator[Stretch]:
    """One stretch, or several of equal length where it is long."""
    length = log.times[end - 1] - log.times[begin]
    count = max(1, math.ceil(length / longest - 0.25))
    cuts = [begin]
    for part in range(1, count):
        at = log.times[begin] + length * part / count
        cuts.append(next(i for i in range(cuts[-1], end) if log.times[i] >= at))
    for a, b in zip(cuts, [*cuts[1:], end], strict=True):
        minutes = (log.times[b - 1] - log.times[spell.begin]) / 60.0
        since = max((each.end for each in defrosts if each.end <= log.times[b - 1]), default=None)
        ago = None if since is None else (log.times[b - 1] - since) / 60.0
        yield Stretch(kind, a, b, minutes if sure else math.nan, not spell.started, ago)


def _swing(log: Log, begin: int, end: int, superheat: Superheat, jitter: float) -> float | None:
    """How far superheat, or else the suction line, goes up and down in the last quarter of an hour, K."""
    minutes, values = means(log, begin, end, superheat)
    if len(values) < 4:
        line = log.values.get("suction line temperature")
        if line is None:
            return None
        minutes, values = means(log, begin, end, lambda i: line[i])
    found = steadiness.swing(minutes, values, jitter) if values else None
    return None if found is None else found[0]


def means(log: Log, begin: int, end: int, of: Superheat) -> tuple[list[float], list[float]]:
    """Minutes, and the mean of a minute's records (or each, where they lie further apart)."""
    gathered: dict[int, list[tuple[float, float]]] = {}
    for i in range(begin, end):
        value = of(i)
        if value is not None and math.isfinite(value):
            gathered.setdefault(int(log.times[i] // _STEADIER), []).append((log.times[i] / 60.0, value))
    minutes = [sum(m for m, _ in each) / len(each) for each in gathered.values()]
    return minutes, [sum(v for _, v in each) / len(each) for each in gathered.values()]
