"""A start-up as a whole: its items with what the running readings say, and whether this day can be the machine's baseline."""

from __future__ import annotations

from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.start_up import items_of
from diagnose.diagnosis.start_up_items import ITEMS, Commissioning, Item
from diagnose.diagnosis.verdict import NO_VERDICT


def commissioned(d: Diagnosis) -> Commissioning | None:
    """Every item in the order of the work; None where the visit is no start-up. d: complete."""
    if d.visit.start_up is None:
        return None
    found = items_of(d.visit, d.rules) | {"running readings": _running(d)}
    return Commissioning(tuple(found[name] for name in ITEMS))


def _running(d: Diagnosis) -> Item:
    """The charge verified: what the ordinary examination makes of the readings."""
    if not d.visit.last.readings:
        return Item("running readings", "left out", "left-out")
    verdict = d.charge.verdict
    if d.held:
        return Item("running readings", "cannot be told", "running-held", {"because": d.held[0]})
    first = d.faults[0]
    told = {"fault": first.fault, "strength": first.strength, "verdict": verdict}
    sound = d.rules.faults[first.fault].charge == "right"
    if d.stop or verdict in ("low", "high") or (not sound and first.strength in ("strong", "fair")):
        return Item("running readings", "failed", "running-wrong", told)
    if not sound or verdict == NO_VERDICT:
        return Item("running readings", "cannot be told", "running-unsure", told)
    return Item("running readings", "done", "running-right", told)
