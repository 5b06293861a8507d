"""A heat pump: a machine that cools, and the same parts as heating uses them.

Charge, compressor, coils, airflows and lines are those of cooling, where the machine was sized and charged. In heating
the indoor coil condenses and the outdoor coil evaporates: `turned` is a plant with its coils exchanged. Of its own it
has the outdoor metering device, the reversing valve and the accumulator. The outdoor device is sized at AHRI 210/240 H1
(47 °F dry bulb and 43 °F wet bulb outdoors, 70 °F indoors) with the charge that cooling has set. Ranges are our judgement, held
to the makers' heating charts by tests.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, fields, replace
from typing import Literal

from diagnose.simulator import metering
from diagnose.simulator.design import INCH, TON, fahrenheit
from diagnose.simulator.family import Families
from diagnose.simulator.fluid import saturated
from diagnose.simulator.liquid_line import Here
from diagnose.simulator.model import Coefficients, Device, Plant, Structure, Weather
from diagnose.simulator.newton import Guess

OutdoorDevice = Literal["fixed orifice", "TXV", "EEV"]
Bulb = Literal["coil", "common suction"]

AHRI_H1 = Weather(
    fahrenheit(47.0), fahrenheit(70.0), return_relative_humidity=0.40, outdoor_relative_humidity=0.73
)  # 43 °F wet bulb
DESIGN_GAP = 70.0
"""K from suction gas to hot gas at H1, about."""
FLATTER = 0.5
"""The compressor's efficiency falls less at the ratios of winter than its law, fitted in summer, would have it (judgement)."""
COLD_SHELL = 1.6
"""Heat through the compressor's shell in winter over that in summer: about twice the temperature difference (judgement)."""
TURNED_ROUND = 0.5
"""What reaches the liquid of the air's warming, over that in an outdoor coil that is built so. Refrigerant runs the other way
in heating, so that from a coil of counterflow when it cools the liquid leaves with air that the coil has warmed. Charts
print it 14 and 2 °F above the return air at 47 and 17 °F outdoors; crossflow gives 12 and 1, half 15 and 3, whole 17 and 5."""
EEV_RANGE = 1.6
"""K of superheat from closed to open: its controller holds the superheat much closer than a spring does."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatPump(Plant):
    """One heat pump, sized; as a `Plant` it is the machine that cools."""

    turned: Plant  # in heating: its condenser is indoors, its evaporator and its metering device are outdoors
    outdoor_device: OutdoorDevice
    bulb: Bulb  # where a valve feels the superheat: behind the outdoor coil, or behind the reversing valve
    valve_conductance: float  # W/K at design flow, through the reversing valve's body from hot gas to suction gas
    sound_leakage: float  # share of the compressed gas that a sound reversing valve lets slip
    check_rating: float  # m2, as a valve's: passes the design flow
    at_design: Guess  # K, K, kJ/kg: what `heating.look` starts from at H1

    @property
    def has_accumulator(self) -> bool:
        """Whether one catches liquid that comes back."""
        return self.turned.coefficients.catch > 0.0


@dataclass(frozen=True, slots=True)
class Winter:
    """What one heat pump has of its own; factors over its kind."""

    device: OutdoorDevice
    accumulator: float  # m3 for each ton; 0: none
    superheat: float  # K at H1, where the device feels it (an orifice: at the common suction line)
    bulb: Bulb
    boiling: float  # conductance from the outdoor coil's surface to boiling refrigerant, over its air side
    indoor: float  # of the indoor coil's conductance as a condenser, over its air side when it cools
    low_side: float  # pressure loss of outdoor coil, valve and accumulator over that of indoor coil and suction line
    vapour_line: float  # the same of the vapour line, over the same
    valve_heat: float  # K that a sound reversing valve warms dry suction gas at design
    sound_leakage: float


def indoor_volume(chance: random.Random, families: Families) -> float:
    """Of a heat pump's indoor coil over that of a machine that only cools, or its spare charge would fill it in winter."""
    return chance.uniform(1.05, 1.20) if families == "plain" else chance.uniform(0.90, 1.30)


