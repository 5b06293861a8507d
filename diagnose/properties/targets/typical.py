"""What is typical of healthy machines, and how their capacity and power follow the weather and the airflow."""

import math
from itertools import pairwise

from diagnose.properties.targets.expected import FADING, HAIR, F, Target, fahrenheit, typical_if, usable
from diagnose.units.columns import choose, clamp, given, greater, lesser, positive

CFM_PER_TON = 0.3048**3 / 60 / 3516.8528
"""1 cfm/ton in m³/(s·W): 400 cfm/ton is 5.37e-5."""


def typical_temperature_split() -> Target:
    """Return minus supply air dry bulb where no wet bulb was taken: 18 °F, spread 2.5 °F (14-22 °F is 1.6 spreads).

    14-20 °F read on a home inspectors' page, 16-22 °F usual at 50 % humidity from memory. It ranges from 3 °F in damp
    air to 26 °F in dry air (`target_temperature_split`), so a wet bulb is worth taking.
    """
    return Target(18 * F, 2.5 * F, "common-practice", "assumed")


CONDENSING_BY_SEER = ((10.0, 30.0), (12.0, 25.0), (13.0, 20.0), (14.0, 17.0))  # SEER, °F


def _between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Linear between points sorted by x, flat outside."""
    found = points[-1][1]
    for (x0, y0), (x1, y1) in reversed(list(pairwise(points))):
        found = choose(x <= x1, y0 + (y1 - y0) * (x - x0) / (x1 - x0), found)
    return choose(x <= points[0][0], points[0][1], found)


def condensing_over_ambient(seer: float | None) -> Target:
    """Condensing saturation temperature minus air entering the condenser, K, by seasonal efficiency (Btu/Wh).

    30 °F up to SEER 10, 25 at 12, 20 at 13, 17 at 14 and above, linear between, spread 2.2 K. Read in notes on a college
    text, but for the last: they say 15, while eight fault-free laboratory states (nistir-7350) sit at 16-19 °F, and so does
    the simulator at SEER 14. Without a SEER 20 °F with spread 3.5 K, which covers 15-30 within two spreads. Spreads are
    our judgment.
    """
    degrees, spread, told = 20.0, 3.5, False
    if seer is not None:
        told = positive(seer)
        degrees, spread = choose(told, _between(CONDENSING_BY_SEER, seer), degrees), choose(told, 2.2, spread)
    return Target(degrees * F, spread, "college-text-notes", typical_if(told))


def evaporator_temperature_difference(
    airflow_per_capacity: float | None, return_dry_bulb: float | None = None, return_wet_bulb: float | None = None
) -> Target:
    """Return air dry bulb minus evaporating saturation temperature, K; airflow over nominal capacity in m³/(s·W).

    The rule is 35 °F at 400 cfm/ton, 40 °F at 350 (read); fault-free laboratory states (nistir-7350) read 26-31 °F at
    about 400. Between the two, nearer the rule: 33 °F at 400, spread 5 °F (2.8 K). The rule's slope, 1 °F for each 10 cfm/ton,
    is four times what the heat balance of a coil gives (0.2 to 0.3 in all models of the simulator), and made a measured
    airflow worsen the answer; here 0.4, linear, held at the ends of 300-450 cfm/ton. Without airflow 33 °F. For cfm/ton
    multiply by `CFM_PER_TON`.

    That is for half saturated air (75/62.5 °F). A wet coil answers to the wet bulb of its air and hardly to the dry bulb,
    so the difference grows by 0.85 °F for each °F that dry and wet bulb lie further apart than there, 5 °F at most (the
    slope of the simulator and of the nistir-7350 machine between its days, rounded; temperatures in K).
    """
    cfm_per_ton = 400.0
    if airflow_per_capacity is not None:
        held = clamp(airflow_per_capacity / CFM_PER_TON, 300.0, 450.0)
        cfm_per_ton = choose(positive(airflow_per_capacity), held, cfm_per_ton)
    drier, damp_known = 0.0, False
    if return_dry_bulb is not None and return_wet_bulb is not None:
        apart = (return_dry_bulb - return_wet_bulb) / F
        damp_known = usable(apart)
        drier = choose(damp_known, clamp(0.85 * (apart - 12.5), -5.0, 5.0), 0.0)
    return Target((33 + (400 - cfm_per_ton) / 25 + drier) * F, 2.8, "achr-airflow", typical_if(damp_known))


def subcooling(rated: float | None) -> Target:
    """Subcooling at the liquid service valve, K: the maker's where given (above 0), else 10 °F.

    10 °F on average, 5-15 (college-text-notes, read), so spread 1.4 K: the range is two spreads each way.
    """
    if given(rated):
        return Target(rated, 0.0, "rating-plate", "maker")
    return Target(10 * F, 1.4, "college-text-notes", "typical")


def valve_superheat_range(rated: float | None) -> tuple[Target, float, float]:
    """Superheat of a working TXV or EEV: the expected value, and the lowest and highest that pass, K.

    The maker's value ± 5 °F (acca-5-qi, from memory; never below 0) where given, else the protocol's 4-25 °F (read)
    with its middle, 14.5 °F; spread 21/√12 °F, as if every value of the range were as likely. An independent rater
    would allow 3-26 °F.
    """
    if given(rated):
        return Target(rated, 0.0, "rating-plate", "maker"), greater(rated - 5 * F, 0.0), rated + 5 * F
    return Target(14.5 * F, 21 / math.sqrt(12) * F, "ra3-2008", "protocol"), 4 * F, 25 * F


def liquid_line_approach() -> Target:
    """Liquid line temperature minus outdoor air, K: 9 °F, spread 2 K.

    A maker prints 8-9 °F for two heat pumps (read); fault-free laboratory states (nistir-7350) have 8.2-10.6 °F. The
    spread is wider than either, our judgement: three machines are few.
    """
    return Target(9 * F, 2.0, "maker-4shp16lt", "typical")


SOUND_EFFICIENCY = (0.72, 0.06)
"""Isentropic efficiency of a sound compressor as its discharge line shows it, and how far sound ones lie from it: fault-free
laboratory states (nistir-7350) show 0.69 to 0.74; the spread is judgment."""
ORDINARY_SUCTION_SUPERHEAT = (12 * F, 4 * F)
"""Superheat of the vapor that a sound machine brings to its compressor, K, and its spread; common practice, no source."""


def capacity_ratio(return_wet_bulb: float | None, outdoor: float | None) -> float | None:
    """Total cooling capacity over nominal, at return wet bulb and outdoor dry bulb (K), rated airflow, right charge.

    Residential split systems, quadratic in °F (cutler-2013, read). 55-78 °F wet bulb (a wet coil), 55-125 °F outdoor,
    else None. 0.994 at 67/95 °F.
    """
    if return_wet_bulb is None or outdoor is None:
        return None
    w, t = fahrenheit(return_wet_bulb), fahrenheit(outdoor)
    ratio = (
        3.670270705 - 0.098652414 * w + 0.000955906 * w * w + 0.006552414 * t - 1.56e-5 * t * t - 0.000131877 * w * t
    )
    inside = (w >= 55 - HAIR) & (w <= 78 + HAIR) & (t >= 55 - HAIR) & (t <= 125 + HAIR)
    return choose(inside, ratio, None)


def weather_inside(return_wet_bulb: float | None, outdoor: float | None) -> float:
    """How far a weather (K) stands inside the domain of `capacity_ratio`, 0 to 1: all of the way from 2 °F inside it."""
    if return_wet_bulb is None or outdoor is None:
        return 0.0
    w, t = fahrenheit(return_wet_bulb), fahrenheit(outdoor)
    return clamp(lesser(lesser(w - 55, 78 - w), lesser(t - 55, 125 - t)) / FADING, 0.0, 1.0)


def power_ratio(return_wet_bulb: float | None, outdoor: float | None) -> float | None:
    """Electrical power over that at 67/95 °F, at return wet bulb and outdoor dry bulb (K), rated airflow, right charge.

    Product of the capacity and energy input ratios of residential split systems, quadratics in °F (cutler-2013, read);
    same domain as `capacity_ratio`. About 1 % for each °F outdoors.
    """
    capacity = capacity_ratio(return_wet_bulb, outdoor)
    if capacity is None or return_wet_bulb is None or outdoor is None:
        return None
    w, t = fahrenheit(return_wet_bulb), fahrenheit(outdoor)
    energy = -3.302695861 + 0.137871531 * w - 0.001056996 * w * w - 0.012573945 * t + 0.000214638 * t * t
    return capacity * (energy - 0.000145054 * w * t)
