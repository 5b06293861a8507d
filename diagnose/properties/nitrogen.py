"""Nitrogen in a closed system: its pressure after a change of temperature, as a real gas.

Belongs here: what a pressure test needs. Nothing but arithmetic; the tests hold it to CoolProp.
"""

from __future__ import annotations

from math import sqrt

GAS_CONSTANT = 8.314462618
"""J/(mol K), exact since 2019."""

# Critical point and acentric factor of nitrogen: Span et al., J. Phys. Chem. Ref. Data 29 (2000).
_CRITICAL_TEMPERATURE = 126.192  # K
_CRITICAL_PRESSURE = 3.3958e6  # Pa
_ACENTRIC = 0.0372

COLDEST, HOTTEST, HIGHEST = 240.0, 340.0, 6.0e6
"""K, K and Pa absolute: where the tests hold it, within 0.1 % of the pressure, for changes of up to 40 K."""


def second_virial(temperature: float) -> float:
    """Second virial coefficient of nitrogen, m³/mol, at a temperature in K.

    Pitzer's generalized correlation in Abbott's form, as Smith, Van Ness and Abbott print it (Introduction to Chemical
    Engineering Thermodynamics, chapter 3); from memory.
    """
    reduced = temperature / _CRITICAL_TEMPERATURE
    simple, shape = 0.083 - 0.422 / reduced**1.6, 0.139 - 0.172 / reduced**4.2
    return float(GAS_CONSTANT * _CRITICAL_TEMPERATURE / _CRITICAL_PRESSURE * (simple + _ACENTRIC * shape))


def pressure_after(pressure: float, temperature: float, then: float) -> float | None:
    """What a tight volume of nitrogen at this pressure (Pa absolute) and temperature (K) holds at another temperature (K).

    p = ρ R T (1 + B ρ) at the same density. At 500 psig an ideal gas moves by 8 % less. None outside 240 to 340 K and
    beyond 60 bar.
    """
    if not (all(COLDEST <= each <= HOTTEST for each in (temperature, then)) and 0.0 <= pressure <= HIGHEST):
        return None
    molar = GAS_CONSTANT * temperature
    b = second_virial(temperature)
    density = 2.0 * pressure / molar / (1.0 + sqrt(1.0 + 4.0 * b * pressure / molar))  # in a form that stands b = 0
    return density * GAS_CONSTANT * then * (1.0 + second_virial(then) * density)
