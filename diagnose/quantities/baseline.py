"""The same machine when it was right: what its own good day says of today.

What holds in general (quantities/expectations.py) is the mean of many machines. One machine stands off that mean by its
coils, its line set and its charge, and keeps standing there. So its good day, moved to today's weather by a law a quantity,
says more. Both are weighed by how sure they are; the result is never less sure than the general figure alone.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from diagnose.properties.targets import Target
from diagnose.quantities.judged import FigureSpec, figure, rows, word
from diagnose.quantities.registry import STEPS
from diagnose.quantities.uncertainty import Estimate, GoodDay
from diagnose.units.columns import clamp
from diagnose.visit import FIXED_ORIFICE, HEATING, Machine, Visit
from diagnose.visit.fields import RUNNING_AT
from diagnose.visit.reason import Reason

SOURCE = "own-good-day"  # in rules/sources.yaml
CONDITIONS = ("outdoor air temperature", "return air dry bulb", "return wet bulb")
Slopes = tuple[float, float, float]  # by outdoor air, return dry bulb, return wet bulb

KINDS = {step.name: step.kind for step in STEPS}


@dataclass(frozen=True, slots=True)
class Law:
    """How a quantity of a sound machine moves with the weather.

    by: `difference`: slopes in K of the quantity a K of air (in its own unit a K, where it is no temperature);
    `share`: as a share of the quantity a K of air. wander: what is left of it from day to day behind an orifice and behind a
    valve, one standard deviation, SI, or a share for `share`. error: of the move, as a share of it, where it is another than
    that of all laws. differ: how far sound machines differ from the general figure, one standard deviation, SI,
    as a share for ratios (None: there is no general figure). heating_wander: what is left in heating, where the weather moves
    a quantity as it moves the general figure, if there is one; None: the law is for cooling alone. heating_differ: as differ.
    heating_slope: by the outdoor air in heating besides, behind an orifice and behind a valve, as `orifice` and `valve`. far:
    where it is another than that of all laws.
    turned: what is left besides in heating behind an orifice that fed otherwise on one of the two days (`turn`).
    """

    by: Literal["difference", "share"] = word("difference", "share")
    orifice: tuple[float, float, float] = figure("share per kelvin", "-5 %/F", "5 %/F", 3)
    valve: tuple[float, float, float] = figure("share per kelvin", "-5 %/F", "5 %/F", 3)
    wander: tuple[float, float] = figure("ratio", 0.001, 0.5, 2)
    error: float | None = figure("ratio", 0, 2, absent=None)
    differ: float | None = figure("ratio", 0.001, 0.5, absent=None)
    heating_wander: tuple[float, float] | None = figure("ratio", 0.001, 0.5, 2, absent=None)
    heating_differ: float | None = figure("ratio", 0.001, 0.5, absent=None)
    heating_slope: tuple[float, float] | None = figure("share per kelvin", "-5 %/F", "5 %/F", 2, absent=None)
    far: float | None = figure("difference", "5 F", "100 F", absent=None)
    turned: float | None = figure("ratio", 0.001, 0.5, absent=None)

    def slopes(self, machine: Machine) -> Slopes | None:
        """By outdoor air, return dry bulb and return wet bulb; None where this law knows nothing of such a machine."""
        if machine.mode == HEATING:
            of_outdoor_air = (self.heating_slope or (0.0, 0.0))[machine.metering not in (FIXED_ORIFICE, None)]
            return None if self.heating_wander is None else (of_outdoor_air, 0.0, 0.0)
        return None if machine.metering is None else self.orifice if machine.metering == FIXED_ORIFICE else self.valve

    def left(self, machine: Machine) -> float:
        """What is left from day to day on this machine: the wider one where nobody stated the device."""
        pair = self.heating_wander if machine.mode == HEATING and self.heating_wander is not None else self.wander
        return pair[machine.metering not in (FIXED_ORIFICE, None)]

    def apart(self, machine: Machine) -> float | None:
        """How far sound machines differ from the general figure in the mode of this one."""
        heats = machine.mode == HEATING and self.heating_wander is not None
        return self.heating_differ if heats else self.differ


def _of_law(name: str, field: str, spec: FigureSpec, words: Mapping[str, str]) -> FigureSpec:
    """Slopes of a difference are plain numbers; what is in K has a unit."""
    if field == "by":
        return spec
    if field in ("orifice", "valve", "heating slope"):
        return spec if words.get("by") == "share" else replace(spec, kind="ratio", low=-5, high=5)
    kelvin = KINDS.get(name) in ("temperature", "difference") and ("differ" in field or words.get("by") != "share")
    if field in ("error", "far"):
        return spec
    return replace(spec, kind="difference", low="0.1 F", high="30 F") if kelvin else spec


@dataclass(frozen=True, slots=True)
class GoodDayFigures:
    """When a machine's own good day is believed, and how it is moved to today's weather. K, shares, standard deviations."""

    not_good: float = figure("ratio", 0, 0.9)
    not_good_in_heating: float = figure("ratio", 0, 0.9)
    believed_right: float = figure("ratio", 0, 0.9)
    law_error: float = figure("ratio", 0, 1)
    unknown: float = figure("difference", "0 F", "30 F")
    believed: float = figure("ratio", 0.5, 10)
    wet: float = figure("difference", "0 F", "10 F")
    flooded: float = figure("difference", "0 F", "30 F")
    same_size: tuple[float, float] = figure("ratio", 0.5, 2, 2, rising=True)
    furthest: float = figure("ratio", 0.1, 3)
    far: float = figure("difference", "5 F", "100 F")
    shown: float = figure("ratio", 0, 3)
    laws: Mapping[str, Law] = rows(Law, None, _of_law)


MIXED_AIR = "mixed air read"  # what enters the coil was read, as it is where the economizer is closed
USUAL = {RUNNING_AT: "high", "economizer": "closed", "gas path": "usual", "head pressure held by": "nothing"}
"""What a machine is doing where nobody says otherwise; another figure is right where it does something else."""


def mismatch(today: Machine, then: Machine, same_size: tuple[float, float]) -> Reason | None:
    """Why the good day cannot be this machine's, or is of no use to it; None where it may.

    same_size: nominal capacities whose ratio lies between these are one machine's.
    """
    if (today.mode == HEATING) != (then.mode == HEATING):
        return Reason("baseline-other-mode")
    if today.refrigerant and then.refrigerant and today.refrigerant.name != then.refrigerant.name:
        return Reason("baseline-other-refrigerant", {"was": then.refrigerant.name, "now": today.refrigerant.name})
    if today.metering and then.metering and today.metering != then.metering:
        return Reason("baseline-other-metering", {"was": then.metering, "now": today.metering})
    for name, usual in USUAL.items():
        was_so, is_so = (machine.words.get(name, usual) for machine in (then, today))
        if was_so != is_so and {was_so, is_so} != {usual, MIXED_AIR}:
            return Reason("baseline-other-state", {"fact": name, "was": was_so, "now": is_so})
    size, was = today.fact("nominal capacity"), then.fact("nominal capacity")
    if size and was and not same_size[0] < size / was < same_size[1]:
        return Reason("baseline-other-capacity")
    return None


class Projected(NamedTuple):
    """What the good day says of today's quantities, and which were left out: name -> why."""

    estimates: Mapping[str, Estimate]
    left_out: Mapping[str, Reason]

    @property
    def used(self) -> tuple[str, ...]:
        """The quantities that are judged by the good day."""
        return tuple(name for name, e in self.estimates.items() if e.good_day is not None)


