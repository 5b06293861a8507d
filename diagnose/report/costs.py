"""What a fault costs, in words a customer understands."""

from __future__ import annotations

from diagnose.diagnosis.costs import Costs, FaultSize, NoCosts, PercentRange

_UNKNOWN = {
    "cost-size-unknown": "What this fault costs depends on its size, which these readings do not show. It takes the "
    "airflow, and dry and wet bulb of both return and supply air: they give the capacity that is left.",
    "cost-charge-unknown": "What this costs depends on how far the charge is off, which these readings do not show. That takes "
    "a charge verdict with superheat and subcooling, and the outdoor and return air.",
    "cost-charge-open": "What this costs depends on how far the charge is off, which temperatures no longer show. It "
    "takes the airflow, and dry and wet bulb of both return and supply air: they give the capacity that is left.",
    "cost-air-disagrees": "What this costs cannot be told: what was measured in the air contradicts the published figures for "
    "such a charge. Measure the airflow, and dry and wet bulb of both return and supply air, again.",
    "cost-airflow-unknown": "What this costs depends on how much air is missing: measure the indoor airflow.",
}


def unknown_text(costs: NoCosts) -> str:
    """What would have to be measured to know the cost."""
    return _UNKNOWN[costs.reason.code]


def costs_text(costs: Costs) -> str:
    """`The machine gives about 3 to 12 % less cooling and uses about 2 to 9 % more electricity for the same cooling.`"""
    text = f"The machine gives {_about(costs.capacity)} less cooling"
    if costs.capacity[1] <= 1:
        text = "The machine still cools about as much as it should"
    if costs.running is None:
        return f"{text} than one of its size should in this weather."
    if costs.running[1] <= 1:
        return f"{text}, and uses hardly more electricity for it."
    return f"{text}, and uses {_about(costs.running)} more electricity for the same cooling."


def size_text(size: FaultSize) -> str:
    """How big the fault is taken to be, for the end of a sentence: `4 to 32 % of the charge missing, as estimated above`."""
    span = f"{size.low * 100:.0f} to {size.high * 100:.0f} %"
    if size.of == "capacity":
        return "what was measured in the air on this visit"
    if size.of == "airflow":
        text = (
            f"{span} of the rated indoor airflow, {'measured' if size.measured else 'from the air temperature split'}"
        )
    else:
        side = "missing" if size.of == "missing charge" else "in excess"
        text = f"{span} of the charge {side}, as estimated above"
    if size.beyond is None:
        return text
    side = "less" if size.of == "airflow" else "more"
    return f"{text} (the figures end at {size.beyond * 100:.0f} %, and {side} than that costs more)"


def _about(span: PercentRange) -> str:
    return f"up to {span[1]} %" if span[0] <= 0 else f"about {span[0]} to {span[1]} %"
