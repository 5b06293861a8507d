"""Before and after a repair: did each reading go where the repair should send it, and is anything left.

Which way a quantity goes follows from what the fault does to it (`lesson.readings`, else `brings` in its file): the repair
undoes that. How far follows from the two visits: from what the earlier reading would be in today's air had nothing been
done, to what it should be.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from diagnose import units
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.good_day import copied
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities import STEPS
from diagnose.quantities.baseline import Moved, in_todays_air
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.rulebook import Rulebook, in_its_mode, machine_facts
from diagnose.rulebook.entries import FaultEntry, FindingEntry
from diagnose.rulebook.judgement import RepairFigures
from diagnose.visit import Machine, System, Visit
from diagnose.visit.fields import MACHINE, RECOVERED, WEIGHED_IN
from diagnose.visit.reason import Reason
from diagnose.yamlfile import InputProblems, Problem, did_you_mean, refusal

Movement = Literal[
    "as it should", "short of it", "too far", "did not move", "wrong way", "was right and still is", "cannot be told"
]
RepairOutcome = Literal[
    "not comparable", "too little read", "nothing to repair", "repaired", "right now", "on its way", "not reached", "worse",
    "too far", "other fault", "second fault", "dangerous",
]  # fmt: skip

_SIGNS = {"up": 1, "stays then up": 1, "down": -1, "stays then down": -1}
_TELLS: Mapping[str, tuple[str, int]] = {
    "evaporator temperature difference": ("evaporating temperature", -1),
    "condensing over ambient": ("condensing temperature", 1),
    "current ratio": ("compressor current", 1),
}
"""Quantities that follow the air, the reading that a lesson names in their place, and whether it moves the same way."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One quantity before and after, SI.

    untouched: the earlier figure in today's air, had nothing been done (None: its weather cannot be told from the repair).
    change: after minus that; sigma: its standard deviation. target: what it should be today. should: 1 where the repair
    raises it, -1 where it lowers it, 0 where it does either or neither.
    """

    name: str
    before: Estimate
    after: Estimate
    untouched: float | None
    change: float
    sigma: float
    target: float | None
    should: int
    judged: Movement

    @property
    def surely(self) -> float:
        """How many of its limits of error it moved."""
        return abs(self.change) / (COVERAGE * self.sigma) if self.sigma > 0 and self.untouched is not None else 0.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two visits of one machine. fault: the one that was repaired, or None; said: whether a person named it.

    shifts: what tells most first. weighed: refrigerant added and recovered on both visits, kg. notes: what does not fit.
    """

    before: Diagnosis
    after: Diagnosis
    fault: str | None
    said: bool
    outcome: RepairOutcome
    shifts: tuple[Shift, ...]
    weighed: Mapping[str, float]
    notes: tuple[Reason, ...]

    def judged(self, *words: Movement) -> tuple[str, ...]:
        """The quantities that were judged so."""
        return tuple(shift.name for shift in self.shifts if shift.judged in words)


def compare(before: Diagnosis, after: Diagnosis, fault: str | None = None) -> Comparison:
    """What a repair did. fault: what was repaired; None: what the visit before it found.

    Raises InputProblems where the two cannot be visits of one machine in one mode, or the fault is not in the book.
    """
    figures = after.rules.judgement.after_repair
    refuse_unlike(before.visit, after.visit, figures, after.rules.judgement.good_day.same_size)
    if fault is not None:
        word, fault = fault, after.rules.fault_called(fault)
        if fault is None:
            fix = did_you_mean(word, after.rules.faults) or f"Known: {', '.join(after.rules.faults)}."
            raise refusal(f"`{word}` is not a fault of this rule book", fix)
    if fault is not None and after.rules.faults[fault].charge == "right":
        raise refusal(f"`{fault}` is nothing that is repaired", "Leave `--fault` out.")
    repaired = fault or _found(before)
    shifts = _shifts(before, after, repaired)
    logs = [weighed_on(before.visit), weighed_on(after.visit)]
    weighed = {
        name: sum(log.get(name, 0.0) for log in logs)
        for name in ("added", "recovered")
        if any(name in log for log in logs)
    }
    outcome = _outcome(before, after, repaired, shifts)
    if outcome == "not comparable":  # then no reading says where the repair sent it either
        shifts = tuple(replace(shift, judged="cannot be told") for shift in shifts)
    notes = _notes(before, after, repaired, weighed)
    return Comparison(before, after, repaired, fault is not None, outcome, shifts, weighed, notes)


