"""Every reading of a visit moved in small steps: where a share jumps, and where a charge verdict leaves and comes back.

Steps are what a technician can just read: 0.1 °F, 0.2 psi, 0.5 % of humidity. A stretch is looked at step by step only
where its ends differ (halved again and again), so that whole ranges are searched at little cost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

from diagnose import Diagnosis, Rulebook, Visit
from diagnose.diagnosis.charge import NO_VERDICT
from diagnose.diagnosis.pipeline import judge, work_out_quantities
from diagnose.diagnosis.sensitivity import moved
from diagnose.visit import READINGS

STEP = {"temperature": 0.1 / 1.8, "pressure": 0.2 * 6894.757, "humidity": 0.005, "share": 0.005}
REACH = 96  # steps either way: 9.6 °F, 19 psi
STRETCH = 16  # steps between the points that are looked at first
MOST = 0.1  # what a share may move in one step
STEEP = 0.2  # and at most: where several limits lie side by side a share falls steeply, though it does not jump


class Jump(NamedTuple):
    reading: str
    value: float  # SI, before the step
    fault: str
    by: float


class Return(NamedTuple):
    reading: str
    verdicts: tuple[str, ...]


def judged(visit: Visit, rules: Rulebook) -> Diagnosis:
    """The part of an examination that a sweep looks at."""
    return judge(work_out_quantities(Diagnosis(visit, rules, visit.system)), "plain")


def sweep(visit: Visit, rules: Rulebook, reach: int = REACH) -> tuple[list[Jump], list[Return], int]:
    """Steps that move a share too far, verdicts that come back, and how many steps were covered."""
    jumps: list[Jump] = []
    returns: list[Return] = []
    covered = 0
    for name, reading in visit.last.readings.items():
        step = STEP.get(READINGS[name].kind)
        if step is None:
            continue
        at = _looking(visit, rules, name, step)
        points = sorted({*range(-reach, reach + 1, STRETCH), 0})
        points = [n for n in points if READINGS[name].low <= reading.value + n * step <= READINGS[name].high]
        for a, b in pairwise(points):
            jumps += [Jump(name, reading.value + n * step, *m) for n, m in _jumps(at, a, b)]
        covered += points[-1] - points[0]
        seen = _without_repeats([v for n in sorted(at.known) if (v := at(n)[1])])  # type: ignore[attr-defined]
        given = [verdict for verdict in seen if verdict != NO_VERDICT]
        if len(given) != len(set(given)):
            returns.append(Return(name, seen))
    return jumps, returns, covered


def _looking(visit: Visit, rules: Rulebook, name: str, step: float) -> Callable[[int], tuple[dict[str, float], str]]:
    known: dict[int, tuple[dict[str, float], str]] = {}

    def at(n: int) -> tuple[dict[str, float], str]:
        if n not in known:
            d = judged(moved(visit, name, n * step), rules)
            known[n] = ({r.fault: r.share for r in d.ranked}, d.charge.verdict)
        return known[n]

    at.known = known  # type: ignore[attr-defined]
    return at


def _jumps(
    at: Callable[[int], tuple[dict[str, float], str]], a: int, b: int
) -> Iterator[tuple[int, tuple[str, float]]]:
    one, other = at(a)[0], at(b)[0]
    fault = max(one, key=lambda f: abs(one[f] - other[f]))
    by = other[fault] - one[fault]
    if abs(by) <= MOST and (b - a > 1 and at(a)[1] == at(b)[1]):
        return
    if b - a == 1:
        if abs(by) > MOST:
            yield a, (fault, by)
        return
    middle = (a + b) // 2
    yield from _jumps(at, a, middle)
    yield from _jumps(at, middle, b)


def _without_repeats(words: list[str]) -> tuple[str, ...]:
    return tuple(word for i, word in enumerate(words) if i == 0 or words[i - 1] != word)
