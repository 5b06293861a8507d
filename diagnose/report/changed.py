"""What a new value changed, and what one reading a little off would change, for a page on which the answer moves."""

from __future__ import annotations

from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.sensitivity import would_change
from diagnose.report.blocks import Block, line
from diagnose.report.pages import TURNING, turning_point_text
from diagnose.report.wording import name_of, upper_first

MOVED = 0.05  # of a share, from which a fault is told as moved
MOST = 2  # faults told


def changed_text(before: Diagnosis, now: Diagnosis, line: str) -> str:
    """`Return air wet bulb: liquid line restriction 0.40 → 0.10, low refrigerant charge 0.35 → 0.71.`

    line: the one line of the visit that differs; empty where several do. Nothing where no share moved.
    """
    if not (before.faults and now.faults):
        if before.faults or now.faults:
            return f"{upper_first(line) or 'The last entries'}: {'now judged' if now.faults else 'no longer judged'}."
        return ""
    was = {place.fault: place.share for place in before.faults}
    moved = [(place.fault, was.get(place.fault, 0.0), place.share) for place in now.faults]
    moved = sorted((m for m in moved if abs(m[2] - m[1]) >= MOVED), key=lambda m: -abs(m[2] - m[1]))[:MOST]
    if not moved:
        return ""
    told = ", ".join(f"{name_of(fault, now.rules)} {a:.2f} → {b:.2f}" for fault, a, b in moved)
    return f"{upper_first(line) or 'The last entries'}: {told}."


def sensitivity_page(d: Diagnosis) -> list[Block]:
    """The readings that, a little off, would put another fault first; said too where there are none."""
    if not d.faults:
        return []
    if found := would_change(d):
        return [line(turning_point_text(t, d)) for t in found[:TURNING]]
    return [line("No single reading, off by little more than its error, would put another fault first.")]
