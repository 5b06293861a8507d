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
from diagnose.visit.fields import FIELDS, LINES, Field, Section
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


def _called(written: Mapping[Section, str]) -> Mapping[Section, Mapping[str, tuple[str, ...]]]:
    """Each word of a list `line, or one | the other: words of the trade` with the lines that it can mean."""
    lists = {part: re.sub(r",\s+", ", ", text).strip().splitlines() for part, text in written.items()}
    return MappingProxyType({
        part: {word: tuple(names.strip().split(" | ")) for names, words in (line.split(": ") for line in lines)
               for word in words.split(", ")}
        for part, lines in lists.items()
    })  # fmt: skip


SYNONYMS: Mapping[Section, Mapping[str, tuple[str, ...]]] = _called({
    "readings": """
        suction pressure: low, low pressure, low side, low side pressure, suction, suction side pressure, blue gauge, ssp,
            low gauge, low side gauge
        liquid pressure: high, hp, head, head pressure, high side, high side pressure, liquid line pressure, high gauge,
            high side gauge, red gauge, discharge pressure, condensing pressure, liquid side pressure
        vapour line pressure: gas pressure, gas line pressure, vapour pressure
        external static pressure: total external static pressure, total static pressure, duct static pressure
        standing pressure: off pressure, equalized pressure, equalised pressure
        suction line temperature: suction line, suction temperature, suction pipe temperature, slt
        vapour line temperature: vapour line, vapour temperature, gas line temperature, big line temperature, big line
        liquid line temperature: small line temperature, small line, liquid line, liquid temperature,
            liquid pipe temperature, llt
        discharge line temperature: discharge temperature, discharge line, discharge gas temperature, hot gas temperature,
            compressor discharge temperature
        gauge superheat: superheat, superheat reading, suction superheat, total superheat, measured superheat,
            actual superheat
        gauge subcooling: liquid subcooling, subcooling, subcooling reading, measured subcooling, actual subcooling
        outdoor air temperature: outdoor, outdoor temperature, outdoor air, outdoor ambient, outdoor dry bulb,
            outdoor air dry bulb, outdoor ambient temperature, ambient, ambient temperature, ambient air temperature,
            od temperature, oddb, oat, odt, condenser return air temperature
        return air dry bulb: return, return air, return temperature, return air temperature, return dry bulb,
            indoor dry bulb, indoor air dry bulb, idb, edb, rat, eat
        supply air dry bulb: lat, supply, supply air, supply temperature, supply air temperature, supply vent temperature,
            supply dry bulb, ldb
        return air wet bulb: return wet bulb, indoor wet bulb, indoor air wet bulb, iwb, ewb
        return air relative humidity: return humidity, return air humidity, return relative humidity,
            indoor relative humidity, indoor humidity
        supply air wet bulb: supply wet bulb, lwb
        supply air relative humidity: supply humidity, supply air humidity, supply relative humidity
        airflow: air flow, cfm, indoor airflow, blower airflow, system airflow
        compressor current: compressor current draw
        drier inlet temperature: drier inlet, filter drier inlet temperature
        drier outlet temperature: drier outlet, filter drier outlet temperature
        coil outlet temperature: coil outlet, evaporator outlet temperature
        metering inlet temperature: metering inlet
        condenser leaving air temperature: condenser supply air temperature, condenser air outlet temperature,
            condenser discharge air temperature
        standing air temperature: standing temperature
        capacitor: run capacitor, compressor capacitor, mfd
        voltage 1 to 2: voltage, line voltage, supply voltage, volts, voltage l1 l2, l1 l2
        voltage 2 to 3: voltage l2 l3, l2 l3
        voltage 3 to 1: voltage l1 l3, voltage l3 l1, l1 l3, l3 l1
        contactor coil voltage: coil voltage, contactor voltage
        valve tube temperature: reversing valve tube temperature, suction tube temperature, tube temperature
        electric power: power, input power, power input, watts, system power, kw, kilowatts
        minutes since defrost: defrost, minutes after defrost, time since defrost
        minutes running: minutes, running time, run time, runtime, time running, run minutes, running minutes
        suction pressure | external static pressure: sp
        suction pressure | liquid pressure: lp, pressure, gauge pressure
        liquid pressure | metering inlet pressure: high pressure
        external static pressure | standing pressure: static, static pressure
        suction line temperature | liquid line temperature: line temperature, pipe temperature
        liquid pressure | discharge line temperature: discharge
        liquid pressure | liquid line temperature: liquid
        return air dry bulb | supply air dry bulb: indoor temperature, dry bulb
        supply air dry bulb | return air dry bulb: vent temperature, register temperature
        return air wet bulb | supply air wet bulb: wet bulb
        return air relative humidity | supply air relative humidity: humidity, relative humidity
        outdoor air temperature | return air dry bulb: air temperature
        compressor current | rated current: current, current draw
    """,
    "machine": """
        rated current: rla, fla, rated load current, full load current, nameplate current, compressor rla,
            compressor rated current
        nominal capacity: capacity, tonnage, tons, btu, btuh, btu h, mbh, size, nominal size, nominal tons, cooling capacity,
            rated capacity
        rated subcooling: subcooling, target subcooling, design subcooling, nameplate subcooling
        rated heating subcooling: heating subcooling, target heating subcooling
        rated superheat: superheat, design superheat
        factory charge: charge, nameplate charge, refrigerant charge, factory refrigerant charge, rated charge
        station pressure: barometer, barometric pressure, atmospheric pressure
        high pressure cut-out: high pressure switch, hps, hpco, high pressure cutout
        rated voltage: voltage, nameplate voltage, volts
        capacitor rating: capacitor, run capacitor
        fan capacitor rating: fan capacitor
        control voltage: coil voltage
        recovered charge: recovered, charge recovered, recovered refrigerant, refrigerant recovered, recovered weight,
            weight recovered
        weighed in: weighed inlet charge, charge weighed inlet, weigh inlet
        altitude: elevation, height above sea level
        kind: type, unit type, system type
        running at: stage
        refrigerant: gas, refrigerant type
        metering: metering device, expansion device, expansion valve
        built for: original refrigerant, built for refrigerant, converted from, retrofitted from
        condenser coil: coil type, condenser type, outdoor coil
        circuits: number of circuits, refrigerant circuits
        head pressure held by: head pressure control
        economizer: economiser
        gas path: bypass
        mode: operating mode
    """,
    "line set": """
        liquid line: liquid, liquid line size, liquid line diameter, liquid size, small line
        suction line: suction, vapour, gas, suction line size, suction line diameter, suction size, vapour line,
            vapour line size, gas line, gas line size, big line
        length: line length, line set length, liquid line length
        included: included length, factory length, precharged length, pre charged length, covered length
        included liquid line: included line, included size
        suction length: suction line length, vapour line length
        allowance: per foot, oz per foot, ounces per foot, charge per foot, charge per length, line allowance,
            maker s allowance, makers allowance
        indoor coil: coil, coil allowance, indoor coil allowance, evaporator, evaporator coil
        drier: filter drier, drier allowance
        lift: rise, height, vertical lift, vertical rise, height difference
    """,
    "refrigerant": """
        added: charged, weighed in, put in, inlet, topped up
        recovered: removed, taken outlet, outlet, pulled outlet
    """,
    "instruments": """
        gauges: gauge, manifold, manifold gauges
        pipe clamps: pipe clamp, pipe thermometers
        air thermometers: air thermometer
        humidity meter: hygrometer
        airflow meter: flow hood
        current clamp: ammeter, current meter
        digital gauges: digital gauge, digital manifold
        power meter: watt meter, wattmeter
        vacuum gauge: micron gauge
        charging scale: scale
        gauges | pipe clamps: probes
        pipe clamps | current clamp: clamps
        pipe clamps | air thermometers: thermometers, thermometer
        voltmeter | capacitance meter: multimeter
    """,
    "lines": """
        longest allowed: maximum length, max length
        highest lift allowed: max lift, maximum lift
        traps: trap
    """,
    "pressure test": """
        start pressure: start, test pressure, beginning pressure
        end pressure: end, final pressure
        highest allowed: max pressure, plate maximum, maximum, maximum pressure
        held: time, time held, minutes, hours
        gas: test gas
        end temperature: final temperature
        bubbles: soap bubbles
        start pressure | end pressure: pressure
        start temperature | end temperature: temperature
    """,
    "vacuum": """
        minutes: time
        pressure: vacuum, microns
    """,
    "electric heat": """
        power: watts, kw, heater power
        voltage: volts
        return air: return, return temperature, return air temperature, return air dry bulb
        supply air: supply, supply temperature, supply air temperature, supply air dry bulb
        phases: phase
    """,
    "blower table": """
        external static pressure: static, static pressure
        airflow: cfm, air flow
    """,
    "static": """
        measured: total, external static pressure, total external static pressure
        coil: indoor coil
        supply side: supply, supply duct
        return side: return, return duct
        highest allowed: maximum, plate maximum, rated
    """,
    "charge": """
        whole: total, total charge
        removed: taken out, recovered
        added | whole: weighed in
    """,
})  # fmt: skip
"""By part of a visit, in the words of `_plain` ("in" is "inlet", "entering" is "return"): the lines that can be meant."""

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
