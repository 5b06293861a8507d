"""What each quantity should be on this machine, in this weather. The figures themselves stand in targets.py."""

from __future__ import annotations

from diagnose.properties import (
    EVAPORATOR_BELOW_DEW,
    Refrigerant,
    discharge_temperatures,
    saturation_pressure,
    saturation_temperature,
    targets,
)
from diagnose.properties.targets import F, NoTarget, Target
from diagnose.quantities import air_side, heating, refrigerant_side  # noqa: F401 - the quantities are declared before what is expected of them
from diagnose.quantities.registry import expected
from diagnose.units.columns import choose, clamp, given, greater, hypot, is_column, usable
from diagnose.visit import COOLING, FIXED_ORIFICE, HEATING


@expected("superheat", COOLING)
def superheat(
    metering: str,
    outdoor_air_temperature: float | None = None,
    return_wet_bulb: float | None = None,
    rated_superheat: float | None = None,
) -> Target | NoTarget | None:
    """Fixed orifice: the table of outdoor dry bulb and return wet bulb. Valve: the maker's value, else none."""
    if metering == FIXED_ORIFICE:
        return targets.target_superheat(outdoor_air_temperature, return_wet_bulb)
    return targets.valve_superheat_range(rated_superheat)[0] if given(rated_superheat) else None


@expected("subcooling", COOLING)
def subcooling(metering: str | None = None, rated_subcooling: float | None = None) -> Target | NoTarget | None:
    """The rating plate's, else what is typical; a fixed orifice is not charged by it, so there it is only typical."""
    return targets.subcooling(None if metering == FIXED_ORIFICE else rated_subcooling)


@expected("condensing over ambient", COOLING)
def condensing_over_ambient(seer: float | None = None) -> Target | NoTarget | None:
    """By efficiency class."""
    return targets.condensing_over_ambient(seer)


@expected("evaporator temperature difference", COOLING)
def evaporator_temperature_difference(
    airflow_per_ton: float | None = None,
    return_air_dry_bulb: float | None = None,
    return_wet_bulb: float | None = None,
) -> Target | NoTarget | None:
    """By airflow and by how damp the return air is, where they were measured."""
    return targets.evaporator_temperature_difference(airflow_per_ton, return_air_dry_bulb, return_wet_bulb)


@expected("air temperature split", COOLING)
def air_temperature_split(
    return_air_dry_bulb: float | None = None, return_wet_bulb: float | None = None
) -> Target | NoTarget | None:
    """By return dry and wet bulb, from the table's nearest edge where they lie beyond it; typical without a wet bulb."""
    found = targets.target_temperature_split(return_air_dry_bulb, return_wet_bulb)
    if isinstance(found, Target) and is_column(found.value):
        return targets.or_typical(found)
    if isinstance(found, NoTarget):
        return found.nearest or targets.typical_temperature_split()
    if isinstance(found.beyond, NoTarget):
        return found._replace(beyond=found.beyond.nearest)
    return found


NEAREST_LIQUID = 4 * F


@expected("liquid line approach", COOLING)
def liquid_line_approach(
    expected_condensing_over_ambient: Target | None = None,
    condensing_over_ambient: float | None = None,
    expected_subcooling: Target | None = None,
) -> Target | NoTarget | None:
    """Typical; on a machine that condenses far above the air, what is left of that after 10 °F of subcooling.

    It is a part of the condensing difference: where the plate asks for more or less subcooling, the liquid leaves as much
    nearer to the air or further from it (never nearer than 4 °F, judgement); where the machine condenses nearer the air
    than it should, the same part of what it does.
    """
    typical = targets.liquid_line_approach()
    if expected_condensing_over_ambient is None:
        return typical
    whole = expected_condensing_over_ambient.value
    ordinary = targets.subcooling(None).value
    value = greater(typical.value, whole - ordinary)
    if expected_subcooling is not None:
        value = greater(value + ordinary - expected_subcooling.value, NEAREST_LIQUID)
    if condensing_over_ambient is not None:
        part = clamp(condensing_over_ambient / whole, 0.0, 1.0)
        value = value * choose(usable(condensing_over_ambient), part, 1.0)
    return typical._replace(value=value, origin=expected_condensing_over_ambient.origin)


@expected("discharge superheat", COOLING)
def discharge_superheat(
    refrigerant: Refrigerant, suction_pressure: float, liquid_pressure: float
) -> Target | NoTarget | None:
    """What a sound compressor makes of ordinary suction vapor between these pressures; each refrigerant has its own."""
    return _discharge_superheat(refrigerant, suction_pressure, liquid_pressure, targets.ORDINARY_SUCTION_SUPERHEAT)


