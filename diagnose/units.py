"""Numbers with units, as technicians write them, turned into SI and back.

Inside the program every value is an SI float; units exist only here, at the edge. A temperature (with its offset) and a
temperature difference (without) are different kinds, and so are a pressure above the station pressure (gauge) and one
above a perfect vacuum (absolute). A unit that could mean two things is asked about, never guessed, with one exception,
which `Measured.note` tells the reader: psi, kPa, bar, MPa and kg/cm2 without a mark are taken as what a service gauge shows.
A replacement that a message proposes is as large as what was written can mean, or the message proposes none.

Factors: NIST Special Publication 811 (2008), Appendix B.8 and B.9, from their exact definitions.
"""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

Kind = Literal[
    "temperature",
    "difference",
    "pressure",
    "small pressure",
    "station pressure",
    "capacity",
    "airflow",
    "current",
    "mass",
    "length",
    "percent",
    "number",
    "time",
]
System = Literal["us", "si"]

# SP 811 B.8, exact by definition.
POUND = 0.45359237  # kg
INCH = 0.0254  # m
FOOT = 0.3048  # m
GRAVITY = 9.80665  # m/s2, standard acceleration of free fall
# SP 811 B.8, derived from the above without rounding.
PSI = POUND * GRAVITY / INCH**2  # Pa, 6.894 757 E+03
KGF_PER_CM2 = GRAVITY * 1e4  # Pa, 9.806 65 E+04, exact
MM_HG = 13595.1 * GRAVITY * 1e-3  # Pa, conventional millimetre of mercury, 1.333 224 E+02
MICRON = MM_HG * 1e-3  # Pa, a thousandth of it, as vacuum gauges show
IN_HG = 13595.1 * GRAVITY * INCH  # Pa, conventional inch of mercury, 3.386 389 E+03
MM_H2O = 1000.0 * GRAVITY * 1e-3  # Pa, conventional millimetre of water, 9.806 65, exact
IN_H2O = 1000.0 * GRAVITY * INCH  # Pa, conventional inch of water, 2.490 889 E+02
BTU = 1055.05585262  # J, International Table Btu, footnote 9 of B.8, exact
BTU_PER_HOUR = BTU / 3600  # W, 2.930 711 E-01
TON = 12000 * BTU_PER_HOUR  # W, ton of refrigeration, 3.516 853 E+03
KCAL_PER_HOUR = 4186.8 / 3600  # W, International Table kilocalorie, 1.163, exact
CFM = FOOT**3 / 60  # m3/s, 4.719 474 E-04

ABSOLUTE_ZERO_F = 459.67  # F below 0 F; B.9, exact
ABSOLUTE_ZERO_C = 273.15  # C below 0 C; B.9, exact
LARGEST = 1e9  # no reading of an air conditioner, in any unit, is written with a larger number
LONGEST = 100  # characters
HIGHEST_STATION = 110e3  # Pa, above every station pressure recorded: no gauge can show less than this below zero


@dataclass(frozen=True, slots=True)
class Measured:
    """A number in SI (K, Pa, W, m3/s, A, kg, m, s, or 1) and how it was written.

    A gauge pressure counts from the station pressure: add the station pressure to get the absolute one.
    """

    value: float
    unit: str
    gauge: bool = False
    note: str | None = None


class UnitError(ValueError):
    """A value that cannot be read: `what` is wrong, and one sentence how to mend it, `fix`."""

    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what, fix)  # both, so that it can be sent between processes
        self.what = what
        self.fix = fix

    def __str__(self) -> str:
        return f"{self.what}. {self.fix}"


