"""Readings that cannot be, or hardly can: what is wrong with them and which slip is the likely cause.

Nothing is corrected here and nothing raises. A reading that physics forbids is set aside by name, so that what would
be worked out from it is missing instead of wrong; a doubt on which the charge would hang says so. No doubt is a switch:
each has a weight that grows with the distance from what can be, and what it sets aside keeps the rest of its say.
Every test allows for the instruments' limits of error first. The tests themselves are thermodynamics (heat flows from
warm to cold); the plausible ranges stand in rules/judgement.yaml.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from diagnose.properties import saturation_range, saturation_temperature
from diagnose.quantities.plausibility.air import (
    ALWAYS_WARMER,
    WARMER_COOLING,
    WARMER_HEATING,
    WET,
    frozen_wick,
    humidity,
    no_rooms_humidity,
    supply_air,
    too_cold_to_cool,
    too_dry,
    wrong_way_round,
)
from diagnose.quantities.plausibility.bounds import beyond_the_plate, same_air
from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.plausibility.misreadings import READ_AGAIN, gauge_at_rest, misread, not_at_rest
from diagnose.quantities.plausibility.view import ATMOSPHERE, Doubt, ReadingsView, around, ramp, taken
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.units.columns import choose, greater, holds, hypot, is_column, lesser, otherwise, usable
from diagnose.visit import FIXED_ORIFICE, HEATING, Visit
from diagnose.visit.reason import Reason

NOT_YET = 0.499  # weight up to which a pressure within the table is doubted: not firm


def doubts(
    visit: Visit, estimates: Mapping[str, Estimate], limits: PlausibilityLimits, textbook: bool = True
) -> tuple[Doubt, ...]:
    """Everything doubtful about the last round, most far-reaching first, each with its weight.

    textbook: whether the machine has the habits of most; on another one a reading off them is no slip.
    """
    view = ReadingsView(visit, estimates, limits)
    if visit.machine.mode == HEATING:  # the coils have changed places, and with them much of what cannot be
        return _in_heating(view)
    others = [*wrong_way_round(view, ALWAYS_WARMER + WARMER_COOLING), *too_dry(view), *frozen_wick(view)]
    above = taken(other for other in others if WET in other.set_aside)
    others += [doubt.after(above) for doubt in no_rooms_humidity(view)]
    others += [*humidity(view), *too_cold_to_cool(view), *beyond_the_plate(view)]
    unusable = [*_swapped_pressures(view), *_vacuum(view)]
    others += _digital_gauge(view)
    # Each of these says what is wrong instead of the next: what one takes of the whole is not there for the others.
    unused = taken(unusable)  # nothing on the refrigerant side can be judged by such pressures
    standing = [doubt.after(unused) for doubt in _not_pumping(view)]
    at_rest = [doubt.after(taken([*unusable, *standing])) for doubt in not_at_rest(view)]
    at_rest += [doubt.after(unused) for doubt in gauge_at_rest(view)]
    idle = taken([*unusable, *standing])  # what a running machine must show does not hold of one that stands
    slips = list(misread(view)) if textbook and holds(idle < 1) else []
    slips += [_where_no_slip(doubt, slips) for doubt in _beyond_the_table(view)]
    wrong = [doubt.after(idle) for doubt in slips]
    others = [
        doubt.after(taken(w for w in wrong if not set(w.set_aside).isdisjoint(doubt.set_aside)))
        for doubt in [*at_rest, *others]
    ]
    doubted = taken([*unusable, *standing, *wrong])
    rest: list[Doubt] = []
    if holds(doubted < 1):
        liquid = _liquid(view) if textbook else _subcooling(view)
        rest = [*_suction(view), *liquid, *_discharge(view), *supply_air(view)]
    rest = [doubt.after(doubted) for doubt in rest]
    if holds(idle < 1):
        rest += [doubt.after(doubted) for doubt in same_air(view)]
    return _weighed([*unusable, *standing, *wrong, *rest, *others])


def _where_no_slip(doubt: Doubt, slips: Iterable[Doubt]) -> Doubt:
    """The doubt, unless a slip says what is wrong with its readings."""
    slipped = sum([slip.weight for slip in slips if not set(slip.set_aside).isdisjoint(doubt.readings)])
    return doubt.times(choose(slipped > 0, 0.0, 1.0))


def _in_heating(view: ReadingsView) -> tuple[Doubt, ...]:
    """What cannot be of a heat pump that heats; slips that only the habits of cooling would show are not looked for."""
    others = [*wrong_way_round(view, ALWAYS_WARMER + WARMER_HEATING), *too_dry(view), *frozen_wick(view)]
    others += humidity(view)
    others += [*beyond_the_plate(view), *_digital_gauge(view)]
    unusable = [*_swapped_pressures(view), *_vacuum(view), *_beyond_the_table(view)]
    standing = [doubt.after(taken(unusable)) for doubt in _not_pumping(view)]
    idle = taken([*unusable, *standing])
    rest: list[Doubt] = []
    if holds(idle < 1):
        liquid = [*_subcooling(view), *_liquid_in_heating(view)]
        rest = [*_superheat(view), *liquid, *_discharge(view), *_heat_flows(view), *same_air(view)]
    others += [doubt.after(idle) for doubt in [*rest, *not_at_rest(view)]]
    return _weighed([*unusable, *standing, *others])


def _weighed(found: Iterable[Doubt]) -> tuple[Doubt, ...]:
    return tuple(doubt for doubt in found if holds(doubt.weight > 0))


def doubts_of_any_machine(
    visit: Visit, estimates: Mapping[str, Estimate], limits: PlausibilityLimits
) -> tuple[Doubt, ...]:
    """What cannot be whatever the machine is and does; also in heating, and outside what the rules were written for."""
    view = ReadingsView(visit, estimates, limits)
    return _weighed([*_vacuum(view), *wrong_way_round(view, ALWAYS_WARMER), *too_dry(view), *frozen_wick(view)])


_PRESSURES = ("suction pressure", "liquid pressure")


def _swapped_pressures(view: ReadingsView) -> Iterator[Doubt]:
    low, high = view.value("suction pressure"), view.value("liquid pressure")
    if low is not None and high is not None and holds((low > high) & (high > 0)):
        sigma = greater(view.error(*_PRESSURES) / COVERAGE, view.limits.least_share * high)
        beyond = ramp((low - high) / sigma, *view.limits.fading)
        yield Doubt(
            Reason("suction-above-liquid", {"suction": low, "liquid": high}),
            readings=_PRESSURES,
            set_aside=_PRESSURES,
            holds_charge=True,
            holds_visit=True,
            check=READ_AGAIN,
        ).times(
            lesser(beyond, around(low / high, *view.limits.standing_ratio))
        )  # nearer to each other nothing is pumped


def _vacuum(view: ReadingsView) -> Iterator[Doubt]:
    for name in _PRESSURES:
        pressure = view.value(name)
        if pressure is not None:
            yield Doubt(
                Reason("below-vacuum", {"reading": name, "pressure": pressure}),
                readings=(name,),
                set_aside=(name,),
                holds_charge=True,
                holds_visit=True,
                check=READ_AGAIN,
            ).times(1.0 - around(pressure / ATMOSPHERE, *view.limits.vacuum))


def _beyond_the_table(view: ReadingsView) -> Iterator[Doubt]:
    """A pressure that was read, and at which this refrigerant has no saturation temperature that is known.

    So near to the end of the table that its gauge may be off by as much, it begins to be doubted.
    """
    gas = view.visit.machine.refrigerant
    for name in _PRESSURES:
        pressure = view.value(name)
        if gas is None or pressure is None:
            continue
        low, high = saturation_range(gas)
        error = greater(view.error(name), COVERAGE * view.limits.least_share * pressure)
        near = greater(around(pressure, high, error), 1.0 - around(pressure, low, error))
        within = usable(saturation_temperature(gas, "dew", pressure))
        above = pressure > (low + high) / 2
        if is_column(above):
            yield from _beyond_in_columns(
                name, above, choose(within, lesser(near, NOT_YET), choose(usable(pressure), 1.0, None))
            )
            continue
        yield Doubt(
            Reason(
                "pressure-above-table" if above else "pressure-below-table",
                {"reading": name, "pressure": pressure, "end": high if above else low, "refrigerant": gas.name},
            ),
            readings=(name,),
            holds_charge=True,
            holds_visit=True,
            check=READ_AGAIN,
        ).times(min(near, NOT_YET) if within else 1.0)


def _beyond_in_columns(name: str, above: bool, weight: float) -> Iterator[Doubt]:
    """Of columns each end has a doubt of its own, for the code tells which."""
    for code, share in (
        ("pressure-above-table", choose(above, weight, None)),
        ("pressure-below-table", choose(above, None, weight)),
    ):
        yield Doubt(Reason(code), readings=(name,), holds_charge=True, holds_visit=True, check=READ_AGAIN).times(share)


# What only a running machine has: of one that stands these say nothing.
_OF_RUNNING = (
    "superheat", "coil superheat", "subcooling", "condensing over ambient", "evaporator temperature difference",
    "evaporating temperature", "condensing temperature", "compression ratio", "discharge superheat",
    "compressor efficiency", "air temperature split", "condenser air rise", "cooling capacity", "liquid line drop",
    "liquid line pressure loss", "drier temperature drop", "current ratio", "condensing over return air",
    "outdoor coil below outdoor air", "air rise", "heating capacity", "coefficient of performance", "high side pressure loss",
    "suction tubes difference", "running time", "superheat drift", "subcooling drift", "suction pressure drift",
    "liquid pressure drift", "superheat swing",
)  # fmt: skip


def _cools(view: ReadingsView) -> float:
    """How far the supply air is colder than any air about, as only a coil that boils refrigerant makes it, 0 to 1."""
    supply, around_it = view.value("supply air dry bulb"), ("return air dry bulb", "outdoor air temperature")
    if supply is None or view.visit.machine.mode == HEATING:
        return 0.0
    colder = [
        around(air - supply, *view.limits.moves_heat) for name in around_it if (air := view.value(name)) is not None
    ]
    return otherwise(lesser(*colder), 0.0) if len(colder) == len(around_it) else 0.0


def _hot_gas(view: ReadingsView) -> float:
    """How far the line at the suction gauge is hotter than the house, as in heating only discharge gas is, 0 to 1."""
    line, house = view.value("suction line temperature"), view.value("return air dry bulb")
    if line is None or house is None:
        return 0.0
    return otherwise(around(line - house, *view.limits.moves_heat), 0.0)


def _not_pumping(view: ReadingsView) -> Iterator[Doubt]:
    """Pressures that stand together, or a compressor without current."""
    low, high = view.value("suction pressure"), view.value("liquid pressure")
    current, rated = view.value("compressor current"), view.visit.machine.fact("rated current")
    idle = greater(view.limits.idle_current_share * otherwise(rated, 0.0), view.limits.idle_current)
    runs = current is not None and holds(current > idle)
    apart = 1.0
    if low is not None and high is not None and holds(low > 0):
        apart = around(high / low, *view.limits.standing_ratio)
        heats = view.visit.machine.mode == HEATING
        copied = (1.0 - apart) * (_hot_gas(view) if heats else _cools(view))
        both = {"suction": low, "liquid": high}
        yield Doubt(
            Reason("pressures-equal-while-it-heats", both) if heats else Reason("pressures-equal-while-it-cools", both),
            readings=_PRESSURES,
            set_aside=("suction pressure", "suction line temperature") if heats else _PRESSURES,
            holds_charge=True,
            check=READ_AGAIN,
        ).times(copied)
        yield Doubt(
            Reason("pressures-equal", {"suction": low, "liquid": high}),
            readings=_PRESSURES,
            spoils=_OF_RUNNING,
            holds_charge=True,
            check="clamp-the-current" if current is None else READ_AGAIN if runs else None,
        ).times(1.0 - apart - copied)
    if current is not None:  # with equal pressures a clamp that shows none only says the same
        misread = not is_column(current) and current > view.limits.idle_current  # then it is little by the plate alone
        yield (
            Doubt(
                Reason("no-compressor-current", {"current": current, "rated": rated if misread else None}),
                readings=("compressor current",),
                holds_charge=True,
                holds_visit=True,
                check="clamp-the-current",
            )
            .times(1.0 - around(current, idle, idle))
            .after(1.0 - otherwise(apart, 1.0))
        )


def _digital_gauge(view: ReadingsView) -> Iterator[Doubt]:
    """What a gauge works out itself must agree with the readings, where both are there."""
    for quantity, line, pressure in (
        ("superheat", "suction line temperature", "suction pressure"),
        ("subcooling", "liquid line temperature", "liquid pressure"),
    ):
        name = f"gauge {quantity}"
        shown, worked_out = view.value(name), view.quantity(quantity)
        if shown is None or worked_out is None or view.value(line) is None:
            continue
        yield Doubt(
            Reason(
                "gauge-superheat-contradicts" if quantity == "superheat" else "gauge-subcooling-contradicts",
                {"shown": shown, "worked_out": worked_out[0]},
            ),
            readings=(name, line, pressure),
            set_aside=(name,),
            holds_charge=True,
            check=f"measure-{quantity}",
        ).times(view.beyond(abs(shown - worked_out[0]), hypot(view.error(name), worked_out[1])))


def _superheat(view: ReadingsView) -> Iterator[Doubt]:
    superheat, line = view.quantity("superheat"), view.value("suction line temperature")
    if superheat is None:
        return
    read = "suction line temperature" if line is not None else "gauge superheat"
    yield Doubt(
        Reason(
            "suction-line-too-cold",
            {
                "by": -superheat[0],
                "absolute_gauge_fits": line is not None and not is_column(line) and _absolute_fits(view, line),
            },
        ),
        readings=(read, "suction pressure"),
        set_aside=(read,),
        holds_charge=True,
    ).times(view.beyond(-superheat[0], superheat[1], view.glide))


def _suction(view: ReadingsView) -> Iterator[Doubt]:
    yield from _superheat(view)
    superheat, subcooling = view.quantity("superheat"), view.quantity("subcooling")
    line, outdoor = view.value("suction line temperature"), view.value("outdoor air temperature")
    if line is not None and outdoor is not None:
        warmest = greater(outdoor, otherwise(view.value("return air dry bulb"), outdoor))
        yield Doubt(
            Reason("suction-line-above-air", {"line": line, "by": line - warmest}),
            readings=("suction line temperature", "outdoor air temperature"),
            set_aside=("suction line temperature",),
            holds_charge=True,
            check="measure-superheat",
        ).times(greater(around(line - warmest, *view.limits.above_air), _one_pipe(view, line, line - warmest)))
    coil = view.quantity("coil superheat")
    if superheat is not None and coil is not None:
        yield Doubt(
            Reason("suction-line-warmed", {"by": superheat[0] - coil[0], "coil": coil[0]}),
            readings=("suction line temperature", "coil outlet temperature"),
            spoils=("superheat",),
            holds_charge=view.visit.machine.metering == FIXED_ORIFICE,
        ).times(
            lesser(
                around(superheat[0] - coil[0], *view.limits.line_warms), 1.0 - around(coil[0], *view.limits.coil_is_fed)
            )
        )
    if superheat is not None and outdoor is not None and line is not None:
        liquid = 1.0 if subcooling is None else otherwise(around(subcooling[0], *view.limits.air_subcooling), 1.0)
        yield Doubt(
            Reason("suction-clamp-reads-air", {"line": line, "liquid_in_condenser": subcooling is not None}),
            readings=("suction line temperature", "outdoor air temperature"),
            set_aside=("suction line temperature",),
            holds_charge=True,
        ).times(
            lesser(
                lesser(
                    1.0 - around(abs(line - outdoor), *view.limits.same_as_air),
                    around(superheat[0], *view.limits.air_superheat),
                ),
                liquid,
            )
        )


def _one_pipe(view: ReadingsView, line: float, above: float) -> float:
    """How surely a suction line that is warmer than all air is the liquid line, for both clamps read the same, 0 to 1."""
    liquid = view.value("liquid line temperature")
    if liquid is None:
        return 0.0
    alike = 1.0 - around(abs(line - liquid), *view.limits.same_air)
    return otherwise(lesser(alike, around(above, *view.limits.air_subcooling)), 0.0)


def _absolute_fits(view: ReadingsView, line: float) -> bool:
    """Whether the suction line, K, would be right if the gauge showed absolute pressure."""
    gas, pressure = view.visit.machine.refrigerant, view.value("suction pressure")
    if gas is None or pressure is None:
        return False
    dew = saturation_temperature(gas, "dew", pressure - ATMOSPHERE)
    return dew is not None and 0 <= line - dew <= view.limits.as_gauge_superheat


def _liquid(view: ReadingsView) -> Iterator[Doubt]:
    over = view.quantity("condensing over ambient")
    if over is not None:
        least = 0.5 * view.limits.sound_over_ambient[0] * _cools(view)  # half of what a sound one needs for its heat
        yield Doubt(
            Reason("condensing-below-outdoor-air", {"by": -over[0]}),
            readings=("liquid pressure", "outdoor air temperature"),
            spoils=("condensing over ambient", "compression ratio"),
            holds_charge=True,
            check=EMPTY,
        ).times(view.beyond(least - over[0], over[1]))
    approach = view.quantity("liquid line approach")
    read = "gauge subcooling" if view.value("liquid line temperature") is None else "liquid line temperature"
    if approach is not None:
        yield Doubt(
            Reason("liquid-line-below-outdoor-air", {"by": -approach[0]}),
            readings=(read, "outdoor air temperature"),
            set_aside=(read, "outdoor air temperature"),
            holds_charge=True,
        ).times(view.beyond(-approach[0], approach[1]))
    yield from _subcooling(view)
    subcooling = view.quantity("subcooling")
    if subcooling is not None and approach is not None:
        yield Doubt(Reason("liquid-clamp-reads-air"), readings=(read, "outdoor air temperature")).times(
            lesser(
                1.0 - around(abs(approach[0]), *view.limits.liquid_same_as_air),
                around(subcooling[0], *view.limits.liquid_air_subcooling),
            )
        )


def _subcooling(view: ReadingsView) -> Iterator[Doubt]:
    subcooling = view.quantity("subcooling")
    read = "gauge subcooling" if view.value("liquid line temperature") is None else "liquid line temperature"
    if subcooling is not None:
        yield Doubt(
            Reason("liquid-line-too-warm", {"by": -subcooling[0]}),
            readings=(read, "liquid pressure"),
            set_aside=(read,),
            holds_charge=True,
        ).times(view.beyond(-subcooling[0], subcooling[1], view.glide))


def _liquid_in_heating(view: ReadingsView) -> Iterator[Doubt]:
    """The air of the house cools the liquid, and only the line outdoors can make it colder than that by a little.

    What boils ahead of the clamp may be as cold; it shows no subcooling.
    """
    over_air, subcooling = view.quantity("liquid over return air"), view.quantity("subcooling")
    if over_air is not None and subcooling is not None:
        yield Doubt(
            Reason("liquid-line-below-house-air", {"by": -over_air[0]}),
            readings=("liquid line temperature", "return air dry bulb"),
            set_aside=("liquid line temperature",),
            holds_charge=True,
            check="measure-subcooling",
        ).times(
            lesser(
                view.beyond(-over_air[0], over_air[1], view.limits.liquid_below_house),
                around(subcooling[0], *view.limits.liquid_air_subcooling),
            )
        )


EMPTY = "see-that-the-valves-are-open"
"""What is asked where hardly any refrigerant seems left: a closed valve or port shows the same."""
_OF_CONDENSING = ("liquid over return air", "indoor coil effectiveness")


def _heat_flows(view: ReadingsView) -> Iterator[Doubt]:
    """Heat flows from the outdoor air into the outdoor coil, and from the indoor coil into the air of the house.

    Where it cannot, a reading is wrong or in another unit, or hardly any liquid is there: nothing is ranked.
    """
    supply, house = view.value("supply air dry bulb"), view.value("return air dry bulb")
    warmed = not is_column(supply) and supply is not None and house is not None and supply >= house
    for name, reading, air, check, *more in (
        ("outdoor coil below outdoor air", "suction pressure", "outdoor air temperature", READ_AGAIN),
        ("condensing over return air", "liquid pressure", "return air dry bulb", EMPTY, *_OF_CONDENSING),
    ):
        difference = view.quantity(name)
        if difference is not None:
            yield Doubt(
                Reason("no-heat-in-heating", {"quantity": name, "reading": reading, "air": air, "by": -difference[0]}),
                readings=(reading, air),
                spoils=(name, "compression ratio", *more),
                holds_charge=True,
                holds_visit=True,
                check=check if warmed else "note-the-mode",
            ).times(view.beyond(-difference[0], difference[1]))


def _discharge(view: ReadingsView) -> Iterator[Doubt]:
    discharge = view.quantity("discharge superheat")
    if discharge is not None:
        yield Doubt(
            Reason("discharge-line-too-cold", {"by": -discharge[0]}),
            readings=("discharge line temperature", "liquid pressure"),
            set_aside=("discharge line temperature",),
        ).times(view.beyond(-discharge[0], discharge[1]))
