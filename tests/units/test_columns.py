"""A formula says of each row of a column what it says of that number by itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from diagnose.units import columns

NUMBERS = [-2.5, -0.0, 0.0, 1e-300, 0.5, 1.0, 7.25, 400.0]


def same(one: Any, other: Any) -> bool:
    """nan in a column stands for None."""
    missing = one is None or one != one
    return bool(other is None or other != other) if missing else bool(one == other)


@pytest.mark.parametrize("do", [columns.usable, columns.positive, columns.erfc, lambda x: columns.otherwise(x, 3.0),
                                lambda x: columns.clamp(x, 0.0, 1.0), lambda x: columns.choose(x > 0, x, None),
                                lambda x: columns.over(1.0, x)])  # fmt: skip
def test_of_one_column(do: Callable[[Any], Any]) -> None:
    with np.errstate(divide="ignore"):
        found = np.asarray(do(np.array(NUMBERS)))
    for number, row in zip(NUMBERS, found.tolist(), strict=True):
        want = do(number)
        assert same(want, row) or want == pytest.approx(row, rel=1e-15), number


@pytest.mark.parametrize("do", [columns.log, columns.exp, columns.root])
def test_of_numbers_above_zero(do: Callable[[Any], Any]) -> None:
    some = [0.5, 1.0, 7.25, 400.0]
    assert do(np.array(some)).tolist() == pytest.approx([do(x) for x in some], rel=1e-15)


@pytest.mark.parametrize("do", [columns.lesser, columns.greater, columns.hypot])
def test_of_two_columns(do: Callable[[Any, Any], Any]) -> None:
    some = NUMBERS
    one, other = np.array(some), np.array(some[::-1])
    for a, b, row in zip(some, some[::-1], do(one, other).tolist(), strict=True):
        assert do(a, b) == pytest.approx(row, rel=1e-15)
    assert do(one, 1.0).tolist() == pytest.approx([do(a, 1.0) for a in some], rel=1e-15)


def test_what_was_not_taken_is_nowhere() -> None:
    gap = np.array([math.nan, 2.0])
    assert columns.usable(gap).tolist() == [False, True]
    assert columns.otherwise(gap, 1.0).tolist() == [1.0, 2.0]
    assert columns.usable(None) is False
    assert columns.otherwise(None, 1.0) == 1.0
    assert (columns.absent(None), columns.absent(math.nan), columns.absent(gap), columns.absent(0.0)) == (
        True,
        True,
        False,
        False,
    )
    assert columns.one_of("F", ("F", "°F")) is True
    assert columns.one_of(np.array(["F", "C"], dtype=object), ("F", "°F")).tolist() == [True, False]
