"""Quantities of the supply, the control circuit and the capacitors. Everything SI: V, F; shares of 1."""

from __future__ import annotations

from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities.registry import expected, quantity
from diagnose.units.columns import choose, clamp, greater, otherwise, over, usable

NEMA = "nema-mg-1"
TOLERANCE = 0.06
"""Share by which a run capacitor may be off what is printed on it, where the visit does not say: usual cans say ± 6 %."""
CONTROL_VOLTAGE = 24.0
"""V of a contactor coil where the visit does not say (common practice)."""


@quantity("small percent", "capacitor / capacitor rating - 1", "common-practice")
def capacitor_departure(capacitor: float, capacitor_rating: float) -> float | None:
    """How far the compressor's run capacitor is off what is printed on it, as a share."""
    return capacitor / capacitor_rating - 1


@quantity("small percent", "fan capacitor / fan capacitor rating - 1", "common-practice")
def fan_capacitor_departure(fan_capacitor: float, fan_capacitor_rating: float) -> float | None:
    """The same of the outdoor fan's."""
    return fan_capacitor / fan_capacitor_rating - 1


@expected("capacitor departure")
def capacitor_within(capacitor_departure: float, capacitor_tolerance: float | None = None) -> Target | NoTarget | None:
    """The nearest that its tolerance allows."""
    return _within(capacitor_departure, capacitor_tolerance)


@expected("fan capacitor departure")
def fan_capacitor_within(
    fan_capacitor_departure: float, capacitor_tolerance: float | None = None
) -> Target | NoTarget | None:
    """The same of the outdoor fan's."""
    return _within(fan_capacitor_departure, capacitor_tolerance)


def _within(departure: float, tolerance: float | None) -> Target:
    most = otherwise(tolerance, TOLERANCE)
    return Target(clamp(departure, -most, most), 0.0, "common-practice", "maker")


@quantity("voltage", "mean of the voltages between the lines", NEMA)
def mean_voltage(
    voltage_1_to_2: float, voltage_2_to_3: float | None = None, voltage_3_to_1: float | None = None
) -> float | None:
    """V; of a single phase the one there is."""
    total, count = voltage_1_to_2, 1.0
    for each in (voltage_2_to_3, voltage_3_to_1):
        if each is not None:
            total, count = total + otherwise(each, 0.0), count + choose(usable(each), 1.0, 0.0)
    return total / count


@quantity("small percent", "mean voltage / rated voltage", NEMA)
def supply_share(mean_voltage: float, rated_voltage: float) -> float | None:
    """The supply over the plate, 1."""
    return mean_voltage / rated_voltage


@quantity("small percent", "largest departure of a voltage from the mean / mean voltage", NEMA)
def voltage_imbalance(voltage_1_to_2: float, voltage_2_to_3: float, voltage_3_to_1: float) -> float | None:
    """Of a three-phase supply, 1."""
    lines = (voltage_1_to_2, voltage_2_to_3, voltage_3_to_1)
    mean = sum(lines) / 3
    apart = [abs(each - mean) for each in lines]
    return over(greater(greater(apart[0], apart[1]), apart[2]), mean)


@quantity("small percent", "contactor coil voltage / control voltage (24 V unless said)", "common-practice")
def coil_share(contactor_coil_voltage: float, control_voltage: float | None = None) -> float | None:
    """What the contactor's coil gets, over what it is made for, 1."""
    return contactor_coil_voltage / otherwise(control_voltage, CONTROL_VOLTAGE)
