"""The pipeline, top to bottom: from a visit to a diagnosis. Each step takes the record and gives it back with more in it.

What takes longer and is not always wanted is asked for by itself: `next_checks.next_checks(d)`, what to do next, and
`sensitivity.sensitivity(d)`, which reading would change the answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from diagnose.diagnosis import costs, field, good_day
from diagnose.diagnosis.by_weight import by_weight
from diagnose.diagnosis.certainty import ASK_FOR_IT, WET_BULB, at_most, charge_as_sure, lacked_by_target
from diagnose.diagnosis.charge import CONFIRMS, RATED, hot_for_its_class, judge_charge
from diagnose.diagnosis.commissioning import commissioned
from diagnose.diagnosis.dangers import NEAR_LIMIT, RUNNING, STOP, WAIT, WATCH, dangers_of
from diagnose.diagnosis.findings import blended, find, named_as_now, seen_problems
from diagnose.diagnosis.ranking import rank
from diagnose.diagnosis.record import Diagnosis, Part
from diagnose.diagnosis.second_fault import explain_away
from diagnose.diagnosis.start_up_air import with_airflow
from diagnose.diagnosis.verdict import ChargeVerdict, NoVerdict
from diagnose.quantities.plausibility import Doubt, Layer, doubts, layers
from diagnose.quantities.plausibility.view import FIRM
from diagnose.quantities.uncertainty import Estimate, absolute, estimate
from diagnose.rulebook import Rulebook, machine_facts, usable_rules
from diagnose.rulebook.matcher import EngineName
from diagnose.visit import HEATING, Visit, VisitError
from diagnose.visit.reason import Reason

STANDS = "ready/compressor-stands"
OF_ONE_THAT_STANDS = ("pressures-equal", "current-beyond-the-plate", "current-beyond-the-capacity")
"""Doubts that a compressor heard to stand explains: it levels the pressures, and one that hums draws its locked current."""


def examine(visit: Visit | Mapping[str, object] | Path | str, rules: Rulebook | None = None) -> Diagnosis:
    """What is wrong with the machine of this visit, why, and what to do about the charge.

    visit: a Visit, the same mapping as a visit file, or the path of one. Pure and reentrant. Raises VisitError, which lists
    every problem of the visit.
    """
    rules = rules if rules is not None else usable_rules()
    visit = named_as_now(as_visit(visit, rules), rules)
    rules = rules.about(machine_facts(visit.machine))
    visit = with_airflow(visit, rules)
    d = work_out_quantities(Diagnosis(visit, rules, visit.system))
    d = see_what_could_hurt(d)
    if visit.baseline is not None:
        before = work_out_quantities(Diagnosis(with_airflow(visit.baseline, rules), rules, visit.system))
        d = d.grown(good_day=good_day.believed(judge(before, "plain"), judge(d, "plain")))
    return complete(judge(d))


def judge(d: Diagnosis, engine: EngineName = "auto") -> Diagnosis:
    """From quantities to the charge verdict."""
    d = expect_the_good_day(d)
    d = put_into_words(d)
    d = match_rules(d, engine)
    d = rank_faults(d)
    if beyond := field.outside(d):
        weighed = by_weight(d, outside=True)
        d = field.leave(d, beyond)
        return d if weighed is None else d.grown(charge=weighed)
    d = see_whether_ready(d)
    d = look_for_a_second_fault(d)
    return say_of_the_charge(d)


def complete(d: Diagnosis) -> Diagnosis:
    """What a reader wants beside the verdict."""
    d = temper(d)
    d = name_first_checks(d)
    d = tell_costs(d)
    d = go_through_the_start_up(d)
    return d.grown(assumed=(*assumed(d.visit), *unusual(d)))


READ_AGAIN = "read-what-is-doubtful-again"
"""What clears a doubt about readings that names no check of its own."""

# -- the steps ---------------------------------------------------------------------------------------------------------


def work_out_quantities(d: Diagnosis) -> Diagnosis:
    """Quantities with and without the readings that are doubted, each by how sure the doubts are."""
    figures = d.rules.judgement
    as_read = estimate(d.visit, settling=figures.steadiness)
    found = doubts(d.visit, as_read, figures.plausibility, textbook=not d.rules.silent)
    parts = tuple(
        Part(layer.share, layer.set_aside | layer.spoilt, _expecting(d, _without(d, as_read, layer)))
        for layer in layers(found)
    )
    return d.grown(doubts=found, parts=parts, estimates=more_likely(parts), as_read=_expecting(d, as_read))


def see_what_could_hurt(d: Diagnosis) -> Diagnosis:
    """What can hurt, by every reading that was given: before all that is doubted, ranked or held."""
    seen = dangers_of(d.visit, d.rules, d.as_read)
    return d.grown(dangers=seen.dangers, cautions=seen.cautions, alarming=seen.findings)


def expect_the_good_day(d: Diagnosis) -> Diagnosis:
    """What the machine's own good day expects of today, where that is used."""
    if d.good_day is None or not d.good_day.used:
        return d
    use = d.good_day
    figures = d.rules.judgement.good_day
    parts = tuple(
        part._replace(estimates=_expecting(d, good_day.expected_today(d.visit, part.estimates, use, figures)))
        for part in d.parts
    )
    return d.grown(parts=parts, estimates=more_likely(parts))


