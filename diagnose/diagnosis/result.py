"""The result as JSON fixes it: SI values, rounded to significant digits so that equal visits print equal text."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from diagnose.diagnosis.charge import Charge
from diagnose.diagnosis.costs import Costs
from diagnose.diagnosis.explanations import Explained, Statement
from diagnose.diagnosis.next_checks import NextCheck
from diagnose.diagnosis.sensitivity import TurningPoint
from diagnose.quantities.uncertainty import Estimate
from diagnose.targets import NoTarget
from diagnose.units import Kind
from diagnose.visit import READINGS

_UNITS: Mapping[str, str] = {
    "temperature": "K",
    "difference": "K",
    "drift": "K per 5 min",
    "share drift": "1 per 5 min",
    "pressure": "Pa",
    "small pressure": "Pa",
    "capacity": "W",
    "airflow per capacity": "m3/(s W)",
    "time": "s",
    "humidity": "kg/kg",
    "energy": "kg/s",
}


_SI: Mapping[Kind, str] = {
    "temperature": "K",
    "pressure": "Pa",
    "small pressure": "Pa",
    "airflow": "m3/s",
    "current": "A",
    "percent": "1",
}


def _digits(value: float | None, digits: int = 6) -> float | None:
    """Rounded to significant digits, so that equal visits print equal text."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{digits}g}")


def rounded(words: Mapping[str, float]) -> dict[str, float]:
    """Chances to four places."""
    return {word: round(chance, 4) for word, chance in words.items()}


def estimate_dict(e: Estimate) -> dict[str, Any]:
    """A quantity, SI, with what it should be and what it comes from."""
    best = e.good_day.expected if e.good_day is not None else e.target
    found: dict[str, Any] = {
        "value": _digits(e.value),
        "sigma": _digits(e.sigma, 3),
        "expected": _digits(best.value) if best else None,
        "unit": _UNITS.get(e.kind, "1"),
        "from": list(e.readings),
    }
    if e.good_day is not None:
        found["expected_generic"] = _digits(e.target.value) if e.target else None
        found["expected_sigma"] = _digits(e.good_day.expected.spread, 3)
    if isinstance(e.expected, NoTarget):
        found["no_target"] = e.expected.why
    return found


def charge_dict(c: Charge) -> dict[str, Any]:
    """The charge verdict, temperature differences in K, masses in kg."""
    return {
        "verdict": c.verdict,
        "method": c.method,
        "measured": _digits(c.measured),
        "sigma": _digits(c.measured_sigma, 3),
        "target": _digits(c.target),
        "tolerance": _digits(c.tolerance),
        "target_by_baseline": _digits(c.own),
        "unit": "K",
        "leaning": c.leaning,
        "chance": _digits(c.chance, 4),
        "estimate_percent": list(c.percent) if c.percent else None,
        "estimate_kg": [_digits(m, 3) for m in c.mass] if c.mass else None,
        "why": c.why,
        "improve": c.improve,
        "caveats": list(c.caveats),
        "expect_after": {
            name: {"value": _digits(e.value), "tolerance": _digits(e.tolerance), "unit": "K"}
            for name, e in c.expect_after.items()
        },
    }


def costs_dict(c: Costs) -> dict[str, Any]:
    """What the fault costs, in percent."""
    return {
        "fault": c.fault,
        "capacity_percent": list(c.capacity),
        "efficiency_percent": list(c.efficiency) if c.efficiency else None,
        "running_cost_percent": list(c.running) if c.running else None,
        "why": c.level,
        "source": c.source,
    }


def _statement_dict(s: Statement) -> dict[str, Any]:
    return {
        "rule": s.rule,
        "points": s.points,
        "sure": round(s.sure, 4),
        "text": s.text,
        "source": s.source,
        "book": s.book,
        "note": s.note,
    }


def check_dict(c: NextCheck) -> dict[str, Any]:
    """A check with what it may find."""
    return {
        "check": c.check,
        "ask": c.ask,
        "why": c.why,
        "minutes": c.minutes,
        "needs": c.needs,
        "saves_hours": round(c.saves, 3),
        "worth": round(c.worth, 3),
        "outcomes": [
            {
                "finds": dict(o.words),
                "chance": round(o.chance, 4),
                "fault": o.fault,
                "share": round(o.share, 4),
                "strength": o.strength,
            }
            for o in c.outcomes
        ],
    }


def turning_point_dict(t: TurningPoint) -> dict[str, Any]:
    """One change that would turn the answer, for JSON; SI, a gauge pressure above that of the air."""
    return {
        "reading": t.reading.name,
        "value": _digits(t.value),
        "instead_of": _digits(t.reading.value),
        "unit": _SI[READINGS[t.reading.name].kind],
        "fault": t.fault,
        "times_error": _digits(t.times_error, 3),
    }


def fault_dict(f: Explained) -> dict[str, Any]:
    """A fault with its reasons."""
    return {
        "fault": f.fault,
        "name": f.name,
        "score": round(f.score, 4),
        "share": round(f.share, 4),
        "strength": f.strength,
        "for": [_statement_dict(s) for s in f.supporting],
        "against": [_statement_dict(s) for s in f.opposing],
        "missing": [m.finding for m in f.missing],
    }
