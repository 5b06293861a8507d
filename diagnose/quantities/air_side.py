"""Quantities of the air: temperatures, humidity, flow, what the coil takes out of it. SI: K, kg/kg, J/kg, W, m³/s.

Moist air per kg of dry air, at the station pressure, so altitude is in it.
"""

from __future__ import annotations

from diagnose.properties import (
    dew_point,
    enthalpy,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_wet_bulb,
    relative_humidity,
    specific_volume,
    wet_bulb,
)
from diagnose.quantities.registry import of_two, quantity
from diagnose.units.columns import choose, is_column, lesser, otherwise, over, usable
from diagnose.visit.fields import COOLING

SAME_AIR = 3.0  # K by which supply and return air differ from which it is certain that one was cooled, or heated

HANDBOOK = "ashrae-fundamentals-2017"


def _humidity_ratio(dry_bulb: float, wet: float | None, humidity: float | None, pressure: float) -> float | None:
    """From the wet bulb, else from the relative humidity. A wet bulb a hair above the dry bulb is saturated air."""
    by_wet = None if wet is None else humidity_ratio_from_wet_bulb(dry_bulb, lesser(wet, dry_bulb), pressure)
    if humidity is None or (wet is not None and not is_column(wet)):
        return by_wet
    by_humidity = humidity_ratio_from_relative_humidity(dry_bulb, humidity, pressure)
    return by_humidity if wet is None else choose(usable(wet), by_wet, by_humidity)


@quantity("humidity", "from return dry bulb and wet bulb, or relative humidity", HANDBOOK, shown=False)
def return_humidity_ratio(
    return_air_dry_bulb: float,
    station_pressure: float,
    return_air_wet_bulb: float | None = None,
    return_air_relative_humidity: float | None = None,
) -> float | None:
    """Water in the return air, kg per kg dry air."""
    return _humidity_ratio(return_air_dry_bulb, return_air_wet_bulb, return_air_relative_humidity, station_pressure)


@quantity("humidity", "from supply dry bulb and wet bulb, or relative humidity", HANDBOOK, shown=False)
def supply_humidity_ratio(
    supply_air_dry_bulb: float,
    station_pressure: float,
    supply_air_wet_bulb: float | None = None,
    supply_air_relative_humidity: float | None = None,
) -> float | None:
    """Water in the supply air, kg per kg dry air."""
    return _humidity_ratio(supply_air_dry_bulb, supply_air_wet_bulb, supply_air_relative_humidity, station_pressure)


@quantity("temperature", "as measured, else from dry bulb and relative humidity", HANDBOOK)
def return_wet_bulb(
    station_pressure: float,
    return_air_wet_bulb: float | None = None,
    return_air_dry_bulb: float | None = None,
    return_humidity_ratio: float | None = None,
) -> float | None:
    """Wet bulb of the return air, K, measured or worked out."""
    read = return_air_wet_bulb
    if return_air_dry_bulb is None or return_humidity_ratio is None or (read is not None and not is_column(read)):
        return read
    if read is None:
        return wet_bulb(return_air_dry_bulb, return_humidity_ratio, station_pressure)
    without = ~usable(read)
    worked_out = wet_bulb(return_air_dry_bulb, choose(without, return_humidity_ratio, None), station_pressure)
    return choose(without, worked_out, read)


@quantity("temperature", "saturation at the water content of the return air", HANDBOOK)
def return_dew_point(return_humidity_ratio: float, station_pressure: float) -> float | None:
    """Dew point of the return air, K."""
    return dew_point(return_humidity_ratio, station_pressure)


@quantity("percent", "vapor pressure / saturation vapor pressure at the dry bulb", HANDBOOK)
def return_relative_humidity(
    return_air_dry_bulb: float, return_humidity_ratio: float, station_pressure: float
) -> float | None:
    """Relative humidity of the return air, 0 to 1."""
    return relative_humidity(return_air_dry_bulb, return_humidity_ratio, station_pressure)


# How far the indoor coil cools the air, K.
of_two("air temperature split", "return air dry bulb - supply air dry bulb", "ra3-2008", mode=COOLING)