def _discharge_superheat(
    refrigerant: Refrigerant, suction_pressure: float, liquid_pressure: float, vapor: tuple[float, float]
) -> Target | None:
    """vapor: its superheat, and how far sound machines lie from it, K."""
    evaporating = saturation_temperature(refrigerant, "dew", suction_pressure)
    condensing = saturation_temperature(refrigerant, "dew", liquid_pressure)
    if evaporating is None or condensing is None:
        return None
    (efficiency, wander), (superheat, apart) = targets.SOUND_EFFICIENCY, vapor
    suction = evaporating + superheat
    each = (efficiency + wander, efficiency, efficiency - wander)
    cool, sound, hot = discharge_temperatures(refrigerant, suction, suction_pressure, liquid_pressure, each)
    if cool is None or sound is None or hot is None:
        return None
    above = choose(usable(cool + hot), sound - condensing, None)
    return Target(above, hypot((hot - cool) / 2, apart), "cycle-physics", "typical")


@expected("compression ratio", COOLING)
def compression_ratio(
    refrigerant: Refrigerant,
    outdoor_air_temperature: float,
    return_air_dry_bulb: float,
    expected_condensing_over_ambient: Target,
    expected_evaporator_temperature_difference: Target,
) -> Target | NoTarget | None:
    """From the expected condensing and evaporating temperatures in today's air.

    Spread 8 %: 5 °F (2.8 K) on the evaporating and 4 °F (2.2 K) on the condensing temperature at about 3 %/K and 2 %/K.
    """
    over_ambient, below = expected_condensing_over_ambient, expected_evaporator_temperature_difference
    condensing, evaporating = outdoor_air_temperature + over_ambient.value, return_air_dry_bulb - below.value
    found = _ratio(refrigerant, condensing, evaporating, 0.08)
    return found and found._replace(origin=targets.of_both(over_ambient.origin, below.origin))


@expected("cooling capacity", COOLING)
def cooling_capacity(
    return_wet_bulb: float | None = None, outdoor_air_temperature: float | None = None
) -> Target | NoTarget | None:
    """Share of nominal capacity in this weather; spread 8 %, between machines and their nominal figure (judgement)."""
    ratio = targets.capacity_ratio(return_wet_bulb, outdoor_air_temperature)
    inside = targets.weather_inside(return_wet_bulb, outdoor_air_temperature)
    return None if ratio is None else Target(ratio, 0.08 * ratio, "cutler-2013", "typical", inside)


@expected("current ratio", COOLING)
def current_ratio(
    return_wet_bulb: float | None = None, outdoor_air_temperature: float | None = None
) -> Target | NoTarget | None:
    """0.85 of the rating plate at 67/95 °F (plates state some 15 % more than the machine draws there; common practice,
    no source), moving with the weather as the power does; spread 10 %, judgement.
    """
    ratio = targets.power_ratio(return_wet_bulb, outdoor_air_temperature)
    inside = targets.weather_inside(return_wet_bulb, outdoor_air_temperature)
    return None if ratio is None else Target(0.85 * ratio, 0.085 * ratio, "cutler-2013", "typical", inside)


@expected("standing pressure excess")
def standing_pressure_excess() -> Target | NoTarget | None:
    """None: refrigerant alone."""
    return Target(0.0, 0.5 * F, "braun-li-2003", "typical")


@expected("drier temperature drop")
def drier_temperature_drop() -> Target | NoTarget | None:
    """None to speak of."""
    return Target(0.0, 0.3 * F, "common-practice", "typical")


# -- a heat pump while it heats ------------------------------------------------------------------------------------------


@expected("superheat", HEATING)
def superheat_in_heating(
    metering: str | None = None, outdoor_air_temperature: float | None = None
) -> Target | NoTarget | None:
    """An orifice follows the weather; a valve holds its own."""
    return targets.orifice_superheat_in_heating(outdoor_air_temperature) if metering == FIXED_ORIFICE else None


@expected("discharge superheat", HEATING)
def discharge_superheat_in_heating(
    refrigerant: Refrigerant,
    suction_pressure: float,
    liquid_pressure: float,
    expected_superheat: Target | None = None,
) -> Target | NoTarget | None:
    """As in cooling, but of the vapor that is expected, where anything is: in the cold an orifice brings none that is dry."""
    vapor = targets.ORDINARY_SUCTION_SUPERHEAT if expected_superheat is None else expected_superheat[:2]
    return _discharge_superheat(refrigerant, suction_pressure, liquid_pressure, vapor)


