"""Readings that cannot be, or hardly can, and the slip that is the likely cause."""

from diagnose.plausibility.impossible import suspicions
from diagnose.plausibility.look import Suspicion

__all__ = ["Suspicion", "suspicions"]
