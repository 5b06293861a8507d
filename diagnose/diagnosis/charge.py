"""The charge verdict: what the protocol says, whether it may be said, how much, and what to expect after.

Fixed orifice: superheat against the target. TXV or EEV: subcooling against the plate. The limits stand in
rules/findings.yaml (`charge by …`), how sure it must be in rules/readiness.yaml (`charge:`). No advice to touch the
charge is given while anything else explains the readings better.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose import targets, units
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.wording import by_good_day, estimate_text, finding_text, limits_text, number
from diagnose.properties import liquid_density
from diagnose.quantities.plausibility import Suspicion
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import RuleEntry
from diagnose.visit import FIXED_ORIFICE, Machine, System, Visit

Verdict = Literal["right", "low", "high", "do not judge"]
NO_VERDICT: Verdict = "do not judge"
LEAST = 0.02  # of the charge; less than anybody can weigh in by temperatures
WAIT = "Wait 15 minutes after each change, then measure everything again."


@dataclass(frozen=True, slots=True)
class Expectation:
    """What a quantity should become, K, and how near is near enough."""

    value: float
    tolerance: float


@dataclass(frozen=True, slots=True)
class Charge:
    """The verdict on the charge. Differences in K, masses in kg.

    method: superheat, subcooling, or weight where no temperature tells; None where the metering device is not known.
    leaning: what the protocol alone would have said, where no verdict is given (None: nothing). chance: how sure the
    protocol is of it. percent, mass: how far the charge is off (negative: missing), as a range. why: sentences.
    improve: the reading that adds most to the doubt. caveats: what nobody has confirmed and a verdict leans on. target is
    the protocol's; own: what the machine's own good day expects, which the verdict then goes by.
    """

    verdict: Verdict
    method: Literal["superheat", "subcooling", "weight"] | None
    measured: float | None
    measured_sigma: float | None
    target: float | None
    tolerance: float | None
    leaning: Verdict | None
    chance: float | None
    percent: tuple[int, int] | None
    mass: tuple[float, float] | None
    why: str
    expect_after: Mapping[str, Expectation]
    improve: str | None = None
    caveats: tuple[str, ...] = ()
    own: float | None = None


def judge(
    visit: Visit,
    estimates: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    ranked: Sequence[Ranked],
    holds: Sequence[tuple[RuleEntry, str]],
    suspicions: Sequence[Suspicion],
    rules: Rulebook,
    system: System,
) -> Charge:
    """The charge verdict of a visit. `holds`: the readiness rules on the charge that fired, with their filled text."""
    machine = visit.machine
    if machine.metering is None:
        return _none(
            None,
            "Whether this machine is charged by superheat or by subcooling depends on its metering device, which the "
            "visit does not name: write `metering: fixed orifice`, `TXV` or `EEV`.",
        )
    method: Literal["superheat", "subcooling"] = "superheat" if machine.metering == FIXED_ORIFICE else "subcooling"
    finding, estimate = findings.get(f"charge by {method}"), estimates.get(method)
    reasons = [text for _, text in holds]
    reasons += [s.what for s in suspicions if s.holds_charge]
    by_weight = any(entry.check == "weigh-the-charge" for entry, _ in holds)
    if finding is None or estimate is None:
        return _none("weight" if by_weight else method, " ".join(reasons) or _not_measured(method, estimate, machine))
    word = finding.word
    leaning: Verdict = "low" if word == "low" else "high" if word == "high" else "right"
    chance = finding.words[word]
    improve = None
    if not reasons and chance < rules.charge.sure:
        measured = [name for name in estimate.effects if name in visit.last.readings]
        improve = max(measured, key=lambda name: abs(estimate.effects[name]), default=None)
        reasons.append(_straddle(finding, method, improve, system))
    if not reasons:
        reasons += _valve_at_fault(leaning, findings, system)
    if not reasons and method == "superheat":
        reasons += _liquid_speaks_against(leaning, findings, system)
    if not reasons:
        rival = _rival(leaning, ranked, rules, both_pairs="superheat" in findings and "subcooling" in findings)
        if rival is not None:
            reasons.append(_explained(rival, ranked, leaning, finding, method, rules, system))
    target = estimate.target
    tolerance = _tolerance(finding)
    verdict: Verdict = NO_VERDICT if reasons else leaning
    percent = mass = None
    if verdict in ("low", "high"):
        percent = _percent(verdict, machine, estimates, rules)
        mass = _mass(percent, machine)
    return Charge(
        verdict=verdict,
        method="weight" if by_weight and reasons else method,
        measured=None if by_weight else estimate.value,
        measured_sigma=None if by_weight else estimate.sigma,
        target=target.value if target and not by_weight else None,
        tolerance=None if by_weight else tolerance,
        leaning=leaning if reasons else None,
        chance=chance,
        percent=percent,
        mass=mass,
        why=" ".join(reasons)
        or _verdict_text(leaning, finding, method, system, tolerance)
        + _table_differs(leaning, finding, method, tolerance, system)
        + _valve_holds(findings, system),
        expect_after=_expect(verdict, estimates, findings),
        improve=improve,
        caveats=() if reasons else _caveats(verdict, method, visit, findings, system),
        own=estimate.good_day.expected.value if estimate.good_day and by_good_day(finding) else None,
    )


def _none(method: Literal["superheat", "subcooling", "weight"] | None, why: str) -> Charge:
    return Charge(NO_VERDICT, method, None, None, None, None, None, None, None, None, why, {})


def _not_measured(method: str, estimate: Estimate | None, machine: Machine) -> str:
    if machine.refrigerant is None:
        return "The refrigerant is not given, so no saturation temperature can be looked up."
    if estimate is None:
        pair = (
            "suction pressure and suction line temperature"
            if method == "superheat"
            else "liquid pressure and liquid line temperature"
        )
        return f"The charge of this machine is judged by {method}, which was not measured: it needs {pair}."
    why = getattr(estimate.expected, "why", "the outdoor air temperature and the return air wet bulb are missing")
    return f"There is no target superheat to judge by: {why}."


def _tolerance(finding: Finding) -> float | None:
    """Half the width of what passes, K."""
    return (finding.limits[-1] - finding.limits[0]) / 2 if len(finding.limits) == 2 else None


def _valve_at_fault(leaning: Verdict, findings: Mapping[str, Finding], system: System) -> list[str]:
    """The metering check of a valve machine: one that does not hold its superheat comes before the charge.

    Too little charge starves any valve, so high superheat does not speak against `low`.
    """
    check = findings.get("metering check")
    if check is None or check.words.get("in range", 0.0) > 0.5:
        return []
    if check.word == "above range" and leaning == "low":
        return []
    side = "little" if check.word == "below range" else "much"
    return [
        f"The superheat is {finding_text(check, system)}, too {side} for a valve that works "
        f"(limits {limits_text(check, system)}). Settle that before the charge."
    ]


def _valve_holds(findings: Mapping[str, Finding], system: System) -> str:
    check = findings.get("metering check")
    if check is None or check.words.get("in range", 0.0) <= 0.5:
        return ""
    return f" The valve holds its superheat: {finding_text(check, system)}."


def _chance(findings: Mapping[str, Finding], name: str, *words: str) -> float:
    """How likely a finding has one of these words; 0 where it was not measured."""
    finding = findings.get(name)
    return sum(finding.words.get(word, 0.0) for word in words) if finding is not None else 0.0


def _liquid_speaks_against(leaning: Verdict, findings: Mapping[str, Finding], system: System) -> list[str]:
    """High superheat with much liquid in the condenser is no missing charge, whatever else it is; and the reverse."""
    opposite = {"low": ("high", "very high"), "high": ("low", "very low")}.get(leaning)
    if opposite is None or _chance(findings, "subcooling", *opposite) <= 0.5:
        return []
    text = finding_text(findings["subcooling"], system)
    if leaning == "low":
        return [
            f"Superheat alone would call the charge low, but subcooling is {text}: the liquid is there and held back. Look "
            "for a restriction or a metering device that passes too little."
        ]
    return [
        f"Superheat alone would call the charge high, but subcooling is {text}: the condenser holds little liquid. Look for "
        "too little indoor air, a metering device that passes too much, or a weak compressor."
    ]


def _caveats(
    verdict: Verdict, method: str, visit: Visit, findings: Mapping[str, Finding], system: System
) -> tuple[str, ...]:
    """What a verdict leans on though nobody has confirmed it."""
    found = []
    if method == "superheat" and "subcooling" not in findings:
        if verdict == "low":
            found.append(
                "Subcooling was not measured. Add nothing until it is seen to be low: a restriction starves the coil alike."
            )
        elif verdict == "high":
            found.append(
                "Subcooling was not measured. Take nothing out until it is seen to be high: too little indoor air floods "
                "the coil alike."
            )
    elif method == "superheat":
        text = finding_text(findings["subcooling"], system)
        if verdict == "low" and _chance(findings, "subcooling", "low", "very low") <= 0.5:
            found.append(
                f"Subcooling is {text}, not low: rule out a restriction first, with a clamp before and after the drier."
            )
        elif verdict == "right" and _chance(findings, "subcooling", "normal") <= 0.25:
            found.append(f"Subcooling is {text}, which does not fit a right charge well. Measure it again.")
    if "airflow per ton" not in findings:
        found.append("Nobody has confirmed the airflow, and every refrigerant reading leans on it.")
    if visit.last.minutes is None:
        found.append("Nobody noted how long the machine has run. Before 15 minutes this verdict means nothing.")
    return tuple(found)


def _straddle(finding: Finding, method: str, improve: str | None, system: System) -> str:
    likely = sorted(finding.words, key=lambda w: -finding.words[w])[:2]
    text = finding_text(finding, system)
    sentence = (
        f"The {method} is {text}, so near the limit that the charge may be {likely[0]} or {likely[1]} "
        f"(about {finding.words[likely[0]] * 100:.0f} % {likely[0]}, "
        f"{finding.words.get(likely[-1], 0) * 100:.0f} % {likely[-1]})."
    )
    if improve:
        sentence += f" The {improve} adds most to the doubt: measure it again, or with a better instrument."
    return sentence


def _rival(verdict: Verdict, ranked: Sequence[Ranked], rules: Rulebook, both_pairs: bool) -> Ranked | None:
    """The fault that stands in the way of this verdict; None where none does.

    To touch the charge, its own fault must lead every other one by `leads_by`, and "nothing wrong" at all; faults that
    gauges cannot part (`one_doubt`) count as one. Where both superheat and subcooling were measured it must have
    `least_share` as well. To leave it alone, no other fault may lead by more than `leads_by`.
    """
    own = next((r for r in ranked if rules.faults[r.fault].charge == verdict), None)
    others = [r for r in ranked if r is not own]
    if own is None or not others:
        return None
    if verdict == "right":
        return others[0] if others[0].share - own.share > rules.charge.leads_by else None

    def weight(rival: Ranked) -> float:
        alike = next((group for group in rules.charge.one_doubt if rival.fault in group), [rival.fault])
        return sum(r.share for r in others if r.fault in alike)

    def in_the_way(rival: Ranked) -> bool:
        # That nothing is wrong does not explain a reading outside the protocol's limits: it must only not be likelier.
        margin = 0.0 if rules.faults[rival.fault].charge == "right" else rules.charge.leads_by
        return own.share - weight(rival) < margin

    strongest = max(others, key=weight)
    if both_pairs and own.share < rules.charge.least_share:
        return strongest
    return next((rival for rival in sorted(others, key=weight, reverse=True) if in_the_way(rival)), None)


def _explained(
    rival: Ranked,
    ranked: Sequence[Ranked],
    leaning: Verdict,
    finding: Finding,
    method: str,
    rules: Rulebook,
    system: System,
) -> str:
    entry = rules.faults[rival.fault]
    name = _lower(entry.name)
    alone = f"By {method} alone, {finding_text(finding, system)}, the charge would be called {leaning}"
    if entry.charge == "right":
        return f"{alone}, but the other readings say {name}. Read everything again before you touch the charge."
    if rules.faults[ranked[0].fault].charge == leaning:
        return f"{alone}, but {name} is too likely to touch the charge yet. Settle that first, then measure again."
    return f"{alone}, but {name} explains the readings as well or better. Settle that first, then measure again."


def _lower(name: str) -> str:
    return name[0].lower() + name[1:]


def _verdict_text(leaning: Verdict, finding: Finding, method: str, system: System, tolerance: float | None) -> str:
    text = f"The {method} is {finding_text(finding, system)}"
    difference, sigma = _difference(finding)
    if difference is None or tolerance is None:
        return f"{text}: the charge is {leaning}."
    within = number(tolerance, "difference", system)
    it = "what it showed on its good day" if by_good_day(finding) else "it"
    if leaning != "right":
        return f"{text}, more than {within} {'above' if difference > 0 else 'below'} {it}: the charge is {leaning}."
    by = difference * (-1 if method == "superheat" else 1)
    side = ""
    if abs(by) > max(0.2 * tolerance, sigma):
        side = f", if anything slightly {'high' if by > 0 else 'low'}"
    return f"{text}, within {within} of {it}: the charge is right{side}."


def _difference(finding: Finding) -> tuple[float | None, float]:
    """How far the quantity is from what it was judged by, and the standard deviation of that, K."""
    estimate = finding.estimate
    if estimate is None:
        return None, 0.0
    if estimate.good_day is not None and by_good_day(finding):
        return estimate.good_day.difference, estimate.good_day.sigma
    return estimate.difference, estimate.difference_sigma


def _table_differs(leaning: Verdict, finding: Finding, method: str, tolerance: float | None, system: System) -> str:
    """What the protocol's own target would have said, where the good day says otherwise."""
    estimate = finding.estimate
    if estimate is None or estimate.difference is None or tolerance is None or not by_good_day(finding):
        return ""
    more: tuple[Verdict, Verdict] = ("low", "high") if method == "superheat" else ("high", "low")
    other = "right" if abs(estimate.difference) <= tolerance else more[0] if estimate.difference > 0 else more[1]
    if other == leaning:
        return ""
    off = number(abs(estimate.difference), "difference", system)
    side = "above" if estimate.difference > 0 else "below"
    return (
        f" By the general target alone it would be called {other} ({off} {side} it). This machine stood off that target on "
        "its good day as well, so its own figure goes first: that holds only if its charge was known to be right that day."
    )


