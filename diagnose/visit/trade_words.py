"""What else the trade calls the lines of a visit: one table, and what to say of a name that is not known.

A word stands for a line only where nothing else can be meant by it; where two can, it is asked which. What is only near to a
name is proposed as a slip of the pen alone: never the other side, never another quantity. Common practice, no source.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from diagnose.units import LARGEST, Kind, is_unit
from diagnose.visit.fields import DEFROSTED, FIELDS, LINES, MINUTES, Field, Section
from diagnose.visit.start_up_fields import START_UP_FIELDS

_SHORT: Mapping[str, str] = MappingProxyType({
    "temp": "temperature", "temps": "temperature", "press": "pressure", "pres": "pressure", "db": "dry bulb",
    "drybulb": "dry bulb", "wb": "wet bulb", "wetbulb": "wet bulb", "rh": "relative humidity", "outside": "outdoor",
    "entering": "return", "leaving": "supply", "amperage": "current", "amps": "current", "amp": "current", "comp": "compressor",
    "lineset": "line set", "vapor": "vapour", "sh": "superheat", "sc": "subcooling", "filter-drier": "drier", "dryer": "drier",
    "psi": "pressure", "psig": "pressure", "lo": "low", "hi": "high", "suct": "suction", "liq": "liquid", "disch": "discharge",
    "amb": "ambient", "evap": "evaporator", "cond": "condenser", "ra": "return air", "sa": "supply air", "oa": "outdoor air",
    "subcool": "subcooling",
    "rat": "return air", "rwb": "return wet bulb", "rdb": "return dry bulb", "swb": "supply wet bulb", "sdb": "supply dry bulb",
    "ref": "refrigerant",
    "od": "outdoor", "id": "indoor", "tesp": "external static pressure", "dlt": "discharge line temperature",
    "in": "inlet", "out": "outlet", "lowside": "low side", "highside": "high side", "esp": "external static pressure",
})  # fmt: skip
"""Words within a name, written out before the table is looked at."""

SYNONYMS: Mapping[Section, Mapping[str, tuple[str, ...]]] = MappingProxyType({
    "readings": {
        "low": ("suction pressure",), "high": ("liquid pressure",),
        "low pressure": ("suction pressure",), "low side": ("suction pressure",), "low side pressure": ("suction pressure",),
        "suction": ("suction pressure",), "suction side pressure": ("suction pressure",), "blue gauge": ("suction pressure",),
        "sp": ("suction pressure", "external static pressure"), "ssp": ("suction pressure",),
        "gas pressure": ("vapour line pressure",), "gas line pressure": ("vapour line pressure",), "hp": ("liquid pressure",),
        "lp": ("suction pressure", "liquid pressure"),
        "vapour pressure": ("vapour line pressure",),
        "low gauge": ("suction pressure",), "low side gauge": ("suction pressure",),
        "head": ("liquid pressure",), "head pressure": ("liquid pressure",), "high side": ("liquid pressure",),
        "high side pressure": ("liquid pressure",), "liquid line pressure": ("liquid pressure",),
        "high gauge": ("liquid pressure",), "high side gauge": ("liquid pressure",), "red gauge": ("liquid pressure",),
        "discharge pressure": ("liquid pressure",), "condensing pressure": ("liquid pressure",),
        "liquid side pressure": ("liquid pressure",),
        "high pressure": ("liquid pressure", "metering inlet pressure"),
        "pressure": ("suction pressure", "liquid pressure"), "gauge pressure": ("suction pressure", "liquid pressure"),
        "static": ("external static pressure", "standing pressure"),
        "static pressure": ("external static pressure", "standing pressure"),
        "total external static pressure": ("external static pressure",), "total static pressure": ("external static pressure",),
        "duct static pressure": ("external static pressure",),
        "off pressure": ("standing pressure",), "equalized pressure": ("standing pressure",),
        "equalised pressure": ("standing pressure",),
        "suction line": ("suction line temperature",), "suction temperature": ("suction line temperature",),
        "vapour line": ("vapour line temperature",), "vapour temperature": ("vapour line temperature",),
        "gas line temperature": ("vapour line temperature",),
        "big line temperature": ("vapour line temperature",), "small line temperature": ("liquid line temperature",),
        "big line": ("vapour line temperature",), "small line": ("liquid line temperature",),
        "suction pipe temperature": ("suction line temperature",), "slt": ("suction line temperature",),
        "liquid line": ("liquid line temperature",), "liquid temperature": ("liquid line temperature",),
        "liquid pipe temperature": ("liquid line temperature",), "llt": ("liquid line temperature",),
        "line temperature": ("suction line temperature", "liquid line temperature"),
        "pipe temperature": ("suction line temperature", "liquid line temperature"),
        "discharge": ("liquid pressure", "discharge line temperature"),
        "liquid": ("liquid pressure", "liquid line temperature"),
        "discharge temperature": ("discharge line temperature",), "discharge line": ("discharge line temperature",),
        "discharge gas temperature": ("discharge line temperature",), "hot gas temperature": ("discharge line temperature",),
        "compressor discharge temperature": ("discharge line temperature",),
        "superheat": ("gauge superheat",), "superheat reading": ("gauge superheat",),
        "suction superheat": ("gauge superheat",), "total superheat": ("gauge superheat",),
        "liquid subcooling": ("gauge subcooling",), "measured superheat": ("gauge superheat",),
        "actual superheat": ("gauge superheat",),
        "subcooling": ("gauge subcooling",), "subcooling reading": ("gauge subcooling",),
        "measured subcooling": ("gauge subcooling",), "actual subcooling": ("gauge subcooling",),
        "outdoor": ("outdoor air temperature",), "outdoor temperature": ("outdoor air temperature",),
        "outdoor air": ("outdoor air temperature",), "outdoor ambient": ("outdoor air temperature",),
        "outdoor dry bulb": ("outdoor air temperature",), "outdoor air dry bulb": ("outdoor air temperature",),
        "outdoor ambient temperature": ("outdoor air temperature",), "ambient": ("outdoor air temperature",),
        "ambient temperature": ("outdoor air temperature",), "ambient air temperature": ("outdoor air temperature",),
        "od temperature": ("outdoor air temperature",), "oddb": ("outdoor air temperature",),
        "oat": ("outdoor air temperature",), "odt": ("outdoor air temperature",),
        "condenser return air temperature": ("outdoor air temperature",),  # entering, written out
        "return": ("return air dry bulb",), "return air": ("return air dry bulb",),
        "return temperature": ("return air dry bulb",), "return air temperature": ("return air dry bulb",),
        "return dry bulb": ("return air dry bulb",), "indoor dry bulb": ("return air dry bulb",),
        "indoor air dry bulb": ("return air dry bulb",), "idb": ("return air dry bulb",), "edb": ("return air dry bulb",),
        "rat": ("return air dry bulb",), "eat": ("return air dry bulb",), "lat": ("supply air dry bulb",),
        "indoor temperature": ("return air dry bulb", "supply air dry bulb"),
        "return wet bulb": ("return air wet bulb",), "indoor wet bulb": ("return air wet bulb",),
        "indoor air wet bulb": ("return air wet bulb",), "iwb": ("return air wet bulb",), "ewb": ("return air wet bulb",),
        "return humidity": ("return air relative humidity",), "return air humidity": ("return air relative humidity",),
        "return relative humidity": ("return air relative humidity",),
        "indoor relative humidity": ("return air relative humidity",), "indoor humidity": ("return air relative humidity",),
        "supply": ("supply air dry bulb",), "supply air": ("supply air dry bulb",),
        "supply temperature": ("supply air dry bulb",), "supply air temperature": ("supply air dry bulb",),
        "supply vent temperature": ("supply air dry bulb",), "vent temperature": ("supply air dry bulb", "return air dry bulb"),
        "register temperature": ("supply air dry bulb", "return air dry bulb"),
        "supply dry bulb": ("supply air dry bulb",), "ldb": ("supply air dry bulb",),
        "supply wet bulb": ("supply air wet bulb",), "lwb": ("supply air wet bulb",),
        "supply humidity": ("supply air relative humidity",), "supply air humidity": ("supply air relative humidity",),
        "supply relative humidity": ("supply air relative humidity",),
        "dry bulb": ("return air dry bulb", "supply air dry bulb"), "wet bulb": ("return air wet bulb", "supply air wet bulb"),
        "humidity": ("return air relative humidity", "supply air relative humidity"),
        "relative humidity": ("return air relative humidity", "supply air relative humidity"),
        "air temperature": ("outdoor air temperature", "return air dry bulb"),
        "air flow": ("airflow",), "cfm": ("airflow",), "indoor airflow": ("airflow",), "blower airflow": ("airflow",),
        "system airflow": ("airflow",), "compressor current draw": ("compressor current",),
        "current": ("compressor current", "rated current"), "current draw": ("compressor current", "rated current"),
        "drier inlet": ("drier inlet temperature",), "drier outlet": ("drier outlet temperature",),
        "filter drier inlet temperature": ("drier inlet temperature",),
        "filter drier outlet temperature": ("drier outlet temperature",),
        "coil outlet": ("coil outlet temperature",), "evaporator outlet temperature": ("coil outlet temperature",),
        "metering inlet": ("metering inlet temperature",),
        "condenser supply air temperature": ("condenser leaving air temperature",),  # leaving, written out
        "condenser air outlet temperature": ("condenser leaving air temperature",),
        "condenser discharge air temperature": ("condenser leaving air temperature",),
        "standing temperature": ("standing air temperature",),
        "run capacitor": ("capacitor",), "compressor capacitor": ("capacitor",), "mfd": ("capacitor",),
        "voltage": ("voltage 1 to 2",), "line voltage": ("voltage 1 to 2",), "supply voltage": ("voltage 1 to 2",),
        "volts": ("voltage 1 to 2",), "voltage l1 l2": ("voltage 1 to 2",), "voltage l2 l3": ("voltage 2 to 3",),
        "voltage l1 l3": ("voltage 3 to 1",), "voltage l3 l1": ("voltage 3 to 1",), "l1 l2": ("voltage 1 to 2",),
        "l2 l3": ("voltage 2 to 3",), "l1 l3": ("voltage 3 to 1",), "l3 l1": ("voltage 3 to 1",),
        "coil voltage": ("contactor coil voltage",), "contactor voltage": ("contactor coil voltage",),
        "reversing valve tube temperature": ("valve tube temperature",),
        "suction tube temperature": ("valve tube temperature",),
        "tube temperature": ("valve tube temperature",), "power": ("electric power",), "input power": ("electric power",),
        "power input": ("electric power",), "watts": ("electric power",), "system power": ("electric power",),
        "kw": ("electric power",), "kilowatts": ("electric power",),
        "defrost": (DEFROSTED,), "minutes after defrost": (DEFROSTED,), "time since defrost": (DEFROSTED,),
        "minutes": (MINUTES,), "running time": (MINUTES,), "run time": (MINUTES,), "runtime": (MINUTES,),
        "time running": (MINUTES,), "run minutes": (MINUTES,), "running minutes": (MINUTES,),
    },
    "machine": {
        "rla": ("rated current",), "fla": ("rated current",), "rated load current": ("rated current",),
        "full load current": ("rated current",), "nameplate current": ("rated current",),
        "compressor rla": ("rated current",), "compressor rated current": ("rated current",),
        "capacity": ("nominal capacity",), "tonnage": ("nominal capacity",), "tons": ("nominal capacity",),
        "btu": ("nominal capacity",), "btuh": ("nominal capacity",), "btu h": ("nominal capacity",),
        "mbh": ("nominal capacity",),
        "size": ("nominal capacity",), "nominal size": ("nominal capacity",), "nominal tons": ("nominal capacity",),
        "cooling capacity": ("nominal capacity",), "rated capacity": ("nominal capacity",),
        "subcooling": ("rated subcooling",), "target subcooling": ("rated subcooling",),
        "design subcooling": ("rated subcooling",), "nameplate subcooling": ("rated subcooling",),
        "heating subcooling": ("rated heating subcooling",), "target heating subcooling": ("rated heating subcooling",),
        "superheat": ("rated superheat",), "design superheat": ("rated superheat",),
        "charge": ("factory charge",), "nameplate charge": ("factory charge",), "refrigerant charge": ("factory charge",),
        "factory refrigerant charge": ("factory charge",), "rated charge": ("factory charge",),
        "barometer": ("station pressure",), "barometric pressure": ("station pressure",),
        "atmospheric pressure": ("station pressure",), "high pressure switch": ("high pressure cut-out",),
        "hps": ("high pressure cut-out",), "hpco": ("high pressure cut-out",),
        "high pressure cutout": ("high pressure cut-out",),
        "voltage": ("rated voltage",), "nameplate voltage": ("rated voltage",), "volts": ("rated voltage",),
        "capacitor": ("capacitor rating",), "run capacitor": ("capacitor rating",), "fan capacitor": ("fan capacitor rating",),
        "coil voltage": ("control voltage",),
        "recovered": ("recovered charge",), "charge recovered": ("recovered charge",),
        "recovered refrigerant": ("recovered charge",), "refrigerant recovered": ("recovered charge",),
        "recovered weight": ("recovered charge",), "weight recovered": ("recovered charge",),
        # "in" is written out
        "weighed inlet charge": ("weighed in",), "charge weighed inlet": ("weighed in",), "weigh inlet": ("weighed in",),
        "elevation": ("altitude",), "height above sea level": ("altitude",),
        "type": ("kind",), "unit type": ("kind",), "system type": ("kind",), "stage": ("running at",),
        "gas": ("refrigerant",), "refrigerant type": ("refrigerant",), "metering device": ("metering",),
        "original refrigerant": ("built for",), "built for refrigerant": ("built for",), "converted from": ("built for",),
        "retrofitted from": ("built for",), "coil type": ("condenser coil",), "condenser type": ("condenser coil",),
        "outdoor coil": ("condenser coil",), "number of circuits": ("circuits",), "refrigerant circuits": ("circuits",),
        "head pressure control": ("head pressure held by",), "economiser": ("economizer",), "bypass": ("gas path",),
        "expansion device": ("metering",), "expansion valve": ("metering",), "operating mode": ("mode",),
    },
    "line set": {
        "liquid": ("liquid line",), "suction": ("suction line",), "vapour": ("suction line",), "gas": ("suction line",),
        "liquid line size": ("liquid line",), "liquid line diameter": ("liquid line",), "liquid size": ("liquid line",),
        "line length": ("length",), "line set length": ("length",), "liquid line length": ("length",),
        "included length": ("included",), "factory length": ("included",),
        "precharged length": ("included",), "pre charged length": ("included",), "covered length": ("included",),
        "included line": ("included liquid line",), "included size": ("included liquid line",),
        "suction line size": ("suction line",), "suction line diameter": ("suction line",), "suction size": ("suction line",),
        "vapour line": ("suction line",), "vapour line size": ("suction line",), "gas line": ("suction line",),
        "gas line size": ("suction line",), "big line": ("suction line",), "small line": ("liquid line",),
        "suction line length": ("suction length",), "vapour line length": ("suction length",),
        "per foot": ("allowance",), "oz per foot": ("allowance",), "ounces per foot": ("allowance",),
        "charge per foot": ("allowance",), "charge per length": ("allowance",), "line allowance": ("allowance",),
        "maker s allowance": ("allowance",), "makers allowance": ("allowance",),
        "coil": ("indoor coil",), "coil allowance": ("indoor coil",), "indoor coil allowance": ("indoor coil",),
        "evaporator": ("indoor coil",), "evaporator coil": ("indoor coil",),
        "filter drier": ("drier",), "drier allowance": ("drier",),
        "rise": ("lift",), "height": ("lift",), "vertical lift": ("lift",), "vertical rise": ("lift",),
        "height difference": ("lift",),
    },
    "refrigerant": {
        "charged": ("added",), "weighed in": ("added",), "put in": ("added",), "inlet": ("added",), "topped up": ("added",),
        "removed": ("recovered",), "taken outlet": ("recovered",), "outlet": ("recovered",), "pulled outlet": ("recovered",),
    },
    "instruments": {
        "gauge": ("gauges",), "manifold": ("gauges",), "manifold gauges": ("gauges",), "probes": ("gauges", "pipe clamps"),
        "clamps": ("pipe clamps", "current clamp"), "pipe clamp": ("pipe clamps",), "pipe thermometers": ("pipe clamps",),
        "thermometers": ("pipe clamps", "air thermometers"), "thermometer": ("pipe clamps", "air thermometers"),
        "air thermometer": ("air thermometers",), "hygrometer": ("humidity meter",), "flow hood": ("airflow meter",),
        "multimeter": ("voltmeter", "capacitance meter"), "ammeter": ("current clamp",), "current meter": ("current clamp",),
        "digital gauge": ("digital gauges",), "digital manifold": ("digital gauges",), "watt meter": ("power meter",),
        "wattmeter": ("power meter",),
        "micron gauge": ("vacuum gauge",), "scale": ("charging scale",),
    },
    "lines": {
        "maximum length": ("longest allowed",), "max length": ("longest allowed",), "max lift": ("highest lift allowed",),
        "maximum lift": ("highest lift allowed",), "trap": ("traps",),
    },
    "pressure test": {
        "start": ("start pressure",), "end": ("end pressure",), "max pressure": ("highest allowed",),
        "pressure": ("start pressure", "end pressure"), "test pressure": ("start pressure",),
        "temperature": ("start temperature", "end temperature"), "time": ("held",), "time held": ("held",),
        "minutes": ("held",), "hours": ("held",), "plate maximum": ("highest allowed",), "maximum": ("highest allowed",),
        "maximum pressure": ("highest allowed",), "test gas": ("gas",), "final pressure": ("end pressure",),
        "beginning pressure": ("start pressure",), "final temperature": ("end temperature",), "soap bubbles": ("bubbles",),
    },
    "vacuum": {"time": ("minutes",), "vacuum": ("pressure",), "microns": ("pressure",)},
    "electric heat": {
        "watts": ("power",), "kw": ("power",), "heater power": ("power",), "volts": ("voltage",), "return": ("return air",),
        "return temperature": ("return air",), "return air temperature": ("return air",), "supply": ("supply air",),
        "supply temperature": ("supply air",), "supply air temperature": ("supply air",),
        "return air dry bulb": ("return air",),
        "supply air dry bulb": ("supply air",), "phase": ("phases",),
    },
    "blower table": {"static": ("external static pressure",), "static pressure": ("external static pressure",),
                     "cfm": ("airflow",), "air flow": ("airflow",)},
    "static": {
        "total": ("measured",), "external static pressure": ("measured",), "total external static pressure": ("measured",),
        "indoor coil": ("coil",), "supply": ("supply side",), "return": ("return side",), "supply duct": ("supply side",),
        "return duct": ("return side",), "maximum": ("highest allowed",), "plate maximum": ("highest allowed",),
        "rated": ("highest allowed",),
    },
    "charge": {"weighed in": ("added", "whole"), "total": ("whole",), "total charge": ("whole",), "taken out": ("removed",),
               "recovered": ("removed",)},
})  # fmt: skip
"""By part of a visit, in the words of `_plain`: the lines that can be meant."""

TWO_IN_ONE: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "return air dry bulb": ("return air dry bulb", "return air wet bulb"),
        "supply air dry bulb": ("supply air dry bulb", "supply air wet bulb"),
    }
)
"""Readings that are written as dry bulb / wet bulb, `75/63 F`, and what the two are."""

NOT_TAKEN: Mapping[str, str] = MappingProxyType(
    dict.fromkeys(
        ("delta t", "td", "temperature split", "split", "air split", "temperature difference", "temperature drop"),
        "It is worked out here: write `return air dry bulb` and `supply air dry bulb`.",
    )
    | dict.fromkeys(
        ("room temperature", "thermostat temperature", "house temperature", "space temperature"),
        "Measure in the return duct near the indoor coil, and write `return air dry bulb`.",
    )
    | dict.fromkeys(
        (
            "sst",
            "sct",
            "saturation temperature",
            "evaporator temperature",
            "condenser temperature",
            "evaporating temperature",
            "condensing temperature",
        ),
        "It is worked out here from the pressure: write `suction pressure` or `liquid pressure`.",
    )
    | dict.fromkeys(
        ("time", "clock", "clock time", "taken at", "at", "hour", "start time"),
        "Write how long the machine had run by then, for example `minutes running: 15`.",
    )
    | {"drier drop": "Write `drier inlet temperature` and `drier outlet temperature`."}
    | {"compressor temperature": "Clamp the hot line and write `discharge line temperature`."}
    | {"sat": "Write `supply air dry bulb`; a saturation temperature is worked out here from its pressure."}
    | dict.fromkeys(("retrofit", "converted from"), "Write `built for: R-22`, or whatever it was made for.")
    | {"receiver": "Write `head pressure held by: flooded condenser` where it floods its condenser, else `notes:`."}
    | dict.fromkeys(
        ("model", "model number", "serial", "serial number", "phase", "make", "brand", "year", "age"),
        "It is not used; write it under `notes:`.",
    )
)
"""What technicians write down that is no line of a visit, in the words of `_plain`, and what to write instead."""

_OWN_WORDS: Mapping[str, str] = MappingProxyType(
    {"dry bulb": r"db|dry ?bulb", "outdoor air temperature": r"db|dry ?bulb", "wet bulb": r"wb|wet ?bulb", "SEER": "seer",
     "SEER2": "seer2", "liquid line": r"o\.?d\.?", "suction line": r"o\.?d\.?"}
)  # fmt: skip

SEEN: Mapping[str, str] = MappingProxyType(
    {"evap coil": "indoor coil", "evaporator": "indoor coil", "evaporator coil": "indoor coil", "a-coil": "indoor coil",
     "condenser": "outdoor coil", "condenser coil": "outdoor coil", "cond coil": "outdoor coil", "condenser fan": "outdoor fan",
     "ice": "indoor coil ice", "oil": "oil stains", "leaks": "leak", "refrigerant leak": "leak",
     "frost": "outdoor coil frost", "bulb": "sensing bulb",
     "sightglass": "sight glass", "drier": "filter drier", "fuse": "breaker", "fuses": "breaker", "stat": "thermostat",
     "disconnect": "power", "drain pan": "condensate drain", "grilles": "registers", "strips": "supplementary heat"}
)  # fmt: skip
"""What technicians call what is looked at, and the finding to propose for it."""

_SAID: Mapping[str, str] = MappingProxyType(
    {"found": "yes present leaking leaks", "none found": "no none",
     "clean": "ok good fine new", "dirty": "clogged plugged filthy bad matted blocked", "none": "no",
     "present": "yes some found iced frozen seen on", "normal": "ok good fine running", "stopped": "off dead no",
     "slow or stopped": "off dead no", "closed or blocked": "shut", "clear": "ok good open clean",
     "blocked": "clogged plugged full",
     "bubbles": "bubbling foaming foamy flashing flash", "calling": "yes on ok", "no call": "no off", "absent": "no off none",
     "running": "yes on ok normal", "humming": "hums buzzing", "silent": "quiet dead off", "light": "thin some",
     "heavy": "thick ice iced", "pulled in": "closed", "even": "ok warm same"}
)  # fmt: skip


def said_as(word: str, words: Iterable[str]) -> str:
    """The one of these words that is meant by another of the trade; the word itself where none is, or more than one."""
    found = [one for one in words if word in _SAID.get(one, "").split()]
    return found[0] if len(found) == 1 else word


_NAMES: Mapping[Section, Mapping[str, str]] = MappingProxyType(
    {
        section: {one.name.lower(): one.name for one in (*FIELDS, *START_UP_FIELDS) if one.section == section}
        | ({LINES.name: LINES.name} if section == "machine" else {})
        for section in SYNONYMS
    }
)


def meant(section: Section, word: str) -> tuple[str, ...]:
    """The lines of this part of a visit that a word can mean: one, two or more to choose from, or none known."""
    names, others = _NAMES[section], SYNONYMS[section]
    spelled = " ".join(word.lower().split())
    if spelled not in names and spelled not in others:
        spelled = _plain(word)
    return (names[spelled],) if spelled in names else others.get(spelled, ())


_KINDS: Mapping[tuple[str, str], Kind] = MappingProxyType(
    {(one.section, one.name): one.kind for one in (*FIELDS, *START_UP_FIELDS) if isinstance(one, Field)}
)
_ALWAYS_IN: Mapping[str, str] = MappingProxyType({"rla": "A", "fla": "A", "tonnage": "ton", "humidity": "%"})
"""Names that say their unit without spelling it."""
_NUMBER = re.compile(r"[+-]?[0-9][0-9.,/\s-]*")


def named_with_unit(section: Section, word: str) -> tuple[str, ...]:
    """The lines meant by a name behind which a unit of theirs stands: `suction temp (F)`, `charge oz`."""
    parts = _parts(word)
    for cut in range(len(parts) - 1, max(0, len(parts) - 4), -1):
        names = meant(section, " ".join(parts[:cut]))
        found = tuple(name for name in names if _spells(" ".join(parts[cut:]), _KINDS.get((section, name))))
        if found:
            return found
    return ()


def with_named_unit(section: Section, names: tuple[str, ...], word: str, value: object) -> object:
    """A bare number with the unit that the name of its line says: `tons: 3`, `suction psig: 118`; else the value as it is."""
    bare = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST
    number = str(value) if bare else value
    if not isinstance(number, str) or not _NUMBER.fullmatch(number.strip()):
        return value
    parts = _parts(word)
    ends = [" ".join(parts[start:]) for start in range(max(0, len(parts) - 3), len(parts))]
    units = [*ends, *(_ALWAYS_IN[part.lower()] for part in parts if part.lower() in _ALWAYS_IN)]
    share = re.fullmatch(r"[+-]?[01]?[.,][0-9]+|[01]", number.strip())  # 0.5 may be 50 %
    kinds = [_KINDS.get((section, name)) for name in names]
    found = (unit for kind in kinds for unit in units if _spells(unit, kind) and not (share and kind == "percent"))
    return next((f"{number} {unit}" for unit in found), value)


def _parts(word: str) -> list[str]:
    return [part for part in re.split(r"[\s_()\[\],]+", word[:100]) if part]


def _spells(unit: str, kind: Kind | None) -> bool:
    return kind is not None and is_unit(unit, kind)


def instead(word: str) -> str:
    """What to write instead of something that is no line of a visit; empty where nothing is known of it."""
    return NOT_TAKEN.get(_plain(word), "")


def without_own_words(text: str, name: str) -> str:
    """`63 F wb` of a wet bulb, `14.3 SEER2`, `3/8 OD`: what only says again which line it is is left out."""
    own = next((words for line, words in _OWN_WORDS.items() if name == line or name.endswith(f" {line}")), None)
    return text if own is None else re.sub(rf"(?<=\S)\s*\b(?:{own})\s*$", "", text, flags=re.IGNORECASE)


def _plain(word: str) -> str:
    """In small letters, without dots, hyphens and brackets, short forms written out; `suctionPressure` is two words."""
    apart = re.sub(r"(?<=[a-z]{2})(?=[A-Z][a-z])", " ", word[:100])
    parts = re.sub(r"[\s_.()\-/]+", " ", apart.lower()).split()
    return " ".join(_SHORT.get(part, part) for part in parts)


def which(names: tuple[str, ...], section: Section) -> str:
    """The question which of these lines is meant, each with where it is read."""
    return f"Write {' or '.join(_told(name, section) for name in names)}."


def _told(name: str, section: Section) -> str:
    found = [one for one in (*FIELDS, *START_UP_FIELDS) if one.name == name]
    one = next((one for one in found if one.section == section), found[0] if found else None)
    place = one.where if isinstance(one, Field) and one.where else "" if one is None else f"under `{one.section}:`"
    return f"`{name}` ({place})" if place else f"`{name}`"


HEADED: tuple[Section, ...] = ("machine", "readings", "instruments")
"""The parts of a visit whose lines are told by their names alone."""


def elsewhere(section: Section | None, word: str) -> str:
    """Where a line belongs that stands in the wrong part of a visit; empty where no part has it."""
    if section in ("line set", "refrigerant"):
        return ""
    found = {part: names[0] for part in HEADED if part != section and len(names := meant(part, word)) == 1}
    places = ", or ".join(f"under `{part}:`, as `{name}`" for part, name in found.items())
    return f"It belongs {places}." if found else ""


def misspelt(word: str, known: Iterable[str]) -> str:
    """ "Did you mean `suction pressure`?" where a name differs by slips of the pen alone; else nothing."""
    written = _plain(word).split()
    found = [name for name in known if _slips(written, name.lower().split())]
    return f"Did you mean `{found[0]}`?" if len(found) == 1 else ""


def _slips(written: list[str], name: list[str]) -> bool:
    """Word by word the same, or nearly: `inlet` is not `outlet`, `SEER2` is not `SEER`."""
    return len(written) == len(name) and all(map(_slip, written, name))


def _slip(one: str, other: str) -> bool:
    if one == other:
        return True
    if one[:1] != other[:1] or any(sign.isdigit() for sign in one + other) or min(len(one), len(other)) < 4:
        return False
    return difflib.SequenceMatcher(None, one, other).ratio() >= 0.8
