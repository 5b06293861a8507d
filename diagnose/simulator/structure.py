"""How a machine is built and by which law each part works: the alternatives, and the numbers that go with them.

One machine is one `Structure` and one `Coefficients`; the parts consult them at the few places where they matter. The
defaults are the plain machine, the one to which the points of the rules were fitted. No alternative is truer than the
others: each is a form that textbooks or measured machines show, so what holds in all of them holds for more than one
model. Numbers are our judgement, held to published effects by tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Void = Literal["zivi", "homogeneous", "momentum"]
Surplus = Literal["coil", "oil", "header"]
Orifice = Literal["short tube", "open", "flashing"]
Valve = Literal["spring", "bleeding", "small"]
Subcooler = Literal["crossflow", "lower pass", "warm air"]
Coil = Literal["bypass", "transfer"]
Compressor = Literal["scroll", "reciprocating", "rotary"]
Losses = Literal["short", "suction", "discharge"]
Head = Literal["free", "cycling"]
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
    head: Head = "free"
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
