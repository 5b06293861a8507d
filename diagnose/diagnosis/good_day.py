"""The machine's own good day: whether the baseline of a visit is believed, and what it expects of today."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.diagnosis.findings import odd_then
from diagnose.diagnosis.record import Diagnosis, GoodDayUse
from diagnose.diagnosis.start_up import items_of
from diagnose.quantities import baseline
from diagnose.quantities.baseline import GoodDayFigures
from diagnose.quantities.uncertainty import Estimate
from diagnose.visit import HEATING, Visit
from diagnose.visit.model import Round
from diagnose.visit.reason import Reason


def believed(before: Diagnosis, today: Diagnosis) -> GoodDayUse:
    """What of a baseline is used. before: the record of that day; today: that of today, judged without it."""
    figures = today.rules.judgement.good_day
    why = baseline.mismatch(today.visit.machine, before.visit.machine, figures.same_size) or _was_not_right(before)
    if why is None and copied(before.visit.last, today.visit.last, today.rules.judgement.after_repair.copied):
        why = Reason("baseline-copied")
    if why is not None:
        return GoodDayUse(before, today, reasons=(why,))
    odd = odd_then(before.findings, today.rules)
    result = baseline.project(today.visit, today.estimates, before.estimates, odd, figures)
    told = tuple(result.left_out.values())
    if not result.used:
        return GoodDayUse(before, today, reasons=told or (Reason("baseline-shares-nothing"),))
    return GoodDayUse(before, today, tuple(result.used), odd, (*told, *_looks_faulty(before), *_began_badly(before)))


def copied(was: Round, now: Round, many: int) -> bool:
    """Whether a round of so many readings repeats another to the last digit."""
    values = {name: reading.value for name, reading in was.readings.items()}
    return len(values) >= many and values == {name: reading.value for name, reading in now.readings.items()}


def _began_badly(before: Diagnosis) -> tuple[Reason, ...]:
    """A word on a start-up whose readings are used though something else of it failed."""
    items = items_of(before.visit, before.rules).values()
    failed = tuple(item.item for item in items if item.status == "failed")
    return (Reason("baseline-start-up-failed", {"items": failed}),) if failed else ()


def expected_today(
    visit: Visit, estimates: Mapping[str, Estimate], use: GoodDayUse, figures: GoodDayFigures
) -> dict[str, Estimate]:
    """The quantities of today, each with what the good day expects of it where that is used."""
    return dict(baseline.project(visit, estimates, use.before.estimates, use.odd, figures).estimates)


def _was_not_right(before: Diagnosis) -> Reason | None:
    """Why the baseline cannot be a day when the machine was right."""
    if before.held:
        return Reason("baseline-not-ready", {"because": before.held[0]})
    right = sum(place.share for place in before.ranked if before.rules.faults[place.fault].charge == "right")
    figures = before.rules.judgement.good_day
    heats = before.visit.machine.mode == HEATING
    good = right >= (figures.not_good_in_heating if heats else figures.not_good)
    return None if good else Reason("baseline-was-faulty", {"fault": before.ranked[0].fault})


def _looks_faulty(before: Diagnosis) -> tuple[Reason, ...]:
    """A word on a baseline that is used, though another fault comes first on it."""
    first = before.ranked[0].fault
    return () if before.rules.faults[first].charge == "right" else (Reason("baseline-looks-faulty", {"fault": first}),)
