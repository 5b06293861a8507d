"""An expected value, or why there is none; degrees, and the figures of targets.json."""

import json
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal, NamedTuple, get_args

from diagnose.units.columns import choose, is_column
from diagnose.units.columns import usable as usable

NoTargetReason = Literal["blank", "outside", "missing"]
Origin = Literal["maker", "protocol", "typical", "assumed", "baseline"]
"""assumed: typical of any such machine, for want of the reading or the figure of the plate that it follows from."""


class NoTarget(NamedTuple):
    """Why there is no expected value: the table is blank there, the reading lies outside it, or is missing.

    nearest: the value at the nearest edge of the table, with a spread that grows with the distance from it. No verdict may
    lean on it; it is good enough to tell a starved evaporator from a flooded one.
    """

    reason: NoTargetReason
    of: Literal["superheat", "temperature split"]
    nearest: "Target | None" = None
    at: tuple[float, ...] = ()  # where in the table, K: dry bulb, wet bulb
    outside: Mapping[str, tuple[float, float, float]] = {}  # reading -> its value, the table's ends, K
    readings: tuple[str, ...] = ()  # what is missing


class Target(NamedTuple):
    """An expected value (SI), how far healthy machines or the table itself scatter about it, and where it is from.

    inside: how far within its table the value stands, 0 to 1: toward the edge it counts less and less, and what would be
    said beyond the edge (`beyond`) more and more, so that nothing depends on a tenth of a degree.

    Of columns (`units.columns`) figures may be columns: value is nan where there is none, and `beyond` then says why, its
    reason a column of places in REASONS, as origin may be one of places in ORIGINS.
    """

    value: float
    spread: float  # standard deviation, in the unit of the value
    source: str  # key of rules/sources.yaml
    origin: Origin
    inside: float = 1.0
    beyond: "NoTarget | Target | None" = None


REASONS = get_args(NoTargetReason)
ORIGINS = get_args(Origin)


def typical_if(known: bool) -> Any:
    """The origin of a typical value: assumed where what it follows from is not known. Of a column places in ORIGINS."""
    of: tuple[Any, Any] = ("typical", "assumed")
    return choose(known, *(ORIGINS.index(name) for name in of)) if is_column(known) else of[not known]


def of_both(one: Any, other: Any) -> Any:
    """The origin of what follows from two typical values, of which one may be assumed."""
    if not is_column(one) and not is_column(other):
        return "assumed" if "assumed" in (one, other) else one
    places = [each if is_column(each) else ORIGINS.index(each) for each in (one, other)]
    return choose(places[0] > places[1], *places)


F = 5 / 9
"""One Fahrenheit degree as a difference, K."""

HAIR = 0.09  # °F (0.05 K) allowed beyond the edge of a table, so that rounding of units never kills a look-up
FADING = 2.0  # °F inside an edge over which a table's answer comes to count; thermometers and tables are no surer


def fahrenheit(kelvin: float) -> float:
    """°F."""
    return (kelvin - 273.15) * 1.8 + 32


@lru_cache(maxsize=1)
def tables() -> dict[str, Any]:
    """targets.json, by table."""
    text = files("diagnose.properties.targets").joinpath("targets.json").read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return data