def weighed_on(visit: Visit) -> dict[str, float]:
    """What went in and came out, kg: by the log, else by what a scale showed for the whole charge."""
    facts = {"added": visit.machine.fact(WEIGHED_IN), "recovered": visit.machine.fact(RECOVERED)}
    return {name: amount for name, amount in facts.items() if amount is not None} | dict(visit.weighed)


def _found(d: Diagnosis) -> str | None:
    """What a visit found; nothing where it was held, its evidence is not fair, or nothing was wrong."""
    if not d.faults or d.faults[0].share < d.rules.judgement.strengths.fair or _right(d):
        return None
    return d.faults[0].fault


def _right(d: Diagnosis) -> bool:
    return bool(d.faults) and d.rules.faults[d.faults[0].fault].charge == "right"


# -- are they two visits of one machine? -----------------------------------------------------------------------------


def refuse_unlike(before: Visit, after: Visit, figures: RepairFigures, same_size: tuple[float, float]) -> None:
    """Raises InputProblems where the two visits cannot be compared. same_size: as for a good day."""
    found = [
        Problem(after.document, 0, 0, f"the two visits differ in {what}: {was}, then {now}", fix)
        for what, was, now, fix in _differences(before.machine, after.machine, after.system, same_size)
    ]
    if copied(before.last, after.last, figures.copied):
        what = "both visits have the very same readings"
        found.append(Problem(after.document, 0, 0, what, "Take all readings again after the repair."))
    was, now = (_day(visit) for visit in (before, after))
    if was and now and now < was:
        what = f"the second visit is dated {now}, before the first, {was}"
        found.append(Problem(after.document, 0, 0, what, "Name the visit before the repair first."))
    if found:
        raise InputProblems(found)


def _differences(
    was: Machine, now: Machine, system: System, same: tuple[float, float]
) -> list[tuple[str, str, str, str]]:
    """What makes them two machines, or one in two modes: what, before, after, how to mend it."""
    one = "Compare two visits of one machine; correct the line where it is wrong."
    said = [
        ("the machine's name", _name(was), _name(now), "Compare two visits of one machine; if it is one, name it alike."),
        ("the mode", was.mode or "cooling", now.mode or "cooling",
         "Cooling and heating read differently; compare two visits in one mode."),
        ("the refrigerant", was.refrigerant and was.refrigerant.name, now.refrigerant and now.refrigerant.name,
         "Pressures of two refrigerants cannot be compared; correct the line where it is wrong."),
        ("the metering device", was.metering, now.metering, one),
        ("`running at`", was.words.get("running at"), now.words.get("running at"),
         "Compare two visits at one stage or speed."),
    ]  # fmt: skip
    found = [(what, f"`{a}`", f"`{b}`", fix) for what, a, b, fix in said if a and b and _plain(a) != _plain(b)]
    for fact in ("nominal capacity", "factory charge"):
        a, b = was.fact(fact), now.fact(fact)
        if a and b and not same[0] < b / a < same[1]:
            kind = MACHINE[fact].kind
            first, then = (units.show(value, kind, units.unit_for(kind, system)) for value in (a, b))
            found.append((f"`{fact}`", first, then, one))
    return found


def _name(machine: Machine) -> str | None:
    return None if machine.name == Machine().name else machine.name


