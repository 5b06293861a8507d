"""Quantities of the refrigerant circuit. Everything SI: K, Pa (absolute), 1.

Superheat is counted from the dew line, subcooling from the bubble line, always: for blends with glide the wrong line
would be an error of up to 11 °F (6 K). Where a quantity compares the whole coil with the air, the middle of the two
lines stands for the coil.
"""

from __future__ import annotations

from diagnose.properties import EVAPORATOR_BELOW_DEW, Refrigerant, isentropic_efficiency, saturation_temperature
from diagnose.quantities.air_side import SAME_AIR
from diagnose.quantities.registry import of_two, quantity
from diagnose.units.columns import choose, over, usable
from diagnose.visit.fields import COOLING

CYCLE = "moran-shapiro"  # textbook definition of the vapor-compression cycle

DRY = 1.0  # K of superheat from which suction vapor may be taken as dry


def _saturation(refrigerant: Refrigerant, line: str, pressure: float, table: float) -> float | None:
    """Saturation temperature, K; `table` is the error of the property table, K, 0 but when its effect is studied."""
    found = saturation_temperature(refrigerant, "dew" if line == "dew" else "bubble", pressure)
    return None if found is None else found + table


@quantity("temperature", "dew temperature at the suction pressure", "coolprop-8")
def evaporating_temperature(
    refrigerant: Refrigerant, suction_pressure: float, refrigerant_table: float
) -> float | None:
    """Where the last drop boils, K."""
    return _saturation(refrigerant, "dew", suction_pressure, refrigerant_table)


@quantity("temperature", "0.4 × bubble + 0.6 × dew temperature at the suction pressure", "coolprop-8", shown=False)
def evaporator_mean_temperature(
    refrigerant: Refrigerant, suction_pressure: float, evaporating_temperature: float, refrigerant_table: float
) -> float | None:
    """What the evaporator is to the air, K. A part of the refrigerant enters as vapor, so that it boils nearer the dew line."""
    bubble = _saturation(refrigerant, "bubble", suction_pressure, refrigerant_table)
    dew = evaporating_temperature
    return None if bubble is None else dew - EVAPORATOR_BELOW_DEW * (dew - bubble)


@quantity("temperature", "bubble temperature at the liquid pressure", "coolprop-8")
def condensing_temperature(refrigerant: Refrigerant, liquid_pressure: float, refrigerant_table: float) -> float | None:
    """Where the last bubble condenses, K."""
    return _saturation(refrigerant, "bubble", liquid_pressure, refrigerant_table)


@quantity("temperature", "dew temperature at the liquid pressure", "coolprop-8", shown=False)
def condensing_dew_temperature(
    refrigerant: Refrigerant, liquid_pressure: float, refrigerant_table: float
) -> float | None:
    """Where the discharge vapor begins to condense, K."""
    return _saturation(refrigerant, "dew", liquid_pressure, refrigerant_table)


@quantity("temperature", "evaporating temperature + superheat that the gauge shows", CYCLE, False, "gauge superheat")
def suction_line_temperature(evaporating_temperature: float, gauge_superheat: float) -> float | None:
    """Where it was not read itself: what the gauge took its superheat from, K. An error of the pressure is in both alike."""
    return evaporating_temperature + gauge_superheat


@quantity("temperature", "condensing temperature - subcooling that the gauge shows", CYCLE, False, "gauge subcooling")
def liquid_line_temperature(condensing_temperature: float, gauge_subcooling: float) -> float | None:
    """The same at the liquid service valve, K."""
    return condensing_temperature - gauge_subcooling


# How far the vapor at the suction service valve is above boiling, K.
of_two("superheat", "suction line temperature - evaporating temperature", CYCLE)
# How far the liquid at the liquid service valve is below boiling, K.
of_two("subcooling", "condensing temperature - liquid line temperature", CYCLE)
# Superheat where the suction line leaves the indoor coil, K.
of_two("coil superheat", "coil outlet temperature - evaporating temperature", CYCLE, mode=COOLING)
# Heat picked up between the indoor coil and the suction service valve, K.
of_two("suction line warming", "suction line temperature - coil outlet temperature", "common-practice", mode=COOLING)


@quantity(
    "difference",
    "condensing temperature (middle of bubble and dew) - outdoor air temperature",
    "college-text-notes",
    mode=COOLING,
)
def condensing_over_ambient(
    condensing_temperature: float, condensing_dew_temperature: float, outdoor_air_temperature: float
) -> float | None:
    """How far the condenser must be above the outdoor air to get rid of the heat, K."""
    return (condensing_temperature + condensing_dew_temperature) / 2 - outdoor_air_temperature


@quantity(
    "difference",
    "return air dry bulb - evaporating temperature (0.4 × bubble + 0.6 × dew)",
    "achr-airflow",
    mode=COOLING,
)
def evaporator_temperature_difference(return_air_dry_bulb: float, evaporator_mean_temperature: float) -> float | None:
    """How far the evaporator is below the air that enters it, K."""
    return return_air_dry_bulb - evaporator_mean_temperature


@quantity(
    "difference",
    "condensing temperature (middle of bubble and dew) - return air dry bulb, where the supply air is not colder",
    CYCLE,
    shown=False,
    mode=COOLING,
)
def indoor_lift(
    condensing_temperature: float,
    condensing_dew_temperature: float,
    return_air_dry_bulb: float,
    supply_air_dry_bulb: float | None = None,
) -> float | None:
    """How far the refrigerant condenses above the room, K: what a heat pump that heats must do.

    None where the supply air is colder than the return air: that room is being cooled. The colder it is, the less this says
    (`uncertainty`), until at 3 K nothing.
    """
    lift = (condensing_temperature + condensing_dew_temperature) / 2 - return_air_dry_bulb
    if supply_air_dry_bulb is None:
        return lift
    return choose(supply_air_dry_bulb < return_air_dry_bulb - SAME_AIR, None, lift)


