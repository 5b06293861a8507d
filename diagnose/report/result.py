"""The result as JSON fixes it: SI values, rounded to significant digits so that equal visits print equal text."""

from __future__ import annotations

import math
from collections.abc import Mapping
from html import escape
from typing import Any

from diagnose.diagnosis.costs import Costs
from diagnose.diagnosis.explanations import missing
from diagnose.diagnosis.next_checks import NextCheck, next_checks
from diagnose.diagnosis.ranking import Evidence, Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.sensitivity import TurningPoint, sensitivity, would_change
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.properties.targets import NoTarget
from diagnose.quantities.uncertainty import Estimate
from diagnose.report.costs import size_text
from diagnose.report.dangers import danger_source, danger_text, loosened_text, opening, unfit_text
from diagnose.report.field import visit_dict
from diagnose.report.pages import answer
from diagnose.report.sentences import charge_text, problems, rule_text, said
from diagnose.report.start_up import start_up_dict
from diagnose.report.weighing import weigh_in_dict
from diagnose.report.wording import cite, fill, name_of, no_target_text, spoken_by
from diagnose.units.table import CALLED

_UNITS: Mapping[str, str] = {
    **{kind: called.base for kind, called in CALLED.items()},
    "drift": "K per 5 min",
    "share drift": "1 per 5 min",
    "airflow per capacity": "m3/(s W)",
    "humidity": "kg/kg",
    "energy": "kg/s",
}
"""SI units of quantities and readings; a plain number is `1`."""

FORMAT = 2


def result(d: Diagnosis) -> dict[str, Any]:
    """The whole result, ready for JSON: SI values, best fault first."""
    second = d.explained.second
    return {
        "format": FORMAT,
        "status": d.status,
        "visit": visit_dict(d),
        "rulebook": d.rules.name,
        "unfit_rules": None
        if (unfit := d.rules.unfit) is None
        else {
            "folders": list(unfit.folders),
            "mistakes": unfit.mistakes,
            "instead": unfit.instead,
            "left_out": list(d.visit.left_out),
            "text": unfit_text(unfit, d.visit.left_out),
        },
        "matcher": d.matcher,
        "dangers": dangers_list(d),
        "loosened": [
            {
                "kind": change.kind,
                "target": change.target,
                "book": own,
                "date": change.date,
                "because": change.because,
                "approved_by": change.approved_by,
                "text": loosened_text(own, change),
            }
            for own, change in d.rules.loosened
        ],
        "outside": [{"code": reason.code, "text": said(d, reason)} for reason in d.outside],
        "not_ready": [{"code": reason.code, "text": said(d, reason)} for reason in d.not_ready],
        "charge": charge_dict(d),
        "faults": [fault_dict(d, fault) for fault in d.faults],
        "also": list(d.also),
        "also_because": {second.fault: list(second.findings)} if second else {},
        "costs": costs_dict(d, d.costs) if isinstance(d.costs, Costs) else None,
        "quantities": {name: estimate_dict(d, e) for name, e in d.estimates.items()},
        "findings": {name: rounded(f.words) for name, f in d.findings.items()},
        "states": {name: rounded(words) for name, words in d.states.items()},
        "checks": [check_dict(c) for c in next_checks(d)],
        "would_change": [turning_point_dict(t) for t in would_change(d)],
        "cautions": [
            {"code": rule.id, "title": rule.entry.title, "text": rule_text(d, rule, alarming=True)}
            for rule in d.cautions
        ],
        "problems": [
            {"code": reason.code, "readings": list(readings), "text": said(d, reason)}
            for reason, readings in problems(d)
        ],
        "without_baseline": _without_baseline(d),
        **start_up_dict(d),
    }


def dangers_list(d: Diagnosis) -> list[dict[str, str]]:
    """The dangers, the worst first, with where their limits come from."""
    found = []
    for danger in d.dangers:
        title, text = danger_text(d, danger)
        source = danger_source(d, danger)
        found.append({"code": danger.code, "level": danger.level, "title": title, "text": text, "source": source})
    return found


def next_result(d: Diagnosis) -> dict[str, Any]:
    """What `next` tells, ready for JSON."""
    return {
        "format": FORMAT,
        "status": d.status,
        "dangers": dangers_list(d),
        "outside": [{"code": reason.code, "text": said(d, reason)} for reason in d.outside],
        "not_ready": [{"code": reason.code, "text": said(d, reason)} for reason in d.not_ready],
        "rulebook": d.rules.name,
        "checks": [check_dict(c) for c in next_checks(d)],
        "faults": [fault_head(d, fault) for fault in d.faults],
        "would_change": [turning_point_dict(t) for t in sensitivity(d)],
    }


def notebook(d: Diagnosis) -> str:
    """A small piece of HTML for a notebook: what must be stopped, the answer, dangers, the charge, the faults in order."""
    rows = "".join(
        f"<tr><td>{escape(name_of(f.fault, d.rules))}</td><td>{f.share:.2f}</td><td>{f.strength}</td></tr>"
        for f in d.faults
        if f.share >= 0.01
    )
    head = "<tr><th>fault</th><th>share of the odds</th><th>strength</th></tr>"
    table = f"<table>{head}{rows}</table>" if rows else ""
    begin = "".join(
        f"<p><strong>{escape(f'{block.lead} {block.text}'.strip())}</strong></p>" for block in opening(d, answer(d))
    )
    return f"{begin}<p>{escape(charge_text(d))}</p>{table}"


