"""One refrigerant's part of the table in memory, and how its polynomials are evaluated. See ``refrigerants`` and ``table``.

Units: K, Pa absolute, J/kg, J/(kg K), kg/m3. ``None`` outside a range and for anything that is not a finite number; in a
column nan (``columnwise``).
"""

from __future__ import annotations

from collections.abc import Iterable
from math import log
from typing import Any, NamedTuple

from diagnose.units.columns import clamp, exp, is_column
from diagnose.units.columns import log as log_of

SUPERHEAT_SCALE = 12.0
"""K. The vapour fits run in ln(1 + superheat / this): heat capacity changes fastest just above the dew line."""

SUPERHEAT_SLACK = 0.5
"""K. Vapour this little below the dew line is a thermometer's error: taken as saturated."""

NOT_A_NUMBER = (TypeError, ValueError, ArithmeticError)
"""What comparing or converting something that is no number may raise."""

WETTEST_END = 30e3  # J/kg below saturated vapour; an isentropic compression that ends wetter is no air conditioner's


class Fit(NamedTuple):
    """A polynomial in (scale * argument + shift), highest power first, valid for arguments low..high."""

    low: float
    high: float
    scale: float
    shift: float
    coefficients: tuple[float, ...]


class Vapour(NamedTuple):
    """Polynomials in x = scale * ln p + shift and z = superheat_scale * ln(1 + superheat / SUPERHEAT_SCALE) - 1.

    Rows run over the powers of z, highest first; each row over the powers of x, highest first.
    """

    low: float  # Pa
    high: float
    scale: float
    shift: float
    superheat: float  # K, the largest
    superheat_scale: float
    enthalpy: tuple[tuple[float, ...], ...]
    entropy: tuple[tuple[float, ...], ...]
    pressure_volume: tuple[tuple[float, ...], ...]  # pressure over density, J/kg: nearly constant along an isotherm


class Entry(NamedTuple):
    """One refrigerant's part of the table, ready to evaluate."""

    critical_temperature: float
    glide: float
    temperatures: dict[str, Fit]  # of pressure, by line
    pressures: dict[str, Fit]  # ln of, of temperature, by line
    top_temperatures: dict[str, Fit]  # the same, from there to just below the critical point
    top_pressures: dict[str, Fit]
    density: Fit  # of saturated liquid, of temperature
    enthalpy: Fit
    vapour: Vapour


def _scaled(ends: list[float]) -> tuple[float, float]:
    """Scale and shift that take the interval to -1..1."""
    low, high = ends
    return 2.0 / (high - low), -(high + low) / (high - low)


def _fit(answered: list[float], fitted: list[float], coefficients: list[float]) -> Fit:
    low, high = answered
    scale, shift = _scaled(fitted)
    return Fit(low, high, scale, shift, tuple(coefficients))


def read_entry(raw: dict[str, Any]) -> Entry:
    """One refrigerant of the file (see ``table``) as an ``Entry``."""
    temperatures, pressures = _lines(raw)
    top_temperatures, top_pressures = _lines(raw["top"])
    v = raw["vapour"]
    low, high = v["p"]
    scale, shift = _scaled(v["fit ln p"])
    vapour = Vapour(
        low,
        high,
        scale,
        shift,
        v["superheat"],
        2.0 / log(1.0 + v["superheat"] / SUPERHEAT_SCALE),
        tuple(map(tuple, v["h"])),
        tuple(map(tuple, v["s"])),
        tuple(map(tuple, v["pv"])),
    )
    density = _fit(raw["T"], raw["fit T"], raw["liquid"]["density"])
    enthalpy = _fit(raw["T"], raw["fit T"], raw["liquid"]["h"])
    found = temperatures, pressures, top_temperatures, top_pressures
    return Entry(raw["Tc"], raw["glide"], *found, density, enthalpy, vapour)


def _lines(raw: dict[str, Any]) -> tuple[dict[str, Fit], dict[str, Fit]]:
    """Temperature of pressure and logarithm of pressure of temperature, by line."""
    temperatures, pressures = {}, {}
    for line in ("bubble", "dew"):
        one = raw.get(line) or raw["bubble"]  # a pure fluid has one line
        temperatures[line] = _fit(one["p"], one["fit ln p"], one["T of ln p"])
        pressures[line] = _fit(raw["T"], raw["fit T"], one["ln p of T"])
    return temperatures, pressures


# --- evaluating -----------------------------------------------------------------------------------


def value_of(fit: Fit, argument: float) -> float | None:
    """The fit at an argument, or ``None`` outside its range."""
    low, high, scale, shift, coefficients = fit
    try:
        if not low <= argument <= high:
            return None
        x = scale * float(argument) + shift
    except NOT_A_NUMBER:
        return None
    found = 0.0  # ``horner`` written out: its calls would cost half the time
    for c in coefficients:
        found = found * x + c
    return found


def unchecked(fit: Fit, argument: float) -> float:
    """The fit at an argument, whatever its range."""
    return horner(fit.coefficients, fit.scale * argument + fit.shift)


