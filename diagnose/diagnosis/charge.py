"""The charge verdict: what the protocol says, whether it may be said, how much, and what to expect after.

Fixed orifice: superheat against the target; where the weather has none, subcooling against the machine's own good day. TXV or
EEV: subcooling against the plate. The limits stand in rules/findings.yaml (`charge by …`), how sure it must be in
rules/readiness.yaml (`charge:`): by that reading alone or, to leave the charge as it is, by all of them together. No advice
to touch the charge is given while anything else explains the readings better. Everything here is a value;
`report/charge.py` has the sentences.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from diagnose.diagnosis.amount import chance_of, how_much, in_mass, no_liquid_left, readings_after, wet_vapor
from diagnose.diagnosis.findings import Finding, by_good_day
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.second_fault import without_what_it_does_not_make
from diagnose.diagnosis.verdict import Charge, ChargeReading, ChargeVerdict, ChargeWord, Method, NoVerdict
from diagnose.properties.targets import MINIMUM_TARGET_SUPERHEAT, NoTarget, target_superheat
from diagnose.quantities.plausibility import Doubt, taken
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.rulebook import Rule, Rulebook, machine_facts
from diagnose.units.columns import choose
from diagnose.visit import FIXED_ORIFICE, HEATING, Machine, Visit
from diagnose.visit.reason import Reason

HALF_READ = "liquid-side-half-read"
ONE_HALF = MappingProxyType({"condensing over ambient": "pressure", "liquid line approach": "line temperature"})
"""What one half of the liquid side shows, and which half it is."""
CONFIRMS: Mapping[str, str] = MappingProxyType(
    {
        "subcooling-not-low": "clamp-the-drier",
        "subcooling-not-measured": "measure-subcooling",
        HALF_READ: "measure-subcooling",
        "subcooling-by-a-doubted-clamp": "read-subcooling-again",
        "subcooling-shows-it-alone": "read-subcooling-again",
        "liquid-line-read-otherwise": "read-what-is-doubtful-again",
        "superheat-not-measured": "measure-superheat",
        "condensing-not-measured": "measure-condensing",
        "efficiency-not-noted": "read-the-plate",
        "heat-out-not-measured": "measure-the-indoor-coil",
        "running-time-not-confirmed": "note-the-minutes",
        "right-behind-the-other-device": "look-at-the-metering-device",
        "line-may-be-warmed": "clamp-the-coil-outlet",
        "suction-clamp-may-read-air": "clamp-the-coil-outlet",
        "liquid-is-left": "read-subcooling-again",
    }
)
"""Caveats on which the verdict hangs, and the check that settles each: it goes before all others and before the charge."""


def confirmed_by(charge: Charge, rules: Rulebook) -> str | None:
    """The check on which a charge that is off hangs: nothing is added or taken out before. None where there is none."""
    if charge.verdict not in CHARGE_IS_OFF:
        return None
    asked = [CONFIRMS[caveat.code] for caveat in charge.caveats if caveat.code in CONFIRMS]
    return next((check for check in asked if check in rules.checks), None)


def judge_charge(
    visit: Visit,
    estimates: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    ranked: Sequence[Ranked],
    holds: Sequence[Rule],
    doubts: Sequence[Doubt],
    rules: Rulebook,
) -> Charge:
    """The charge verdict of a visit. holds: readiness rules on the charge that fired; doubts: also of what nearly held all."""
    machine = visit.machine
    heats = machine.mode == HEATING
    if heats and (no_target := [rule for rule in holds if rule.id in (CHARGE_HIDDEN, HEATING_TARGET)]):
        return NoVerdict("weight", tuple(Reason(rule.id) for rule in no_target))
    if machine.metering is None and not heats:
        return NoVerdict(None, tuple(Reason(rule.id) for rule in holds) or (Reason("metering-not-given"),))
    method: Method = "superheat" if machine.metering == FIXED_ORIFICE and not heats else "subcooling"
    finding, estimate = findings.get(f"charge by {method}"), estimates.get(method)
    holding = [doubt for doubt in doubts if doubt.holds_charge]
    if estimate is not None and not holding and (emptied := _emptied(estimate, findings, ranked, holds, rules)):
        own = estimate.good_day.expected.value if estimate.good_day and emptied.code == "beyond-good-day" else None
        by = ChargeReading(method, estimate.value, estimate.sigma, None, None, own)
        by_air = (Reason(READS_AIR),) if _suction_clamp_reads_air(visit, findings, ranked, rules) else ()
        return ChargeVerdict("low", by, ranked[0].share, (emptied,), caveats=by_air)
    by_liquid = _liquid_by_good_day(findings) if method == "superheat" else None
    if by_liquid is not None:
        method, finding, estimate = "subcooling", by_liquid, by_liquid.estimate
        holds = [rule for rule in holds if rule.id not in OFF_THE_CHART]
    reasons = [Reason(rule.id) for rule in holds]
    reasons += [doubt.reason for doubt in holding if doubt.firm]
    by_weight = any(rule.entry.check == "weigh-the-charge" for rule in holds)
    if method == "superheat" and any(rule.id in OFF_THE_CHART for rule in holds) and _starved_by_nothing(findings):
        reasons += [Reason(OTHER_DEVICE)] if _right_behind_the_other_device(visit, findings, rules) else []
    if finding is None or estimate is None:
        why = tuple(reasons) or (_not_measured(method, estimate, machine),)
        return NoVerdict("weight" if by_weight else method, why)
    by = ChargeReading(
        method,
        estimate.value,
        estimate.sigma,
        estimate.target.value if estimate.target else None,
        (finding.limits[-1] - finding.limits[0]) / 2 if finding.limits else None,
        estimate.good_day.expected.value if estimate.good_day and by_good_day(finding) else None,
    )
    leaning: ChargeWord = "low" if finding.word == "low" else "high" if finding.word == "high" else "right"
    # What is doubted lowers the chance little by little, so that the verdict is held before the doubt is firm.
    sound = finding.words[finding.word] / finding.counts
    holding += [doubt for doubt in doubts if not estimate.effects.keys().isdisjoint(doubt.set_aside)]
    doubted = taken(holding)
    chance = sound * (1.0 - doubted)
    improve = None
    if not reasons and chance < rules.charge.sure <= sound:
        surest = max(holding, key=lambda doubt: doubt.weight, default=None)
        reasons += [surest.reason] if surest is not None else []
    agree = _all_agree(leaning, ranked, doubted, rules) if chance < rules.charge.sure else None
    if not reasons and chance < rules.charge.sure and agree is None:
        measured = [name for name in estimate.effects if name in visit.last.readings]
        improve = max(measured, key=lambda name: abs(estimate.effects[name]), default=None)
        typical = method == "subcooling" and estimate.target is not None and estimate.target.origin == "typical"
        if typical and not by_good_day(finding) and COVERAGE * estimate.sigma < (by.tolerance or 0.0):
            improve = RATED  # the plate says what no better thermometer can
        reasons.append(_near_limit(finding, method, improve))
    if not reasons:
        reasons += _valve_at_fault(leaning, findings)
        if reasons and _right_behind_the_other_device(visit, findings, rules):
            reasons.append(Reason(OTHER_DEVICE))
        elif reasons and _line_may_be_warmed(findings) and CONFIRMS["line-may-be-warmed"] in rules.checks:
            reasons.append(Reason("line-may-be-warmed"))
    if not reasons and method == "superheat":
        reasons += _liquid_speaks_against(leaning, findings)
        reasons += _half_read(leaning, findings)
    if not reasons and leaning == "high":
        reasons += _air_reads_the_same(method, findings, heats, rules)
    if not reasons:
        both = not heats and "superheat" in findings and "subcooling" in findings
        facts = machine_facts(machine)
        rival = _rival(leaning, ranked, findings, rules, facts, both_pairs=both, alike=unparted(findings, rules))
        if rival is not None:
            reasons.append(_rival_reason(rival, ranked, leaning, method, rules))
    if reasons:
        return NoVerdict(
            "weight" if by_weight else method, tuple(reasons), None if by_weight else by, leaning, chance, improve
        )
    told = [Reason("no-target-so-by-liquid")] if by_liquid is not None else []
    told += [_verdict_reason(leaning, finding, by, rules)]
    if agree is not None:
        told += [Reason(TOGETHER, {"method": method, "chances": _likeliest(finding), "off": 1.0 - agree})]
        chance = agree
    if heats:
        rests = [r for r in _caveats(leaning, method, visit, findings, ranked, rules) if r.code in CONFIRMS]
        caveats = () if leaning == "right" else (Reason("weigh-in-heating"), *rests)
        return ChargeVerdict(leaning, by, chance, tuple(told), caveats=caveats)
    told += _general_differs(leaning, finding, by) if by_liquid is None else []
    open_end = no_liquid_left(machine, estimates, findings) if leaning == "low" else wet_vapor(machine, estimates)
    percent = how_much(leaning, machine, estimates, findings, rules, open_end) if leaning != "right" else None
    return ChargeVerdict(
        verdict=leaning,
        by=by,
        chance=chance,
        reasons=(*told, *(_valve_holds(findings) if chance_of(findings, "superheat", "normal") > 0.5 else ())),
        percent=percent,
        at_least=open_end and percent is not None,
        mass=in_mass(percent, machine),
        expect_after=readings_after(leaning, estimates, findings),
        caveats=_caveats(leaning, method, visit, findings, ranked, rules, doubts),
    )


TOGETHER = "all-readings-agree"
CHARGE_HIDDEN = "ready/charge-hidden"
"""The rule that says that in this weather no gauge of such a machine shows its charge."""
HEATING_TARGET = "ready/heating"
"""The rule that holds the verdict in heating where the maker's own target is not known."""
OFF_THE_CHART = frozenset({"ready/target-blank", "ready/target-outside"})
"""Rules that hold the verdict because the superheat table has no target in this weather."""
WITHOUT_A_TARGET = OFF_THE_CHART | {"ready/cold-outdoors"}
"""The same, and where it is too cold outdoors for any."""