def project(
    today: Visit,
    now: Mapping[str, Estimate],
    then: Mapping[str, Estimate],
    odd: Collection[str],
    figures: GoodDayFigures,
) -> Projected:
    """Today's estimates with what the good day expects of each.

    then: that day's estimates; odd: those of its quantities that were not right by what holds in general.
    """
    assert today.baseline is not None
    air, was = air_of(today, now), air_of(today.baseline, then)
    turned = turn(today.machine, now, then, figures)
    found = dict(now)
    left: dict[str, Reason] = {}
    for name, law in figures.laws.items():
        slopes, differ = law.slopes(today.machine), law.apart(today.machine)
        if name not in now or name not in then or slopes is None:
            continue
        if differ is None and name in odd:
            left[name] = Reason("baseline-figure-not-right", {"quantity": name})
            continue
        own = _in_this_air(law, slopes, today.machine, now[name], then[name], air, was, turned, figures)
        if own is None:
            continue
        result = _weighed(differ, now[name], then[name], *own, figures.believed)
        if isinstance(result, Reason):
            left[name] = result
            continue
        value, spread = result
        if "superheat" in name:
            value = max(value, 0.0)  # a flooded machine shows none, however far the law goes on
        sigma = _sigma(law, slopes, now[name], value, air)
        # in cooling the limits stand as far out as they must for its weather
        least = figures.shown * math.hypot(spread, sigma) if today.machine.mode == HEATING else 0.0
        expected = Target(value, spread, SOURCE, "baseline")
        found[name] = now[name]._replace(good_day=GoodDay(expected, now[name].value - value, sigma, least))
    return Projected(found, left)


