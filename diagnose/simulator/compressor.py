"""The compressor: how much it pumps, what that costs, how hot the gas leaves.

Efficiencies against pressure ratio have the shape of the 2-ton R-22 scroll whose AHRI 540 map stands in the project's
reference notes, worked back over 25..55 °F evaporating and 80..140 °F condensing:
volumetric 1 - 0.035 (r - 1), overall isentropic best x (1 - 0.7 ln²(r / 2.8)) with best 0.69. Other kinds have other laws
(`structure`).
"""

from __future__ import annotations

from math import log
from typing import NamedTuple

from diagnose.simulator.fluid import Saturation, isentropic_h, quality_of, vapour_at, vapour_rho
from diagnose.simulator.model import USUAL, Compressor, Faults, Plant

VOLTAGE, POWER_FACTOR = 230.0, 0.95
"""Single phase; the power factor of a loaded scroll with its run capacitor, taken as constant."""


class Pumped(NamedTuple):
    """What the compressor does."""

    flow: float  # kg/s net
    power: float  # W
    shell_heat: float  # W
    discharge_h: float  # J/kg
    suction_temperature: float  # K


def volumetric_efficiency(ratio: float, kind: Compressor = "scroll", loss: float = USUAL.pumping) -> float:
    """Pumped over swept volume: 1 - loss (r - 1), of a reciprocating one 1 - clearance (r^(1/n) - 1), n = 1.12."""
    swept_again = ratio ** (1.0 / 1.12) - 1.0 if kind == "reciprocating" else ratio - 1.0
    return max(1.0 - loss * swept_again, 0.3)


def overall_efficiency(best: float, ratio: float, peak: float = USUAL.peak, fall: float = USUAL.fall) -> float:
    """Loss-free work over electric power: best x (1 - fall ln²(ratio / peak))."""
    return best * max(1.0 - fall * log(max(ratio, 1.02) / peak) ** 2, 0.25)


def leaking(machine: Plant, faults: Faults, ratio: float) -> float:
    """Share of the compressed gas that slips back; past valves and rings it goes with the square root of the ratio."""
    leak = min(max(faults.valve_leakage, 0.0), 0.9)
    return leak if machine.structure.compressor == "scroll" else min(leak * (max(ratio, 1.0) / 2.8) ** 0.5, 0.9)


def compress(machine: Plant, faults: Faults, h: float, suction: Saturation, discharge: Saturation) -> Pumped:
    """Flow, power and discharge enthalpy from the suction enthalpy h (J/kg).

    Leaking valves let a share of the compressed gas slip back, where it warms and thins the suction gas: the net flow
    falls, the power little. Wet suction gas is denser by 1/x and its work smaller by x (work goes with volume). The
    discharge enthalpy follows from the energy balance: flow (h_d - h) = power - shell heat.
    """
    ref = machine.refrigerant
    ratio = discharge.pressure / suction.pressure
    law = machine.coefficients
    leak = leaking(machine, faults, ratio)
    efficiency = overall_efficiency(machine.efficiency, ratio, law.peak, law.fall)
    swept = machine.displacement * volumetric_efficiency(ratio, machine.structure.compressor, law.pumping)
    h_port, T_first = h, vapour_at(ref, h, suction)
    flow = power = shell = 0.0
    h_out = h
    T = T_first
    for _ in range(7 if leak > 0.0 else 1):
        dryness = min(max(quality_of(h_port, suction), 0.2), 1.0)
        rho = vapour_rho(ref, T, suction) / dryness
        gross = swept * rho
        dry_h = max(h_port, suction.vapour)
        work = max(isentropic_h(ref, T, suction, discharge) - dry_h, 100.0) * dryness
        power = gross * work / efficiency
        shell = machine.shell_loss * power
        flow = gross * (1.0 - leak)
        h_out = h + (power - shell) / flow
        h_port = (1.0 - leak) * h + leak * h_out
        if leak > 0.0:
            T = vapour_at(ref, h_port, suction)
    return Pumped(flow, power, shell, h_out, T_first)


def current(power: float) -> float:
    """Current (A) of the compressor alone."""
    return power / (VOLTAGE * POWER_FACTOR)
