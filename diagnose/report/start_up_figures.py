"""The figures of a start-up in the units that a diagnosis is told in."""

from __future__ import annotations

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.wording import number, plain_show


class Show:
    """Figures in the units that the diagnosis is told in."""

    def __init__(self, d: Diagnosis) -> None:
        self.d, self.system = d, d.system
        self.gauge = plain_show(d.visit, d.system)

    def pressure(self, value: float) -> str:
        """Pa absolute, as a gauge shows it."""
        return self.gauge(value, "pressure")

    def difference(self, value: float) -> str:
        """Of two pressures, Pa."""
        return f"{value / units.PSI:.1f} psi" if self.system == "us" else f"{value / 1e3:.0f} kPa"

    def gap(self, value: float, error: float) -> str:
        """A difference of pressures and its limit of error."""
        scale, unit, places = (units.PSI, "psi", 1) if self.system == "us" else (1e3, "kPa", 0)
        shown = f"{value / scale:.{places}f}".replace("-", "−")
        return f"{shown.removeprefix('−') if not shown.strip('−0.') else shown} ± {error / scale:.{places}f} {unit}"

    def vacuum(self, value: float) -> str:
        """Pa absolute."""
        microns = f"{value / units.MICRON:,.0f} microns"
        return microns if self.system == "us" else f"{value:,.0f} Pa ({microns})"

    def rate(self, value: float) -> str:
        """Of a vacuum, Pa/s."""
        microns = f"{value / units.MICRON * 60:,.0f} microns"
        return f"{microns} a minute" if self.system == "us" else f"{value * 60:,.1f} Pa ({microns}) a minute"

    def temperature(self, value: float) -> str:
        """K."""
        return number(value, "temperature", self.system)

    def warmer(self, value: float) -> str:
        """A difference of temperatures, K."""
        return number(value, "difference", self.system)

    def time(self, value: float) -> str:
        """s; hours where it is long."""
        if value >= 7200:
            return f"{value / 3600:.3g} hours"
        minutes = value / 60
        return f"{minutes:.3g} minute{'s' if minutes != 1 else ''}"

    def flow(self, value: float) -> str:
        """m³/s."""
        return units.show(value, "airflow", units.unit_for("airflow", self.system))

    def flow_error(self, value: float) -> str:
        """A bare limit of error in the same unit."""
        return f"{units.from_si(value, units.unit_for('airflow', self.system), 'airflow'):,.0f}"

    def duct(self, value: float) -> str:
        """Pa."""
        return number(value, "small pressure", self.system)

    def length(self, value: float) -> str:
        """m: a distance."""
        return units.show(
            value, "length", "ft" if self.system == "us" else "m", decimals=0 if self.system == "us" else 1
        )

    def size(self, value: float) -> str:
        """m: a tube."""
        sixteenths = round(value / units.INCH * 16)
        fraction = units.show(sixteenths / 16 * units.INCH, "length", "in")
        return fraction if self.system == "us" else f"{value * 1e3:.1f} mm"

    def mass(self, value: float) -> str:
        """kg."""
        return units.show(abs(value), "mass", "lb" if self.system == "us" else "kg")
