"""The pipeline, top to bottom: from a visit to a diagnosis. Plain functions on frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Literal, NamedTuple

from diagnose.diagnosis import wording
from diagnose.diagnosis.charge import Charge, judge
from diagnose.diagnosis.costs import Costs, NoCosts, costs
from diagnose.diagnosis.explanations import Explained, Short, explain, one_short
from diagnose.diagnosis.findings import Finding, find, odd_then, seen_problems
from diagnose.diagnosis.next_checks import NextCheck, next_checks
from diagnose.diagnosis.ranking import Ranked, rank
from diagnose.diagnosis.result import (
    charge_dict,
    check_dict,
    costs_dict,
    estimate_dict,
    fault_dict,
    rounded,
    turning_point_dict,
)
from diagnose.diagnosis.second_fault import Parted, no_pattern, part, two_at_once
from diagnose.diagnosis.sensitivity import CLOSE, TurningPoint, sensitivity
from diagnose.quantities import baseline
from diagnose.quantities.plausibility import Suspicion, suspicions
from diagnose.quantities.uncertainty import Estimate, absolute, estimate
from diagnose.rulebook import Applying, Rule, Rulebook, load_rules, machine_facts
from diagnose.rulebook.matcher import Engine, Matched, Matcher, matcher_for
from diagnose.visit import System, Visit, VisitError, read_visit, visit_from

FORMAT = 1
# With this share one reading seldom turns the answer (1 of 50 simulated visits above it, 1 of 2 below it).
SAFE = 0.95
NOT_GOOD = 0.1  # a baseline on which "nothing wrong" has a smaller share than this is not believed to be a good day


@dataclass(frozen=True, slots=True)
class Caution:
    """What could hurt: a short name, and a sentence or three."""

    rule: str
    title: str
    text: str
    source: str

    def __str__(self) -> str:
        return f"{self.title}. {self.text}"


@dataclass(frozen=True, slots=True)
class GoodDay:
    """A baseline that is believed: its estimates, and those of them that were not right even then."""

    estimates: Mapping[str, Estimate]
    odd: frozenset[str]


@dataclass(frozen=True, slots=True)
class GoodDayUse:
    """What the visit's baseline did. used: quantities judged by it; why: what of it is not used, in sentences.

    ranked, charge: what would have come out without it. day: what was used of it; None where nothing was.
    """

    used: tuple[str, ...]
    why: tuple[str, ...]
    ranked: tuple[Ranked, ...]
    charge: Charge
    day: GoodDay | None = None


@dataclass(frozen=True)
class Diagnosis:
    """All that one visit says. Every front end draws this; nothing is worked out after it."""

    visit: Visit
    rules: Rulebook
    matcher: str
    system: System
    status: Literal["diagnosed", "not ready"]
    not_ready: tuple[str, ...]
    charge: Charge
    faults: tuple[Explained, ...]
    also: tuple[str, ...]
    estimates: Mapping[str, Estimate]
    findings: Mapping[str, Finding]
    matched: Matched
    cautions: tuple[Caution, ...]
    problems: tuple[str, ...]
    ranked: tuple[Ranked, ...]
    first: tuple[str, ...] = ()  # checks that must be done before all others
    always: tuple[str, ...] = ()  # checks that are named whatever they are worth

    @cached_property
    def checks(self) -> tuple[NextCheck, ...]:
        """What to do next, best first; worked out when first asked for, for it takes longer than all the rest."""
        return next_checks(self)

    @cached_property
    def would_change(self) -> tuple[TurningPoint, ...]:
        """Readings whose change by no more than twice their limit of error would put another fault first.

        Worked out when first asked for, and not where the first fault has nearly all of the odds.
        """
        return sensitivity(self, CLOSE) if self.ranked[0].share < SAFE else ()

    good_day: GoodDayUse | None = None
    parted: Parted = field(default_factory=Parted)
    costs: Costs | NoCosts | None = None

    @property
    def applying(self) -> Applying:
        """What of the rule book speaks about this machine."""
        return self.rules.applying(machine_facts(self.visit.machine))

    @property
    def states(self) -> Mapping[str, Mapping[str, float]]:
        """What the rules concluded about the machine."""
        return self.matched.states

    def one_short(self, fault: str) -> tuple[Short, ...]:
        """Rules of this fault that lack one finding to fire."""
        return one_short(fault, self.applying.rules, self.matched, self.findings)

    def to_dict(self) -> dict[str, Any]:
        """The result as the design fixes it, ready for JSON: SI values, best fault first."""
        second = self.parted.second
        return {
            "format": FORMAT,
            "status": self.status,
            "not_ready": list(self.not_ready),
            "rulebook": self.rules.name,
            "matcher": self.matcher,
            "charge": charge_dict(self.charge),
            "faults": [fault_dict(f) for f in self.faults],
            "also": list(self.also),
            "also_because": {second.fault: list(second.findings)} if second else {},
            "costs": costs_dict(self.costs) if isinstance(self.costs, Costs) else None,
            "quantities": {name: estimate_dict(e) for name, e in self.estimates.items()},
            "findings": {name: rounded(f.words) for name, f in self.findings.items()},
            "states": {name: rounded(words) for name, words in self.states.items()},
            "checks": [check_dict(c) for c in self.checks],
            "would_change": [turning_point_dict(t) for t in self.would_change],
            "cautions": [str(c) for c in self.cautions],
            "problems": list(self.problems),
            "without_baseline": _without_dict(self.good_day),
        }


def examine(
    visit: Visit | Mapping[str, object] | Path | str, rules: Rulebook | None = None, units: System | None = None
) -> Diagnosis:
    """What is wrong with the machine of this visit, why, and what to do next.

    visit: a Visit, the same mapping as a visit file, or the path of one. units: the units of the sentences; those the
    visit is written in unless said. Pure and reentrant. Raises VisitError, which lists every problem of the visit.
    """
    rules = rules if rules is not None else load_rules()
    visit = as_visit(visit, rules)
    system = units or visit.system

    sound = _sound(visit, system)
    plain = look = _look(visit, rules, system, sound, "auto" if visit.baseline is None else "plain")
    good_day = None
    if visit.baseline is not None:
        look, good_day = _with_baseline(visit, visit.baseline, plain, sound, rules, system)
    doubts, findings, ranked, ready = look.doubts, look.findings, look.ranked, not look.not_ready
    applying = look.applying
    charge = look.charge
    faults = explain(ranked, findings, rules, applying, system) if ready else ()
    if any(doubt.set_aside or doubt.spoils for doubt in doubts):
        faults = tuple(_less_sure(fault, rules) for fault in faults)
    if not look.parted.known:
        faults = tuple(replace(f, strength="weak") if f.strength in ("strong", "fair") else f for f in faults)
    first = [rule.entry.check for rule, _ in look.said("readiness") if rule.entry.check]
    first += [doubt.check for doubt in doubts if doubt.check]
    return Diagnosis(
        visit=visit,
        rules=rules,
        matcher=look.matcher,
        system=system,
        status="diagnosed" if ready else "not ready",
        not_ready=tuple(look.not_ready),
        charge=charge,
        faults=faults,
        also=(look.parted.second.fault,) if look.parted.second else (),
        estimates=look.estimates,
        findings=findings,
        matched=look.matched,
        cautions=_cautions(_holding(applying, look.alarming, "caution"), look.dangers, rules, system),
        problems=(*(d.what for d in doubts), *_assumed(visit), *(good_day.why if good_day else ())),
        ranked=ranked,
        good_day=good_day,
        first=(*(["note-the-minutes"] if visit.last.minutes is None else []), *first),
        always=("confirm-the-airflow",) if charge.caveats and "airflow per ton" not in findings else (),
        parted=look.parted,
        costs=costs(ranked, charge, look.estimates, findings, visit.machine, _values(visit, doubts), rules)
        if ready and look.parted.known
        else None,
    )


@dataclass(frozen=True, slots=True)
class _Look:
    """One pass over a visit, from its readings to the charge. dangers, alarming: of all readings, also those set aside."""

    matcher: str
    doubts: tuple[Suspicion, ...]
    estimates: Mapping[str, Estimate]
    findings: Mapping[str, Finding]
    applying: tuple[Rule, ...]
    matched: Matched
    dangers: Mapping[str, Finding]
    alarming: Matched
    ranked: tuple[Ranked, ...]
    not_ready: list[str]
    charge: Charge
    parted: Parted

    def said(self, kind: str) -> list[tuple[Rule, float]]:
        """The rules of a kind that hold."""
        return _holding(self.applying, self.matched, kind)


class _Judged(NamedTuple):
    """From readings to ranked faults, before any of it is put into words."""

    doubts: tuple[Suspicion, ...]
    estimates: dict[str, Estimate]
    as_read: dict[str, Estimate] | None
    findings: dict[str, Finding]
    speaking: Applying
    matcher: Matcher
    matched: Matched
    ranked: tuple[Ranked, ...]


def _judged(visit: Visit, rules: Rulebook, sound: _Sound, engine: Engine, good: GoodDay | None) -> _Judged:
    """`good`: the machine's own good day, to be taken for what is expected today."""
    doubts, estimates, as_read = sound
    if good is not None:
        estimates = dict(baseline.project(visit, estimates, good.estimates, good.odd).estimates)
    findings = find(visit, estimates, rules)
    speaking = rules.applying(machine_facts(visit.machine))
    matcher = speaking.plain if engine == "plain" else matcher_for(speaking.patterns, engine)
    matched = matcher.run({name: finding.words for name, finding in findings.items()})
    ranked = rank(rules, matched.firings)
    return _Judged(doubts, estimates, as_read, findings, speaking, matcher, matched, ranked)


