"""The charge verdict by weight: what a scale showed against what the machine should hold.

The scale needs no weather, no steady machine and no metering device, so this verdict goes before every other one and stands
where readings may not be judged at all.
"""

from __future__ import annotations

import math

from diagnose.diagnosis.amount import readings_after
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeReading, ChargeVerdict, ChargeWord, NoVerdict
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.quantities.weighing import held, weigh_in
from diagnose.visit.reason import Reason

SHARE = "charge by weight"


def by_weight(d: Diagnosis, outside: bool = False) -> ChargeVerdict | NoVerdict | None:
    """The verdict of the scale, kg; None where nothing was weighed, or there is nothing to compare it with.

    outside: of a visit that is none for the rules, so that nothing is expected of its readings.
    """
    finding, scale = d.findings.get(SHARE), held(d.visit.machine)
    if finding is None or finding.estimate is None or scale is None or len(finding.limits) != 2:
        return None
    whole, (name, kg, error) = weigh_in(d.visit.machine), scale
    off, margin = kg - whole.kg, math.hypot(error, whole.error)
    within = (finding.limits[1] - finding.limits[0]) / 2 * whole.kg
    by = ChargeReading("weight", kg, margin / COVERAGE, whole.kg, within)
    leaning: ChargeWord = "low" if finding.word == "low" else "high" if finding.word == "high" else "right"
    chance = finding.words[finding.word]
    figures = {"of": name, "verdict": leaning, "held": kg, "whole": whole.kg, "error": whole.error, "off": off,
               "within": within, "lacks": whole.lacks}  # fmt: skip
    if chance < d.rules.charge.sure:
        return NoVerdict("weight", (Reason("weight-near-the-limit", figures),), by, leaning, chance)
    caveats: tuple[Reason, ...] = (Reason("stop-before-charging"),) if d.stop and leaning != "right" else ()
    readings = None if outside or not d.faults else max(d.faults, key=_without_the_scale).fault
    if readings is not None and not _agree(leaning, d.rules.faults[readings].charge):
        caveats += (Reason("readings-say-otherwise", {"fault": readings}),)
    return ChargeVerdict(
        leaning,
        by,
        chance,
        (Reason("charge-weighed", figures),),
        percent=_percent(off, margin, whole.kg) if leaning != "right" else None,
        mass=_range(off, margin) if leaning != "right" else None,
        expect_after={} if outside or d.held else readings_after(leaning, d.estimates, d.findings),
        caveats=caveats,
    )


def _without_the_scale(place: Ranked) -> float:
    """The score of a fault by everything but the weight of its charge, points."""
    return place.score - sum(e.weight for e in place.evidence if SHARE in e.rule.findings)


def _agree(verdict: ChargeWord, of_fault: str | None) -> bool:
    """Whether the leading fault goes with what the scale shows: a right charge with any that does not touch it."""
    return of_fault == verdict if verdict != "right" else of_fault not in ("low", "high")


def _range(off: float, margin: float) -> tuple[float, float]:
    """How far off it is, kg, on the side where it is."""
    low, high = off - margin, off + margin
    return (low, min(high, 0.0)) if off < 0 else (max(low, 0.0), high)


def _percent(off: float, margin: float, whole: float) -> tuple[int, int]:
    """The same in percent of the whole, never less than one on that side."""
    low, high = (100 * end / whole for end in _range(off, margin))
    return (
        (max(math.floor(low), -100), min(math.ceil(high), -1))
        if off < 0
        else (max(math.floor(low), 1), math.ceil(high))
    )
