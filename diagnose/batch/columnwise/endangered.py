"""What could hurt, for columns of visits: see `diagnosis/dangers.py`, whose limits these are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.judging import Rows
from diagnose.batch.columnwise.matching import Fired
from diagnose.diagnosis.dangers import (
    PRESSURES,
    RUNNING,
    above_air,
    error_above_air,
    limit_of_the_refrigerant,
    near_share,
    said_by,
)
from diagnose.quantities.uncertainty import absolute
from diagnose.units.columns import lesser, otherwise
from diagnose.visit import Visit


@dataclass(slots=True)
class Endangered:
    """Codes of dangers and other cautions as they are told, each with its rows; stop: machines that must be stopped."""

    dangers: list[tuple[str, Any]]
    cautions: list[tuple[str, Any]]
    stop: Any

    def but(self, rows: Any, other: Endangered, n: int) -> Endangered:
        """The same, but of these rows the other's."""
        kept, stop = np.ones(n, dtype=bool), self.stop.copy()
        kept[rows], stop[rows] = False, other.stop

        def joined(own: list[tuple[str, Any]], others: list[tuple[str, Any]]) -> list[tuple[str, Any]]:
            return [*((code, where & kept) for code, where in own), *((code, rows[where]) for code, where in others)]

        return Endangered(joined(self.dangers, other.dangers), joined(self.cautions, other.cautions), stop)


def standing(whole: Rows) -> Any:
    """Rows whose compressor seems to stand, by its current or its pressures."""
    visit, limits = whole.visit, whole.kind.rules.judgement.plausibility
    rows = np.zeros(whole.n, dtype=bool)
    current = visit.last.readings.get("compressor current")
    if current is not None:
        rated = otherwise(visit.machine.fact("rated current"), 0.0)
        rows |= current.value < np.maximum(limits.idle_current_share * rated, limits.idle_current)
    low, high = _running(visit)
    if low is not None and high is not None:
        rows |= np.maximum(low, high) < limits.standing_ratio[0] * np.minimum(low, high)
    return rows


def _running(visit: Visit) -> tuple[Any, Any]:
    taken = visit.last.readings
    low, high = (absolute(taken[name], visit.machine) if name in taken else None for name in RUNNING)
    return low, high


def meaningless(visit: Visit, stands: Any) -> Any:
    """Rows in which what is worked out of the pressures means nothing: the compressor stands, or they changed places."""
    low, high = _running(visit)
    return stands if low is None or high is None else stands | (low > high)


def endangered(whole: Rows, fired: Fired, stands: Any) -> Endangered:
    """All that could hurt. fired: the rules that fire by all readings; stands: see `standing`."""
    n = whole.n
    at_rest = stands | (fired.states.get("compressor", {}).get("standing", np.zeros(n)) > 0.5)
    found = [*_high_side(whole), *_vacuum(whole), ("live-parts", False, at_rest)]
    holding = whole.kind.holding("caution", fired.patterns, n, 0.5)
    holding.sort(key=lambda one: one[0].rank)
    for rule, rows in holding:
        if rule.level is None:
            continue
        worse = [where for other, where in holding if said_by(rule, [other])]
        if worse:
            rows = rows & ~np.logical_or.reduce(worse)
        found.append((rule.id, rule.level == "stop", rows))
    found.sort(key=lambda one: not one[1])
    stop = np.zeros(n, dtype=bool)
    for _, stops, rows in found:
        if stops:
            stop |= rows
    cautions = [(rule.id, rows) for rule, rows in holding if rule.level is None]
    return Endangered([(code, rows) for code, _, rows in found], cautions, stop)


def _high_side(whole: Rows) -> list[tuple[str, bool, Any]]:
    visit, rules = whole.visit, whole.kind.rules
    taken, own = visit.last.readings, visit.machine.fact("high pressure cut-out")
    told = limit_of_the_refrigerant(visit.machine.refrigerant, rules)
    by_gas = math.inf if told is None else told[0]
    limit = np.broadcast_to(by_gas if own is None else lesser(otherwise(own, math.inf), by_gas), whole.n)
    gauges = [above_air(taken[name], visit) for name in PRESSURES if name in taken]
    if not gauges:
        return []
    highest = np.fmax.reduce(np.broadcast_arrays(*gauges))
    over, near = highest > limit, highest > near_share(rules) * limit
    return [("high-side-pressure", True, over), ("high-side-near-limit", False, near & ~over)]


def _vacuum(whole: Rows) -> list[tuple[str, bool, Any]]:
    visit, taken = whole.visit, whole.visit.last.readings
    lowest, error = np.full(whole.n, math.inf), np.zeros(whole.n)
    for name in sorted({*PRESSURES} & taken.keys()):  # of equal ones the first by name, as a tuple would have it
        above = above_air(taken[name], visit)
        lower = above < lowest
        lowest, error = np.where(lower, above, lowest), np.where(lower, error_above_air(taken[name], visit), error)
    return [("suction-in-vacuum", True, lowest < -error)]
