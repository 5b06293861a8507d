"""What would change the answer: for each reading, the smallest change that puts another fault first.

One reading is moved, the same in all rounds as an instrument that is off would move it, the others stay. Both ways are
tried in steps of the instrument's limit of error, and the place where the answer turns is then halved down. A change that
makes the readings impossible, or the machine not ready to be judged, turns nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from diagnose import units
from diagnose.diagnosis.pipeline import rank_faults
from diagnose.diagnosis.record import Diagnosis
from diagnose.visit import READINGS, Reading, Visit

REACH = 3.0  # limits of error
HALVINGS = 3  # of the last step: an eighth of the limit of error
CLOSE = 2.0  # limits of error; a conclusion that turns within this is weak, and says so
MOST = 20  # readings


@dataclass(frozen=True, slots=True)
class Turning:
    """`reading` at `value` instead of `instead_of` (SI, pressures as the reading has them) would put `fault` first.

    times_error: the change over the reading's limit of error (95 of 100), to the next eighth; `value` is rounded on to
    what would be written down.
    """

    reading: Reading
    value: float
    fault: str
    times_error: float

    @property
    def close(self) -> bool:
        """Whether so small a change is within twice the instrument's limit of error."""
        return self.times_error <= CLOSE


# With this share one reading seldom turns the answer (1 of 50 simulated visits above it, 1 of 2 below it).
SAFE = 0.95


def would_change(d: Diagnosis) -> tuple[Turning, ...]:
    """Readings whose change by no more than twice their limit of error would put another fault first.

    Not looked for where the first fault has nearly all of the odds.
    """
    return sensitivity(d, CLOSE) if d.faults and d.faults[0].share < SAFE else ()


def sensitivity(d: Diagnosis, reach: float = REACH) -> tuple[Turning, ...]:
    """For each reading the smallest change, up to `reach` limits of error, that would put another fault first."""
    if not d.faults:
        return ()
    doubtful = sum(doubt.reason.code != "no-known-pattern" for doubt in d.doubts)

    def leading(visit: Visit) -> str | None:
        """The first fault of a visit, the quick way; None where none may be ranked, or with more doubts than today."""
        moved = rank_faults(Diagnosis(visit, d.rules, d.system, d.good_day), "plain")
        held = any(rule.holds == "visit" for rule in moved.holding("readiness"))
        if held or len(moved.doubts) > doubtful or any(doubt.holds_visit for doubt in moved.doubts):
            return None
        return moved.ranked[0].fault

    return turning_points(d.visit, d.ranked[0].fault, leading, reach)


def turning_points(
    visit: Visit, first: str, leading: Callable[[Visit], str | None], reach: float = REACH
) -> tuple[Turning, ...]:
    """The smallest change of each reading that puts another fault than `first` at the head, nearest first.

    leading: the first fault of a visit, or None where no fault may be ranked. reach: how far to look, in limits of
    error of each reading. Readings that turn nothing are left out.
    """
    found = []
    taken = visit.last.readings
    for reading in [taken[name] for name in READINGS if name in taken][:MOST]:
        if reading.error > 0:
            ways = (_turn(visit, reading, sign, first, leading, reach) for sign in (1.0, -1.0))
            found += sorted((t for t in ways if t is not None), key=lambda t: t.times_error)[:1]
    return tuple(sorted(found, key=lambda t: t.times_error))


def moved(visit: Visit, name: str, by: float) -> Visit:
    """The visit with one reading moved by so much (SI) in every round that has it."""
    rounds = []
    for taken in visit.rounds:
        old = taken.readings.get(name)
        change = {} if old is None else {name: replace(old, value=old.value + by)}
        rounds.append(replace(taken, readings={**taken.readings, **change}))
    return replace(visit, rounds=tuple(rounds))


def _turn(
    visit: Visit, reading: Reading, sign: float, first: str, leading: Callable[[Visit], str | None], reach: float
) -> Turning | None:
    def at(times: float) -> str | None:
        found = leading(moved(visit, reading.name, sign * times * reading.error))
        return found if found != first else None

    for i in range(math.ceil(reach)):
        low, high = float(i), min(i + 1.0, reach)
        fault = at(high)
        if fault is not None:
            for _ in range(HALVINGS):
                middle = (low + high) / 2
                nearer = at(middle)
                low, high, fault = (low, middle, nearer) if nearer is not None else (middle, high, fault)
            written = _written(reading, reading.value + sign * high * reading.error, sign)
            there = at(sign * (written - reading.value) / reading.error)
            if there is not None:
                return Turning(reading, written, there, high)
            return Turning(reading, reading.value + sign * high * reading.error, fault, high)
    return None


def _written(reading: Reading, value: float, sign: float) -> float:
    """The value as it would be written down, in the unit of the reading, rounded away from what was read."""
    kind = READINGS[reading.name].kind
    for eighths in range(9):
        shown = units.parse(units.show(value + sign * eighths / 8 * reading.error, kind, reading.unit), kind).value
        if sign * (shown - value) >= 0:
            return shown
    return value
