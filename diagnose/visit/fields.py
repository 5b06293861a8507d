"""What a visit file may hold: machine facts and readings, each with its kind of unit and the instrument that takes it.

To add a reading, add a line here; then use its name as a parameter of a quantity in `quantities.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.units import PSI, Kind

FIXED_ORIFICE = "fixed orifice"
VALVES = ("TXV", "EEV")

CHOICES: dict[str, tuple[str, ...]] = {
    "mode": ("cooling", "heating"),
    "metering": (FIXED_ORIFICE, *VALVES),
}

# Other words that technicians write for the same thing (common practice, no source).
SAME_AS: dict[str, dict[str, str]] = {
    "mode": {"cool": "cooling", "ac": "cooling", "heat": "heating"},
    "metering": {
        "orifice": FIXED_ORIFICE,
        "fixed": FIXED_ORIFICE,
        "piston": FIXED_ORIFICE,
        "capillary tube": FIXED_ORIFICE,
        "cap tube": FIXED_ORIFICE,
        "fixed metering device": FIXED_ORIFICE,
        "tev": "TXV",
        "thermostatic expansion valve": "TXV",
        "electronic expansion valve": "EEV",
        "exv": "EEV",
    },
}

MACHINE: dict[str, Kind] = {
    "nominal capacity": "capacity",
    "SEER": "number",
    "rated subcooling": "difference",
    "rated superheat": "difference",
    "rated current": "current",
    "rated airflow": "airflow",
    "factory charge": "mass",
    "altitude": "length",
    "station pressure": "station pressure",
}
LINE_SET: dict[str, Kind] = {"liquid line": "length", "length": "length", "included": "length"}
MACHINE_WORDS = ("name", "refrigerant", *CHOICES)

# What no such machine can have, in SI; outside it the value is a slip of the pen or of the unit.
MACHINE_RANGE: dict[str, tuple[float, float]] = {
    "nominal capacity": (500.0, 2.0e6),
    "SEER": (4.0, 45.0),
    "rated subcooling": (0.5, 20.0),
    "rated superheat": (0.5, 25.0),
    "rated current": (0.5, 500.0),
    "rated airflow": (0.02, 50.0),
    "factory charge": (0.05, 500.0),
    "altitude": (-500.0, 5000.0),
    "station pressure": (50e3, 110e3),
}


@dataclass(frozen=True, slots=True)
class ReadingSpec:
    """One reading: its kind of unit, who takes it, where, and what it can be at all (SI; gauge pressures as gauge)."""

    kind: Kind
    instrument: str
    where: str
    low: float
    high: float


_F0 = 255.372  # 0 °F in kelvin
_AIR = (_F0 - 40 / 1.8, _F0 + 140 / 1.8)
_PIPE = (_F0 - 60 / 1.8, _F0 + 250 / 1.8)
_GAUGE = (-101.0e3, 6.0e6)


def _air(where: str) -> ReadingSpec:
    return ReadingSpec("temperature", "air thermometers", where, *_AIR)


def _pipe(where: str, high: float = _PIPE[1]) -> ReadingSpec:
    return ReadingSpec("temperature", "pipe clamps", where, _PIPE[0], high)


def _gauge(where: str) -> ReadingSpec:
    return ReadingSpec("pressure", "gauges", where, *_GAUGE)


READINGS: dict[str, ReadingSpec] = {
    "suction pressure": _gauge("at the suction service valve"),
    "liquid pressure": _gauge("at the liquid service valve"),
    "suction line temperature": _pipe("on the suction line near its service valve, clean pipe, insulated"),
    "liquid line temperature": _pipe("on the liquid line near its service valve, clean pipe, insulated"),
    "discharge line temperature": _pipe(
        "on the discharge line about 6 in (15 cm) from the compressor", _F0 + 400 / 1.8
    ),
    "outdoor air temperature": _air("entering the outdoor coil, in the shade"),
    "return air dry bulb": _air("in the return duct near the indoor coil"),
    "return air wet bulb": _air("in the return duct near the indoor coil, wick wet and clean"),
    "return air relative humidity": ReadingSpec(
        "percent", "humidity meter", "in the return duct near the indoor coil", 0, 1
    ),
    "supply air dry bulb": _air("in the supply duct, out of sight of the coil"),
    "supply air wet bulb": _air("in the supply duct, out of sight of the coil, wick wet and clean"),
    "supply air relative humidity": ReadingSpec("percent", "humidity meter", "in the supply duct", 0, 1),
    "airflow": ReadingSpec("airflow", "airflow meter", "through the indoor coil", 0.0, 60.0),
    "external static pressure": ReadingSpec(
        "small pressure", "manometer", "across the indoor unit, supply plus return side", -100.0, 1500.0
    ),
    "compressor current": ReadingSpec("current", "current clamp", "on one compressor lead", 0.0, 500.0),
    "drier inlet temperature": _pipe("on the liquid line before the filter drier"),
    "drier outlet temperature": _pipe("on the liquid line after the filter drier"),
    "metering inlet temperature": _pipe("on the liquid line just before the metering device"),
    "metering inlet pressure": _gauge("on the liquid line just before the metering device, at its service port"),
    "coil outlet temperature": _pipe("on the suction line where it leaves the indoor coil"),
    "condenser leaving air temperature": ReadingSpec(
        "temperature", "air thermometers", "in the air the outdoor fan throws out", _AIR[0], _F0 + 180 / 1.8
    ),
    "standing pressure": _gauge("on either side, unit off and both sides equal"),
    "standing air temperature": _air("around the whole machine, unit off until pipe and air agree"),
}


@dataclass(frozen=True, slots=True)
class Instrument:
    """Limit of error (95 of 100 readings lie within it): a share of the reading plus a fixed part in SI."""

    share: float
    fixed: float
    kind: Kind
    source: str
    least: float = 0.0  # SI; no instrument is better than this near its zero


# Defaults, used where the visit does not say; the visit's own `instruments:` goes first.
INSTRUMENTS: dict[str, Instrument] = {
    "gauges": Instrument(
        0.01, 0.0, "pressure", "1 % of reading: tests/reference/uncertainty_superheat_subcooling.csv", least=0.5 * PSI
    ),
    # ±(0.1 % of reading in °F + 1.3 °F) is the protocol's thermometer; at 61 to 100 °F that is 1.4 °F.
    "pipe clamps": Instrument(0.0, 1.4 / 1.8, "difference", "CEC 2008 Residential Appendices RA3, p. RA3-10"),
    "air thermometers": Instrument(0.0, 1.0 / 1.8, "difference", "common practice, no source"),
    "humidity meter": Instrument(0.0, 0.03, "percent", "common practice, no source"),
    "airflow meter": Instrument(0.10, 0.0, "airflow", "common practice, no source"),
    "manometer": Instrument(0.02, 2.5, "small pressure", "common practice, no source"),
    "current clamp": Instrument(0.03, 0.1, "current", "common practice, no source"),
}

# Limit of error of the station pressure, Pa: read off a barometer; worked out from the altitude (weather moves it by
# about ±10 hPa); or sea level assumed because nothing was said (the altitude too may then be a few hundred feet).
STATION_ERROR = {"measured": 300.0, "altitude": 1500.0, "assumed": 3000.0}

# One probe against itself some minutes apart: its error of place and scale is the same both times, so only this
# jitter is left when rounds are compared (resolution 0.2 °F of the protocol's thermometer; common practice).
REPEATABILITY = 0.2 / 1.8
