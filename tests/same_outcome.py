"""What the two evaluators say of the same visits, side by side: `examine`, and columns."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from diagnose import Diagnosis, examine
from diagnose.batch import evaluator
from diagnose.batch.evaluator import TableOutcome, examine_columns
from diagnose.diagnosis.charge import confirmed_by
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.report.sentences import problems
from diagnose.rulebook import Rulebook
from diagnose.visit import Visit

CLOSE = 1e-9
"""Of scores, shares and quantities; all else is equal."""


def of_one(d: Diagnosis) -> dict[str, Any]:
    """What `Outcome.row` tells, of one diagnosis."""
    charge, first = d.charge, d.faults[0] if d.faults else None
    estimate = charge.percent if isinstance(charge, ChargeVerdict) else None
    return {
        "status": d.status,
        "fault": first.fault if first else None,
        "share": first.share if first else None,
        "second": d.also[0] if d.also else None,
        "charge verdict": charge.verdict,
        "charge code": charge.reasons[0].code if charge.reasons else None,
        "charge check": confirmed_by(charge, d.rules),
        "estimate": estimate,
        "at least": isinstance(charge, ChargeVerdict) and estimate is not None and charge.at_least,
        "shares": {place.fault: place.share for place in d.faults},
        "scores": {place.fault: place.score for place in d.faults},
        "dangers": tuple(danger.code for danger in d.dangers),
        "cautions": tuple(rule.id for rule in d.cautions),
        "problems": tuple(reason.code for reason, _ in problems(d)),
        "held": tuple(reason.code for reason in d.held),
        "quantities": {name: (e.value, e.sigma) for name, e in d.estimates.items()},
    }


def alike(one: Any, other: Any, close: float = CLOSE) -> bool:
    """Whether they are equal, figures as nearly as `close`."""
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=close, abs_tol=close)
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(alike(one[key], other[key], close) for key in one)
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(alike(*pair, close) for pair in zip(one, other, strict=True))
    return bool(one == other)


def differences(one: dict[str, Any], other: dict[str, Any], close: float = CLOSE) -> dict[str, tuple[Any, Any]]:
    """What is not alike in two rows."""
    return {key: (one[key], other[key]) for key in one if not alike(one[key], other[key], close)}


def ranking(row: dict[str, Any]) -> list[str]:
    """The faults of a row, likeliest first; of equal ones in the order of the book."""
    return sorted(row["scores"], key=lambda fault: -round(row["scores"][fault], 9))


@contextmanager
def nothing_alone() -> Iterator[None]:
    """All that can be is done in columns, also where a kind of machine has one row only."""
    few, evaluator.FEW = evaluator.FEW, 1
    try:
        yield
    finally:
        evaluator.FEW = few


def in_columns(visits: Sequence[Visit], rules: Rulebook) -> TableOutcome:
    """The visits in columns, each of them."""
    with nothing_alone():
        return examine_columns(visits, rules)


def check_alike(names: Sequence[str], visits: Sequence[Visit], rules: Rulebook) -> TableOutcome:
    """Both evaluators say the same of every visit. Returns what columns say."""
    found = in_columns(visits, rules)
    for i, (name, visit) in enumerate(zip(names, visits, strict=True)):
        want = of_one(examine(visit, rules))
        assert not (odd := differences(want, found.row(i))), f"{name}: {odd}"
        assert ranking(want) == ranking(found.row(i)), name
    return found
