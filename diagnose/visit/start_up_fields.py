"""What the `start-up:` of a visit may hold, in the same kind of table as `fields.py`: group by group, in the order of the work.

Each group is one mapping of lines, but for `vacuum` and `blower table`: these are a list of rows, or a text such as
`0 min 320 microns, 10 min 410 microns`.
"""

from __future__ import annotations

from diagnose.units import IN_H2O, MICRON, Kind
from diagnose.visit.fields import LONGEST_LINE, Field, Section, VisitPart, Word

START_UP = "start-up"
TOLD = "told the customer"
LINE_CHECK: Section = "lines"
PRESSURE: Section = "pressure test"
VACUUM: Section = "vacuum"
HEAT: Section = "electric heat"
TABLE: Section = "blower table"
STATIC: Section = "static"
WEIGHED: Section = "charge"
GROUP_WORDS = {"evacuation": VACUUM, "decay test": VACUUM, "line set": LINE_CHECK, "nitrogen test": PRESSURE,
               "leak test": PRESSURE, "heat rise": HEAT, "fan table": TABLE, "static pressure": STATIC, "weigh in": WEIGHED,
               "customer": TOLD}  # fmt: skip
"""What the groups are called as well; common practice, no source."""
ROWS = (VACUUM, TABLE)
"""The groups that are rows of two figures."""

GROUPS: tuple[VisitPart, ...] = (
    VisitPart(
        LINE_CHECK,
        "How the lines between the units lie, and what the maker allows. What they are: `machine: line set`.",
        "{longest allowed: 150 ft, highest lift allowed: 50 ft, insulation: whole}",
    ),
    VisitPart(
        PRESSURE,
        "The pressure test with nitrogen, at its start and at its end.",
        "{gas: nitrogen, start pressure: 450 psig, end pressure: 447 psig}",
    ),
    VisitPart(
        VACUUM,
        "The vacuum after the pump was valved off: minutes since then, and what the vacuum gauge shows.",
        "0 min 320 microns, 5 min 390 microns, 10 min 410 microns",
    ),
    VisitPart(
        HEAT,
        "Airflow by the temperature rise over electric heat, blower at cooling speed, compressor off.",
        "{power: 9.6 kW, return air: 70 F, supply air: 95 F}",
    ),
    VisitPart(
        TABLE,
        "The maker's blower table for the speed that is set: external static pressure and airflow.",
        "0.3 inH2O 1280 cfm, 0.5 inH2O 1180 cfm",
    ),
    VisitPart(
        STATIC,
        "The external static pressure, and what uses it up.",
        "{measured: 0.45 inH2O, highest allowed: 0.5 inH2O}",
    ),
    VisitPart(WEIGHED, "What was weighed in or out.", "{added: 12 oz}"),
)
TOLD_PART = VisitPart(
    TOLD, "What the customer was told or shown: a text, or a list of them.", "[where the filter is, how to shut off]"
)

_F0, _F = 255.372, 1 / 1.8  # 0 °F in kelvin, and a degree of it


def _line(
    section: Section,
    name: str,
    kind: Kind,
    about: str,
    examples: tuple[str, ...],
    low: float,
    high: float,
    by: str = "",
    where: str = "",
) -> Field:
    """by: the instrument it is read from; none for what stands in papers. where: what tells it from a line like it."""
    return Field(section, name, kind, about, examples, low, high, about.rstrip("."), instrument=by, where=where)


def _air(name: str, about: str, us: str, si: str) -> Field:
    return _line(HEAT, name, "temperature", about, (us, si), _F0 - 20 * _F, _F0 + 200 * _F, "air thermometers")


def _drop(name: str, about: str, us: str, si: str) -> Field:
    return _line(STATIC, name, "small pressure", about, (us, si), 0.0, 6 * IN_H2O, "manometer")


def _look(section: Section, name: str, about: str, choices: tuple[str, ...], **same_as: str) -> Word:
    written = {said.replace("_", " "): word for said, word in same_as.items()}
    return Word(section, name, about, (choices[0],), f"{about.rstrip('.')}: {', '.join(choices)}", 0, choices, written)


