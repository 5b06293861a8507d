"""What can hurt a person or break the machine: judged first, and apart, from every reading that was given.

Nothing is left out because it is doubted, set aside, beyond a table, or taken in an earlier round only: a danger that
turns out to be a slip of the pen costs one more look at the gauge. Pressures are held against limits as they were read; all
else by the rules of cautions.yaml that have a level. No doubt, hold or ranking is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from diagnose.diagnosis.findings import Finding, find
from diagnose.diagnosis.start_up import WRONG_GASES, above_the_plate
from diagnose.properties import Refrigerant
from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.uncertainty import Estimate, absolute, estimate
from diagnose.rulebook import Rule, Rulebook, machine_facts
from diagnose.rulebook.entries import Level
from diagnose.units.columns import hypot
from diagnose.visit import Reading, Visit
from diagnose.visit.reason import Reason
from diagnose.visit.start_up_fields import PRESSURE

STOP = "stop-the-machine"
"""The check that goes before all others where a danger says so."""
WAIT = "wait-and-read-again"
"""The check that lets the machine run: never while such a danger stands."""
WATCH = "watch-and-read-again"
"""What is done instead where a danger asks for care: it runs for the readings alone."""
NEAR_LIMIT = "high-side-near-limit"
RUNNING = ("suction pressure", "liquid pressure")
PRESSURES = (*RUNNING, "metering inlet pressure", "standing pressure")


class Danger(NamedTuple):
    """One danger. code: unique in the program, or the id of its rule. level: stop, switch off before all else; care.

    One of reason (judged from readings as they are) and rule (of cautions.yaml) is there.
    """

    code: str
    level: Level
    reason: Reason | None = None
    rule: Rule | None = None


class Seen(NamedTuple):
    """Dangers, the worst first; cautions that are none, by rank; and the findings of all readings that they ask for."""

    dangers: tuple[Danger, ...] = ()
    cautions: tuple[Rule, ...] = ()
    findings: Mapping[str, Finding] = {}


def dangers_of(visit: Visit, rules: Rulebook, as_read: Mapping[str, Estimate]) -> Seen:
    """All that could hurt, from the last value of each reading in any round.

    as_read: the quantities of the last round, nothing set aside.
    """
    taken = last_values(visit)
    found = [*_pressure_test(visit), *_high_side(visit, taken, rules), *_vacuum(visit, taken)]
    low, high = (absolute(taken[name], visit.machine) if name in taken else None for name in RUNNING)
    stands = _stands(visit, taken, low, high, rules.judgement.plausibility)
    # Where the two changed places, or nothing runs, what is worked out of them means nothing; each was judged alone above.
    meaningless = stands or (low is not None and high is not None and low > high)
    if meaningless or len(taken) > len(visit.last.readings):
        everything = replace(visit, rounds=(*visit.rounds[:-1], visit.last._replace(readings=taken)))
        as_read = estimate(everything, RUNNING if meaningless else (), rules.judgement.steadiness)
    applying = rules.applying(machine_facts(visit.machine))
    findings = find(visit, as_read, rules, applying.alarming.reads)
    matched = applying.alarming.run({name: f.words for name, f in findings.items()})
    if stands or matched.states.get("compressor", {}).get("standing", 0) > 0.5:  # the cause is sought among live parts
        found.append(Danger("live-parts", "care", Reason("live-parts")))
    likely = {firing.rule for firing in matched.firings if firing.sure >= 0.5}
    holding = [rule for rule in applying.of_kind["caution"] if rule.id in likely or not (rule.when or rule.either)]
    holding.sort(key=lambda rule: rule.rank)
    found += [Danger(rule.id, rule.level, rule=rule) for rule in holding if rule.level and not said_by(rule, holding)]
    found.sort(key=lambda danger: danger.level != "stop")
    return Seen(tuple(found), tuple(rule for rule in holding if rule.level is None), findings)


def last_values(visit: Visit) -> dict[str, Reading]:
    """Each reading as it was last taken, in whatever round."""
    taken: dict[str, Reading] = {}
    for each in visit.rounds:
        taken.update(each.readings)
    return taken


def said_by(rule: Rule, holding: Sequence[Rule]) -> bool:
    """Whether a rule that asks for the same and more says the same, worse."""
    conditional = rule.when or rule.either
    return bool(conditional) and any(other.level == "stop" and other.contains(rule) for other in holding)


def pressure_limit(visit: Visit, rules: Rulebook) -> tuple[float, str] | None:
    """The highest pressure the high side may have, Pa above the air, and whose it is: `machine`, `refrigerant` or `any`.

    The lower of the machine's own cut-out and the refrigerant's limit, so that a slip in one does not loosen the other.
    Without a refrigerant the highest limit of all: above it no machine may run.
    """
    own, by_gas = (
        visit.machine.fact("high pressure cut-out"),
        limit_of_the_refrigerant(visit.machine.refrigerant, rules),
    )
    found = [(own, "machine")] if own is not None else []
    found += [by_gas] if by_gas is not None else []
    return min(found) if found else None


def limit_of_the_refrigerant(gas: Refrigerant | None, rules: Rulebook) -> tuple[float, str] | None:
    """The same of the refrigerant alone, of any where it is not known."""
    limits = rules.pressure_limits.limits if rules.pressure_limits else {}
    if gas is None and limits:
        return max(limits.values()), "any"
    return (limits[gas.name], "refrigerant") if gas is not None and gas.name in limits else None


def _pressure_test(visit: Visit) -> Iterator[Danger]:
    """What a start-up's pressure test was done with, and how high."""
    gas = "" if visit.start_up is None else visit.start_up.looks(PRESSURE).get("gas", "")
    if gas in WRONG_GASES:
        yield Danger("test-gas-burns", "stop", Reason("test-gas-burns", {"gas": gas}))
    if (over := above_the_plate(visit)) is not None:
        figures = {"pressure": over[0], "allowed": over[1]}
        yield Danger("test-pressure-too-high", "care", Reason("test-pressure-too-high", figures))


