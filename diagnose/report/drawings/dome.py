"""The saturation dome and the lines of equal temperature of a refrigerant, as points of enthalpy and pressure.

All from the property table, which ends short of the critical point; the last few kelvin are drawn by the law every fluid
follows there. J/kg, Pa absolute, K.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

from diagnose.properties import (
    Refrigerant,
    liquid_enthalpy,
    saturation_pressure,
    saturation_temperature,
    vapour_enthalpy,
)
from diagnose.report.drawings.svg import Point

_RISE = 8.0  # K below the last point of the table, from which the shape of the cap is taken
_POINTS = 12  # of each line


@dataclass(frozen=True, slots=True)
class Dome:
    """bubble and dew: (J/kg, Pa) upward from `bottom`; both end at the critical point, `top`."""

    bubble: tuple[Point, ...]
    dew: tuple[Point, ...]
    top: Point


def hottest(ref: Refrigerant) -> float:
    """The highest dew temperature at which the table has the vapour's enthalpy, K."""
    return min((155.0 + 459.67) / 1.8, ref.critical_temperature - 8.0) - 0.05


def saturated(ref: Refrigerant, temperature: float) -> tuple[Point, Point] | None:
    """(J/kg, Pa) of the bubble and of the dew point at a temperature; None outside the table."""
    at_bubble, at_dew = saturation_pressure(ref, "bubble", temperature), saturation_pressure(ref, "dew", temperature)
    if at_bubble is None or at_dew is None:
        return None
    liquid, vapour = liquid_enthalpy(ref, temperature), vapour_enthalpy(ref, temperature, at_dew)
    return None if liquid is None or vapour is None else ((liquid, at_bubble), (vapour, at_dew))


def dome(ref: Refrigerant, bottom: float) -> Dome:
    """The dome from a pressure upward.

    Above the table: width ~ (1 - T/Tc)^b with b from the last 8 K (it comes out at 0.39 to 0.40; at Tc itself the law's
    exponent is 0.325), its middle a straight line (law of rectilinear diameters), ln p a straight line over 1/T. Against
    CoolProp within 2.5 % of the dome's width, pressure within 2.5 %: a line's breadth or two on paper.
    """
    end = hottest(ref)
    lines: dict[str, list[Point]] = {"bubble": [], "dew": []}
    for which, line in enumerate(("bubble", "dew")):
        start = saturation_temperature(ref, "dew" if line == "dew" else "bubble", bottom)
        start = min(start if start is not None else 215.0, end - 10.0)
        for i in range(_POINTS):
            at = saturated(ref, start + (end - start) * i / (_POINTS - 1))
            assert at is not None
            lines[line].append(at[which])
    last, before = saturated(ref, end), saturated(ref, end - _RISE)
    assert last is not None
    assert before is not None
    (liquid, at_bubble), (vapour, at_dew) = last
    (liquid_before, bubble_before), (vapour_before, dew_before) = before
    critical = ref.critical_temperature
    left, left_before = 1 - end / critical, 1 - (end - _RISE) / critical
    width, width_before = vapour - liquid, vapour_before - liquid_before
    power = log(width_before / width) / log(left_before / left)
    middle, climb = (vapour + liquid) / 2, (vapour + liquid - vapour_before - liquid_before) / 2 / _RISE

    def pressure(now: float, earlier: float, temperature: float) -> float:
        steep = log(now / earlier) / (1 / end - 1 / (end - _RISE))
        return log(now) + steep * (1 / temperature - 1 / end)

    tip = (pressure(at_bubble, bubble_before, critical) + pressure(at_dew, dew_before, critical)) / 2
    for part in (0.25, 0.45, 0.62, 0.75, 0.85, 0.92, 0.96, 0.985, 0.997, 1.0):
        T = end + part * (critical - end)
        half = width * max((1 - T / critical) / left, 0.0) ** power / 2
        centre = middle + climb * (T - end)
        for line, now, earlier, side in (("bubble", at_bubble, bubble_before, -1), ("dew", at_dew, dew_before, 1)):
            off = tip - pressure(now, earlier, critical)  # both lines end at one pressure
            lines[line].append((centre + side * half, exp(pressure(now, earlier, T) + part * off)))
    return Dome(tuple(lines["bubble"]), tuple(lines["dew"]), lines["dew"][-1])


@dataclass(frozen=True, slots=True)
class Isotherm:
    """A line of equal temperature, from the liquid down to the thin vapor. points may begin in the vapor (hot ones)."""

    temperature: float
    points: tuple[Point, ...]
    from_liquid: bool


def isotherm(ref: Refrigerant, temperature: float, bottom: float, top: float) -> Isotherm | None:
    """One isotherm between two pressures; None where the table has nothing of it.

    In the liquid it is drawn upright: pressure hardly changes the enthalpy of a liquid. Between bubble and dew point it is a
    straight line, level for a pure refrigerant, falling toward the dew point for a blend with glide (its true line is
    slightly bent). In the vapor it follows the table.
    """
    found: list[Point] = []
    at = saturated(ref, temperature) if temperature <= hottest(ref) else None
    if at is not None:
        found = [(at[0][0], top), *at]
        high = at[1][1]
    else:
        edge = saturated(ref, hottest(ref))
        assert edge is not None
        high = min(edge[1][1], top)
    if high > bottom:
        for i in range(0 if at is None else 1, 7):
            p = high * (bottom / high) ** (i / 6)
            h = vapour_enthalpy(ref, temperature, p)
            if h is not None:
                found.append((h, p))
    return Isotherm(temperature, tuple(found), at is not None) if len(found) > 1 else None
