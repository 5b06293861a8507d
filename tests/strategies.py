"""Visits for the tests: one that is right, machines in a sane state, and anything at all.

A `State` is what the refrigerant and the air of a machine do; `visit` writes down what a technician would read on it,
in US or SI units. The ranges are generous everyday ones (common practice, no source).
"""

from __future__ import annotations

import copy
import dataclasses
import math
from functools import cached_property
from typing import Any

from hypothesis import strategies as st

from diagnose.properties import (
    humidity_ratio_from_wet_bulb,
    isentropic_efficiency,
    isentropic_temperature,
    refrigerant,
    saturation_pressure,
    standard_pressure,
    wet_bulb,
)
from diagnose.units import CFM, PSI, TON

F = 5 / 9
SEA_LEVEL = 101325.0
# Refrigerants of ordinary air conditioners; the others meet other temperatures.
COMFORT = ("R-410A", "R-22", "R-32", "R-454B", "R-407C", "R-134a")


def kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8 + 273.15


def fahrenheit(kelvins: float) -> float:
    return (kelvins - 273.15) * 1.8 + 32


def saturated(gas: str, line: str, at: float, station: float = SEA_LEVEL) -> float:
    """Gauge pressure, psi, at which `gas` boils (dew) or condenses (bubble) at `at` °F."""
    found = saturation_pressure(refrigerant(gas), line, kelvin(at))  # type: ignore[arg-type]
    return (found - station) / PSI


@dataclasses.dataclass(frozen=True)
class State:
    """What a machine does, °F, ft, cfm, ton. Superheat and subcooling at the service valves."""

    gas: str = "R-410A"
    metering: str = "fixed orifice"
    outdoor: float = 80.0
    return_db: float = 75.0
    return_wb: float = 63.0
    evaporating: float = 45.0
    condensing: float = 97.0
    superheat: float = 14.0
    subcooling: float = 10.0
    split: float = 18.5
    tons: float = 3.0
    seer: float = 14.0
    rated_subcooling: float = 10.0
    cfm: float = 1200.0
    altitude: float = 0.0
    efficiency: float = 0.7
    minutes: float = 20.0

    def but(self, **changes: Any) -> State:
        return dataclasses.replace(self, **changes)

    @property
    def station(self) -> float:
        return standard_pressure(self.altitude * 0.3048)

    @property
    def suction(self) -> float:
        """Absolute suction pressure, Pa."""
        return saturated(self.gas, "dew", self.evaporating, 0.0) * PSI

    @property
    def liquid(self) -> float:
        """Absolute liquid pressure, Pa."""
        return saturated(self.gas, "bubble", self.condensing, 0.0) * PSI

    @property
    def supply(self) -> float:
        return self.return_db - self.split

    @cached_property
    def discharge(self) -> float | None:
        """Discharge line, °F, of a compressor with this isentropic efficiency; None where no table tells."""
        gas, start = refrigerant(self.gas), kelvin(self.evaporating + self.superheat)
        low = isentropic_temperature(gas, start, self.suction, self.liquid)
        if low is None:
            return None
        high = low + 150
        for _ in range(40):  # the hotter, the less efficient
            middle = (low + high) / 2
            found = isentropic_efficiency(gas, start, self.suction, middle, self.liquid)
            low, high = (middle, high) if found is not None and found > self.efficiency else (low, middle)
        return fahrenheit(low)

    @property
    def supply_wb(self) -> float:
        """Supply wet bulb, °F: 92 % of the water a saturated supply could hold, or that of the return air if less."""
        station = self.station
        inlet = humidity_ratio_from_wet_bulb(kelvin(self.return_db), kelvin(self.return_wb), station)
        full = humidity_ratio_from_wet_bulb(kelvin(self.supply), kelvin(self.supply), station)
        found = wet_bulb(kelvin(self.supply), min(inlet, 0.92 * full), station)
        return fahrenheit(found)


# how one kind of reading is written: system -> (value in °F, psi gauge, psi absolute, cfm … -> text)
def _temperature(x: float, system: str) -> str:
    return f"{x:.7f} F" if system == "us" else f"{(x - 32) / 1.8:.7f} C"


def _difference(x: float, system: str) -> str:
    return f"{x:.7f} F" if system == "us" else f"{x * F:.7f} K"


def visit(state: State, system: str = "us", extra: bool = False, absolute: bool = False) -> dict[str, Any]:
    """The visit file of a machine in this state; `extra`: also the readings few people take."""
    s = state

    def pressure(pascal: float) -> str:
        if absolute:
            return f"{pascal / PSI:.7f} psia" if system == "us" else f"{pascal / 1e3:.7f} kPa absolute"
        gauge = pascal - s.station
        return f"{gauge / PSI:.7f} psig" if system == "us" else f"{gauge / 1e3:.7f} kPa gauge"

    machine: dict[str, Any] = {
        "mode": "cooling",
        "refrigerant": s.gas,
        "metering": s.metering,
        "nominal capacity": f"{s.tons:.7f} ton" if system == "us" else f"{s.tons * TON / 1e3:.9f} kW",
        "SEER": s.seer,
        "altitude": f"{s.altitude:.7f} ft" if system == "us" else f"{s.altitude * 0.3048:.9f} m",
    }
    if s.metering != "fixed orifice":
        machine["rated subcooling"] = _difference(s.rated_subcooling, system)
    readings: dict[str, Any] = {
        "minutes running": s.minutes,
        "suction pressure": pressure(s.suction),
        "liquid pressure": pressure(s.liquid),
        "suction line temperature": _temperature(s.evaporating + s.superheat, system),
        "liquid line temperature": _temperature(s.condensing - s.subcooling, system),
        "outdoor air temperature": _temperature(s.outdoor, system),
        "return air dry bulb": _temperature(s.return_db, system),
        "return air wet bulb": _temperature(s.return_wb, system),
        "supply air dry bulb": _temperature(s.supply, system),
    }
    if extra:
        readings |= {
            "supply air wet bulb": _temperature(s.supply_wb, system),
            "airflow": f"{s.cfm:.7f} cfm" if system == "us" else f"{s.cfm * CFM * 1e3:.9f} L/s",
            "coil outlet temperature": _temperature(s.evaporating + s.superheat - 1.5, system),
            "metering inlet temperature": _temperature(s.condensing - s.subcooling - 1.0, system),
            "metering inlet pressure": pressure(s.liquid - 20e3),
            "drier inlet temperature": _temperature(s.condensing - s.subcooling, system),
            "drier outlet temperature": _temperature(s.condensing - s.subcooling - 0.3, system),
            "condenser leaving air temperature": _temperature(s.outdoor + 0.8 * (s.condensing - s.outdoor), system),
        }
        if s.discharge is not None:
            readings["discharge line temperature"] = _temperature(s.discharge, system)
    return {"machine": machine, "readings": readings}


