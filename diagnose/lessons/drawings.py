"""Drawings for lessons, from `diagram`: those of a visit, and a machine with a fault against the same one without it."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.record import Diagnosis
from diagnose.report.blocks import Block, line
from diagnose.report.drawings import Drawing, NoDrawing, measured_cycle, pressure_enthalpy_of
from diagnose.report.illustrated import figure, of_visit

__all__ = ["of_visit", "side_by_side"]


def side_by_side(faulty: Diagnosis, right: Diagnosis) -> Iterator[Block]:
    """The cycle with a fault, and that of the same machine without it, dashed."""
    now, before, gas = measured_cycle(faulty), measured_cycle(right), faulty.visit.machine.refrigerant
    if isinstance(now, NoDrawing) or isinstance(before, NoDrawing) or gas is None:
        return
    drawn = pressure_enthalpy_of(
        gas,
        now,
        before,
        faulty.system,
        station_pressure=faulty.visit.machine.station_pressure,
        names=("with the fault", "without it"),
    )
    if isinstance(drawn, Drawing):
        yield figure(drawn)
    else:
        yield line(drawn.why)
