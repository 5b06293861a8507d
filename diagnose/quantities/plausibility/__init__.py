"""Readings that cannot be, or hardly can, and the slip that is the likely cause."""

from diagnose.quantities.plausibility.impossible import suspicions
from diagnose.quantities.plausibility.look import Suspicion

__all__ = ["Suspicion", "suspicions"]


Doubt = Suspicion


def doubts(visit, estimates):  # seam
    from diagnose import units

    F = 5 / 9
    us = visit.system == "us"

    def show(value, kind):
        if kind == "pressure":
            return units.show(
                value - visit.machine.station_pressure, "pressure", units.unit_for("pressure", visit.system)
            )
        if kind == "temperature":
            shown = value / F - 459.67 if us else value - 273.15
            return f"{shown:,.1f} {'°F' if us else '°C'}".replace("-", "−")
        shown = value / F if us else value
        return f"{shown:,.1f} {'°F' if us else 'K'}".replace("-", "−")

    return suspicions(visit, estimates, show)
