"""What a fault costs: cooling and efficiency lost at its present size, as ranges, with their source.

Three ways lead to a figure, and without one of them none is given: the charge estimate with NIST's correlations, the
indoor airflow with NREL's curves, or the capacity measured in the air of this very visit. SI; shares in percent.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any, Literal, NamedTuple

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.verdict import Charge, NoVerdict
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.rulebook import Rulebook
from diagnose.rulebook.judgement import CostFigures
from diagnose.visit import FIXED_ORIFICE, HEATING, Machine
from diagnose.visit.reason import Reason

LITTLE_AIR = "low-indoor-airflow"
PercentRange = tuple[int, int]


class FaultSize(NamedTuple):
    """How big a fault is taken to be, from `low` to `high`.

    of: `missing charge`, `excess charge` (shares of the right one), `airflow` (share of the rated one) or `capacity` (what is
    lost of it, measured). measured: False where it was only told by other readings. beyond: the share at which the published
    figures end, where it goes past that.
    """

    of: Literal["missing charge", "excess charge", "airflow", "capacity"]
    low: float
    high: float
    measured: bool = True
    beyond: float | None = None


class Costs(NamedTuple):
    """What the leading fault costs now. Percent, each a range from low to high.

    capacity: cooling lost. efficiency: cooling for each kWh lost; running: more electricity for the same cooling; both
    None where only the capacity is known. size: how big the fault is taken to be, and from what. source: a key of
    sources.yaml, or words.
    """

    fault: str
    capacity: PercentRange
    efficiency: PercentRange | None
    running: PercentRange | None
    size: FaultSize
    source: str | tuple[str, ...]


class NoCosts(NamedTuple):
    """No figure; reason: what would have to be measured for one."""

    fault: str
    reason: Reason


def costs(
    ranked: Sequence[Ranked],
    charge: Charge,
    estimates: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    machine: Machine,
    values: Mapping[str, float],
    rules: Rulebook,
) -> Costs | NoCosts | None:
    """The cost of the leading fault; None where nothing is wrong or no fault leads clearly, and in heating: all is of cooling.

    values: readings of the visit in SI, by name (return air dry bulb, outdoor air temperature are used).
    """
    if machine.mode == HEATING or not ranked or ranked[0].share < rules.judgement.costs.leads:
        return None
    if rules.faults[ranked[0].fault].charge == "right":
        return None
    fault = ranked[0].fault
    side = rules.faults[fault].charge
    found: Costs | NoCosts | None = None
    if side is not None:
        found = _of_charge(fault, charge, values, machine, rules.judgement.costs)
    elif fault == LITTLE_AIR:
        found = _of_airflow(fault, estimates, machine, rules.judgement.costs)
    lost = _lost(estimates, findings)
    measured = _measured(fault, estimates, lost) if lost is not None and lost[1] > 0 else None
    if isinstance(found, Costs):
        # What was measured goes first; of little air, the split is what the figures were made from.
        seen = lost if lost is not None or fault == LITTLE_AIR else _by_split(estimates, rules.judgement.costs)
        if seen is not None and _apart(found.capacity, seen):
            return measured or NoCosts(fault, Reason("cost-air-disagrees"))
        return found
    return measured or found or NoCosts(fault, Reason("cost-size-unknown"))


def _apart(one: PercentRange, other: PercentRange) -> bool:
    """Whether two ranges of what is lost have nothing in common; a percent is nothing between two estimates."""
    return one[0] > other[1] + 1 or other[0] > one[1] + 1


def _by_split(estimates: Mapping[str, Estimate], figures: CostFigures) -> PercentRange | None:
    """The cooling lost as the air temperature split tells it: the airflow may be off by `split tells`. None where not read.

    A split says nothing of the moisture taken out, which a weak coil loses first, so the loss may be larger than it tells.
    """
    split = estimates.get("air temperature split")
    if split is None or split.target is None or split.target.value <= 0:
        return None
    kept = split.value / split.target.value
    error = COVERAGE * split.difference_sigma / split.target.value
    least = 1 - (kept + error) * (1 + figures.split_tells)
    most = 1 - (kept - error) * (1 - figures.split_tells) + figures.moisture
    return _percent(least), _percent(most)


# -- by the charge -----------------------------------------------------------------------------------------------------


def charge_effect(deviation: float, indoor: float, outdoor: float) -> tuple[float, float]:
    """(capacity ratio, power ratio) in cooling. deviation: (charge - right) / right; air temperatures in K.

    NIST correlations as OpenStudio-HPXML implements them (tests/reference/charge_effect_coefficients.csv); the deviation
    is held within the range that was measured.
    """
    data = _data()["charge"]
    f = min(max(deviation, data["least"]), data["most"])
    inside, outside = indoor - 273.15, outdoor - 273.15
    capacity, power = (
        1 + (a1 + a2 * inside + a3 * outside + a4 * f) * f
        for a1, a2, a3, a4 in (data["low" if f <= 0 else "high"][name] for name in ("capacity", "power"))
    )
    return capacity, power


def _of_charge(
    fault: str, charge: Charge, values: Mapping[str, float], machine: Machine, figures: CostFigures
) -> Costs | NoCosts:
    indoor, outdoor = values.get("return air dry bulb"), values.get("outdoor air temperature")
    if isinstance(charge, NoVerdict) or charge.percent is None or indoor is None or outdoor is None:
        return NoCosts(fault, Reason("cost-charge-unknown"))
    if charge.at_least:
        return NoCosts(fault, Reason("cost-charge-open"))
    return charge_costs(fault, charge.percent, indoor, outdoor, machine.metering, figures)


def charge_costs(
    fault: str, percent: tuple[float, float], indoor: float, outdoor: float, metering: str | None, figures: CostFigures
) -> Costs:
    """What a charge costs that is off by so many percent, from and to; air temperatures in K."""
    ends = [p / 100 for p in percent]
    inside = [ends[0] + (ends[1] - ends[0]) * i / 8 for i in range(9)]
    pairs = [charge_effect(f, indoor, outdoor) for f in inside]
    small, large = sorted(abs(p) for p in ends)
    data = _data()["charge"]
    past = min(ends) < data["least"] or max(ends) > data["most"]
    low = sum(ends) < 0
    of: Literal["missing charge", "excess charge"] = "missing charge" if low else "excess charge"
    size = FaultSize(of, small, large, beyond=abs(data["least"]) if past else None)
    more = figures.orifices_differ if low and metering == FIXED_ORIFICE else figures.machines_differ
    most = 0 if low else figures.overcharge_costs * large
    return _priced(fault, pairs, size, data["source"], figures, more, most)


# -- by the airflow ----------------------------------------------------------------------------------------------------


def airflow_effect(fraction: float) -> tuple[float, float]:
    """(capacity ratio, power ratio) in cooling at `fraction` of the rated indoor airflow, held within 0.35 to 1.

    NREL's curves (tests/reference/airflow_effect_coefficients.csv). Power follows from capacity and energy input ratio.
    """
    data = _data()["airflow"]
    f = min(max(fraction, data["least"]), data["most"])
    capacity, ratio = (c0 + c1 * f + c2 * f * f for c0, c1, c2 in (data["capacity"], data["input_ratio"]))
    return capacity, capacity * ratio


def _of_airflow(
    fault: str, estimates: Mapping[str, Estimate], machine: Machine, figures: CostFigures
) -> Costs | NoCosts:
    flow, split = estimates.get("airflow per ton"), estimates.get("air temperature split")
    size, rated = machine.fact("nominal capacity"), machine.fact("rated airflow")
    if flow is not None:
        plate = rated / size if rated and size else None
        middle = flow.value / (plate or figures.rated)
        # Without a plate the machine may have been made, or ducted, for more or less air than most.
        error = math.hypot(COVERAGE * flow.sigma / flow.value, figures.rated_differs) * middle
    elif split is not None and split.target is not None and split.value > split.target.value > 0:
        # The heat is what little air carries further: capacity = airflow × split, and capacity itself falls with airflow.
        middle = _settle(split.target.value / split.value)
        error = math.hypot(figures.split_tells, figures.rated_differs) * middle
    else:
        return NoCosts(fault, Reason("cost-airflow-unknown"))
    low, high = max(middle - error, 0), middle + error
    each = [low + (high - low) * i / 8 for i in range(9)]
    pairs = [airflow_effect(f) for f in each]
    # The curves leave out the blower, which draws less the less it moves, unless it is made to hold its airflow.
    pairs += [(c, p - figures.blower * max(1 - f, 0)) for f, (c, p) in zip(each, pairs, strict=True)]
    data = _data()["airflow"]
    told = FaultSize("airflow", low, min(high, 1.0), flow is not None, data["least"] if low < data["least"] else None)
    return _priced(fault, pairs, told, data["source"], figures, figures.machines_differ)


def _settle(shrink: float) -> float:
    """The airflow fraction f with f = shrink × capacity(f): fixed point, quickly reached because the curve is flat."""
    f = shrink
    for _ in range(20):
        f = shrink * airflow_effect(f)[0]
    return f


# -- as measured -------------------------------------------------------------------------------------------------------


def _lost(estimates: Mapping[str, Estimate], findings: Mapping[str, Finding]) -> PercentRange | None:
    """The cooling lost, measured in the air of this visit against what this size gives in this weather; (0, 0): none."""
    capacity = estimates.get("cooling capacity")
    if capacity is None or capacity.target is None or "cooling capacity" not in findings:
        return None
    expected = capacity.target.value
    error = COVERAGE * math.hypot(capacity.difference_sigma, capacity.target.spread) / expected
    lost = 1 - capacity.value / expected
    return _percent(lost - error), _percent(lost + error)


def _measured(fault: str, estimates: Mapping[str, Estimate], lost: PercentRange) -> Costs | None:
    """The cost by the cooling that was measured."""
    target = estimates["cooling capacity"].target
    if target is None:
        return None
    return Costs(fault, lost, None, None, FaultSize("capacity", lost[0] / 100, lost[1] / 100), target.source)


# -- in figures --------------------------------------------------------------------------------------------------------


def _priced(
    fault: str,
    pairs: Iterable[tuple[float, float]],
    size: FaultSize,
    source: str,
    figures: CostFigures,
    more: float,
    most: float = 0,
) -> Costs:
    """most: efficiency that single machines are known to lose at this size, where that is more than the correlation says."""
    each = list(pairs)
    capacity = _span([1 - c for c, _ in each], figures, more)
    efficiency = _span([1 - c / p for c, p in each], figures, more, most)
    lost = [e / 100 for e in efficiency]
    running = (round(100 * lost[0] / (1 - lost[0])), round(100 * lost[1] / (1 - lost[1])))
    return Costs(fault, capacity, efficiency, running, size, source)


def _percent(lost: float) -> int:
    """A share of the cooling, not less than none of it nor more than all."""
    return round(100 * min(max(lost, 0), 1))


def _span(lost: Sequence[float], figures: CostFigures, more: float, most: float = 0) -> PercentRange:
    """Percent lost, machines differing; never less than nothing."""
    low, high = max(min(lost), 0) / figures.machines_differ, max(max(lost) * more, most, 0)
    return math.floor(100 * low + 1e-9), min(math.ceil(100 * high - 1e-9), round(100 * figures.most))


@cache
def _data() -> dict[str, Any]:
    data: dict[str, Any] = json.loads(files("diagnose.diagnosis").joinpath("effects.json").read_text(encoding="utf-8"))
    return data
