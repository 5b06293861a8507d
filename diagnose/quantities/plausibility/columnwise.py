"""Doubts about whole columns of visits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from diagnose.properties import saturation_temperature
from diagnose.quantities.plausibility.misreadings import (
    TOLD_ELSEWHERE,
    Misreading,
    as_written,
    scale_mistaken,
    slip,
    ways,
)
from diagnose.quantities.plausibility.saturations import saturations_far_off, saturations_wrong
from diagnose.quantities.plausibility.strain import LOW
from diagnose.quantities.plausibility.view import Doubt, ReadingsView, around
from diagnose.units.columns import is_column
from diagnose.visit import Visit


def taken(found: Sequence[Doubt]) -> Any:
    """See `view.taken`."""
    both = np.broadcast_arrays(*(d.start for d in found), *(d.end for d in found))
    starts, ends = (np.nan_to_num(np.stack(each)) for each in (both[: len(found)], both[len(found) :]))
    order = np.lexsort((ends, starts), axis=0)
    total, until = np.zeros(starts.shape[1]), np.zeros(starts.shape[1])
    for start, end in zip(np.take_along_axis(starts, order, 0), np.take_along_axis(ends, order, 0), strict=True):
        total += np.maximum(0.0, end - np.maximum(start, until))
        until = np.maximum(until, end)
    return total


def misread(view: ReadingsView, strange: Any) -> Iterator[Doubt]:
    """See `misreadings.misread`; looked for only in the rows that are strange, or whose saturations are far off."""
    high, low = (np.broadcast_to(each, strange.shape) for each in saturations_far_off(view))
    rows = np.flatnonzero((strange > 0) | (high > 0) | (low > 0))
    if not rows.size:
        return
    for doubt in _misread(_some(view, rows), strange[rows], np.nan_to_num(high[rows]), np.nan_to_num(low[rows])):
        weight, start = np.zeros(strange.size), np.zeros(strange.size)
        weight[rows], start[rows] = doubt.weight, doubt.start
        yield doubt._replace(weight=weight, start=start)


def _misread(view: ReadingsView, strange: Any, high: Any, low: Any) -> Iterator[Doubt]:
    written = as_written(view)
    found = [way for way in ways(view, written) if np.any(way.fits > 0)]
    weights = _weighed(view, found, written.strain, strange)
    gases = [i for i, way in enumerate(found) if way.gas is not None]
    start = np.zeros(strange.size)
    for places in np.argsort(_stacked([way.strain for way in found], strange.size), axis=0, kind="stable"):
        for i, way in enumerate(found):
            if way.gas is None and way.swapped not in TOLD_ELSEWHERE:
                weight = np.where(places == i, weights[i], 0.0)
                if weight.any():
                    for doubt in _either(view, way, weight):
                        yield doubt.at(start)
                    start = start + weight
    told = sum([weights[i] for i, way in enumerate(found) if way.swapped in TOLD_ELSEWHERE], np.zeros(strange.size))
    fits = sum([weights[i] for i in gases], np.zeros(strange.size))
    far = np.maximum(high, low)
    weight = np.minimum(np.maximum(fits, far * np.maximum(0.0, 1.0 - told - start)), 1.0 - start)
    if view.visit.machine.refrigerant is None or not (weight > 0).any():
        return
    too_high = np.where(far > 0, high >= low, _too_high_for_it(view, [(found[i], weights[i]) for i in gases]))
    for way_off, which in (("high", too_high), ("low", ~too_high)):
        yield saturations_wrong(way_off, {}).times(np.where(which, weight, 0.0)).at(start)


def _weighed(view: ReadingsView, found: Sequence[Misreading], written: Any, strange: Any) -> list[Any]:
    """The weight of each way in each row, 0 where it may not be."""
    limits, least = view.limits, np.full(strange.size, np.inf)
    fitting = []
    for way in found:
        eased, gained = 1.0 - around(way.strain, *limits.eased), around(written - way.strain, *limits.gained)
        fits = np.minimum(np.minimum(strange, way.fits), np.minimum(eased, gained))
        cost = way.strain + way.effort * limits.near
        fitting.append((fits, cost))
        least = np.where(fits > 0, np.minimum(least, cost), least)
    odds = [np.where(fits > 0, fits * np.exp((least - cost) / 2), 0.0) for fits, cost in fitting]
    total = sum(odds, np.zeros(strange.size))
    return [np.where(odd > 0, fits * odd / total, 0.0) for (fits, _), odd in zip(fitting, odds, strict=True)]


def _either(view: ReadingsView, way: Misreading, weight: Any) -> Iterator[Doubt]:
    """The doubt; where a scale of temperature was mistaken, one for each way it can be."""
    if not way.degrees:
        yield slip(view, way).times(weight)
        return
    name, meant = next(iter(way.degrees.items()))
    warmer = meant > view.value(name)
    for so, rows in ((True, warmer), (False, ~warmer)):
        yield scale_mistaken(tuple(way.degrees), so, {}).times(np.where(rows, weight, 0.0))


def _too_high_for_it(view: ReadingsView, gases: Sequence[tuple[Misreading, Any]]) -> Any:
    """Whether the saturations are too high, by the refrigerant that would fit best."""
    n = view.visit.machine.station_pressure.size  # type: ignore[attr-defined]
    best, real = np.full(n, np.inf), np.full(n, np.nan)
    for way, weight in gases:
        better = (weight > 0) & (way.strain < best)
        boils = saturation_temperature(str(way.gas), "dew", view.value(LOW))
        best, real = np.where(better, way.strain, best), np.where(better, boils, real)
    evaporating, condensing = (_or_nan(view, f"{name} temperature", n) for name in ("evaporating", "condensing"))
    return ~(np.isnan(evaporating) | (real > evaporating)) | np.isnan(condensing)


def _or_nan(view: ReadingsView, quantity: str, n: int) -> Any:
    found = view.quantity(quantity)
    return np.full(n, np.nan) if found is None else found[0]


def _stacked(columns: Sequence[Any], n: int) -> Any:
    return np.stack([np.broadcast_to(column, n) for column in columns]) if columns else np.zeros((0, n))


def _some(view: ReadingsView, rows: Any) -> ReadingsView:
    """The view of some of its rows."""
    few = {n: e._replace(value=rows_of(e.value, rows), sigma=rows_of(e.sigma, rows)) for n, e in view.estimates.items()}
    return view._replace(visit=rows_of(view.visit, rows), estimates=few)


def rows_of(value: Any, rows: Any) -> Any:
    """The same of some of the rows, whatever is made of columns; what is no column holds for all."""
    if is_column(value):
        return value[rows]
    if isinstance(value, Mapping):
        return {name: rows_of(each, rows) for name, each in value.items()}
    if isinstance(value, tuple):
        few = [rows_of(each, rows) for each in value]
        return value._make(few) if hasattr(value, "_make") else tuple(few)
    if isinstance(value, Visit):
        return replace(value, machine=rows_of(value.machine, rows), rounds=rows_of(value.rounds, rows))
    return value
