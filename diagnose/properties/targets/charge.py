"""How much refrigerant a line holds, and how far a charge is off."""

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple

from diagnose.properties import (
    Refrigerant,
    liquid_density,
    liquid_enthalpy,
    saturation_pressure,
    saturation_temperature,
    vapour_density,
    vapour_enthalpy,
)
from diagnose.properties.targets.expected import tables, usable

OUNCE_PER_FOOT = 0.45359237 / 16 / 0.3048
"""1 oz/ft in kg/m."""
_INCH = 0.0254
_TUBE_TOLERANCE = 0.012 * _INCH  # 0.3 mm: 9.5 mm is 3/8 in, 10 mm tube is another size


@lru_cache(maxsize=1)
def _bores() -> tuple[tuple[float, float], ...]:
    return tuple((outside * _INCH, bore * _INCH) for _, outside, bore in tables()["copper_tube"]["rows"])


def tube_bore(outside_diameter: float | None) -> float | None:
    """Bore (m) of soft copper tube of that outside diameter (m), 1/4 to 1-3/8 in; None where there is no such size.

    Annealed sizes of astm-b280, read second-hand; drawn tube differs by up to 4 % in area. A size is recognized within
    0.3 mm, so 9.52 mm is 3/8 in.
    """
    if outside_diameter is None:
        return None
    for outside, bore in _bores():
        if abs(outside_diameter - outside) <= _TUBE_TOLERANCE:
            return bore
    return None


def line_charge(outside_diameter: float | None, length: float | None, density: float | None) -> float | None:
    """Refrigerant (kg) in a line: π/4 · bore² · length · density, lengths in m, density of the fluid in kg/m³.

    The liquid alone: the makers' allowances per foot (`published_allowances`) carry 0.07-0.08 oz/ft more, for the
    vapor in the suction line and rounding up. For a line after the metering device (a ductless machine with its
    device outdoors) the density is that of `mixture_density`. None for an unknown size or a negative number.
    """
    bore = tube_bore(outside_diameter)
    if bore is None or not (usable(length) and usable(density) and length >= 0 and density >= 0):
        return None
    return math.pi / 4 * bore**2 * length * density


PUBLISHED_OUNCES_PER_FOOT: Mapping[str, float] = MappingProxyType({"1/4": 0.27, "5/16": 0.40, "3/8": 0.60})
"""A maker's allowance for a whole R-410A line set, suction vapor included, by liquid line size (in); oz/ft.

Source maker-long-line (Table 4, page 27), read. The factory charge assumes 3/8 in. Another maker's ductless manual
allows 0.32 and 0.69 for 1/4 and 3/8 in with the metering device indoors, about half with it outdoors.
"""
_INCHES = {"1/4": 0.25, "5/16": 0.3125, "3/8": 0.375, "1/2": 0.5}
DUCTLESS = "maker-ductless"
_DUCTLESS: Mapping[tuple[str, bool], Mapping[str, float]] = MappingProxyType({
    ("R-410A", False): {"1/4": 0.32, "3/8": 0.69, "1/2": 1.23},
    ("R-22", False): {"1/4": 0.32, "3/8": 0.69, "1/2": 1.23},
    ("R-410A", True): {"1/4": 0.16, "3/8": 0.32, "1/2": 0.69},
    ("R-32", True): {"1/4": 0.13, "3/8": 0.26, "1/2": 0.42},
})  # fmt: skip
"""By refrigerant, and whether the metering device is outdoors: that other maker's figures (page 42), read; oz/ft."""


class Allowance(NamedTuple):
    """What a maker prints for a line set by its liquid line: kg/m, and the source."""

    per_length: float
    source: str


def published_allowances(refrigerant: str, outside_diameter: float | None, outdoors: bool) -> tuple[Allowance, ...]:
    """What makers print for that liquid line (m), suction vapor included; outdoors: the metering device is there."""
    if outside_diameter is None:
        return ()
    near = [size for size, inches in _INCHES.items() if abs(outside_diameter - inches * _INCH) <= _TUBE_TOLERANCE]
    split = PUBLISHED_OUNCES_PER_FOOT if refrigerant == "R-410A" and not outdoors else {}
    ductless = _DUCTLESS.get((refrigerant, outdoors), {})
    return tuple(
        Allowance(table[size] * OUNCE_PER_FOOT, source)
        for table, source in ((split, "maker-long-line"), (ductless, DUCTLESS))
        for size in near
        if size in table
    )


