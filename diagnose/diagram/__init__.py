"""Pictures of a visit: pressure against enthalpy, the circuit with its readings, the target superheat. SVG, no script."""

from diagnose.diagram.cycle import Cycle, Expected
from diagnose.diagram.pressure_enthalpy import pressure_enthalpy, pressure_enthalpy_of
from diagnose.diagram.svg import Drawing, NoDrawing

__all__ = ["Cycle", "Drawing", "Expected", "NoDrawing", "pressure_enthalpy", "pressure_enthalpy_of"]
