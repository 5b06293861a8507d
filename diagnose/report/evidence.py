"""How evidence, points and shares of faults are told, wherever they are."""

from __future__ import annotations

from diagnose.diagnosis.ranking import Evidence, Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, item
from diagnose.report.wording import fill, lower_first, spoken_by

EVEN = 0.4  # reasons less likely than this are only named

POINTS = "The points before each reason: one doubles the odds of the fault, minus one halves them."


def title_of(fault: Ranked, d: Diagnosis) -> str:
    """A fault's name as it stands in the rule book."""
    return d.rules.faults[fault.fault].name


def looks_like(one: str, other: str, d: Diagnosis) -> str:
    """How two faults that look alike are told apart, by either's file; empty where neither says."""
    return d.rules.faults[one].looks_like.get(other) or d.rules.faults[other].looks_like.get(one) or ""


def evidence_text(e: Evidence, d: Diagnosis) -> str:
    """Title and sentences of a rule that fired."""
    return f"{e.rule.entry.title}. {fill(e.rule.entry.why, d.findings, d.rules, d.system, d.states)}"


def evidence_block(e: Evidence, d: Diagnosis) -> Block:
    """In full where it may well be true; else its title, for its sentences speak as if it were true."""
    sure = e.firing.sure
    told = (
        evidence_text(e, d)
        if round(sure, 2) >= EVEN
        else f"Perhaps ({sure:.2f} sure): {lower_first(e.rule.entry.title)}."
    )
    return item(f"{told}{spoken_by(e.rule, d.rules)}", points_text(e.weight))


def points_text(weight: float) -> str:
    """`+3.5`, `−2.0`."""
    return f"{weight:+.1f}".replace("-", "−")


def share_text(share: float) -> str:
    """A share of the odds; on simulated machines about how often such a call is right (README)."""
    return "under 0.01" if share < 0.01 else "over 0.99" if share > 0.99 else f"{share:.2f}"
