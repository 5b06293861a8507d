"""What a formula needs to take a number or a whole column of numbers: the same code works out one visit and a million.

A column is a numpy array of floats; nan stands in it where a number would be None. numpy is imported only once a column is
there to be worked on, so that nothing here costs a single visit, a command or the page more than a look at the type.
Wherever a formula compares or chooses, it does so by these functions; for numbers they do what Python's own do.
"""

from __future__ import annotations

import math
from typing import Any, TypeGuard

_NUMBERS: frozenset[Any] = frozenset({float, int, bool})


def is_column(value: object) -> bool:
    """Whether it is a column of numbers, not one number."""
    return value.__class__ not in _NUMBERS and hasattr(value, "dtype")


def usable(number: float | None) -> TypeGuard[float]:
    """Whether it was read at all, as a number; of a column: row by row."""
    if number is None:
        return False
    if number.__class__ in _NUMBERS:
        return math.isfinite(number)
    return _numpy().isfinite(number)


def absent(number: float | None) -> bool:
    """Whether there is nothing at all to work with: no number, and no column."""
    return number is None or (number.__class__ in _NUMBERS and not math.isfinite(number))


def positive(number: float | None) -> TypeGuard[float]:
    """Whether it was read, and is above zero; of a column: row by row."""
    if number is None:
        return False
    if number.__class__ in _NUMBERS:
        return math.isfinite(number) and number > 0
    return _numpy().isfinite(number) & (number > 0)


def given(number: float | None) -> TypeGuard[float]:
    """Whether the plate says it; a column of it is handed in only where it says so in every row."""
    return number is not None and (is_column(number) or (math.isfinite(number) and number > 0))


def over(one: Any, other: Any) -> Any:
    """One divided by the other, where that is above zero."""
    if other.__class__ in _NUMBERS:
        return one / other if other > 0 else None
    return choose(other > 0, one / other, None)


def otherwise(number: float | None, usual: Any) -> Any:
    """The number, or what is usual where there is none."""
    if number is None:
        return usual
    return number if number.__class__ in _NUMBERS else choose(usable(number), number, usual)


def choose(which: Any, one: Any, other: Any) -> Any:
    """`one` where it holds, else `other`; both are worked out. None in a column is nan."""
    if which.__class__ is bool:
        return one if which else other
    missing = math.nan
    return _numpy().where(which, missing if one is None else one, missing if other is None else other)


def lesser(one: Any, other: Any) -> Any:
    """The smaller of two."""
    if one.__class__ in _NUMBERS and other.__class__ in _NUMBERS:
        return one if one <= other else other
    return _numpy().minimum(one, other)


def greater(one: Any, other: Any) -> Any:
    """The larger of two."""
    if one.__class__ in _NUMBERS and other.__class__ in _NUMBERS:
        return one if one >= other else other
    return _numpy().maximum(one, other)


def clamp(value: Any, low: float, high: float) -> Any:
    """The value, held between two limits."""
    if value.__class__ in _NUMBERS:
        return min(max(value, low), high)
    return _numpy().minimum(_numpy().maximum(value, low), high)


def log(value: float) -> float:
    """The natural logarithm; of a number below 0 as `math.log`, in a column nan."""
    return math.log(value) if value.__class__ in _NUMBERS else _numpy().log(value)


def exp(value: float) -> float:
    """The exponential."""
    return math.exp(value) if value.__class__ in _NUMBERS else _numpy().exp(value)


def hypot(one: Any, other: Any) -> Any:
    """The root of the sum of two squares."""
    if one.__class__ in _NUMBERS and other.__class__ in _NUMBERS:
        return math.hypot(one, other)
    return _numpy().hypot(one, other)


def root(value: Any) -> Any:
    """The square root."""
    return math.sqrt(value) if value.__class__ in _NUMBERS else _numpy().sqrt(value)


def erfc(value: Any) -> Any:
    """The complementary error function; of a column by scipy, for numpy has none."""
    if value.__class__ in _NUMBERS:
        return math.erfc(value)
    from scipy.special import erfc as of_columns

    return of_columns(value)


def one_of(word: Any, words: tuple[str, ...]) -> Any:
    """Whether it is one of these words."""
    return word in words if word.__class__ is str else _numpy().isin(word, words)


def holds(which: Any) -> bool:
    """Whether it is so; of a column whether it may be so in some row, which is looked at by row later on."""
    return which if which.__class__ is bool else True


def _numpy() -> Any:
    import numpy

    return numpy