class LineStates(NamedTuple):
    """In what state the lines are: liquid at a temperature (K), suction vapor at a pressure (Pa absolute; None: that of
    `DEW`) and a superheat (K)."""

    liquid: float = (
        310.93  # 100 °F: liquid leaves a condenser some 5 °F above 95 °F of outdoor air, at which plates are rated
    )
    suction_pressure: float | None = None
    superheat: float = 10 / 1.8

    def pressure(self, refrigerant: Refrigerant) -> float | None:
        """Of the suction line, Pa absolute."""
        found = self.suction_pressure
        return found if found is not None else saturation_pressure(refrigerant, "dew", DEW)

    def vapor_density(self, refrigerant: Refrigerant) -> float | None:
        """Of the vapor in the suction line, kg/m³; None outside the table."""
        pressure = self.pressure(refrigerant)
        dew = None if pressure is None else saturation_temperature(refrigerant, "dew", pressure)
        return None if pressure is None or dew is None else vapour_density(refrigerant, dew + self.superheat, pressure)


DEW = 280.37
"""K, 45 °F: where an air conditioner evaporates at the rating; common practice, no source."""


def mixture_density(refrigerant: Refrigerant, states: LineStates) -> float | None:
    """Mean density (kg/m³) in a liquid line after a metering device that stands outdoors; None outside the table.

    The quality is that of liquid throttled to the suction pressure at constant enthalpy. Zivi's void fraction,
    1 / (1 + (1 - x) / x · (ρg/ρf)^(2/3)) (zivi-1964, read in building blocks), gives a third of the liquid for R-410A; the
    makers' allowances (maker-ductless) about half. This is the middle of the two; good to ± 50 %.
    """
    pressure = states.pressure(refrigerant)
    bubble = None if pressure is None else saturation_temperature(refrigerant, "bubble", pressure)
    dew = None if pressure is None else saturation_temperature(refrigerant, "dew", pressure)
    if pressure is None or bubble is None or dew is None:
        return None
    warm, cold = liquid_enthalpy(refrigerant, states.liquid), liquid_enthalpy(refrigerant, bubble)
    dry, heavy = vapour_enthalpy(refrigerant, dew, pressure), liquid_density(refrigerant, bubble)
    light, liquid = vapour_density(refrigerant, dew, pressure), liquid_density(refrigerant, states.liquid)
    if warm is None or cold is None or dry is None or heavy is None or light is None or liquid is None:
        return None
    quality = min(max((warm - cold) / (dry - cold), 0.0), 1.0)
    slip = (light / heavy) ** (2 / 3)
    vapor: float = quality / (quality + (1.0 - quality) * slip)
    return (heavy * (1.0 - vapor) + light * vapor + liquid / 2) / 2


LOWER_FLAMMABLE_LIMIT: Mapping[str, float] = MappingProxyType({"R-32": 0.307, "R-454B": 0.30, "R-290": 0.038})
"""kg/m³, from memory (ashrae-34); that of R-454B to two figures."""


def free_of_room_limits(refrigerant: Refrigerant) -> float | None:
    """The charge (kg) up to which the safety standard asks nothing of the room: its m1; None where no figure is known.

    4 m³ of the lower flammable limit, half as much again in class A2L (iec-60335-2-40, from memory). What it asks above
    that depends on edition, room and installation, and is not worked out here.
    """
    limit = LOWER_FLAMMABLE_LIMIT.get(refrigerant.name)
    return None if limit is None else limit * (6.0 if refrigerant.safety == "A2L" else 4.0)


_SUPERHEAT_WEIGHT = 1 / 2.5  # k_sh/sc
_EMPTY_CHARGE = 0.75  # alpha0: share of the rated high-side charge at which no subcooling is left
_HIGH_SIDE = 0.73  # X_hs: share of the rated charge in the high side


def charge_slopes(rated_subcooling: float) -> tuple[float, float]:
    """Share of the right charge for each K of subcooling (+) and of superheat (-) off right: the virtual charge sensor.

    (1/k) · [(SC - SC rated) - (SH - SH rated)/2.5], k = SC rated / ((1 - 0.75) · 0.73), temperatures in K. Formula and
    its default constants from memory (kim-braun-charge-sensor); its accuracy, within 10 % of charge, read. Holds only
    once low airflow, restriction and non-condensables are ruled out. Rated subcooling 10 °F: 0.55 °F for each 1 %.
    Nothing clips it: far from rated charge (beyond about ±30 %, our judgement) it only shows the direction.
    rated_subcooling: K, above 0.
    """
    slope = rated_subcooling / ((1 - _EMPTY_CHARGE) * _HIGH_SIDE)
    return 1.0 / slope, -_SUPERHEAT_WEIGHT / slope
