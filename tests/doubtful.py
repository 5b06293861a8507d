"""A visit for every doubt about readings, for every refusal of a baseline, and for every note on what was assumed."""

from __future__ import annotations

from functools import cache
from typing import Any

from heats import SOUND, WHOLE
from strategies import State, saturated, visit, with_machine, with_readings

from diagnose import Diagnosis, examine

Data = dict[str, Any]
RIGHT = visit(State(), extra=True)


def swapped(data: Data, *pairs: tuple[str, str]) -> Data:
    """The visit with two readings in each other's place."""
    taken = dict(data["readings"])
    for one, other in pairs:
        if one in taken and other in taken:
            taken[one], taken[other] = taken[other], taken[one]
    return {**data, "readings": taken}


def clamps(data: Data) -> Data:
    return swapped(data, ("suction line temperature", "liquid line temperature"))


def rewritten(data: Data, shown: str, written: str) -> Data:
    """The figures of gauges that show one unit, with another written behind them."""
    taken = {name: str(text).replace(shown, written) for name, text in data["readings"].items()}
    return {**data, "readings": taken}


_HOT = State(outdoor=108, condensing=126, return_db=72, return_wb=60, evaporating=42, superheat=8)
_MILD = State(outdoor=85, evaporating=42, condensing=105, return_db=76, return_wb=64)
_EMPTY = State(metering="TXV", evaporating=5, condensing=82, superheat=60, subcooling=-0.5, split=3, outdoor=85)

DOUBTS: dict[str, Data] = {
    "suction-above-liquid": swapped(RIGHT, ("suction pressure", "liquid pressure")),
    "below-vacuum": with_readings(RIGHT, suction_pressure="29.8 inHg vacuum"),
    "pressure-above-table": with_readings(visit(State()), liquid_pressure="720 psig"),
    "pressure-below-table": with_readings(visit(State()), suction_pressure="20 inHg vacuum"),
    "pressures-equal": with_readings(
        visit(State()), suction_pressure="200 psig", liquid_pressure="201 psig", supply_air_dry_bulb="74 F"
    ),
    "pressures-equal-while-it-heats": with_readings(
        SOUND, suction_pressure=SOUND["readings"]["liquid pressure"], suction_line_temperature="150 F"
    ),
    "pressures-equal-while-it-cools": with_readings(
        visit(State()), suction_pressure="306 psig", liquid_pressure="306 psig"
    ),
    "suction-pressure-too-low-to-cool": with_readings(visit(State(metering="TXV")), suction_pressure="12.9 psig"),
    "return-air-like-fog": with_readings(RIGHT, return_air_wet_bulb="75 F"),
    "return-air-without-water": with_readings(RIGHT, return_air_wet_bulb=None, return_air_relative_humidity="0 %"),
    "no-compressor-current": with_machine(
        with_readings(visit(State()), compressor_current="0 A"), rated_current="17 A"
    ),
    "humidity-contradicts-wet-bulb": with_readings(RIGHT, return_air_relative_humidity="90 %"),
    "suction-line-too-cold": with_readings(RIGHT, suction_line_temperature="38 F"),
    "suction-clamp-reads-air": with_readings(
        RIGHT, suction_line_temperature="79.5 F", outdoor_air_temperature="79.5 F"
    ),
    "suction-line-warmed": with_readings(visit(_MILD.but(superheat=33)), coil_outlet_temperature="52 F"),
    "suction-line-above-air": with_readings(RIGHT, suction_line_temperature="132 F"),
    "condensing-below-outdoor-air": with_readings(
        RIGHT, outdoor_air_temperature="104 F", condenser_leaving_air_temperature=None
    ),
    "liquid-line-below-outdoor-air": with_readings(
        RIGHT, liquid_line_temperature="72 F", metering_inlet_temperature=None
    ),
    "liquid-line-too-warm": with_readings(RIGHT, liquid_line_temperature="103 F"),
    "liquid-clamp-reads-air": with_readings(visit(State()), liquid_line_temperature="80.5 F"),
    "discharge-line-too-cold": with_readings(RIGHT, discharge_line_temperature="85 F"),
    "gauge-superheat-contradicts": with_readings(RIGHT, gauge_superheat="35 F"),
    "gauge-subcooling-contradicts": with_readings(RIGHT, gauge_subcooling="25 F"),
    "supply-air-too-cold": with_readings(RIGHT, supply_air_dry_bulb="38 F", supply_air_wet_bulb=None),
    "wet-bulb-below-dry-air": with_readings(RIGHT, return_air_wet_bulb="42 F"),
    "wick-at-freezing": with_readings(RIGHT, return_air_wet_bulb="32.5 F"),
    "return-wet-bulb-above-dry-bulb": with_readings(RIGHT, return_air_wet_bulb="82 F"),
    "supply-wet-bulb-above-dry-bulb": with_readings(RIGHT, supply_air_wet_bulb="64 F"),
    "suction-line-above-discharge-line": swapped(RIGHT, ("discharge line temperature", "suction line temperature")),
    "supply-air-above-return-air": with_readings(RIGHT, supply_air_dry_bulb="82 F"),
    "supply-wet-bulb-above-return": with_readings(RIGHT, return_air_wet_bulb="50 F"),
    "drier-outlet-above-inlet": with_readings(RIGHT, drier_inlet_temperature="80 F"),
    "metering-inlet-above-liquid-line": with_readings(RIGHT, metering_inlet_temperature="95 F"),
    "outdoor-air-above-condenser-leaving-air": with_readings(RIGHT, condenser_leaving_air_temperature="70 F"),
    "clamps-swapped": clamps(visit(State(metering="TXV"))),
    "air-thermometers-swapped": swapped(visit(_HOT), ("outdoor air temperature", "return air dry bulb")),
    "psi-written-as-kpa": rewritten(visit(State()), "psig", "kPa"),
    "kpa-written-as-psi": rewritten(visit(State(gas="R-134a"), "si"), "kPa gauge", "psig"),
    "bar-written-as-psi": with_readings(
        visit(State()),
        **{
            f"{side}_pressure": f"{float(visit(State())['readings'][f'{side} pressure'].split()[0]) / 14.5038:.2f} psi"
            for side in ("suction", "liquid")
        },
    ),
    "saturations-too-high": with_machine(visit(_MILD), refrigerant="R-22"),
    "saturations-too-low": with_machine(visit(_MILD.but(gas="R-22")), refrigerant="R-410A"),
    "standing-pressure-too-low": with_readings(
        visit(State()), standing_pressure="200 psig", standing_air_temperature="80 F"
    ),
    "standing-pressure-as-when-running": with_readings(
        visit(State()), standing_pressure="305 psig", standing_air_temperature="80 F"
    ),
    "current-beyond-the-plate": with_machine(
        with_readings(visit(State()), compressor_current="50 A"), rated_current="5 A"
    ),
    "current-beyond-the-capacity": with_machine(
        with_readings(visit(State()), compressor_current="80 A"), nominal_capacity="2.5 ton", rated_current=None
    ),
    "airflow-beyond-the-capacity": with_machine(
        with_readings(visit(State()), airflow="60 m3/s"), nominal_capacity="2.5 ton"
    ),
    "discharge-line-too-hot": with_readings(visit(State()), discharge_line_temperature="399 F"),
    "supply-air-same-as-return-air": with_readings(visit(State()), supply_air_dry_bulb="75 F"),
    "celsius-written-as-fahrenheit": with_readings(visit(State()), outdoor_air_temperature="27 F"),
    "fahrenheit-written-as-celsius": with_readings(visit(State(), "si"), liquid_line_temperature="95 C"),
    "supply-air-below-return-air": with_readings(SOUND, supply_air_dry_bulb="64 F"),
    "vapor-line-below-liquid-line": with_readings(WHOLE, vapour_line_temperature="70 F"),
    "suction-tube-above-suction-line": with_readings(WHOLE, valve_tube_temperature="48 F"),
    "supply-air-not-warmed": with_readings(SOUND, supply_air_dry_bulb="70 F"),
    "liquid-line-below-house-air": with_readings(SOUND, liquid_line_temperature="45 F"),
    "no-heat-in-heating": with_machine(
        with_readings(SOUND, outdoor_air_temperature="24 F"), rated_heating_subcooling="16 F"
    ),
}
NEARLY_EMPTY = visit(_EMPTY)
ABSOLUTE_AS_GAUGE = with_readings(
    visit(State(superheat=2.5), extra=True), suction_pressure=f"{saturated('R-410A', 'dew', 45, 0):.2f} psig"
)