def _look(
    visit: Visit, rules: Rulebook, system: System, sound: _Sound, engine: Engine = "auto", good: GoodDay | None = None
) -> _Look:
    """What the readings say."""
    doubts, estimates, as_read, findings, speaking, matcher, matched, ranked = _judged(
        visit, rules, sound, engine, good
    )
    applying = speaking.rules
    # What could hurt is said even of readings that are set aside for everything else.
    # Where the two pressures changed places there is nothing to be said of them, not even that.
    taken = visit.last.readings
    low, high = taken.get("suction pressure"), taken.get("liquid pressure")
    if low is not None and high is not None and low.value > high.value:
        as_read = None
    dangers = findings if as_read is None else find(visit, as_read, rules) | findings
    alarming = matched if as_read is None else speaking.plain.run({name: f.words for name, f in dangers.items()})
    said = _holding(applying, matched, "readiness")
    not_ready = [_filled(rule, findings, rules, system) for rule, _ in said if rule.holds == "visit"]
    holds = [(rule.entry, _filled(rule, findings, rules, system)) for rule, _ in said if rule.holds == "charge"]
    not_ready += [doubt.what for doubt in doubts if doubt.holds_visit]
    if not any(abs(e.weight) > 0.05 for place in ranked for e in place.evidence) and not not_ready:
        not_ready.append(_nothing_said(visit))
    parted = Parted() if not_ready else part(ranked, findings, rules, machine_facts(visit.machine))
    if not parted.known:
        odd = Suspicion(no_pattern(parted, findings, system), holds_charge=True, check="wait-and-read-again")
        doubts = (*doubts, odd)
    charge = judge(visit, estimates, findings, ranked, holds, doubts, rules, system)
    if not_ready:
        charge = _held(charge, not_ready)
    elif parted.second is not None and charge.verdict in ("low", "high"):
        charge = replace(charge, caveats=(*charge.caveats, two_at_once(rules.faults[parted.second.fault].name)))
    return _Look(
        matcher.name, doubts, estimates, findings, applying, matched, dangers, alarming, ranked, not_ready, charge, parted,
    )  # fmt: skip


