"""Visits with and without what is doubted of them, for columns: see `view.layers` and `pipeline.work_out_quantities`."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from diagnose.batch.columnwise.estimating import Estimated, estimated, rows_of
from diagnose.batch.columnwise.judging import Kind, estimated_of
from diagnose.batch.columnwise.saying import Said, Words, said
from diagnose.diagnosis.pipeline import more_likely
from diagnose.diagnosis.record import Part
from diagnose.quantities.plausibility import Doubt, Layer, layers
from diagnose.visit import Visit


@dataclass(slots=True)
class Layered:
    """Rows about which something is doubted: their quantities, their words, and how many layers they have."""

    found: Estimated
    words: Words
    count: Any


def acting(doubts: Sequence[Doubt], n: int) -> Any:
    """The rows of which something is left out, at least in part."""
    rows = np.zeros(n, dtype=bool)
    for doubt in doubts:
        if doubt.set_aside or doubt.spoils:
            rows |= np.nan_to_num(doubt.weight) > 0
    return rows


def layered(
    visit: Visit,
    rows: Any,
    doubts: Sequence[Doubt],
    seen: Mapping[str, Mapping[str, Any]],
    kind: Kind,
    wanted: Collection[str] | None,
    exact: bool,
) -> Layered:
    """The given rows of a visit of columns, judged in part with what is doubted and in part without."""
    each = _layers(visit, rows, doubts)
    whose = np.repeat(np.arange(rows.size), [len(of) for of in each])
    parts = [layer for of in each for layer in of]
    share = np.array([layer.share for layer in parts])
    found = _without(visit, rows[whose], parts, wanted, exact)
    found = Estimated(expecting(found.estimates, kind), found.touched)
    chosen = np.array([_chosen(of) for of in each]) + np.concatenate([[0], np.cumsum([len(of) for of in each])[:-1]])
    in_parts = {name: {word: where[rows[whose]] for word, where in of.items()} for name, of in seen.items()}
    words = said(found.estimates, in_parts, kind.rules, kind.facts, len(parts))
    blended = {name: _blended(one, whose, share, rows.size) for name, one in words.items()}
    order = [name for name in kind.rules.findings if name in blended]
    return Layered(
        estimated_of(found, chosen), {name: blended[name] for name in order}, np.array([len(of) for of in each])
    )


def expecting(estimates: Mapping[str, Any], kind: Kind) -> dict[str, Any]:
    """See `pipeline._expecting`."""
    from diagnose.diagnosis import field

    mute = kind.rules.silent_quantities
    return {name: field.plain(e) if name in mute else e for name, e in estimates.items()} if mute else dict(estimates)


def _layers(visit: Visit, rows: Any, doubts: Sequence[Doubt]) -> list[tuple[Layer, ...]]:
    """The layers of each row."""
    n = visit.machine.station_pressure.shape  # type: ignore[attr-defined]
    about = [doubt for doubt in doubts if doubt.set_aside or doubt.spoils]
    weights = [np.nan_to_num(np.broadcast_to(doubt.weight, n))[rows].tolist() for doubt in about]
    starts = [np.nan_to_num(np.broadcast_to(doubt.start, n))[rows].tolist() for doubt in about]
    taken = {name: np.isfinite(reading.value)[rows].tolist() for name, reading in visit.last.readings.items()}
    found = []
    for row in range(rows.size):
        own = []
        for doubt, weight, start in zip(about, weights, starts, strict=True):
            if weight[row] > 0:
                aside = tuple([name for name in doubt.set_aside if name in taken and taken[name][row]])
                own.append(replace(doubt, set_aside=aside, weight=weight[row], start=start[row]))
        found.append(layers(own))
    return found


def _chosen(of: tuple[Layer, ...]) -> int:
    """Which of the layers tells the quantities; see `pipeline.more_likely`."""
    parts = [Part(layer.share, layer.set_aside | layer.spoilt, {"place": i}) for i, layer in enumerate(of)]  # type: ignore[dict-item]
    return more_likely(parts)["place"]  # type: ignore[return-value]


def _without(
    visit: Visit, whose: Any, parts: Sequence[Layer], wanted: Collection[str] | None, exact: bool
) -> Estimated:
    """The quantities of each part, without what is left out of it."""
    n = len(parts)
    aside = {
        name: np.array([name in layer.set_aside for layer in parts]) for name in {x for p in parts for x in p.set_aside}
    }
    spoilt = {
        name: np.array([name in layer.spoilt for layer in parts]) for name in {x for p in parts for x in p.spoilt}
    }
    readings = {}
    for name, reading in visit.last.readings.items():
        if _INSTEAD.get(name) in visit.last.readings:
            continue  # beside the temperature it is not used, also where that is left out
        value = (
            np.where(aside[name], np.nan, rows_of(reading.value, whose))
            if name in aside
            else rows_of(reading.value, whose)
        )
        readings[name] = replace(reading, value=value, error=rows_of(reading.error, whose))
    machine = visit.machine
    few = replace(
        machine,
        facts={name: rows_of(fact, whose) for name, fact in machine.facts.items()},
        station_pressure=rows_of(machine.station_pressure, whose),
        station_error=rows_of(machine.station_error, whose),
    )
    last = replace(
        visit.last,
        readings=readings,
        minutes=rows_of(visit.last.minutes, whose),
        defrosted=rows_of(visit.last.defrosted, whose),
    )
    found = estimated(replace(visit, machine=few, rounds=(last,)), n, wanted, exact)
    estimates = dict(found.estimates)
    for name, rows in spoilt.items():
        if name in estimates:
            one = estimates[name]
            estimates[name] = replace(one, value=np.where(rows, np.nan, one.value))
    return Estimated(estimates, found.touched)


_INSTEAD = {"gauge superheat": "suction line temperature", "gauge subcooling": "liquid line temperature"}


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
