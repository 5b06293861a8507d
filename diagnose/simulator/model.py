"""The values of the simulator: a machine, the conditions it runs in, its faults, and the steady state found.

All SI: K, Pa absolute, W, kg, kg/s, m3/s, J/kg. Everything is frozen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from diagnose.properties import humidity_ratio_from_relative_humidity, humidity_ratio_from_wet_bulb

Void = Literal["zivi", "homogeneous", "momentum"]
Surplus = Literal["coil", "oil", "header"]
Orifice = Literal["short tube", "open", "flashing"]
Valve = Literal["spring", "bleeding", "small"]
Subcooler = Literal["crossflow", "lower pass", "warm air"]
Coil = Literal["bypass", "transfer"]
Compressor = Literal["scroll", "reciprocating", "rotary"]
Losses = Literal["short", "suction", "discharge"]
HeadControl = Literal["free", "cycling"]
Accumulator = Literal["none", "accumulator"]


@dataclass(frozen=True, slots=True)
class Structure:
    """One choice for each alternative.

    void: how much slower the liquid is than the vapour where both flow: Zivi's slip (rho_f/rho_g)^(1/3), none, or that of
    least momentum, (rho_f/rho_g)^(1/2). surplus: added charge backs up in the coils only; or part of the charge is
    dissolved in the compressor's oil, more where suction gas is colder; or a header behind the condenser fills first.
    orifice: a choked short tube (Payne and O'Neal 2004); an open one, whose flow follows the whole pressure difference
    and hardly the subcooling; or one that chokes near the flash point, so that subcooling counts for much.
    valve: a spring alone; with a bleed port, a wide range and a superheat that rises with the suction pressure; or a
    small one of narrow range. subcooler: it meets outdoor air in cross flow; a pass of its own with much surface; or air
    and fins that the rest of the coil has warmed. coil: all air that touches the surface leaves saturated, or water
    is exchanged more or less readily than heat. compressor: laws of volumetric and isentropic efficiency. losses: where
    the lines lose more than usual. head: the outdoor fan runs free, or slows in cool weather to hold the head pressure.
    accumulator: whether one catches liquid that comes back.
    """

    void: Void = "zivi"
    surplus: Surplus = "coil"
    orifice: Orifice = "short tube"
    valve: Valve = "spring"
    subcooler: Subcooler = "crossflow"
    coil: Coil = "bypass"
    compressor: Compressor = "scroll"
    losses: Losses = "short"
    head: HeadControl = "free"
    accumulator: Accumulator = "none"


@dataclass(frozen=True, slots=True)
class Coefficients:
    """The numbers of the alternatives; one that its structure does not ask for has no effect."""

    oil: float = 0.35  # kg per ton of cooling (surplus: oil)
    header: float = 0.0  # of the condenser's volume (surplus: header)
    choking: float = 0.80  # pressure in an orifice's throat over that at which its liquid boils (orifice: flashing)
    warming: float = 0.25  # of the coil's air rise that reaches the liquid (subcooler: warm air)
    water: float = 1.0  # exchange of water over that of heat (coil: transfer)
    pumping: float = 0.035  # volumetric loss for each unit of pressure ratio, or the clearance (compressor)
    peak: float = 2.8  # pressure ratio of the best isentropic efficiency
    fall: float = 0.7  # of that efficiency with the square of ln(ratio / peak)
    shell_loss: float = 0.09  # share of the power that leaves through the shell
    suction_kelvin: float = 1.2  # saturation that coil and suction line lose at design
    discharge_kelvin: float = 0.0  # the same of the condenser's inlet side
    opening: float = 0.5  # of a valve at design
    valve_range: float = 6.0  # K from static superheat to fully open
    bleed: float = 0.02  # opening that is always there
    tilt: float = 0.0  # K of static superheat for each K that the evaporator is warmer than at design (valve: bleeding)
    held_head: float = 305.0  # K condensing, below which the outdoor fan slows (head: cycling)
    catch: float = 0.0  # m3 per ton (accumulator)


PLAIN = Structure()
USUAL = Coefficients()
VOID_EXPONENT = {"zivi": 2.0 / 3.0, "homogeneous": 1.0, "momentum": 0.5}
"""Of rho_g/rho_f in void = x / (c + (1 - c) x), c = (rho_g/rho_f)^exponent: each slip is a power of the density ratio."""


Device = Literal["fixed orifice", "TXV"]
RestrictionPlace = Literal["drier", "line end"]
Mode = Literal["cooling", "heating"]
MODES: tuple[Mode, ...] = ("cooling", "heating")

REFRIGERANTS = ("R-410A", "R-22", "R-32", "R-454B", "R-407C")


@dataclass(frozen=True, slots=True)
class Plant:
    """One split system, sized. `design` makes one."""

    refrigerant: str
    metering: Device
    nominal_capacity: float  # W, net, at AHRI A
    seer: float
    # compressor
    displacement: float  # m3/s swept
    efficiency: float  # overall isentropic efficiency at the best pressure ratio
    shell_loss: float  # share of its power that leaves through the shell
    shell_volume: float  # m3, on the suction side
    # condenser
    condenser_conductance: float  # W/K, air side, at design airflow
    condenser_airflow: float  # m3/s
    condenser_volume: float  # m3
    outdoor_fan: float  # W
    # evaporator
    evaporator_air: float  # W/K, air side, at design airflow
    evaporator_refrigerant: float  # W/K, surface to boiling refrigerant, at design flow
    airflow: float  # m3/s as the blower is set
    evaporator_volume: float  # m3
    indoor_fan: float  # W at that airflow
    # lines
    low_side_loss: float  # 1/m4: pressure loss (Pa) of coil and suction line is this times flow squared over density
    drier_loss: float  # 1/m4, the same for the filter drier
    restriction_unit: float  # 1/m4: the loss that would take the whole high-to-low difference at design
    liquid_bore: float  # m
    liquid_length: float  # m
    liquid_conductance: float  # W/K to its surroundings
    suction_conductance: float  # W/K to its surroundings
    suction_volume: float  # m3
    # metering
    orifice_diameter: float  # m
    orifice_length: float  # m
    valve_rating: float  # m2: flow is this times opening times sqrt(density times pressure difference)
    valve_static: float  # K, superheat at which it begins to open
    valve_range: float  # K above static at which it is fully open
    # design
    design_flow: float  # kg/s
    design_subcooling: float  # K at the liquid service valve
    design_superheat: float  # K at the suction service valve
    design_condensing: float  # K over outdoor air, bubble temperature
    design_evaporating: float  # K, dew temperature at the suction service valve
    rated_current: float  # A
    right_charge: float  # kg
    structure: Structure = PLAIN
    coefficients: Coefficients = USUAL
    discharge_loss: float = 0.0  # 1/m4, pressure lost between compressor and condenser


@dataclass(frozen=True, slots=True)
class Weather:
    """Weather and room. Give the return air's wet bulb or its relative humidity (0..1); the wet bulb goes first."""

    outdoor: float  # K, dry bulb entering the condenser
    return_dry_bulb: float  # K
    return_wet_bulb: float | None = None  # K
    return_relative_humidity: float | None = None  # 0..1
    station_pressure: float = 101325.0  # Pa
    outdoor_relative_humidity: float = 0.4  # 0..1

    @property
    def humidity_ratio(self) -> float | None:
        """Water in the return air, kg/kg; None where it is not given or impossible."""
        if self.return_wet_bulb is not None:
            return humidity_ratio_from_wet_bulb(self.return_dry_bulb, self.return_wet_bulb, self.station_pressure)
        if self.return_relative_humidity is not None:
            return humidity_ratio_from_relative_humidity(
                self.return_dry_bulb, self.return_relative_humidity, self.station_pressure
            )
        return None


@dataclass(frozen=True, slots=True)
class Faults:
    """What is wrong; the defaults are a healthy machine. Fractions are of what is right."""

    charge: float = 1.0
    indoor_airflow: float = 1.0
    outdoor_airflow: float = 1.0
    outdoor_coil: float = 1.0  # air-side conductance left by dirt or bent fins, at the same airflow
    restriction: float = 0.0  # extra loss in the liquid line, as a share of the design high-to-low difference
    restriction_at: RestrictionPlace = "drier"
    non_condensable: float = 0.0  # kg of air for each kg of right charge
    valve_leakage: float = 0.0  # share of the compressed gas that slips back to the suction side
    metering_size: float = 1.0  # flow area of the orifice or valve
    valve_opening: float | None = None  # a TXV stuck here (0..1); a lost bulb charge is one nearly closed
    bulb_contact: float = 1.0  # 1 well strapped; less lets the bulb feel the warm air around it
    # in heating only
    reversing_leakage: float = (
        0.0  # share of the compressed gas that slips through the reversing valve to the suction side
    )
    check_leakage: float = 0.0  # flow area of the bypass round the outdoor device, over what that needs at design
    supplementary: float = 0.0  # supplementary heat behind the indoor coil, over the nominal capacity


HEALTHY = Faults()


@dataclass(frozen=True, slots=True)
class ChargeInventory:
    """Where the refrigerant is, kg."""

    condenser: float
    liquid_line: float
    evaporator: float
    suction_line: float
    compressor: float

    @property
    def total(self) -> float:
        """All of it, kg."""
        return self.condenser + self.liquid_line + self.evaporator + self.suction_line + self.compressor


@dataclass(frozen=True, slots=True)
class State:
    """A steady state. Temperatures K, pressures Pa absolute, enthalpies J/kg, powers W."""

    suction_pressure: float  # at the suction service valve
    evaporator_pressure: float
    liquid_pressure: float  # at the liquid service valve; equals the discharge pressure
    condensing: float  # dew temperature of the refrigerant in the condenser (its own partial pressure)
    condensing_apparent: float  # bubble temperature of the whole pressure, as a gauge shows it
    evaporating: float  # dew temperature at the suction service valve
    suction_temperature: float
    liquid_temperature: float
    discharge_temperature: float
    coil_outlet_temperature: float
    drier_outlet_temperature: float
    metering_inlet_temperature: float
    metering_inlet_pressure: float
    superheat: float  # at the suction service valve; 0 where the gas is wet
    subcooling: float  # at the liquid service valve, from the gauge; 0 where vapour leaves the condenser
    suction_quality: float  # 1 or more: dry
    condenser_outlet_quality: float  # 0 or less: liquid
    metering_inlet_quality: float
    valve_position: float  # 0..1; of a TXV
    mass_flow: float  # kg/s through condenser and evaporator
    mass_flow_metering: float  # kg/s, what the metering device passes
    capacity: float  # W, gross, refrigerant side
    capacity_air: float  # W, gross, air side
    sensible: float  # W, gross
    condenser_heat: float  # W
    compressor_power: float
    shell_heat: float
    suction_line_gain: float
    liquid_line_loss: float
    total_power: float  # W, compressor and both fans
    current: float  # A, compressor
    supply_dry_bulb: float  # K, after the blower
    supply_humidity_ratio: float
    condenser_leaving_air: float  # K
    airflow: float  # m3/s, indoor
    outdoor_airflow: float  # m3/s, as the fan runs
    surface: float  # K, the coil's surface; below 273.15 it would ice
    standing_pressure: float  # Pa, unit off, everything at outdoor temperature
    charge: ChargeInventory = field(repr=False)
    charge_wanted: float
    outdoor_fan: float  # W
    evaluations: int

    @property
    def net_capacity(self) -> float:
        """Gross capacity less the heat of the blower, W."""
        return self.capacity - (self.total_power - self.compressor_power - self.outdoor_fan)


@dataclass(frozen=True, slots=True)
class NoSolution:
    """Why no steady state was found: one sentence."""

    reason: str
    evaluations: int = 0


@dataclass(frozen=True, slots=True)
class Balances:
    """How far the state is from closing, as shares of the condenser's heat, the mass flow, the charge."""

    energy: float
    evaporator: float
    mass_flow: float
    charge: float


def balances(state: State) -> Balances:
    """Closure of a state.

    energy: evaporator (air side) + compressor + suction line gain - shell - condenser - liquid line loss, over condenser
    evaporator: refrigerant side over air side, less 1
    """
    into = state.capacity_air + state.compressor_power + state.suction_line_gain
    out = state.condenser_heat + state.shell_heat + state.liquid_line_loss
    return Balances(
        (into - out) / state.condenser_heat,
        state.capacity / state.capacity_air - 1.0,
        state.mass_flow_metering / state.mass_flow - 1.0,
        state.charge.total / state.charge_wanted - 1.0,
    )