def winter(chance: random.Random, device_indoors: Device, families: Families) -> Winter:
    """The own parts of a heat pump, drawn. Most have the same kind of device at both coils."""
    roll, one = chance.random(), chance.uniform
    device: OutdoorDevice
    if device_indoors == "TXV":
        device = "TXV" if roll < 0.65 else "EEV" if roll < 0.85 else "fixed orifice"
    else:
        device = "fixed orifice" if roll < 0.75 else "TXV" if roll < 0.95 else "EEV"
    with_accumulator = chance.random() < (0.85 if device == "fixed orifice" else 0.6)
    plain = families == "plain"
    size = one(0.8e-3, 1.2e-3)
    return Winter(
        device=device,
        accumulator=size if with_accumulator else 0.0,
        superheat=one(3.0, 7.0) if device == "fixed orifice" else one(3.5, 7.0),
        bulb="common suction" if (chance.random() < 0.4 and not plain) or device == "EEV" else "coil",
        boiling=one(2.0, 3.0) if plain else one(1.6, 3.4),
        indoor=one(1.45, 1.70) if plain else one(1.30, 1.85),
        low_side=one(0.8, 1.1) if plain else one(0.6, 1.4),
        vapour_line=one(0.4, 0.6) if plain else one(0.25, 0.9),
        valve_heat=one(0.5, 1.5),
        sound_leakage=one(0.0, 0.004),
    )


def turned(plant: Plant, own: Winter) -> Plant:
    """The plant with its coils exchanged, its outdoor device not yet sized."""
    law = plant.coefficients
    if own.device == "EEV":
        law = replace(law, valve_range=EEV_RANGE, opening=0.5, bleed=0.03, tilt=0.0)
    valve = "spring" if own.device == "EEV" else plant.structure.valve
    structure: Structure = replace(
        plant.structure,
        valve=valve,
        subcooler="warm air",
        surplus="coil" if plant.structure.surplus == "header" else plant.structure.surplus,
        head="free",
        accumulator="accumulator" if own.accumulator > 0.0 else "none",
    )
    coefficients: Coefficients = replace(
        law, catch=own.accumulator, fall=FLATTER * law.fall, warming=TURNED_ROUND * law.warming
    )
    return replace(
        plant,
        metering="fixed orifice" if own.device == "fixed orifice" else "TXV",
        condenser_conductance=plant.evaporator_air * own.indoor,
        condenser_airflow=plant.airflow,
        condenser_volume=plant.evaporator_volume,
        evaporator_air=plant.condenser_conductance,
        evaporator_refrigerant=plant.condenser_conductance * own.boiling,
        airflow=plant.condenser_airflow,
        evaporator_volume=plant.condenser_volume,
        low_side_loss=plant.low_side_loss * own.low_side,
        shell_loss=plant.shell_loss * COLD_SHELL,
        discharge_loss=plant.discharge_loss + plant.low_side_loss * own.vapour_line,
        orifice_length=0.5 * INCH,
        structure=structure,
        coefficients=coefficients,
    )


def assembled(plant: Plant, in_heating: Plant, own: Winter, check_rating: float, at_design: Guess) -> HeatPump:
    """The whole machine."""
    tons = plant.nominal_capacity / TON
    per_kelvin = 34.0 * tons / 3.0  # W to warm the suction gas of a 3-ton machine at H1 by a kelvin
    return HeatPump(
        **{one.name: getattr(plant, one.name) for one in fields(Plant)},
        turned=in_heating,
        outdoor_device=own.device,
        bulb=own.bulb,
        valve_conductance=own.valve_heat * per_kelvin / DESIGN_GAP,
        sound_leakage=own.sound_leakage,
        check_rating=check_rating,
        at_design=at_design,
    )


def sized_device(machine: Plant, end: Here, low: float, flow: float, felt: float, dew: float) -> tuple[Plant, float]:
    """The machine with an outdoor device that passes `flow` (kg/s) at its design, and the valve rating of that flow (m2).

    end: what comes to it; low: the outdoor coil's pressure (Pa); felt: superheat (K) that a valve feels; dew: K, of the coil.
    Raises ValueError where no size does.
    """
    drop = end.pressure - low
    rating = flow / (max(end.moving, 1.0) * max(drop, 1.0)) ** 0.5
    law = machine.coefficients
    opening = law.opening
    sized = replace(
        machine,
        valve_rating=rating / metering.port(machine, opening),
        valve_static=max(felt - opening * law.valve_range, 0.5),
        design_evaporating=dew,
        design_flow=machine.design_flow,
        restriction_unit=drop * end.moving / flow**2,
    )
    if machine.metering == "TXV":
        return sized, rating
    upstream = end.sat or saturated(machine.refrigerant, end.pressure)
    low_d, high_d = 0.3e-3, 5e-3
    for _ in range(40):
        d = 0.5 * (low_d + high_d)
        if metering.fixed_flow(machine, d, end, upstream, low) < flow:
            low_d = d
        else:
            high_d = d
    if high_d > 4.9e-3 or low_d < 0.31e-3:
        raise ValueError("no orifice passes this flow")
    return replace(sized, orifice_diameter=0.5 * (low_d + high_d)), rating