def turn(machine: Machine, now: Mapping[str, Estimate], then: Mapping[str, Estimate], figures: GoodDayFigures) -> float:
    """How surely an orifice in heating fed otherwise on one of two days: dry or wet gas, liquid held or none; 0 to 1.

    Its own flow turns there with the weather. Liquid in the gas cools the discharge by an amount nobody reads (3 % of it by
    some 9 K), liquid at the end of the indoor coil takes surface from it.
    """
    if machine.mode != HEATING or machine.metering not in (FIXED_ORIFICE, None):
        return 0.0
    gone = [
        [clamp(1 - day[name].value / (2 * figures.wet), 0.0, 1.0) for day in (now, then)]
        for name in ("superheat", "subcooling")
        if name in now and name in then
    ]
    return max((abs(is_gone - was_gone) for is_gone, was_gone in gone), default=0.0)


# Air: what the laws ask for, with the effect of each source of error on it.
Air = Mapping[str, tuple[float, Mapping[str, float]]]


def air_of(visit: Visit, estimates: Mapping[str, Estimate]) -> Air:
    """The conditions of a visit by name: value in K, and how far each source of error moves it (one standard deviation)."""
    found: dict[str, tuple[float, Mapping[str, float]]] = {}
    for name in CONDITIONS:
        reading = visit.last.readings.get(name)
        if name in estimates:
            e = estimates[name]
            found[name] = (e.value, e.moves or {name: e.sigma})
        elif reading is not None:
            found[name] = (reading.value, {name: reading.error / 2})
    return found


def _in_this_air(
    law: Law,
    slopes: Slopes,
    machine: Machine,
    now: Estimate,
    then: Estimate,
    air: Air,
    was: Air,
    turned: float,
    figures: GoodDayFigures,
) -> tuple[float, float] | None:
    """An earlier day's value in today's air, and its standard deviation, in the mode of this machine."""
    wet = now.name in ("superheat", "coil superheat") and then.value < figures.wet
    hidden = figures.flooded if wet and machine.mode != HEATING else 0.0
    moved = _as_the_figure(law, now, then) if machine.mode == HEATING else 0.0
    wander = math.hypot(
        law.left(machine) * _further(law, machine, air, was, figures), hidden, turned * (law.turned or 0.0)
    )
    return _moved(law, slopes, then, air, was, figures, wander, hidden, moved)


def _further(law: Law, machine: Machine, air: Air, was: Air, figures: GoodDayFigures) -> float:
    """In heating: by how much more is left of a figure than between two like days, as the outdoor air of both lies apart."""
    name = CONDITIONS[0]
    if machine.mode != HEATING:
        return 1.0
    apart = abs(air[name][0] - was[name][0]) if name in air and name in was else figures.unknown
    return math.hypot(1.0, apart / (law.far or figures.far))