def _percent(
    verdict: Verdict, machine: Machine, estimates: Mapping[str, Estimate], rules: Rulebook
) -> tuple[int, int] | None:
    """How far the charge is off, percent of the right one; never finer than the policy says; None if signs disagree."""
    cooling, heat = estimates.get("subcooling"), estimates.get("superheat")
    if cooling is None or cooling.target is None:
        return None
    rated = cooling.target.value
    above = heat.target.value if heat is not None and heat.target is not None else None
    measured = heat.value if heat is not None and above is not None else 0.0
    # On its good day the machine held the right charge, so what it showed then stands for the general figures.
    held = cooling.value - (cooling.good_day.expected.value - rated if cooling.good_day else 0.0)
    if heat is not None and heat.good_day is not None and above is not None:
        measured -= heat.good_day.expected.value - above
    # A valve holds its superheat, so only a fixed orifice has anything to add from it.
    use_heat = machine.metering == FIXED_ORIFICE and above is not None
    fraction = targets.charge_deviation(held, rated, measured if use_heat else 0.0, above if use_heat else 0.0)
    per_kelvin = targets.charge_deviation(rated + 1.0, rated, 0.0, 0.0)
    if fraction is None or per_kelvin is None:
        return None
    by_heat = 0.4 * heat.difference_sigma if use_heat and heat is not None else 0.0
    error = COVERAGE * math.hypot(cooling.difference_sigma, by_heat) * per_kelvin
    half = max(rules.charge.finest_percent / 100, error)
    low, high = fraction - half, fraction + half
    # A verdict says on which side of right the charge is, so the range ends a little before nothing at all.
    if verdict == "low":
        low, high = max(low, -0.6), min(high, -LEAST)
    else:
        low, high = max(low, LEAST), min(high, 0.6)
    if high - low < LEAST:
        return None
    return round(low * 100), round(high * 100)


