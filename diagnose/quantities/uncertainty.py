"""From a visit to quantities with their uncertainty: each reading shifted by its own error, one at a time.

The effect of every shift runs through all quantities that use the reading, so a reading that is shared (the outdoor
air in the target and in condensing over ambient) is handled by construction. Variances add (GUM: JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities import EXPECTED, STEPS, Inputs, QuantityKind, Step, run, steadiness
from diagnose.quantities.air_side import SAME_AIR
from diagnose.quantities.following import WorkPart, origins, work
from diagnose.quantities.refrigerant_side import DRY
from diagnose.quantities.steadiness import SteadinessFigures
from diagnose.quantities.weighing import IN_ALL, ROUGH, WEIGHED, beyond_the_lines, held, on_the_scale
from diagnose.units.columns import clamp, holds, lesser, otherwise
from diagnose.visit import COOLING, DEFROSTED, MINUTES, VALVES, Machine, Reading, Round, Visit

# A limit of error holds 95 of 100 readings, which for a normal distribution is two standard deviations.
COVERAGE = 2.0
TABLE = "refrigerant table"
STATION = "station pressure"
ACCUMULATOR = "accumulator"

_BY_NAME = {step.name: step for step in STEPS}


class GoodDay(NamedTuple):
    """What this machine's own good day makes of a quantity today (see baseline.py). SI.

    expected: with its spread. difference, sigma: the value minus that, and its standard deviation from today's readings.
    least: how far from that the nearest limit of its words stands at least.
    """

    expected: Target
    difference: float
    sigma: float
    least: float = 0.0


class Estimate(NamedTuple):
    """One quantity of one visit. SI throughout.

    value, sigma: best value and its standard deviation. expected: what it should be, or why that cannot be said.
    difference, difference_sigma: value minus expected, with the errors both share counted once; None without expected.
    readings: what it came from. effects: how far one standard deviation of each reading moves the difference (the
    value where there is no expected one); moves: how far it moves the value. expected holds for such machines in general;
    good_day: what this one's own good day says instead, where there is a baseline. inside: how far within the domain of its
    formula it stands, 0 to 1; toward the edge it says less and less.
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
    moves: Mapping[str, float] = {}
    good_day: GoodDay | None = None
    inside: float = 1.0

    @property
    def target(self) -> Target | None:
        """The expected value, where there is one."""
        return self.expected if isinstance(self.expected, Target) else None


def absolute(reading: Reading, machine: Machine) -> float:
    """The reading in SI; a gauge pressure becomes absolute with the station pressure, Pa."""
    return reading.value + machine.station_pressure if reading.gauge else reading.value


INSTEAD = {"gauge superheat": "suction line temperature", "gauge subcooling": "liquid line temperature"}
"""What a digital gauge shows, and the reading it replaces where that was not taken."""


def used(taken: Round, without: Collection[str] = ()) -> dict[str, Reading]:
    """The readings that quantities are worked out from: not those set aside, nor a gauge's figure beside the temperature."""
    return {
        name: reading
        for name, reading in taken.readings.items()
        if name not in without and INSTEAD.get(name) not in taken.readings
    }


def inputs(machine: Machine, taken: Round, without: Collection[str] = ()) -> Inputs:
    """Everything the quantities may look at, by name: readings (but those set aside), machine facts."""
    values: Inputs = {name: absolute(reading, machine) for name, reading in used(taken, without).items()}
    values.update(machine.facts)
    values[STATION] = machine.station_pressure
    values[TABLE] = 0.0
    values[machine.mode or COOLING] = True
    if machine.refrigerant is not None:
        values["refrigerant"] = machine.refrigerant
    if machine.metering is not None:
        values["metering"] = machine.metering
    if ACCUMULATOR in machine.words:
        values[ACCUMULATOR] = machine.words[ACCUMULATOR]
    if (whole := on_the_scale(machine)) is not None:
        values[IN_ALL] = whole.kg
        values[ROUGH] = bool(whole.lacks)
    return values


