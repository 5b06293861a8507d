"""Quantities of a heat pump while it heats: the indoor coil condenses, the outdoor coil evaporates. SI: K, W, 1.

Superheat, subcooling, compression ratio and what belongs to the compressor are worked out as in cooling
(`refrigerant_side`): at the common suction port and at the liquid service valve.
"""

from __future__ import annotations

from diagnose.properties import Refrigerant, saturation_temperature
from diagnose.quantities.air_side import HANDBOOK
from diagnose.quantities.refrigerant_side import CYCLE
from diagnose.quantities.registry import of_two, quantity
from diagnose.units.columns import greater, otherwise, over
from diagnose.visit.fields import HEATING


@quantity(
    "difference",
    "condensing temperature (middle of bubble and dew) - return air dry bulb",
    "heating-charts",
    mode=HEATING,
)
def condensing_over_return_air(
    condensing_temperature: float, condensing_dew_temperature: float, return_air_dry_bulb: float
) -> float | None:
    """How far the indoor coil must be above the air of the house to give it the heat, K."""
    return (condensing_temperature + condensing_dew_temperature) / 2 - return_air_dry_bulb


@quantity(
    "difference",
    "outdoor air temperature - evaporating temperature (0.4 × bubble + 0.6 × dew)",
    "heating-charts",
    mode=HEATING,
)
def outdoor_coil_below_outdoor_air(outdoor_air_temperature: float, evaporator_mean_temperature: float) -> float | None:
    """How far the outdoor coil must be below the outdoor air to take its heat, K."""
    return outdoor_air_temperature - evaporator_mean_temperature


# How near the liquid comes to the air that cools it in the indoor coil, K: the difference there less subcooling.
# Backed-up liquid comes near the air; trapped air raises the pressure alone, and the liquid stays as far from the
# air.
of_two("liquid over return air", "liquid line temperature - return air dry bulb", CYCLE, mode=HEATING)


@quantity("temperature", "return air dry bulb", "common-practice", shown=False, mode=HEATING)
def heated_space(return_air_dry_bulb: float) -> float | None:
    """How warm the house is that is heated, K."""
    return return_air_dry_bulb


@quantity("difference", "supply air dry bulb - return air dry bulb", "heating-charts", mode=HEATING)
def air_rise(return_air_dry_bulb: float, supply_air_dry_bulb: float) -> float | None:
    """How much the indoor unit warms the air, K."""
    return supply_air_dry_bulb - return_air_dry_bulb


@quantity("ratio", "air rise / condensing over return air", HANDBOOK, mode=HEATING)
def indoor_coil_effectiveness(air_rise: float, condensing_over_return_air: float) -> float | None:
    """What the air takes of the warming that the coil offers, 1; a coil hardly warmer than the air is counted as 5 K warmer.

    Of a condenser 1 - exp(-conductance / (airflow × heat capacity)): the heat itself cancels, whatever the machine pumps.
    """
    return over(air_rise, greater(condensing_over_return_air, 5.0))


@quantity("capacity", "dry air flow × (1006 + 1860 × water content) × air rise", HANDBOOK, mode=HEATING)
def heat_to_the_air(dry_air_flow: float, air_rise: float, return_humidity_ratio: float | None = None) -> float | None:
    """Heat that the air of the house takes up, W; without a humidity 0.006 kg water per kg dry air."""
    return dry_air_flow * (1006.0 + 1860.0 * otherwise(return_humidity_ratio, 0.006)) * air_rise


# Heat over the nominal (cooling) capacity, 1.
of_two("heating capacity", "heat to the air / nominal capacity", "heating-charts", "ratio", mode=HEATING)


# Heat over the electric power of the whole machine, 1.
of_two("coefficient of performance", "heat to the air / electric power", CYCLE, "ratio", mode=HEATING)


@quantity(
    "difference",
    "dew temperature at the vapour line pressure - dew temperature at the liquid pressure",
    CYCLE,
    mode=HEATING,
)
def high_side_pressure_loss(
    refrigerant: Refrigerant, vapour_line_pressure: float, condensing_dew_temperature: float
) -> float | None:
    """Pressure lost between the hot gas line and the liquid port, as K of saturation temperature.

    What blocks the liquid before its port (a check valve, a strainer, a distributor) looks there like missing refrigerant; only
    the pressure of the gas that enters the indoor coil shows it.
    """
    entering = saturation_temperature(refrigerant, "dew", vapour_line_pressure)
    return None if entering is None else entering - condensing_dew_temperature


# How much warmer the suction gas leaves the reversing valve than it came, K.
of_two("suction tubes difference", "suction line temperature - valve tube temperature", "common-practice", mode=HEATING)
