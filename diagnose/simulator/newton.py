"""Three unknowns, three disagreements: Newton steps first, nested bracketing where they fail; both bounded.

Bracketing rests on three monotone facts: more suction superheat needs more coil; a higher suction pressure pumps more
than the metering device passes; a higher condensing temperature (with the rest in step) holds more refrigerant.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

Guess = tuple[float, float, float]
"""Evaporating and condensing temperature (K), and what the suction gas is above saturated vapour (kJ/kg)."""
Residuals = tuple[float, float, float]
Jacobian = tuple[tuple[float, float, float], ...]
"""Rows: the three disagreements; columns: the three unknowns."""

CLOSED = 2e-6
"""Largest disagreement left, as shares of coil, flow and charge."""
MOST_LOOKS = 6000
NEWTON_STEPS = 30
LARGEST_STEP = (6.0, 8.0, 8.0)
DIFFERENCE = (0.01, 0.01, 0.01)
WORST: Residuals = (1e3, 1e3, 1e3)


class TooManyLooksError(Exception):
    """The bound on work is reached; no solver lets it out."""


class Equations(Protocol):
    """What is to be solved: the disagreements of a guess, the bounds of guesses, and where to begin."""

    low: Guess
    high: Guess
    closed: float  # largest disagreement that may be left
    jacobian: Jacobian | None  # that of a like problem, if there is one; of this one, when it is solved

    def at(self, guess: Guess) -> Residuals:
        """Disagreements of a guess: coil, flow, charge."""
        ...

    def starts(self) -> Sequence[Guess]:
        """Guesses to begin with, the likeliest first."""
        ...


def _size(residuals: Residuals) -> float:
    return sum([each * each for each in residuals])  # which may be infinite; a power raises then


def newton_from_several(problem: Equations) -> Guess | None:
    """The answer by Newton steps from the first start that leads to one; None where none does."""
    for start in problem.starts():
        found = _newton(problem, start)
        if found is not None:
            return found
    return None


def _held(problem: Equations, guess: list[float]) -> Guess:
    a, b, c = (min(max(v, lo), hi) for v, lo, hi in zip(guess, problem.low, problem.high, strict=True))
    return a, b, c


def _newton(problem: Equations, start: Guess) -> Guess | None:
    """Damped Newton with a Jacobian by differences, refreshed only while progress is poor (Broyden's update between)."""
    guess = _held(problem, list(start))
    here = problem.at(guess)
    jacobian = [list(row) for row in problem.jacobian] if problem.jacobian else None
    fresh = False
    for _ in range(NEWTON_STEPS):
        if max(map(abs, here)) < problem.closed:
            if jacobian is not None:
                problem.jacobian = tuple((row[0], row[1], row[2]) for row in jacobian)
            return guess
        if jacobian is None:
            jacobian, fresh = _jacobian(problem, guess, here), True
        step = _solve3(jacobian, here)
        if step is None:
            return None
        shrink = max(1.0, *(abs(s) / m for s, m in zip(step, LARGEST_STEP, strict=True)))
        nearer = _nearer(problem, guess, step, here, shrink, 5 if fresh else 1)
        if nearer is None and fresh:
            return None
        if nearer is None:
            jacobian = None  # an old Jacobian led nowhere: make a new one here
            continue
        trial, there = nearer
        moved = [t - g for t, g in zip(trial, guess, strict=True)]
        improved = _size(there) < 0.2 * _size(here)
        jacobian = _broyden(jacobian, moved, here, there) if improved else None
        fresh = False
        guess, here = trial, there
    return guess if max(map(abs, here)) < 1e-5 else None


def _nearer(
    problem: Equations, guess: Guess, step: Guess, here: Residuals, shrink: float, tries: int
) -> tuple[Guess, Residuals] | None:
    """The first of ever shorter steps that brings the three nearer to agreement, or None."""
    for _ in range(tries):
        trial = _held(problem, [g - s / shrink for g, s in zip(guess, step, strict=True)])
        there = problem.at(trial)
        if _size(there) < (1.0 - 0.1 / shrink) * _size(here):
            return trial, there
        shrink *= 2.0
    return None


def _jacobian(problem: Equations, guess: Guess, here: Residuals) -> list[list[float]]:
    columns = []
    for i, delta in enumerate(DIFFERENCE):
        moved = list(guess)
        sign = -1.0 if moved[i] + delta > problem.high[i] else 1.0
        moved[i] += sign * delta
        there = problem.at((moved[0], moved[1], moved[2]))
        columns.append([(t - h) / (sign * delta) for t, h in zip(there, here, strict=True)])
    return [[columns[j][i] for j in range(3)] for i in range(3)]


def _broyden(jacobian: list[list[float]], moved: list[float], before: Residuals, after: Residuals) -> list[list[float]]:
    length = sum(m * m for m in moved)
    if length < 1e-18:
        return jacobian
    new = []
    for row, b, a in zip(jacobian, before, after, strict=True):
        error = (a - b - sum(r * m for r, m in zip(row, moved, strict=True))) / length
        new.append([r + error * m for r, m in zip(row, moved, strict=True)])
    return new


def _solve3(matrix: list[list[float]], right: Residuals) -> tuple[float, float, float] | None:
    """Three linear equations by Cramer's rule; None where they have no single answer."""
    (a, b, c), (d, e, f), (g, h, i) = matrix
    det = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)
    if abs(det) < 1e-14:
        return None
    p, q, r = right
    x = p * (e * i - f * h) - b * (q * i - f * r) + c * (q * h - e * r)
    y = a * (q * i - f * r) - p * (d * i - f * g) + c * (d * r - q * g)
    z = a * (e * r - q * h) - b * (d * r - q * g) + p * (d * h - e * g)
    return x / det, y / det, z / det


# --- bracketing -----------------------------------------------------------------------------------


def bracketing(problem: Equations) -> Guess:
    """Condensing temperature for the charge, around suction pressure for the flow, around superheat for the coil."""
    inner: list[float] = [0.0, 0.0]

    def coil(evaporating: float, condensing: float) -> float:
        excess = root(lambda e: problem.at((evaporating, condensing, e))[0], problem.low[2], problem.high[2], 1e-7)
        inner[1] = excess
        return -problem.at((evaporating, condensing, excess))[1]

    def charge(condensing: float) -> float:
        inner[0] = root(lambda t: coil(t, condensing), problem.low[0], problem.high[0], 1e-6)
        coil(inner[0], condensing)
        return problem.at((inner[0], condensing, inner[1]))[2]

    condensing = root(charge, problem.low[1], problem.high[1], 1e-5)
    charge(condensing)
    return inner[0], condensing, inner[1]


def root(function: Callable[[float], float], low: float, high: float, close: float, narrow: float = 1e-9) -> float:
    """Where a rising function passes 0, by false position (Illinois) within 40 steps; an end where it does not.

    It is found when the function is as close to 0, or the bracket as narrow.
    """
    at_low, at_high = function(low), function(high)
    if at_low >= 0.0:
        return low
    if at_high <= 0.0:
        return high
    side = 0
    x = low
    for turn in range(40):
        x = 0.5 * (low + high) if turn % 4 == 3 else (low * at_high - high * at_low) / (at_high - at_low)
        value = function(x)
        if abs(value) < close or high - low < narrow:
            break
        if value < 0.0:
            low, at_low = x, value
            at_high *= 0.5 if side == -1 else 1.0
            side = -1
        else:
            high, at_high = x, value
            at_low *= 0.5 if side == 1 else 1.0
            side = 1
    return x
