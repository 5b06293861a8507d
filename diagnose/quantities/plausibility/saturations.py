"""Both saturation temperatures off the same way: another refrigerant than was written, or gauges that are both wrong."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.properties import REFRIGERANTS, saturation_temperature
from diagnose.quantities.plausibility.strain import HIGH, LOW, OUTDOOR, RETURN, SUCTION
from diagnose.quantities.plausibility.view import Doubt, ReadingsView, around
from diagnose.units.columns import greater, lesser, otherwise
from diagnose.visit.reason import Reason


def off_the_refrigerant(
    view: ReadingsView, fitting: list[str], fits: float, told: float, start: float
) -> Iterator[Doubt]:
    """Both saturations off the same way: another refrigerant (`fits`: how sure), or gauges that are both wrong.

    told, start: how much of the whole is slips that are told elsewhere, and slips that are told before this.
    """
    gas, outdoor = view.visit.machine.refrigerant, view.value(OUTDOOR)
    high, low = saturations_far_off(view)
    off = max(high, low)
    way = "high" if high >= low else "low"
    weight = min(max(fits, off * max(0.0, 1.0 - told - start)), 1.0 - start)
    if gas is None or weight <= 0:
        return
    evaporating, condensing = view.quantity("evaporating temperature"), view.quantity("condensing temperature")
    if off <= 0:
        real = saturation_temperature(fitting[0], "dew", view.value(LOW) or 0.0)
        way = "low" if evaporating is None or (real is not None and real > evaporating[0]) else "high"
        way = "high" if condensing is None else way  # beyond the table: no such pressure short of the critical one
    others = fitting or _about(view)
    figures = {
        "refrigerant": gas.name,
        "evaporating": None if evaporating is None else evaporating[0],
        "condensing": None if condensing is None else condensing[0],
        "outdoor": outdoor,
        "fitting": tuple(name for name in REFRIGERANTS if name in others and name != gas.name)[: view.limits.named],
    }
    yield saturations_wrong(way, figures).times(weight).at(start)


def saturations_wrong(way: str, figures: Mapping[str, object]) -> Doubt:
    """Both saturations are too `high` or too `low`."""
    return Doubt(
        Reason("saturations-too-high" if way == "high" else "saturations-too-low", figures),
        readings=(LOW, HIGH),
        set_aside=(LOW, HIGH),
        holds_charge=True,
        holds_visit=True,
        check="read-the-plate",
    )


def saturations_far_off(view: ReadingsView) -> tuple[float, float]:
    """How sure both saturations are far too high, and far too low, whatever may fit them, 0 to 1."""
    evaporating, condensing = view.quantity("evaporating temperature"), view.quantity("condensing temperature")
    outdoor, indoor, line = view.value(OUTDOOR), view.value(RETURN), view.value(SUCTION)
    if evaporating is None or condensing is None or outdoor is None:
        return 0.0, 0.0
    over = condensing[0] - outdoor

    def above(x: float, limit: float) -> float:
        return around(x, limit, view.limits.off)

    def below(x: float, limit: float) -> float:
        return 1.0 - around(x, limit, view.limits.off)

    under = None if indoor is None else indoor - evaporating[0]
    heated = None if line is None else line - evaporating[0]
    high = greater(
        0.0 if under is None else otherwise(below(under, view.limits.high_below_return), 0.0),
        0.0 if heated is None else otherwise(below(heated, view.limits.high_superheat), 0.0),
    )
    low = greater(
        0.0 if under is None else otherwise(above(under, view.limits.low_below_return), 0.0),
        0.0 if heated is None else otherwise(above(heated, view.limits.low_superheat), 0.0),
    )
    subcooling = view.quantity("subcooling")
    if subcooling is not None:
        # A liquid line near the condensing temperature fits low pressures: hardly any refrigerant is left in the circuit.
        low = lesser(low, otherwise(below(subcooling[0], view.limits.low_subcooling), low))
    high = lesser(high, above(over, view.limits.high_over_ambient))
    return high, lesser(low, below(over, view.limits.low_over_ambient))


def _about(view: ReadingsView) -> list[str]:
    """Refrigerants for which a sound machine could show these pressures."""
    low, high = view.value(LOW), view.value(HIGH)
    outdoor, indoor, line = view.value(OUTDOOR), view.value(RETURN), view.value(SUCTION)
    if low is None or high is None or outdoor is None:
        return []
    found = []
    for name in REFRIGERANTS:
        evaporating, condensing = saturation_temperature(name, "dew", low), saturation_temperature(name, "bubble", high)
        if (
            evaporating is None
            or condensing is None
            or not _within(condensing - outdoor, view.limits.sound_over_ambient)
        ):
            continue
        if indoor is not None and not _within(indoor - evaporating, view.limits.sound_below_return):
            continue
        if line is not None and not _within(line - evaporating, view.limits.sound_superheat):
            continue
        found.append(name)
    return found


def _within(value: float, limits: tuple[float, float]) -> bool:
    return limits[0] <= value <= limits[1]
