"""What a machine should hold in all: the factory charge, and what its line set, coil and drier add to it or take from it.

Each share comes with the limit of its error (95 of 100). The figure of the machine's own maker goes first (`allowance`);
without it the lines are worked out by bore and density, and the allowances other makers print stand beside that.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from diagnose.properties import Refrigerant, liquid_density, saturation_pressure, saturation_temperature, targets
from diagnose.properties.targets import Allowance, LineStates
from diagnose.quantities.registry import quantity
from diagnose.units.table import GRAVITY
from diagnose.visit import LineSet, Machine
from diagnose.visit.fields import OUTDOORS, RECOVERED, THIS_DAY, WEIGHED_IN

What = Literal["factory charge", "line set", "liquid line", "suction line", "indoor coil", "drier"]
Way = Literal["allowance", "density", "no line set"]
Lack = Literal["refrigerant", "factory charge", "line set", "included", "allowance"]
WITHOUT_LINES = ("packaged", "window", "walk-in cooler", "walk-in freezer", "reach-in", "ice maker", "chiller")
"""Kinds whose factory charge is all they hold, unless the visit gives a line set."""
IN_ALL = "charge in all"
ROUGH = "rough"  # whether the line set is not known
WEIGHED = "weighed share"

# Limits of error (95 of 100) as shares; all judgement, but the bore.
_OF_FACTORY = 0.01  # how exactly a factory fills, and a plate is rounded
_OF_BORE = 0.04  # annealed against drawn tube of one size (astm-b280)
_OF_LENGTH = 0.05  # of a pipe paced off along its way
_OF_LIQUID = 8.3  # K, 15 °F: how much warmer or colder than stated the liquid may be
_OF_VAPOR = 0.3  # suction pressure and superheat move it so much through the seasons
_OF_UNKNOWN_SIZE = 0.5  # of a suction line between 5/8 and 7/8 in where 3/4 in was taken
_OF_MIXTURE = 0.5  # see targets.mixture_density
_OF_ALLOWANCE = 0.05  # how a maker rounds
_OF_NO_LINES = 0.25  # of the factory charge, where the line set is not known: some 40 ft more than the plate covers
_NO_LINES = (0.1, 0.3)  # how far the scale must then stand off the plate to say anything, and to say all
_OF_SCALE = 0.005  # of what is on it …
_LEAST_OF_SCALE = 0.014  # kg, half an ounce; but never better than this
_LEFT_BEHIND = 0.03  # what recovery leaves in the oil and in the shell, or the hoses keep


class Share(NamedTuple):
    """A part of the charge, kg; negative where the line is shorter than the factory charge covers. error: its limit."""

    what: What
    kg: float
    error: float


class Held(NamedTuple):
    """What the lines hold, kg/m: the liquid line that is there, the one that the factory charge was worked out for, the
    suction line; and the limits of error of the first and the last as shares."""

    here: float
    then: float
    suction: float
    liquid_error: float
    suction_error: float


class WeighIn(NamedTuple):
    """What the machine should hold, kg.

    shares: what is known of it. way: by which the line set was counted. printed: what other makers' allowances would make
    of the line set. held, by_density: what its lines hold by bore and density, also where its maker's figure was used; None
    where that cannot be told. lacks: what keeps it from being the whole.
    """

    shares: tuple[Share, ...]
    way: Way | None
    printed: tuple[tuple[Allowance, float], ...]
    held: Held | None
    by_density: float | None
    lacks: tuple[Lack, ...]

    @property
    def kg(self) -> float:
        """What all shares make."""
        return max(sum(share.kg for share in self.shares), 0.0)

    @property
    def error(self) -> float:
        """The limit of its error, kg; wide where the line set is not known."""
        unknown = _OF_NO_LINES * self.kg if self.lacks else 0.0
        return math.hypot(unknown, *(share.error for share in self.shares))

    @property
    def lines(self) -> float:
        """What the line set, coil and drier add, kg."""
        return sum(share.kg for share in self.shares if share.what != "factory charge")


def weigh_in(machine: Machine, states: LineStates | None = None) -> WeighIn:
    """What this machine should hold, of what the visit gives. states: those of the lines, if not the usual ones."""
    gas, factory, lines = machine.refrigerant, machine.fact("factory charge"), machine.line_set
    lacks: list[Lack] = [] if gas is not None else ["refrigerant"]
    lacks += [] if factory is not None else ["factory charge"]
    filled = () if factory is None else (Share("factory charge", factory, _OF_FACTORY * factory),)
    if lines is None:
        sealed = machine.words.get("kind") in WITHOUT_LINES
        lacks += [] if sealed else ["line set"]
        return WeighIn(filled, "no line set" if sealed else None, (), None, None, tuple(lacks))
    outdoors = machine.words.get("metering place") in OUTDOORS
    held = _per_length(gas, lines, outdoors, states or LineStates()) if gas is not None else None
    counted, way = _counted(lines, held)
    if lines.included is None:
        lacks.append("included")
    elif way is None and gas is not None:
        lacks.append("allowance")
    parts: tuple[tuple[What, float | None], ...] = (("indoor coil", lines.indoor_coil), ("drier", lines.drier))
    added = tuple(Share(what, kg, _OF_ALLOWANCE * kg) for what, kg in parts if kg is not None)
    return WeighIn(
        (*filled, *counted, *added),
        way,
        _printed(gas, lines, outdoors) if gas is not None else (),
        held,
        sum(share.kg for share in _by_density(lines, held))
        if held is not None and lines.included is not None
        else None,
        tuple(lacks),
    )


def _per_length(gas: Refrigerant, lines: LineSet, outdoors: bool, states: LineStates) -> Held | None:
    """None where a size is none of ASTM B280 tube, or a state lies outside the table."""
    dense = targets.mixture_density(gas, states) if outdoors else liquid_density(gas, states.liquid)
    warm, vapor = liquid_density(gas, states.liquid + _OF_LIQUID), states.vapor_density(gas)
    here = targets.line_charge(lines.liquid_line, 1.0, dense)
    then = here if lines.included_liquid_line is None else targets.line_charge(lines.included_liquid_line, 1.0, dense)
    # Twice the diameter has four times the area: 3/4 in beside 3/8 in.
    thick = 4.0 if lines.suction_line is None else 1.0
    suction = targets.line_charge(lines.suction_line or lines.liquid_line, thick, vapor)
    if here is None or then is None or suction is None or dense is None:
        return None
    warmer = _OF_MIXTURE if outdoors else 0.0 if warm is None else 1.0 - warm / dense
    size = _OF_UNKNOWN_SIZE if lines.suction_line is None else 0.0
    return Held(here, then, suction, math.hypot(_OF_BORE, _OF_LENGTH, warmer), math.hypot(_OF_VAPOR, _OF_LENGTH, size))


def _counted(lines: LineSet, held: Held | None) -> tuple[tuple[Share, ...], Way | None]:
    """What the line set adds beyond what the factory charge covers, and the way it was worked out."""
    if lines.included is None:
        return (), None
    if lines.allowance is None:
        return (_by_density(lines, held), "density") if held is not None else ((), None)
    here, covered = lines.allowance * lines.length, lines.allowance * lines.included
    if lines.included_liquid_line is not None and held is not None and held.then != held.here:
        covered = (held.then + held.suction) * lines.included  # the maker's figure is for the size that is there
    elif lines.included_liquid_line is not None and held is None:
        return (), None
    return (
        Share("line set", here - covered, math.hypot(_OF_ALLOWANCE, _OF_LENGTH) * abs(here - covered)),
    ), "allowance"


def _by_density(lines: LineSet, held: Held) -> tuple[Share, ...]:
    included = lines.included or 0.0
    liquid = held.here * lines.length - held.then * included
    suction = held.suction * ((lines.suction_length or lines.length) - included)
    return (
        Share("liquid line", liquid, held.liquid_error * abs(liquid)),
        Share("suction line", suction, held.suction_error * abs(suction)),
    )


def _printed(gas: Refrigerant, lines: LineSet, outdoors: bool) -> tuple[tuple[Allowance, float], ...]:
    """What other makers' allowances make of this line set, kg; of those that print the sizes in question."""
    if lines.included is None:
        return ()
    then = targets.published_allowances(gas.name, lines.included_liquid_line or lines.liquid_line, outdoors)
    covered = {one.source: one.per_length * lines.included for one in then}
    return tuple(
        (one, one.per_length * lines.length - covered[one.source])
        for one in targets.published_allowances(gas.name, lines.liquid_line, outdoors)
        if one.source in covered
    )