def _plain(text: str) -> str:
    return "".join(sign for sign in text.lower() if sign.isalnum())


def _day(visit: Visit) -> str:
    """The date where it is written year first, so that two can be put in order; else nothing."""
    found = re.match(r"\d{4}-\d\d-\d\d", "".join(visit.remarks.get("date", ())))
    return found[0] if found else ""


# -- each reading ----------------------------------------------------------------------------------------------------


def directions(fault: FaultEntry, rules: Rulebook, facts: Mapping[str, str]) -> dict[str, int]:
    """Which way the repair of a fault sends each quantity of such a machine: up 1, down -1, either or neither 0."""
    found: dict[str, int] = {}
    taught: dict[str, int] = {}
    for reading in fault.lesson.readings if fault.lesson else ():
        if in_its_mode(reading.applies, facts):
            taught[reading.quantity] = -_SIGNS.get(reading.moves, 0)
    for name, (instead, same) in _TELLS.items():
        if name not in taught and instead in taught:
            taught[name] = same * taught[instead]
    for brings in fault.brings:
        for name, words in brings.findings if in_its_mode(brings.applies, facts) else ():
            entry = rules.findings[name]
            if entry.quantity:
                found.setdefault(entry.quantity, -_side(entry, words))
    return found | {name: way for name, way in taught.items() if name in _QUANTITIES}


_QUANTITIES = frozenset(step.name for step in STEPS)


def _side(entry: FindingEntry, words: frozenset[str]) -> int:
    """On which side of normal these words of a finding lie: above 1, below -1, on both or with no normal 0."""
    if "normal" not in entry.words:
        return 0
    middle = entry.words.index("normal")
    sides = {(at > middle) - (at < middle) for at in map(entry.words.index, words)}
    return sides.pop() if len(sides) == 1 else 0


def _shifts(before: Diagnosis, after: Diagnosis, fault: str | None) -> tuple[Shift, ...]:
    rules = after.rules
    ways = directions(rules.faults[fault], rules, machine_facts(after.visit.machine)) if fault else {}
    of = {
        entry.quantity: name
        for name, entry in reversed(list(rules.findings.items()))
        if entry.quantity and "normal" in entry.words
    }
    found = []
    for step in STEPS:
        name = step.name
        if not step.shown or name not in before.estimates or name not in after.estimates or name not in of:
            continue
        was, now = before.findings.get(of[name]), after.findings.get(of[name])
        found.append(_shift(before, after, name, ways.get(name, 0), was, now))
    order: dict[Movement, int] = {"wrong way": 0, "too far": 0, "did not move": 1, "short of it": 1, "as it should": 1}
    return tuple(sorted(found, key=lambda shift: (order.get(shift.judged, 2), -shift.surely)))


def _shift(
    before: Diagnosis, after: Diagnosis, name: str, should: int, was: Finding | None, now: Finding | None
) -> Shift:
    first, last = before.estimates[name], after.estimates[name]
    goal = last.good_day.expected if last.good_day else last.target
    target = goal.value if goal else None
    figures = after.rules.judgement.good_day
    moved = in_todays_air(after.visit, after.estimates, before.visit, before.estimates, name, figures)
    stood, stands = (d.states.get("compressor", {}).get("standing", 0.0) > 0.5 for d in (before, after))
    if stood:  # a machine that stands does not follow the weather
        moved = Moved(first.value, math.hypot(first.sigma, last.sigma))
    if moved is None or stands:
        return Shift(name, first, last, None, last.value - first.value, 0.0, target, should, "cannot be told")
    change = last.value - moved.value
    lacks = target - moved.value if target is not None and _off(was, after.rules) else None
    off, known = _off(now, after.rules), was is not None and now is not None
    judged = _judge(change, COVERAGE * moved.sigma, should, lacks, off, known)
    return Shift(name, first, last, moved.value, change, moved.sigma, target, should, judged)


