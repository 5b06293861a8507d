"""The visit file: machine, readings, what was seen; instrument errors; plausibility."""

from diagnose.units import System
from diagnose.visit.fields import COOLING, DEFROSTED, FIXED_ORIFICE, HEATING, INSTRUMENTS, MINUTES, READINGS, VALVES
from diagnose.visit.model import LineSet, Machine, Reading, Round, StartUp, Visit, machine_key
from diagnose.visit.reading import VisitError, read_visit, visit_from, visit_in

__all__ = [
    "COOLING",
    "DEFROSTED",
    "FIXED_ORIFICE",
    "HEATING",
    "INSTRUMENTS",
    "MINUTES",
    "READINGS",
    "VALVES",
    "LineSet",
    "Machine",
    "Reading",
    "Round",
    "StartUp",
    "System",
    "Visit",
    "VisitError",
    "machine_key",
    "read_visit",
    "visit_from",
    "visit_in",
]