def horner(coefficients: Iterable[float], x: float) -> float:
    """A polynomial, highest power first."""
    if x.__class__ is float:
        found = 0.0
        for c in coefficients:
            found = found * x + c
        return found
    found = 0.0 * x  # of its own, so that a column is worked out where it lies
    for c in coefficients:
        found *= x
        found += c
    return found


def vapour_state(entry: Entry, temperature: float, pressure: float) -> tuple[float, float] | None:
    """The two arguments (x, z) of the vapour polynomials, or ``None`` outside their domain."""
    v = entry.vapour
    if is_column(pressure):
        from diagnose.properties import columnwise

        return columnwise.vapour_state(entry, temperature, pressure)
    try:
        if not v.low <= pressure <= v.high:
            return None
        ln_p = log(pressure)
        superheat = float(temperature) - dew_at(entry, ln_p)
    except NOT_A_NUMBER:
        return None
    if not -SUPERHEAT_SLACK <= superheat <= v.superheat:
        return None
    above = superheat if superheat > 0.0 else 0.0  # ``arguments`` written out
    return v.scale * ln_p + v.shift, v.superheat_scale * log(1.0 + above / SUPERHEAT_SCALE) - 1.0


def arguments(v: Vapour, ln_p: float, superheat: float) -> tuple[float, float]:
    """(x, z) of the vapour polynomials; a superheat below 0 counts as 0."""
    return v.scale * ln_p + v.shift, v.superheat_scale * log_of(
        1.0 + clamp(superheat, 0.0, v.superheat) / SUPERHEAT_SCALE
    ) - 1.0


def superheat_of(v: Vapour, z: float) -> float:
    """The superheat (K) of which z is the argument."""
    return SUPERHEAT_SCALE * (exp((z + 1.0) / v.superheat_scale) - 1.0)


def dew_at(entry: Entry, ln_p: float) -> float:
    """Dew temperature (K) at ln p, range unchecked."""
    _, _, scale, shift, coefficients = entry.temperatures["dew"]
    return horner(coefficients, scale * ln_p + shift)


def along(rows: tuple[tuple[float, ...], ...], x: float) -> list[float]:
    """The polynomial in x and z at one x: what is left is one in z."""
    if x.__class__ is not float:
        return [horner(row, x) for row in rows]
    return [  # ``horner`` written out takes a third of the time
        ((((((((a * x + b) * x + c) * x + d) * x + e) * x + f) * x + g) * x + h) * x + i) * x + j
        for a, b, c, d, e, f, g, h, i, j in rows
    ]


def surface(rows: tuple[tuple[float, ...], ...], x: float, z: float) -> float:
    """The polynomial in x and z."""
    if x.__class__ is not float:
        return horner(along(rows, x), z)
    found = 0.0
    for a, b, c, d, e, f, g, h, i, j in rows:
        found = found * z + (((((((((a * x + b) * x + c) * x + d) * x + e) * x + f) * x + g) * x + h) * x + i) * x + j)
    return found


def isentropic_end(
    entry: Entry, temperature: float, pressure: float, discharge_pressure: float
) -> tuple[float, float] | None:
    """Temperature and enthalpy where vapour arrives at the discharge pressure with the entropy it started with."""
    start = vapour_state(entry, temperature, pressure)
    v = entry.vapour
    if is_column(pressure) and start is not None:
        from diagnose.properties import columnwise

        return columnwise.isentropic_end(entry, start, pressure, discharge_pressure)
    try:
        if start is None or not pressure < discharge_pressure <= v.high:
            return None
        ln_p = log(discharge_pressure)
    except NOT_A_NUMBER:
        return None
    aim = surface(v.entropy, *start)
    x, dew = v.scale * ln_p + v.shift, dew_at(entry, ln_p)
    entropy = along(v.entropy, x)
    lack = horner(entropy, -1.0) - aim
    if lack > 0.0:
        drop = wet_drop(dew, lack)
        return (dew, surface(v.enthalpy, x, -1.0) - drop) if drop <= WETTEST_END else None
    if horner(entropy, 1.0) < aim:
        return None
    z = solve(entropy, aim)
    return dew + superheat_of(v, z), surface(v.enthalpy, x, z)


def wet_drop(dew: float, lack: float) -> float:
    """Enthalpy (J/kg) below saturated vapour of one that lacks entropy (J/(kg K)): down the isobar, dh = T ds (exact for a
    pure fluid, close for a slightly wet blend)."""
    return dew * lack


def solve(coefficients: list[float], aim: float) -> float:
    """Where a polynomial that rises over -1..1 reaches the aim: Newton steps kept inside a shrinking bracket."""
    low, high, z = -1.0, 1.0, 0.0
    a, b, c, d, e, f = coefficients
    for _ in range(40):
        two = a * z + b  # value and slope by Horner's rule, written out as above
        three = two * z + c
        four = three * z + d
        five = four * z + e
        value = five * z + f
        slope = (((a * z + two) * z + three) * z + four) * z + five
        if value < aim:
            low = z
        else:
            high = z
        step = (aim - value) / slope if slope > 0.0 else 0.0
        nearer = z + step if slope > 0.0 and low <= z + step <= high else 0.5 * (low + high)
        if abs(nearer - z) < 1e-10:
            return nearer
        z = nearer
    return z
