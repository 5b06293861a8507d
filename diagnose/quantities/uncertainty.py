"""From a visit to quantities with their uncertainty: each reading shifted by its own error, one at a time.

The effect of every shift runs through all quantities that use the reading, so a reading that is shared (the outdoor
air in the target and in condensing over ambient) is handled by construction. Variances add (GUM: JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnose.quantities import EXPECTED, STEPS, Inputs, QuantityKind, dependents, leaves, run, steadiness
from diagnose.targets import NoTarget, Target
from diagnose.visit import Machine, Reading, Round, Visit
from diagnose.visit.fields import REPEATABILITY

# A limit of error holds 95 of 100 readings, which for a normal distribution is two standard deviations.
COVERAGE = 2.0
TABLE = "refrigerant table"
STATION = "station pressure"

_FOLLOWERS = dependents(STEPS)
_BY_NAME = {step.name: step for step in STEPS}
_OF = {step.name: step.name.removeprefix(EXPECTED) for step in STEPS}


@dataclass(frozen=True, slots=True)
class GoodDay:
    """What this machine's own good day makes of a quantity today (see baseline.py). SI.

    expected: with its spread. difference, sigma: the value minus that, and its standard deviation from today's readings.
    """

    expected: Target
    difference: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Estimate:
    """One quantity of one visit. SI throughout.

    value, sigma: best value and its standard deviation. expected: what it should be, or why that cannot be said.
    difference, difference_sigma: value minus expected, with the errors both share counted once; None without expected.
    readings: what it came from. effects: how far one standard deviation of each reading moves the difference (the
    value where there is no expected one); moves: how far it moves the value. expected holds for such machines in general;
    good_day: what this one's own good day says instead, where there is a baseline.
    """

    name: str
    kind: QuantityKind
    value: float
    sigma: float
    expected: Target | NoTarget | None
    difference: float | None
    difference_sigma: float
    readings: tuple[str, ...]
    effects: Mapping[str, float]
    formula: str
    source: str
    moves: Mapping[str, float] = field(default_factory=dict)
    good_day: GoodDay | None = None

    @property
    def target(self) -> Target | None:
        """The expected value, where there is one."""
        return self.expected if isinstance(self.expected, Target) else None


def absolute(reading: Reading, machine: Machine) -> float:
    """The reading in SI; a gauge pressure becomes absolute with the station pressure, Pa."""
    return reading.value + machine.station_pressure if reading.gauge else reading.value


def inputs(machine: Machine, taken: Round, without: Collection[str] = ()) -> Inputs:
    """Everything the quantities may look at, by name: readings (but those set aside), machine facts."""
    values: Inputs = {
        name: absolute(reading, machine) for name, reading in taken.readings.items() if name not in without
    }
    values.update(machine.facts)
    values[STATION] = machine.station_pressure
    values[TABLE] = 0.0
    if machine.refrigerant is not None:
        values["refrigerant"] = machine.refrigerant
    if machine.metering is not None:
        values["metering"] = machine.metering
    return values


def shifts(machine: Machine, taken: Round, without: Collection[str] = ()) -> dict[str, dict[str, float]]:
    """One standard deviation for each source of error: its name, and what it moves by how much."""
    found = {
        name: {name: reading.error / COVERAGE}
        for name, reading in taken.readings.items()
        if name not in without and reading.error > 0
    }
    station = machine.station_error / COVERAGE
    moved = {name: station for name, reading in taken.readings.items() if reading.gauge and name not in without}
    found[STATION] = {STATION: station, **moved}
    if machine.refrigerant is not None:
        found[TABLE] = {TABLE: machine.refrigerant.saturation_error / COVERAGE}
    return found


def estimate(visit: Visit, without: Collection[str] = ()) -> dict[str, Estimate]:
    """All quantities of the last round, and how far they still drift. `without`: readings set aside as not possible."""
    values = inputs(visit.machine, visit.last, without)
    run(STEPS, values)
    effects: dict[str, dict[str, float]] = {}
    moved: dict[str, dict[str, float]] = {}
    spread: dict[str, list[float]] = {}
    for source, moves in shifts(visit.machine, visit.last, without).items():
        for name, (by_value, by_difference) in _effects(values, moves).items():
            sums = spread.setdefault(name, [0.0, 0.0])
            sums[0] += by_value**2
            sums[1] += by_difference**2
            effects.setdefault(name, {})[source] = by_difference
            moved.setdefault(name, {})[source] = by_value
    origin = leaves(STEPS, values)
    found = {}
    for step in STEPS:
        value = values.get(step.name)
        if value is None or step.name.startswith(EXPECTED):
            continue
        target = values.get(EXPECTED + step.name)
        variance = spread.get(step.name, (0.0, 0.0))
        found[step.name] = Estimate(
            name=step.name,
            kind=step.kind,
            value=value,
            sigma=math.sqrt(variance[0]),
            expected=target,
            difference=value - target.value if isinstance(target, Target) else None,
            difference_sigma=math.sqrt(variance[1]),
            readings=tuple(word for word in origin[step.name] if word in visit.last.readings),
            effects=effects.get(step.name, {}),
            formula=step.formula,
            source=step.source,
            moves=moved.get(step.name, {}),
        )
    found.update(_direct(visit, without))
    found.update(_drifts(visit, without))
    return found


def _effects(values: Inputs, moves: Mapping[str, float]) -> dict[str, tuple[float, float]]:
    """What one shift does to (value, value minus expected) of each quantity; tried upwards, else downwards."""
    steps = list(dict.fromkeys(step for word in moves for step in _FOLLOWERS.get(word, ())))
    if len(moves) > 1:
        order = {step.name: i for i, step in enumerate(STEPS)}
        steps.sort(key=lambda step: order[step.name])
    up = _shifted(values, moves, steps, 1.0)
    down: Inputs | None = None
    found = {}
    for name in dict.fromkeys(_OF[step.name] for step in steps):
        before = values.get(name)
        if not isinstance(before, float):
            continue
        by = _change(name, before, values, up)
        if by is None:  # the shift left the domain of a formula or a table: the other way tells as much
            if down is None:
                down = _shifted(values, moves, steps, -1.0)
            by = _change(name, before, values, down)
        if by is not None:
            found[name] = by
    return found


def _shifted(values: Inputs, moves: Mapping[str, float], steps: list[Any], sign: float) -> Inputs:
    after = dict(values)
    for word, by in moves.items():
        after[word] = values[word] + sign * by
    run(steps, after)
    return after


def _change(name: str, before: float, values: Inputs, after: Inputs) -> tuple[float, float] | None:
    now = after.get(name)
    if not isinstance(now, float):
        return None
    target, moved = values.get(EXPECTED + name), after.get(EXPECTED + name)
    if not isinstance(target, Target):
        return now - before, now - before
    if not isinstance(moved, Target) or moved.origin != target.origin:
        return None  # another table answers there, and its step from this one is no effect of the error
    return now - before, (now - moved.value) - (before - target.value)


# Readings that are themselves quantities, and machine time ------------------------------------------------------------

_DIRECT: dict[str, QuantityKind] = {
    "outdoor air temperature": "temperature",
    "discharge line temperature": "temperature",
    "suction pressure": "pressure",
    "liquid pressure": "pressure",
}
BESIDE_STEPS: dict[str, QuantityKind] = {
    **_DIRECT,
    "running time": "time",
    **{f"{name} drift": "share drift" if share else "drift" for name, share in steadiness.FOLLOWED.items()},
}
"""The estimates that no step of `quantities` makes, and their kinds."""


def _direct(visit: Visit, without: Collection[str]) -> dict[str, Estimate]:
    found = {}
    for name, kind in _DIRECT.items():
        reading = visit.last.readings.get(name)
        if reading is not None and name not in without:
            found[name] = _plain(name, kind, absolute(reading, visit.machine), reading.error / COVERAGE, (name,))
    if visit.last.minutes is not None:
        found["running time"] = _plain("running time", "time", visit.last.minutes * 60.0, 0.0, ("minutes running",))
    return found


def _plain(name: str, kind: QuantityKind, value: float, sigma: float, readings: tuple[str, ...]) -> Estimate:
    return Estimate(name, kind, value, sigma, None, None, sigma, readings, {}, "as measured", "")


def _drifts(visit: Visit, without: Collection[str]) -> dict[str, Estimate]:
    if len(visit.rounds) < 2:
        return {}
    rounds = []
    for taken in visit.rounds:
        values = inputs(visit.machine, taken, without)
        run([_BY_NAME[n] for n in _NEEDED_FOR_DRIFT], values)
        rounds.append(
            (taken.minutes or 0.0, {k: values[k] for k in steadiness.FOLLOWED if isinstance(values.get(k), float)})
        )
    # A gauge repeats itself within about 0.2 % of its reading (resolution of 0.1 to 0.5 psi; common practice).
    jitter = dict.fromkeys(steadiness.FOLLOWED, REPEATABILITY / COVERAGE)
    for name in ("suction pressure", "liquid pressure"):
        if name in rounds[-1][1]:
            jitter[name] = 0.002 / COVERAGE * rounds[-1][1][name]
    found = {}
    for name, (value, sigma) in steadiness.followed(rounds, jitter).items():
        kind = BESIDE_STEPS[name]
        of = name.removesuffix(" drift")
        found[name] = Estimate(
            name, kind, value, sigma, None, None, sigma, (of,), {}, f"change of {of} over five minutes", "braun-li-2003"
        )
    return found


_NEEDED_FOR_DRIFT = ("evaporating temperature", "condensing temperature", "superheat", "subcooling")