def _liquid_by_good_day(findings: Mapping[str, Finding]) -> Finding | None:
    """What the liquid in the condenser shows of an orifice's charge, by its own good day, where superheat has no target.

    A right charge leaves next to no superheat there, so that more of it cannot show at the suction line; the liquid shows it
    as on any other day.
    """
    liquid = findings.get("subcooling")
    if chance_of(findings, "superheat target", "blank", "outside") <= 0.5 or liquid is None or not by_good_day(liquid):
        return None
    sides = {"low": ("very low", "low"), "right": ("normal",), "high": ("high", "very high")}
    words = {side: chance for side, of in sides.items() if (chance := liquid.chance(of))}
    return liquid._replace(words=words, limits=liquid.limits[1:3])


def _all_agree(leaning: ChargeWord, ranked: Sequence[Ranked], doubted: float, rules: Rulebook) -> float | None:
    """How sure all readings together are that the charge is right, where its own reading leans that way; None: not enough.

    Nothing wrong must lead by as much as a fault must for its advice. What else may be wrong with the machine, but the
    charge, is no reason to touch it.
    """
    ahead = ranked[0].share - max((r.share for r in ranked[1:]), default=0.0)
    if leaning != "right" or rules.faults[ranked[0].fault].charge != "right" or ahead < rules.charge.leads_by:
        return None
    share = (1.0 - charge_off(ranked, rules)) * (1.0 - doubted)
    return share if share >= rules.charge.sure else None


