"""The same machine when it was right: what its own good day says of today.

What holds in general (quantities/expectations.py) is the mean of many machines. One machine stands off that mean by its
coils, its line set and its charge, and keeps standing there. So its good day, moved to today's weather by a law a quantity,
says more. Both are weighed by how sure they are; the result is never less sure than the general figure alone.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from diagnose.quantities.uncertainty import Estimate, GoodDay
from diagnose.targets import F, Target
from diagnose.visit import FIXED_ORIFICE, Machine, Visit
from diagnose.visit.reason import Reason

SOURCE = "own-good-day"  # in rules/sources.yaml
CONDITIONS = ("outdoor air temperature", "return air dry bulb", "return wet bulb")
LAW_ERROR = 0.2
"""A law moves a figure with an error of a fifth of the move: machines differ in how they follow the weather. Judgement;
on simulated machines the slopes scatter by less."""
UNKNOWN = 4 * F
"""K; how far the air of two visits differs (one standard deviation) where one of them did not read it. Judgement."""
BELIEVED = 2.5
"""A good day that stands further off the general figure than this many standard deviations is no good day."""
WET = 1.5
"""K; below this superheat liquid may be carried along, and the figure no longer tells how much."""
FLOODED = 4 * F
"""K; how far below what it shows such a superheat stands, and how unsure that is. Judgement."""
SAME_SIZE = (0.9, 1.1)
"""Nominal capacities whose ratio lies between these are one machine's: rounded, or written in another unit. Judgement."""
FURTHEST = 1.0
"""A law that moves by shares moves a figure by a factor of e^±1 at most: beyond, it says nothing. Judgement."""

Slopes = tuple[float, float, float]  # by outdoor air, return dry bulb, return wet bulb


@dataclass(frozen=True, slots=True)
class Law:
    """How a quantity of a sound machine moves with the weather.

    kind: `difference`: slopes in K of the quantity a K of air (in its own unit a K, where it is no temperature);
    `share`: as a share of the quantity a K of air. wander: what is left of it from day to day, one standard deviation,
    SI, or a share for `share`. differ: how far sound machines differ from the general figure, one standard deviation, SI,
    as a share for ratios (None: there is no general figure). why: the physics.
    """

    kind: Literal["difference", "share"]
    orifice: Slopes
    valve: Slopes
    wander: float
    differ: float | None
    why: str


_STILL: Slopes = (0.0, 0.0, 0.0)


def _percent(outdoor: float, dry_bulb: float, wet_bulb: float) -> Slopes:
    """Percent a °F, as shares a K."""
    return outdoor / 100 / F, dry_bulb / 100 / F, wet_bulb / 100 / F


_ORIFICE_SUPERHEAT: Slopes = (-0.4, 0.3, 1.7)
_VALVE_SUPERHEAT: Slopes = (-0.05, 0.0, 0.15)

