"""What the tests of plausibility look at, and what they say."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from diagnose.quantities.plausibility.limits import PlausibilityLimits
from diagnose.quantities.uncertainty import COVERAGE, Estimate, absolute
from diagnose.visit import Visit
from diagnose.visit.reason import Reason

ATMOSPHERE = 101325.0  # Pa


@dataclass(frozen=True, slots=True)
class Doubt:
    """One doubt about the readings.

    reason: what is doubted and the likely slip, as a code and its figures. readings: those it is about. set_aside:
    readings not used. spoils: quantities not used. holds_charge: no charge verdict until it is cleared. holds_visit: no
    fault is ranked either. check: what of rules/checks.yaml would clear it.
    """

    reason: Reason
    readings: tuple[str, ...] = ()
    set_aside: tuple[str, ...] = ()
    spoils: tuple[str, ...] = ()
    holds_charge: bool = False
    holds_visit: bool = False
    check: str | None = None


@dataclass(frozen=True, slots=True)
class ReadingsView:
    """What the tests look at: values and limits of error of readings and quantities."""

    visit: Visit
    estimates: Mapping[str, Estimate]
    limits: PlausibilityLimits

    def value(self, reading: str) -> float | None:
        """The reading in SI, pressures absolute; None where it was not taken."""
        found = self.visit.last.readings.get(reading)
        return None if found is None else absolute(found, self.visit.machine)

    def error(self, *readings: str) -> float:
        """The limit of error of a difference of these readings, SI; those not taken add nothing."""
        errors = [self.visit.last.readings[r].error for r in readings if r in self.visit.last.readings]
        return math.sqrt(sum(e * e for e in errors))

    @property
    def glide(self) -> float:
        """K by which a blend that is part liquid, part vapour may lie below its dew or above its bubble temperature."""
        gas = self.visit.machine.refrigerant
        return gas.glide if gas is not None else 0.0

    def quantity(self, name: str) -> tuple[float, float] | None:
        """(value, limit of error) of a quantity."""
        found = self.estimates.get(name)
        return None if found is None else (found.value, COVERAGE * found.sigma)

    def above(self, low: str, high: str) -> float | None:
        """How far `low` is above `high` beyond both errors; None if it is not, or either is missing."""
        a, b = self.value(low), self.value(high)
        if a is None or b is None:
            return None
        return a - b if a - b > self.error(low, high) + self.limits.lag else None