CHARGE_IS_OFF = ("low", "high")


def charge_off(ranked: Sequence[Ranked], rules: Rulebook) -> float:
    """The share of all faults that are a charge which is off."""
    return sum(r.share for r in ranked if rules.faults[r.fault].charge in CHARGE_IS_OFF)


def _emptied(
    superheat: Estimate,
    findings: Mapping[str, Finding],
    ranked: Sequence[Ranked],
    holds: Sequence[Rule],
    rules: Rulebook,
) -> Reason | None:
    """Why the charge is surely low though this weather has no target superheat; None where it is not sure.

    So far is the superheat above any target that it may have, or surely above what the machine's own good day shows in this
    weather. A blank target is below 5 °F; beyond the ends of the table the nearest one stands for it, with as much again for
    the distance. No liquid may be left in the condenser, and low charge must lead all other faults as a verdict by the
    protocol needs it to.
    """
    none = superheat.expected
    if not isinstance(none, NoTarget) or none.nearest is None or any(rule.id not in WITHOUT_A_TARGET for rule in holds):
        return None
    if (
        chance_of(findings, "subcooling", "very low") <= 0.5
        or rules.faults[ranked[0].fault].charge != "low"
        or ranked[0].share < rules.charge.sure
    ):
        return None
    if superheat.value - COVERAGE * superheat.sigma > beyond_any(none.reason == "blank", none.nearest.value, rules):
        return Reason("beyond-any-target")
    found = findings.get("superheat")
    if found is not None and by_good_day(found) and chance_of(findings, "superheat", "very high") >= rules.charge.sure:
        return Reason("beyond-good-day")
    return None


