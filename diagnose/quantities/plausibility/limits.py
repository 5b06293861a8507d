"""The figures by which readings are doubted, all in one place; each with its unit and its reason.

None of them has a printed source: they are common practice and judgement, and generous.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from diagnose.targets import F


@dataclass(frozen=True, slots=True)
class PlausibilityLimits:
    """Where a doubt begins. K, 1 and A where nothing else is said; every comparison of temperatures allows for errors first.

    A pair is a limit and how far to either side of it the doubt grows from nothing to certain.
    """

    # -- readings that cannot be -------------------------------------------------------------------------------------
    lag: float = 0.7
    """K that a good sensor at a good place may stand off while everything settles: a standard deviation beside its error."""
    fading: tuple[float, float] = (1.5, 3.5)
    """Standard deviations beyond what can be at which a doubt begins, and at which the reading no longer counts at all."""
    least_share: float = 0.005
    """Share of a pressure that two gauges may differ though both are good; a standard deviation."""
    vacuum: tuple[float, float] = (0.03, 0.02)
    """Share of an atmosphere below which no running machine's pressure lies; a gauge's zero is seldom better known."""
    standing_ratio: tuple[float, float] = (1.15, 0.05)
    """Pressure ratio below which nothing is pumped; a running machine has 2 and more."""
    idle_current_share: float = 0.1
    """Share of the rated current below which a compressor is not running; unloaded it still draws a third."""
    idle_current: float = 0.2
    """A; the same where no rated current is known: what a clamp shows of a neighbouring lead."""
    humidity_gap: tuple[float, float] = (0.12, 0.06)
    """How far a written relative humidity may lie from the wet bulb's, besides its error: 2 °F of wet bulb make as much."""
    as_gauge_superheat: float = 30 * F
    """K of superheat up to which an absolute gauge explains a suction line that seems too cold: what machines have."""
    same_as_air: tuple[float, float] = (2 * F, 1 * F)
    """K within which a suction line clamp reads what the outdoor air reads."""
    air_superheat: tuple[float, float] = (30 * F, 4 * F)
    """K of superheat above which such a clamp may be reading the air: a machine with liquid in its condenser has less."""
    air_subcooling: tuple[float, float] = (5 * F, 2 * F)
    """K of subcooling above which liquid stands in the condenser, so that the evaporator is not starved for want of it."""
    liquid_same_as_air: tuple[float, float] = (1.5 * F, 1 * F)
    """K within which a liquid line clamp reads what the outdoor air reads."""
    liquid_air_subcooling: tuple[float, float] = (15 * F, 3 * F)
    """K of subcooling above which such a clamp may be reading the air: a right charge seldom has more."""
    freezing: tuple[float, float] = (1.0, 0.5)
    """K from freezing within which a wet wick may hold ice and reads either."""

    # -- slips told by what the readings would mean without them -----------------------------------------------------
    outside: float = 100.0
    """Strain of a pressure for which the refrigerant has no saturation temperature: more than any other figure reaches."""
    per_degree: float = 10.0
    """Percent of humidity that each °F of wet bulb above the dry bulb counts as; no humidity can be there."""
    strained: tuple[float, float] = (12.0, 4.0)
    """Strain from which a visit is looked at for slips; 99 in 100 simulated faults stay under 8."""
    eased: tuple[float, float] = (6.0, 2.0)
    """Strain that a visit without its slip may have left: half of what makes one suspect."""
    gained: tuple[float, float] = (9.0, 3.0)
    """How much less the strain must be without the slip: odds of e^4.5, about 90 to 1."""
    near: float = 4.0
    """Ways of reading the visit within this much of the best fit as well: odds of e^2, about 7 to 1. So much strain also
    counts against a slip that is made less easily: a unit against a swap, another refrigerant against a unit."""
    named: int = 4
    """Refrigerants named at most: a longer list helps nobody at the rating plate."""
    liquid_fits: tuple[float, float] = (3 * F, 1 * F)
    """K by which the liquid line may seem warmer than it can be, and still fit the condensing temperature."""

    # -- both saturations far off, whatever may fit them -------------------------------------------------------------
    off: float = 2 * F
    """K to either side of the limits below over which the doubt grows."""
    high_over_ambient: float = 45 * F
    """K over the outdoor air above which a machine condenses too high for any fault but a stopped fan …"""
    high_below_return: float = 10 * F
    """… while it boils within so many K of the return air, which a stopped fan does not do …"""
    high_superheat: float = -4 * F
    """… or its suction line is more than this below boiling."""
    low_subcooling: float = -10 * F
    """K of subcooling above which low pressures mean little refrigerant, not another one: its liquid line fits."""
    low_over_ambient: float = -2 * F
    """K over the outdoor air below which it condenses too low …"""
    low_below_return: float = 55 * F
    """… while it boils more than this below the return air …"""
    low_superheat: float = 45 * F
    """… or its superheat is above this."""
    sound_over_ambient: tuple[float, float] = (5 * F, 32 * F)
    """K over the outdoor air at which a sound machine condenses, least and most."""
    sound_below_return: tuple[float, float] = (22 * F, 45 * F)
    """K below the return air at which a sound machine boils, least and most."""
    sound_superheat: tuple[float, float] = (-1 * F, 30 * F)
    """K of superheat of a sound machine, least and most."""

    # -- a gauge at rest ---------------------------------------------------------------------------------------------
    at_rest: float = 1 * F
    """K to either side of the limits below over which the doubt grows."""
    below_rest: float = 4 * F
    """K below saturation at rest that the instruments' errors do not explain: machine and air seldom agree better."""
    liquid_there: float = 3 * F
    """K of subcooling from which liquid stands in the condenser while the machine runs."""

    # -- against the plate and the capacity --------------------------------------------------------------------------
    over_current: tuple[float, float] = (1.75, 0.25)
    """Current over the rated one above which a clamp or the plate is misread: overloads trip a running compressor before."""
    airflow_low: tuple[float, float] = (80.0, 20.0)
    """cfm/ton below which an airflow is misread: a coil with a fifth of its air is a block of ice within the hour."""
    airflow_high: tuple[float, float] = (1100.0, 100.0)
    """cfm/ton above which an airflow is misread: no blower moves nearly three times what its coil is made for."""
    discharge_hot: tuple[float, float] = (340 * F, 20 * F)
    """°F (as K from 0 °F) above which a discharge line is misread: oil breaks down from 275 °F, protectors open soon after."""
    same_air: tuple[float, float] = (1.5 * F, 1 * F)
    """K of temperature split below which the two air thermometers read one air, if the machine moves heat."""
    moves_heat: tuple[float, float] = (9 * F, 2 * F)
    """K of condensing over the outdoor air above which the machine gives off heat, which it must take up indoors."""


