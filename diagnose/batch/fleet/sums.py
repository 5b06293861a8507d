"""What the visits add up to: each machine once, by its last visit, and every fault by its share, so that no doubt is lost; and
what the order of visits saves: hours until so many faults are reached, and the electricity that faults of a known size cost.

A machine's chance of a fault is taken as it is told; visits in any order reach faults evenly. Electricity: the ranges of
`diagnosis/costs.py`, with their sources, each machine counted alike, because the table has no sizes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from diagnose.batch.fleet.table import FleetTable, FleetVisit
from diagnose.diagnosis.costs import Costs, charge_costs
from diagnose.diagnosis.story import Drift, Figure, Look, Story, drifts
from diagnose.evaluation.model import NOTHING_WRONG, wilson
from diagnose.properties.targets import F
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.rulebook import Rulebook
from diagnose.visit import FIXED_ORIFICE, HEATING

VERDICTS = ("right", "low", "high", "do not judge")
UNTOLD = "untold"
"""What the share of the first fault leaves, where the table does not say which faults it falls to."""
STOPS = frozenset({"high-side-pressure", "suction-in-vacuum", "test-gas-burns"})
"""Dangers without a rule that say to stop the machine (`diagnosis/dangers.py`)."""
NONE_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Group:
    """Some machines together. machines: all of them; judged: those whose faults were ranked; wrong: how many are expected to
    have a fault; faults: summed shares of each, nothing wrong among them.
    """

    label: str
    machines: int
    judged: int
    wrong: float = 0.0
    faults: Mapping[str, float] = field(default_factory=dict)

    @property
    def share(self) -> float:
        """The same as a share of those judged."""
        return self.wrong / self.judged if self.judged else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Limits (95 of 100) of that share in machines like these."""
        return wilson(self.wrong, self.judged)


@dataclass(frozen=True, slots=True)
class FleetSums:
    """The fleet. verdicts: machines by the verdict of their last visit. whole, kinds, refrigerants, months: groups. worst: last
    visits that were judged or had to be stopped, the worst first; unjudged: those of which nothing could be ranked. drifting:
    machine -> drifts that are sure; followed: machines with visits enough to see one.
    """

    table: FleetTable
    whole: Group
    verdicts: Mapping[str, int]
    kinds: tuple[Group, ...]
    refrigerants: tuple[Group, ...]
    months: tuple[Group, ...]
    worst: tuple[FleetVisit, ...]
    unjudged: tuple[FleetVisit, ...]
    drifting: Mapping[str, tuple[Drift, ...]]
    followed: int


def sum_up(table: FleetTable, rules: Rulebook) -> FleetSums:
    """All sums of a table."""
    by_machine: dict[str, list[FleetVisit]] = {}
    for visit in table.visits:
        by_machine.setdefault(visit.key, []).append(visit)
    for visits in by_machine.values():
        visits.sort(key=lambda each: each.order)
    last = [visits[-1] for visits in by_machine.values()]
    chosen = [visit for visit in last if visit.judged or stops(visit, rules)]
    order = sorted(chosen, key=lambda each: (-stops(each, rules), -wrong(each), -off(each), each.machine))
    figures = rules.judgement.drifts
    tried = {visits[-1].machine: drifts(_looks(visits, figures.wander), figures) for visits in by_machine.values()}
    lines = {machine: found for machine, found in tried.items() if found}
    return FleetSums(
        table=table,
        whole=group("all", last),
        verdicts=_counted(last),
        kinds=_groups(last, lambda each: each.kind),
        refrigerants=_groups(last, lambda each: each.refrigerant),
        months=_months(table.visits),
        worst=tuple(order),
        unjudged=tuple(visit for visit in last if not visit.judged),
        drifting={name: sure for name, each in lines.items() if (sure := tuple(d for d in each if d.sure))},
        followed=len(lines),
    )


def wrong(visit: FleetVisit) -> float:
    """How likely any fault is: what is not the share of "nothing wrong"; the least, where only a fault's own share is known."""
    sound = visit.shares.get(NOTHING_WRONG)
    return sum(visit.shares.values()) if sound is None else 1.0 - sound


def off(visit: FleetVisit) -> float:
    """How far the charge is off in the middle of its estimate, percent; 0 where nobody knows."""
    return 0.0 if visit.estimate is None else abs(sum(visit.estimate)) / 2


def stops(visit: FleetVisit, rules: Rulebook) -> bool:
    """Whether something on this visit said to stop the machine."""
    return any(is_stop(code, rules) for code in visit.dangers)


def is_stop(code: str, rules: Rulebook) -> bool:
    """Whether a danger of this code says so."""
    return code in STOPS or (code in rules.by_id and rules.by_id[code].level == "stop")


def group(label: str, visits: Sequence[FleetVisit]) -> Group:
    """The sums of these visits, one a machine."""
    judged = [visit for visit in visits if visit.judged]
    faults: dict[str, float] = {}
    for visit in judged:
        for fault, share in visit.shares.items():
            faults[fault] = faults.get(fault, 0.0) + share
        rest = 1.0 - sum(visit.shares.values())
        if rest > 1e-6:
            faults[UNTOLD] = faults.get(UNTOLD, 0.0) + rest
    return Group(label, len(visits), len(judged), sum(wrong(visit) for visit in judged), faults)