@expected("subcooling", HEATING)
def subcooling_in_heating(
    metering: str | None = None,
    rated_heating_subcooling: float | None = None,
    outdoor_air_temperature: float | None = None,
    accumulator: str | None = None,
) -> Target | NoTarget | None:
    """The maker's, else what charts print for valves; on an orifice it follows the weather. Else nothing is known of it."""
    if metering is None and rated_heating_subcooling is None:
        return None
    if metering == FIXED_ORIFICE and rated_heating_subcooling is None:
        return targets.orifice_subcooling_in_heating(outdoor_air_temperature, accumulator != "no")
    return targets.heating_subcooling(rated_heating_subcooling)


@expected("condensing over return air", HEATING)
def condensing_over_return_air(
    outdoor_air_temperature: float, metering: str | None = None, accumulator: str | None = None
) -> Target | NoTarget | None:
    """By the outdoor air, by what feeds the outdoor coil, and by where the spare charge lies."""
    return targets.condensing_over_return_air(outdoor_air_temperature, metering == FIXED_ORIFICE, accumulator != "no")


@expected("outdoor coil below outdoor air", HEATING)
def outdoor_coil_below_outdoor_air(
    outdoor_air_temperature: float, metering: str | None = None
) -> Target | NoTarget | None:
    """By the outdoor air, and by what feeds the outdoor coil."""
    return targets.outdoor_coil_below_outdoor_air(outdoor_air_temperature, metering == FIXED_ORIFICE)


@expected("air rise", HEATING)
def air_rise(outdoor_air_temperature: float) -> Target | NoTarget | None:
    """By the outdoor air."""
    return targets.air_rise(outdoor_air_temperature)


@expected("liquid over return air", HEATING)
def liquid_over_return_air(
    expected_condensing_over_return_air: Target, expected_subcooling: Target | None = None
) -> Target | NoTarget | None:
    """The expected condensing difference less the expected subcooling, at least 2 °F; spread 5 °F, as that of either."""
    if expected_subcooling is None:
        return None
    over_air = greater(expected_condensing_over_return_air.value - expected_subcooling.value, 2 * F)
    return Target(over_air, 5 * F, targets.HEATING_CHARTS, "typical")


@expected("indoor coil effectiveness", HEATING)
def indoor_coil_effectiveness(
    expected_air_rise: Target, expected_condensing_over_return_air: Target, metering: str | None = None
) -> Target | NoTarget | None:
    """The expected air rise over the expected condensing difference: 0.79 at 47 °F outdoors; spread 12 %.

    The charts' valve machines hold liquid in the coil. Behind an orifice little stands in it, so that a seventh more of it
    condenses (judgement; sound machines of two simulators show a seventh and a fifth).
    """
    share = expected_air_rise.value / greater(expected_condensing_over_return_air.value, 5.0)
    if metering == FIXED_ORIFICE:
        share = share * 1.15
    return Target(share, 0.12 * share, targets.HEATING_CHARTS, "typical")


@expected("current ratio", HEATING)
def current_ratio_in_heating(outdoor_air_temperature: float, metering: str | None = None) -> Target | NoTarget | None:
    """By the outdoor air, and by what feeds the outdoor coil."""
    return targets.heating_current_ratio(outdoor_air_temperature, metering == FIXED_ORIFICE)


@expected("heating capacity", HEATING)
def heating_capacity(outdoor_air_temperature: float) -> Target | NoTarget | None:
    """By the outdoor air."""
    return targets.heating_capacity_ratio(outdoor_air_temperature)


@expected("coefficient of performance", HEATING)
def coefficient_of_performance(outdoor_air_temperature: float) -> Target | NoTarget | None:
    """By the outdoor air."""
    return targets.heating_performance(outdoor_air_temperature)


@expected("compression ratio", HEATING)
def compression_ratio_in_heating(
    refrigerant: Refrigerant,
    outdoor_air_temperature: float,
    return_air_dry_bulb: float,
    expected_condensing_over_return_air: Target,
    expected_outdoor_coil_below_outdoor_air: Target,
) -> Target | NoTarget | None:
    """From the expected saturation temperatures in today's air; spread 9 %: 4 °F on the high and 3 °F on the low side."""
    return _ratio(
        refrigerant,
        return_air_dry_bulb + expected_condensing_over_return_air.value,
        outdoor_air_temperature - expected_outdoor_coil_below_outdoor_air.value,
        0.09,
    )


def _ratio(refrigerant: Refrigerant, condensing: float, evaporating: float, spread: float) -> Target | None:
    """Of the pressures at two temperatures, each the mean of a coil between its bubble and its dew temperature."""
    high = saturation_pressure(refrigerant, "bubble", condensing - refrigerant.glide / 2)
    low = saturation_pressure(refrigerant, "dew", evaporating + EVAPORATOR_BELOW_DEW * refrigerant.glide)
    if high is None or low is None:
        return None
    return Target(high / low, spread * high / low, "cycle-physics", "typical")