LIMITS = PlausibilityLimits()


@dataclass(frozen=True, slots=True)
class RunningRange:
    """What running machines keep to: lowest, highest, and over how much it becomes unlikely below and above; why."""

    low: float
    high: float
    below: float
    above: float
    why: str


# In cooling, °F (humidity in %). Heat flows from warm to cold, which is the hard side of most; the soft side is judgement,
# common practice, and generous: of 2500 simulated machines with all kinds of faults 99 in 100 have a strain under 8.
_NONE = math.inf
RANGES: Mapping[str, RunningRange] = MappingProxyType(
    {
        "superheat": RunningRange(-1, 45, 2, 5, "vapour is not colder than it boils"),
        "subcooling": RunningRange(0, 28, 2, 5, "liquid is not warmer than it boils"),
        "condensing over ambient": RunningRange(8, 42, 3, 6, "heat must get out"),
        "return air over evaporating": RunningRange(18, 55, 5, 5, "heat must get in"),
        "evaporating": RunningRange(24, 58, 4, 4, "colder it ices over, warmer it does not dry the air"),
        "liquid line over outdoor air": RunningRange(0, 30, 2, 8, "the outdoor air cools the liquid"),
        "liquid line over suction line": RunningRange(
            0, _NONE, 6, 1, "one leaves the condenser, the other the evaporator"
        ),
        "suction line over the warmest air": RunningRange(-_NONE, 0, 1, 2, "nothing else warms it"),
        "air temperature split": RunningRange(9, 34, 4, 4, "what coils do between little and much airflow"),
        "supply air over evaporating": RunningRange(4, 45, 2, 6, "the coil cools the air"),
        "humidity": RunningRange(20, 85, 8, 8, "what rooms have, in percent"),
    }
)