def beyond_any(blank: bool, nearest: float, rules: Rulebook) -> float:
    """The superheat, K, that is above any target it may have here: where the table is blank, or beyond its nearest value."""
    margin = rules.judgement.charge_range.beyond_any_target
    return choose(blank, MINIMUM_TARGET_SUPERHEAT + margin, nearest + 2.0 * margin)  # type: ignore[no-any-return]


def _not_measured(method: Method, estimate: Estimate | None, machine: Machine) -> Reason:
    if machine.refrigerant is None:
        return Reason("refrigerant-not-given")
    if estimate is None:
        return Reason("charge-not-measured", {"method": method})
    at_the_edge = estimate.target is not None and estimate.target.beyond  # of the table, where it counts for nothing
    return Reason("no-target-superheat", {"expected": at_the_edge or estimate.expected})


def _valve_at_fault(leaning: ChargeWord, findings: Mapping[str, Finding]) -> list[Reason]:
    """The metering check of a valve machine: one that does not hold its superheat comes before the charge.

    Too little charge starves any valve, so high superheat does not speak against `low`.
    """
    check = findings.get("metering check")
    if check is None or _valve_holds(findings):
        return []
    if check.word == "above range" and leaning == "low":
        return []
    return [Reason("valve-off-its-superheat", {"word": check.word, "limits": check.limits})]


def _valve_holds(findings: Mapping[str, Finding]) -> list[Reason]:
    return [Reason("valve-holds-superheat")] if chance_of(findings, "metering check", "in range") > 0.5 else []


def _line_may_be_warmed(findings: Mapping[str, Finding]) -> bool:
    """Whether the air is cooled as far as it should be though the suction line is warm, and the coil's outlet was not read."""
    return chance_of(findings, "metering check", "above range") > 0.5 and _cooled_all_the_same(findings)


def _cooled_all_the_same(findings: Mapping[str, Finding]) -> bool:
    cooled = chance_of(findings, "air temperature split", "normal", "high", "very high") > 0.5
    return cooled and "coil superheat" not in findings


READS_AIR = "suction-clamp-may-read-air"


def _suction_clamp_reads_air(
    visit: Visit, findings: Mapping[str, Finding], ranked: Sequence[Ranked], rules: Rulebook
) -> bool:
    """Whether the clamp that shows a starved coil may read the air: that coil cools its own as no starved one does.

    For want of refrigerant it boils far below the return air, and cools it less than it should. A clamp half on its pipe
    reads between pipe and air; one that reads as the outdoor air does is doubted for that already.
    """
    line, air = (visit.last.readings.get(name) for name in ("suction line temperature", "outdoor air temperature"))
    starved = chance_of(findings, "superheat", *MUCH) > 0.5 and "coil superheat" not in findings
    if line is None or not starved or _seen("low", findings, ranked, rules):
        return False
    if chance_of(findings, "air temperature split", *MUCH) > 0.5:
        return True
    alike = air is not None and abs(line.value - air.value) <= rules.judgement.plausibility.same_as_air[0]
    near = chance_of(findings, "evaporator temperature difference", "very low", "low", "normal") > 0.5
    hot = chance_of(findings, "discharge superheat", *MUCH) > 0.5  # as gas from a starved coil leaves the compressor
    return (alike or (near and not hot)) and _cooled_all_the_same(findings)


