"""Readings that cannot be, or hardly can, and the slip that is the likely cause."""

from diagnose.quantities.plausibility.impossible import doubts, doubts_of_any_machine
from diagnose.quantities.plausibility.view import Doubt, Layer, layers, taken

__all__ = ["Doubt", "Layer", "doubts", "doubts_of_any_machine", "layers", "taken"]
