"""Readings of air, and of two places in a row, that cannot be: the wrong one is the warmer, the drier or the colder."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from diagnose.properties import humidity_ratio_from_wet_bulb, relative_humidity, wet_bulb
from diagnose.quantities.plausibility.view import Doubt, ReadingsView, around
from diagnose.units.columns import choose, holds, lesser, otherwise, usable
from diagnose.visit import FIXED_ORIFICE
from diagnose.visit.reason import Reason

FREEZING = 273.15  # K
_SUCTION = "suction pressure"


def humidity(view: ReadingsView) -> Iterator[Doubt]:
    """Wet bulb and relative humidity of one air must agree."""
    for side in ("return", "supply"):
        names = f"{side} air dry bulb", f"{side} air wet bulb", f"{side} air relative humidity"
        dry, wet, written = (view.value(name) for name in names)
        if dry is None or wet is None or written is None or not holds(wet <= dry):
            continue
        station = view.visit.machine.station_pressure
        water = humidity_ratio_from_wet_bulb(dry, wet, station)
        meant = None if water is None else relative_humidity(dry, water, station)
        if meant is not None:
            gap, width = view.limits.humidity_gap
            yield Doubt(
                Reason("humidity-contradicts-wet-bulb", {"side": side, "by_wet_bulb": meant, "written": written}),
                readings=names,
                set_aside=names[2:],
            ).times(around(abs(meant - written) - view.error(names[2]), gap, width))


WET, DAMP = "return air wet bulb", "return air relative humidity"


def no_rooms_humidity(view: ReadingsView) -> Iterator[Doubt]:
    """Return air too damp, by one meter alone, for a cooled house (a wick dries out), or without any water (a dead meter)."""
    dry, wet, damp = (view.value(name) for name in ("return air dry bulb", WET, DAMP))
    station, meant = view.visit.machine.station_pressure, None
    if dry is not None and wet is not None:
        water = humidity_ratio_from_wet_bulb(dry, lesser(wet, dry), station)
        meant = None if water is None else relative_humidity(dry, water, station)
    gap = None if meant is None or damp is None else around(abs(meant - damp), *view.limits.humidity_gap)
    alone = otherwise(gap, 1.0)
    for name, humidity in ((WET, meant), (DAMP, damp)):
        if humidity is not None:
            fog = around(humidity, *view.limits.fog) * alone
            yield Doubt(
                Reason("return-air-like-fog", {"reading": name, "humidity": humidity}),
                readings=(name,),
                set_aside=(name,),
                spoils=("air temperature split", "evaporator temperature difference"),
                holds_charge=view.visit.machine.metering == FIXED_ORIFICE,  # liquid shows the charge behind a valve
                check="measure-the-return-air",
            ).times(fog)
    if damp is not None:
        dead, other = 1.0 - around(damp, *view.limits.no_water), usable(wet)
        for weight, holds_it in ((choose(other, 0.0, dead), True), (choose(other, dead, 0.0), False)):
            yield Doubt(
                Reason("return-air-without-water", {"reading": DAMP, "humidity": damp}),
                readings=(DAMP,),
                set_aside=(DAMP,),
                holds_charge=holds_it,
                check="measure-the-return-air",
            ).times(weight)


class _Order(NamedTuple):
    """Two readings of which one must be the warmer. aside: what is set aside where it is not.

    Where the two may have been swapped neither can be trusted, so both are set aside.
    """

    code: str
    warm: str
    cold: str
    aside: tuple[str, ...]
    check: str | None = None


def _both(code: str, warm: str, cold: str, *more: str, check: str | None = None) -> _Order:
    return _Order(code, warm, cold, (warm, cold, *more), check)


ALWAYS_WARMER = (
    _both("return-wet-bulb-above-dry-bulb", "return air dry bulb", "return air wet bulb"),
    _both("supply-wet-bulb-above-dry-bulb", "supply air dry bulb", "supply air wet bulb"),
    _both("suction-line-above-discharge-line", "discharge line temperature", "suction line temperature"),
)

WARMER_COOLING = (
    _both(
        "supply-air-above-return-air", "return air dry bulb", "supply air dry bulb",
        "supply air wet bulb", "supply air relative humidity", check="note-the-mode",
    ),
    _both("supply-wet-bulb-above-return", "return air wet bulb", "supply air wet bulb"),
    _both("drier-outlet-above-inlet", "drier inlet temperature", "drier outlet temperature"),
    _Order(
        "metering-inlet-above-liquid-line", "liquid line temperature", "metering inlet temperature",
        ("metering inlet temperature",),
    ),
    _Order(
        "outdoor-air-above-condenser-leaving-air", "condenser leaving air temperature", "outdoor air temperature",
        ("condenser leaving air temperature",),
    ),
)  # fmt: skip

WARMER_HEATING = (
    _both("supply-air-below-return-air", "supply air dry bulb", "return air dry bulb", check="note-the-mode"),
    _both("drier-outlet-above-inlet", "drier inlet temperature", "drier outlet temperature"),
    _Order(
        "vapor-line-below-liquid-line",
        "vapour line temperature",
        "liquid line temperature",
        ("vapour line temperature",),
    ),
    _Order(
        "suction-tube-above-suction-line",
        "suction line temperature",
        "valve tube temperature",
        ("valve tube temperature",),
    ),
)

_NOT_COOLING = ("return air dry bulb", "supply air dry bulb")  # so the machine may not be cooling at all

_HOLD_CHARGE = {"return air wet bulb", "suction line temperature"}  # readings by which the charge is judged


def wrong_way_round(view: ReadingsView, orders: tuple[_Order, ...]) -> Iterator[Doubt]:
    """The colder of two places is read as the warmer one."""
    for order in orders:
        by, weight = view.above(order.cold, order.warm)
        if holds(weight > 0):
            aside = tuple(name for name in order.aside if name in view.visit.last.readings)
            yield Doubt(
                Reason(order.code, {"warm": order.warm, "cold": order.cold, "by": by, "set_aside": aside}),
                readings=(order.warm, order.cold),
                set_aside=aside,
                holds_charge=(order.warm, order.cold) == _NOT_COOLING or not _HOLD_CHARGE.isdisjoint(aside),
                holds_visit=(order.cold, order.warm) == _NOT_COOLING,  # nor heating, where it should
                check=order.check,
            ).times(weight)


def supply_air(view: ReadingsView) -> Iterator[Doubt]:
    """No air leaves the coil colder than what boils in it."""
    supply, evaporating = view.value("supply air dry bulb"), view.quantity("evaporating temperature")
    if supply is not None and evaporating is not None:
        by = evaporating[0] - supply
        yield Doubt(
            Reason("supply-air-too-cold", {"by": by}),
            readings=("supply air dry bulb", "suction pressure"),
            spoils=("air temperature split", "evaporator temperature difference"),
            holds_charge=True,
            check="measure-the-split",
        ).times(view.beyond(by, evaporating[1] + view.error("supply air dry bulb")))


def too_dry(view: ReadingsView) -> Iterator[Doubt]:
    """A wet bulb below that of air without any water."""
    for side in ("return", "supply"):
        dry, wet = view.value(f"{side} air dry bulb"), view.value(name := f"{side} air wet bulb")
        if dry is None or wet is None:
            continue
        station = view.visit.machine.station_pressure
        # Only where no humidity goes with it is it worth looking for how dry air can be.
        odd = choose(usable(humidity_ratio_from_wet_bulb(dry, lesser(wet, dry), station)), None, dry)
        driest = None if odd is None else wet_bulb(odd, 0.0, station)
        if driest is not None:
            yield Doubt(
                Reason("wet-bulb-below-dry-air", {"reading": name, "wet_bulb": wet, "driest": driest}),
                readings=(name,),
                set_aside=(name,),
                holds_charge=name in _HOLD_CHARGE,
                check="measure-the-return-air" if side == "return" else None,
            ).times(view.beyond(driest - wet, view.error(f"{side} air dry bulb", name)))


def frozen_wick(view: ReadingsView) -> Iterator[Doubt]:
    """At the freezing point nobody knows whether water or ice is on the wick."""
    for name in ("return air wet bulb", "supply air wet bulb"):
        wet = view.value(name)
        if wet is not None:
            yield Doubt(
                Reason("wick-at-freezing", {"reading": name, "wet_bulb": wet}), readings=(name,), set_aside=(name,)
            ).times(1.0 - around(abs(wet - FREEZING), *view.limits.freezing))


def too_cold_to_cool(view: ReadingsView) -> Iterator[Doubt]:
    """A suction pressure so low that hardly any refrigerant circulates, while the air is cooled: a digit is wrong."""
    returned, supply, low = (view.value(name) for name in ("return air dry bulb", "supply air dry bulb", _SUCTION))
    below = view.quantity("evaporator temperature difference")
    if returned is None or supply is None or low is None or below is None:
        return
    yield Doubt(
        Reason("suction-pressure-too-low-to-cool", {"suction": low, "split": returned - supply, "below": below[0]}),
        readings=(_SUCTION,),
        set_aside=(_SUCTION,),
        holds_charge=True,
        check="measure-superheat",
    ).times(
        lesser(around(returned - supply, *view.limits.moves_heat), around(below[0] - below[1], *view.limits.too_cold))
    )