def with_readings(base: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A copy of a visit with readings changed (`suction_pressure="130 psig"`) or taken out (None)."""
    made = copy.deepcopy(base)
    for name, value in changes.items():
        word = name.replace("_", " ")
        if value is None:
            made["readings"].pop(word, None)
        else:
            made["readings"][word] = value
    return made


def with_machine(base: dict[str, Any], **changes: Any) -> dict[str, Any]:
    made = copy.deepcopy(base)
    for name, value in changes.items():
        word = "SEER" if name == "seer" else name.replace("_", " ")
        if value is None:
            made["machine"].pop(word, None)
        else:
            made["machine"][word] = value
    return made


def shifted(text: str, by: float) -> str:
    """`61 F` and 0.5 give `61.5 F`."""
    number, unit = text.split(" ", 1)
    return f"{float(number) + by:.9f} {unit}"


@st.composite
def states(draw: st.DrawFn, metering: tuple[str, ...] = ("fixed orifice", "TXV", "EEV")) -> State:
    """Sane machines, sound or faulty: what honest readings on a running air conditioner look like."""
    between = lambda low, high: draw(st.floats(low, high).map(lambda x: round(x, 4)))  # noqa: E731
    gas = draw(st.sampled_from(COMFORT))
    outdoor = between(65, 110)
    return_db = between(70, 82)
    return_wb = return_db - between(8, 16)  # 35 to 70 % humidity
    evaporating = return_db - between(26, 44)
    superheat = between(3, 24)
    split = between(12, min(24.0, return_db - evaporating - 5))
    condensing = outdoor + between(10, 34)
    subcooling = between(2, min(20.0, condensing - outdoor - 4))
    return State(
        gas=gas,
        metering=draw(st.sampled_from(metering)),
        outdoor=outdoor,
        return_db=return_db,
        return_wb=return_wb,
        evaporating=evaporating,
        condensing=condensing,
        superheat=superheat,
        subcooling=subcooling,
        split=split,
        tons=between(2, 5),  # with its 1200 cfm
        seer=between(9, 20),
        rated_subcooling=between(6, 14),
        altitude=between(-100, 8000),
        efficiency=between(0.55, 0.85),
        minutes=between(16, 60),
    )


# anything at all --------------------------------------------------------------------------------------------------------

SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.integers(-(10**400), 10**400),
    st.floats(),
    st.complex_numbers(),
    st.binary(max_size=8),
    st.text(max_size=30),
    st.dates(),
    st.sampled_from(
        ["", " ", "nan F", "inf psig", "1e999 F", "-1 F", "0 psig", "61", "61 F", "1,5 bar", "\ud800", "\x00"]
    ),
    st.sampled_from([math.nan, math.inf, -math.inf, -0.0, object(), int, ...]),
)
KEYS = st.one_of(
    st.text(max_size=12),
    st.integers(),
    st.none(),
    st.booleans(),
    st.floats(),
    st.tuples(st.integers(), st.text(max_size=3)),
    st.sampled_from(["suction pressure", "machine", "readings", "seen", "instruments", "baseline", "any"]),
)
ANYTHING = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(KEYS, inner, max_size=4),
        st.tuples(inner, inner),
        st.frozensets(st.integers(), max_size=2),
    ),
    max_leaves=10,
)
NUMBERS = st.one_of(
    st.floats(-1000, 1000), st.integers(-1000, 1000), st.sampled_from([0.0, 1e-9, 1e8, 32.0, 14.7, -459.67, -273.15])
)
UNITS = st.sampled_from(
    [
        "F",
        "C",
        "K",
        "psig",
        "psia",
        "kPa",
        "bar",
        "bar absolute",
        "Pa gauge",
        "%",
        "cfm",
        "L/s",
        "A",
        "inH2O",
        "ton",
        "ft",
        "min",
        "",
    ]
)
QUANTITIES = st.builds(lambda n, u: f"{n} {u}".strip(), NUMBERS, UNITS)


# Nothing is sure of it: one pressure, and no liquid line.
UNSURE = {
    "machine": {"mode": "cooling", "refrigerant": "R-410A", "metering": "fixed orifice", "altitude": "0 ft"},
    "readings": {
        "minutes running": 20, "suction pressure": "118 psig", "suction line temperature": "66 F",
        "outdoor air temperature": "85 F", "return air dry bulb": "75 F", "return air wet bulb": "63 F",
    },
}  # fmt: skip