def row(d: Diagnosis) -> dict[str, Any]:
    """A flat mapping for a table: answer, verdict, problems, then each quantity with its unit in brackets, SI."""
    first = d.faults[0] if d.faults else None
    found: dict[str, Any] = {
        "machine": d.visit.machine.name,
        "status": d.status,
        "fault": first.fault if first else None,
        "share": round(first.share, 4) if first else None,
        "strength": first.strength if first else None,
        "second": d.also[0] if d.also else None,
        "charge verdict": d.charge.verdict,
        "dangers": "; ".join(danger.code for danger in d.dangers),
        "cautions": "; ".join(rule.id for rule in d.cautions),
        "problems": "; ".join(reason.code for reason, _ in problems(d)),
    }
    for name, e in d.estimates.items():
        found[f"{name} [{_UNITS.get(e.kind, '1')}]"] = _digits(e.value)
    return found


def short(d: Diagnosis) -> str:
    """One line for a programmer: `Diagnosis(net loft: low-charge 0.97 strong, charge low)`, `Diagnosis(net loft: STOP, …)`."""
    first = d.faults[0] if d.faults else None
    what = f"{first.fault} {first.share:.2f} {first.strength}" if first else f"{d.status}, {d.held[0].code}"
    stop = "STOP, " if d.stop else ""
    return f"Diagnosis({d.visit.machine.name[:40]}: {stop}{what}, charge {d.charge.verdict})"


def _digits(value: float | None, digits: int = 6) -> float | None:
    """Rounded to significant digits, so that equal visits print equal text."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.{digits}g}")


def rounded(words: Mapping[str, float]) -> dict[str, float]:
    """Chances to four places."""
    return {word: round(chance, 4) for word, chance in words.items()}


def estimate_dict(d: Diagnosis, e: Estimate) -> dict[str, Any]:
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
        found["no_target"] = no_target_text(e.expected, d.system)
    return found


def charge_dict(d: Diagnosis) -> dict[str, Any]:
    """The charge verdict, temperature differences in K, masses in kg; by weight measured and target are masses."""
    c, by = d.charge, d.charge.by
    found: dict[str, Any] = {
        "verdict": c.verdict,
        "code": c.reasons[0].code if c.reasons else None,
        "method": c.method,
        "measured": _digits(by.value) if by else None,
        "sigma": _digits(by.sigma, 3) if by else None,
        "target": _digits(by.target) if by else None,
        "tolerance": _digits(by.tolerance) if by else None,
        "target_by_baseline": _digits(by.own) if by else None,
        "unit": "kg" if c.method == "weight" else "K",
        "chance": _digits(c.chance, 4),
        "why": charge_text(d),
        "weigh_in": weigh_in_dict(d.visit.machine),
    }
    if isinstance(c, NoVerdict):
        nothing: dict[str, Any] = {
            "estimate_percent": None,
            "estimate_at_least": False,
            "estimate_kg": None,
            "caveats": [],
            "expect_after": {},
        }
        return {**found, "leaning": c.leaning, "improve": c.improve, **nothing}
    return {
        **found,
        "leaning": None,
        "improve": None,
        "estimate_percent": list(c.percent) if c.percent else None,
        "estimate_at_least": c.at_least,
        "estimate_kg": [_digits(m, 3) for m in c.mass] if c.mass else None,
        "caveats": [{"code": reason.code, "text": said(d, reason)} for reason in c.caveats],
        "expect_after": {
            name: {"value": _digits(e.value), "tolerance": _digits(e.tolerance), "unit": "K"}
            for name, e in c.expect_after.items()
        },
    }


def costs_dict(d: Diagnosis, c: Costs) -> dict[str, Any]:
    """What the fault costs, in percent."""
    return {
        "fault": c.fault,
        "capacity_percent": list(c.capacity),
        "efficiency_percent": list(c.efficiency) if c.efficiency else None,
        "running_cost_percent": list(c.running) if c.running else None,
        "why": size_text(c.size),
        "source": cite(c.source, d.rules),
    }


def _evidence_dict(d: Diagnosis, e: Evidence) -> dict[str, Any]:
    rule = e.rule
    return {
        "rule": rule.id,
        "points": rule.points,
        "sure": round(e.counted, 4),
        "text": fill(rule.entry.why, d.findings, d.rules, d.system, d.states),
        "source": cite(rule.entry.source, d.rules),
        "book": rule.own or d.rules.base,
        "note": spoken_by(rule, d.rules).strip(" ()"),
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
        "unit": _UNITS.get(t.reading.field.kind, "1"),
        "fault": t.fault,
        "times_error": _digits(t.times_error, 3),
    }


def fault_dict(d: Diagnosis, fault: Ranked) -> dict[str, Any]:
    """A fault with its reasons."""
    return {
        **fault_head(d, fault),
        "score": round(fault.score, 4),
        "for": [_evidence_dict(d, e) for e in fault.supporting],
        "against": [_evidence_dict(d, e) for e in fault.opposing],
        "missing": [m.finding for m in missing(d, fault.fault)],
    }


def fault_head(d: Diagnosis, fault: Ranked) -> dict[str, Any]:
    """A fault without its reasons."""
    return {
        "fault": fault.fault,
        "name": d.rules.faults[fault.fault].name,
        "share": round(fault.share, 4),
        "strength": fault.strength,
    }


def _without_baseline(d: Diagnosis) -> dict[str, Any] | None:
    if d.good_day is None:
        return None
    plain = d.good_day.plain
    return {
        "faults": [{"fault": r.fault, "share": round(r.share, 4)} for r in plain.ranked],
        "charge": {"verdict": plain.charge.verdict},
        "judged_by_baseline": list(d.good_day.used),
    }
