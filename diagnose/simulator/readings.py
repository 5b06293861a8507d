"""What a technician with instruments reads on a simulated machine: a visit mapping, as in a visit file.

Limits of error hold 95 of 100 readings (two standard deviations), as everywhere in the project. Half of the variance of
each reading belongs to its instrument and is the same for all its readings in one visit (a set of gauges that reads
high, a clamp thermometer that reads low); the other half is the reading's own.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Literal

from diagnose.properties import wet_bulb
from diagnose.simulator.fluid import sure
from diagnose.simulator.heat_pump import HeatPump
from diagnose.simulator.heating_solver import HeatingState
from diagnose.simulator.model import Faults, Plant, State, Weather
from diagnose.visit.fields import DEFROSTED, INSTRUMENTS, MINUTES, READINGS, Instrument

ReadingSet = Literal["basic", "running", "all"]
VisitMapping = dict[str, object]

BASIC = (
    "suction pressure", "liquid pressure", "suction line temperature", "liquid line temperature", "outdoor air temperature",
    "return air dry bulb", "return air wet bulb", "supply air dry bulb",
)  # fmt: skip
RUNNING = ("discharge line temperature", "compressor current", "airflow")
EXTRA = (  # in this order: readings before one keep their errors of a seed
    "supply air wet bulb", "coil outlet temperature", "drier inlet temperature", "drier outlet temperature",
    "metering inlet temperature", "condenser leaving air temperature", "standing pressure", "standing air temperature",
    "metering inlet pressure",
)  # fmt: skip
HEATING_BASIC = tuple(name for name in BASIC if name != "return air wet bulb")
HEATING_RUNNING = (
    "discharge line temperature", "vapour line temperature", "valve tube temperature", "compressor current", "airflow"
)  # fmt: skip
HEATING_EXTRA = (
    "vapour line pressure", "drier inlet temperature", "drier outlet temperature", "metering inlet temperature",
    "metering inlet pressure", "standing pressure", "standing air temperature",
)  # fmt: skip


def _sets(
    basic: tuple[str, ...], running: tuple[str, ...], extra: tuple[str, ...]
) -> Mapping[ReadingSet, tuple[str, ...]]:
    return {"basic": basic, "running": basic + running, "all": basic + running + extra}


SETS = _sets(BASIC, RUNNING, EXTRA)
HEATING_SETS = _sets(HEATING_BASIC, HEATING_RUNNING, HEATING_EXTRA)
_ORDER = tuple(dict.fromkeys((*SETS["all"], *HEATING_SETS["all"])))
TAKEN_WITH = (
    "air thermometers", "airflow meter", "current clamp", "digital gauges", "gauges", "humidity meter", "manometer",
    "pipe clamps",
)  # fmt: skip
"""Instruments that the readings here are taken with; named, so that readings of a seed stay when another one comes."""
SHARED = 0.5
"""Share of the variance that all readings of one instrument have in common in one visit (our judgement)."""

TON, CFM, PSI, IN_HG = 3516.852842, 0.3048**3 / 60.0, 6894.757293, 3386.38864


def true_values(conditions: Weather, state: State) -> dict[str, float]:
    """What perfect instruments would read, SI; pressures as gauge."""
    p = conditions.station_pressure
    found = {
        "suction pressure": state.suction_pressure - p,
        "liquid pressure": state.liquid_pressure - p,
        "suction line temperature": state.suction_temperature,
        "liquid line temperature": state.liquid_temperature,
        "outdoor air temperature": conditions.outdoor,
        "return air dry bulb": conditions.return_dry_bulb,
        "supply air dry bulb": state.supply_dry_bulb,
        "discharge line temperature": state.discharge_temperature,
        "compressor current": state.current,
        "airflow": state.airflow,
        "drier inlet temperature": state.liquid_temperature,
        "drier outlet temperature": state.drier_outlet_temperature,
        "metering inlet temperature": state.metering_inlet_temperature,
        "metering inlet pressure": state.metering_inlet_pressure - p,
        "standing pressure": state.standing_pressure - p,
        "standing air temperature": conditions.outdoor,
    }
    if isinstance(state, HeatingState):
        return found | {
            "vapour line temperature": state.vapour_line_temperature,
            "valve tube temperature": state.tube_temperature,
            "vapour line pressure": state.vapour_line_pressure - p,
        }
    saturated = wet_bulb(state.supply_dry_bulb, state.supply_humidity_ratio, p)
    return found | {
        "return air wet bulb": sure(wet_bulb(conditions.return_dry_bulb, sure(conditions.humidity_ratio), p)),
        "supply air wet bulb": state.supply_dry_bulb if saturated is None else saturated,
        "coil outlet temperature": state.coil_outlet_temperature,
        "condenser leaving air temperature": state.condenser_leaving_air,
    }


def readings(
    machine: Plant,
    conditions: Weather,
    faults: Faults,
    state: State,
    seed: int | str | None = None,
    instruments: Mapping[str, Instrument] | None = None,
    which: ReadingSet = "all",
    *,
    told: bool = True,
) -> VisitMapping:
    """A visit mapping of the state; without a seed the instruments are perfect.

    `instruments`: how good they are, where not the usual ones; `told`: the visit says so.
    The same seed gives the same reading whichever set it is asked in. `faults` is not shown in the visit: it is a
    parameter so that every part of a case is at hand where it is called.
    """
    del faults
    used = {**INSTRUMENTS, **(instruments or {})}
    values = noisy(true_values(conditions, state), seed, used)
    taken: dict[str, object] = {MINUTES: 20}
    heating = isinstance(state, HeatingState)
    if heating:
        taken[DEFROSTED] = 20
    taken |= {name: written(name, values[name]) for name in (HEATING_SETS if heating else SETS)[which]}
    visit: VisitMapping = {"machine": machine_facts(machine, conditions, heating=heating), "readings": taken}
    if instruments and told:
        visit["instruments"] = {name: limit_text(one) for name, one in instruments.items() if name in TAKEN_WITH}
    return visit


def noisy(
    values: Mapping[str, float], seed: int | str | None, instruments: Mapping[str, Instrument] = INSTRUMENTS
) -> dict[str, float]:
    """The values with instrument error; a supply wet bulb never above its dry bulb."""
    if seed is None:
        return dict(values)
    chance = random.Random(f"instruments {seed}")
    common = {name: chance.gauss(0.0, 1.0) for name in TAKEN_WITH}
    found = {}
    for name in (one for one in _ORDER if one in values):
        kind = READINGS[name].instrument
        limit = instruments[kind].share * abs(values[name]) + instruments[kind].fixed
        own = chance.gauss(0.0, 1.0)
        found[name] = values[name] + 0.5 * limit * (SHARED**0.5 * common[kind] + (1.0 - SHARED) ** 0.5 * own)
    if "supply air wet bulb" in found:
        found["supply air wet bulb"] = min(found["supply air wet bulb"], found["supply air dry bulb"])
    return found


def machine_facts(machine: Plant, conditions: Weather, *, heating: bool = False) -> dict[str, object]:
    """What the rating plate says, and the barometer; in heating the metering device is that of the outdoor coil."""
    facts: dict[str, object] = {
        "mode": "cooling",
        "refrigerant": machine.refrigerant,
        "metering": machine.metering,
        "nominal capacity": f"{machine.nominal_capacity / TON:.1f} ton",
        "SEER": round(machine.seer, 1),
        "rated current": f"{machine.rated_current:.1f} A",
        "rated airflow": f"{400.0 * machine.nominal_capacity / TON:.0f} cfm",
        "station pressure": f"{conditions.station_pressure / IN_HG:.2f} inHg",
    }
    if machine.metering == "TXV":
        facts["rated subcooling"] = f"{machine.design_subcooling * 1.8:.0f} F"
    if heating and isinstance(machine, HeatPump):
        facts |= {"mode": "heating", "metering": machine.outdoor_device}
        facts["accumulator"] = "yes" if machine.has_accumulator else "no"
    return facts


def written(name: str, value: float) -> str:
    """A reading as it is written down, in US units."""
    kind = READINGS[name].kind
    if kind == "pressure":
        return f"{value / PSI:.1f} psig"
    if kind == "temperature":
        return f"{value * 1.8 - 459.67:.1f} F"
    if kind == "airflow":
        return f"{value / CFM:.0f} cfm"
    return f"{value:.1f} A"


def limit_text(instrument: Instrument) -> str:
    """A limit of error as a visit writes it; where it has two parts, the fixed part is left out."""
    if instrument.share > 0.0:
        return f"{100.0 * instrument.share:g} %"
    if instrument.kind == "pressure":
        return f"{instrument.fixed / PSI:.2f} psi"
    if instrument.kind == "percent":
        return f"{100.0 * instrument.fixed:g} %"
    if instrument.kind == "airflow":
        return f"{instrument.fixed / CFM:.0f} cfm"
    if instrument.kind == "small pressure":
        return f"{instrument.fixed / 249.0889:.3f} inH2O"
    return f"{instrument.fixed:g} A" if instrument.kind == "current" else f"{1.8 * instrument.fixed:g} F"
