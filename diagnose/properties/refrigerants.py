"""Refrigerants: names, saturation, superheated vapour, liquid; looked up in the generated table in plain Python.

Belongs here: what a gauge and a pipe clamp need (pressure to temperature and back on the dew and the bubble line), and
the enthalpies, entropies and densities behind compressor efficiency and the pressure-enthalpy diagram. Superheat
counts from the **dew** line, subcooling from the **bubble** line, always.

Units: K, Pa absolute, J/kg, J/(kg K), kg/m3. The functions answer ``None`` outside the table and for anything that is
not a finite number; they raise only for a refrigerant or a line that does not exist. Enthalpy and entropy of one
refrigerant share one zero, which differs from refrigerant to refrigerant: only differences mean something.

The numbers come from ``saturation.json`` (written by ``table``): polynomials fitted to CoolProp, with the measured
error of every fit beside it. Nothing is imported but the standard library, so a look-up costs about a microsecond.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log
from pathlib import Path
from typing import Literal

from diagnose.properties.fits import (
    NOT_A_NUMBER,
    Entry,
    Fit,
    along,
    dew_at,
    horner,
    isentropic_end,
    read_entry,
    solve,
    superheat_of,
    surface,
    unchecked,
    value_of,
    vapour_state,
)
from diagnose.properties.names import FACTS, REFRIGERANTS, canonical
from diagnose.units.columns import choose, is_column

Line = Literal["dew", "bubble"]

# limits of error of the saturation temperature (K) by how well the underlying model is known
_WEAK = ("R-417A", "R-422B")
_ERRORS: dict[str, tuple[float, str]] = {
    "pure": (0.06, "pure fluid with a reference equation: 0.1 F"),
    "pseudo-pure": (0.17, "equation made for this blend, stated to within 0.5 % of pressure: 0.3 F"),
    "blend": (0.28, "mixture model stated to within 1 % of pressure: 0.5 F"),
    "weak": (1.1, "mixture model about 1 K from the published boiling points: 2 F"),
}


EVAPORATOR_BELOW_DEW = 0.4
"""How far the mean of an evaporator lies below its dew temperature, as a share of the glide: a fifth of the refrigerant comes
in as vapor already. A condenser lies midway."""


@dataclass(frozen=True)
class Refrigerant:
    """One refrigerant, as the trade speaks of it."""

    name: str  # "R-410A"
    safety: str  # ASHRAE 34 class, from memory: A1 no flame, A2L mildly flammable, A3 flammable
    glide: float  # K between bubble and dew at the dew pressure of 40 F
    saturation_error: float  # K, limit of error of the saturation temperature, published tables against ours
    error_reason: str
    critical_temperature: float  # K
    phase_down: str | None  # "ozone", "high GWP" or None, from memory


# --- names ----------------------------------------------------------------------------------------


def refrigerant(name: str) -> Refrigerant:
    """The refrigerant meant by R-410A, R410A, r410a, "R 410A", 410a, HFC-410A …; else raises ``UnknownRefrigerant``."""
    return _refrigerant(canonical(str(name)))


@lru_cache(maxsize=64)
def _refrigerant(name: str) -> Refrigerant:
    facts, found = FACTS[name], _table()[name]
    error, reason = _ERRORS["weak" if name in _WEAK else facts.kind]
    return Refrigerant(name, facts.safety, found.glide, error, reason, found.critical_temperature, facts.phase_down)


# --- the table in memory --------------------------------------------------------------------------

TABLE_FILE = Path(__file__).parent / "saturation.json"

# the fast path reads these three; they are filled once, by _table()
_ENTRIES: dict[str, Entry] = {}
_TEMPERATURES: dict[str, dict[str, Fit]] = {"dew": {}, "bubble": {}}
_PRESSURES: dict[str, dict[str, Fit]] = {"dew": {}, "bubble": {}}


@lru_cache(maxsize=1)
def _table() -> dict[str, Entry]:
    """The whole file, read on first use."""
    with TABLE_FILE.open(encoding="utf-8") as file:
        raw = json.load(file)["refrigerants"]
    table = {name: read_entry(raw[name]) for name in REFRIGERANTS if name in raw}
    for name, entry in table.items():
        for line in ("dew", "bubble"):
            _TEMPERATURES[line][name] = entry.temperatures[line]
            _PRESSURES[line][name] = entry.pressures[line]
    _ENTRIES.update(table)
    return table


def _entry(ref: str | Refrigerant) -> Entry:
    name = ref.name if isinstance(ref, Refrigerant) else ref
    return _ENTRIES.get(name) or _table().get(name) or _table()[canonical(str(name))]


def _fit_of(fits: dict[str, dict[str, Fit]], ref: str | Refrigerant, line: str) -> Fit:
    """The slow way to a fit: first use of the table, or a spelling other than the table's own."""
    if line not in fits:
        raise ValueError(f"no saturation line {line!r}: say 'dew' (superheat) or 'bubble' (subcooling)")
    _table()
    name = ref.name if isinstance(ref, Refrigerant) else str(ref)
    return fits[line].get(name) or fits[line][canonical(name)]


