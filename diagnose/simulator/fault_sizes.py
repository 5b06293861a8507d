"""Which faults there are, and how large: faults of random size put on a machine.

Ranges are our judgement.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from diagnose.properties import liquid_density
from diagnose.simulator.fluid import sure
from diagnose.simulator.heat_pump import HeatPump
from diagnose.simulator.metering import port
from diagnose.simulator.model import PLAIN, USUAL, Faults, Mode, Plant, State

NOTHING_WRONG = "nothing-wrong"
FAULTS = (
    NOTHING_WRONG, "low-charge", "overcharge", "low-indoor-airflow", "low-outdoor-airflow", "liquid-line-restriction",
    "metering-underfeeding", "metering-overfeeding", "non-condensables", "weak-compressor",
)  # fmt: skip
HEATING_FAULTS = (
    *FAULTS, "reversing-valve-leaking", "check-valve-leaking", "defrost-fault", "supplementary-heat-on"
)  # fmt: skip
_APART = (
    {"low-charge", "overcharge"},
    {"metering-underfeeding", "metering-overfeeding"},
    {"metering-underfeeding", "check-valve-leaking"},
    {"low-outdoor-airflow", "defrost-fault"},
)


def together(one: str, other: str) -> bool:
    """Whether a machine may have both: not where they are opposites, or one swallows the other."""
    return {one, other} not in _APART


def faults_of(mode: Mode) -> tuple[str, ...]:
    """All that are drawn in a mode, "nothing-wrong" first."""
    return HEATING_FAULTS if mode == "heating" else FAULTS


_SIZES: Mapping[str, tuple[str, float, float]] = {
    "low-charge": ("charge", 0.60, 0.90),
    "overcharge": ("charge", 1.10, 1.40),
    "low-indoor-airflow": ("indoor_airflow", 0.40, 0.80),
    "low-outdoor-airflow": ("outdoor_airflow", 0.35, 0.75),
    "non-condensables": ("non_condensable", 0.0008, 0.006),
    "weak-compressor": ("valve_leakage", 0.10, 0.45),
    "reversing-valve-leaking": ("reversing_leakage", 0.06, 0.35),
    "defrost-fault": ("outdoor_airflow", 0.12, 0.45),
    "supplementary-heat-on": ("supplementary", 0.25, 0.75),
}
"""What a fault changes on any machine, and its smallest and largest size; the others depend on the metering device."""


def sized(chance: random.Random, fault: str, metering: str, on: Faults) -> tuple[Faults, float]:
    """A fault of random size put on top of others, and the size.

    Sizes: charge and airflow as fractions of right; restriction as a share of the design high-to-low difference; air as
    a share of the charge's mass; leakage as a share of what is pumped; metering as a fraction of the right flow area,
    of a TXV also the opening at which it is stuck, or the contact of its bulb. In heating: leakage of the reversing valve as a
    share of what is pumped; of the bypass round the outdoor device as a share of the area that this needs; airflow through
    the frost as a fraction; supplementary heat as a share of the nominal capacity.
    """
    if fault == NOTHING_WRONG:
        return on, 0.0
    what, low, high = _SIZES.get(fault) or _at_the_device(chance, fault, metering == "fixed orifice")
    size = chance.uniform(low, high)
    more: dict[str, Any] = {what: on.charge * size if what == "charge" else size}
    if fault == "low-outdoor-airflow":
        more["outdoor_coil"] = chance.uniform(0.85, 1.0)
    elif fault == "defrost-fault":
        more["outdoor_coil"] = chance.uniform(0.40, 0.80)
    elif fault == "liquid-line-restriction":
        more["restriction_at"] = chance.choices(("drier", "line end"), (0.75, 0.25))[0]
    return replace(on, **more), size


def _at_the_device(chance: random.Random, fault: str, orifice: bool) -> tuple[str, float, float]:
    """A line of `_SIZES` for faults that orifice and valve feel differently. Raises ValueError for a fault that is none."""
    if fault == "liquid-line-restriction":
        return ("restriction", 0.15, 0.80) if orifice else ("restriction", 0.40, 1.00)
    if (
        fault == "check-valve-leaking"
    ):  # a valve closes first: its bypass shows only where it passes more than the coil needs
        return ("check_leakage", 0.15, 0.80) if orifice else ("check_leakage", 0.80, 2.00)
    if (
        fault == "metering-underfeeding"
    ):  # too small or half plugged; a valve's screen plugged, it stuck, its bulb empty
        if orifice:
            return "metering_size", 0.60, 0.90
        return ("metering_size", 0.40, 0.60) if chance.random() < 0.5 else ("valve_opening", 0.15, 0.28)
    if fault == "metering-overfeeding":  # too large or not seated; a valve stuck open, or its bulb loose
        if orifice:
            return "metering_size", 1.12, 1.60
        return ("valve_opening", 0.65, 1.0) if chance.random() < 0.5 else ("bulb_contact", 0.0, 0.6)
    raise ValueError(f"no such fault: {fault}")


def stuck_on(machine: Plant, ill: Faults) -> Faults:
    """A stuck valve's opening on a machine whose valve works elsewhere: such that it passes the same against design."""
    if ill.valve_opening is None or (machine.structure is PLAIN and machine.coefficients is USUAL):
        return ill
    passed = (2.0 * ill.valve_opening - ill.valve_opening**2) / 0.75  # the plain valve's, which opens half at design
    area = min(passed * port(machine, machine.coefficients.opening), 1.0)
    return replace(ill, valve_opening=area if machine.structure.valve == "small" else 1.0 - (1.0 - area) ** 0.5)


def for_the_day(pump: HeatPump, sound: State, ill: Faults) -> Faults:
    """Faults of a heat pump's outdoor side, made as large for the day as they were drawn for design.

    In the cold much less flows and a valve has much to spare: what hurts in mild weather is not felt there, and is no fault
    that a visit could be about. sound: the machine in this weather without them.
    """
    machine = pump.turned
    ref, drop = pump.refrigerant, sound.metering_inlet_pressure - sound.evaporator_pressure
    if ill.restriction > 0.0:
        share = ill.restriction * (1.0 if machine.metering == "fixed orifice" else 1.4)
        rho = sure(liquid_density(ref, sound.liquid_temperature))
        ill = replace(ill, restriction=share * drop * rho / (sound.mass_flow**2 * machine.restriction_unit))
    if machine.metering == "fixed orifice":
        return ill
    need = port(machine, sound.valve_position) / port(machine, machine.coefficients.opening)
    if ill.check_leakage > 0.0:
        ill = replace(ill, check_leakage=ill.check_leakage * need)
    if ill.metering_size < 1.0:
        ill = replace(ill, metering_size=ill.metering_size * need)
    if ill.valve_opening is not None:
        closed = ill.valve_opening < 0.5
        area = port(machine, stuck_on(machine, ill).valve_opening or 0.0)
        area = min(area * (need if closed else 1.0), 1.0)
        small = machine.structure.valve == "small"
        ill = replace(ill, valve_opening=area if small else 1.0 - (1.0 - area) ** 0.5)
    return ill