LAWS: Mapping[str, Law] = MappingProxyType(
    {
        "superheat": Law(
            "difference", _ORIFICE_SUPERHEAT, _VALVE_SUPERHEAT, 2.0 * F, 5.0 * F,
            "More head pressure pushes more through an orifice, a warmer and damper coil boils more; the slopes lie near the "
            "trade’s line (3 wet bulb - 80 - outdoor)/2. A valve nearly holds its superheat.",
        ),
        "coil superheat": Law("difference", _ORIFICE_SUPERHEAT, _VALVE_SUPERHEAT, 2.0 * F, None, "As superheat."),
        "subcooling": Law(
            "difference", (-0.1, 0.0, 0.15), (-0.05, 0.0, 0.0), 1.2 * F, 3.0 * F,
            "Charge that an orifice lets into the evaporator is missing from the condenser.",
        ),
        "condensing over ambient": Law(
            "share", _percent(-0.2, 0.0, 0.6), _percent(-0.2, 0.0, 1.2), 0.04, 2.5 * F,
            "In proportion to the heat the condenser must get rid of: more in damp return air, less in hot outdoor air.",
        ),
        "condenser air rise": Law("share", _percent(0.0, 0.0, 1.0), _percent(0.0, 0.0, 1.0), 0.04, None, "Heat over airflow."),
        "liquid line approach": Law(
            "difference", (0.1, 0.0, 0.0), (0.0, 0.0, 0.2), 1.0 * F, 3.0 * F,
            "Condensing over ambient less subcooling.",
        ),
        "evaporator temperature difference": Law(
            "difference", (-0.15, 1.0, -0.6), (-0.1, 0.9, -0.8), 1.0 * F, 4.0 * F,
            "A wet coil answers to the wet bulb of its air, hardly to the dry bulb.",
        ),
        "air temperature split": Law(
            "difference", (-0.05, 0.8, -0.8), (-0.05, 0.8, -0.8), 0.6 * F, 2.5 * F,
            "Damp air gives up water instead of temperature; the protocol’s table has like slopes.",
        ),
        "cooling capacity": Law(
            "share", _percent(-0.45, 0.0, 1.4), _percent(-0.45, 0.0, 1.4), 0.03, 0.08,
            "The slopes of the general capacity curve (cutler-2013).",
        ),
        "compression ratio": Law(
            "share", _percent(1.05, 0.0, -0.9), _percent(1.1, -0.1, -1.1), 0.02, 0.09,
            "Saturation pressures rise by 1 to 2 % a °F, the high one with the outdoor air, the low one with the wet bulb.",
        ),
        "compressor efficiency": Law("difference", _STILL, _STILL, 0.03, None, "Hardly moves between usual pressure ratios."),
        "discharge superheat": Law(
            "difference", (0.0, 0.0, 2.2), (0.45, 0.0, -0.4), 3.5 * F, None,
            "Rises with the pressure ratio and with the superheat of the suction gas.",
        ),
        "current ratio": Law(
            "share", _percent(1.2, 0.0, 0.3), _percent(1.2, 0.0, 0.3), 0.02, 0.1,
            "Nearly in proportion to the head pressure, which rises by a good 1 % a °F.",
        ),
        "airflow per ton": Law("share", _STILL, _STILL, 0.03, None, "Blower and ducts do not know the weather."),
        "static pressure": Law("share", _STILL, _STILL, 0.08, None, "As the airflow, squared."),
        "liquid line drop": Law("difference", _STILL, _STILL, 0.5 * F, None, "A line in still air loses a little heat."),
    }
)  # fmt: skip
"""Slopes and wander: what 1300 sound machines of the project's own simulator did between two days, and a laboratory heat
pump with a valve in eight kinds of weather (nistir-7350, App. D, as in cases/lab/no-fault-*), rounded to what lies between
them. The orifice, the current and the capacity stand on the simulator and the physics alone."""


def mismatch(today: Machine, then: Machine) -> Reason | None:
    """Why the good day cannot be this machine's, or is of no use to it; None where it may."""
    if today.mode == "heating" or then.mode == "heating":
        return Reason("baseline-in-heating")
    if today.refrigerant and then.refrigerant and today.refrigerant.name != then.refrigerant.name:
        return Reason("baseline-other-refrigerant", {"was": then.refrigerant.name, "now": today.refrigerant.name})
    if today.metering and then.metering and today.metering != then.metering:
        return Reason("baseline-other-metering", {"was": then.metering, "now": today.metering})
    size, was = today.fact("nominal capacity"), then.fact("nominal capacity")
    if size and was and not SAME_SIZE[0] < size / was < SAME_SIZE[1]:
        return Reason("baseline-other-capacity")
    return None


@dataclass(frozen=True, slots=True)
class Projected:
    """What the good day says of today's quantities, and which were left out: name -> why."""

    estimates: Mapping[str, Estimate]
    left_out: Mapping[str, Reason]

    @property
    def used(self) -> tuple[str, ...]:
        """The quantities that are judged by the good day."""
        return tuple(name for name, e in self.estimates.items() if e.good_day is not None)