@quantity(
    "difference",
    "condensing temperature (middle of bubble and dew) - outdoor air temperature, where no return air was read",
    CYCLE,
    shown=False,
    mode=COOLING,
)
def outdoor_lift(
    condensing_temperature: float,
    condensing_dew_temperature: float,
    outdoor_air_temperature: float,
    return_air_dry_bulb: float | None = None,
) -> float | None:
    """The same against the outdoor air, K; None where the room's own air tells it better."""
    lift = (condensing_temperature + condensing_dew_temperature) / 2 - outdoor_air_temperature
    return choose(usable(return_air_dry_bulb), None, lift)


@quantity("difference", "outdoor air temperature - evaporating temperature", CYCLE, shown=False, mode=COOLING)
def evaporating_below_outdoor_air(evaporating_temperature: float, outdoor_air_temperature: float) -> float | None:
    """How far the refrigerant boils below the outdoor air, K: in cooling on a warm day, and in heating."""
    return outdoor_air_temperature - evaporating_temperature


@quantity("temperature", "evaporating temperature, where no return air was read", CYCLE, shown=False, mode=COOLING)
def coil_of_an_unknown_space(evaporating_temperature: float, return_air_dry_bulb: float | None = None) -> float | None:
    """How cold the refrigerant boils, K; None where the air itself tells what is cooled."""
    return choose(usable(return_air_dry_bulb), None, evaporating_temperature)


# How near the liquid leaving the condenser comes to the outdoor air, K.
of_two("liquid line approach", "liquid line temperature - outdoor air temperature", "maker-4shp16lt", mode=COOLING)
# Cooling across the filter drier, K: liquid that loses pressure there begins to boil.
of_two("drier temperature drop", "drier inlet temperature - drier outlet temperature", "common-practice")
# Cooling between the liquid service valve and the metering device, K.
of_two("liquid line drop", "liquid line temperature - metering inlet temperature", "common-practice")


@quantity("difference", "condensing temperature - bubble temperature at the metering inlet pressure", CYCLE)
def liquid_line_pressure_loss(
    refrigerant: Refrigerant, condensing_temperature: float, metering_inlet_pressure: float, refrigerant_table: float
) -> float | None:
    """Pressure lost between the liquid service valve and the metering device, as K of saturation temperature.

    Liquid that was subcooled by less than this has begun to boil. In degrees one limit serves every refrigerant.
    """
    arriving = _saturation(refrigerant, "bubble", metering_inlet_pressure, refrigerant_table)
    return None if arriving is None else condensing_temperature - arriving


@quantity("ratio", "liquid pressure / suction pressure, both absolute", CYCLE)
def compression_ratio(liquid_pressure: float, suction_pressure: float) -> float | None:
    """How many times the compressor raises the absolute pressure."""
    return over(liquid_pressure, suction_pressure)


@quantity("percent", "(liquid pressure - suction pressure) / suction pressure, both absolute", CYCLE, shown=False)
def pressure_gap(liquid_pressure: float, suction_pressure: float) -> float | None:
    """How far the liquid pressure is above the suction pressure, as a share of it: nothing where the machine stands."""
    return over(liquid_pressure - suction_pressure, suction_pressure)


@quantity("difference", "discharge line temperature - dew temperature at the liquid pressure", CYCLE)
def discharge_superheat(discharge_line_temperature: float, condensing_dew_temperature: float) -> float | None:
    """How far the discharge vapor is above condensing, K."""
    return discharge_line_temperature - condensing_dew_temperature


@quantity(
    "ratio",
    "isentropic enthalpy rise / enthalpy rise that the discharge temperature shows",
    CYCLE,
)
def compressor_efficiency(
    refrigerant: Refrigerant,
    suction_line_temperature: float,
    suction_pressure: float,
    discharge_line_temperature: float,
    liquid_pressure: float,
    superheat: float,
) -> float | None:
    """Isentropic efficiency that the discharge temperature implies, 0 to 1.

    Holds for dry suction vapor only (wet vapor makes any value possible), so None below 1 K superheat, and in part
    below 2 K and above 1.2: at 2 it says nothing. Heat lost by the shell and the line makes it read high, the pressure
    drop of the coils a little low.
    """
    dry = superheat >= DRY
    if dry is False:
        return None
    found = isentropic_efficiency(
        refrigerant, suction_line_temperature, suction_pressure, discharge_line_temperature, liquid_pressure
    )
    return choose(dry, found, None)


# Compressor current over the rating plate's, 1.
of_two("current ratio", "compressor current / rated current", "common-practice", "ratio")


@quantity("difference", "bubble temperature at the standing pressure - standing air temperature", "braun-li-2003")
def standing_pressure_excess(
    refrigerant: Refrigerant, standing_pressure: float, standing_air_temperature: float, refrigerant_table: float
) -> float | None:
    """Unit off, all of one temperature: how far the pressure is above what the refrigerant alone would have, K.

    Bubble line, because at rest most of the charge is liquid.
    """
    found = _saturation(refrigerant, "bubble", standing_pressure, refrigerant_table)
    return None if found is None else found - standing_air_temperature
