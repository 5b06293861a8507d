"""Slips of hand told by what the readings would mean without them: clamps or probes swapped, another refrigerant, a unit.

A list of what every running machine keeps to, sound or faulty, gives each way of reading a visit a strain: how far it lies
outside, in squares, as twice a negative log likelihood. A slip is named where the visit as written is strained beyond what
faults do, and one change of hand takes nearly all of it away. What a fault alone can do is never called a slip.

What cannot be told is not said. Refrigerants with nearly the same pressures (R-410A, R-32 and R-454B; R-22, R-407C and
R-290) fit alike. Nor do running pressures show a gauge that is off its zero by a few psi.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from diagnose.properties import (
    REFRIGERANTS,
    Refrigerant,
    humidity_ratio_from_wet_bulb,
    refrigerant,
    relative_humidity,
    saturation_temperature,
)
from diagnose.quantities.plausibility.look import Look, Suspicion
from diagnose.targets import F

# What running machines keep to in cooling, °F (humidity in %): lowest, highest, and how fast it becomes unlikely below and
# above. Heat flows from warm to cold, which is the hard side of most; the soft side is judgement, common practice, and
# generous: of 2500 simulated machines with all kinds of faults 99 in 100 have a strain under 8.
_NO = math.inf
RANGES: Mapping[str, tuple[float, float, float, float]] = {
    "superheat": (-1, 45, 2, 5),  # vapour is not colder than it boils
    "subcooling": (0, 28, 2, 5),  # liquid is not warmer than it boils
    "condensing over ambient": (8, 42, 3, 6),  # heat must get out
    "return air over evaporating": (18, 55, 5, 5),  # heat must get in
    "evaporating": (24, 58, 4, 4),  # colder it ices over, warmer it does not dry the air
    "liquid line over outdoor air": (0, 30, 2, 8),  # the outdoor air cools the liquid
    "liquid line over suction line": (0, _NO, 6, 1),  # one leaves the condenser, the other the evaporator
    "suction line over the warmest air": (-_NO, 0, 1, 2),  # nothing else warms it
    "air temperature split": (9, 34, 4, 4),
    "supply air over evaporating": (4, 45, 2, 6),  # the coil cools the air
    "humidity": (20, 85, 8, 8),
}
OUTSIDE = 100.0  # strain of a pressure for which the refrigerant has no saturation temperature
STRAINED = 12.0  # strain from which a visit is looked at for slips
EASED = 6.0  # strain that a visit without its slip may have left
GAINED = 9.0  # and by how much less it must be: odds of e^4.5, about 90 to 1
LIQUID_FITS = (
    3 * F
)  # K by which the liquid line may seem warmer than it can be, and still fit the condensing temperature
NEAR = 4.0  # refrigerants within this much of the best one fit as well
NAMED = 4  # refrigerants named at most

Values = Mapping[str, float]
_BY_PRESSURE = (
    "superheat", "subcooling", "condensing over ambient", "return air over evaporating", "evaporating",
    "supply air over evaporating",
)  # fmt: skip
LOW, HIGH = "suction pressure", "liquid pressure"
SUCTION, LIQUID = "suction line temperature", "liquid line temperature"
OUTDOOR, RETURN, SUPPLY = "outdoor air temperature", "return air dry bulb", "supply air dry bulb"
WET = "return air wet bulb"


@dataclass(frozen=True, slots=True)
class Slip:
    """One way to read the visit otherwise. swapped: two readings in each other's place. gas: another refrigerant."""

    strain: float
    swapped: tuple[str, str] | None = None
    gas: str | None = None
    factor: float | None = None


def strain(gas: Refrigerant | None, values: Values, station: float, errors: Mapping[str, float] | None = None) -> float:
    """How far readings (K, Pa absolute) lie outside what running machines keep to; 0 where nothing is amiss.

    errors: limits of error of the figures, K, by the names of RANGES; each range is wider by them.
    """
    return sum(strains(gas, values, station, errors).values())


def strains(
    gas: Refrigerant | None, values: Values, station: float, errors: Mapping[str, float] | None = None
) -> dict[str, float]:
    """The strain of each figure that is outside its range."""
    found = {}
    for name, value in _figures(gas, values, station).items():
        if name == "outside":
            found[name] = OUTSIDE * value
            continue
        low, high, below, above = RANGES[name]
        slack = (errors or {}).get(name, 0.0) / F
        if value < low - slack:
            found[name] = ((low - slack - value) / below) ** 2
        elif value > high + slack:
            found[name] = ((value - high - slack) / above) ** 2
    return found