def _off(finding: Finding | None, rules: Rulebook) -> int:
    """On which side of normal a finding more likely is than not: above 1, below -1, else 0."""
    if finding is None:
        return 0
    words = rules.findings[finding.name].words
    middle = words.index("normal")
    above, below = (finding.chance(some) for some in (words[middle + 1 :], words[:middle]))
    return 1 if above > 0.5 else -1 if below > 0.5 else 0


def _judge(change: float, error: float, should: int, lacks: float | None, off: int, known: bool) -> Movement:
    """The word for one quantity.

    change: what was done to it. error: limit of error of that, 95 of 100. lacks: how far it was from where it should be,
    None where it was right or that is not known. off: on which side of normal it is now. known: whether both have a word.
    """
    way = should or (0 if lacks is None else (lacks > 0) - (lacks < 0))
    if abs(change) > error:
        nearer = lacks is not None and change * lacks > 0
        if way == 0:
            return "wrong way" if off * change > 0 else "cannot be told"
        if change * way > 0 or nearer:
            if off == 0:
                return "as it should"
            return "too far" if off * change > 0 else "short of it"
        return "wrong way" if off == -way or (off == 0 and should and lacks is not None) else "cannot be told"
    if lacks is not None and lacks * way > error and (off or not known):
        return "did not move"
    return "was right and still is" if known and lacks is None and off == 0 else "cannot be told"


# -- all together ----------------------------------------------------------------------------------------------------


def _outcome(before: Diagnosis, after: Diagnosis, fault: str | None, shifts: tuple[Shift, ...]) -> RepairOutcome:
    if after.held or (fault is None and before.held):
        return "not comparable"
    good = [shift for shift in shifts if shift.judged in ("as it should", "short of it", "too far")]
    bad = [shift for shift in shifts if shift.judged == "wrong way"]
    still = [shift for shift in shifts if shift.judged == "did not move"]
    alone = after.rules.judgement.after_repair.alone
    went = _clearly(good, alone) and len(good) >= len(bad) + len(still)
    wrong = _clearly(bad, alone) and len(bad) >= len(good) + len(still)
    first = after.faults[0].fault
    charges = {after.rules.faults[fault].charge, after.rules.faults[first].charge} if fault else set()
    if after.stop and _right(after):
        return "dangerous"
    nothing = fault is not None and not (good or bad or still or _right(after))
    if nothing or (after.faults[0].strength == "weak" and (not went or len(good) < 2)):
        return "too little read"
    if fault is None:
        return "nothing to repair" if _right(after) else "other fault"
    if _right(after):
        return "repaired" if went and not wrong else "right now"
    if charges == {"low", "high"} and went:
        return "too far"
    if first == fault or not went:
        return "worse" if wrong else "on its way" if went else "not reached"
    weak = before.rules.judgement.strengths.weak
    if first in before.also or first in [place.fault for place in before.faults[:2] if place.share >= weak]:
        return "second fault"
    return "other fault"


def _clearly(shifts: list[Shift], alone: float) -> bool:
    """Whether these say something of the whole: of a dozen readings one may lie beyond its error by chance."""
    return len(shifts) > 1 or any(shift.surely > alone for shift in shifts)


def _notes(before: Diagnosis, after: Diagnosis, fault: str | None, weighed: Mapping[str, float]) -> tuple[Reason, ...]:
    """What does not go together: refrigerant that the fault does not ask for, instruments, good days."""
    found = []
    charge = after.rules.faults[fault].charge if fault else None
    net = weighed.get("added", 0.0) - weighed.get("recovered", 0.0)
    if fault and net > 0 and charge != "low" and not weighed.get("recovered"):
        found.append(Reason("added-without-need", {"fault": fault}))
    if charge == "low" and weighed and net <= 0:
        found.append(Reason("nothing-added", {"fault": fault}))
    if not before.held and after.held:
        found.append(after.held[0])
    return tuple(found)