def _with_baseline(
    visit: Visit, then: Visit, plain: _Look, sound: _Sound, rules: Rulebook, system: System
) -> tuple[_Look, GoodDayUse]:
    """The visit once more, judged by the machine's own good day as far as that can be believed."""
    before = _look(then, rules, system, _sound(then, system), "plain")
    why = baseline.mismatch(visit.machine, then.machine) or _no_good_day(before, rules)
    if why is not None:
        text = f"The baseline is not used: {why}. Everything is judged by what holds for such machines in general."
        return _look(visit, rules, system, sound), GoodDayUse((), (text,), plain.ranked, plain.charge)
    odd = odd_then(before.findings, rules)
    result = baseline.project(visit, plain.estimates, before.estimates, odd)
    told = [f"The baseline is not used for the {name}: {reason}." for name, reason in result.left_out.items()]
    if not result.used:
        told = told or ["The baseline is not used: it shares no reading with today that could be compared."]
        return _look(visit, rules, system, sound), GoodDayUse((), tuple(told), plain.ranked, plain.charge)
    good = GoodDay(before.estimates, odd)
    told += _doubtful(before, rules)
    look = _look(visit, rules, system, sound, good=good)
    return look, GoodDayUse(result.used, tuple(told), plain.ranked, plain.charge, good)