# fmt: off
START_UP_FIELDS: tuple[Field | Word, ...] = (
    _line(LINE_CHECK, "longest allowed", "length", "The longest line set that the maker allows.", ("150 ft", "45 m"), 1.0,
          300.0),
    _line(LINE_CHECK, "highest lift allowed", "length", "The largest lift that the maker allows.", ("50 ft", "15 m"), 1.0,
          LONGEST_LINE * 1.5),
    _line(LINE_CHECK, "maker's liquid line", "length", "The liquid line that the maker asks for at this length.",
          ("3/8 in", "10 mm"), 0.004, 0.1),
    _line(LINE_CHECK, "maker's suction line", "length", "The suction line that the maker asks for at this length.",
          ("3/4 in", "19 mm"), 0.004, 0.1),
    _look(LINE_CHECK, "insulation", "Insulation of the suction line.", ("whole", "damaged", "missing"), good="whole",
          ok="whole", complete="whole", torn="damaged", none="missing"),
    _look(LINE_CHECK, "slope", "Whether the lines run without a sag in which oil stays.", ("as it should be", "sags"),
          good="as it should be", ok="as it should be", sagging="sags", bad="sags"),
    _look(LINE_CHECK, "traps", "Oil traps, where the maker asks for them.", ("as the maker asks", "missing", "not needed"),
          good="as the maker asks", ok="as the maker asks", none="not needed"),
    _look(PRESSURE, "gas", "The test gas.", ("nitrogen", "oxygen", "air", "refrigerant", "another gas"), n2="nitrogen",
          dry_nitrogen="nitrogen", o2="oxygen", compressed_air="air", co2="another gas", argon="another gas",
          helium="another gas"),
    _line(PRESSURE, "start pressure", "pressure", "Pressure when the test began.", ("450 psig", "31 bar gauge"), 1e4, 2.0e7,
          "gauges", "when the test began"),
    _line(PRESSURE, "start temperature", "temperature", "Temperature of the lines when the test began.", ("78 F", "26 C"),
          _F0 - 20 * _F, _F0 + 150 * _F, "pipe clamps"),
    _line(PRESSURE, "end pressure", "pressure", "Pressure when it ended.", ("441 psig", "30.4 bar gauge"), -2e4, 2.0e7,
          "gauges", "when it ended"),
    _line(PRESSURE, "end temperature", "temperature", "Temperature of the lines when it ended.", ("69 F", "21 C"),
          _F0 - 20 * _F, _F0 + 150 * _F, "pipe clamps"),
    _line(PRESSURE, "held", "time", "How long the pressure stood.", ("60 min", "14 h"), 0.0, 30 * 86400.0),
    _line(PRESSURE, "highest allowed", "pressure", "The highest test pressure that the plate allows.",
          ("550 psig", "38 bar gauge"), 1e5, 6.0e6),
    _look(PRESSURE, "bubbles", "Joints under bubble solution.", ("none", "seen", "not looked"), no="none", yes="seen"),
    _line(VACUUM, "minutes", "time", "Minutes since the pump was valved off.", ("0 min", "5 min"), 0.0, 3 * 86400.0),
    _line(VACUUM, "pressure", "vacuum", "What the vacuum gauge shows then.", ("320 microns", "0.43 mbar"), MICRON, 8e5 * MICRON,
          "vacuum gauge"),
    _line(HEAT, "power", "capacity", "Power of heater and blower together.", ("9.6 kW",), 300.0, 60e3, "power meter"),
    _line(HEAT, "voltage", "voltage", "Voltage at the heater, in place of the power.", ("240 V",), 80.0, 700.0, "voltmeter"),
    _line(HEAT, "current", "current", "Current of heater and blower together.", ("40 A",), 1.0, 300.0, "current clamp"),
    _look(HEAT, "phases", "How many phases the heater has.", ("one", "three"), single="one", single_phase="one",
          three_phase="three"),
    _air("return air", "Air into the heater, after the rise had settled.", "70 F", "21 C"),
    _air("supply air", "Air behind the heater, out of sight of its wires.", "95 F", "35 C"),
    _line(TABLE, "external static pressure", "small pressure", "External static pressure of this row.", ("0.5 inH2O", "125 Pa"),
          0.0, 6 * IN_H2O),
    _line(TABLE, "airflow", "airflow", "Airflow of this row.", ("1180 cfm", "557 L/s"), 0.01, 50.0),
    _drop("measured", "External static pressure, supply plus return side, coil wet where it will be.", "0.45 inH2O", "112 Pa"),
    _drop("filter", "Drop over the filter.", "0.10 inH2O", "25 Pa"),
    _drop("coil", "Drop over the indoor coil, where it is not in the maker's figure.", "0.20 inH2O", "50 Pa"),
    _drop("supply side", "Supply duct and its grilles.", "0.10 inH2O", "25 Pa"),
    _drop("return side", "Return duct and its grilles.", "0.08 inH2O", "20 Pa"),
    _drop("other", "Anything else in the way, such as a humidifier or dampers.", "0.05 inH2O", "12 Pa"),
    _line(STATIC, "highest allowed", "small pressure", "The highest external static pressure that the plate allows.",
          ("0.5 inH2O", "125 Pa"), 5.0, 6 * IN_H2O),
    _line(WEIGHED, "added", "mass", "Weighed in beyond the factory charge.", ("12 oz", "340 g"), 0.0, 500.0, "charging scale",
          "beyond the factory charge"),
    _line(WEIGHED, "removed", "mass", "Weighed out of the factory charge.", ("4 oz", "110 g"), 0.0, 500.0, "charging scale"),
    _line(WEIGHED, "whole", "mass", "The whole charge, where all of it was weighed in.", ("6 lb 10 oz", "3 kg"), 0.05, 500.0,
          "charging scale", "all of it"),
)
# fmt: on


def lines_of(section: Section) -> dict[str, Field | Word]:
    """The lines of one group, by name."""
    return {one.name: one for one in START_UP_FIELDS if one.section == section}
