"""The charge verdict of columns of visits, with the first reason of each row: see `diagnosis/charge.py`."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diagnose.batch.columnwise.codes import First, Lexicon
from diagnose.batch.columnwise.estimating import Estimated
from diagnose.batch.columnwise.explaining import Weighed
from diagnose.batch.columnwise.saying import Said
from diagnose.diagnosis.amount import ends, surely_beyond
from diagnose.diagnosis.charge import (
    AT_REST,
    BESIDE,
    CHARGE_HIDDEN,
    CHARGE_IS_OFF,
    HALF_READ,
    HEATING_TARGET,
    ONE_HALF,
    WITHOUT_A_TARGET,
    beyond_any,
)
from diagnose.properties import targets
from diagnose.properties.targets import NoTarget, Target
from diagnose.properties.targets.expected import ORIGINS, REASONS
from diagnose.quantities.plausibility import Doubt, taken
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.rulebook import Rule
from diagnose.units.columns import is_column
from diagnose.visit import FIXED_ORIFICE, HEATING, Machine
from diagnose.visit.fields import MICROCHANNEL

VERDICTS = ("low", "right", "high")
LOW, RIGHT, HIGH = range(3)
NONE = -1
EMPTIED = "beyond-any-target"
"""The reason of a charge that is low whatever its target is."""


@dataclass(slots=True)
class Charged:
    """Verdict (place in VERDICTS, -1: do not judge), the code of its first reason, and the estimate in percent (nan: none).

    check: on which a charge that is off hangs; `confirming.py` tells it.
    early: rows of which nothing was asked, so that no hold was told.
    """

    verdict: Any
    code: First
    check: First
    low: Any
    high: Any
    at_least: Any
    early: Any

    def none(self, rows: Any, codes: Any) -> None:
        """No verdict in those rows, for another reason."""
        self.verdict[rows], self.code.codes[rows], self.check.codes[rows] = NONE, codes, -1
        self.low[rows], self.high[rows], self.at_least[rows] = math.nan, math.nan, False


def charged(
    w: Weighed,
    machine: Machine,
    found: Estimated,
    holds: Sequence[tuple[Rule, Any]],
    doubts: Sequence[Doubt],
    lexicon: Lexicon,
) -> Charged:
    """See `charge.judge_charge`. holds: rules on the charge, and in which rows; doubts: also what nearly held all."""
    n, heats = w.n, machine.mode == HEATING
    code = First(n, lexicon)
    off, check = np.zeros((2, n), dtype=bool), First(n, lexicon)
    result = Charged(np.full(n, NONE, dtype=np.int8), code, check, _nan(n), _nan(n), *off)
    if heats:
        for rule, rows in holds:
            if rule.id in (CHARGE_HIDDEN, HEATING_TARGET):
                code.add(rule.id, rows)
        result.early = ~code.none
    elif machine.metering is None:
        for rule, rows in holds:
            code.add(rule.id, rows)
        code.add("metering-not-given", np.arange(n))
        return result
    method = "superheat" if machine.metering == FIXED_ORIFICE and not heats else "subcooling"
    finding, estimate = w.words.get(f"charge by {method}"), found.estimates.get(method)
    there = np.zeros(n, dtype=bool) if estimate is None else np.isfinite(estimate.value)
    judged = there & w.there(f"charge by {method}") & ~result.early
    for rule, rows in holds:
        code.add(rule.id, rows)
    holding = [doubt for doubt in doubts if doubt.holds_charge]
    for doubt in holding:
        code.add(doubt.reason.code, doubt.firm)
    if estimate is not None:
        emptied = _emptied(w, estimate, holds, holding) & there & ~judged & ~result.early
        result.verdict[emptied] = LOW
        code.codes[emptied] = lexicon.number(EMPTIED)
        result.early = result.early | emptied
    unjudged = ~judged & ~result.early
    if machine.refrigerant is None:
        code.add("refrigerant-not-given", unjudged)
    code.add("charge-not-measured", unjudged & ~there)
    code.add("no-target-superheat", unjudged)
    if finding is None or estimate is None or not judged.any():
        result.early = result.early & (result.verdict == NONE)
        return result
    leaning = np.where(_leading(finding, "low"), LOW, np.where(_leading(finding, "high"), HIGH, RIGHT))
    _hold_what_is_unsure(w, finding, leaning, found.touched.get(method, {}), doubts, holding, code, judged)
    device = w.words.get("metering check")
    if device is not None:
        asked = judged & code.none & device.there & ~(device.chance(("in range",)) > 0.5)
        above = _leading(device, "above range") & (leaning == LOW)
        code.add("valve-off-its-superheat", asked & ~above)
    if method == "superheat":
        much, little = (w.chance("subcooling", word, f"very {word}") > 0.5 for word in ("high", "low"))
        code.add("liquid-is-held-back", judged & (leaning == LOW) & much)
        code.add("little-liquid-in-condenser", judged & (leaning == HIGH) & little)
        half = np.logical_or.reduce([w.there(name) for name in ONE_HALF])
        code.add(HALF_READ, judged & (leaning != RIGHT) & half & ~w.there("subcooling"))
    else:
        read = np.logical_or.reduce([w.there(name) for name in BESIDE["high"]])
        air = "heat-out-not-measured" if heats else "condensing-not-measured"
        code.add(air, judged & (leaning == HIGH) & ~read)
    code.add(
        "efficiency-not-noted", judged & (leaning == HIGH) & _hot_as_with_air(found.estimates, w) & ~w.there(AT_REST)
    )
    _rivals(w, leaning, code, judged, heats)
    verdict = judged & code.none
    result.verdict[verdict] = leaning[verdict]
    code.add("charge-judged", verdict)
    if not heats:
        _estimate(w, result, verdict, machine, found.estimates)
    result.early = result.early & (result.verdict == NONE)
    return result


def _hot_as_with_air(estimates: Mapping[str, Estimate], w: Weighed) -> Any:
    """See `charge.hot_for_its_class`."""
    over, liquid = estimates.get("condensing over ambient"), estimates.get("subcooling")
    if (
        over is None
        or liquid is None
        or not isinstance(over.expected, Target)
        or not isinstance(liquid.expected, Target)
    ):
        return np.zeros(w.n, dtype=bool)
    origin = over.expected.origin
    assumed = origin == (ORIGINS.index("assumed") if is_column(origin) else "assumed")
    without = over.value - (liquid.value - liquid.expected.value)
    return assumed & (without > w.rules.judgement.charge_range.without_air)


def _nan(n: int) -> Any:
    return np.full(n, math.nan)


def _emptied(w: Weighed, superheat: Estimate, holds: Sequence[tuple[Rule, Any]], holding: Sequence[Doubt]) -> Any:
    """See `charge._emptied`; and no doubt that holds the charge."""
    expected = superheat.expected
    beyond = expected.beyond if isinstance(expected, Target) else expected
    if not isinstance(beyond, NoTarget) or beyond.nearest is None:
        return np.zeros(w.n, dtype=bool)
    none = ~np.isfinite(expected.value) if isinstance(expected, Target) else np.ones(w.n, dtype=bool)
    rows = none & np.isfinite(beyond.nearest.value)
    for rule, where in holds:
        if rule.id not in WITHOUT_A_TARGET:
            rows = rows & ~where
    for doubt in holding:
        rows = rows & ~(np.nan_to_num(doubt.weight) > 0)
    blank = np.asarray(beyond.reason == (REASONS.index("blank") if isinstance(expected, Target) else "blank"))
    low = np.array([w.rules.faults[fault].charge == "low" for fault in w.scored.faults])
    leader = w.scored.order[0]
    return (
        rows
        & (superheat.value - COVERAGE * superheat.sigma > beyond_any(blank, beyond.nearest.value, w.rules))
        & (w.chance("subcooling", "very low") > 0.5)
        & low[leader]
        & (w.scored.shares[leader, np.arange(w.n)] >= w.rules.charge.sure)
    )


def _leading(finding: Said, word: str) -> Any:
    """The rows in which this is the likeliest word; of equal ones the first counts."""
    names = list(finding.words)
    best = np.argmax(np.stack(np.broadcast_arrays(*finding.words.values())), axis=0)
    return best == names.index(word) if word in names else np.zeros(best.shape, dtype=bool)


def _hold_what_is_unsure(
    w: Weighed,
    finding: Said,
    leaning: Any,
    touched: Mapping[str, Any],
    doubts: Sequence[Doubt],
    holding: Sequence[Doubt],
    code: First,
    judged: Any,
) -> None:
    """What is doubted lowers the chance little by little, so that the verdict is held before the doubt is firm.

    All readings together may say that the charge is right, see `charge._all_agree`.
    """
    rules, scored, every = w.rules, w.scored, list(finding.words.values())
    total = np.minimum(1.0, sum(every[1:], every[0]))
    sound = np.maximum.reduce(np.broadcast_arrays(*every)) / np.where(total > 0, total, 1.0)
    concerned = list(holding)
    for doubt in doubts:
        rows = [touched[name] for name in doubt.set_aside if name in touched]
        if rows:
            where = np.logical_or.reduce(np.broadcast_arrays(*rows))
            concerned.append(doubt.times(np.where(where, 1.0, 0.0)))
    doubted = np.nan_to_num(taken(concerned)) if concerned else 0.0
    chance = sound * (1.0 - doubted)
    unsure = judged & code.none & (chance < rules.charge.sure)
    if concerned:
        weights = np.nan_to_num(np.stack(np.broadcast_arrays(*(doubt.weight for doubt in concerned))))
        surest, most = np.argmax(weights, axis=0), weights.max(axis=0)
        for place, doubt in enumerate(concerned):
            code.add(doubt.reason.code, unsure & (rules.charge.sure <= sound) & (surest == place) & (most > 0))
    sides = [rules.faults[fault].charge for fault in scored.faults]
    right = 1.0 - scored.shares[_off(sides)].sum(axis=0)
    first, *second = (scored.shares[order, np.arange(judged.size)] for order in scored.order[:2])
    led = np.array([side == "right" for side in sides])[scored.order[0]]
    leads = (leaning == RIGHT) & led & ~(first - sum(second) < rules.charge.leads_by)
    agree = unsure & leads & (right * (1.0 - doubted) >= rules.charge.sure)
    code.add("near-the-limit", unsure & ~agree)


def _off(sides: Sequence[str | None]) -> list[int]:
    """The places of the faults that are a charge which is off."""
    return [place for place, side in enumerate(sides) if side in CHARGE_IS_OFF]


def _rivals(w: Weighed, leaning: Any, code: First, judged: Any, heats: bool) -> None:
    """See `charge._rival` and `_rival_reason`."""
    charges = [w.rules.faults[fault].charge for fault in w.scored.faults]
    alike = _unparted(w)
    both = np.zeros(w.n, dtype=bool) if heats else w.there("superheat") & w.there("subcooling")
    ranks = np.argsort(w.scored.order, axis=0, kind="stable")
    for verdict, side in enumerate(VERDICTS):
        of_side = [place for place, charge in enumerate(charges) if charge == side]
        rows = np.flatnonzero(judged & code.none & (leaning == verdict))
        if not of_side or not rows.size or len(charges) < 2:
            continue
        first = np.array(of_side)[np.argmin(ranks[np.ix_(of_side, rows)], axis=0)]
        for own in of_side:
            some = rows[first == own]
            if some.size:
                _rivals_of(w, own, some, charges, ranks[:, some], alike, both[some], code)


def _rivals_of(
    w: Weighed,
    own: int,
    rows: Any,
    charges: Sequence[str | None],
    ranks: Any,
    alike: Mapping[str, Any],
    both: Any,
    code: First,
) -> None:
    scored, policy, side = w.scored, w.rules.charge, charges[own]
    shares = scored.shares[:, rows]
    share = shares[own]
    others = [place for place in range(len(charges)) if place != own]
    own_name = scored.faults[own]
    if side == "right":
        ahead = np.array(others)[np.argmin(ranks[others], axis=0)]
        rival = np.where(shares[ahead, np.arange(rows.size)] - share > policy.leads_by, ahead, -1)
        if off := _off(charges):
            likeliest = np.array(off)[np.argmin(ranks[off], axis=0)]
            rival = np.where(shares[off].sum(axis=0) > 1.0 - policy.sure, likeliest, rival)
    else:
        of_all = share + sum(shares[place] for place in others if charges[place] != "right")
        too_little = both & (share < policy.least_share * of_all)
        weights, in_the_way = np.empty((len(others), rows.size)), np.zeros((len(others), rows.size), dtype=bool)
        for i, place in enumerate(others):
            fault = scored.faults[place]
            group = next((group for group in policy.one_doubt if fault in group), (fault,))
            weights[i] = sum(shares[each] for each in others if scored.faults[each] in group)
            if charges[place] == "right":
                asked = np.flatnonzero(~(share < shares[place]))  # else it is in the way already
                in_the_way[i] = True
                apart = _without_what_it_does_not_make(w, place, own_name, rows[asked])
                in_the_way[i, asked] = share[asked] < apart
                continue
            margin: Any = policy.leads_by
            if own_name in alike and fault in alike:
                margin = np.where(alike[own_name][rows] & alike[fault][rows], policy.sure, policy.leads_by)
            in_the_way[i] = too_little | (share - weights[i] < margin)
        rival = _heaviest(weights, ranks[others], in_the_way)
        rival = np.where(rival >= 0, np.array(others)[rival], -1)
    leader = scored.order[0, rows]
    side_of = np.array([charge == side for charge in charges])
    is_right = np.array([charge == "right" for charge in charges])
    there = rival >= 0
    beside = shares[np.maximum(rival, 0), np.arange(rows.size)]
    for reason, which in (
        ("likely-only-by-others", there & is_right[rival] & (share > beside)),
        ("readings-say-nothing-wrong", there & is_right[rival]),
        ("rival-too-likely", there & side_of[leader]),
        ("rival-explains-better", there),
    ):
        code.add(reason, rows[which])


def _heaviest(weights: Any, ranks: Any, which: Any) -> Any:
    """Of each row the place with the greatest weight among those meant, the likelier of equal ones; -1 where none is meant."""
    weighed = np.where(which, weights, -1.0)
    most = weighed.max(axis=0)
    best = np.argmin(np.where(weighed == most, ranks, np.iinfo(np.int64).max), axis=0)
    return np.where(which.any(axis=0), best, -1)


def _without_what_it_does_not_make(w: Weighed, place: int, own: str, rows: Any) -> Any:
    """See `second_fault.without_what_it_does_not_make`."""
    words, making, scored = w.words, w.making, w.scored
    made, spared = making.makes.of[own], np.zeros(rows.size)
    for e in scored.evidence[scored.faults[place]]:
        weight = e.weight[rows]
        if e.points >= 0 or not weight.any():
            continue
        its, any_there = np.zeros(rows.size), np.zeros(rows.size, dtype=bool)
        for name, allowed in making.asked[e.pattern]:
            if name in words:
                total = np.asarray(words[name].chance(allowed)[rows])
                part = words[name].chance(allowed & made.get(name, frozenset()))[rows]
                its = np.maximum(its, np.where(total > 0, part / np.where(total > 0, total, 1.0), 0.0))
                any_there |= words[name].there[rows]
        spared -= weight * (1.0 - np.where(any_there, its, 1.0))
    return scored.shares[place, rows] * np.exp2(spared)


def _unparted(w: Weighed) -> dict[str, Any]:
    """See `charge.unparted`: fault -> the rows in which others look like it."""
    found: dict[str, Any] = {}
    for alike in w.rules.charge.unparted:
        rows = np.ones(w.n, dtype=bool)
        for name, asked in alike.parted_by:
            for word in asked:
                rows &= np.logical_not(w.chance(name, word) >= w.rules.charge.sure)
        for name, asked in alike.findings:
            rows &= w.chance(name, *asked) > 0.5
        for fault in alike.faults:
            found[fault] = found.get(fault, False) | rows
    return found


def _estimate(w: Weighed, result: Charged, verdict: Any, machine: Machine, estimates: Mapping[str, Estimate]) -> None:
    """See `amount.how_much`."""
    none: Any = np.zeros(w.n, dtype=bool)
    cooling, heat = estimates.get("subcooling"), estimates.get("superheat")
    orifice = machine.metering == FIXED_ORIFICE
    if cooling is None or cooling.target is None or machine.words.get("condenser coil") == MICROCHANNEL:
        return
    of_liquid, of_vapor = targets.charge_slopes(cooling.target.value)
    off = of_liquid * (cooling.value - cooling.target.value)
    error: Any = COVERAGE * (of_liquid * cooling.difference_sigma)
    by_heat: Any = np.zeros(verdict.size)
    if orifice and heat is not None and heat.target is not None:
        by_heat = np.nan_to_num(of_vapor * (heat.value - heat.target.value))
        by_vapor = COVERAGE * (of_vapor * heat.difference_sigma)
        error = np.hypot(error, np.where(np.isfinite(heat.value - heat.target.value), by_vapor, 0.0))
    ended: Any = (cooling.value <= COVERAGE * cooling.sigma) | (w.chance("sight glass", "bubbles") > 0.5)
    ended = none if orifice else ended
    wet: Any = heat.value <= COVERAGE * heat.sigma if orifice and heat is not None else none
    check = w.words.get("metering check")
    beyond: Any = 0.0
    if check is not None and heat is not None:
        beyond = np.where(check.there, of_vapor * surely_beyond(heat, check.last), 0.0)
    least_told = w.rules.judgement.charge_range.least
    known = np.isfinite(off) & (np.asarray(cooling.target.value) > 0)
    for which, sign, open_end, more in ((LOW, -1.0, ended, beyond), (HIGH, 1.0, wet, None)):
        least, most = ends(sign * off, sign * by_heat, error, open_end, more, w.rules)
        rows = verdict & (result.verdict == which) & known & ~(most - least < least_told)
        low, high = (sign * most, sign * least) if sign < 0 else (least, most)
        result.low[rows], result.high[rows] = np.rint(low * 100)[rows], np.rint(high * 100)[rows]
        result.at_least[rows] = open_end[rows]