def _high_side(visit: Visit, taken: Mapping[str, Reading], rules: Rulebook) -> Iterator[Danger]:
    """The highest pressure that was read, on whichever hose, against the limit."""
    limit = pressure_limit(visit, rules)
    gauges = [(above_air(taken[name], visit), name) for name in PRESSURES if name in taken]
    if limit is None or not gauges:
        return
    near = near_share(rules)
    highest, name = max(gauges)
    if highest > near * limit[0]:
        station = visit.machine.station_pressure
        figures = {"reading": name, "pressure": highest + station, "limit": limit[0] + station, "of": limit[1]}
        over = highest > limit[0]
        code = "high-side-pressure" if over else NEAR_LIMIT
        yield Danger(code, "stop" if over else "care", Reason(code, figures))


def near_share(rules: Rulebook) -> float:
    """The share of the limit from which care is asked for."""
    return rules.pressure_limits.near if rules.pressure_limits else 1.0


def _vacuum(visit: Visit, taken: Mapping[str, Reading]) -> Iterator[Danger]:
    """The lowest pressure that was read, where it lies below that of the air by more than the errors."""
    gauges = [(above_air(taken[name], visit), name) for name in PRESSURES if name in taken]
    if not gauges:
        return
    lowest, name = min(gauges)
    # A gauge counts from the air around it; an absolute one needs to know how much that is.
    reading = taken[name]
    error = error_above_air(reading, visit)
    if lowest < -error:
        figures = {"reading": name, "pressure": lowest + visit.machine.station_pressure, "by": -lowest}
        yield Danger("suction-in-vacuum", "stop", Reason("suction-in-vacuum", figures))


def _stands(
    visit: Visit, taken: Mapping[str, Reading], low: float | None, high: float | None, limits: PlausibilityLimits
) -> bool:
    """Whether the compressor seems to stand: pressures (Pa absolute) that stand together, or next to no current."""
    current, rated = taken.get("compressor current"), visit.machine.fact("rated current") or 0
    if current is not None and current.value < max(limits.idle_current_share * rated, limits.idle_current):
        return True
    if low is None or high is None:
        return False
    return max(low, high) < limits.standing_ratio[0] * min(low, high)


def above_air(reading: Reading, visit: Visit) -> float:
    """Pa above the pressure of the air around the machine."""
    return reading.value if reading.gauge else reading.value - visit.machine.station_pressure


def error_above_air(reading: Reading, visit: Visit) -> float:
    """Its limit of error, Pa."""
    return reading.error if reading.gauge else hypot(reading.error, visit.machine.station_error)