@quantity(
    "temperature",
    "return air dry bulb, where the supply air is not warmer",
    "common-practice",
    shown=False,
    mode=COOLING,
)
def cooled_space(return_air_dry_bulb: float, supply_air_dry_bulb: float | None = None) -> float | None:
    """How warm the space is that is cooled, K; None where the two air thermometers changed places.

    The warmer the supply air seems, the less it says (`uncertainty`), until at 3 K nothing.
    """
    if supply_air_dry_bulb is None:
        return return_air_dry_bulb
    swapped = supply_air_dry_bulb > return_air_dry_bulb + SAME_AIR
    return choose(swapped, None, return_air_dry_bulb)


@quantity(
    "temperature",
    "supply air dry bulb, where it is warmer than the return air",
    "common-practice",
    shown=False,
    mode=COOLING,
)
def warmed_supply_air(return_air_dry_bulb: float, supply_air_dry_bulb: float) -> float | None:
    """How warm the supply air is that the indoor unit seems to warm, K; None where it cools."""
    return choose(supply_air_dry_bulb > return_air_dry_bulb, supply_air_dry_bulb, None)


@quantity(
    "temperature",
    "return air dry bulb, where the supply air is warmer",
    "common-practice",
    shown=False,
    mode=COOLING,
)
def warmed_room(return_air_dry_bulb: float, supply_air_dry_bulb: float) -> float | None:
    """How warm the room is that the indoor unit seems to heat, K; None where it cools."""
    return choose(supply_air_dry_bulb > return_air_dry_bulb, return_air_dry_bulb, None)


# How far the condenser warms the outdoor air, K.
of_two(
    "condenser air rise", "condenser leaving air temperature - outdoor air temperature", "common-practice", mode=COOLING
)
# Indoor airflow over nominal capacity, m³/(s·W); 400 cfm/ton is 5.37e-5.
of_two("airflow per ton", "airflow / nominal capacity", "ra3-2008", "airflow per capacity")


@quantity("small pressure", "as measured", "achr-airflow")
def static_pressure(external_static_pressure: float) -> float | None:
    """What the blower works against outside the unit, Pa."""
    return external_static_pressure


@quantity("energy", "airflow / specific volume of the return air", HANDBOOK, shown=False)
def dry_air_flow(
    airflow: float, return_air_dry_bulb: float, station_pressure: float, return_humidity_ratio: float | None = None
) -> float | None:
    """Dry air through the indoor coil, kg/s. Without a humidity the air is taken as half saturated at the density."""
    water = return_humidity_ratio
    if water is None or is_column(water):
        usual = humidity_ratio_from_relative_humidity(return_air_dry_bulb, 0.5, station_pressure)
        water = usual if water is None or usual is None else otherwise(water, usual)
    if water is None:
        return None
    volume = specific_volume(return_air_dry_bulb, water, station_pressure)
    return None if volume is None else over(airflow, volume)


@quantity("capacity", "dry air flow × (1006 + 1860 × water content) × air temperature split", HANDBOOK, mode=COOLING)
def sensible_capacity(
    dry_air_flow: float, air_temperature_split: float, return_humidity_ratio: float | None = None
) -> float | None:
    """Heat that shows as temperature, W."""
    return dry_air_flow * (1006.0 + 1860.0 * otherwise(return_humidity_ratio, 0.009)) * air_temperature_split


@quantity("capacity", "dry air flow × enthalpy difference of return and supply air", HANDBOOK, mode=COOLING)
def total_capacity(
    dry_air_flow: float,
    return_air_dry_bulb: float,
    return_humidity_ratio: float,
    supply_air_dry_bulb: float,
    supply_humidity_ratio: float,
) -> float | None:
    """All heat taken out of the air, W."""
    entering = enthalpy(return_air_dry_bulb, return_humidity_ratio)
    leaving = enthalpy(supply_air_dry_bulb, supply_humidity_ratio)
    return None if entering is None or leaving is None else dry_air_flow * (entering - leaving)


# Heat taken out with the water that condenses, W.
of_two("latent capacity", "total capacity - sensible capacity", HANDBOOK, "capacity")


# Share of the heat that shows as temperature.
of_two("sensible heat ratio", "sensible capacity / total capacity", HANDBOOK, "ratio")
# Capacity measured in the air over the nominal one, 1.
of_two("cooling capacity", "total capacity / nominal capacity", "cutler-2013", "ratio")