MUCH = ("high", "very high")


def _liquid_speaks_against(leaning: ChargeWord, findings: Mapping[str, Finding]) -> list[Reason]:
    """High superheat with much liquid in the condenser is no missing charge, whatever else it is; and the reverse.

    Nor is it where the condenser holds as much as on the machine's own good day: a charge that is off would change that.
    """
    opposite = {"low": ("high", "very high"), "high": ("low", "very low")}.get(leaning)
    if opposite is None or "subcooling" not in findings:
        return []
    if chance_of(findings, "subcooling", *opposite) > 0.5:
        code = "liquid-is-held-back" if leaning == "low" else "little-liquid-in-condenser"
        return [Reason(code, {"leaning": leaning})]
    if chance_of(findings, "subcooling", "normal") > 0.5 and by_good_day(findings["subcooling"]):
        return [Reason("liquid-as-on-its-good-day", {"leaning": leaning})]
    return []


def _half_read(leaning: ChargeWord, findings: Mapping[str, Finding]) -> list[Reason]:
    """Superheat tells a charge that is off from what else starves or floods the coil only with the subcooling beside it.

    With the protocol's own readings the protocol decides, and the verdict hangs on a check; who reads the liquid side reads
    it whole.
    """
    read = next((half for shown, half in ONE_HALF.items() if shown in findings), None)
    if leaning == "right" or "subcooling" in findings or read is None:
        return []
    return [Reason(HALF_READ, {"method": "superheat", "leaning": leaning, "read": read})]


def _air_reads_the_same(method: Method, findings: Mapping[str, Finding], heats: bool, rules: Rulebook) -> list[Reason]:
    """Much liquid is too much charge only where the condenser is seen to be no hotter than that makes it: air does both."""
    if method == "subcooling" and findings.keys().isdisjoint(BESIDE["high"]):
        return [Reason("heat-out-not-measured" if heats else "condensing-not-measured")]
    held = "subcooling" in findings and hot_for_its_class(findings, rules)
    return [Reason("efficiency-not-noted", {"method": method})] if held else []


def hot_for_its_class(findings: Mapping[str, Finding], rules: Rulebook) -> bool:
    """Whether the condenser is hotter than one of the highest class, less the excess of subcooling, and no class is known.

    Nothing at rest tells it from air then.
    """
    hot, liquid = findings.get("condensing over ambient"), findings.get("subcooling")
    if AT_REST in findings or hot is None or hot.estimate is None or hot.scale is None or hot.scale.target != "assumed":
        return False
    read = liquid.estimate if liquid is not None else None
    excess = read.value - read.target.value if read is not None and read.target is not None else 0.0
    return hot.estimate.value - excess > rules.judgement.charge_range.without_air


AT_REST = "standing pressure"
"""The finding that tells air from refrigerant by itself."""


