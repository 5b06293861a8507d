"""Readings and machine facts of a practice visit as a class reads them: US and SI side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from diagnose import units
from diagnose.practice.exercise import Exercise
from diagnose.units import Kind
from diagnose.visit import System
from diagnose.visit.fields import MACHINE, READINGS


def shown(name: str, text: str, system: System) -> str:
    """A reading in the units of a system: `132 psig`, `910 kPa gauge`."""
    return _in(text, READINGS[name].kind, system)


def fact(name: str, value: Any) -> str:
    """A machine fact with the other system's unit behind it, where it has one: `3.0 ton (10.6 kW)`."""
    kind = _kind_of(name)
    if kind is None:
        return str(value)
    us, si = _in(str(value), kind, "us"), _in(str(value), kind, "si")
    return us if us == si else f"{us} ({si})"


def _in(text: str, kind: Kind, system: System) -> str:
    unit = units.unit_for(kind, system)
    return units.show(units.parse(text, kind).value, kind, unit, decimals=_DECIMALS.get((kind, system)))


# What instruments of the trade show; where nothing stands here, units.show knows.
_DECIMALS: Mapping[tuple[Kind, System], int] = {("pressure", "us"): 1, ("temperature", "si"): 1}


def converted(exercise: Exercise, system: System) -> Exercise:
    """The same practice visit with every reading and fact in the units of a system, as its instruments would show them."""

    def readings(texts: Mapping[str, str]) -> dict[str, str]:
        return {name: _plain(shown(name, text, system)) for name, text in texts.items()}

    facts = {
        name: _plain(_in(str(value), kind, system)) if (kind := _kind_of(name)) else value
        for name, value in exercise.machine.items()
    }
    return replace(
        exercise,
        machine=facts,
        readings=readings(exercise.readings),
        true=readings(exercise.true),
        healthy=readings(exercise.healthy),
        slip=readings(exercise.slip),
    )


def _plain(text: str) -> str:
    """Without the comma between thousands and the minus sign of print, which a visit file had better not have."""
    return text.replace(",", "").replace("−", "-")


def _kind_of(name: str) -> Kind | None:
    kind = MACHINE[name].kind if name in MACHINE else None
    return None if kind == "number" else kind
