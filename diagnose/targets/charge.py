"""How much refrigerant a line holds, and how far a charge is off."""

import math
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from diagnose.targets.expected import tables, usable

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

    The liquid alone: the makers' allowances per foot (`published_line_charge`) carry 0.07-0.08 oz/ft more, for the
    vapor in the suction line and rounding up. Not for a line after the metering device (a ductless machine with its
    device outdoors): that holds about half. None for an unknown size or a negative number.
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
_PUBLISHED = ((0.25, "1/4"), (0.3125, "5/16"), (0.375, "3/8"))


def published_line_charge(outside_diameter: float | None, length: float | None) -> float | None:
    """Refrigerant (kg) a maker allows for `length` (m) of R-410A line set with that liquid line (m), or None."""
    if outside_diameter is None or not (usable(length) and length >= 0):
        return None
    for inches, nominal in _PUBLISHED:
        if abs(outside_diameter - inches * _INCH) <= _TUBE_TOLERANCE:
            return PUBLISHED_OUNCES_PER_FOOT[nominal] * OUNCE_PER_FOOT * length
    return None


_SUPERHEAT_WEIGHT = 1 / 2.5  # k_sh/sc
_EMPTY_CHARGE = 0.75  # alpha0: share of the rated high-side charge at which no subcooling is left
_HIGH_SIDE = 0.73  # X_hs: share of the rated charge in the high side


def charge_deviation(
    subcooling: float | None,
    rated_subcooling: float | None,
    superheat: float | None,
    target_superheat: float | None,
) -> float | None:
    """Charge over (+) or under (-) rated, as a fraction of rated: the virtual charge sensor.

    (1/k) · [(SC - SC rated) - (SH - SH rated)/2.5], k = SC rated / ((1 - 0.75) · 0.73), temperatures in K. Formula and
    its default constants from memory (kim-braun-charge-sensor); its accuracy, within 10 % of charge, read. Holds only
    once low airflow, restriction and non-condensables are ruled out. Rated subcooling 10 °F: 0.55 °F for each 1 %.
    Nothing clips it: far from rated charge (beyond about ±30 %, our judgement) it only shows the direction. None where
    an input is missing or rated subcooling is not above 0.
    """
    if subcooling is None or rated_subcooling is None or superheat is None or target_superheat is None:
        return None
    if not rated_subcooling > 0:
        return None
    of_liquid, of_vapor = charge_slopes(rated_subcooling)
    fraction = of_liquid * (subcooling - rated_subcooling) + of_vapor * (superheat - target_superheat)
    return fraction if math.isfinite(fraction) else None


def charge_slopes(rated_subcooling: float) -> tuple[float, float]:
    """Share of the right charge for each K of subcooling (+) and of superheat (-) off right, by the same formula.

    rated_subcooling: K, above 0.
    """
    slope = rated_subcooling / ((1 - _EMPTY_CHARGE) * _HIGH_SIDE)
    return 1.0 / slope, -_SUPERHEAT_WEIGHT / slope
