"""Every reading of a visit moved in small steps: where a share jumps, what is firmly said just before nothing is ranked, and
where a charge verdict leaves and comes back.

Steps are what a technician can just read: 0.1 °F, 0.2 psi, 0.5 % of humidity. A stretch is looked at step by step only
where its ends differ (halved again and again), so that whole ranges are searched at little cost.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import pairwise
from typing import NamedTuple

from diagnose import Diagnosis, Rulebook, Visit
from diagnose.diagnosis.pipeline import judge, temper, work_out_quantities
from diagnose.diagnosis.sensitivity import moved
from diagnose.diagnosis.verdict import NO_VERDICT
from diagnose.rulebook import machine_facts
from diagnose.visit import READINGS

F, PSI, CFM, INCH_OF_WATER = 1 / 1.8, 6894.757, 0.3048**3 / 60, 249.089
STEP = {
    "temperature": 0.1 * F, "difference": 0.1 * F, "pressure": 0.2 * PSI, "percent": 0.005,
    "airflow": 5 * CFM, "current": 0.05, "small pressure": 0.005 * INCH_OF_WATER,
}  # fmt: skip
REACH = 96  # steps either way: 9.6 °F, 19 psi
STRETCH = 16  # steps between the points that are looked at first
MOST = 0.1  # what a share may move in one step
# Why no verdict is given, where that follows the shares and findings themselves. Another fault may be likeliest in the middle
# of what a reading can be, where it fits the rest of the visit, and less likely on both sides; so may two findings there be
# firm that no fault makes together. That is no switch.
BY_SHARES = {
    "rival-too-likely", "rival-explains-better", "readings-say-nothing-wrong", "likely-only-by-others", "near-the-limit",
    "no-known-pattern", "surely-off-normal",
}  # fmt: skip


class Look(NamedTuple):
    """What is said with a reading at one place."""

    shares: dict[str, float]
    held: bool
    firm: bool  # something is said that may not vanish in one step: a strong fault, or advice to touch the charge
    verdict: str
    reason: str


class Jump(NamedTuple):
    """What changes too much in one step: a share, or (by 1.0) a firm answer that is held in the next one."""

    reading: str
    value: float  # SI, before the step
    fault: str
    by: float


class Return(NamedTuple):
    """A verdict that leaves and comes back: what is said along a reading, and why where nothing is.

    switched: also where what follows the shares and findings themselves is left out.
    """

    reading: str
    verdicts: tuple[str, ...]
    switched: bool


class Swept(NamedTuple):
    """What was found along all readings of a visit, and how many steps were covered."""

    jumps: list[Jump]
    returns: list[Return]
    covered: int


def steps_known(reading: str) -> bool:
    """Whether it is known what can just be read on this reading (volts, microns and words are not swept)."""
    return READINGS[reading].kind in STEP


def judged(visit: Visit, rules: Rulebook) -> Diagnosis:
    """The part of an examination that a sweep looks at; rules: those about this machine."""
    return temper(judge(work_out_quantities(Diagnosis(visit, rules, visit.system)), "plain"))


def sweep(visit: Visit, rules: Rulebook, reach: int = REACH, stretch: int = STRETCH) -> Swept:
    """Steps that change too much, verdicts that come back, and how many steps were covered."""
    swept = Swept([], [], 0)
    rules = rules.about(machine_facts(visit.machine))
    for name, reading in visit.last.readings.items():
        spec = READINGS[name]
        if not steps_known(name):
            continue
        step = STEP[spec.kind]
        lane = _Lane(visit, rules, name, step)
        points = sorted({*range(-reach, reach + 1, stretch), 0})
        points = [n for n in points if spec.low <= reading.value + n * step <= spec.high]
        for a, b in pairwise(points):
            swept.jumps.extend(Jump(name, reading.value + n * step, *what) for n, what in _jumps(lane, a, b))
        back = lane.comes_back()
        if back:
            swept.returns.append(Return(name, back, bool(lane.comes_back(without=BY_SHARES))))
        swept = swept._replace(covered=swept.covered + points[-1] - points[0])
    return swept


class _Lane:
    """One reading at so many steps from where it is."""

    def __init__(self, visit: Visit, rules: Rulebook, name: str, step: float):
        self._visit, self._rules, self._name, self._step = visit, rules, name, step
        self._known: dict[int, Look] = {}

    def at(self, n: int) -> Look:
        if n not in self._known:
            d = judged(moved(self._visit, self._name, n * self._step), self._rules)
            shares = {place.fault: place.share for place in d.faults}
            firm = d.charge.verdict in ("low", "high") or any(place.strength == "strong" for place in d.faults)
            self._known[n] = Look(shares, bool(d.held), firm, d.charge.verdict, d.charge.reasons[0].code)
        return self._known[n]

    def comes_back(self, without: Collection[str] = ()) -> tuple[str, ...]:
        """What is said along the reading, where a verdict is left and comes back; else nothing. without: not looked at."""
        said = [look.reason if look.verdict == NO_VERDICT else look.verdict for _, look in sorted(self._known.items())]
        told = [word for word in said if word not in without]
        told = [word for i, word in enumerate(told) if i == 0 or told[i - 1] != word]
        given = [word for word in told if word in ("low", "right", "high")]
        return tuple(told) if len(given) != len(set(given)) else ()


def _jumps(lane: _Lane, a: int, b: int) -> Iterator[tuple[int, tuple[str, float]]]:
    one, other = lane.at(a), lane.at(b)
    if one.held and other.held:
        return
    fault, by = "", 0.0
    if not one.held and not other.held:
        fault = max(one.shares, key=lambda f: abs(one.shares[f] - other.shares[f]))
        by = other.shares[fault] - one.shares[fault]
        if b - a > 1 and abs(by) <= MOST and one.verdict == other.verdict:
            return
    if b - a > 1:
        middle = (a + b) // 2
        yield from _jumps(lane, a, middle)
        yield from _jumps(lane, middle, b)
    elif one.held != other.held:
        if one.firm or other.firm:
            yield a, ("held", 1.0)
    elif abs(by) > MOST:
        yield a, (fault, by)
