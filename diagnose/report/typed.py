"""What a technician types at a look-up: figures, refrigerants, the altitude."""

from __future__ import annotations

from diagnose import units
from diagnose.properties import Refrigerant, UnknownRefrigerant, refrigerant, standard_pressure
from diagnose.units import Kind, Measured, UnitError
from diagnose.visit import System
from diagnose.yamlfile import refusal


def read(text: str, kind: Kind, what: str) -> Measured:
    """The figure as it was typed. Raises InputProblems, which names what it is."""
    try:
        return units.parse(text, kind)
    except UnitError as error:
        raise refusal(f"{what}: {error.what}", error.fix) from None


def gas_named(name: str) -> Refrigerant:
    """The refrigerant of this name. Raises InputProblems."""
    try:
        return refrigerant(name)
    except UnknownRefrigerant as error:
        raise refusal(error.what, error.fix) from None


def station(altitude: str | None) -> float:
    """Station pressure at an altitude as written, Pa; sea level without one."""
    metres = read(altitude, "length", "altitude").value if altitude else 0.0
    found = standard_pressure(metres)
    if found is None:
        raise refusal(f"altitude: {altitude} is out of range", "Below 36,000 ft (11 km).")
    return found


def system_of(*read: Measured) -> System:
    """US or SI, by what was typed."""
    return (
        "si" if all(m.unit in ("C", "K") or "Pa" in m.unit or "bar" in m.unit or "kg" in m.unit for m in read) else "us"
    )