def liquid_column(gas: Refrigerant, lift: float) -> tuple[float, float | None] | None:
    """What a column of liquid of this height (m) takes from the liquid line: pressure, Pa, and the subcooling it uses up, K.

    Liquid 6 K (10 °F) colder than it condenses, at the usual state of the line. None where the indoor unit is not the higher
    one, and outside the table.
    """
    states = LineStates()
    density, full = liquid_density(gas, states.liquid), saturation_pressure(gas, "bubble", states.liquid + 10 / 1.8)
    if lift <= 0 or density is None or full is None:
        return None
    lost = density * GRAVITY * lift
    left = saturation_temperature(gas, "bubble", full - lost)
    return lost, None if left is None else states.liquid + 10 / 1.8 - left


# -- what the scale showed ---------------------------------------------------------------------------------------------


def held(machine: Machine) -> tuple[str, float, float] | None:
    """What the machine held by the scale: recovered or weighed in (the name of the fact), kg, and the limit of its error.

    What was recovered goes first: the readings were taken before that.
    """
    for name, left in ((RECOVERED, _LEFT_BEHIND), (WEIGHED_IN, 0.0)):
        kg = machine.fact(name)
        if kg is not None:
            return name, kg, math.hypot(max(_OF_SCALE * kg, _LEAST_OF_SCALE), left * kg)
    return None


def on_the_scale(machine: Machine) -> WeighIn | None:
    """What the machine should hold, where a scale showed what it held and there is a factory charge to compare it with."""
    if machine.fact("factory charge") is None or not any(name in machine.facts for name in THIS_DAY):
        return None
    return weigh_in(machine)


def beyond_the_lines(share: float) -> float:
    """How far a share says more than what a line set that is not known may make, 0 to 1."""
    return max(0.0, min((abs(share - 1.0) - _NO_LINES[0]) / (_NO_LINES[1] - _NO_LINES[0]), 1.0))


@quantity("ratio", "recovered or weighed-in charge / what the machine should hold in all", "rating-plate", shown=False)
def weighed_share(
    charge_in_all: float, recovered_charge: float | None = None, weighed_in: float | None = None
) -> float | None:
    """What the machine held by the scale, as a share of its factory charge with what the line set adds."""
    on_it = recovered_charge if recovered_charge is not None else weighed_in
    return None if on_it is None or charge_in_all <= 0 else on_it / charge_in_all