def put_into_words(d: Diagnosis) -> Diagnosis:
    """Findings: a probability for each word; what comes from a doubted reading keeps only the rest of its say."""
    return d.grown(findings=blended([(part.share, find(d.visit, part.estimates, d.rules)) for part in d.parts]))


def match_rules(d: Diagnosis, engine: EngineName) -> Diagnosis:
    """The rules that fire, and the states they conclude."""
    matcher = d.applying.matcher(engine)
    return d.grown(matcher=matcher.name, matched=matcher.run({name: f.words for name, f in d.findings.items()}))


def rank_faults(d: Diagnosis) -> Diagnosis:
    """Every fault with its score, its share and its evidence, likeliest first."""
    return d.grown(ranked=rank(d.rules, d.matched.firings))


def see_whether_ready(d: Diagnosis) -> Diagnosis:
    """Why nothing may be ranked yet, if so."""
    held = [Reason(rule.id) for rule in d.holding("readiness") if rule.holds == "visit"]
    held += [doubt.reason for doubt in d.doubts if doubt.holds_visit and doubt.firm]
    if not held and not any(place.supporting or place.opposing for place in d.ranked):
        held.append(Reason("nothing-to-judge", {"lacks": _lacks(d.visit)}))
    return d.grown(not_ready=tuple(held), nearly=field.nearly_held(d))


def look_for_a_second_fault(d: Diagnosis) -> Diagnosis:
    """Which findings the leader makes, which fault makes the others; a visit that no pattern fits is doubted as a whole."""
    if d.not_ready:
        return d
    explained = explain_away(d.ranked, d.findings, d.rules, machine_facts(d.visit.machine))
    if explained.known:
        return d.grown(explained=explained)
    odd = Reason("no-known-pattern", {"findings": (*explained.first, *explained.left)})
    doubt = Doubt(odd, holds_charge=True, check="wait-and-read-again")
    return d.grown(explained=explained, doubts=(*d.doubts, doubt))


def say_of_the_charge(d: Diagnosis) -> Diagnosis:
    """The charge verdict, or why there is none; the scale goes first."""
    if (weighed := by_weight(d)) is not None:
        return d.grown(charge=weighed)
    holds = [rule for rule in d.holding("readiness") if rule.holds == "charge"]
    charge = judge_charge(d.visit, d.estimates, d.findings, d.ranked, holds, (*d.doubts, *d.nearly), d.rules)
    if d.not_ready:
        charge = NoVerdict(charge.method, d.not_ready[:1], charge.by)
    elif STANDS in [rule.id for rule in holds]:  # what else is missing would not help
        charge = NoVerdict(charge.method, tuple(Reason(rule.id) for rule in holds), charge.by)
    elif d.also and isinstance(charge, ChargeVerdict) and charge.verdict != "right":
        charge = charge._replace(caveats=(*charge.caveats, Reason("second-fault", {"fault": d.also[0]})))
    if d.stop and isinstance(charge, ChargeVerdict):
        stop = Reason("stop-before-charging")
        if charge.verdict == "right":  # something is wrong
            charge = NoVerdict(charge.method, (stop,), charge.by, charge.verdict, charge.chance)
        else:
            charge = charge._replace(caveats=(*charge.caveats, stop))
    return d.grown(charge=charge_as_sure(d, charge))


def temper(d: Diagnosis) -> Diagnosis:
    """How strongly each fault may be said, whatever its share."""
    limits = at_most(d)
    return d.grown(ranked=tuple(r._replace(at_most=limits.get(r.fault, "strong")) for r in d.ranked))


def go_through_the_start_up(d: Diagnosis) -> Diagnosis:
    """Of a machine's first visit: each step of the start-up, what was left out, and whether this is a good day to keep."""
    return d if d.visit.start_up is None else d.grown(start_up=commissioned(d))


