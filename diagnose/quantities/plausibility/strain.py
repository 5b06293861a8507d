"""How far readings lie outside what every running machine keeps to, sound or faulty.

In squares, as twice a negative log likelihood.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import lru_cache
from types import MappingProxyType

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
NONE: Mapping[str, float] = MappingProxyType({})


def strain(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float] = NONE,
    of_humidity: float | None = None,
    most: float = math.inf,
) -> float:
    """How far readings (K, Pa absolute) lie outside what running machines keep to; 0 where nothing is amiss.

    errors: limits of error of the figures, K, by the names of `ranges`; each range is wider by them. of_humidity: the part of
    it that the return air's humidity makes, where that is known. most: beyond it no matter by how much, and inf.
    """
    found: dict[str, float] = {}
    total = 0.0
    for name, amount in _strains(gas, values, station, limits, errors, of_humidity):
        found[name] = found.get(name, 0.0) + amount
        total += amount
        if not is_column(total) and total > most:
            return math.inf
    return sum(found.values())


def strains(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float] = NONE,
) -> dict[str, float]:
    """The strain of each figure that is outside its range."""
    found: dict[str, float] = {}
    for name, amount in _strains(gas, values, station, limits, errors, None):
        found[name] = found.get(name, 0.0) + amount
    return found


def _strains(
    gas: Refrigerant | None,
    values: Values,
    station: float,
    limits: PlausibilityLimits,
    errors: Mapping[str, float],
    of_humidity: float | None,
) -> Iterator[tuple[str, float]]:
    for name, value in _figures(gas, values):
        if name == "outside":
            yield name, limits.outside * value
        else:
            yield from _beyond(name, value, limits, errors)
    if of_humidity is not None:
        yield "humidity", of_humidity
    else:
        for name, value in _humidity(values, station, limits.per_degree).items():
            yield from _beyond(name, value, limits, errors)


def _beyond(
    name: str, value: float, limits: PlausibilityLimits, errors: Mapping[str, float]
) -> Iterator[tuple[str, float]]:
    limit, slack = limits.ranges[name], errors.get(name, 0.0)
    short, over = limit.low - slack - value, value - limit.high - slack
    if is_column(value):
        yield name, otherwise((greater(short, 0.0) / limit.below) ** 2 + (greater(over, 0.0) / limit.above) ** 2, 0.0)
    elif short > 0 or over > 0:
        yield name, (max(short, 0.0) / limit.below) ** 2 + (max(over, 0.0) / limit.above) ** 2


def _figures(gas: Refrigerant | None, values: Values) -> Iterator[tuple[str, float]]:
    """What can be worked out of `limits.ranges`, K and a share; `outside` for each pressure beyond the refrigerant's table."""
    boiling = middle = condensing = warm = None
    if gas is not None and LOW in values:
        dew, bubble = saturations(gas.name, values[LOW])
        if dew is None or bubble is None:
            yield "outside", 1.0
        else:
            yield from _beyond_the_table(values[LOW], dew + bubble)
            boiling, middle = dew, (dew + bubble) / 2
            yield "evaporating", dew
    if gas is not None and HIGH in values:
        dew, bubble = saturations(gas.name, values[HIGH])
        if dew is None or bubble is None:
            yield "outside", 1.0
        else:
            yield from _beyond_the_table(values[HIGH], dew + bubble)
            condensing, warm = bubble, (dew + bubble) / 2
    suction, liquid = values.get(SUCTION), values.get(LIQUID)
    outdoor, indoor, supply = values.get(OUTDOOR), values.get(RETURN), values.get(SUPPLY)
    for name, upper, lower in (
        ("superheat", suction, boiling),
        ("subcooling", condensing, liquid),
        ("condensing over ambient", warm, outdoor),
        ("return air over evaporating", indoor, middle),
        ("liquid line over outdoor air", liquid, outdoor),
        ("liquid line over suction line", liquid, suction),
        ("air temperature split", indoor, supply),
        ("return air", indoor, 0.0),
        ("supply air over evaporating", supply, boiling),
    ):
        if upper is not None and lower is not None:
            yield name, upper - lower
    if suction is not None and outdoor is not None and indoor is not None:
        yield "suction line over the warmest air", suction - greater(outdoor, indoor)


def saturations(gas: str, pressure: float) -> tuple[float | None, float | None]:
    """The dew and bubble temperature."""
    if is_column(pressure):
        return saturation_temperature(gas, "dew", pressure), saturation_temperature(gas, "bubble", pressure)
    return _saturations(gas, pressure)


@lru_cache(
    1024
)  # a doubtful visit is looked at as another refrigerant's thousands of times, mostly with the same pressures
def _saturations(gas: str, pressure: float) -> tuple[float | None, float | None]:
    return saturation_temperature(gas, "dew", pressure), saturation_temperature(gas, "bubble", pressure)


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


def _beyond_the_table(pressure: float, saturation: float) -> Iterator[tuple[str, float]]:
    """Of columns: the rows whose pressure has no saturation temperature."""
    if is_column(pressure):
        yield "outside", choose(usable(pressure), choose(usable(saturation), 0.0, 1.0), 0.0)
