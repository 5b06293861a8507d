"""Visits with and without what is doubted of them, for columns: see `view.layers` and `pipeline.work_out_quantities`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.estimating import Estimated
from diagnose.batch.columnwise.judging import MachineKind, Rows
from diagnose.batch.columnwise.saying import Said, SaidWords
from diagnose.diagnosis import field
from diagnose.diagnosis.pipeline import more_likely
from diagnose.diagnosis.record import Part
from diagnose.quantities.plausibility import Doubt, Layer, layers
from diagnose.quantities.plausibility.columnwise import rows_of
from diagnose.quantities.plausibility.view import FIRM, HAIR
from diagnose.quantities.uncertainty import INSTEAD
from diagnose.visit import Visit


@dataclass(slots=True)
class Layered:
    """Rows about which something is doubted: their quantities, their words, and how many layers they have."""

    found: Estimated
    words: SaidWords
    count: Any


def acting(doubts: Sequence[Doubt], n: int) -> Any:
    """The rows of which something is left out, at least in part."""
    rows = np.zeros(n, dtype=bool)
    for doubt in doubts:
        if doubt.set_aside or doubt.spoils:
            rows |= np.nan_to_num(doubt.weight) > 0
    return rows


def layered(whole: Rows, rows: Any, doubts: Sequence[Doubt]) -> Layered:
    """Some of the rows, by number, judged in part with what is doubted and in part without."""
    parts = _parts(whole.visit, rows, doubts)
    whose = parts.whose
    each = whole.some(rows[whose])
    found = _without(each, parts)
    words = each.said(found.estimates)
    blended = {name: _blended(one, whose, parts.share, rows.size) for name, one in words.items()}
    order = [name for name in whole.kind.rules.findings if name in blended]
    count = np.bincount(whose, minlength=rows.size)
    return Layered(rows_of(found, parts.chosen), {name: blended[name] for name in order}, count)


def expecting(estimates: Mapping[str, Any], kind: MachineKind) -> dict[str, Any]:
    """See `pipeline._expecting`."""
    mute = kind.rules.silent_quantities
    return {name: field.plain(e) if name in mute else e for name, e in estimates.items()} if mute else dict(estimates)


@dataclass(slots=True)
class _Parts:
    """The layers of rows, one after another.

    whose: the row of each; share: how much of that is judged so; aside, spoilt: what is left out of which; chosen: the one
    of each row that tells the quantities.
    """

    whose: Any
    share: Any
    aside: dict[str, Any]
    spoilt: dict[str, Any]
    chosen: Any


def _parts(visit: Visit, rows: Any, doubts: Sequence[Doubt]) -> _Parts:
    """The layers of each row: of most, in which one thing is doubted, all at once; of the others row by row."""
    about = [doubt for doubt in doubts if doubt.set_aside or doubt.spoils]
    weights, starts = np.stack([rows_of((doubt.weight, doubt.start), rows) for doubt in about], axis=1)
    taken = {name: np.isfinite(reading.value)[rows] for name, reading in visit.last.readings.items()}
    acts = weights > 0
    one = np.argmax(acts, axis=0)
    weight, start = weights[one, np.arange(rows.size)], starts[one, np.arange(rows.size)]
    simple = (np.count_nonzero(acts, axis=0) == 1) & (start == 0)
    named = np.stack([_any_of(doubt, taken, rows.size) for doubt in about])[one, np.arange(rows.size)]
    whole, rest = simple & (1.0 - weight > HAIR), simple & (weight > HAIR)
    others = np.flatnonzero(~simple)
    each = [_layers(about, weights[:, row], starts[:, row], taken, row) for row in others.tolist()]
    layers_of = [layer for of in each for layer in of]
    whose = np.concatenate([np.flatnonzero(whole), np.flatnonzero(rest), np.repeat(others, [len(of) for of in each])])
    n_whole, n_simple = np.count_nonzero(whole), np.count_nonzero(whole) + np.count_nonzero(rest)
    share = np.concatenate([1.0 - weight[whole], weight[rest], [layer.share for layer in layers_of]])
    parts = _Parts(whose.astype(np.int64), share, {}, {}, np.zeros(rows.size, dtype=np.int64))
    for name in {name for doubt in about for name in doubt.set_aside}:
        if name in taken:
            among = np.array([name in doubt.set_aside for doubt in about])
            parts.aside[name] = np.zeros(share.size, dtype=bool)
            parts.aside[name][n_whole:n_simple] = (among[one] & taken[name])[rest]
            parts.aside[name][n_simple:] = [name in layer.set_aside for layer in layers_of]
    for name in {name for doubt in about for name in doubt.spoils}:
        among = np.array([name in doubt.spoils for doubt in about])
        parts.spoilt[name] = np.zeros(share.size, dtype=bool)
        parts.spoilt[name][n_whole:n_simple] = among[one][rest]
        parts.spoilt[name][n_simple:] = [name in layer.spoilt for layer in layers_of]
    parts.chosen[whole] = np.arange(n_whole)
    instead = rest & (~whole | (named & (weight >= FIRM)))
    parts.chosen[instead] = np.arange(n_whole, n_simple)[instead[rest]]
    begins = n_simple + np.cumsum([0, *(len(of) for of in each)])[:-1]
    parts.chosen[others] = [begin + _chosen(of) for begin, of in zip(begins.tolist(), each, strict=True)]
    return parts


def _any_of(doubt: Doubt, taken: Mapping[str, Any], n: int) -> Any:
    """The rows in which there is anything that the doubt leaves out."""
    found = np.full(n, bool(doubt.spoils))
    for name in doubt.set_aside:
        if name in taken:
            found |= taken[name]
    return found


def _layers(about: Sequence[Doubt], weights: Any, starts: Any, taken: Mapping[str, Any], row: int) -> tuple[Layer, ...]:
    """The layers of one row."""
    own = []
    for doubt, weight, start in zip(about, weights.tolist(), starts.tolist(), strict=True):
        if weight > 0:
            aside = tuple([name for name in doubt.set_aside if name in taken and taken[name][row]])
            own.append(doubt._replace(set_aside=aside, weight=weight, start=start))
    return layers(own)


def _chosen(of: tuple[Layer, ...]) -> int:
    """Which of the layers tells the quantities; see `pipeline.more_likely`."""
    parts = [Part(layer.share, layer.set_aside | layer.spoilt, {"place": i}) for i, layer in enumerate(of)]  # type: ignore[dict-item]
    return more_likely(parts)["place"]  # type: ignore[return-value]


def _without(each: Rows, parts: _Parts) -> Estimated:
    """The quantities of each part, without what is left out of it."""
    taken, readings = each.visit.last.readings, {}
    for name, reading in taken.items():
        if INSTEAD.get(name) not in taken:  # else it is not used, also where the temperature is left out
            value = np.where(parts.aside[name], np.nan, reading.value) if name in parts.aside else reading.value
            readings[name] = reading._replace(value=value)
    found = each.reading(readings).estimated()
    estimates = dict(found.estimates)
    for name, rows in parts.spoilt.items():
        if name in estimates:
            one = estimates[name]
            estimates[name] = one._replace(value=np.where(rows, np.nan, one.value))
    return Estimated(expecting(estimates, each.kind), found.touched)


def _blended(one: Said, whose: Any, share: Any, n: int) -> Said:
    """See `findings.blended`."""
    words = {word: np.bincount(whose, share * chance, n) for word, chance in one.words.items()}
    there = np.zeros(n, dtype=bool)
    for chance in words.values():
        there |= chance > 0
    last = np.full(n, np.nan)
    if isinstance(one.last, np.ndarray):
        order = np.lexsort((-np.arange(share.size), share))
        order = order[one.there[order]]
        last[whose[order]] = one.last[order]
    return Said(words, there, one.measured, last)
