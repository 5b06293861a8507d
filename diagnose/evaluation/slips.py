"""Slips of the hand in a simulated visit, and whether the result names them."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from diagnose.diagnosis.record import Diagnosis
from diagnose.simulator import REFRIGERANTS
from diagnose.simulator.readings import VisitMapping

TWINS = (frozenset({"R-410A", "R-32", "R-454B"}), frozenset({"R-22", "R-407C"}))
"""Refrigerants whose pressures lie so near to one another that gauges can hardly tell them apart."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One kind of slip.

    made: the visit with the slip. codes: it is named where the result holds one of these doubts.
    """

    name: str
    made: Callable[[VisitMapping, random.Random], VisitMapping]
    codes: tuple[str, ...]

    def named(self, diagnosis: Diagnosis) -> bool:
        """Whether the result says so."""
        return any(doubt.reason.code in self.codes for doubt in diagnosis.doubts)


def swap(first: str, second: str) -> Callable[[VisitMapping, random.Random], VisitMapping]:
    """Two readings written, or probes clamped, in each other's place."""

    def made(visit: VisitMapping, chance: random.Random) -> VisitMapping:
        del chance
        taken = visit["readings"]
        assert isinstance(taken, Mapping)
        other = {first: second, second: first}
        return {**visit, "readings": {name: taken[other.get(name, name)] for name in taken}}

    return made


def _other_refrigerant(twin: bool) -> Callable[[VisitMapping, random.Random], VisitMapping]:
    """Another refrigerant is entered than the machine holds: a near twin, or one of quite other pressures."""

    def made(visit: VisitMapping, chance: random.Random) -> VisitMapping:
        machine = visit["machine"]
        assert isinstance(machine, Mapping)
        right = str(machine["refrigerant"])
        near = next(family for family in TWINS if right in family)
        options = [name for name in REFRIGERANTS if name != right and (name in near) == twin]
        return {**visit, "machine": {**machine, "refrigerant": chance.choice(options)}}

    return made


SLIPS: tuple[Slip, ...] = (
    Slip(
        "line clamps swapped",
        swap("suction line temperature", "liquid line temperature"),
        ("clamps-swapped",),
    ),
    Slip(
        "return and supply swapped",
        swap("return air dry bulb", "supply air dry bulb"),
        ("supply-air-above-return-air",),
    ),
    Slip(
        "wet and dry bulb swapped",
        swap("return air wet bulb", "return air dry bulb"),
        ("return-wet-bulb-above-dry-bulb",),
    ),
    Slip(
        "gauges swapped",
        swap("suction pressure", "liquid pressure"),
        ("suction-above-liquid",),
    ),
    Slip("another refrigerant", _other_refrigerant(twin=False), ("saturations-too-high", "saturations-too-low")),
    Slip("near-twin refrigerant", _other_refrigerant(twin=True), ("saturations-too-high", "saturations-too-low")),
)
