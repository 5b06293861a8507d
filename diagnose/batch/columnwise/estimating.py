"""Quantities of a visit of columns, each with its uncertainty: see `quantities/uncertainty.py`, whose values these are."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities import EXPECTED, Inputs, Step
from diagnose.quantities.following import Work, work
from diagnose.quantities.plausibility.columnwise import rows_of
from diagnose.quantities.uncertainty import Estimate, direct, inputs, shifts, within_domain
from diagnose.units.columns import is_column, root
from diagnose.visit import Visit

_COSTLY = frozenset({"compressor efficiency", "expected discharge superheat", "return wet bulb", "return dew point"})
"""Steps that are worked out only for the rows that have what they need."""
_SHARED = 0.7
"""Share of the rows from which it is quicker to work out all."""


class Estimated(NamedTuple):
    """The quantities of a visit of columns.

    touched: of the quantities by which the charge is judged, which readings have any effect on them, row by row.
    """

    estimates: Mapping[str, Estimate]
    touched: Mapping[str, Mapping[str, Any]]


_BY_CHARGE = ("superheat", "subcooling")


def spread_out(value: Any, rows: Any, n: int) -> Any:
    """The other way round: figures of some rows among n, nan elsewhere."""
    if is_column(value):
        whole = np.full(n, np.nan if value.dtype.kind == "f" else 0, dtype=value.dtype)
        whole[rows] = value
        return whole
    if isinstance(value, (Target, NoTarget)):
        changed = {name: spread_out(one, rows, n) for name, one in value._asdict().items()}
        if isinstance(value, Target):
            changed["value"] = spread_out(
                np.broadcast_to(np.asarray(value.value, dtype=float), np.size(rows)).copy(), rows, n
            )
        return value._replace(**changed)
    return value


def estimated(visit: Visit, n: int, wanted: Collection[str] | None, exact: bool) -> Estimated:
    """All quantities of n rows. wanted: those that are asked for, all where None; exact: as if nothing had errors."""
    values = inputs(visit.machine, visit.last)
    values = {name: value for name, value in values.items() if not _empty(value)}
    plan = _plan(work(frozenset(values), visit.own.quantities), None if wanted is None else frozenset(wanted))
    _run(plan.steps, values)
    names = [step.name for step in plan.steps if not step.name.startswith(EXPECTED)]
    by_value: dict[str, Any] = {}
    by_difference: dict[str, Any] = {}
    touched: dict[str, dict[str, Any]] = {name: {} for name in _BY_CHARGE}
    for source, moves in () if exact else shifts(visit.machine, visit.last).items():
        if source not in values:
            continue
        followers = plan.following(tuple(moves))
        for name, (one, other, has) in _effects(values, moves, followers, n).items():
            by_value[name] = by_value.get(name, 0.0) + one * one
            by_difference[name] = by_difference.get(name, 0.0) + other * other
            if name in touched:
                touched[name][source] = has & np.isfinite(values[source]) & (moves.get(source, 1.0) > 0)
    found: dict[str, Estimate] = {}
    for step in plan.steps:
        name = step.name
        if name in names and name in values and not _empty(value := values[name]):
            target = values.get(EXPECTED + name)
            off = value - target.value if isinstance(target, Target) else None
            sigma, apart = (root(of.get(name, 0.0)) for of in (by_value, by_difference))
            inside = within_domain(name, values)
            found[name] = Estimate(
                name, step.kind, value, sigma, target, off, apart, (), {}, step.formula, step.source, {}, None, inside
            )
    for name, one in direct(visit).items():
        if (wanted is None or name in wanted) and not _empty(one.value):
            found[name] = one._replace(sigma=0.0, difference_sigma=0.0) if exact else one
    return Estimated(found, touched)


def _empty(value: Any) -> bool:
    return is_column(value) and value.dtype.kind == "f" and bool(np.isnan(value).all())


# -- the steps -----------------------------------------------------------------------------------------------------------


class _Plan:
    """The steps of a `Work` that lead to what is wanted."""

    def __init__(self, whole: Work, wanted: frozenset[str] | None):
        self._whole = whole
        kept = {step.name for step in whole.steps} if wanted is None else _leading_to(whole.steps, wanted)
        there = {step.name for step in whole.steps}
        # What is expected of a quantity that cannot be worked out is of no use by itself.
        self._kept = {
            n for n in kept if not n.startswith(EXPECTED) or n.removeprefix(EXPECTED) in there or _used(n, whole)
        }
        self.steps = tuple(step for step in whole.steps if step.name in self._kept)
        self._parts: dict[tuple[str, ...], tuple[Step, ...]] = {}

    def following(self, words: tuple[str, ...]) -> tuple[Step, ...]:
        """Of these, what follows from any of the words."""
        if words not in self._parts:
            steps = self._whole.following(words).steps
            self._parts[words] = tuple(step for step in steps if step.name in self._kept)
        return self._parts[words]


def _used(name: str, whole: Work) -> bool:
    """Whether another expected value of something that is there is worked out from it."""
    there = {step.name for step in whole.steps}
    return any(
        name in step.reads and (not step.name.startswith(EXPECTED) or step.name.removeprefix(EXPECTED) in there)
        for step in whole.steps
    )


def _leading_to(steps: Sequence[Step], wanted: Iterable[str]) -> set[str]:
    needed = {name for word in wanted for name in (word, EXPECTED + word)}
    for step in reversed(steps):
        if step.name in needed:
            needed.update(step.reads)
    return needed


@lru_cache(maxsize=256)
def _plan(whole: Work, wanted: frozenset[str] | None) -> _Plan:
    return _Plan(whole, wanted)


def _run(steps: Sequence[Step], values: Inputs) -> None:
    """See `registry.run`; what is none in a row is nan there."""
    for step in steps:
        if any(need not in values for need in step.needs):
            if not step.by or step.by in values:
                values.pop(step.name, None)
            continue
        result = _worked_out(step, [values.get(word) for word in step.reads])
        if step.by and step.name in values:  # made only where it was not taken itself
            result = np.where(np.isnan(result), values[step.name], result)
        if result is None:
            values.pop(step.name, None)
        else:
            values[step.name] = result


def _worked_out(step: Step, arguments: list[Any]) -> Any:
    if step.name in _COSTLY:
        needs = [np.isfinite(a) for a in arguments[: len(step.needs)] if is_column(a) and a.dtype.kind == "f"]
        if needs:
            has = np.logical_and.reduce(np.broadcast_arrays(*needs))
            count = int(has.sum())
            if 0 < count < _SHARED * has.size:
                rows = np.flatnonzero(has)
                return spread_out(step.work(*(rows_of(a, rows) for a in arguments)), rows, has.size)
    return step.work(*arguments)


# -- uncertainty ---------------------------------------------------------------------------------------------------------


def _effects(
    values: Inputs, moves: Mapping[str, Any], steps: Sequence[Step], n: int
) -> dict[str, tuple[Any, Any, Any]]:
    """Of one source: what it moves (value, value minus expected) by, and in which rows; see `uncertainty._effects`."""
    up = _shifted(values, moves, steps, 1.0)
    names = dict.fromkeys(step.name.removeprefix(EXPECTED) for step in steps)
    found: dict[str, tuple[Any, Any, Any]] = {}
    failed: dict[str, Any] = {}
    for name in names:
        if is_column(values.get(name)):
            one, other = _change(name, values, up)
            bad = np.isnan(one + other)
            if bad.any():
                there = bad & ~np.isnan(values[name])
                if there.any():
                    failed[name] = there
                one, other = np.where(bad, 0.0, one), np.where(bad, 0.0, other)
            found[name] = one, other, ~bad
    if failed:  # the shift left the domain of a formula or a table there: the other way tells as much
        rows = np.flatnonzero(np.logical_or.reduce(list(failed.values())))
        few = {word: rows_of(value, rows) for word, value in values.items()}
        down = _shifted(few, {word: rows_of(by, rows) for word, by in moves.items()}, steps, -1.0)
        for name, there in failed.items():
            one, other, has = found[name]
            by_value, by_difference = _change(name, few, down)
            again = there[rows] & ~np.isnan(by_value + by_difference)
            one[rows[again]], other[rows[again]], has[rows[again]] = by_value[again], by_difference[again], True
    return found


def _shifted(values: Inputs, moves: Mapping[str, Any], steps: Sequence[Step], sign: float) -> Inputs:
    after = dict(values)
    for word, by in moves.items():
        if word in values:
            after[word] = values[word] + sign * np.nan_to_num(by)
    _run(steps, after)
    return after


def _change(name: str, values: Inputs, after: Inputs) -> tuple[Any, Any]:
    """See `uncertainty._change`; nan where the shift tells nothing."""
    before, now, target, moved = values[name], after.get(name), values.get(EXPECTED + name), after.get(EXPECTED + name)
    if now is None:
        nothing = np.full(before.shape, math.nan)
        return nothing, nothing.copy()
    one = now - before
    if not isinstance(target, Target):
        return one, one.copy()
    if target is moved:
        return one, one.copy()
    none = np.isnan(target.value)
    if not isinstance(moved, Target):
        return one, np.where(none, one, math.nan)
    other = (now - moved.value) - (before - target.value)
    other = np.where(none, one, other)
    if is_column(target.origin) and is_column(moved.origin):
        other = np.where(none | (target.origin == moved.origin), other, math.nan)
    return one, other