def name_first_checks(d: Diagnosis) -> Diagnosis:
    """Checks that go before all others, and those that are named whatever they are worth.

    A machine that must be stopped is stopped first, and is not left running for the sake of any reading.
    """
    if d.outside:
        named = [d.rules.by_id[reason.code].entry.check for reason in d.outside]
        asked = [check for check in named if check]
        return d.grown(first=(STOP, *(check for check in asked if check != WAIT)) if d.stop else tuple(asked))
    standing = d.states.get("compressor", {}).get("standing", 0.0) > 0.5  # then nothing of it is judged by its plate
    first = ["note-the-refrigerant"] if d.visit.machine.refrigerant is None and not standing else []
    # Before a coil is thawed, or anything was read that can be judged, minutes say nothing.
    early = any(reason.code in ("ready/ice", "nothing-to-judge") for reason in d.not_ready)
    last = d.visit.last
    waits_for = d.charge.reasons if isinstance(d.charge, NoVerdict) and not standing else ()
    noise = d.visit.seen.get("compressor sound")
    heard = standing and noise in ("humming", "silent")
    again = [
        doubt.check or READ_AGAIN
        for doubt in (*d.doubts, *d.nearly)
        if (doubt.reason in waits_for or (doubt.firm and doubt.check))  # one that is not firm may hold the charge too
        and not (heard and doubt.reason.code in OF_ONE_THAT_STANDS)
    ]
    again.sort(key=lambda check: d.rules.checks[check].minutes if check in d.rules.checks else 0.0)
    told = [danger.code for danger in d.dangers]
    harmful = [d.rules.by_id[code].entry.check for code in told if code in d.rules.by_id]
    cannot_be = [doubt.reason for doubt in d.doubts if doubt.holds_visit]
    first += again if any(reason in cannot_be for reason in d.not_ready[:1]) else []
    first += [check for check in harmful if check and check != WATCH]
    if last.lacks_minutes and not standing and not early:
        unsound = any(doubt.firm and (doubt.holds_visit or doubt.set_aside) for doubt in d.doubts)
        first += [*(again if unsound else ()), "note-the-minutes"]  # how long it ran is asked of readings that can be
    read_running = not last.readings.keys().isdisjoint(RUNNING)
    unnamed = Reason("metering-not-given") in d.charge.reasons and read_running
    first += ["note-the-metering-device"] if unnamed and not standing else []
    holding = [rule for rule in d.holding("readiness") if rule.entry.check in d.rules.checks]
    waiting = [rule for rule in holding if rule.holds == "charge" and not _worth_it(d, str(rule.entry.check))]
    late = [str(rule.entry.check) for rule in waiting]
    asked = [str(rule.entry.check) for rule in holding if rule.entry.check not in late]
    wait = "look-for-the-call" if standing else WATCH if WATCH in harmful or NEAR_LIMIT in told else WAIT
    # What hinders it is set right first; then it runs 15 minutes anyway.
    first += [wait if check == WAIT else check for check in sorted(asked, key=WAIT.__eq__)]
    if heard and noise == "humming" and "contactor" not in d.findings:  # it is called, and does not start
        first += ["test-contactor-and-capacitor"]
    first += again
    back = ["come-back-in-other-weather"] if any(rule.findings for rule in waiting) else []  # no machine changes
    sound = bool(d.faults) and d.rules.faults[d.faults[0].fault].charge == "right"
    first += back if sound else []  # a fault that leads is repaired today
    first += [ASK_FOR_IT] if WET_BULB in lacked_by_target(d) and not standing else []
    first += ["read-the-plate"] if isinstance(d.charge, NoVerdict) and d.charge.improve == RATED else []
    first += [CONFIRMS[reason.code] for reason in (*d.charge.caveats, *waits_for) if reason.code in CONFIRMS]
    if d.stop or STOP in first:
        first = [STOP, *(check for check in first if check not in (WAIT, WATCH))]
    confirm = isinstance(d.charge, ChargeVerdict) and d.charge.caveats and "airflow per ton" not in d.findings
    always = ["confirm-the-airflow"] if confirm else []
    always += ["read-the-plate"] if hot_for_its_class(d.findings, d.rules) and not standing else []
    return d.grown(first=tuple(first), always=(*always, *late, *back))


def _worth_it(d: Diagnosis, check: str) -> bool:
    """Whether a check that the charge waits for goes before all others: a long one only where the charge is suspected."""
    first = d.faults[0] if d.faults else None
    suspected = (
        first is not None
        and first.strength in ("strong", "fair")
        and d.rules.faults[first.fault].charge in ("low", "high")
    )
    return suspected or 60.0 * d.rules.checks[check].minutes < d.rules.judgement.next_checks.long


def tell_costs(d: Diagnosis) -> Diagnosis:
    """What the leading fault costs, where it fits a pattern."""
    if d.held or not d.explained.known:
        return d
    aside = {name for doubt in d.doubts if doubt.firm for name in doubt.set_aside}
    taken = d.visit.last.readings
    values = {name: absolute(r, d.visit.machine) for name, r in taken.items() if name not in aside}
    found = costs.costs(d.ranked, d.charge, d.estimates, d.findings, d.visit.machine, values, d.rules)
    return d.grown(costs=found)