def _figures(gas: Refrigerant | None, values: Values, station: float) -> dict[str, float]:
    """What can be worked out of RANGES; `outside` for each pressure beyond the refrigerant's table."""
    found: dict[str, float] = {}
    boiling = middle = condensing = None
    if gas is not None and LOW in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[LOW]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = 1.0
        else:
            boiling, middle = dew, (dew + bubble) / 2
            found["evaporating"] = (dew - 273.15) / F + 32
    warm = None
    if gas is not None and HIGH in values:
        dew, bubble = (saturation_temperature(gas.name, line, values[HIGH]) for line in ("dew", "bubble"))
        if dew is None or bubble is None:
            found["outside"] = found.get("outside", 0.0) + 1.0
        else:
            condensing, warm = bubble, (dew + bubble) / 2

    def put(name: str, upper: float | None, lower: float | None) -> None:
        if upper is not None and lower is not None:
            found[name] = (upper - lower) / F

    suction, liquid = values.get(SUCTION), values.get(LIQUID)
    outdoor, indoor, supply = values.get(OUTDOOR), values.get(RETURN), values.get(SUPPLY)
    put("superheat", suction, boiling)
    put("subcooling", condensing, liquid)
    put("condensing over ambient", warm, outdoor)
    put("return air over evaporating", indoor, middle)
    put("liquid line over outdoor air", liquid, outdoor)
    put("liquid line over suction line", liquid, suction)
    put("air temperature split", indoor, supply)
    put("supply air over evaporating", supply, boiling)
    if suction is not None and outdoor is not None and indoor is not None:
        put("suction line over the warmest air", suction, max(outdoor, indoor))
    wet = values.get(WET)
    if indoor is not None and wet is not None:
        water = humidity_ratio_from_wet_bulb(indoor, min(wet, indoor), station)
        humidity = relative_humidity(indoor, water, station) if water is not None and water > 0 else 0.0
        # Above the dry bulb no humidity can be: each degree counts as ten in a hundred.
        found["humidity"] = 100 * (humidity or 0.0) + 10 * max(wet - indoor, 0.0) / F
    return found


def slips(look: Look) -> Iterator[Suspicion]:
    """The slip of hand that explains the visit, if there is one."""
    values = {name: v for name in (LOW, HIGH, SUCTION, LIQUID, OUTDOOR, RETURN, SUPPLY, WET)
              if (v := look.value(name)) is not None}  # fmt: skip
    gas, station = look.visit.machine.refrigerant, look.visit.machine.station_pressure
    errors = _errors(look)
    written = strain(gas, values, station, errors)
    ways = [] if written < STRAINED else sorted(_ways(gas, values, station, errors), key=lambda slip: slip.strain)
    close = [slip for slip in ways if slip.strain <= min(EASED, written - GAINED, ways[0].strain + NEAR)]
    # Of those that fit about as well: what cannot be at all, then what is done most easily.
    best = min(close, key=lambda slip: _SWAPS.index(slip.swapped) if slip.swapped else len(_SWAPS), default=None)
    fitting = [] if best is None else [slip.gas for slip in close if slip.gas]
    if best is not None and best.swapped is not None:
        if best.swapped not in _TOLD:
            yield _swapped(look, *best.swapped)
    elif best is not None and best.factor is not None:
        yield _unit(look, best.factor)
    else:
        yield from _refrigerant(look, fitting)


def _errors(look: Look) -> dict[str, float]:
    """Limits of error of the figures of RANGES that are worked out as quantities, or from two thermometers."""
    found = {
        "liquid line over outdoor air": look.error(LIQUID, OUTDOOR),
        "liquid line over suction line": look.error(LIQUID, SUCTION),
        "suction line over the warmest air": look.error(SUCTION, OUTDOOR),
        "air temperature split": look.error(RETURN, SUPPLY),
    }
    for name, quantity in (
        ("superheat", "superheat"),
        ("subcooling", "subcooling"),
        ("condensing over ambient", "condensing over ambient"),
        ("return air over evaporating", "evaporator temperature difference"),
    ):
        have = look.quantity(quantity)
        found[name] = have[1] if have else 0.0
    return found


