"""The machine's own good day: whether the baseline of a visit is believed, and what it expects of today."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.diagnosis.findings import odd_then
from diagnose.diagnosis.record import Diagnosis, GoodDayUse
from diagnose.quantities import baseline
from diagnose.quantities.uncertainty import Estimate
from diagnose.visit import Visit
from diagnose.visit.reason import Reason

NOT_GOOD = 0.1  # a baseline on which "nothing wrong" has a smaller share than this is not believed to be a good day


def believed(before: Diagnosis, today: Diagnosis) -> GoodDayUse:
    """What of a baseline is used. before: the record of that day; today: that of today, judged without it."""
    why = baseline.mismatch(today.visit.machine, before.visit.machine) or _was_not_right(before)
    if why is not None:
        return GoodDayUse(before, today, reasons=(why,))
    odd = odd_then(before.findings, today.rules)
    result = baseline.project(today.visit, today.estimates, before.estimates, odd)
    told = tuple(result.left_out.values())
    if not result.used:
        return GoodDayUse(before, today, reasons=told or (Reason("baseline-shares-nothing"),))
    return GoodDayUse(before, today, tuple(result.used), odd, (*told, *_looks_faulty(before)))


def expected_today(visit: Visit, estimates: Mapping[str, Estimate], use: GoodDayUse) -> dict[str, Estimate]:
    """The quantities of today, each with what the good day expects of it where that is used."""
    return dict(baseline.project(visit, estimates, use.before.estimates, use.odd).estimates)


def _was_not_right(before: Diagnosis) -> Reason | None:
    """Why the baseline cannot be a day when the machine was right."""
    if before.held:
        return Reason("baseline-not-ready", {"because": before.held[0]})
    right = sum(place.share for place in before.ranked if before.rules.faults[place.fault].charge == "right")
    return Reason("baseline-was-faulty", {"fault": before.ranked[0].fault}) if right < NOT_GOOD else None


def _looks_faulty(before: Diagnosis) -> tuple[Reason, ...]:
    """A word on a baseline that is used, though another fault comes first on it."""
    first = before.ranked[0].fault
    return () if before.rules.faults[first].charge == "right" else (Reason("baseline-looks-faulty", {"fault": first}),)
