"""One simulated case: what is true of it, what the instruments had to show, and what the charge-only protocol says."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping

from diagnose.diagnosis.costs import Costs
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.evaluation.model import NOTHING_WRONG, RankedAnswer, Truth, merged
from diagnose.properties.targets import F, NoTarget
from diagnose.quantities.uncertainty import COVERAGE, Estimate, estimate
from diagnose.simulator import HeatPump, Mode, Practice, readings
from diagnose.simulator.model import State
from diagnose.simulator.readings import VisitMapping
from diagnose.visit import DEFROSTED, FIXED_ORIFICE, MINUTES, visit_from

_LESS_IS_WORSE = {"low-charge", "low-indoor-airflow", "low-outdoor-airflow", "metering-underfeeding", "defrost-fault"}
_ALWAYS = (MINUTES, DEFROSTED)
IN_HEATING = (10 * F, 5 * F)
"""K; subcooling that is right for who carries the rule of cooling over to heating, and its tolerance."""
SUPERHEAT_TOLERANCE, SUBCOOLING_TOLERANCE = 5 * F, 3 * F
"""K; within these the charge passes (ra3-2008, pages RA3-14 and RA3-15)."""


def device_of(practice: Practice) -> str:
    """The metering device at work: in heating that of the outdoor coil."""
    machine = practice.machine
    return machine.outdoor_device if isinstance(machine, HeatPump) and practice.mode == "heating" else machine.metering


def truth_of(practice: Practice, place: int) -> Truth:
    """What is wrong with the machine, and how badly among others of its sort."""
    metering, ill = device_of(practice), practice.faults
    fault, sort, less = practice.truth, "", practice.truth in _LESS_IS_WORSE
    if fault.startswith("metering") and ill.valve_opening is not None:
        sort = "stuck"
    elif fault.startswith("metering") and ill.bulb_contact < 1.0:
        sort, less = "bulb", True
    severity = -practice.size if less else practice.size
    faults = (fault,) if practice.also is None else (fault, practice.also)
    well, now = practice.healthy, practice.state
    kept = now.capacity / well.capacity
    lost = (100 * (1 - kept), 100 * (1 - kept * well.total_power / now.total_power))
    sort = f"{fault} {metering} {sort}".rstrip()
    return Truth(place, faults, metering, practice.size, sort, severity, 100 * (ill.charge - 1), lost)


def with_only(visit: VisitMapping, names: Collection[str]) -> VisitMapping:
    """The same visit with no readings but these."""
    taken = visit["readings"]
    assert isinstance(taken, Mapping)
    kept = {name: value for name, value in taken.items() if name in names or name in _ALWAYS}
    return {**visit, "readings": kept}


def shows(practice: Practice, names: Collection[str]) -> bool:
    """Whether the fault moves any quantity of these readings by more than its uncertainty (two sigma).

    The machine is compared with itself without the fault, in the same weather, both read by perfect instruments; the
    uncertainty is that of the technician's.
    """

    def estimates(state: State) -> dict[str, Estimate]:
        whole = readings(practice.machine, practice.conditions, practice.faults, state)
        if "instruments" in practice.visit:
            whole["instruments"] = practice.visit["instruments"]
        return estimate(visit_from(with_only(whole, names)))

    ill, healthy = estimates(practice.state), estimates(practice.healthy)
    return any(
        abs(one.value - healthy[name].value) > COVERAGE * one.sigma
        for name, one in ill.items()
        if name in healthy and one.kind != "time"
    )


def protocol(estimates: Mapping[str, Estimate], metering: str, mode: Mode = "cooling") -> tuple[RankedAnswer, bool]:
    """What superheat or subcooling alone says about the charge, and whether the chart had no figure for this weather.

    Fixed orifice: superheat within 5 °F of the target; valves: subcooling within 3 °F of the plate. It always says low,
    right or high and looks at nothing else; where the chart is blank or ends, it goes by the nearest figure.
    In heating: subcooling within 5 °F of 10 °F, whatever the device, as who knows no better carries it over.
    """
    if mode == "heating":
        held = estimates.get("subcooling")
        if held is None:
            return _advice("do not judge"), False
        apart = held.value - IN_HEATING[0]
        return _advice("right" if abs(apart) <= IN_HEATING[1] else "high" if apart > 0 else "low"), False
    orifice = metering == FIXED_ORIFICE
    found = estimates.get("superheat" if orifice else "subcooling")
    if found is None:
        return _advice("do not judge"), False
    off_chart = isinstance(found.expected, NoTarget)
    target = found.expected.nearest if isinstance(found.expected, NoTarget) else found.expected
    if target is None:
        return _advice("do not judge"), off_chart
    over = found.value - target.value
    if abs(over) <= (SUPERHEAT_TOLERANCE if orifice else SUBCOOLING_TOLERANCE):
        return _advice("right"), off_chart
    return _advice("low" if (over > 0) == orifice else "high"), off_chart


def _advice(verdict: str) -> RankedAnswer:
    return RankedAnswer((), frozenset(), verdict, ranks=False)


def features(estimates: Mapping[str, Estimate], metering: str) -> dict[str, float]:
    """What the classifier looks at: each quantity less what it should be, or itself where nothing says so; SI."""
    found = {"fixed orifice": float(metering == FIXED_ORIFICE)}
    for name, one in estimates.items():
        near = one.expected.nearest if isinstance(one.expected, NoTarget) else one.expected
        value = one.value - near.value if near is not None else one.value
        if one.kind != "time" and math.isfinite(value):
            found[name] = value
    return found


def seen_features(practice: Practice) -> dict[str, float]:
    """What else the classifier is told of a heat pump that heats: its accumulator, and the frost that was seen."""
    machine, seen = practice.machine, practice.visit.get("seen")
    if practice.mode != "heating" or not isinstance(machine, HeatPump) or not isinstance(seen, Mapping):
        return {}
    frost = seen["outdoor coil frost"]
    return {
        "accumulator": float(machine.has_accumulator),
        "heavy frost": float(frost == "heavy"),
        "light frost": float(frost == "light"),
        "EEV": float(machine.outdoor_device == "EEV"),
    }


def beside(today: Mapping[str, float], good_day: Mapping[str, float]) -> dict[str, float]:
    """The features of a visit, and how far each is from the machine's own good day."""
    return dict(today) | {
        f"{name} against the baseline": today[name] - good_day[name] for name in today if name in good_day
    }


def answer_of(diagnosis: Diagnosis) -> RankedAnswer:
    """What the rules say. The order is theirs; the shares of faults that count as one are added up."""
    shares: dict[str, float] = {}
    for one in diagnosis.faults:
        shares[merged(one.fault)] = shares.get(merged(one.fault), 0.0) + one.share
    firm = frozenset(merged(one.fault) for one in diagnosis.faults if one.strength in ("strong", "fair"))
    also = tuple(dict.fromkeys(merged(fault) for fault in diagnosis.also))
    charge, cost = diagnosis.charge, diagnosis.costs
    amount = None
    if isinstance(charge, ChargeVerdict) and charge.percent is not None:
        low, high = charge.percent
        ends = (-math.inf, high) if charge.verdict == "low" else (low, math.inf)
        amount = ends if charge.at_least else (low, high)
    costs = (cost.capacity, cost.efficiency) if isinstance(cost, Costs) else (None, None)
    return RankedAnswer(tuple(shares.items()), firm, charge.verdict, also, amount=amount, costs=costs)


def advice_of(fault: str) -> str:
    """The charge verdict that goes with one fault: none where another one stands in the way."""
    return {"low-charge": "low", "overcharge": "high", NOTHING_WRONG: "right"}.get(fault, "do not judge")