_TOLD = (
    (RETURN, WET),
    (RETURN, SUPPLY),
)  # told by what cannot be (`impossible`), and here only so that nothing else is
_SWAPS: tuple[tuple[str, str], ...] = (*_TOLD, (SUCTION, LIQUID), (OUTDOOR, RETURN), (OUTDOOR, SUPPLY))
_KPA = 6.894757  # kPa in a psi
_FACTORS = (_KPA, 1 / _KPA)


def _ways(gas: Refrigerant | None, values: Values, station: float, errors: Mapping[str, float]) -> Iterator[Slip]:
    """Every way to read the visit otherwise, with its strain."""
    for one, other in _SWAPS:
        if one in values and other in values:
            turned = {**values, one: values[other], other: values[one]}
            yield Slip(strain(gas, turned, station, errors), swapped=(one, other))
    if LOW in values and HIGH in values:
        for factor in _FACTORS:
            scaled = {n: station + (values[n] - station) * factor for n in (LOW, HIGH)}
            yield Slip(strain(gas, {**values, **scaled}, station, errors), factor=factor)
    if gas is not None and LOW in values and HIGH in values and _by_pressure(gas, values, station, errors):
        for name in REFRIGERANTS:
            if name != gas.name and not _empty(gas, values, name):
                yield Slip(strain(refrigerant(name), values, station, errors), gas=name)


def _by_pressure(gas: Refrigerant, values: Values, station: float, errors: Mapping[str, float]) -> bool:
    """Whether it is the saturation temperatures that are off."""
    each = strains(gas, values, station, errors)
    if "outside" in each:
        return True
    return sum(each.get(name, 0.0) for name in _BY_PRESSURE) >= STRAINED


def _empty(gas: Refrigerant, values: Values, other: str) -> bool:
    """Whether the pressures are low for want of refrigerant on its way, not because it is the other one.

    Then the liquid line still fits the condensing temperature, as it does not where the table is the wrong one.
    """
    condensing, liquid = saturation_temperature(gas.name, "bubble", values[HIGH]), values.get(LIQUID)
    cold, real = (saturation_temperature(name, "dew", values[LOW]) for name in (gas.name, other))
    if condensing is None or liquid is None or cold is None or real is None:
        return False
    return real > cold and condensing - liquid > -LIQUID_FITS


_SHORT = {
    SUCTION: "suction line",
    LIQUID: "liquid line",
    OUTDOOR: "outdoor air",
    RETURN: "return air",
    SUPPLY: "supply air",
}


def _swapped(look: Look, one: str, other: str) -> Suspicion:
    first, second = look.value(one), look.value(other)
    assert first is not None
    assert second is not None
    what = "clamps" if one == SUCTION else "thermometers"
    meant = ""
    superheat, subcooling = look.quantity("superheat"), look.quantity("subcooling")
    if one == SUCTION and superheat is not None and subcooling is not None:
        meant = (
            f" As written superheat would be {look.show(superheat[0], 'difference')} and subcooling "
            f"{look.show(subcooling[0], 'difference')}; the other way round they are "
            f"{look.show(superheat[0] + second - first, 'difference')} and "
            f"{look.show(subcooling[0] + second - first, 'difference')}."
        )
    return Suspicion(
        f"The {_SHORT[one]} and {_SHORT[other]} {what} look swapped: {look.show(first, 'temperature')} is written for the "
        f"{_SHORT[one]} and {look.show(second, 'temperature')} for the {_SHORT[other]}, and the other readings fit the "
        f"other way round.{meant} Look which is which and write them down anew. Neither is used.",
        set_aside=(one, other),
        holds_charge=True,
    )


def _unit(look: Look, factor: float) -> Suspicion:
    low, high = look.value(LOW), look.value(HIGH)
    assert low is not None
    assert high is not None
    station = look.visit.machine.station_pressure
    meant = " and ".join(look.show(station + (p - station) * factor, "pressure") for p in (low, high))
    units = "psi and written as kPa" if factor > 1 else "kPa and written as psi"
    return Suspicion(
        f"The pressures look written in the wrong unit: they fit if they were read in {units}, which makes them {meant}. "
        "Look at the face of the gauges. The pressures are not used.",
        set_aside=(LOW, HIGH),
        holds_charge=True,
        holds_visit=True,
    )