def shifts(machine: Machine, taken: Round, without: Collection[str] = ()) -> dict[str, dict[str, float]]:
    """One standard deviation for each source of error: its name, and what it moves by how much."""
    found = {
        name: {name: reading.error / COVERAGE}
        for name, reading in used(taken, without).items()
        if holds(reading.error > 0)
    }
    station = machine.station_error / COVERAGE
    moved = {name: station for name, reading in taken.readings.items() if reading.gauge and name not in without}
    found[STATION] = {STATION: station, **moved}
    if machine.refrigerant is not None:
        found[TABLE] = {TABLE: machine.refrigerant.saturation_error / COVERAGE}
    if (whole := on_the_scale(machine)) is not None and (scale := held(machine)) is not None:
        found[IN_ALL] = {IN_ALL: whole.error / COVERAGE}
        found[scale[0]] = {scale[0]: scale[2] / COVERAGE}
    return found


def estimate(
    visit: Visit, without: Collection[str] = (), settling: SteadinessFigures | None = None
) -> dict[str, Estimate]:
    """All quantities of the last round, and how far they still drift, unless no figures are given to judge that by.

    without: readings set aside as not possible.
    """
    return Estimation(visit, without, settling).estimates()


class Estimation:
    """The quantities of one visit, ready to be asked for all of them, or for those that another value of a reading changes.

    Keeps what one standard deviation of each source of error makes of everything, so that another value of one reading
    works out again only what follows from it.
    """

    def __init__(self, visit: Visit, without: Collection[str], settling: SteadinessFigures | None):
        self._visit, self._without, self._settling = visit, without, settling
        values = inputs(visit.machine, visit.last, without)
        self._own = visit.own.quantities
        self._work = work(frozenset(values), self._own)
        run(self._work.steps, values)
        self._values = values
        self._shifts = [
            (source, moves, tuple(moves)) for source, moves in shifts(visit.machine, visit.last, without).items()
        ]
        self._up: dict[str, Inputs] = {}
        self._effects: dict[str, dict[str, _Effect]] = {}
        for source, moves, words in self._shifts:
            part = self._work.following(words)
            up = self._up[source] = _shifted(values, moves, part.steps, 1.0)
            self._effects[source] = _effects(values, up, moves, part, part.names)

    def estimates(self) -> dict[str, Estimate]:
        """All quantities, by name."""
        by_name: dict[str, dict[str, _Effect]] = {}
        for source, effects in self._effects.items():
            for name, by in effects.items():
                by_name.setdefault(name, {})[source] = by
        origin = origins(frozenset(self._values), self._own)
        found = {
            step.name: _estimate(step, self._values, by_name.get(step.name, {}), origin[step.name], self._visit)
            for step in self._work.steps
            if step.name in self._values and not step.name.startswith(EXPECTED)
        }
        found.update(direct(self._visit, self._without))
        found.update(_drifts(self._visit, self._without, self._settling))
        return found

    def following(self, reading: str) -> tuple[str, ...]:
        """The quantities that another value of this reading may change, by name."""
        if reading not in self._values:
            return ()
        drifts = (*_drift_names(), steadiness.SWING) if reading in _DRIFTING else ()
        return (*self._work.following((reading,)).names, reading, *drifts)

    def moved(self, visit: Visit, reading: str) -> dict[str, Estimate | None]:
        """The quantities that come out otherwise in `visit`, the same visit but for another value of one reading.

        None for a quantity that can no longer be worked out.
        """
        if reading not in self._values:
            return {}
        part = self._work.following((reading,))
        values = dict(self._values)
        values[reading] = absolute(visit.last.readings[reading], visit.machine)
        run(part.steps, values)
        effects = dict(self._effects)
        for source, moves, words in self._shifts:
            both, only = self._work.shared(words, reading)
            if both.steps:
                up = dict(self._up[source])
                up[reading] = values[reading] + moves.get(reading, 0.0)
                for name in only:
                    if name in values:
                        up[name] = values[name]
                    else:
                        up.pop(name, None)
                run(both.steps, up)
                again = _effects(values, up, moves, self._work.following(words), both.names)
                old = effects[source]
                effects[source] = {name: by for name, by in old.items() if name not in both.names} | again
        origin = origins(frozenset(values), self._own)
        found: dict[str, Estimate | None] = {}
        for name in part.names:
            if name in values:
                by = {source: of[name] for source, of in effects.items() if name in of}
                found[name] = _estimate(self._work.by_name[name], values, by, origin[name], visit)
            else:
                found[name] = None
        if (own := direct(visit, self._without).get(reading)) is not None:
            found[reading] = own
        if len(visit.rounds) > 1 and reading in _DRIFTING:
            now = _drifts(visit, self._without, self._settling)
            found.update({name: now.get(name) for name in (*_drift_names(), steadiness.SWING)})
        return found


