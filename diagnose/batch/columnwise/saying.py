"""Numbers of a visit of columns become words: see `diagnosis/findings.py`, whose chances and scales these are."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from diagnose.diagnosis.findings import chances
from diagnose.properties.targets import NoTarget, Target
from diagnose.properties.targets.expected import ORIGINS, REASONS
from diagnose.quantities.plausibility.columnwise import rows_of
from diagnose.quantities.uncertainty import Estimate
from diagnose.rulebook import Rulebook, applies
from diagnose.rulebook.entries import FindingEntry, WordScale
from diagnose.units.columns import hypot, is_column


class Said(NamedTuple):
    """One finding of many visits: word -> its chance in each row (0: it is not said), and in which rows it is there.

    measured: from a quantity, not seen. last: the last limit between its words that was used, row by row.
    """

    words: dict[str, Any]
    there: Any
    measured: bool = True
    last: Any = math.nan

    def chance(self, words: Collection[str]) -> Any:
        """How likely it has one of these words."""
        found = [chance for word, chance in self.words.items() if word in words]
        return sum(found[1:], found[0]) if found else np.zeros(self.there.shape)


SaidWords = dict[str, Said]


@dataclass(slots=True)
class _Expected:
    """What is expected, row by row. has: whether there is a target; near: whether there is one at the nearest edge instead."""

    has: Any
    value: Any
    spread: Any
    origin: str | Any
    near: Any = False
    near_value: Any = math.nan
    near_spread: Any = math.nan
    reason: Any = -1


def said(
    estimates: Mapping[str, Estimate], seen: Mapping[str, Any], rules: Rulebook, facts: Mapping[str, str], n: int
) -> SaidWords:
    """All findings of n visits of one kind of machine, in the order of the book. seen: finding -> word -> rows."""
    found: SaidWords = {}
    for entry in rules.findings.values():
        if entry.seen:
            if entry.finding in seen:
                words = seen[entry.finding]
                there = np.logical_or.reduce(list(words.values()))
                found[entry.finding] = Said({w: rows.astype(float) for w, rows in words.items()}, there, measured=False)
            continue
        estimate = estimates.get(entry.quantity or "")
        one = None if estimate is None else measured(entry, estimate, facts, n)
        if one is not None:
            found[entry.finding] = one
    return found


def measured(entry: FindingEntry, estimate: Estimate, facts: Mapping[str, str], n: int) -> Said | None:
    """See `findings.measured`."""
    scales = [each for each in entry.scales if applies(each.applies, facts) and each.target != "baseline"]
    if not scales:
        return None
    found = _measured(entry, scales, estimate, _expected(estimate.expected), n)
    inside, target = estimate.inside, estimate.target
    if any(scale.by == "target" for scale in scales):  # whether there is a target is no matter of degree
        return found if found.there.any() else None
    within = 1.0 if target is None else np.where(np.isnan(target.value), 1.0, target.inside)
    fading = np.asarray(inside * within) < 1.0
    if fading.any():
        rows = np.flatnonzero(np.broadcast_to(fading, n) & np.isfinite(estimate.value))
        _fade(entry, scales, estimate, found, rows)
    return found if found.there.any() else None


def _fade(entry: FindingEntry, scales: list[WordScale], estimate: Estimate, found: Said, rows: Any) -> None:
    """Towards the edges of domains and tables: what is said there counts in part, and what is said beyond them the more."""
    value, sigma, apart = rows_of((estimate.value, estimate.sigma, estimate.difference_sigma), rows)
    few = estimate._replace(value=value, sigma=sigma, difference_sigma=apart)
    own = np.broadcast_to(np.asarray(rows_of(estimate.inside, rows), dtype=float), rows.shape)
    expected = estimate.expected
    target = expected if isinstance(expected, Target) else None
    has = False if target is None else np.isfinite(rows_of(target.value, rows))
    within = np.where(has, 1.0 if target is None else rows_of(target.inside, rows), 1.0)
    beyond = None
    if target is not None and (within < 1.0).any():
        said_there = rows_of(target.beyond, rows)
        if isinstance(said_there, NoTarget):  # where there is a target, of it only what stands beyond
            said_there = Target(np.full(rows.size, math.nan), 0.0, "", "typical", 1.0, said_there)
        beyond = _measured(entry, scales, few, _expected(said_there), rows.size)
    words: dict[str, Any] = {}
    there = np.zeros(rows.size, dtype=bool)
    for word, chance in found.words.items():
        words[word] = own * within * rows_of(chance, rows)
        if beyond is not None:
            words[word] = words[word] + own * (1.0 - within) * np.where(has, beyond.words[word], 0.0)
        there |= words[word] > 0
        chance[rows] = words[word]
    found.there[rows] = there


def _expected(expected: Target | NoTarget | None) -> _Expected:
    if isinstance(expected, Target):
        has = np.isfinite(expected.value)
        found = _Expected(has, expected.value, expected.spread, expected.origin)
        if isinstance(expected.beyond, NoTarget) and is_column(expected.value):
            nearest, none = expected.beyond.nearest, ~has
            found.reason = np.where(none, expected.beyond.reason, -1)
            if nearest is not None:
                found.near_value, found.near_spread = nearest.value, nearest.spread
                found.near = none & np.isfinite(nearest.value)
        return found
    if isinstance(expected, NoTarget):
        nearest = expected.nearest
        near = (True, nearest.value, nearest.spread) if nearest is not None else (False, math.nan, math.nan)
        return _Expected(False, math.nan, 0.0, "none", *near, REASONS.index(expected.reason))
    return _Expected(False, math.nan, 0.0, "none")


def _measured(entry: FindingEntry, scales: list[WordScale], estimate: Estimate, expected: _Expected, n: int) -> Said:
    """See `findings._measured`: each row by the first scale that is for it."""
    left = np.isfinite(estimate.value)
    found = Said({word: np.zeros(n) for word in entry.words}, np.zeros(n, dtype=bool), last=np.full(n, math.nan))
    for scale in scales:
        rows = left & _is_for(scale, expected)
        if not rows.any():
            continue
        left = left & ~rows
        if scale.by == "target":
            has = expected.has | (estimate.expected is None)  # nothing is missing where nothing is asked for
            for reason, where in [("found", has)] + [(r, expected.reason == i) for i, r in enumerate(REASONS)]:
                if reason in found.words:
                    which = rows & where
                    found.words[reason][which] = 1.0
                    found.there[which] = True
            continue
        value, sigma, spread = _judged(estimate, scale, expected)
        if scale.spread is not None:
            spread = hypot(scale.spread, spread) if scale.by == "nearest" else scale.spread
        all_rows = bool(rows.all())
        if not all_rows:
            value, sigma, spread = (rows_of(each, rows) for each in (value, sigma, spread))
        for word, chance in zip(entry.words, chances(scale.limits, value, hypot(sigma, spread)), strict=True):
            if all_rows:
                found.words[word] = chance
            else:
                found.words[word][rows] = chance
        found.there[rows] = True
        found.last[rows] = scale.limits[-1]
    return found


def _is_for(scale: WordScale, expected: _Expected) -> Any:
    """See `findings.scale_for`: the rows that have the target it asks for, and what it compares with."""
    has = np.asarray(expected.has)
    rows: Any = np.asarray(True)
    if scale.target == "none":
        rows = ~has
    elif scale.target is not None:
        origin = expected.origin
        rows = has & (
            origin == ORIGINS.index(scale.target) if is_column(origin) else np.asarray(origin == scale.target)
        )
    if scale.by == "nearest":
        return rows & np.asarray(expected.near)
    if scale.by == "difference":
        return rows & has
    if scale.by == "share":
        return rows & has & (np.asarray(expected.value) > 0)
    return rows


def _judged(estimate: Estimate, scale: WordScale, expected: _Expected) -> tuple[Any, Any, Any]:
    """See `findings._judged`."""
    if scale.by == "value":
        return estimate.value, estimate.sigma, 0.0
    if scale.by == "nearest":
        return estimate.value - expected.near_value, estimate.sigma, expected.near_spread
    if scale.by == "difference":
        return estimate.value - expected.value, estimate.difference_sigma, expected.spread
    return (
        estimate.value / expected.value,
        estimate.difference_sigma / expected.value,
        expected.spread / expected.value,
    )
