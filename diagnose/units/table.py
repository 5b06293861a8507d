"""The kinds of figures, every unit of each, and how each may be spelled.

Factors: NIST Special Publication 811 (2008), Appendix B.8 and B.9, from their exact definitions.
"""

from collections.abc import Iterator
from typing import Literal, NamedTuple

Kind = Literal[
    "temperature",
    "difference",
    "pressure",
    "small pressure",
    "station pressure",
    "vacuum",
    "capacity",
    "airflow",
    "current",
    "voltage",
    "capacitance",
    "mass",
    "length",
    "mass per length",
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
MM_HG = 13595.1 * GRAVITY * 1e-3  # Pa, conventional millimeter of mercury, 1.333 224 E+02
MICRON = MM_HG * 1e-3  # Pa, a thousandth of it, as vacuum gauges show
IN_HG = 13595.1 * GRAVITY * INCH  # Pa, conventional inch of mercury, 3.386 389 E+03
MM_H2O = 1000.0 * GRAVITY * 1e-3  # Pa, conventional millimeter of water, 9.806 65, exact
IN_H2O = 1000.0 * GRAVITY * INCH  # Pa, conventional inch of water, 2.490 889 E+02
BTU = 1055.05585262  # J, International Table Btu, footnote 9 of B.8, exact
BTU_PER_HOUR = BTU / 3600  # W, 2.930 711 E-01
TON = 12000 * BTU_PER_HOUR  # W, ton of refrigeration, 3.516 853 E+03
KCAL_PER_HOUR = 4186.8 / 3600  # W, International Table kilocalorie, 1.163, exact
CFM = FOOT**3 / 60  # m3/s, 4.719 474 E-04

ABSOLUTE_ZERO_F = 459.67  # F below 0 F; B.9, exact
ABSOLUTE_ZERO_C = 273.15  # C below 0 C; B.9, exact


class Unit(NamedTuple):
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


def _pressures() -> Iterator[Unit]:
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
        ("mbar", 1e2, 0, "mbar,mb,millibar,millibars,hpa,hectopascal,hectopascals", False),
        ("inHg", IN_HG, 1, 'inhg,inches of mercury,inch of mercury,inches hg,"hg,",in,inch,inches', False),
        ("mmHg", MM_HG, 0, "mmhg,mm of mercury,millimeters of mercury,millimetres of mercury", False),
        ("cmHg", 10 * MM_HG, 1, "cmhg,cm of mercury", False),
    )
    for name, scale, decimals, spellings, marked in bases:
        gauge, absolute = ("psig", "psia") if name == "psi" else (f"{name} gauge", f"{name} absolute")
        words = spellings.split(",")
        if marked:
            unmarked = ",".join(words)
            yield Unit(name, scale, decimals, unmarked, gauge=True, note=True)
        else:
            choice = (f"{name} vacuum", absolute) if name.endswith("Hg") else (gauge, absolute)
            yield Unit(name, scale, decimals, spellings, ask=",".join(choice))
        gauges = ",".join(word + mark for word in words for mark in ("g", "ga", "gauge", "gage"))
        absolutes = ",".join(word + mark for word in words for mark in ("a", "abs", "absolute"))
        yield Unit(gauge, scale, decimals, gauges, gauge=True)
        yield Unit(absolute, scale, decimals, absolutes)
    yield Unit(
        "inHg vacuum",
        -IN_HG,
        1,
        "inhgvac,inhgv,vacuum inhg,inches of vacuum,inch of vacuum,inches vacuum,inches vac,in of vacuum,in of vac,in vacuum,"
        'in vac,"vac,"vacuum,"of vacuum,"of vac,"hgvac,"hg vacuum',
        gauge=True,
    )
    yield Unit("psi vacuum", -PSI, 1, "psi vac,psiv,psig vac,psig vacuum", gauge=True)
    yield Unit("kPa vacuum", -1e3, 1, "kpa vac", gauge=True)
    yield Unit("bar vacuum", -1e5, 3, "bar vac", gauge=True)
    yield Unit("mmHg vacuum", -MM_HG, 0, "mmhg vac,mm vacuum,mm vac,torr vacuum,torr vac", gauge=True)
    yield Unit("cmHg vacuum", -10 * MM_HG, 1, "cmhg vac,cm vacuum,cm vac", gauge=True)
    yield Unit("mbar vacuum", -1e2, 0, "mbar vac", gauge=True)
    yield Unit("torr", MM_HG, 1, "torrs,torr absolute,torr abs")
    yield Unit(
        "micron",
        MICRON,
        0,
        "microns,micron hg,microns hg,microns of mercury,micron absolute,microns absolute,micron vacuum,microns vacuum,"
        "microns of vacuum,um,\u00b5m,\u03bcm,um hg,\u00b5m hg,\u03bcm hg,mtorr,millitorr",
        shown="microns",
    )


