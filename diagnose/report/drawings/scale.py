"""The paper of the pressure-enthalpy diagram: where a state lies on it, and how its figures are written."""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from diagnose import units
from diagnose.report.drawings.cycle import Corners
from diagnose.report.drawings.svg import Box, Point
from diagnose.report.wording import number
from diagnose.visit import System

WIDTH, HEIGHT = 640, 584
FRAME = Box(58, 112, 628, 516)

GLIDE_SHOWN = 1.0  # K; below it bubble and dew temperature are one figure to a technician


@dataclass(frozen=True, slots=True)
class DrawingScale:
    """Where a state lies on the paper, and how its figures are written."""

    system: System
    station: float  # Pa
    left: float  # J/kg at the frame's sides
    right: float
    bottom: float  # Pa at the frame's foot and head
    top: float

    def at(self, state: Point) -> Point:
        """Pixels of (J/kg, Pa)."""
        h, p = state
        x = FRAME.left + (h - self.left) / (self.right - self.left) * (FRAME.right - FRAME.left)
        y = FRAME.bottom - log(p / self.bottom) / log(self.top / self.bottom) * (FRAME.bottom - FRAME.top)
        return x, y

    def temperature(self, value: float) -> str:
        """A temperature, K, to a tenth."""
        return number(value, "temperature", self.system)

    def about(self, value: float) -> str:
        """For estimates and rules of thumb, which are good to some degrees."""
        shown = round(value * 1.8 - 459.67 if self.system == "us" else value - 273.15)
        return f"about {shown} {degree(self.system)}".replace("-", "−")

    def difference(self, value: float) -> str:
        """A difference, K, to a tenth."""
        return number(value, "difference", self.system)

    def pressure(self, value: float) -> str:
        """A pressure, Pa absolute, as a gauge shows it."""
        gauge = value - self.station
        return units.show(gauge, "pressure", units.unit_for("pressure", self.system))


def degree(system: System) -> str:
    """The unit of a temperature."""
    return "°F" if system == "us" else "°C"


def states(c: Corners) -> dict[str, Point]:
    """The corners by name, (J/kg, Pa), in the order in which the refrigerant meets them."""
    low, high = c.cycle.low, c.cycle.high
    return {
        "inlet": (c.liquid, low),
        "dew": (c.low_vapour, low),
        "suction": (c.suction, low),
        "discharge": (c.discharge, high),
        "high dew": (c.high_vapour, high),
        "bubble": (c.high_liquid, high),
        "liquid": (c.liquid, high),
    }
