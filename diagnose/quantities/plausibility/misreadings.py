"""Slips of hand told by what the readings would mean without them: clamps or probes swapped, another refrigerant, a unit.

A list of what every running machine keeps to, sound or faulty, gives each way of reading a visit a strain: how far it lies
outside, in squares, as twice a negative log likelihood. A slip is named where the visit as written is strained beyond what
faults do, and one change of hand takes nearly all of it away; it has the more weight, the more of it that takes away. What
a fault alone can do is never called a slip.

What cannot be told is not said. Refrigerants with nearly the same pressures (R-410A, R-32 and R-454B; R-22, R-407C and
R-290) fit alike. Nor do running pressures show a gauge that is off its zero by a few psi.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from diagnose.properties import REFRIGERANTS, Refrigerant, refrigerant
from diagnose.properties.targets import F
from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.plausibility.saturations import off_the_refrigerant
from diagnose.quantities.plausibility.strain import (
    HIGH,
    LIQUID,
    LOW,
    OUTDOOR,
    RETURN,
    SUCTION,
    SUPPLY,
    WET,
    Values,
    saturations,
    strain,
    strains,
)
from diagnose.quantities.plausibility.view import HAIR, Doubt, ReadingsView, around
from diagnose.units.columns import choose, holds, is_column, lesser, one_of, otherwise, usable
from diagnose.visit.reason import Reason

READ_AGAIN = "read-the-pressures-again"

_BY_PRESSURE = (
    "superheat", "subcooling", "condensing over ambient", "return air over evaporating", "evaporating",
    "supply air over evaporating",
)  # fmt: skip


class Misreading(NamedTuple):
    """One way to read the visit otherwise, and how far that fits, 0 to 1.

    swapped: two readings in each other's place. gas: another refrigerant. factor: between the units of pressure.
    degrees: temperatures written in the other unit, and what was meant, K.
    """

    strain: float
    fits: float = 1.0
    swapped: tuple[str, str] | None = None
    gas: str | None = None
    factor: float | None = None
    degrees: Mapping[str, float] = {}

    @property
    def effort(self) -> int:
        """How much must go wrong for it: what cannot be at all, swaps, units, another refrigerant."""
        if self.swapped in TOLD_ELSEWHERE:
            return 0
        if self.swapped is not None:
            return 1 if self.swapped == (SUCTION, LIQUID) else 2
        return 4 if self.gas else 3


class AsWritten(NamedTuple):
    """The readings as they were written, K and Pa absolute, their limits of error, and their strain, figure by figure."""

    values: Values
    errors: Mapping[str, float]
    strains: Mapping[str, float]

    @property
    def strain(self) -> float:
        """All of it."""
        return sum(self.strains.values())


def as_written(view: ReadingsView) -> AsWritten:
    """The readings by which slips are told."""
    values = {name: v for name in (LOW, HIGH, SUCTION, LIQUID, OUTDOOR, RETURN, SUPPLY, WET)
              if (v := view.value(name)) is not None}  # fmt: skip
    errors, machine = _errors(view), view.visit.machine
    return AsWritten(
        values, errors, strains(machine.refrigerant, values, machine.station_pressure, view.limits, errors)
    )


def misread(view: ReadingsView) -> Iterator[Doubt]:
    """The slips of hand that explain the visit, each with its weight."""
    written = as_written(view)
    strange = around(written.strain, *view.limits.strained)
    if is_column(strange):
        from diagnose.quantities.plausibility import columnwise

        yield from columnwise.misread(view, strange)
        return
    eased, gained = view.limits.eased, view.limits.gained
    most = min(sum(eased), written.strain - gained[0] + gained[1]) + HAIR  # a way that is strained more fits not at all
    found = [] if strange <= 0 else sorted(ways(view, written, most), key=lambda way: way.strain)
    weighed = _weighed(found, written.strain, strange, view.limits)
    told = start = 0.0
    for way, weight in weighed:
        if way.swapped in TOLD_ELSEWHERE:
            told += weight
        elif way.gas is None:
            yield slip(view, way).times(weight).at(start)
            start += weight
    gases = [(way, weight) for way, weight in weighed if way.gas is not None]
    fitting = [way.gas for way, _ in gases if way.gas and way.strain <= gases[0][0].strain + view.limits.near]
    yield from off_the_refrigerant(view, fitting, sum(weight for _, weight in gases), told, start)


def _weighed(
    ways: list[Misreading], written: float, strange: float, limits: PlausibilityLimits
) -> list[tuple[Misreading, float]]:
    """The ways that may be, with their weights: how far each fits, times its share of the odds of all that fit."""
    found = []
    for way in ways:
        fits = min(
            strange,
            way.fits,
            1.0 - around(way.strain, *limits.eased),
            around(written - way.strain, *limits.gained),
        )
        if fits > 0:
            found.append((way, fits, way.strain + way.effort * limits.near))
    best = min((cost for _, _, cost in found), default=0.0)
    odds = [fits * math.exp((best - cost) / 2) for _, fits, cost in found]
    total = sum(odds)
    return [(way, fits * odd / total) for (way, fits, _), odd in zip(found, odds, strict=True)]


def _errors(view: ReadingsView) -> dict[str, float]:
    """Limits of error of the figures of `ranges` that are worked out as quantities, or from two thermometers."""
    found = {
        "liquid line over outdoor air": view.error(LIQUID, OUTDOOR),
        "liquid line over suction line": view.error(LIQUID, SUCTION),
        "suction line over the warmest air": view.error(SUCTION, OUTDOOR),
        "air temperature split": view.error(RETURN, SUPPLY),
    }
    for name, quantity in (
        ("superheat", "superheat"),
        ("subcooling", "subcooling"),
        ("condensing over ambient", "condensing over ambient"),
        ("return air over evaporating", "evaporator temperature difference"),
    ):
        have = view.quantity(quantity)
        found[name] = have[1] if have else 0.0
    return found


TOLD_ELSEWHERE = (
    (RETURN, WET),
    (RETURN, SUPPLY),
)  # told by what cannot be (impossible.py), and here only so that nothing else is
SWAPS: tuple[tuple[str, str], ...] = (*TOLD_ELSEWHERE, (SUCTION, LIQUID), (OUTDOOR, RETURN), (OUTDOOR, SUPPLY))
THERMOMETERS: tuple[tuple[str, ...], ...] = (
    (OUTDOOR,), (RETURN,), (SUPPLY,), (WET,), (SUCTION,), (LIQUID,), (SUCTION, LIQUID), (OUTDOOR, SUPPLY),
    (SUCTION, LIQUID, OUTDOOR),
)  # fmt: skip
"""What one thermometer that shows the other scale may have read; return air that is too cold for rooms is told before."""
_KPA = 6.894757  # kPa in a psi
_BAR = 100 / _KPA  # psi in a bar
FACTORS = (_KPA, 1 / _KPA, _BAR)


def ways(view: ReadingsView, written: AsWritten, most: float = math.inf) -> Iterator[Misreading]:
    """Every way to read the visit otherwise, with its strain; most: see `strain`."""
    gas, station, values = view.visit.machine.refrigerant, view.visit.machine.station_pressure, written.values

    def strained(changed: Values, of: Refrigerant | None = gas) -> float:
        same = None if RETURN in changed or WET in changed else written.strains.get("humidity", 0.0)
        return strain(of, {**values, **changed}, station, view.limits, written.errors, same, most)

    for one, other in SWAPS:
        if one in values and other in values:
            fits = _read(values, one, other)
            yield Misreading(strained({one: values[other], other: values[one]}), fits, swapped=(one, other))
    if LOW in values and HIGH in values:
        for factor in FACTORS:
            scaled = {n: station + (values[n] - station) * factor for n in (LOW, HIGH)}
            yield Misreading(strained(scaled), _read(values, LOW, HIGH), factor=factor)
    for names in THERMOMETERS:
        meant = {name: read for name in names if (read := _other_degrees(view, name)) is not None}
        if len(meant) == len(names):
            yield Misreading(strained(meant), _read(meant, *names), degrees=meant)
    if gas is None or LOW not in values or HIGH not in values:
        return
    off = lesser(_saturations_off(view, written), _read(values, LOW, HIGH))
    if holds(off > 0):
        for name in REFRIGERANTS:
            if name != gas.name:
                fits = lesser(off, 1.0 - _empty(gas, values, name, view.limits.liquid_fits))
                if holds(fits > 0):
                    yield Misreading(strained({}, refrigerant(name)), fits, gas=name)


def _read(values: Values, *names: str) -> float:
    """1 where all of these were read; of columns 0 in the other rows."""
    return choose(usable(sum([values[name] for name in names])), 1.0, 0.0)


def _other_degrees(view: ReadingsView, name: str) -> float | None:
    """What a temperature would be, K, if its number were of the other scale: 30 °C for 30 °F; None where none was read."""
    reading = view.visit.last.readings.get(name)
    if reading is None:
        return None
    fahrenheit, celsius = (one_of(reading.unit, scale) for scale in (("F", "°F"), ("C", "°C")))
    as_celsius = (reading.value - 273.15) / F + 32 + 273.15
    as_fahrenheit = (reading.value - 273.15 - 32) * F + 273.15
    return choose(fahrenheit, as_celsius, choose(celsius, as_fahrenheit, None))


def _saturations_off(view: ReadingsView, written: AsWritten) -> float:
    """How far it is the saturation temperatures that are off, 0 to 1."""
    by_pressure = sum([written.strains.get(name, 0.0) for name in _BY_PRESSURE])
    off = around(by_pressure, *view.limits.strained)
    return choose(written.strains.get("outside", 0.0) > 0, 1.0, off)


def _empty(gas: Refrigerant, values: Values, other: str, fits: tuple[float, float]) -> float:
    """How far the pressures are low for want of refrigerant on its way, not because it is the other one, 0 to 1.

    Then the liquid line still fits the condensing temperature, as it does not where the table is the wrong one.
    """
    condensing, liquid = saturations(gas.name, values[HIGH])[1], values.get(LIQUID)
    cold, real = (saturations(name, values[LOW])[0] for name in (gas.name, other))
    if condensing is None or liquid is None or cold is None or real is None:
        return 0.0
    limit, width = fits
    return choose(real > cold, otherwise(around(condensing - liquid, -limit, width), 0.0), 0.0)


def slip(view: ReadingsView, way: Misreading) -> Doubt:
    """What that way to read the visit doubts."""
    if way.swapped is not None:
        return _swapped(view, *way.swapped)
    if way.degrees:
        return _degrees(view, way.degrees)
    assert way.factor is not None
    return _unit(view, way.factor)


def _swapped(view: ReadingsView, one: str, other: str) -> Doubt:
    first, second = view.value(one), view.value(other)
    assert first is not None
    assert second is not None
    figures: dict[str, object] = {"one": one, "other": other, "first": first, "second": second}
    superheat, subcooling = view.quantity("superheat"), view.quantity("subcooling")
    if one == SUCTION and superheat is not None and subcooling is not None:
        figures |= {
            "superheat": superheat[0],
            "subcooling": subcooling[0],
            "superheat_swapped": superheat[0] + second - first,
            "subcooling_swapped": subcooling[0] + second - first,
        }
    return Doubt(
        Reason("clamps-swapped" if one == SUCTION else "air-thermometers-swapped", figures),
        readings=(one, other),
        set_aside=(one, other),
        holds_charge=True,
    )


def _unit(view: ReadingsView, factor: float) -> Doubt:
    low, high = view.value(LOW), view.value(HIGH)
    assert low is not None
    assert high is not None
    station = view.visit.machine.station_pressure
    suction, liquid = (station + (p - station) * factor for p in (low, high))
    figures = {"suction": suction, "liquid": liquid}
    return Doubt(
        Reason(
            "bar-written-as-psi" if factor == _BAR else "psi-written-as-kpa" if factor > 1 else "kpa-written-as-psi",
            figures,
        ),
        readings=(LOW, HIGH),
        set_aside=(LOW, HIGH),
        holds_charge=True,
        holds_visit=True,
        check=READ_AGAIN,
    )


def _degrees(view: ReadingsView, meant: Mapping[str, float]) -> Doubt:
    (name, first), *others = meant.items()
    written = view.value(name)
    assert written is not None
    figures: dict[str, object] = {"reading": name, "as_written": written, "meant": first}
    return scale_mistaken(
        tuple(meant), first > written, {**figures, "others": tuple(other for other, _ in others)} if others else figures
    )


def scale_mistaken(names: tuple[str, ...], warmer: bool, figures: Mapping[str, object]) -> Doubt:
    """Temperatures in the other scale; warmer: whether they were meant to be warmer than was written."""
    return Doubt(
        Reason("celsius-written-as-fahrenheit" if warmer else "fahrenheit-written-as-celsius", figures),
        readings=names,
        set_aside=names,
        holds_charge=True,
    )


def gauge_at_rest(view: ReadingsView) -> Iterator[Doubt]:
    """A gauge off its zero: at rest it shows no liquid is left, while the running machine has liquid in its condenser."""
    rest, subcooling = view.quantity("standing pressure excess"), view.quantity("subcooling")
    if rest is None or subcooling is None:
        return
    yield Doubt(
        Reason("standing-pressure-too-low", {"by": -rest[0], "subcooling": subcooling[0]}),
        readings=("standing pressure", "standing air temperature"),
        set_aside=("standing pressure",),
        holds_charge=True,
        check="rest-and-read",
    ).times(
        lesser(
            around(-rest[0] - rest[1], view.limits.below_rest, view.limits.at_rest),
            around(subcooling[0] - subcooling[1], view.limits.liquid_there, view.limits.at_rest),
        )
    )


def not_at_rest(view: ReadingsView) -> Iterator[Doubt]:
    """A pressure written as that of rest which is as high as on the running machine: one that runs needs more, air or none."""
    rest, standing, running = (
        view.quantity("standing pressure excess"),
        view.value("standing pressure"),
        view.value(HIGH),
    )
    if rest is None or standing is None or running is None:
        return
    yield Doubt(
        Reason("standing-pressure-as-when-running", {"standing": standing, "running": running}),
        readings=("standing pressure", HIGH),
        set_aside=("standing pressure",),
        holds_charge=True,
        check="rest-and-read",
    ).times(
        lesser(
            around(rest[0] - rest[1], view.limits.below_rest, view.limits.at_rest),
            around(standing / running, *view.limits.as_when_running),
        )
    )