def _without(d: Diagnosis, as_read: Mapping[str, Estimate], layer: Layer) -> Mapping[str, Estimate]:
    """The quantities without what this layer leaves out."""
    steady = d.rules.judgement.steadiness
    estimates = estimate(d.visit, layer.set_aside, steady) if layer.set_aside else as_read
    return {name: e for name, e in estimates.items() if name not in layer.spoilt} if layer.spoilt else estimates


def _expecting(d: Diagnosis, estimates: Mapping[str, Estimate]) -> Mapping[str, Estimate]:
    """The same; where no figure is right on this machine, nothing is expected."""
    mute = d.rules.silent_quantities
    return {n: field.plain(e) if n in mute else e for n, e in estimates.items()} if mute else estimates


def more_likely(parts: Sequence[Part]) -> Mapping[str, Estimate]:
    """The quantities of the part that leaves out just what is more likely wrong than right, or most nearly so.

    What lies side by side with other doubts is left out in one part and taken in the next, so the parts that leave it out
    are counted together.
    """
    named = frozenset().union(*(part.without for part in parts))
    wrong = {name for name in named if sum(part.share for part in parts if name in part.without) >= FIRM}
    return min(parts, key=lambda part: len(part.without ^ wrong)).estimates


# -- the visit ---------------------------------------------------------------------------------------------------------


def as_visit(visit: Visit | Mapping[str, object] | Path | str, rules: Rulebook) -> Visit:
    """The visit in whatever form it was given. Raises VisitError, with what the rules do not know of it as well."""
    if isinstance(visit, Visit):
        return visit
    try:
        return Visit.parse(visit, rules.own)
    except VisitError as error:
        more = seen_problems(error.rest, rules) if error.rest is not None else []
        problems = sorted((*error.problems, *more), key=lambda p: (p.line, p.column))
        raise VisitError(problems, error.rest) from None


def _lacks(visit: Visit) -> tuple[str, ...]:
    lacking = () if visit.machine.refrigerant else ("refrigerant",)
    return lacking if visit.last.readings or visit.seen else (*lacking, "readings")


def unusual(d: Diagnosis) -> tuple[Reason, ...]:
    """What is otherwise on this machine, by the rules that are about the machine alone and hold not the whole visit."""
    if d.held:
        return ()
    about = (rule for rule in d.applying.of_kind["readiness"] if rule.silent or rule.holds == "nothing")
    told = {reason.code for reason in d.charge.reasons}
    return tuple(Reason(rule.id) for rule in about if rule.id not in told)


def assumed(visit: Visit) -> tuple[Reason, ...]:
    """What the visit left open and was taken for granted."""
    machine, taken = visit.machine, visit.last.readings
    found = list(visit.notes)
    if any(reading.gauge for reading in taken.values()) and machine.station_from == "assumed":
        found.append(Reason("sea-level-assumed"))
    if machine.mode is None and taken:
        found.append(Reason("cooling-assumed"))
    if machine.refrigerant is None and any("pressure" in name for name in taken):
        found.append(Reason("no-refrigerant"))
    if machine.metering is None and taken:
        found.append(Reason("no-metering"))
    if machine.mode != HEATING and (missed := [name for name in IN_HEATING_ONLY if name in taken]):
        found.append(Reason("read-in-heating-only", {"readings": tuple(missed)}))
    if visit.last.lacks_minutes:
        found.append(Reason("running-time-not-noted"))
    found += _only_in_earlier_rounds(visit)
    for figure, line, pressure in ON_THE_GAUGE:
        if f"gauge {figure}" in taken and line not in taken and pressure not in taken:
            found.append(Reason("gauge-figure-needs-pressure", {"figure": figure, "pressure": pressure}))
    if "airflow" in taken and not any(f"return air {word}" in taken for word in ("wet bulb", "relative humidity")):
        found.append(Reason("humidity-assumed"))
    return tuple(found)


IN_HEATING_ONLY = ("valve tube temperature", "electric power")
ON_THE_GAUGE = (
    ("superheat", "suction line temperature", "suction pressure"),
    ("subcooling", "liquid line temperature", "liquid pressure"),
)


def _only_in_earlier_rounds(visit: Visit) -> list[Reason]:
    """Readings that an earlier round has and the last one, which alone is judged, has not."""
    found = {}
    for taken in visit.rounds[:-1]:
        found.update({name: taken.minutes for name in taken.readings if name not in visit.last.readings})
    return [
        Reason("only-in-an-earlier-round", {"reading": name, "minutes": minutes})
        for name, minutes in found.items()
        if minutes is not None
    ]
