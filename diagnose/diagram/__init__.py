"""Pictures of a visit: pressure against enthalpy, the circuit with its readings, the target superheat. SVG, no script."""

from diagnose.diagram.cycle import Cycle, Expected, expected_cycle, measured_cycle
from diagnose.diagram.pressure_enthalpy import pressure_enthalpy, pressure_enthalpy_of
from diagnose.diagram.schematic import schematic
from diagnose.diagram.superheat_chart import superheat_chart
from diagnose.diagram.svg import Drawing, NoDrawing

__all__ = [
    "Cycle",
    "Drawing",
    "Expected",
    "NoDrawing",
    "expected_cycle",
    "measured_cycle",
    "pressure_enthalpy",
    "pressure_enthalpy_of",
    "schematic",
    "superheat_chart",
]