def _caveats(
    verdict: ChargeWord,
    method: Method,
    visit: Visit,
    findings: Mapping[str, Finding],
    ranked: Sequence[Ranked],
    rules: Rulebook,
    doubts: Sequence[Doubt] = (),
) -> tuple[Reason, ...]:
    """What a verdict leans on though nobody has confirmed it."""
    fits = rules.judgement.charge_range.fits
    found = []
    reads_air = [doubt for doubt in doubts if doubt.reason.code == "liquid-clamp-reads-air" and doubt.told]
    if method == "superheat":  # where the clamp decides nothing by itself
        reads_air = [doubt for doubt in reads_air if doubt.firm and verdict == "high"]
    if reads_air and verdict != "low" and not _read_twice(verdict, visit):
        found.append(Reason("subcooling-by-a-doubted-clamp"))
    if method == "subcooling":
        if verdict == "low" and "superheat" not in findings:
            found.append(Reason("superheat-not-measured"))
        elif not found and _shown_alone(verdict, visit, findings, ranked, rules):
            otherwise = any(name in visit.last.readings for name in ON_THE_SAME_LINE)
            code = "liquid-line-read-otherwise" if otherwise else "subcooling-shows-it-alone"
            found.append(Reason(code, {"verdict": verdict}))
    elif "subcooling" not in findings:
        if verdict != "right":
            found.append(Reason("subcooling-not-measured", {"verdict": verdict}))
    else:
        if verdict != "right" and _right_behind_the_other_device(visit, findings, rules):
            found.append(Reason(OTHER_DEVICE))
        drier = findings.get("drier temperature drop")  # where it was clamped, the question is answered
        if verdict == "low" and chance_of(findings, "subcooling", "low", "very low") <= 0.5 and drier is None:
            found.append(Reason("subcooling-not-low"))
        elif verdict == "right" and chance_of(findings, "subcooling", "normal") <= fits:
            found.append(Reason("subcooling-does-not-fit"))
    if verdict == "low" and _suction_clamp_reads_air(visit, findings, ranked, rules):
        found.append(Reason(READS_AIR))
    elif verdict == "low" and _liquid_is_left(visit, findings, ranked, rules):
        found.append(Reason("liquid-is-left"))
    if "airflow per ton" not in findings:
        found.append(Reason("airflow-not-confirmed"))
    if visit.last.minutes is None:
        found.append(Reason("running-time-not-confirmed"))
    return tuple(found)


def _right_behind_the_other_device(visit: Visit, findings: Mapping[str, Finding], rules: Rulebook) -> bool:
    """Whether a machine with the other metering device would be right at this superheat, and nobody looked which it has.

    A valve holds its superheat in any weather, and the condenser holds the usual liquid behind either.
    """
    superheat = findings["superheat"].estimate if "superheat" in findings else None
    if DEVICE in findings or superheat is None or chance_of(findings, "subcooling", "normal") <= 0.5:
        return False
    off, other = superheat.value, "metering check"
    if visit.machine.metering != FIXED_ORIFICE:
        weather = (visit.last.readings.get(name) for name in ("outdoor air temperature", "return air wet bulb"))
        target = target_superheat(*(reading and reading.value for reading in weather))
        if isinstance(target, NoTarget):
            return False
        off, other = off - target.value, "charge by superheat"
    limits = rules.findings[other].scales[-1].limits  # where the maker and no good day say otherwise
    return limits[0] <= off <= limits[-1]


def _starved_by_nothing(findings: Mapping[str, Finding]) -> bool:
    """Whether superheat is high, and nothing that was read or felt along the liquid line shows what blocks it."""
    blocked = any(chance_of(findings, name, *BLOCKED) > 0.5 for name in findings)
    return chance_of(findings, "superheat", "high", "very high") > 0.5 and not blocked


BLOCKED = ("marked", "large", "cold or frosted at the outlet")
DEVICE, OTHER_DEVICE = "device at the coil", "right-behind-the-other-device"
BESIDE = MappingProxyType(
    {"low": ("superheat",), "high": ("condensing over ambient", "condensing over return air"), "right": ()}
)
"""What else rises where a charge that is off shows at more than the subcooling."""
ON_THE_SAME_LINE = ("drier inlet temperature", "metering inlet temperature")


def _shown_alone(
    verdict: ChargeWord, visit: Visit, findings: Mapping[str, Finding], ranked: Sequence[Ranked], rules: Rulebook
) -> bool:
    """Whether a charge that is off shows at one clamp on the liquid line alone, and at nothing that was seen."""
    beside = [name for name in BESIDE[verdict] if chance_of(findings, name, "high", "very high") > 0.5]
    seen = _seen(verdict, findings, ranked, rules)
    return verdict != "right" and not (seen or beside or _read_twice(verdict, visit))


