"""Readings that cannot be, or hardly can, and the slip that is the likely cause."""

from diagnose.quantities.plausibility.impossible import doubts, doubts_of_any_machine
from diagnose.quantities.plausibility.view import Doubt

__all__ = ["Doubt", "doubts", "doubts_of_any_machine"]
