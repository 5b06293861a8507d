"""A figure in SI as the trade writes it, as fine as its instruments show."""

import math
from fractions import Fraction

from diagnose.units.spelling import find
from diagnose.units.table import CALLED, Kind, System, Unit


def from_si(value: float, unit: str, kind: Kind) -> float:
    """The number to write in `unit` for an SI value; for a gauge unit pass the absolute pressure minus the station's.

    Raises UnitError for a unit that does not belong to the kind.
    """
    found = find(unit, kind, "")
    return value / found.scale - found.offset


def unit_for(kind: Kind, system: System) -> str:
    """The unit a technician expects to see for this kind."""
    return CALLED[kind].us if system == "us" else CALLED[kind].si


def show(value_si: float, kind: Kind, unit: str, *, decimals: int | None = None) -> str:
    """The value as the trade writes it: "61.0 °F", "1,180 cfm", "6 lb 4 oz", "3/8 in".

    Takes SI (for a gauge unit: the pressure above the station's) and rounds to what the instruments can show, unless
    `decimals` says otherwise. Raises UnitError for a unit that does not belong to the kind.
    """
    found = find(unit, kind, "")
    number = value_si / found.scale - found.offset
    if decimals is None and math.isfinite(number):
        if found.name == "lb":
            return _pounds_and_ounces(number)
        if found.name == "in" and (fraction := _sixteenths(number)):
            return f"{fraction} in"
    places = _places(found, kind, number) if decimals is None else decimals
    text = _rounded(number, places)
    if kind == "number" and decimals is None:
        text = text.removesuffix(".0")
    return f"{text} {found.shown or found.name}".rstrip()


def as_shown(value_si: float, kind: Kind, unit: str) -> float:
    """The SI value of the figure that `show` writes; as it is, where that is in pounds and ounces or a fraction of an inch.

    Raises UnitError for a unit that does not belong to the kind.
    """
    found = find(unit, kind, "")
    number = value_si / found.scale - found.offset
    if found.name in ("lb", "in") or not math.isfinite(number):
        return value_si
    return (round(number, _places(found, kind, number)) + found.offset) * found.scale


def _places(unit: Unit, kind: Kind, number: float) -> int:
    """How many decimals an instrument of this unit shows."""
    return 0 if unit.name in ("psig", "psia") and kind == "pressure" and abs(number) >= 100 else unit.decimals


def _rounded(number: float, places: int) -> str:
    """With thousands separators, a minus sign for people, and never "-0"."""
    return f"{round(number, places) + 0.0:,.{places}f}".replace("-", "−")


def _pounds_and_ounces(pounds: float) -> str:
    """Whole ounces from a pound upward, tenths below."""
    sign, ounces = ("−" if pounds < 0 else ""), abs(pounds) * 16
    if ounces < 15.95:
        return f"{sign}{ounces:.1f} oz" if round(ounces, 1) else "0.0 oz"
    whole, rest = divmod(round(ounces), 16)
    return f"{sign}{whole:,} lb {rest} oz" if rest else f"{sign}{whole:,} lb"


def _sixteenths(inches: float) -> str:
    """A pipe size such as 3/8 or 1-1/8; empty where it is no whole number of sixteenths."""
    count = round(inches * 16)
    if not 0 < count < 16 * 12 or abs(inches * 16 - count) > 1e-6:
        return ""
    whole, rest = divmod(Fraction(count, 16), 1)
    return f"{whole}-{rest}" if whole and rest else str(whole or rest)
