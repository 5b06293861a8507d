"""How far readings lie outside what every running machine keeps to, sound or faulty.

In squares, as twice a negative log likelihood.
"""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.properties import (
    Refrigerant,
    humidity_ratio_from_wet_bulb,
    relative_humidity,
    saturation_temperature,
    wet_bulb,
)
from diagnose.quantities.plausibility.limits import PlausibilityLimits

Values = Mapping[str, float]
LOW, HIGH = "suction pressure", "liquid pressure"
SUCTION, LIQUID = "suction line temperature", "liquid line temperature"
OUTDOOR, RETURN, SUPPLY = "outdoor air temperature", "return air dry bulb", "supply air dry bulb"
WET = "return air wet bulb"


def strain(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float] | None = None,
) -> float:
    """How far readings (K, Pa absolute) lie outside what running machines keep to; 0 where nothing is amiss.

    errors: limits of error of the figures, K, by the names of `ranges`; each range is wider by them.
    """
    return sum(strains(gas, values, station, limits, errors).values())


def strains(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float] | None = None,
) -> dict[str, float]:
    """The strain of each figure that is outside its range."""
    found = {}
    for name, value in _figures(gas, values, station, limits.per_degree).items():
        if name == "outside":
            found[name] = limits.outside * value
            continue
        limit, slack = limits.ranges[name], (errors or {}).get(name, 0.0)
        if value < limit.low - slack:
            found[name] = ((limit.low - slack - value) / limit.below) ** 2
        elif value > limit.high + slack:
            found[name] = ((value - limit.high - slack) / limit.above) ** 2
    return found


def _figures(gas: Refrigerant | None, values: Values, station: float, per_degree: float) -> dict[str, float]:
    """What can be worked out of `limits.ranges`, K and a share; `outside` for each pressure beyond the refrigerant's table."""
    found: dict[str, float] = {}
    boiling = middle = condensing = None
    if gas is not None and LOW in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[LOW]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = 1.0
        else:
            boiling, middle = dew, (dew + bubble) / 2
            found["evaporating"] = dew
    warm = None
    if gas is not None and HIGH in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[HIGH]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = found.get("outside", 0.0) + 1.0
        else:
            condensing, warm = bubble, (dew + bubble) / 2

    def put(name: str, upper: float | None, lower: float | None) -> None:
        if upper is not None and lower is not None:
            found[name] = upper - lower

    suction, liquid = values.get(SUCTION), values.get(LIQUID)
    outdoor, indoor, supply = values.get(OUTDOOR), values.get(RETURN), values.get(SUPPLY)
    put("superheat", suction, boiling)
    put("subcooling", condensing, liquid)
    put("condensing over ambient", warm, outdoor)
    put("return air over evaporating", indoor, middle)
    put("liquid line over outdoor air", liquid, outdoor)
    put("liquid line over suction line", liquid, suction)
    put("air temperature split", indoor, supply)
    put("return air", indoor, 0.0)
    put("supply air over evaporating", supply, boiling)
    if suction is not None and outdoor is not None and indoor is not None:
        put("suction line over the warmest air", suction, max(outdoor, indoor))
    wet = values.get(WET)
    if indoor is not None and wet is not None:
        water = humidity_ratio_from_wet_bulb(indoor, min(wet, indoor), station)
        humidity = relative_humidity(indoor, water, station) if water is not None and water > 0 else 0.0
        # Above the dry bulb no humidity can be, nor below the wet bulb of dry air: each degree counts as so much more.
        driest = wet_bulb(indoor, 0.0, station) or wet
        found["humidity"] = (humidity or 0.0) + per_degree * (max(wet - indoor, 0.0) - max(driest - wet, 0.0))
    return found