_Effect = tuple[float, float]  # on the value, and on the value minus what is expected


def _estimate(
    step: Step, values: Inputs, effects: Mapping[str, _Effect], origin: tuple[str, ...], visit: Visit
) -> Estimate:
    value, target = values[step.name], values.get(EXPECTED + step.name)
    by_value = by_difference = 0.0
    for one, other in effects.values():
        by_value += one * one
        by_difference += other * other
    taken = visit.last.readings
    return Estimate(
        name=step.name,
        kind=step.kind,
        value=value,
        sigma=math.sqrt(by_value),
        expected=target,
        difference=value - target.value if isinstance(target, Target) else None,
        difference_sigma=math.sqrt(by_difference),
        readings=tuple([word for word in origin if word in taken]),
        effects={source: by[1] for source, by in effects.items()},
        formula=step.formula,
        source=step.source,
        moves={source: by[0] for source, by in effects.items()},
        inside=within_domain(step.name, values),
    )


def within_domain(name: str, values: Inputs) -> float:
    """How far within the domain of its formula a quantity stands, 0 to 1."""
    within = 1.0
    if name == "compressor efficiency":
        superheat, efficiency = values["superheat"], values[name]
        within = lesser((superheat - DRY) / DRY, (WET - efficiency) / (WET - 1.2))
    elif name == WEIGHED and values[ROUGH]:
        within = beyond_the_lines(values[name])
    elif name in _BY_THE_SPLIT and "supply air dry bulb" in values:
        split = values["return air dry bulb"] - values["supply air dry bulb"]
        within = otherwise(1.0 - _BY_THE_SPLIT[name] * split / SAME_AIR, 1.0)
    return clamp(within, 0.0, 1.0)


WET = 2.0  # efficiency that only wet vapour, or a clamp that reads cold, can seem to show
_BY_THE_SPLIT = {"cooled space": -1.0, "indoor lift": 1.0}
"""Quantities that hold of a machine that cools (-1) or heats (1) the air."""


def _effects(
    values: Inputs, up: Inputs, moves: Mapping[str, float], part: WorkPart, names: Collection[str]
) -> dict[str, _Effect]:
    """What one shift does to (value, value minus expected) of some quantities; tried upward (`up`), else downward."""
    down: Inputs | None = None
    found = {}
    for name in names:
        before = values.get(name)
        if not isinstance(before, float):
            continue
        by = _change(name, before, values, up)
        if by is None:  # the shift left the domain of a formula or a table: the other way tells as much
            if down is None:
                down = _shifted(values, moves, part.steps, -1.0)
            by = _change(name, before, values, down)
        if by is not None:
            found[name] = by
    return found


def _shifted(values: Inputs, moves: Mapping[str, float], steps: Sequence[Step], sign: float) -> Inputs:
    after = dict(values)
    for word, by in moves.items():
        after[word] = values[word] + sign * by
    run(steps, after)
    return after


def _change(name: str, before: float, values: Inputs, after: Inputs) -> _Effect | None:
    now = after.get(name)
    if not isinstance(now, float):
        return None
    target = values.get(EXPECTED + name)
    if not isinstance(target, Target):
        return now - before, now - before
    moved = after.get(EXPECTED + name)
    if not isinstance(moved, Target) or moved.origin != target.origin:
        return None  # another table answers there, and its step from this one is no effect of the error
    return now - before, (now - moved.value) - (before - target.value)


