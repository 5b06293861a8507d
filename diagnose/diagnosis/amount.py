"""How far the charge is off, in percent and in mass, and what the readings should be once it is right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from diagnose.diagnosis.findings import Finding, by_good_day
from diagnose.properties import targets
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.quantities.weighing import weigh_in
from diagnose.rulebook import Rulebook
from diagnose.units.columns import choose, greater, hypot, lesser
from diagnose.visit import FIXED_ORIFICE, Machine
from diagnose.visit.fields import MICROCHANNEL


class Expectation(NamedTuple):
    """What a quantity should become, K, and how near is near enough."""

    value: float
    tolerance: float


def chance_of(findings: Mapping[str, Finding], name: str, *words: str) -> float:
    """How likely a finding has one of these words; 0 where it was not measured."""
    finding = findings.get(name)
    return finding.chance(words) if finding is not None else 0


def no_liquid_left(machine: Machine, estimates: Mapping[str, Estimate], findings: Mapping[str, Finding]) -> bool:
    """Whether subcooling has ended on a valve machine: it then says no more of how much is missing than "at least".

    A valve holds superheat while it can, so a machine that lacks 15 % and one that lacks 60 % both show none (simulator).
    """
    cooling = estimates.get("subcooling")
    if machine.metering == FIXED_ORIFICE or cooling is None:
        return False
    return cooling.value <= COVERAGE * cooling.sigma or chance_of(findings, "sight glass", "bubbles") > 0.5


def wet_vapor(machine: Machine, estimates: Mapping[str, Estimate]) -> bool:
    """Whether an orifice floods its evaporator so far that superheat has ended: how much too much it holds, none can tell.

    What an orifice lets into the evaporator beyond that shows neither in superheat nor in subcooling.
    """
    heat = estimates.get("superheat")
    return machine.metering == FIXED_ORIFICE and heat is not None and heat.value <= COVERAGE * heat.sigma


def _beyond_the_valve(findings: Mapping[str, Finding]) -> float:
    """By how much superheat is surely beyond what the valve holds, K; 0 where it is not: then the valve has run out."""
    check = findings.get("metering check")
    if check is None or check.estimate is None:
        return 0
    return surely_beyond(check.estimate, check.limits[-1])


def surely_beyond(superheat: Estimate, limit: float) -> float:
    """By how much superheat is above a limit whatever its error, K; figures may be columns."""
    return greater(superheat.value - COVERAGE * superheat.sigma - limit, 0.0)  # type: ignore[no-any-return]


def _off(estimate: Estimate, right: float) -> float:
    """How far a quantity is off right, K: by the good day, on which the machine held the right charge, where there is one."""
    return estimate.good_day.difference if estimate.good_day is not None else estimate.value - right


def how_much(
    verdict: Literal["low", "high", "right"],
    machine: Machine,
    estimates: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    rules: Rulebook,
    at_least: bool,
) -> tuple[int, int] | None:
    """How far the charge is off, percent of the right one; never finer than the policy says; None if signs disagree.

    On an orifice the same refrigerant shows in subcooling and in superheat. Where both say so the smaller sign counts
    only in part beside the greater: added they count it twice. at_least: no liquid is left at the condenser's end, or the
    vapor is wet, so the range is open toward more of it.
    """
    cooling, heat = estimates.get("subcooling"), estimates.get("superheat")
    if cooling is None or cooling.target is None or cooling.target.value <= 0:
        return None
    if machine.words.get("condenser coil") == MICROCHANNEL:  # the same degrees are far less refrigerant there
        return None
    of_liquid, of_vapor = targets.charge_slopes(cooling.target.value)
    by_liquid, error_of_liquid = of_liquid * _off(cooling, cooling.target.value), of_liquid * cooling.difference_sigma
    by_heat, error_of_heat = 0.0, 0.0
    # A valve holds its superheat, so only a fixed orifice has anything to add from it.
    if machine.metering == FIXED_ORIFICE and heat is not None and heat.target is not None:
        by_heat, error_of_heat = of_vapor * _off(heat, heat.target.value), of_vapor * heat.difference_sigma
    sign = -1.0 if verdict == "low" else 1.0
    error = hypot(COVERAGE * error_of_liquid, COVERAGE * error_of_heat)
    # A valve that is wide open feeds like an orifice: what superheat rises beyond its range counts from there on.
    beyond = of_vapor * _beyond_the_valve(findings) if verdict == "low" else None
    least, most = ends(sign * by_liquid, sign * by_heat, error, at_least, beyond, rules)
    if most - least < rules.judgement.charge_range.least:
        return None
    low, high = sorted((sign * least, sign * most))
    return round(low * 100), round(high * 100)


def ends(
    by_liquid: float, by_heat: float, error: float, at_least: bool, beyond: float | None, rules: Rulebook
) -> tuple[float, float]:
    """Between which shares of the right charge the part too little, or too much, lies; figures may be columns.

    by_liquid, by_heat: that part as subcooling and superheat show it, and its limit of error. at_least: nothing shows the far
    end; beyond: what then, of too little, superheat beyond the valve's range adds to the near end.
    """
    limits = rules.judgement.charge_range
    smaller, larger = lesser(by_liquid, by_heat), greater(by_liquid, by_heat)
    size = larger + smaller * choose(smaller > 0, limits.shown_twice, 1.0)
    half = hypot(rules.charge.finest_percent / 100, error)
    least, most = size / limits.machines_differ - half, size * limits.machines_differ + half
    most = choose(at_least, limits.most, most)
    if beyond is not None:
        least = choose(at_least, size - half - beyond, least)
    # A verdict says on which side of right the charge is, so the range ends a little before nothing at all.
    return greater(least, limits.least), lesser(most, limits.most)


def in_mass(percent: tuple[int, int] | None, machine: Machine) -> tuple[float, float] | None:
    """The same in kg, of the factory charge and what is known of the line set."""
    if percent is None or machine.fact("factory charge") is None:
        return None
    total = weigh_in(machine).kg
    return total * percent[0] / 100, total * percent[1] / 100


def readings_after(
    verdict: Literal["low", "high", "right"], estimates: Mapping[str, Estimate], findings: Mapping[str, Finding]
) -> dict[str, Expectation]:
    """What superheat and subcooling should read once the charge is right."""
    if verdict == "right":
        return {}
    found = {}
    for name in ("superheat", "subcooling"):
        finding, estimate = findings.get(name), estimates.get(name)
        if finding is None or estimate is None or len(finding.limits) != 4:
            continue
        _, low, high, _ = finding.limits  # on either side of the middle word of five
        if finding.scale is not None and finding.scale.by == "difference":
            day = estimate.good_day.expected if estimate.good_day and by_good_day(finding) else estimate.target
            if day is not None:
                low, high = low + day.value, high + day.value
        found[name] = Expectation((low + high) / 2, (high - low) / 2)
    return found