def _mass(percent: tuple[int, int] | None, machine: Machine) -> tuple[float, float] | None:
    """The same in kg, of the factory charge and what the line set adds to it."""
    charge = machine.fact("factory charge")
    if percent is None or charge is None:
        return None
    total = charge + (line_set_charge(machine) or 0.0)
    return total * percent[0] / 100, total * percent[1] / 100


def line_set_charge(machine: Machine) -> float | None:
    """Liquid in the line beyond the length that the factory charge includes, kg; negative if it is shorter.

    Saturated liquid at 100 °F (311 K); None if the line or the refrigerant is not known.
    """
    if machine.line_set is None or machine.refrigerant is None:
        return None
    density = liquid_density(machine.refrigerant, 310.93)
    extra = machine.line_set.length - machine.line_set.included
    found = targets.line_charge(machine.line_set.liquid_line, abs(extra), density)
    return None if found is None else math.copysign(found, extra)


def mass_text(low: float, high: float, system: System) -> str:
    """A range of refrigerant mass, both ends positive: `4 to 21 oz`, `110 to 600 g`."""
    unit = "oz" if system == "us" else "g"
    first, second = (units.from_si(abs(x), unit, "mass") for x in (low, high))
    small, large = sorted((first, second))
    step = 1 if system == "us" else 10
    return f"{round(small / step) * step} to {round(large / step) * step} {unit}"