def _moved(
    law: Law,
    slopes: Slopes,
    then: Estimate,
    air: Air,
    was: Air,
    figures: GoodDayFigures,
    wander: float,
    hidden: float,
    moved: float,
) -> tuple[float, float] | None:
    """The good day's value in today's air, and its standard deviation. hidden: how much lower it was than shown.

    moved: by how much the general figure moved between the two days, where the law goes by that.
    """
    if law.by == "share" and then.value <= 0:
        return None
    error = figures.law_error if law.error is None else law.error
    shift, variance = moved - hidden, wander**2 + (error * moved) ** 2
    for slope, name in zip(slopes, CONDITIONS, strict=True):
        if slope == 0:
            continue
        if name in air and name in was:
            by = slope * (air[name][0] - was[name][0])
            shift += by
            variance += (error * by) ** 2
        else:
            variance += (slope * figures.unknown) ** 2
    read = _sigma(law, slopes, then, then.value, was)
    if law.by == "difference":
        return then.value + shift, math.hypot(math.sqrt(variance), read)
    value = then.value * math.exp(max(-figures.furthest, min(figures.furthest, shift)))
    return value, value * math.hypot(math.sqrt(variance), read / then.value)


def _as_the_figure(law: Law, now: Estimate, then: Estimate) -> float:
    """In heating: how far the general figure moved between the two days, as a share where the law goes by shares."""
    if now.target is None or then.target is None:
        return 0.0
    if law.by == "share":
        return math.log(now.target.value / then.target.value) if min(now.target.value, then.target.value) > 0 else 0.0
    return now.target.value - then.target.value


def _sigma(law: Law, slopes: Slopes, e: Estimate, value: float, air: Air) -> float:
    """Standard deviation of a measured quantity less what the law makes of the measured air.

    What both lean on is counted once: the return air is in the temperature difference and in what moves it.
    """
    if not e.moves:
        return e.sigma
    scale = value if law.by == "share" else 1.0
    effects = dict(e.moves)
    for slope, name in zip(slopes, CONDITIONS, strict=True):
        for source, by in air[name][1].items() if name in air and slope else ():
            effects[source] = effects.get(source, 0.0) - slope * scale * by
    return math.sqrt(sum(by * by for by in effects.values()))


class Moved(NamedTuple):
    """An earlier figure in today's air, had nothing else changed, SI. sigma: of today's figure less this one."""

    value: float
    sigma: float


def in_todays_air(
    today: Visit,
    now: Mapping[str, Estimate],
    earlier: Visit,
    then: Mapping[str, Estimate],
    name: str,
    figures: GoodDayFigures,
) -> Moved | None:
    """What an earlier visit's figure becomes in today's air, by its law, else as its expected value moves.

    None where neither is known, so that nobody can tell the weather from what was done to the machine.
    """
    now_is, was = now[name], then[name]
    law = figures.laws.get(name)
    slopes = law.slopes(today.machine) if law else None
    if law is not None and slopes is not None:
        air = air_of(today, now)
        turned = turn(today.machine, now, then, figures)
        own = _in_this_air(law, slopes, today.machine, now_is, was, air, air_of(earlier, then), turned, figures)
        if own is not None:
            value = max(own[0], min(was.value, 0.0)) if "superheat" in name else own[0]  # a flooded machine shows none
            return Moved(value, math.hypot(own[1], _sigma(law, slopes, now_is, own[0], air)))
    if now_is.target is None or was.target is None:
        return None
    by = now_is.target.value - was.target.value
    return Moved(was.value + by, math.hypot(was.difference_sigma, now_is.difference_sigma, figures.law_error * by))


def _weighed(
    differ: float | None, now: Estimate, then: Estimate, own: float, spread: float, believed: float
) -> tuple[float, float] | Reason:
    """The good day's word and the general figure, weighed by their spreads; or why the good day is left out."""
    general, before = now.target, then.target
    if differ is None:
        return own, spread
    as_share = now.kind == "ratio"
    if before is not None:
        usual = differ * (before.value if as_share else 1.0)
        if abs(then.value - before.value) > believed * math.hypot(usual, then.difference_sigma):
            return Reason("baseline-figure-far-off", {"quantity": now.name})
    if general is None:
        return own, spread
    differ *= general.value if as_share else 1.0
    if spread >= differ:
        return Reason("baseline-figure-no-surer", {"quantity": now.name})
    a, b = 1 / spread**2, 1 / differ**2
    return (own * a + general.value * b) / (a + b), 1 / math.sqrt(a + b)
