"""Pictures of a visit: pressure against enthalpy, the circuit with its readings, the target superheat. SVG, no script."""

from diagnose.report.drawings.cycle import Cycle, ExpectedCycle, expected_cycle, measured_cycle
from diagnose.report.drawings.pressure_enthalpy import pressure_enthalpy, pressure_enthalpy_of
from diagnose.report.drawings.schematic import schematic
from diagnose.report.drawings.superheat_chart import superheat_chart
from diagnose.report.drawings.svg import Drawing, NoDrawing
from diagnose.report.drawings.vacuum_chart import vacuum_chart
