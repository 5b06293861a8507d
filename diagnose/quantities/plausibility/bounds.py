"""Readings that are possible by themselves, but not on this machine: beyond its plate, its capacity, or one another."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.quantities.plausibility.view import Doubt, ReadingsView, around
from diagnose.units import TON
from diagnose.units.columns import greater, lesser
from diagnose.visit.fields import HEATING
from diagnose.visit.reason import Reason


def beyond_the_plate(view: ReadingsView) -> Iterator[Doubt]:
    """Current, airflow and discharge temperature that no such machine has while it runs."""
    machine = view.visit.machine
    current, plate, size = (
        view.value("compressor current"),
        machine.fact("rated current"),
        machine.fact("nominal capacity"),
    )
    # Without the plate: what no compressor of this size is rated for.
    rated = plate
    if plate is None and size is not None:
        rated = view.limits.current_per_ton * size / TON
    if current is not None and rated is not None:
        yield Doubt(
            Reason(
                "current-beyond-the-plate" if plate is not None else "current-beyond-the-capacity",
                {"current": current, "rated": rated},
            ),
            readings=("compressor current",),
            set_aside=("compressor current",),
            holds_charge=True,
            check="clamp-the-current",
        ).times(around(current / rated, *view.limits.over_current))
    airflow = view.value("airflow")
    if airflow is not None and size is not None:
        per_capacity = airflow / size
        weight = greater(
            around(per_capacity, *view.limits.airflow_high), 1.0 - around(per_capacity, *view.limits.airflow_low)
        )
        yield Doubt(
            Reason("airflow-beyond-the-capacity", {"per_capacity": per_capacity}),
            readings=("airflow",),
            set_aside=("airflow",),
            holds_charge=True,
            check="confirm-the-airflow",
        ).times(weight)
    discharge = view.value("discharge line temperature")
    if discharge is not None:
        yield Doubt(
            Reason("discharge-line-too-hot", {"discharge": discharge}),
            readings=("discharge line temperature",),
            set_aside=("discharge line temperature",),
            holds_charge=True,
            check="clamp-the-discharge",
        ).times(around(discharge, view.limits.discharge_hot, view.limits.discharge_width))


_SUPPLY = ("supply air dry bulb", "supply air wet bulb", "supply air relative humidity")


def same_air(view: ReadingsView) -> Iterator[Doubt]:
    """Supply air as warm as return air, while the condenser gives off heat: that of this air, or in heating to this air."""
    heats = view.visit.machine.mode == HEATING
    returned, supply, over = (
        view.value("return air dry bulb"),
        view.value(_SUPPLY[0]),
        view.quantity("condensing over return air" if heats else "condensing over ambient"),
    )
    if returned is None or supply is None or over is None:
        return
    split = returned - supply
    aside = tuple(name for name in _SUPPLY if name in view.visit.last.readings)
    yield Doubt(
        Reason(
            "supply-air-not-warmed" if heats else "supply-air-same-as-return-air",
            {"split": split, "over": over[0], "set_aside": aside},
        ),
        readings=("return air dry bulb", "supply air dry bulb"),
        set_aside=aside,
        holds_charge=True,
        check="measure-the-air-rise" if heats else "measure-the-split",
    ).times(lesser(1.0 - around(abs(split), *view.limits.same_air), around(over[0], *view.limits.moves_heat)))
