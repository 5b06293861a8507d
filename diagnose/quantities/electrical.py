"""Quantities of the supply, the control circuit and the capacitors. Everything SI: V, F; shares of 1."""

from __future__ import annotations

from diagnose.quantities.registry import expected, quantity
from diagnose.targets import NoTarget, Target

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
    most = TOLERANCE if tolerance is None else tolerance
    return Target(max(-most, min(most, departure)), 0.0, "common-practice", "maker")


@quantity("voltage", "mean of the voltages between the lines", NEMA)
def mean_voltage(
    voltage_1_to_2: float, voltage_2_to_3: float | None = None, voltage_3_to_1: float | None = None
) -> float | None:
    """V; of a single phase the one there is."""
    taken = [each for each in (voltage_1_to_2, voltage_2_to_3, voltage_3_to_1) if each is not None]
    return sum(taken) / len(taken)


@quantity("small percent", "mean voltage / rated voltage", NEMA)
def supply_share(mean_voltage: float, rated_voltage: float) -> float | None:
    """The supply over the plate, 1."""
    return mean_voltage / rated_voltage


@quantity("small percent", "largest departure of a voltage from the mean / mean voltage", NEMA)
def voltage_imbalance(voltage_1_to_2: float, voltage_2_to_3: float, voltage_3_to_1: float) -> float | None:
    """Of a three-phase supply, 1."""
    lines = (voltage_1_to_2, voltage_2_to_3, voltage_3_to_1)
    mean = sum(lines) / 3
    return max(abs(each - mean) for each in lines) / mean if mean > 0 else None


@quantity("small percent", "contactor coil voltage / control voltage (24 V unless said)", "common-practice")
def coil_share(contactor_coil_voltage: float, control_voltage: float | None = None) -> float | None:
    """What the contactor's coil gets, over what it is made for, 1."""
    return contactor_coil_voltage / (CONTROL_VOLTAGE if control_voltage is None else control_voltage)