# --- saturation -----------------------------------------------------------------------------------


def saturation_temperature(ref: str | Refrigerant, line: Line, pressure: float) -> float | None:
    """Temperature (K) of the dew or bubble line at a pressure (Pa absolute); ``None`` outside the table.

    Polynomial of degree 12 in ln p, within 0.003 K of CoolProp, from -75 F to the lower of 160 F and 4 K below
    the critical point; from there another, within 0.01 K, to 0.25 K (a few blends: 1 K or so) below that point.
    """
    fits = _TEMPERATURES.get(line)
    fit = fits.get(ref.name if isinstance(ref, Refrigerant) else ref) if fits else None
    if fit is None:
        fit = _fit_of(_TEMPERATURES, ref, line)
    low, high, scale, shift, coefficients = fit
    if pressure.__class__ is not float and is_column(pressure):
        from diagnose.properties import columnwise

        return columnwise.temperature_at(fit, _entry(ref).top_temperatures[line], pressure)
    try:
        if not low <= pressure <= high:
            top = _entry(ref).top_temperatures[line]
            return unchecked(top, log(pressure)) if high < pressure <= top.high else None
        x = scale * log(pressure) + shift
    except NOT_A_NUMBER:
        return None
    found = 0.0  # ``horner`` written out: its call would cost a third of the time
    for c in coefficients:
        found = found * x + c
    return found


def saturation_range(ref: str | Refrigerant) -> tuple[float, float]:
    """The lowest and the highest pressure (Pa absolute) for which both lines answer."""
    entry = _entry(ref)
    low = max(fit.low for fit in entry.temperatures.values())
    return low, min(fit.high for fit in entry.top_temperatures.values())


def saturation_pressure(ref: str | Refrigerant, line: Line, temperature: float) -> float | None:
    """Pressure (Pa absolute) of the dew or bubble line at a temperature (K); ``None`` outside the table.

    Exponential of a polynomial of degree 12 in T; the round trip with ``saturation_temperature`` closes within 0.004 K.
    """
    fits = _PRESSURES.get(line)
    fit = fits.get(ref.name if isinstance(ref, Refrigerant) else ref) if fits else None
    if fit is None:
        fit = _fit_of(_PRESSURES, ref, line)
    low, high, scale, shift, coefficients = fit
    if temperature.__class__ is not float and is_column(temperature):
        from diagnose.properties import columnwise

        return columnwise.pressure_at(fit, _entry(ref).top_pressures[line], temperature)
    try:
        if not low <= temperature <= high:
            top = _entry(ref).top_pressures[line]
            return exp(unchecked(top, float(temperature))) if high < temperature <= top.high else None
        x = scale * float(temperature) + shift
    except NOT_A_NUMBER:
        return None
    found = 0.0
    for c in coefficients:
        found = found * x + c
    return exp(found)


# --- liquid ---------------------------------------------------------------------------------------


def liquid_density(ref: str | Refrigerant, temperature: float) -> float | None:
    """Density (kg/m3) of saturated liquid at a temperature (K); ``None`` outside the table."""
    return value_of(_entry(ref).density, temperature)


def liquid_enthalpy(ref: str | Refrigerant, temperature: float) -> float | None:
    """Enthalpy (J/kg) of saturated liquid at a temperature (K), same zero as the vapour; ``None`` outside the table."""
    return value_of(_entry(ref).enthalpy, temperature)


# --- superheated vapour ---------------------------------------------------------------------------


