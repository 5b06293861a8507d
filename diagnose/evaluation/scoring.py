"""Answers against truths: what counts as right, wrong, missed, harmful. Pure functions."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from diagnose.evaluation.model import (
    NOTHING_WRONG,
    SIZES,
    Answered,
    Bin,
    Confusion,
    Detail,
    PairsMeasured,
    RankedAnswer,
    Rate,
    Score,
    SlipMeasured,
    ToldBeside,
    Truth,
)
from diagnose.evaluation.work import Slipped

BINS = 10
COMMONEST = 10
_CHARGE: Mapping[str, str] = {"low-charge": "low", "overcharge": "high"}


def is_first(one: Answered) -> bool:
    """The true fault, or one of the two, is in first place."""
    return one.answer.first in one.truth.counted


def in_first_two(one: Answered) -> bool:
    """Every true fault is in the first two places."""
    return one.truth.counted <= set(one.answer.order[:2])


def is_false_alarm(one: Answered) -> bool:
    """Nothing is wrong, and a fault comes first."""
    return one.truth.healthy and one.answer.first not in (None, NOTHING_WRONG)


def is_missed(one: Answered) -> bool:
    """A fault, and nothing-wrong comes first."""
    return not one.truth.healthy and one.answer.first == NOTHING_WRONG


def is_misdiagnosis(one: Answered) -> bool:
    """A fault, and another fault comes first."""
    return not one.truth.healthy and one.answer.first not in (None, NOTHING_WRONG, *one.truth.counted)


def is_harmful(one: Answered) -> bool:
    """Told to add though charge is not low, or to remove though it is not high."""
    needed = {"low": "low-charge", "high": "overcharge"}.get(one.answer.verdict)
    return needed is not None and needed not in one.truth.faults


def advised_right(one: Answered) -> bool:
    """The charge verdict agrees with a truth that is low charge, overcharge or nothing wrong."""
    return one.answer.verdict == ("right" if one.truth.healthy else _CHARGE.get(one.truth.fault))


def score(cases: Sequence[Answered]) -> Score:
    """The figures of some cases with one fault each. A judge that only advises on the charge is not counted as ranking."""
    ranking = [one for one in cases if one.answer.ranks]
    healthy = [one for one in ranking if one.truth.healthy]
    faulty = [one for one in ranking if not one.truth.healthy]
    showing = [one for one in faulty if one.shows]
    charge = [one for one in cases if one.truth.fault in _CHARGE]
    charge_only = charge + [one for one in cases if one.truth.healthy]
    return Score(
        first=_rate(map(is_first, ranking)),
        first_two=_rate(map(in_first_two, ranking)),
        no_answer=_rate(one.answer.first is None for one in ranking),
        false_alarm=_rate(map(is_false_alarm, healthy)),
        firm_false_alarm=_rate(bool(one.answer.firm - {NOTHING_WRONG}) for one in healthy),
        missed=_rate(map(is_missed, showing)),
        misdiagnosis=_rate(map(is_misdiagnosis, faulty)),
        shows=_rate(one.shows for one in faulty),
        harmful=_rate(map(is_harmful, cases)),
        right_charge=_rate(map(advised_right, charge)),
        right_advice=_rate(map(advised_right, charge_only)),
        undecided=_rate(one.answer.verdict == "do not judge" for one in charge_only),
    )


def told(cases: Sequence[Answered]) -> ToldBeside:
    """The figures of what is told beside the ranking, of cases with one fault each."""
    amounts = [
        (one.answer.amount, one.truth.charge)
        for one in cases
        if one.answer.amount is not None and one.truth.fault in _CHARGE
    ]
    widths = [high - low for (low, high), _ in amounts if math.isfinite(high - low)]
    costs = [
        [
            _holds(found, lost)
            for one in cases
            for found, lost in [(one.answer.costs[i], one.truth.lost[i])]
            if found is not None
        ]
        for i in range(2)
    ]
    return ToldBeside(
        second_in_vain=_rate(not one.truth.counted.issuperset(one.answer.also) for one in cases),
        amount=_rate(low <= charge <= high for (low, high), charge in amounts),
        at_least=Rate(len(amounts) - len(widths), len(amounts)),
        width=sum(widths) / len(widths) if widths else None,
        cooling=_rate(costs[0]),
        efficiency=_rate(costs[1]),
    )


def _holds(said: tuple[int, int], lost: float) -> bool:
    """Whether a range in whole percent holds what is lost; what is gained is no loss."""
    return said[0] - 0.5 <= max(lost, 0.0) <= said[1] + 0.5


def _rate(tests: Iterable[bool]) -> Rate:
    found = list(tests)
    return Rate(sum(found), len(found))


def metering_devices(cases: Sequence[Answered]) -> list[str]:
    """Those that the machines have, in the order of the alphabet."""
    return sorted({one.truth.metering for one in cases}, key=str.lower)


def detail(cases: Sequence[Answered]) -> Detail:
    """All figures of one judge with one set of readings."""
    devices = metering_devices(cases)
    by_fault: dict[str, dict[str, list[Answered]]] = defaultdict(lambda: {device: [] for device in devices})
    by_size: dict[str, dict[str, list[Answered]]] = defaultdict(lambda: {size: [] for size in SIZES})
    third = thirds([one.truth for one in cases])
    for one in cases:
        by_fault[one.truth.fault][one.truth.metering].append(one)
        if not one.truth.healthy:
            by_size[one.truth.fault][third[one.truth.place]].append(one)
    return Detail(
        score=score(cases),
        told=told(cases),
        by_fault=_scores(by_fault),
        by_size=_scores(by_size),
        reliability_first=reliability(cases, first_only=True),
        reliability_all=reliability(cases, first_only=False),
        confusions=confusions(cases),
    )


def _scores(parts: Mapping[str, Mapping[str, list[Answered]]]) -> dict[str, dict[str, Score]]:
    return {fault: {name: score(part) for name, part in inner.items()} for fault, inner in sorted(parts.items())}


def thirds(truths: Sequence[Truth]) -> dict[int, str]:
    """Place of a case -> mild, middle or severe: thirds by severity among the cases of its sort."""
    sorts: dict[str, list[Truth]] = defaultdict(list)
    for truth in truths:
        sorts[truth.sort].append(truth)
    found = {}
    for several in sorts.values():
        for rank, truth in enumerate(sorted(several, key=lambda t: (t.severity, t.place))):
            found[truth.place] = SIZES[int((rank + 0.5) / len(several) * len(SIZES))]
    return found


def reliability(cases: Sequence[Answered], *, first_only: bool) -> tuple[Bin, ...]:
    """Shares in bins of 0.1 against how often they were true; of the fault in first place, or of every fault."""
    shares: list[list[float]] = [[] for _ in range(BINS)]
    true = [0] * BINS
    for one in cases:
        for fault, share in one.answer.ranked[:1] if first_only else one.answer.ranked:
            place = min(int(share * BINS), BINS - 1)
            shares[place].append(share)
            true[place] += fault in one.truth.counted
    return tuple(
        Bin(i / BINS, (i + 1) / BINS, sum(part) / len(part) if part else None, Rate(true[i], len(part)))
        for i, part in enumerate(shares)
    )


def confusions(cases: Sequence[Answered], most: int = COMMONEST) -> tuple[Confusion, ...]:
    """The commonest wrong pairs, truth -> what came first, with counts for each metering device."""
    counts: dict[tuple[str, str | None], Counter[str]] = defaultdict(Counter)
    for one in cases:
        if one.answer.ranks and not is_first(one):
            (truth,) = one.truth.counted
            counts[truth, one.answer.first][one.truth.metering] += 1
    devices = metering_devices(cases)
    found = [
        Confusion(truth, first, {device: by[device] for device in devices}) for (truth, first), by in counts.items()
    ]
    return tuple(sorted(found, key=lambda c: (-c.count, c.truth, c.first or ""))[:most])


def score_pairs(name: str, cases: Sequence[Answered]) -> PairsMeasured:
    """The figures of cases with two faults; a restriction and an underfeeding device together count as one."""
    return PairsMeasured(
        name,
        one_first=_rate(map(is_first, cases)),
        both_first_two=_rate(map(in_first_two, cases)),
        both_named=_rate(one.truth.counted <= _named(one.answer) for one in cases),
        both_told=_rate(one.truth.counted <= _named(one.answer) or in_first_two(one) for one in cases),
        no_answer=_rate(one.answer.first is None for one in cases),
        harmful=_rate(map(is_harmful, cases)),
    )


def _named(answer: RankedAnswer) -> set[str]:
    return {*answer.order[:1], *answer.also}


def score_slips(slips: Sequence[Slipped]) -> tuple[SlipMeasured, ...]:
    """How often each slip is named, for each set of readings."""
    parts: dict[tuple[str, str], list[Slipped]] = defaultdict(list)
    for one in slips:
        parts[one.name, one.slip].append(one)
    return tuple(
        SlipMeasured(name, slip, _rate(one.named for one in part), _rate(one.false for one in part))
        for (name, slip), part in parts.items()
    )
