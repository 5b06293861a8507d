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
from diagnose.units.columns import choose, greater, is_column, lesser, otherwise, usable

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
    of_humidity: float | None = None,
) -> float:
    """How far readings (K, Pa absolute) lie outside what running machines keep to; 0 where nothing is amiss.

    errors: limits of error of the figures, K, by the names of `ranges`; each range is wider by them. of_humidity: the part of
    it that the return air's humidity makes, where that is known.
    """
    return sum(strains(gas, values, station, limits, errors, of_humidity).values())


def strains(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float] | None = None,
    of_humidity: float | None = None,
) -> dict[str, float]:
    """The strain of each figure that is outside its range."""
    found = {}
    figures = _figures(gas, values)
    if of_humidity is None:
        figures |= _humidity(values, station, limits.per_degree)
    for name, value in figures.items():
        if name == "outside":
            found[name] = limits.outside * value
            continue
        limit, slack = limits.ranges[name], (errors or {}).get(name, 0.0)
        short = greater(limit.low - slack - value, 0.0) / limit.below
        over = greater(value - limit.high - slack, 0.0) / limit.above
        if is_column(value):
            found[name] = otherwise(short**2 + over**2, 0.0)
        elif short or over:
            found[name] = short**2 + over**2
    if of_humidity is not None:
        found["humidity"] = of_humidity
    return found


def _figures(gas: Refrigerant | None, values: Values) -> dict[str, float]:
    """What can be worked out of `limits.ranges`, K and a share; `outside` for each pressure beyond the refrigerant's table."""
    found: dict[str, float] = {}
    boiling = middle = condensing = None
    if gas is not None and LOW in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[LOW]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = 1.0
        else:
            _beyond_the_table(found, values[LOW], dew + bubble)
            boiling, middle = dew, (dew + bubble) / 2
            found["evaporating"] = dew
    warm = None
    if gas is not None and HIGH in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[HIGH]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = found.get("outside", 0.0) + 1.0
        else:
            _beyond_the_table(found, values[HIGH], dew + bubble)
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
        put("suction line over the warmest air", suction, greater(outdoor, indoor))
    return found


def _humidity(values: Values, station: float, per_degree: float) -> dict[str, float]:
    """Of the return air, where that is known."""
    found: dict[str, float] = {}
    indoor, wet = values.get(RETURN), values.get(WET)
    if indoor is not None and wet is not None:
        water = humidity_ratio_from_wet_bulb(indoor, lesser(wet, indoor), station)
        humidity = None if water is None else relative_humidity(indoor, water, station)
        # Above the dry bulb no humidity can be, nor below the wet bulb of dry air: each degree counts as so much more.
        odd = choose(usable(water), None, indoor)
        driest = wet if odd is None else otherwise(wet_bulb(odd, 0.0, station), wet)
        off = greater(wet - indoor, 0.0) - greater(driest - wet, 0.0)
        found["humidity"] = otherwise(humidity, 0.0) + per_degree * off
    return found


def _beyond_the_table(found: dict[str, float], pressure: float, saturation: float) -> None:
    """Of columns: the rows whose pressure has no saturation temperature."""
    if is_column(pressure):
        beyond = choose(usable(pressure), choose(usable(saturation), 0.0, 1.0), 0.0)
        found["outside"] = found.get("outside", 0.0) + beyond