def vapour_enthalpy(ref: str | Refrigerant, temperature: float, pressure: float) -> float | None:
    """Enthalpy (J/kg) of superheated vapour at a temperature (K) and pressure (Pa absolute).

    For superheats from 0 (-0.5 K counts as 0) to 120 K, dew temperatures from -75 F to the lower of 155 F and 8 K
    below the critical point; ``None`` elsewhere. A polynomial in ln p and ln(1 + superheat / 12 K); its error stands
    in the table.
    """
    entry = _entry(ref)
    at = vapour_state(entry, temperature, pressure)
    return None if at is None else surface(entry.vapour.enthalpy, *at)


def vapour_density(ref: str | Refrigerant, temperature: float, pressure: float) -> float | None:
    """Density (kg/m3) of superheated vapour at a temperature (K) and pressure (Pa absolute); same domain.

    Pressure over the fitted product of pressure and specific volume, which is nearly constant along an isotherm.
    """
    entry = _entry(ref)
    at = vapour_state(entry, temperature, pressure)
    return None if at is None else float(pressure) / surface(entry.vapour.pressure_volume, *at)


def vapour_temperature(ref: str | Refrigerant, enthalpy: float, pressure: float) -> float | None:
    """Temperature (K) of superheated vapour with an enthalpy (J/kg) at a pressure (Pa absolute).

    The inverse of ``vapour_enthalpy``: ``None`` below saturated vapour, above 120 K of superheat, or outside its
    pressures.
    """
    entry = _entry(ref)
    v = entry.vapour
    if is_column(pressure):
        from diagnose.properties import columnwise

        return columnwise.vapour_temperature(entry, enthalpy, pressure)
    try:
        if not v.low <= pressure <= v.high:
            return None
        ln_p = log(pressure)
        x = v.scale * ln_p + v.shift
        heat = along(v.enthalpy, x)
        if not horner(heat, -1.0) <= enthalpy <= horner(heat, 1.0):
            return None
        z = solve(heat, float(enthalpy))
    except NOT_A_NUMBER:
        return None
    return dew_at(entry, ln_p) + superheat_of(v, z)


def isentropic_temperature(
    ref: str | Refrigerant, temperature: float, pressure: float, discharge_pressure: float
) -> float | None:
    """Temperature (K) after a loss-free compression of vapour (K, Pa) to a discharge pressure (Pa): same entropy.

    Where that compression ends slightly wet (R-600a, R-1234yf with little superheat) this is the dew temperature.
    ``None`` if the discharge pressure is not above the suction pressure or the end lies outside the table.
    """
    entry = _entry(ref)
    end = isentropic_end(entry, temperature, pressure, discharge_pressure)
    return None if end is None else end[0]


def discharge_temperatures(
    ref: str | Refrigerant,
    temperature: float,
    pressure: float,
    discharge_pressure: float,
    efficiencies: Iterable[float],
) -> tuple[float | None, ...]:
    """Temperatures (K) of vapour (K, Pa) compressed to a pressure (Pa) at isentropic efficiencies, without heat loss.

    ``None`` if the discharge pressure is not above the suction pressure or a state lies outside the table.
    """
    before, end = (
        vapour_enthalpy(ref, temperature, pressure),
        isentropic_end(_entry(ref), temperature, pressure, discharge_pressure),
    )
    return tuple(
        None
        if before is None or end is None
        else vapour_temperature(ref, before + (end[1] - before) / efficiency, discharge_pressure)
        for efficiency in efficiencies
    )


def isentropic_efficiency(
    ref: str | Refrigerant,
    suction_temperature: float,
    suction_pressure: float,
    discharge_temperature: float,
    discharge_pressure: float,
) -> float | None:
    """Loss-free work over real work of a compressor without heat loss: (h2s - h1) / (h2 - h1). K, Pa absolute.

    ``None`` where no work was done on the vapour (h2 <= h1) or a state lies outside the table. Above 1 when the shell
    loses much heat or a reading is wrong.
    """
    entry = _entry(ref)
    suction = vapour_state(entry, suction_temperature, suction_pressure)
    discharge = vapour_state(entry, discharge_temperature, discharge_pressure)
    end = isentropic_end(entry, suction_temperature, suction_pressure, discharge_pressure)
    if suction is None or discharge is None or end is None:
        return None
    before = surface(entry.vapour.enthalpy, *suction)
    work = surface(entry.vapour.enthalpy, *discharge) - before
    return (
        choose(work > 0.0, (end[1] - before) / work, None)
        if is_column(work)
        else (end[1] - before) / work
        if work > 0.0
        else None
    )
