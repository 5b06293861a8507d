"""What the cases of each folder came to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.workshop.trials import CaseResult


@dataclass(frozen=True, slots=True)
class Tally:
    """What the cases of one folder came to.

    first_right: the true fault came first, of `ranked` where that could be. advice: of the charge verdicts given, how
    many were right, how many missed a charge that is off, how many would have done harm.
    """

    passed: int = 0
    failed: int = 0
    first_right: int = 0
    ranked: int = 0
    right: int = 0
    missed: int = 0
    harmful: int = 0

    @property
    def advised(self) -> int:
        """Charge verdicts given."""
        return self.right + self.missed + self.harmful


MOST_TRUSTED = ("lab", "textbook", "simulated", "demo")  # folders in this order, then others by name


def tally(results: Sequence[CaseResult]) -> dict[str, Tally]:
    """Per folder, the most trusted first. Folders are never pooled."""
    order = {name: i for i, name in enumerate(MOST_TRUSTED)}
    folders = sorted({r.case.folder for r in results}, key=lambda name: (order.get(name, len(order)), name))
    return {folder: _tally([r for r in results if r.case.folder == folder]) for folder in folders}


def _tally(results: Sequence[CaseResult]) -> Tally:
    first = [r.first_right for r in results if r.first_right is not None]
    advice = [r.advice for r in results]
    return Tally(
        passed=sum(r.passed for r in results),
        failed=sum(not r.passed for r in results),
        first_right=sum(first),
        ranked=len(first),
        right=advice.count("right"),
        missed=advice.count("missed"),
        harmful=advice.count("harmful"),
    )