def _liquid_is_left(visit: Visit, findings: Mapping[str, Finding], ranked: Sequence[Ranked], rules: Rulebook) -> bool:
    """Whether the condenser of a starved machine surely holds some liquid, and one clamp alone shows that it holds little.

    So little refrigerant that a coil starves, behind an orifice badly, leaves hardly any; a restriction leaves more, and a
    clamp that reads a few degrees warm hides it.
    """
    liquid = findings["subcooling"].estimate if "subcooling" in findings else None
    much = MUCH[-1:] if visit.machine.metering == FIXED_ORIFICE else MUCH
    starved = (
        chance_of(findings, "superheat", *much) > 0.5 and chance_of(findings, "subcooling", "low", "very low") > 0.5
    )
    if liquid is None or not starved or visit.machine.mode == HEATING or liquid.value <= COVERAGE * liquid.sigma:
        return False
    return not (_seen("low", findings, ranked, rules) or _read_twice("low", visit))


def _seen(verdict: ChargeWord, findings: Mapping[str, Finding], ranked: Sequence[Ranked], rules: Rulebook) -> bool:
    """Whether what was seen or told, and no instrument shows, speaks for a charge that is off so."""
    own = [place for place in ranked if rules.faults[place.fault].charge == verdict]
    asked = {name for place in own for e in place.supporting for name, _ in rules.spelled_out(e.rule)}
    return any(name in findings and findings[name].estimate is None for name in asked)


def _read_twice(verdict: ChargeWord, visit: Visit) -> bool:
    """Whether another place on the liquid line shows as much. The same clamp errs the same way again in another round."""
    once = visit.last.readings.get(LIQUID_LINE)
    others = [visit.last.readings[name] for name in ON_THE_SAME_LINE if name in visit.last.readings]
    wrong = 1 if verdict == "low" else -1  # the way in which a clamp that errs makes it
    return once is not None and any(wrong * (once.value - o.value) <= once.error + o.error for o in others)


LIQUID_LINE = "liquid line temperature"
RATED = "rated subcooling"


def _near_limit(finding: Finding, method: Method, improve: str | None) -> Reason:
    return Reason("near-the-limit", {"method": method, "chances": _likeliest(finding), "improve": improve})


def _likeliest(finding: Finding) -> tuple[tuple[str, float], ...]:
    """The two likeliest words, each with its chance; near a blank a finding counts in part."""
    words = sorted(finding.words, key=lambda w: -finding.words[w])[:2]
    return tuple((word, finding.words[word] / finding.counts) for word in words)


def unparted(findings: Mapping[str, Finding], rules: Rulebook) -> frozenset[str]:
    """The faults that look alike with these findings, none of which is one that parts them (`unparted`)."""
    return frozenset(fault for alike in look_alikes(findings, rules) for fault in alike)


def look_alikes(findings: Mapping[str, Finding], rules: Rulebook) -> list[tuple[str, ...]]:
    """The same, those together that look alike."""
    return [
        alike.faults
        for alike in rules.charge.unparted
        if not any(
            chance_of(findings, name, word) >= rules.charge.sure for name, words in alike.parted_by for word in words
        )
        and all(chance_of(findings, name, *words) > 0.5 for name, words in alike.findings)
    ]