def _no_good_day(before: _Look, rules: Rulebook) -> str | None:
    """Why the baseline cannot be a day when the machine was right."""
    if before.not_ready:
        return f"its own readings cannot be judged. {before.not_ready[0]}".rstrip(".")
    right = sum(place.share for place in before.ranked if rules.faults[place.fault].charge == "right")
    if right < NOT_GOOD:
        first = rules.faults[before.ranked[0].fault].name
        return f"by its own readings the machine was not right that day ({first[0].lower()}{first[1:]} comes first)"
    return None


def _doubtful(before: _Look, rules: Rulebook) -> list[str]:
    """A word on a baseline that is used, though another fault comes first on it."""
    first = rules.faults[before.ranked[0].fault]
    if first.charge == "right":
        return []
    return [
        f"By what holds in general the baseline itself looks a little like this fault: {first.name[0].lower()}"
        f"{first.name[1:]}. If the machine had it that day already, the baseline hides it."
    ]


def as_visit(visit: Visit | Mapping[str, object] | Path | str, rules: Rulebook) -> Visit:
    """The visit in whatever form it was given. Raises VisitError, with what the rules do not know of it as well."""
    if isinstance(visit, Visit):
        return visit
    try:
        return visit_from(visit) if isinstance(visit, Mapping) else read_visit(visit)
    except VisitError as error:
        more = seen_problems(error.rest, rules) if error.rest is not None else []
        problems = sorted((*error.problems, *more), key=lambda p: (p.line, p.column))
        raise VisitError(problems, error.rest) from None


_Sound = tuple[tuple[Suspicion, ...], dict[str, Estimate], dict[str, Estimate] | None]


def _sound(visit: Visit, system: System) -> _Sound:
    """Quantities from the readings that can be true, the doubts about the others, and all as read if any was set aside."""
    estimates = as_read = estimate(visit)
    doubts = suspicions(visit, estimates, wording.plain_show(visit.machine, system))
    aside = {name for doubt in doubts for name in doubt.set_aside}
    if aside:
        estimates = estimate(visit, aside)
    spoilt = {name for doubt in doubts for name in doubt.spoils}
    return doubts, {name: e for name, e in estimates.items() if name not in spoilt}, as_read if aside else None


def _values(visit: Visit, doubts: tuple[Suspicion, ...]) -> dict[str, float]:
    """The readings that are used, SI."""
    aside = {name for doubt in doubts for name in doubt.set_aside}
    return {name: absolute(r, visit.machine) for name, r in visit.last.readings.items() if name not in aside}


def _less_sure(fault: Explained, rules: Rulebook) -> Explained:
    """Where readings had to be set aside, that nothing is wrong is not strongly said."""
    if rules.faults[fault.fault].charge == "right" and fault.strength == "strong":
        return replace(fault, strength="fair")
    return fault