def _refrigerant(look: Look, fitting: list[str]) -> Iterator[Suspicion]:
    """Both saturations off the same way: another refrigerant, or gauges that are both wrong."""
    gas, outdoor = look.visit.machine.refrigerant, look.value(OUTDOOR)
    way = _off(look)
    if gas is None or (way is None and not fitting):
        return
    evaporating, condensing = look.quantity("evaporating temperature"), look.quantity("condensing temperature")
    if way is None:
        real = saturation_temperature(fitting[0], "dew", look.value(LOW) or 0.0)
        way = "low" if evaporating is None or (real is not None and real > evaporating[0]) else "high"
        way = "high" if condensing is None else way  # beyond the table: no such pressure short of the critical one
    figures = [
        f"{name} {'beyond its table' if found is None else look.show(found[0], 'temperature')}"
        for name, found in (("evaporating", evaporating), ("condensing", condensing))
    ]
    figures += [] if outdoor is None else [f"outdoor air {look.show(outdoor, 'temperature')}"]
    others = fitting or _about(look)
    named = [name for name in REFRIGERANTS if name in others and name != gas.name][:NAMED]
    fit = f" These pressures would fit {' or '.join(named)}." if named else ""
    yield Suspicion(
        f"Both saturation temperatures are too {way} for {gas.name} ({', '.join(figures)}): most likely another "
        f"refrigerant is in this machine or was chosen in the visit, or both gauges are off.{fit} Read the rating plate "
        "and any conversion label. The pressures are not used.",
        set_aside=(LOW, HIGH),
        holds_charge=True,
        holds_visit=True,
        check="read-the-plate",
    )


def _off(look: Look) -> str | None:
    """`high` or `low` where both saturations are far off, whatever may fit them; else None."""
    evaporating, condensing = look.quantity("evaporating temperature"), look.quantity("condensing temperature")
    outdoor, indoor, line = look.value(OUTDOOR), look.value(RETURN), look.value(SUCTION)
    if evaporating is None or condensing is None or outdoor is None:
        return None
    over = condensing[0] - outdoor
    below = None if indoor is None else indoor - evaporating[0]
    heated = None if line is None else line - evaporating[0]
    if over > 45 * F and ((below is not None and below < 10 * F) or (heated is not None and heated < -4 * F)):
        return "high"
    subcooling = look.quantity("subcooling")
    if subcooling is not None and subcooling[0] > -10 * F:
        # A liquid line near the condensing temperature fits low pressures: hardly any refrigerant is left in the circuit.
        return None
    if over < -2 * F and ((below is not None and below > 55 * F) or (heated is not None and heated > 45 * F)):
        return "low"
    return None


def _about(look: Look) -> list[str]:
    """Refrigerants for which a sound machine could show these pressures."""
    low, high = look.value(LOW), look.value(HIGH)
    outdoor, indoor, line = look.value(OUTDOOR), look.value(RETURN), look.value(SUCTION)
    if low is None or high is None or outdoor is None:
        return []
    found = []
    for name in REFRIGERANTS:
        evaporating, condensing = saturation_temperature(name, "dew", low), saturation_temperature(name, "bubble", high)
        if evaporating is None or condensing is None or not 5 * F <= condensing - outdoor <= 32 * F:
            continue
        if indoor is not None and not 22 * F <= indoor - evaporating <= 45 * F:
            continue
        if line is not None and not -1 * F <= line - evaporating <= 30 * F:
            continue
        found.append(name)
    return found


BELOW_REST = 4 * F  # K below saturation at rest that the instruments' errors do not explain
LIQUID_THERE = 3 * F  # K of subcooling from which liquid stands in the condenser while the machine runs


def gauge_at_rest(look: Look) -> Iterator[Suspicion]:
    """A gauge off its zero: at rest it shows no liquid is left, while the running machine has liquid in its condenser."""
    rest, subcooling = look.quantity("standing pressure excess"), look.quantity("subcooling")
    if rest is None or subcooling is None:
        return
    if rest[0] + rest[1] < -BELOW_REST and subcooling[0] - subcooling[1] > LIQUID_THERE:
        yield Suspicion(
            f"At rest the pressure is {look.show(-rest[0], 'difference')} below what the refrigerant has at that air "
            f"temperature, as if no liquid were left, but running there is {look.show(subcooling[0], 'difference')} of "
            "subcooling: a gauge reads low, or the machine and the air around it had not come to one temperature. Open "
            "the hose to the air: the gauge must stand at zero. The standing pressure is not used.",
            set_aside=("standing pressure",),
            holds_charge=True,
            check="rest-and-read",
        )