def _rival(
    verdict: ChargeWord,
    ranked: Sequence[Ranked],
    findings: Mapping[str, Finding],
    rules: Rulebook,
    facts: Mapping[str, str],
    both_pairs: bool,
    alike: frozenset[str],
) -> Ranked | None:
    """The fault that stands in the way of this verdict; None where none does.

    To touch the charge, its own fault must lead every other one by `leads_by`, and "nothing wrong" at all, also where
    nothing spoke against that but what this fault makes. Faults that gauges cannot part (`one_doubt`) count as one. Where
    superheat and subcooling both show the charge (`both_pairs`) it must have `least_share` of all faults as well. Over a
    fault that looks alike (`alike`) it must lead by as much as makes a verdict sure. To leave it alone, no other fault
    may lead by more than `leads_by`, and the share of a charge that is off must be what a sure verdict leaves.
    """
    own = next((r for r in ranked if rules.faults[r.fault].charge == verdict), None)
    others = [r for r in ranked if r is not own]
    if own is None or not others:
        return None
    if verdict == "right":
        if charge_off(ranked, rules) > 1.0 - rules.charge.sure:
            return next(r for r in others if rules.faults[r.fault].charge in CHARGE_IS_OFF)
        return others[0] if others[0].share - own.share > rules.charge.leads_by else None

    def weight(rival: Ranked) -> float:
        alike = next((group for group in rules.charge.one_doubt if rival.fault in group), [rival.fault])
        return sum(r.share for r in others if r.fault in alike)

    of_all = own.share + sum(r.share for r in others if rules.faults[r.fault].charge != "right")
    too_little = both_pairs and own.share < rules.charge.least_share * of_all

    def in_the_way(rival: Ranked) -> bool:
        # That nothing is wrong does not explain a reading outside the protocol's limits: it must only not be likelier.
        if rules.faults[rival.fault].charge == "right":
            return own.share < without_what_it_does_not_make(rival, own.fault, findings, rules, facts)
        if too_little:
            return True
        margin = rules.charge.leads_by
        if {own.fault, rival.fault} <= alike:
            margin = rules.charge.sure
        return own.share - weight(rival) < margin

    return next((rival for rival in sorted(others, key=weight, reverse=True) if in_the_way(rival)), None)


def _rival_reason(
    rival: Ranked, ranked: Sequence[Ranked], leaning: ChargeWord, method: Method, rules: Rulebook
) -> Reason:
    figures = {"fault": rival.fault, "method": method, "leaning": leaning}
    if rules.faults[rival.fault].charge == "right":
        own = next(r for r in ranked if rules.faults[r.fault].charge == leaning)
        if own.share > rival.share:
            return Reason("likely-only-by-others", {**figures, "own": own.fault})
        return Reason("readings-say-nothing-wrong", figures)
    own_leads = rules.faults[ranked[0].fault].charge == leaning
    return Reason("rival-too-likely" if own_leads else "rival-explains-better", figures)


def _verdict_reason(verdict: ChargeWord, finding: Finding, by: ChargeReading, rules: Rulebook) -> Reason:
    """By how much it stands off what it was judged by; `side`: where a right charge stands, if not in the middle."""
    difference, sigma = _difference(finding)
    side = None
    if verdict == "right" and difference is not None and by.tolerance is not None:
        over = difference * (-1 if by.method == "superheat" else 1)
        if abs(over) > max(rules.judgement.charge_range.one_side * by.tolerance, sigma):
            side = "high" if over > 0 else "low"
    figures = {
        "verdict": verdict,
        "method": by.method,
        "difference": difference,
        "tolerance": by.tolerance,
        "side": side,
        "by_good_day": by_good_day(finding),
    }
    return Reason("charge-judged", figures)


def _difference(finding: Finding) -> tuple[float | None, float]:
    """How far the quantity is from what it was judged by, and the standard deviation of that, K."""
    estimate = finding.estimate
    if estimate is None:
        return None, 0
    if by_good_day(finding) and (day := estimate.good_day):
        return day.difference, day.sigma
    return estimate.difference, estimate.difference_sigma


def _general_differs(verdict: ChargeWord, finding: Finding, by: ChargeReading) -> list[Reason]:
    """What the protocol's own target would have said, where the good day says otherwise."""
    estimate = finding.estimate
    if estimate is None or estimate.difference is None or by.tolerance is None or not by_good_day(finding):
        return []
    more: tuple[ChargeWord, ChargeWord] = ("low", "high") if by.method == "superheat" else ("high", "low")
    off = estimate.difference
    other = "right" if abs(off) <= by.tolerance else more[0] if off > 0 else more[1]
    return [] if other == verdict else [Reason("general-target-differs", {"verdict": other, "difference": off})]