class _NoValue(UnitError):  # noqa: N818 - told as a UnitError
    """What an example mends: that of the kind, unless `parse` was given one."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """SI value = (written number + offset) x scale."""

    name: str
    scale: float
    decimals: int
    spellings: str = ""  # further ways to write it, separated by commas
    offset: float = 0.0
    shown: str = ""  # where it is printed differently from its name
    gauge: bool = False
    note: bool = False  # taken as gauge without a mark: say so
    ask: str = ""  # two meanings: the two names to choose from


def _pressures() -> Iterator[_Unit]:
    """Every pressure unit without a mark, as gauge and as absolute."""
    bases = (  # name, Pa, decimals, spellings, whether service gauges are marked with it
        (
            "psi",
            PSI,
            1,
            "psi,#,lb,lbs,pound,pounds,lb/in2,lbf/in2,lbs/in2,lb/sqin,lbf/sqin,pounds per square inch",
            True,
        ),
        ("kPa", 1e3, 0, "kpa,kilopascal,kilopascals", True),
        ("bar", 1e5, 2, "bar,bars", True),
        ("MPa", 1e6, 3, "mpa,megapascal,megapascals", True),
        ("kg/cm2", KGF_PER_CM2, 2, "kg/cm2,kgf/cm2,kg/sqcm,kgf/sqcm,kgcm2,kp/cm2", True),
        ("Pa", 1.0, 0, "pa,pascal,pascals", False),
        ("inHg", IN_HG, 1, "inhg,inches of mercury,inch of mercury,inches hg", False),
    )
    for name, scale, decimals, spellings, marked in bases:
        gauge, absolute = ("psig", "psia") if name == "psi" else (f"{name} gauge", f"{name} absolute")
        words = spellings.split(",")
        if marked:
            unmarked = ",".join(words)
            yield _Unit(name, scale, decimals, unmarked, gauge=True, note=True)
        else:
            choice = ("inHg vacuum", absolute) if name == "inHg" else (gauge, absolute)
            yield _Unit(name, scale, decimals, spellings, ask=",".join(choice))
        gauges = ",".join(word + mark for word in words for mark in ("g", "ga", "gauge", "gage"))
        absolutes = ",".join(word + mark for word in words for mark in ("a", "abs", "absolute"))
        yield _Unit(gauge, scale, decimals, gauges, gauge=True)
        yield _Unit(absolute, scale, decimals, absolutes)
    yield _Unit(
        "inHg vacuum",
        -IN_HG,
        1,
        'inhgvac,inhgv,vacuum inhg,inches of vacuum,in vacuum,in vac,"vac,"vacuum,"hgvac,"hg vacuum',
        gauge=True,
    )
    yield _Unit("psi vacuum", -PSI, 1, "psi vac,psiv,psig vac,psig vacuum", gauge=True)
    yield _Unit("kPa vacuum", -1e3, 1, "kpa vac", gauge=True)
    yield _Unit("bar vacuum", -1e5, 3, "bar vac", gauge=True)
    yield _Unit("micron", MICRON, 0, "microns,micron hg,microns hg,microns of mercury,micron absolute,microns absolute")


_DEGREES_F = "f,degf,degreef,degreesf,fahrenheit,deg fahrenheit,degrees fahrenheit,fdeg"
_DEGREES_C = "c,degc,degreec,degreesc,celsius,deg celsius,degrees celsius,centigrade,cdeg"
_KELVIN = "k,degk,kelvin,kelvins"
_ABSOLUTE = ("", "a", "abs", "absolute")

_UNITS: dict[Kind, tuple[_Unit, ...]] = {
    "temperature": (
        _Unit("F", 5 / 9, 1, _DEGREES_F, offset=ABSOLUTE_ZERO_F, shown="°F"),
        _Unit("C", 1.0, 1, _DEGREES_C, offset=ABSOLUTE_ZERO_C, shown="°C"),
        _Unit("K", 1.0, 1, _KELVIN),
    ),
    "difference": (
        _Unit("F", 5 / 9, 1, _DEGREES_F, shown="°F"),
        _Unit("C", 1.0, 1, _DEGREES_C, shown="°C"),
        _Unit("K", 1.0, 1, _KELVIN),
    ),
    "pressure": tuple(_pressures()),
    "small pressure": (
        _Unit(
            "inH2O",
            IN_H2O,
            2,
            'in wc,in wg,inches wc,inches wg,inch wc,iwc,iwg,in water,inches h2o,"wc,"wg,"h2o,wc,wg,",in,inch,inches,'
            "inches of water,inches of water column,water column",
        ),
        _Unit("Pa", 1.0, 0, "pascal,pascals"),
        _Unit("mmH2O", MM_H2O, 1, "mm,mm wc,mm wg,mmwater,mm of water"),
    ),
    "station pressure": (
        *(
            _Unit(name, scale, decimals, ",".join(word + mark for word in words.split(",") for mark in _ABSOLUTE))
            for name, scale, decimals, words in (
                ("inHg", IN_HG, 2, "inhg,inches of mercury,inch of mercury,inches hg"),
                ("hPa", 1e2, 0, "hpa,hectopascal,hectopascals"),
                ("mbar", 1e2, 0, "mbar,mb,millibar,millibars"),
                ("kPa", 1e3, 1, "kpa,kilopascal,kilopascals"),
                ("mmHg", MM_HG, 0, "mmhg,mm of mercury,torr"),
                ("bar", 1e5, 3, "bar"),
                ("Pa", 1.0, 0, "pa,pascal,pascals"),
            )
        ),
        _Unit("psia", PSI, 2, "psiabs,psi absolute"),
    ),
    "capacity": (
        _Unit("ton", TON, 1, "tons,t,ton of refrigeration,tons of refrigeration,tr,rt"),
        _Unit("kW", 1e3, 2, "kilowatt,kilowatts"),
        _Unit("W", 1.0, 0, "watt,watts"),
        _Unit("Btu/h", BTU_PER_HOUR, 0, "btu,btus,btu/hr,btu/hour,btuh,btu per hour,btus/h,btus/hr"),
        _Unit("MBH", 1e3 * BTU_PER_HOUR, 1, "kbtu,kbtuh,kbtu/h,kbtu/hr,kbtu/hour,kbtus/h,kbtus/hr"),
        _Unit("kcal/h", KCAL_PER_HOUR, 0, "kcal/hr,kcal/hour"),
    ),
    "airflow": (
        _Unit("cfm", CFM, 0, "scfm,ft3/min,cuft/min,cubic feet per minute"),
        _Unit("L/s", 1e-3, 0, "lps,l/sec,liter/s,liters/s,litre/s,litres/s,liters per second,litres per second"),
        _Unit("m3/h", 1 / 3600, 0, "m3/hr,cmh,cum/h,cubic metres per hour,cubic meters per hour"),
        _Unit("m3/s", 1.0, 3, "m3/sec,cms"),
        _Unit("m3/min", 1 / 60, 1, "cmm"),
    ),
    "current": (
        _Unit("A", 1.0, 1, "amp,amps,ampere,amperes"),
        _Unit("mA", 1e-3, 0, "milliamp,milliamps"),
    ),
    "mass": (
        _Unit("kg", 1.0, 2, "kgs,kilo,kilos,kilogram,kilograms"),
        _Unit("g", 1e-3, 0, "gram,grams,gr"),
        _Unit("lb", POUND, 2, "lbs,lbm,pound,pounds,#"),
        _Unit("oz", POUND / 16, 1, "ounce,ounces,ozs"),
    ),
    "length": (
        _Unit("ft", FOOT, 0, "foot,feet,'"),
        _Unit("in", INCH, 3, 'inch,inches,"'),
        _Unit("m", 1.0, 1, "metre,metres,meter,meters"),
        _Unit("km", 1e3, 3, "kilometre,kilometres,kilometer,kilometers"),
        _Unit("cm", 1e-2, 1, "centimetre,centimetres,centimeter,centimeters"),
        _Unit("mm", 1e-3, 1, "millimetre,millimetres,millimeter,millimeters"),
    ),
    "percent": (_Unit("%", 1e-2, 0, "percent,pct,per cent,%rh,rh,percent rh,pct rh,% relative humidity,%hr,%rf"),),
    "number": (_Unit("", 1.0, 1),),
    "time": (
        _Unit("min", 60.0, 0, "mins,minute,minutes"),
        _Unit("h", 3600.0, 2, "hr,hrs,hour,hours"),
        _Unit("s", 1.0, 0, "sec,secs,second,seconds"),
    ),
}

_CALLED: dict[Kind, tuple[str, str]] = {  # what it is called in a message, and an example
    "temperature": ("a temperature", "61 F"),
    "difference": ("a temperature difference", "10 F"),
    "pressure": ("a pressure", "118 psig"),
    "small pressure": ("a duct pressure", "0.5 inH2O"),
    "station pressure": ("a station pressure", "29.6 inHg"),
    "capacity": ("a capacity", "3 ton"),
    "airflow": ("an airflow", "1180 cfm"),
    "current": ("a current", "12 A"),
    "mass": ("a weight", "6 lb 4 oz"),
    "length": ("a length", "35 ft"),
    "percent": ("a percentage", "50 %"),
    "number": ("a plain number", "14"),
    "time": ("a time", "15 min"),
}
_FIRST_CHOICE: dict[Kind, tuple[str, str]] = {  # us, si
    "temperature": ("F", "C"),
    "difference": ("F", "K"),
    "pressure": ("psig", "kPa gauge"),
    "small pressure": ("inH2O", "Pa"),
    "station pressure": ("inHg", "hPa"),
    "capacity": ("ton", "kW"),
    "airflow": ("cfm", "L/s"),
    "current": ("A", "A"),
    "mass": ("lb", "kg"),
    "length": ("ft", "m"),
    "percent": ("%", "%"),
    "number": ("", ""),
    "time": ("min", "min"),
}
_NEVER_NEGATIVE: frozenset[Kind] = frozenset({"capacity", "airflow", "current", "mass", "time"})
# Pairs written together ("6 lb 4 oz"): how many of the second make one of the first.
_TOGETHER: dict[tuple[str, str], int] = {("lb", "oz"): 16, ("ft", "in"): 12, ("h", "min"): 60}
# Only these are written as fractions in the trade; "75/63 F" is two temperatures.
_FRACTION_KINDS: frozenset[Kind] = frozenset({"length", "mass", "capacity"})
_DENOMINATORS = frozenset({2, 3, 4, 8, 16, 32, 64})


def _key(unit: str) -> str:
    """The spelling without what people leave out or add at will: case, spaces, dots, brackets, the degree sign."""
    return re.sub(r"[\s.()\[\]_^°]", "", unit.lower())


def _spellings(units: tuple[_Unit, ...]) -> dict[str, _Unit]:
    return {
        _key(word): unit for unit in units for word in (unit.name, *unit.spellings.split(",")) if word or not unit.name
    }


_BY_SPELLING: Mapping[Kind, Mapping[str, _Unit]] = {kind: _spellings(units) for kind, units in _UNITS.items()}

_FRACTION_SIGNS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
# One character for each thing people's keyboards and phones make of it. Superscripts are plain digits here.
_SAME: dict[int, str] = {
    **dict.fromkeys(map(ord, "\u2212\u2010\u2011\u2012\u2013\ufe63\uff0d"), "-"),
    **dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\t\r\n"), " "),
    **dict.fromkeys(map(ord, "\u00ba\u02da"), "°"),
    **dict.fromkeys(map(ord, "\u2019\u2032\u02b9"), "'"),
    **dict.fromkeys(map(ord, "\u201d\u2033\u02ba"), '"'),
    ord("\u2103"): "°C",
    ord("\u2109"): "°F",
    ord("\u00b2"): "2",
    ord("\u00b3"): "3",
    ord("\u2082"): "2",
    ord("\u2044"): "/",
    **{ord(sign): f" {text} " for sign, text in _FRACTION_SIGNS.items()},
}

_ONE = re.compile(
    r"(?P<sign>[+-]?)\s*(?P<number>[0-9.,]*[0-9](?:\.(?![0-9a-z]))?(?:e[+-]?[0-9]+)?)\s*(?P<unit>.*)", re.I
)
_TWO = re.compile(r"([+-]?)\s*([0-9]+)\s*([a-z'#]+)\.?[\s,]*(?:and\s+)?([0-9]*\.?[0-9]+)\s*([a-z\"]+)\.?", re.I)
_FRACTION = re.compile(r"([+-]?)\s*(?:([0-9]+)(?:\s*-\s*|\s+))?([0-9]+)\s*/\s*([0-9]+)\s*(.*)")
_PLAIN = re.compile(r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:e[+-]?[0-9]+)?", re.I)
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_GROUPED_BY_POINTS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+")  # with a decimal comma behind
_ONE_GROUP = re.compile(r"([1-9][0-9]{0,2})([.,])([0-9]{3})")  # a thousand, or three decimals
_THOUSANDS = re.compile(r"k\s*(?=\D)", re.I)  # "1.2k cfm"

# SI; what an air conditioner may have at the least and at the most, gauge pressures as gauge. Only to tell which of two ways
# to read a number can be meant; what a field may hold stands with the field.
_USUAL: dict[Kind, tuple[float, float]] = {
    "pressure": (1e4, 6e6),
    "small pressure": (1.0, 1500.0),
    "station pressure": (5e4, 1.1e5),
    "capacity": (500.0, 2e6),
    "airflow": (0.005, 60.0),
    "current": (0.1, 500.0),
    "mass": (0.05, 500.0),
    "length": (0.0, 5000.0),
}
_US_UNITS = frozenset({"psi", "psig", "psia", "inHg", "ton", "Btu/h", "MBH", "cfm", "lb", "oz", "ft", "in", "inH2O"})
_NO_UNITS_HERE = frozenset({"kwh", "wh", "hp", "rpm", "v", "volt", "volts", "hz", "db", "ohm", "ohms"})


def parse(value: object, kind: Kind, example: str = "", most: float | None = None) -> Measured:
    """Read what was written for a field of this kind: "118 psig", "6 lb 4 oz", `3/8"`, or a bare 14 for a plain number.

    Returns SI. Raises UnitError, and nothing else, for whatever cannot be read with certainty. `example` is what such a field
    may hold, for the message; `most` the largest value it can have, SI, which tells `10.500 m` of a line from 10 km.
    """
    try:
        return _parsed(value, kind, most)
    except _NoValue as error:
        raise UnitError(error.what, _for_example(kind, example)) from None
    except _NoUnit as error:
        raise UnitError(error.what, _with_a_unit(error.fix, kind, example, most)) from None


def _parsed(value: object, kind: Kind, most: float | None) -> Measured:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise _no_value(f"{_a_thing(value)} is written where {_CALLED[kind][0]} is expected", kind)
    if isinstance(value, str):
        return _from_text(value, kind, most)
    if value != value:
        raise _no_value("this is not a number", kind)
    if abs(value) > LARGEST:  # before anything is printed: Python refuses to print very long whole numbers
        raise _absurd(kind)
    bare = _bare_unit(kind)
    if bare is None:
        raise _no_unit(_plain(value), kind)
    return _measured(float(value), bare, kind, _plain(value))


def from_si(value: float, unit: str, kind: Kind) -> float:
    """The number to write in `unit` for an SI value; for a gauge unit pass the absolute pressure minus the station's.

    Raises UnitError for a unit that does not belong to the kind.
    """
    found = _find(unit, kind, "")
    return value / found.scale - found.offset


def unit_for(kind: Kind, system: System) -> str:
    """The unit a technician expects to see for this kind."""
    return _FIRST_CHOICE[kind][0 if system == "us" else 1]


def show(value_si: float, kind: Kind, unit: str, *, decimals: int | None = None) -> str:
    """The value as the trade writes it: "61.0 °F", "1,180 cfm", "6 lb 4 oz", "3/8 in".

    Takes SI (for a gauge unit: the pressure above the station's) and rounds to what the instruments can show, unless
    `decimals` says otherwise. Raises UnitError for a unit that does not belong to the kind.
    """
    found = _find(unit, kind, "")
    number = value_si / found.scale - found.offset
    if decimals is None and math.isfinite(number):
        if found.name == "lb":
            return _pounds_and_ounces(number)
        if found.name == "in" and (fraction := _sixteenths(number)):
            return f"{fraction} in"
    places = _places(found, kind, number) if decimals is None else decimals
    text = _rounded(number, places)
    if kind == "number" and decimals is None:
        text = text.removesuffix(".0")
    return f"{text} {found.shown or found.name}".rstrip()


def as_shown(value_si: float, kind: Kind, unit: str) -> float:
    """The SI value of the figure that `show` writes; as it is, where that is in pounds and ounces or a fraction of an inch.

    Raises UnitError for a unit that does not belong to the kind.
    """
    found = _find(unit, kind, "")
    number = value_si / found.scale - found.offset
    if found.name in ("lb", "in") or not math.isfinite(number):
        return value_si
    return (round(number, _places(found, kind, number)) + found.offset) * found.scale


def _places(unit: _Unit, kind: Kind, number: float) -> int:
    """How many decimals an instrument of this unit shows."""
    return 0 if unit.name in ("psig", "psia") and kind == "pressure" and abs(number) >= 100 else unit.decimals


def _rounded(number: float, places: int) -> str:
    """With thousands separators, and never "-0"."""
    return f"{round(number, places) + 0.0:,.{places}f}"


def _pounds_and_ounces(pounds: float) -> str:
    """Whole ounces from a pound upwards, tenths below."""
    sign, ounces = ("-" if pounds < 0 else ""), abs(pounds) * 16
    if ounces < 15.95:
        return f"{sign}{ounces:.1f} oz" if round(ounces, 1) else "0.0 oz"
    whole, rest = divmod(round(ounces), 16)
    return f"{sign}{whole:,} lb {rest} oz" if rest else f"{sign}{whole:,} lb"


def _sixteenths(inches: float) -> str:
    """A pipe size such as 3/8 or 1-1/8; empty where it is no whole number of sixteenths."""
    count = round(inches * 16)
    if not 0 < count < 16 * 12 or abs(inches * 16 - count) > 1e-6:
        return ""
    whole, rest = divmod(Fraction(count, 16), 1)
    return f"{whole}-{rest}" if whole and rest else str(whole or rest)


def _from_text(written: str, kind: Kind, most: float | None) -> Measured:
    if len(written) > LONGEST:
        raise _no_value(f"{_quoted(written)} is too long for {_CALLED[kind][0]}", kind)
    text = written.translate(_SAME).replace("''", '"').strip()
    if not text:
        raise _no_value(f"nothing is written where {_CALLED[kind][0]} is expected", kind)
    if any(sign.isdecimal() and not sign.isascii() for sign in text):
        raise UnitError(f"{_quoted(written)} has digits of another script", "Write the number with the digits 0 to 9.")
    if kind == "time" and re.fullmatch(r"[0-9]+:[0-9:]+", text):
        raise UnitError(f"{_quoted(written)} can mean hours or minutes", "Write how long it ran, for example `15 min`.")
    if match := _FRACTION.fullmatch(text):
        return _from_fraction(match, kind, text)
    if (match := _TWO.fullmatch(text)) and (pair := _from_pair(match, kind, text)):
        return pair
    match = _ONE.fullmatch(text)
    if match is None:
        raise _no_value(f"{_quoted(text)} does not begin with a number", kind)
    sign, number, unit = match["sign"], match["number"], match["unit"].strip()
    if _key(unit) not in _BY_SPELLING[kind] and (times := _THOUSANDS.match(unit)):
        thousands = unit[times.end() :]
        if _key(thousands) in _BY_SPELLING[kind]:
            amount = _number(sign, number, unit, kind, None) * 1000
            if not abs(amount) <= LARGEST:
                raise _absurd(kind)
            return _measured(amount, _find(thousands, kind, ""), kind, text)
    amount = _number(sign, number, unit, kind, most)
    if not unit:
        bare = _bare_unit(kind)
        if bare is None:
            raise _no_unit(sign + number, kind)
        return _measured(amount, bare, kind, text)
    if _key(unit) not in _BY_SPELLING[kind] and re.search(r"(?:^|[\s+-])[+-]?[0-9]", unit):
        raise UnitError(
            f"{_quoted(text)} holds more than one number", f"Write one value, for example `{_CALLED[kind][1]}`."
        )
    return _measured(amount, _find(unit, kind, sign + number), kind, text)


def _number(sign: str, number: str, unit: str, kind: Kind, most: float | None) -> float:
    """The number alone. A comma or a point that may part thousands as well as decimals is asked about."""
    if match := _ONE_GROUP.fullmatch(number):
        number = _one_group(match, sign, unit, kind, most)
    elif _GROUPED.fullmatch(number):
        number = number.replace(",", "")
    elif _GROUPED_BY_POINTS.fullmatch(number):
        number = number.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"[0-9]+,[0-9]+", number):
        number = number.replace(",", ".")
    elif not _PLAIN.fullmatch(number):
        raise UnitError(
            f"`{sign}{number}` is not a number", "Write digits with one decimal point at most, such as `1180` or `1.5`."
        )
    amount = float(sign + number)
    if not abs(amount) <= LARGEST:
        raise _absurd(kind)
    return amount


def _one_group(match: re.Match[str], sign: str, unit: str, kind: Kind, most: float | None) -> str:
    """`1,180` or `2.000` as a plain number. Raises UnitError where either reading may be meant."""
    whole, mark, rest = match.groups()
    thousands, decimals = f"{whole}{rest}", f"{whole}.{rest}"
    usually, otherwise = (thousands, decimals) if mark == "," else (decimals, thousands)
    known = _BY_SPELLING[kind].get(_key(unit))
    if known is None or kind not in _USUAL:
        return usually
    # Who writes in these units writes commas between thousands, and a point before decimals where they are usual.
    if known.name in _US_UNITS and (mark == "," or known.decimals):
        return usually
    least, largest = _USUAL[kind]
    fits = {text: least <= float(text) * abs(known.scale) <= (most or largest) for text in (usually, otherwise)}
    if mark == "." and not fits[otherwise]:
        return usually
    if mark == "," and fits[usually] != fits[otherwise]:
        return usually if fits[usually] else otherwise
    small, large = (_quoted(f"{sign}{_plain(float(text))} {unit}") for text in (decimals, thousands))
    raise UnitError(
        f"{_quoted(f'{sign}{match[0]} {unit}')} can be read in two ways", f"Write {small}, or {large} if that is meant."
    )


def _from_fraction(match: re.Match[str], kind: Kind, text: str) -> Measured:
    """`3/8 in`, `1-1/8"`, `2 1/2 ton`."""
    sign, whole, above, below, unit = match.groups()
    top, bottom = int(above), int(below)
    if kind not in _FRACTION_KINDS or bottom not in _DENOMINATORS or not 0 < top < bottom:
        raise UnitError(
            f"{_quoted(text)} is not a fraction that can be read here", "Write the number with a decimal point."
        )
    if not unit:
        if kind == "length":  # only inches are written so
            raise UnitError(f"{_quoted(text)} has no unit", f"Write the unit, for example {_quoted(f'{text} in')}.")
        raise _no_unit(text, kind)
    amount = int(whole or 0) + top / bottom
    if amount > LARGEST:
        raise _absurd(kind)
    return _measured(-amount if sign == "-" else amount, _find(unit, kind, text.removesuffix(unit).strip()), kind, text)


def _from_pair(match: re.Match[str], kind: Kind, text: str) -> Measured | None:
    """`6 lb 4 oz`, `12 ft 6 in`, `1 h 15 min`; None where the two units are not such a pair."""
    sign, first, unit, second, small_unit = match.groups()
    known = _BY_SPELLING[kind]
    large, small = known.get(_key(unit)), known.get(_key(small_unit))
    if large is None or small is None or (large.name, small.name) not in _TOGETHER:
        return None
    count = _TOGETHER[large.name, small.name]
    if float(second) >= count:
        raise UnitError(
            f"{_quoted(text)} has {second} {small.name}, and {count} make one {large.name}", "Check the two numbers."
        )
    amount = int(first) + float(second) / count
    if amount > LARGEST:
        raise _absurd(kind)
    return _measured(-amount if sign == "-" else amount, large, kind, text)


def _measured(amount: float, unit: _Unit, kind: Kind, text: str) -> Measured:
    """To SI, with what physics forbids refused."""
    if unit.ask:
        one, other = unit.ask.split(",")
        raise UnitError(
            f"`{unit.name}` can mean two pressures",
            f"Write `{_plain(abs(amount) if 'vacuum' in one else amount)} {one}` if a gauge showed it, "
            f"or `{_plain(amount)} {other}` if it counts from a perfect vacuum.",
        )
    value = (amount + unit.offset) * unit.scale
    if kind == "temperature" and value < 0:
        raise UnitError(f"{_quoted(text)} is below absolute zero", "Check the number and the unit.")
    if kind in _NEVER_NEGATIVE and value < 0:
        raise UnitError(f"{_quoted(text)} is negative, and {_CALLED[kind][0]} cannot be", "Leave out the minus sign.")
    if (kind == "station pressure" and value <= 0) or (kind == "pressure" and not unit.gauge and value < 0):
        raise UnitError(
            f"{_quoted(text)} is below a perfect vacuum", "Check the number, or write it as gauge pressure."
        )
    if unit.name.endswith(" vacuum") and amount < 0:
        raise UnitError(
            f"{_quoted(text)} is a negative vacuum", f"Leave out the minus sign: `{_plain(-amount)} {unit.name}`."
        )
    if kind == "pressure" and unit.gauge and value < -HIGHEST_STATION:
        raise UnitError(f"{_quoted(text)} is below a perfect vacuum", "Check the number and the unit.")
    if not unit.note:
        return Measured(value, unit.name, unit.gauge)
    marked, absolute = ("psig", "psia") if unit.name == "psi" else (f"{unit.name} gauge", f"{unit.name} absolute")
    note = (
        f"`{_plain(amount)} {unit.name}` is read as gauge pressure, as service gauges are marked; "
        f"if it counts from a perfect vacuum write `{_plain(amount)} {absolute}`"
    )
    return Measured(value, marked, True, note)


def _find(written: str, kind: Kind, number: str) -> _Unit:
    """The unit with this spelling; `number` is what stood before it, for the example in the message."""
    key, called = _key(written), _CALLED[kind][0]
    if kind == "pressure" and written.strip().startswith("mPa"):
        raise UnitError("`mPa` is a thousandth of a pascal", f"Write `{number or '0.8'} MPa` with a capital M.")
    if found := _BY_SPELLING[kind].get(key):
        return found
    if kind == "number":
        raise UnitError(
            f"{_quoted(written)} is not expected after the number here",
            f"Write the number alone, for example `{number or 14}`.",
        )
    if key in ("", "deg", "degree", "degrees") and kind in ("temperature", "difference"):
        raise UnitError(
            f"{_quoted(written)} does not say which degrees", f"Write `{number or 61} F` or `{number or 61} C`."
        )
    if kind == "station pressure" and (other := _BY_SPELLING["pressure"].get(key)) and (other.gauge or other.ask):
        raise _no_value(f"{_quoted(written)} is not an absolute pressure, and a station pressure is", kind)
    for other_kind in get_args(Kind):
        if key in _BY_SPELLING[other_kind]:
            raise _no_value(f"{_quoted(written)} is {_CALLED[other_kind][0]}; {called} is expected here", kind)
    meant = None if key in _NO_UNITS_HERE else _misspelt(key, kind)
    if meant is not None:
        raise UnitError(
            f"{_quoted(written)} is not a unit known here", f"Did you mean `{f'{number} {meant.name}'.strip()}`?"
        )
    names = [unit.name for unit in _UNITS[kind] if not unit.ask and (unit.scale > 0 or unit.name == "inHg vacuum")]
    raise UnitError(f"{_quoted(written)} is not a unit of {called}", f"Known here: {', '.join(names)}.")


def _misspelt(key: str, kind: Kind) -> _Unit | None:
    """The one unit that this is a slip of the pen for; None where units of two sizes are as near."""
    near = [unit for word, unit in _BY_SPELLING[kind].items() if _one_slip(key, word)]
    if len({(unit.scale, unit.gauge) for unit in near}) != 1 or any(unit.ask for unit in near):
        return None
    return near[0] if not near[0].note else next((unit for unit in near if not unit.note), near[0])


def _one_slip(written: str, word: str) -> bool:
    """Two letters changed places, one is missing or too many, or, in a long word, one is another.

    The first letter holds: there stand the marks for thousands and thousandths, with which a unit has another size.
    """
    if len(word) < 3 or written[:1] != word[:1]:
        return False
    at = next((i for i, (a, b) in enumerate(zip(written, word, strict=False)) if a != b), min(len(written), len(word)))
    mine, theirs = written[at:], word[at:]
    if len(written) == len(word):
        swapped = mine[1::-1] == theirs[:2] and mine[2:] == theirs[2:]
        return swapped or (len(word) > 4 and word.isalpha() and at > 1 and mine[1:] == theirs[1:])
    if len(written) < len(word):
        return mine == theirs[1:] and len(written) > 2
    doubled = len(set(written[:at])) > 1 and mine[:1] == written[at - 1]
    return mine[1:] == theirs and len(written) > 3 and (doubled or mine[0] not in "kmhcd")  # marks of size, elsewhere


def _bare_unit(kind: Kind) -> _Unit | None:
    """What a number without a unit means: minutes for a time, itself for a plain number, otherwise nothing."""
    return _UNITS[kind][0] if kind in ("number", "time") else None


class _NoUnit(UnitError):  # noqa: N818 - told as a UnitError
    """`fix` is the number alone: which unit it may have, `parse` says."""


def _no_unit(number: str, kind: Kind) -> UnitError:
    return _NoUnit(f"{_quoted(number)} has no unit", number)


def _with_a_unit(number: str, kind: Kind, example: str, most: float | None) -> str:
    """The number with a unit in which it is of a possible size; else an example."""
    completed = example or _CALLED[kind][1]
    if kind != "percent":  # 0.5 may stand for 50 %
        least, largest = _USUAL.get(kind, (-math.inf, math.inf))
        ours = completed.split(" ", 1)[-1]
        for unit in dict.fromkeys((ours, *_FIRST_CHOICE[kind])):
            known = _BY_SPELLING[kind].get(_key(unit))
            try:
                amount = float(Fraction("".join(number.replace(",", ".").split())))
            except (ValueError, ZeroDivisionError):
                amount = math.nan
            if known is not None and least <= amount * known.scale <= (most or largest):
                completed = f"{number} {unit}"
                break
            if known is not None and kind not in _USUAL:
                completed = f"{number} {unit}"
                break
    return f"Write the unit, for example {_quoted(completed)}."


def _absurd(kind: Kind) -> UnitError:
    return _no_value(f"this number is too large for {_CALLED[kind][0]}", kind)


def _no_value(what: str, kind: Kind) -> UnitError:
    return _NoValue(what, _for_example(kind))


def _for_example(kind: Kind, example: str = "") -> str:
    what = "a number" if kind == "number" else "a number and its unit"
    return f"Write {what}, for example `{example or _CALLED[kind][1]}`."


def _a_thing(value: object) -> str:
    """What a value is, in words of the file's writer."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | tuple | set | frozenset):
        return "a list"
    if isinstance(value, Mapping):
        return "a group of fields"
    return "something that is neither number nor text"


def _plain(number: float) -> str:
    """Digits enough for any reading, without an exponent."""
    return f"{number:.10g}"


def _quoted(text: str) -> str:
    """Between backquotes, cut to a length that fits a line, and safe to print on any terminal."""
    clean = "".join(sign if sign.isprintable() and sign != "`" else "?" for sign in text)
    return f"`{clean if len(clean) <= 40 else clean[:37] + '...'}`"
