"""Readings that cannot be, or hardly can, and the slip that is the likely cause."""

from diagnose.quantities.plausibility.impossible import suspicions
from diagnose.quantities.plausibility.look import Suspicion

__all__ = ["Suspicion", "suspicions"]
