"""What the order saves: hours until so many faults are reached, and the electricity that faults of a known size cost.

A machine's chance of a fault is taken as it is told; visits in any order reach faults evenly. Electricity: the ranges of
`diagnosis/costs.py`, with their sources, each machine counted alike, because the table has no sizes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.batch.fleet.sums import wrong
from diagnose.batch.fleet.table import FleetVisit
from diagnose.diagnosis.costs import Costs, charge_costs
from diagnose.properties.targets import F
from diagnose.rulebook import Rulebook

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
    if visit.estimate is None or _OF_CHARGE.get(visit.fault) != visit.verdict or open_ended(visit, rules):
        return None
    low, high = visit.estimate
    outdoor = visit.outdoor if visit.outdoor is not None and 270 < visit.outdoor < 330 else OUTDOOR
    return charge_costs(visit.fault, (low, high), INDOOR, outdoor, visit.metering, rules.judgement.costs)