_DRY = with_machine(visit(State(condensing=99, subcooling=8)), refrigerant="R-410A")


def _then(**facts: Any) -> Data:
    return {**_DRY, "baseline": with_machine(_DRY, **facts)}


def _airflow(by: str) -> Data:
    small = with_readings(visit(State()), airflow=by, external_static_pressure="0.5 inH2O")
    return {**small, "baseline": small}


BASELINES: dict[str, Data] = {
    "baseline-other-mode": _then(mode="heating"),
    "baseline-other-refrigerant": _then(refrigerant="R-32"),
    "baseline-other-metering": _then(metering="TXV"),
    "baseline-other-state": _then(economizer="open"),
    "baseline-other-capacity": _then(nominal_capacity="5 ton"),
    "baseline-figure-not-right": {
        **_DRY,
        "baseline": with_readings(_DRY, external_static_pressure="1.21 inH2O"),
        "readings": with_readings(_DRY, external_static_pressure="1.2 inH2O")["readings"],
    },
    "baseline-figure-far-off": {**_DRY, "baseline": visit(State(condensing=99, subcooling=20))},
    "baseline-figure-no-surer": {
        **_DRY,
        "baseline": with_readings(_DRY, outdoor_air_temperature=None, return_air_wet_bulb=None),
    },
}
NOTES: dict[str, Data] = {
    "taken-as-gauge": with_readings(visit(State(), "si"), suction_pressure="900 kPa"),
    "discharge-pressure-as-liquid": with_readings(visit(State()), liquid_pressure=None, discharge_pressure="300 psig"),
    "air-of-an-earlier-round": {
        **_DRY,
        "readings": [
            {"minutes running": 15, "return air wet bulb": "63 F"},
            {**with_readings(_DRY, return_air_wet_bulb=None)["readings"], "minutes running": 19},
        ],
    },
    "seer-converted": {**_DRY, "machine": {**_DRY["machine"], "SEER": None, "SEER2": 13.4}},
    "baseline-within-baseline": {**_DRY, "baseline": {**_DRY, "baseline": _DRY}},
}
VISITS = {**DOUBTS, **BASELINES, **NOTES}


@cache
def examined(code: str) -> Diagnosis:
    """What each of them says, worked out once for all files that ask."""
    return examine(VISITS[code])