_DEGREES_F = "f,degf,degreef,degreesf,fahrenheit,deg fahrenheit,degrees fahrenheit,fdeg"
_DEGREES_C = "c,degc,degreec,degreesc,celsius,deg celsius,degrees celsius,centigrade,cdeg"
_KELVIN = "k,degk,kelvin,kelvins"
_ABSOLUTE = ("", "a", "abs", "absolute")

UNITS: dict[Kind, tuple[Unit, ...]] = {
    "temperature": (
        Unit("F", 5 / 9, 1, _DEGREES_F, offset=ABSOLUTE_ZERO_F, shown="°F"),
        Unit("C", 1.0, 1, _DEGREES_C, offset=ABSOLUTE_ZERO_C, shown="°C"),
        Unit("K", 1.0, 1, _KELVIN),
    ),
    "difference": (
        Unit("F", 5 / 9, 1, _DEGREES_F, shown="°F"),
        Unit("C", 1.0, 1, _DEGREES_C, shown="°C"),
        Unit("K", 1.0, 1, _KELVIN),
    ),
    "pressure": tuple(_pressures()),
    "small pressure": (
        Unit(
            "inH2O",
            IN_H2O,
            2,
            'in wc,in wg,inches wc,inches wg,inch wc,iwc,iwg,in water,inches h2o,"wc,"wg,"h2o,wc,wg,",in,inch,inches,'
            "inches of water,inches of water column,water column",
        ),
        Unit("Pa", 1.0, 0, "pascal,pascals"),
        Unit("mmH2O", MM_H2O, 1, "mm,mm wc,mm wg,mmwater,mm of water"),
    ),
    "station pressure": (
        *(
            Unit(name, scale, decimals, ",".join(word + mark for word in words.split(",") for mark in _ABSOLUTE))
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
        Unit("psia", PSI, 2, "psiabs,psi absolute"),
    ),
    # Every one counts from a perfect vacuum; a compound gauge, which counts from the air, cannot show a deep one.
    "vacuum": (
        Unit("micron", MICRON, 0, "microns,mic,um,umhg,mtorr,micron hg,microns hg,microns of mercury"),
        Unit("torr", MM_HG, 3, "mmhg,mm hg"),
        Unit("mbar", 1e2, 3, "hpa,millibar,millibars"),
        Unit("Pa", 1.0, 0, "pascal,pascals"),
    ),
    "capacity": (
        Unit("ton", TON, 1, "tons,t,ton of refrigeration,tons of refrigeration,tr,rt"),
        Unit("kW", 1e3, 2, "kilowatt,kilowatts"),
        Unit("W", 1.0, 0, "watt,watts"),
        Unit("Btu/h", BTU_PER_HOUR, 0, "btu,btus,btu/hr,btu/hour,btuh,btu per hour,btus/h,btus/hr"),
        Unit("MBH", 1e3 * BTU_PER_HOUR, 1, "kbtu,kbtuh,kbtu/h,kbtu/hr,kbtu/hour,kbtus/h,kbtus/hr"),
        Unit("kcal/h", KCAL_PER_HOUR, 0, "kcal/hr,kcal/hour"),
    ),
    "airflow": (
        Unit("cfm", CFM, 0, "scfm,ft3/min,cuft/min,cubic feet per minute"),
        Unit("L/s", 1e-3, 0, "lps,l/sec,liter/s,liters/s,litre/s,litres/s,liters per second,litres per second"),
        Unit("m3/h", 1 / 3600, 0, "m3/hr,cmh,cum/h,cubic metres per hour,cubic meters per hour"),
        Unit("m3/s", 1.0, 3, "m3/sec,cms"),
        Unit("m3/min", 1 / 60, 1, "cmm"),
    ),
    "current": (
        Unit("A", 1.0, 1, "amp,amps,ampere,amperes"),
        Unit("mA", 1e-3, 0, "milliamp,milliamps"),
    ),
    "voltage": (
        Unit("V", 1.0, 0, "volt,volts,vac,v ac,volts ac"),
        Unit("kV", 1e3, 3, "kilovolt,kilovolts"),
    ),
    "capacitance": (
        Unit("uF", 1e-6, 1, "µf,μf,mfd,microfarad,microfarads,mikrofarad", shown="µF"),
        Unit("nF", 1e-9, 0, "nanofarad,nanofarads"),
    ),
    "mass": (
        Unit("kg", 1.0, 2, "kgs,kilo,kilos,kilogram,kilograms"),
        Unit("g", 1e-3, 0, "gram,grams,gr"),
        Unit("lb", POUND, 2, "lbs,lbm,pound,pounds,#"),
        Unit("oz", POUND / 16, 1, "ounce,ounces,ozs"),
    ),
    "length": (
        Unit("ft", FOOT, 0, "foot,feet,'"),
        Unit("in", INCH, 3, 'inch,inches,"'),
        Unit("m", 1.0, 1, "metre,metres,meter,meters"),
        Unit("km", 1e3, 3, "kilometre,kilometres,kilometer,kilometers"),
        Unit("cm", 1e-2, 1, "centimetre,centimetres,centimeter,centimeters"),
        Unit("mm", 1e-3, 1, "millimetre,millimetres,millimeter,millimeters"),
    ),
    "mass per length": (
        Unit("oz/ft", POUND / 16 / FOOT, 2, "oz/foot,oz per ft,oz per foot,ounces per foot,ounces per ft,oz a foot"),
        Unit("g/m", 1e-3, 0, "g per m,g/metre,g/meter,grams per meter,grams per metre"),
        Unit("kg/m", 1.0, 3, "kg per m,kg/metre,kg/meter"),
        Unit("lb/ft", POUND / FOOT, 3, "lb/foot,lbs/ft,lb per ft,lb per foot"),
    ),
    "percent": (Unit("%", 1e-2, 0, "percent,pct,per cent,%rh,rh,percent rh,pct rh,% relative humidity,%hr,%rf"),),
    "number": (Unit("", 1.0, 1),),
    "time": (
        Unit("min", 60.0, 0, "mins,minute,minutes"),
        Unit("h", 3600.0, 2, "hr,hrs,hour,hours"),
        Unit("s", 1.0, 0, "sec,secs,second,seconds"),
    ),
}


class Called(NamedTuple):
    """A kind in messages: its name, an example, the units in which it is told, and that of its values.

    usual: SI, gauge pressures as gauge: what an air conditioner may have at the least and at the most. Only to tell which of
    two ways to read a number can be meant; what a field may hold stands with the field.
    """

    name: str
    example: str
    us: str
    si: str
    base: str
    usual: tuple[float, float] | None = None


CALLED: dict[Kind, Called] = {
    "temperature": Called("a temperature", "61 F", "F", "C", "K"),
    "difference": Called("a temperature difference", "10 F", "F", "K", "K"),
    "pressure": Called("a pressure", "118 psig", "psig", "kPa gauge", "Pa", (1e4, 6e6)),
    "small pressure": Called("a duct pressure", "0.5 inH2O", "inH2O", "Pa", "Pa", (1.0, 1500.0)),
    "station pressure": Called("a station pressure", "29.6 inHg", "inHg", "hPa", "Pa", (5e4, 1.1e5)),
    "vacuum": Called("a vacuum", "350 microns", "micron", "Pa", "Pa"),
    "capacity": Called("a capacity", "3 ton", "ton", "kW", "W", (500.0, 2e6)),
    "airflow": Called("an airflow", "1180 cfm", "cfm", "L/s", "m3/s", (0.005, 60.0)),
    "current": Called("a current", "12 A", "A", "A", "A", (0.1, 500.0)),
    "voltage": Called("a voltage", "240 V", "V", "V", "V", (1.0, 600.0)),
    "capacitance": Called("a capacitance", "45 uF", "uF", "uF", "F", (1e-6, 4e-4)),
    "mass": Called("a weight", "6 lb 4 oz", "lb", "kg", "kg", (0.05, 500.0)),
    "length": Called("a length", "35 ft", "ft", "m", "m", (0.0, 5000.0)),
    "mass per length": Called("a weight per length", "0.60 oz/ft", "oz/ft", "g/m", "kg/m", (0.001, 0.5)),
    "percent": Called("a percentage", "50 %", "%", "%", "1"),
    "number": Called("a plain number", "14", "", "", "1"),
    "time": Called("a time", "15 min", "min", "min", "s"),
}