def _expect(
    verdict: Verdict, estimates: Mapping[str, Estimate], findings: Mapping[str, Finding]
) -> dict[str, Expectation]:
    """What superheat and subcooling should read once the charge is right."""
    if verdict not in ("low", "high"):
        return {}
    found = {}
    for name in ("superheat", "subcooling"):
        finding, estimate = findings.get(name), estimates.get(name)
        if finding is None or estimate is None:
            continue
        normal = _normal_band(finding)
        if normal is None:
            continue
        low, high = normal
        if finding.scale is not None and finding.scale.by == "difference":
            day = estimate.good_day.expected if estimate.good_day and by_good_day(finding) else estimate.target
            if day is not None:
                low, high = low + day.value, high + day.value
        found[name] = Expectation((low + high) / 2, (high - low) / 2)
    return found


def _normal_band(finding: Finding) -> tuple[float, float] | None:
    """The limits on either side of the middle word of five."""
    return (finding.limits[1], finding.limits[2]) if len(finding.limits) == 4 else None


def headline(charge: Charge, estimate: Estimate | None, system: System) -> str:
    """`low by superheat, 23.0 ± 1.6 °F against a target of 13.5 °F`."""
    if charge.verdict == NO_VERDICT or estimate is None:
        return charge.verdict
    text = estimate_text(estimate, system)
    target = estimate.target
    if target is None:
        own = f" against {number(charge.own, 'difference', system)} by its good day" if charge.own is not None else ""
        return f"{charge.verdict} by {charge.method}, {text}{own}"
    shown = number(target.value, "difference", system)
    word = {"maker": "the plate’s", "typical": "a typical", "protocol": "a target of"}.get(target.origin, "")
    own = f", and {number(charge.own, 'difference', system)} by its good day" if charge.own is not None else ""
    return f"{charge.verdict} by {charge.method}, {text} against {word} {shown}{own}"