def project(
    today: Visit, now: Mapping[str, Estimate], then: Mapping[str, Estimate], odd: Collection[str] = ()
) -> Projected:
    """Today's estimates with what the good day expects of each.

    then: that day's estimates; odd: those of its quantities that were not right by what holds in general.
    """
    assert today.baseline is not None
    air, was = air_of(today, now), air_of(today.baseline, then)
    found = dict(now)
    left: dict[str, Reason] = {}
    for name, law in LAWS.items():
        if name not in now or name not in then or today.machine.metering is None:
            continue
        if law.differ is None and name in odd:
            left[name] = Reason("baseline-figure-not-right", {"quantity": name})
            continue
        slopes = law.orifice if today.machine.metering == FIXED_ORIFICE else law.valve
        wet = name in ("superheat", "coil superheat") and then[name].value < WET
        own = _moved(law, slopes, then[name], air, was, FLOODED if wet else 0.0)
        if own is None:
            continue
        result = _weighed(law, now[name], then[name], *own)
        if isinstance(result, Reason):
            left[name] = result
            continue
        value, spread = result
        if "superheat" in name:
            value = max(value, 0.0)  # a flooded machine shows none, however far the law goes on
        sigma = _sigma(law, slopes, now[name], value, air)
        found[name] = replace(
            now[name], good_day=GoodDay(Target(value, spread, SOURCE, "baseline"), now[name].value - value, sigma)
        )
    return Projected(found, left)


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


def _moved(
    law: Law, slopes: Slopes, then: Estimate, air: Air, was: Air, hidden: float = 0.0
) -> tuple[float, float] | None:
    """The good day's value in today's air, and its standard deviation. hidden: how much lower it may have been than shown."""
    if law.kind == "share" and then.value <= 0:
        return None
    shift = variance = 0.0
    for slope, name in zip(slopes, CONDITIONS, strict=True):
        if slope == 0:
            continue
        if name in air and name in was:
            by = slope * (air[name][0] - was[name][0])
            shift += by
            variance += (LAW_ERROR * by) ** 2
        else:
            variance += (slope * UNKNOWN) ** 2
    variance += law.wander**2 + hidden**2
    shift -= hidden
    error = _sigma(law, slopes, then, then.value, was)
    if law.kind == "difference":
        return then.value + shift, math.hypot(math.sqrt(variance), error)
    value = then.value * math.exp(max(-FURTHEST, min(FURTHEST, shift)))
    return value, value * math.hypot(math.sqrt(variance), error / then.value)


def _sigma(law: Law, slopes: Slopes, e: Estimate, value: float, air: Air) -> float:
    """Standard deviation of a measured quantity less what the law makes of the measured air.

    What both lean on is counted once: the return air is in the temperature difference and in what moves it.
    """
    if not e.moves:
        return e.sigma
    scale = value if law.kind == "share" else 1.0
    effects = dict(e.moves)
    for slope, name in zip(slopes, CONDITIONS, strict=True):
        for source, by in air[name][1].items() if name in air and slope else ():
            effects[source] = effects.get(source, 0.0) - slope * scale * by
    return math.sqrt(sum(by * by for by in effects.values()))


def _weighed(law: Law, now: Estimate, then: Estimate, own: float, spread: float) -> tuple[float, float] | Reason:
    """The good day's word and the general figure, weighed by their spreads; or why the good day is left out."""
    general, before = now.target, then.target
    if law.differ is None:
        return own, spread
    as_share = now.kind == "ratio"
    if before is not None:
        usual = law.differ * (before.value if as_share else 1.0)
        if abs(then.value - before.value) > BELIEVED * math.hypot(usual, then.difference_sigma):
            return Reason("baseline-figure-far-off", {"quantity": now.name})
    if general is None:
        return own, spread
    differ = law.differ * (general.value if as_share else 1.0)
    if spread >= differ:
        return Reason("baseline-figure-no-surer", {"quantity": now.name})
    a, b = 1 / spread**2, 1 / differ**2
    return (own * a + general.value * b) / (a + b), 1 / math.sqrt(a + b)