# Readings that are themselves quantities, and machine time ------------------------------------------------------------

_DIRECT: dict[str, QuantityKind] = {
    "outdoor air temperature": "temperature",
    "discharge line temperature": "temperature",
    "suction pressure": "pressure",
    "liquid pressure": "pressure",
    "compressor current": "current",
}
BESIDE_STEPS: dict[str, QuantityKind] = {
    **_DIRECT,
    "running time": "time",
    "time since defrost": "time",
    steadiness.SWING: "difference",
    **{f"{name} drift": "share drift" if share else "drift" for name, share in steadiness.FOLLOWED.items()},
}
"""The estimates that no step of `quantities` makes, and their kinds."""


def _drift_names() -> tuple[str, ...]:
    return tuple(f"{name} drift" for name in steadiness.FOLLOWED)


def direct(visit: Visit, without: Collection[str] = ()) -> dict[str, Estimate]:
    """The readings that are themselves quantities, and machine time."""
    found = {}
    for name, kind in (*_DIRECT.items(), *((one.name, one.kind) for one in visit.own.readings)):
        reading = visit.last.readings.get(name)
        if reading is not None and name not in without:
            found[name] = _plain(name, kind, absolute(reading, visit.machine), reading.error / COVERAGE, (name,))
    since = {"running time": (visit.last.minutes, MINUTES), "time since defrost": (visit.last.defrosted, DEFROSTED)}
    for name, (minutes, line) in since.items():
        if minutes is not None:
            found[name] = _plain(name, "time", minutes * 60.0, 0.0, (line,))
    return found


def _plain(name: str, kind: QuantityKind, value: float, sigma: float, readings: tuple[str, ...]) -> Estimate:
    return Estimate(name, kind, value, sigma, None, None, sigma, readings, {}, "as measured", "")


def _drifts(visit: Visit, without: Collection[str], figures: SteadinessFigures | None) -> dict[str, Estimate]:
    if figures is None or len(visit.rounds) < 2:
        return {}
    rounds = []
    for taken in visit.rounds:
        values = inputs(visit.machine, taken, without)
        run([_BY_NAME[n] for n in _NEEDED_FOR_DRIFT], values)
        rounds.append(
            (taken.minutes or 0.0, {k: values[k] for k in steadiness.FOLLOWED if isinstance(values.get(k), float)})
        )
    jitter = dict.fromkeys(steadiness.FOLLOWED, figures.repeatability / COVERAGE)
    for name in ("suction pressure", "liquid pressure"):
        if name in rounds[-1][1]:
            jitter[name] = figures.gauge_repeatability / COVERAGE * rounds[-1][1][name]
    found = {}
    for name, (value, sigma) in steadiness.followed(rounds, jitter, figures).items():
        kind = BESIDE_STEPS[name]
        of = name.removesuffix(" drift")
        found[name] = Estimate(
            name, kind, value, sigma, None, None, sigma, (of,), {}, f"change of {of} over five minutes", "braun-li-2003"
        )
    if visit.machine.metering in VALVES:
        found |= _hunting(rounds, jitter["superheat"], found)
    return found


def _hunting(
    rounds: Sequence[tuple[float, Mapping[str, float]]], jitter: float, drifts: dict[str, Estimate]
) -> dict[str, Estimate]:
    """Of a valve whose superheat goes up and down again: how far it swings, instead of a drift that leads nowhere."""
    having = [(m, v["superheat"]) for m, v in rounds if "superheat" in v]
    found = steadiness.swing([m for m, _ in having], [v for _, v in having], jitter)
    if found is None:
        return {}
    drifts.pop("superheat drift", None)
    name, formula = steadiness.SWING, "highest less lowest superheat of the last quarter of an hour"
    swung = Estimate(name, "difference", *found, None, None, found[1], ("superheat",), {}, formula, "common-practice")
    return {name: swung}


_DRIFTING = ("suction pressure", "liquid pressure", *INSTEAD, *INSTEAD.values())
_NEEDED_FOR_DRIFT = ("evaporating temperature", "condensing temperature", *INSTEAD.values(), "superheat", "subcooling")
