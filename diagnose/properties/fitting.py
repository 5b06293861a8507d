"""Least squares over an interval, fitted in Chebyshev terms and written as powers: what ``table`` fits its lines with.

numpy is imported inside the functions, as in ``table``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from diagnose.properties.fits import horner

LINE_DEGREE = 12


def powers(chebyshev_rows: Any) -> Any:
    """Rows of Chebyshev coefficients along the last axis to coefficients of powers, lowest first."""
    import numpy as np
    from numpy.polynomial import chebyshev

    width = chebyshev_rows.shape[-1]
    return np.array([np.pad(row, (0, width - len(row))) for row in map(chebyshev.cheb2poly, chebyshev_rows)])


def polynomial(arguments: list[float], values: list[float], degree: int, digits: int) -> list[float]:
    """Least-squares polynomial over -1..1, fitted in Chebyshev terms (well conditioned), as powers, highest first."""
    from numpy.polynomial import chebyshev

    found = chebyshev.cheb2poly(chebyshev.chebfit(arguments, values, degree))
    return [rounded(float(c), digits) for c in found[::-1]]


def chebyshev_nodes(n: int) -> list[float]:
    """Where to look, -1 to 1, rising."""
    return sorted(math.cos(math.pi * (i + 0.5) / n) for i in range(n))


def between(ends: list[float], units: Iterable[float]) -> list[float]:
    """-1 to 1, taken to an interval."""
    low, high = ends
    return [0.5 * (low + high) + 0.5 * (high - low) * u for u in units]


def unit(value: float, low: float, high: float) -> float:
    """An interval taken to -1 to 1."""
    return (2 * value - low - high) / (high - low)


def rounded(value: float, digits: int) -> float:
    """To so many significant digits."""
    return float(f"{value:.{digits}g}")


def fit_line(
    pressures: list[float], temperatures: list[float], answered: list[float], fit_T: list[float]
) -> dict[str, Any]:
    """One saturation line of the file, from its pressures (Pa) at temperatures (K); answered, fit_T: ranges of temperature."""
    ln_p = [math.log(p) for p in pressures]
    fit_ln_p = [rounded(ln_p[0], 10), rounded(ln_p[-1], 10)]
    of_T = polynomial([unit(T, *fit_T) for T in temperatures], ln_p, LINE_DEGREE, 11)
    of_p = polynomial([unit(x, *fit_ln_p) for x in ln_p], temperatures, LINE_DEGREE, 11)
    # a hair wider than the range of temperature, so that the pressure of the hottest temperature is still answered
    ends = [math.exp(horner(of_T, unit(T, *fit_T))) for T in answered]
    p = [rounded(ends[0] * (1 - 1e-4), 7), rounded(ends[1] * (1 + 1e-4), 7)]
    return {"p": p, "fit ln p": fit_ln_p, "T of ln p": of_p, "ln p of T": of_T}