def _groups(visits: Iterable[FleetVisit], by: Callable[[FleetVisit], str]) -> tuple[Group, ...]:
    """The largest first; what is not said comes last."""
    found: dict[str, list[FleetVisit]] = {}
    for visit in visits:
        found.setdefault(by(visit) or NONE_SAID, []).append(visit)
    made = [group(label, each) for label, each in found.items()]
    return tuple(sorted(made, key=lambda each: (each.label == NONE_SAID, -each.machines, each.label)))


def _months(visits: Iterable[FleetVisit]) -> tuple[Group, ...]:
    """Each machine once a month, by its last visit in it."""
    found: dict[str, dict[str, FleetVisit]] = {}
    for visit in visits:
        if visit.day:
            month = found.setdefault(visit.day[:7], {})
            before = month.get(visit.key)
            if before is None or before.order <= visit.order:
                month[visit.key] = visit
    return tuple(group(label, list(found[label].values())) for label in sorted(found))


def _counted(visits: Iterable[FleetVisit]) -> dict[str, int]:
    found = dict.fromkeys(VERDICTS, 0)
    for visit in visits:
        found[visit.verdict if visit.verdict in VERDICTS else "do not judge"] += 1
    return found


def _looks(visits: Sequence[FleetVisit], wander: float) -> list[Look]:
    """The visits as a machine's story: quantities as they were read, for the table has no expected ones. A fixed orifice's
    superheat is left out: it follows the weather. The last visit of each day: stretches of one log are no visits apart."""
    found = []
    for visit in {visit.day: visit for visit in visits if visit.day}.values():
        figures = {
            name: Figure(value, error / COVERAGE, difference=value, difference_sigma=error / COVERAGE, wander=wander)
            for name, (value, error) in visit.quantities.items()
            if not (name == "superheat" and visit.metering == FIXED_ORIFICE)
        }
        told = Story(
            status=visit.status, system="us", fault=visit.fault or None, name=None, strength=None, share=visit.share,
            verdict=visit.verdict, right=visit.fault == NOTHING_WRONG, mode=visit.mode, outdoor=visit.outdoor,
            worked=False, figures=figures,
        )  # fmt: skip
        found.append(Look(f"{visit.row}", visit.day, told))
    return found


# -- what the order saves ---------------------------------------------------------------------------------------------

HOURS = 1.5  # a visit, driving included (judgement)
REACH = (0.25, 0.5, 0.75, 0.9)  # shares of the expected faults
INDOOR, OUTDOOR = 80 * F + 255.372, 95 * F + 255.372
"""K; the air of the rating test (AHRI 210/240, test A, from memory), where the table does not say how warm it was."""
_OF_CHARGE = {"low-charge": "low", "overcharge": "high"}


@dataclass(frozen=True, slots=True)
class Reached:
    """So many of the expected faults (a share of them), and after how many visits: in this order, and in any other."""

    share: float
    faults: float
    in_order: int
    anyhow: float


@dataclass(frozen=True, slots=True)
class Electricity:
    """More electricity for the same cooling, percent, from and to. machines: whose fault has a known size; low, high: sums of
    the chance of each times its range. half: visits in this order until half of the higher sum is reached.
    """

    machines: int
    low: float
    high: float
    half: int
    source: str


def reached(order: Sequence[FleetVisit]) -> tuple[Reached, ...]:
    """Visits needed for each share of the expected faults; none where no fault is expected."""
    chances = [wrong(visit) for visit in order]
    whole = sum(chances)
    if whole <= 0:
        return ()
    found = []
    for share in REACH:
        sum_so_far, count = 0.0, 0
        while count < len(chances) and sum_so_far < share * whole - 1e-9:
            sum_so_far += chances[count]
            count += 1
        found.append(Reached(share, share * whole, count, share * len(chances)))
    return tuple(found)


def electricity(order: Sequence[FleetVisit], rules: Rulebook) -> Electricity | None:
    """What the charge costs where its size is told; None where it is for no machine."""
    low, source, machines = 0.0, "", 0
    so_far = [0.0]
    for visit in order:
        so_far.append(so_far[-1])
        cost = _cost(visit, rules)
        if cost is None or cost.running is None:
            continue
        chance = visit.shares.get(visit.fault, 0.0)
        machines += 1
        low += chance * cost.running[0]
        so_far[-1] += chance * cost.running[1]
        source = cost.source if isinstance(cost.source, str) else ", ".join(cost.source)
    if not machines:
        return None
    half = next(i for i, reached_by in enumerate(so_far) if reached_by >= so_far[-1] / 2 - 1e-9)
    return Electricity(machines, low, so_far[-1], half, source)


def open_ended(visit: FleetVisit, rules: Rulebook) -> bool:
    """Whether only "at least" is known of how far the charge is off: the range then goes on to its end."""
    return visit.estimate is not None and max(map(abs, visit.estimate)) >= 100 * rules.judgement.charge_range.most - 0.5


def _cost(visit: FleetVisit, rules: Rulebook) -> Costs | None:
    if visit.mode == HEATING:
        return None  # the curves are of cooling
    if visit.estimate is None or _OF_CHARGE.get(visit.fault) != visit.verdict or open_ended(visit, rules):
        return None
    low, high = visit.estimate
    outdoor = visit.outdoor if visit.outdoor is not None and 270 < visit.outdoor < 330 else OUTDOOR
    return charge_costs(visit.fault, (low, high), INDOOR, outdoor, visit.metering, rules.judgement.costs)