def _holding(applying: tuple[Rule, ...], matched: Matched, kind: str) -> list[tuple[Rule, float]]:
    """Rules of a kind that are more likely true than not, and those without conditions."""
    sure = {firing.rule: firing.sure for firing in matched.firings}
    found = []
    for rule in applying:
        if rule.kind == kind:
            chance = sure.get(rule.id, 0.0) if rule.when or rule.either else 1.0
            if chance > 0.5:
                found.append((rule, chance))
    return found


def _filled(rule: Rule, findings: Mapping[str, Finding], rules: Rulebook, system: System) -> str:
    return f"{rule.entry.title}. {wording.fill(rule.entry.why, findings, system)}{wording.spoken_by(rule, rules)}"


def _nothing_said(visit: Visit) -> str:
    lacking = [] if visit.machine.refrigerant else ["the refrigerant"]
    lacking += [] if visit.last.readings or visit.seen else ["any reading"]
    return (
        f"There is not enough to say anything: the visit lacks {' and '.join(lacking) or 'readings that belong together'}. "
        "Begin with suction pressure and suction line temperature, liquid pressure and liquid line temperature, and the "
        "outdoor air temperature."
    )


def _held(charge: Charge, not_ready: list[str]) -> Charge:
    return Charge(
        "do not judge", charge.method, charge.measured, charge.measured_sigma, charge.target, charge.tolerance,
        None, None, None, None, not_ready[0], {},
    )  # fmt: skip


def _cautions(
    fired: list[tuple[Rule, float]], findings: Mapping[str, Finding], rules: Rulebook, system: System
) -> tuple[Caution, ...]:
    ordered = sorted(fired, key=lambda pair: pair[0].rank)
    return tuple(
        Caution(
            rule.id,
            rule.entry.title,
            wording.fill(rule.entry.why, findings, system) + wording.spoken_by(rule, rules),
            wording.cite(rule.entry.source, rules),
        )
        for rule, _ in ordered
    )


def _assumed(visit: Visit) -> tuple[str, ...]:
    """What the visit left open and was taken for granted, in sentences."""
    found = list(visit.notes)
    machine = visit.machine
    gauges = any(reading.gauge for reading in visit.last.readings.values())
    if gauges and machine.station_from == "assumed":
        found.append("No altitude or station pressure is given: the gauges are read as at sea level.")
    if machine.mode is None and visit.last.readings:
        found.append("The mode is not given: the machine is taken to be cooling.")
    if machine.refrigerant is None and any("pressure" in name for name in visit.last.readings):
        found.append("The refrigerant is not given: no saturation temperature can be looked up.")
    if machine.metering is None and visit.last.readings:
        found.append("The metering device is not given: superheat cannot be put into words, nor the charge judged.")
    if visit.last.minutes is None and visit.last.readings:
        found.append(
            "How long the machine has run is not noted. Readings before 15 minutes mean little: note `minutes running`."
        )
    found += _earlier(visit)
    taken = visit.last.readings
    if "airflow" in taken and not any(f"return air {word}" in taken for word in ("wet bulb", "relative humidity")):
        found.append("No humidity of the return air was taken: for the capacity it is taken to be half saturated.")
    return tuple(found)


def _earlier(visit: Visit) -> list[str]:
    """Readings that an earlier round has and the last one, which alone is judged, has not."""
    found = {}
    for taken in visit.rounds[:-1]:
        found.update({name: taken.minutes for name in taken.readings if name not in visit.last.readings})
    return [
        f"The {name} was read at {minutes:g} minutes and not in the last round, which alone is judged: read it again."
        for name, minutes in found.items()
        if minutes is not None
    ]


def _without_dict(use: GoodDayUse | None) -> dict[str, Any] | None:
    if use is None:
        return None
    return {
        "faults": [{"fault": r.fault, "share": round(r.share, 4)} for r in use.ranked],
        "charge": {"verdict": use.charge.verdict},
        "judged_by_baseline": list(use.used),
    }
