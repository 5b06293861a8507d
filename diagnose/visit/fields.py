"""What a visit file may hold: one table. The reader, the JSON Schema, the questions of `diagnose ask`, the glossary and the
examples in messages are all made from it.

To add a reading or a machine fact, add a line to FIELDS; then use its name as a parameter of a quantity.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.units import HIGHEST_STATION, IN_H2O, INCH, MICRON, PSI, Kind
from diagnose.units.columns import greater
from diagnose.visit.machine_words import BUILT_FOR as BUILT_FOR
from diagnose.visit.machine_words import HIGH_SIDE_READ as HIGH_SIDE_READ
from diagnose.visit.machine_words import MICROCHANNEL as MICROCHANNEL
from diagnose.visit.machine_words import OF_ITS_KIND
from diagnose.visit.machine_words import OUTDOORS as OUTDOORS
from diagnose.visit.machine_words import RUNNING_AT as RUNNING_AT
from diagnose.visit.machine_words import Section as Section
from diagnose.visit.machine_words import Word as Word

MINUTES = "minutes running"
DEFROSTED = "minutes since defrost"
COOLING = "cooling"  # also where nobody says it
HEATING = "heating"
FIXED_ORIFICE = "fixed orifice"
VALVES = ("TXV", "EEV")
METERING_DEVICE = "metering device"  # by its own name, where that says more
CAPILLARY = "capillary tube"
CAPILLARIES = (CAPILLARY, "capillary", "cap tube", "captube")
"""What the trade writes for one: charged like a fixed orifice, but by weight only."""


class Instrument(NamedTuple):
    """Limit of error (95 of 100 readings lie within it): a share of the reading plus a fixed part in SI."""

    share: float
    fixed: float
    kind: Kind
    source: str
    least: float = 0.0  # SI; no instrument that is rated by a share is better than this near its zero

    def error(self, value: float) -> float:
        """Its limit of error at a value, SI; the value may be a column."""
        return greater(self.share * abs(value) + self.fixed, self.least)  # type: ignore[no-any-return]


class Believable(NamedTuple):
    """How large an instrument's limit of error can be at all.

    share: of the reading (None: a share of such a reading says nothing). amount: SI. why: a clause.
    """

    share: float | None
    amount: float
    why: str


class Field(NamedTuple):
    """One line of a visit that holds a number with its unit.

    about: a sentence. examples: as it is written, US first, then SI where that is written otherwise. low, high: what it can be
    at all, SI, gauge pressures as gauge; outside it is a slip of the pen or of the unit. asked: its place among the first
    questions of the interview (0: among the further ones). instrument, where: of a reading, who takes it and at which place.
    default, believable: of an instrument.
    """

    section: Section
    name: str
    kind: Kind
    about: str
    examples: tuple[str, ...]
    low: float
    high: float
    question: str = ""
    asked: int = 0
    instrument: str = ""
    where: str = ""
    default: Instrument | None = None
    believable: Believable | None = None


class VisitPart(NamedTuple):
    """One of the parts that a visit is made of, or a group of lines within one."""

    name: str
    about: str
    example: str


_F0 = 255.372  # 0 °F in kelvin
_F = 1 / 1.8  # a degree Fahrenheit of difference, K


def _reading(
    name: str,
    kind: Kind,
    instrument: str,
    where: str,
    examples: tuple[str, ...],
    low: float,
    high: float,
    asked: int = 0,
) -> Field:
    about = f"Measured {where}."
    question = f"{name}, {where}"
    return Field("readings", name, kind, about, examples, low, high, question, asked, instrument, where)


def _air(name: str, where: str, us: str, si: str, asked: int = 0, high: float = 140.0) -> Field:
    limits = (_F0 - 40 * _F, _F0 + high * _F)
    return _reading(name, "temperature", "air thermometers", where, (us, si), *limits, asked)


def _pipe(name: str, where: str, us: str, si: str, asked: int = 0, high: float = 250.0) -> Field:
    limits = (_F0 - 60 * _F, _F0 + high * _F)
    return _reading(name, "temperature", "pipe clamps", where, (us, si), *limits, asked)


def _gauge(name: str, where: str, us: str, si: str, asked: int = 0) -> Field:
    return _reading(name, "pressure", "gauges", where, (us, si), -HIGHEST_STATION, 6.0e6, asked)


def _digital(name: str, where: str, us: str, si: str) -> Field:
    return _reading(name, "difference", "digital gauges", where, (us, si), -10.0, 80.0)


def _fact(
    name: str, kind: Kind, about: str, examples: tuple[str, ...], low: float, high: float, question: str, asked: int = 0
) -> Field:
    return Field("machine", name, kind, about, examples, low, high, question, asked)


def _instrument(
    name: str, about: str, examples: tuple[str, ...], default: Instrument, share: float | None, amount: float, why: str
) -> Field:
    believable = Believable(share, amount, why)
    return Field(
        "instruments", name, default.kind, about, examples, 0.0, amount, default=default, believable=believable
    )


NO_TRUE_ZERO = "degrees do not count from a true zero, so a share of them says nothing"
LONGEST_LINE = 80.0  # m; makers allow 75 m between the two units at the most (common practice)
_CLAMP = "a clamp that is off by more does not touch the pipe"

# fmt: off
PARTS: tuple[VisitPart, ...] = (
    VisitPart("machine", "What the machine is.", "refrigerant: R-410A"),
    VisitPart("instruments", "How exact the instruments are.", "gauges: 1 %"),
    VisitPart("readings", "What was measured: one round, or a list of rounds, each with its `minutes running`.",
         "suction pressure: 118 psig"),
    VisitPart("seen", "What was looked at, in the words of findings.yaml.", "air filter: clean"),
    VisitPart("baseline", "The same machine when it was known to be right: its readings then, a whole visit, or the path of "
         "that visit's file, from the folder of this one.", "baseline: {readings: {suction pressure: 118 psig}}"),
    VisitPart("start-up", "What was done and measured when the machine was first started.",
         "pressure test: {gas: nitrogen, start pressure: 450 psig}"),
    VisitPart("complaint", "What the customer says. Free text: kept and printed, never judged.", "no cooling since Sunday"),
    VisitPart("date", "When it was.", "2026-07-14"),
    VisitPart("technician", "Who took the readings.", "the early shift"),
    VisitPart("notes", "Anything else. Free text: kept and printed, never judged.", "the key is at the bakery"),
    VisitPart("done", "What was done: a text, or a list of them.", "[filter changed, outdoor coil washed]"),
    VisitPart("refrigerant", "Refrigerant that went in and came out on this visit, for the log that the law asks for in many "
         "places. Kept, printed and summed, never judged.", "refrigerant: {added: 12 oz, recovered: 4 oz}"),
    VisitPart("practice", "Of a practice visit: kept by `diagnose practice`, left alone by people.", "asked: []"),
)
LINES = VisitPart("line set", "The lines between the units, where the charge is to be worked out for them.",
             "{liquid line: 3/8 in, length: 35 ft, included: 15 ft}")
RECOVERED = "recovered charge"
WEIGHED_IN = "weighed in"
THIS_DAY = (RECOVERED, WEIGHED_IN)
"""What a scale said of the machine on the day of the visit; no other day has it."""
TIMES_THE_PLATE = 5.0
"""How often the factory charge no line set and no overcharge brings a machine to hold; judgement."""
PLATE_HOLDS = (0.08 / 3516.85, 6.0 / 3516.85)
"""kg per W: 0.08 to 6 kg/ton. Plates say 0.2 (propane) to 3, from memory; ounces written as pounds lie beyond, kilograms
do not."""

FIELDS: tuple[Field | Word, ...] = (
    Word("machine", "name", "Any label.", ("walk-in shop, unit 2",), "What you call this machine"),
    Word("machine", "mode", "What it is doing now.", ("cooling", "heating"), "Cooling or heating", 3, ("cooling", "heating"),
         {"cool": "cooling", "ac": "cooling", "a/c": "cooling", "air conditioning": "cooling", "cooling mode": "cooling",
          "heat": "heating", "heating mode": "heating"}),
    Word("machine", "refrigerant", "From the rating plate; R-410A, R410A and r410a are the same.", ("R-410A",),
         "Refrigerant on the rating plate", 1),
    Word("machine", "metering", "What lets the liquid into the indoor coil.", (FIXED_ORIFICE, *VALVES),
         "Metering device: fixed orifice, TXV or EEV", 2, (FIXED_ORIFICE, *VALVES),
         {"orifice": FIXED_ORIFICE, "fixed": FIXED_ORIFICE, "piston": FIXED_ORIFICE,
          **dict.fromkeys(CAPILLARIES, FIXED_ORIFICE), "fixed metering device": FIXED_ORIFICE, "tev": "TXV",
          "tx valve": "TXV", "thermal expansion valve": "TXV",
          "thermostatic expansion valve": "TXV", "electronic expansion valve": "EEV", "exv": "EEV"}),
    *OF_ITS_KIND,
    _fact("nominal capacity", "capacity", "From the rating plate or the model number.", ("3 ton", "10.5 kW"), 500.0, 2.0e6,
          "Nominal capacity", 6),
    _fact("SEER", "number", "From the rating plate; a plain number.", ("14",), 4.0, 45.0, "SEER", 5),
    _fact("SEER2", "number", "From the rating plate; taken as 0.95 SEER where no SEER stands beside it.", ("13.4",), 4.0, 45.0,
          "SEER2"),
    _fact("rated subcooling", "difference", "From the rating plate of the outdoor unit; a difference.", ("10 F", "5.5 K"),
          0.5, 20.0, "Rated subcooling on the plate (TXV, EEV)", 4),
    _fact("rated heating subcooling", "difference", "In heating, from the maker's chart for this weather; a difference.",
          ("15 F", "8 K"), 0.5, 30.0, "Subcooling in heating, where the maker states one"),
    _fact("rated superheat", "difference", "From the maker's papers; a difference.", ("12 F", "7 K"), 0.5, 25.0,
          "Rated superheat, where the maker states one"),
    _fact("rated current", "current", "Of the compressor, from the rating plate.", ("17 A",), 0.5, 500.0,
          "Rated current of the compressor, on the plate"),
    _fact("rated voltage", "voltage", "Of the supply, from the rating plate; of `208/230 V` the one that is there.", ("230 V",),
          80.0, 700.0, "Rated voltage, on the plate"),
    _fact("control voltage", "voltage", "Of the contactor coil; 24 V unless said.", ("24 V",), 5.0, 300.0,
          "Voltage of the contactor coil"),
    _fact("capacitor rating", "capacitance", "Of the compressor's run capacitor, on its can.", ("45 uF",), 1e-6, 4e-4,
          "Run capacitor of the compressor, on its can"),
    _fact("fan capacitor rating", "capacitance", "Of the outdoor fan's run capacitor, on its can.", ("5 uF",), 1e-6, 1e-4,
          "Run capacitor of the outdoor fan, on its can"),
    _fact("capacitor tolerance", "percent", "Of the capacitors, on their cans; 6 % unless said.", ("6 %",), 0.01, 0.2,
          "Tolerance of the capacitors, on their cans"),
    _fact("high pressure cut-out", "pressure", "Where its high pressure switch opens, from the rating plate or the switch.",
          ("610 psig", "42 bar gauge"), 0.3e6, 6.0e6, "High pressure cut-out, on the plate or the switch"),
    _fact("rated airflow", "airflow", "Over the indoor coil, from the maker's papers.", ("1200 cfm", "570 L/s"), 0.02, 50.0,
          "Rated airflow over the indoor coil"),
    _fact("factory charge", "mass", "From the rating plate.", ("6 lb 4 oz", "2.8 kg"), 0.05, 500.0, "Factory charge", 7),
    _fact(RECOVERED, "mass", "All that came out of the machine on this visit, by the scale: it tells what the machine held.",
          ("4 lb 2 oz", "1.87 kg"), 0.0, 500.0, "Recovered charge, by the scale"),
    _fact(WEIGHED_IN, "mass", "All that was weighed into the evacuated machine on this visit.", ("6 lb 12 oz", "3.06 kg"), 0.0,
          500.0, "Weighed in after evacuation, by the scale"),
    _fact("altitude", "length", "Of the site; it sets the atmospheric pressure.", ("250 ft", "80 m"), -500.0, 5000.0,
          "Altitude of the site", 8),
    _fact("station pressure", "station pressure", "At the site, not reduced to sea level; instead of the altitude.",
          ("29.6 inHg", "1002 hPa"), 50e3, 110e3, "Station pressure, not reduced to sea level"),
    Field("line set", "liquid line", "length", "Outside diameter of the liquid line.", ("3/8 in", "9.5 mm"), 0.1 * INCH, 0.1),
    Field("line set", "length", "length", "Length of the liquid line, one way.", ("35 ft", "11 m"), 0.1, LONGEST_LINE),
    Field("line set", "included", "length", "The length that the factory charge covers.", ("15 ft", "4.6 m"), 0.0,
          LONGEST_LINE),
    Field("line set", "included liquid line", "length", "Liquid line that the factory charge was worked out for, if another.",
          ("3/8 in", "9.5 mm"), 0.1 * INCH, 0.1),
    Field("line set", "suction line", "length", "Outside diameter of the suction line.", ("3/4 in", "19 mm"), 0.1 * INCH, 0.1),
    Field("line set", "suction length", "length", "Length of the suction line, where it differs.", ("35 ft", "11 m"), 0.1,
          LONGEST_LINE),
    Field("line set", "allowance", "mass per length",
          "What the maker of this machine adds for each foot or meter of line set; it goes before what is worked out.",
          ("0.60 oz/ft", "56 g/m"), 0.0005, 0.5),
    Field("line set", "indoor coil", "mass", "What its maker adds for this indoor coil.", ("8 oz", "227 g"), 0.0, 10.0),
    Field("line set", "drier", "mass", "What its maker adds for a filter drier.", ("3 oz", "85 g"), 0.0, 5.0),
    Field("line set", "lift", "length", "How far the indoor unit stands above the outdoor unit; negative where below.",
          ("20 ft", "6.1 m"), -LONGEST_LINE, LONGEST_LINE),
    Field("refrigerant", "added", "mass", "Weighed in on this visit; a list is added up.", ("12 oz", "340 g"), 0.0, 500.0),
    Field("refrigerant", "recovered", "mass", "Taken out into a cylinder on a scale; a list is added up.", ("2 lb", "0.9 kg"),
          0.0, 500.0),
    # Defaults stand in for what the visit does not say. The largest believable limits: common practice, no source.
    _instrument("gauges", "Manifold gauges or pressure probes.", ("1 %", "2 psi", "0.1 bar"),
                Instrument(0.01, 0.0, "pressure", "1 % of reading: tests/reference/uncertainty_superheat_subcooling.csv",
                           least=0.5 * PSI),
                0.10, 25 * PSI, "3 % of an 800 psi (55 bar) scale is 24 psi (1.7 bar), and worse gauges are replaced"),
    # ±(0.1 % of reading in °F + 1.3 °F) is the protocol's thermometer; at 61 to 100 °F that is 1.4 °F.
    _instrument("pipe clamps", "Thermometers clamped to a pipe.", ("1.4 F", "0.8 K"),
                Instrument(0.0, 1.4 * _F, "difference", "CEC 2008 Residential Appendices RA3, p. RA3-10"),
                None, 10 * _F, _CLAMP),
    _instrument("digital gauges", "Gauges that show superheat and subcooling themselves, clamp and refrigerant chosen.",
                ("2 F", "1.1 K"),
                Instrument(0.0, 2.0 * _F, "difference", "clamp 1.4 F and gauge 1 % together: common practice, no source"),
                None, 10 * _F, _CLAMP),
    _instrument("air thermometers", "Thermometers in the air, dry or with a wick.", ("1 F", "0.5 K"),
                Instrument(0.0, 1.0 * _F, "difference", "common practice, no source"),
                None, 10 * _F, "one that is off by more hangs in the sun or is broken"),
    _instrument("humidity meter", "Relative humidity; the percent are those of the humidity.", ("3 %",),
                Instrument(0.0, 0.03, "percent", "common practice, no source"),
                0.15, 0.15, "an aged sensor drifts by some 10 %; one that is off by more is broken"),
    _instrument("airflow meter", "Flow hood, flow plate or a traverse.", ("10 %", "100 cfm", "50 L/s"),
                Instrument(0.10, 0.0, "airflow", "common practice, no source"),
                0.40, 0.4, "a guess from the size of the fan is as good"),
    _instrument("manometer", "For the pressure in ducts.", ("2 %", "0.02 inH2O", "5 Pa"),
                Instrument(0.02, 2.5, "small pressure", "common practice, no source"),
                0.25, 0.25 * IN_H2O, "half of what a good duct has would go unseen"),
    _instrument("power meter", "Clamp-on power meter, or the meter of the house timed.", ("5 %", "0.1 kW"),
                Instrument(0.05, 0.0, "capacity", "common practice, no source"),
                0.20, 1000.0, "the plate of the machine is as good a guess"),
    _instrument("current clamp", "Clamp-on ammeter.", ("3 %", "0.5 A"),
                Instrument(0.03, 0.1, "current", "common practice, no source"),
                0.20, 10.0, "a clamp that is off by more is not closed round one lead"),
    _instrument("voltmeter", "For the supply and the control circuit.", ("0.5 %", "1 V"),
                Instrument(0.005, 0.0, "voltage", "common practice, no source", least=0.5),
                0.05, 10.0, "a meter that is off by more is broken"),
    _instrument("capacitance meter", "For run capacitors, discharged and with their leads off.", ("2 %", "0.5 uF"),
                Instrument(0.02, 0.0, "capacitance", "common practice, no source", least=0.1e-6),
                0.10, 5e-6, "a meter that is off by more is broken"),
    _instrument("vacuum gauge", "An electronic one, for a deep vacuum.", ("10 %", "20 microns"),
                Instrument(0.10, 10 * MICRON, "vacuum", "common practice, no source"),
                0.50, 500 * MICRON, "a sensor that is off by more has oil on it"),
    _instrument("charging scale", "Under the cylinder.", ("1 oz", "20 g", "0.5 %"),
                Instrument(0.0, 0.03, "mass", "common practice, no source"),
                0.05, 0.5, "a scale that is off by more does not stand level"),
    Field("readings", MINUTES, "time", "How long the machine had run by then.", ("15 min", "15"), 0.0, 7 * 86400.0,
          "Minutes running", 1),
    Field("readings", DEFROSTED, "time", "In heating: how long ago the last defrost ended.", ("20 min", "20"), 0.0, 7 * 86400.0,
          "Minutes since the last defrost ended, if you heard one"),
    _gauge("suction pressure", "at the suction service valve", "118 psig", "8.1 bar gauge", 2),
    _gauge("liquid pressure", "at the liquid service valve", "306 psig", "21.1 bar gauge", 4),
    _pipe("suction line temperature", "on the suction line near its service valve, clean pipe, insulated", "61 F", "16 C", 3),
    _pipe("liquid line temperature", "on the liquid line near its service valve, clean pipe, insulated", "89 F", "32 C", 5),
    _digital("gauge superheat", "as the digital gauge itself shows it, beside or instead of the suction line temperature",
             "12 F", "7 K"),
    _digital("gauge subcooling", "as the digital gauge itself shows it, beside or instead of the liquid line temperature",
             "10 F", "5.5 K"),
    _pipe("discharge line temperature", "on the discharge line about 6 in (15 cm) from the compressor", "170 F", "77 C",
          high=400.0),
    _air("outdoor air temperature", "entering the outdoor coil, in the shade", "80 F", "27 C", 6),
    _air("return air dry bulb", "in the return duct near the indoor coil", "75 F", "24 C", 7),
    _air("return air wet bulb", "in the return duct near the indoor coil, wick wet and clean", "63 F", "17 C", 8),
    _reading("return air relative humidity", "percent", "humidity meter", "in the return duct near the indoor coil", ("50 %",),
             0.0, 1.0, 9),
    _air("supply air dry bulb", "in the supply duct, out of sight of the coil", "56 F", "13 C", 10, high=180.0),
    _air("supply air wet bulb", "in the supply duct, out of sight of the coil, wick wet and clean", "54 F", "12 C"),
    _reading("supply air relative humidity", "percent", "humidity meter", "in the supply duct", ("90 %",), 0.0, 1.0),
    _reading("airflow", "airflow", "airflow meter", "through the indoor coil", ("1180 cfm", "560 L/s"), 0.0, 60.0),
    _reading("external static pressure", "small pressure", "manometer", "across the indoor unit, supply plus return side",
             ("0.5 inH2O", "125 Pa"), -100.0, 1500.0),
    _reading("electric power", "capacity", "power meter", "into the whole machine, outdoor and indoor unit", ("2.3 kW",),
             0.0, 1.0e6),
    _reading("compressor current", "current", "current clamp", "on one compressor lead", ("12 A",), 0.0, 500.0),
    *(_reading(f"voltage {a} to {b}", "voltage", "voltmeter", f"at the contactor's line side, {a} to {b}, if licensed",
               ("236 V",), 0.0, 700.0) for a, b in ((1, 2), (2, 3), (3, 1))),
    _reading("contactor coil voltage", "voltage", "voltmeter", "at the contactor's coil while the thermostat calls", ("25 V",),
             0.0, 300.0),
    _reading("capacitor", "capacitance", "capacitance meter",
             "at the compressor's run capacitor, power locked out, capacitor discharged, leads off", ("43.5 uF",), 0.0, 5e-4),
    _reading("fan capacitor", "capacitance", "capacitance meter",
             "at the outdoor fan's run capacitor, power locked out, capacitor discharged, leads off", ("4.8 uF",), 0.0, 2e-4),
    _pipe("drier inlet temperature", "on the liquid line upstream of the filter drier", "90 F", "32 C"),
    _pipe("drier outlet temperature", "on the liquid line downstream of the filter drier", "89.5 F", "31.9 C"),
    _pipe("metering inlet temperature", "on the liquid line just ahead of the metering device", "88 F", "31 C"),
    _gauge("metering inlet pressure", "on the liquid line just ahead of the metering device, at its service port", "300 psig",
           "20.7 bar gauge"),
    _pipe("vapour line temperature", "in heating, on the larger line at the service valve of the outdoor unit: hot gas",
          "150 F", "66 C", high=400.0),
    _gauge("vapour line pressure", "in heating, at the service valve of the larger line, on the high side then", "320 psig",
           "22.1 bar gauge"),
    _pipe("valve tube temperature", "in heating, on the tube that brings suction gas to the reversing valve, a hand's breadth "
          "from its body", "34 F", "1.1 C"),
    _pipe("coil outlet temperature", "on the suction line where it leaves the indoor coil", "55 F", "13 C"),
    _air("condenser leaving air temperature", "in the air leaving the outdoor fan", "102 F", "39 C", high=180.0),
    _gauge("standing pressure", "on either side, machine off and both sides equal", "222 psig", "15.3 bar gauge"),
    _air("standing air temperature", "around the whole machine, off until pipe and air agree", "80 F", "27 C"),
)
# fmt: on


def _in(section: Section) -> dict[str, Field]:
    return {one.name: one for one in FIELDS if isinstance(one, Field) and one.section == section}


SECTIONS = tuple(part.name for part in PARTS)
MACHINE = _in("machine")
LINE_SET = _in("line set")
WEIGHED = _in("refrigerant")
INSTRUMENT_FIELDS = _in("instruments")
INSTRUMENTS: dict[str, Instrument] = {n: one.default for n, one in INSTRUMENT_FIELDS.items() if one.default is not None}
ROUND = _in("readings")  # with the minutes
READINGS = {name: one for name, one in ROUND.items() if one.instrument}
AT_REST = frozenset(
    {name for name, one in READINGS.items() if one.instrument in ("voltmeter", "capacitance meter")}
    | {"standing pressure", "standing air temperature", "outdoor air temperature"}
)
"""Readings of which it says nothing how long the machine had run."""
WORDS = {one.name: one for one in FIELDS if isinstance(one, Word)}
CHOICES = {name: one.choices for name, one in WORDS.items() if one.choices}
SAME_AS = {name: one.same_as for name, one in WORDS.items() if one.choices}
MACHINE_WORDS = tuple(WORDS)
REMARKS = ("complaint", "date", "technician", "notes", "done")
LONGEST_REMARK = 2000  # characters; a longer one is a file that was pasted

SEER_OF_SEER2 = 1 / 0.95
"""SEER over SEER2: the newer test works against more duct pressure; common practice, no source."""
STATION_GAP = 3500.0
"""Pa between a station pressure and what the altitude makes likely that no weather explains; about twice what is met."""
CARRIED_MINUTES = 5.0
"""How old a reading of the air may be, against the last round, to be used with it: a room changes slowly (judgement)."""

# Limit of error of the station pressure, Pa: read off a barometer; worked out from the altitude (weather moves it by
# about ±10 hPa); or sea level assumed because nothing was said (the altitude too may then be a few hundred feet).
STATION_ERROR = {"measured": 300.0, "altitude": 1500.0, "assumed": 3000.0}
