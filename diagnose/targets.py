"""What a healthy machine should read: target superheat, temperature split, condensing over ambient, bores, ratios.

SI in and out (K for temperatures and for differences, m, kg, kg/m³, m³/(s·W)), except where a name says otherwise.
No function here raises on a number: what cannot be answered is a `NoTarget` with its figures, or None. Sources are keys
of rules/sources.yaml. "From memory" marks a figure of which no printed copy was seen. Tables lie in targets.json.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from types import MappingProxyType
from typing import Any, Literal, TypeGuard


@dataclass(frozen=True, slots=True)
class NoTarget:
    """Why there is no expected value: the table is blank there, the reading lies outside it, or is missing.

    nearest: the value at the nearest edge of the table, with a spread that grows with the distance from it. No verdict may
    lean on it; it is good enough to tell a starved evaporator from a flooded one.
    """

    reason: Literal["blank", "outside", "missing"]
    of: Literal["superheat", "temperature split"]
    nearest: "Target | None" = None
    at: tuple[float, ...] = ()  # where in the table, K: dry bulb, wet bulb
    outside: Mapping[str, tuple[float, float, float]] = field(
        default_factory=dict
    )  # reading -> its value, the table's ends, K
    readings: tuple[str, ...] = ()  # what is missing


@dataclass(frozen=True, slots=True)
class Target:
    """An expected value (SI), how far healthy machines or the table itself scatter about it, and where it is from.

    inside: how far within its table the value stands, 0 to 1: towards the edge it counts less and less, and what would be
    said beyond the edge (`beyond`) more and more, so that nothing depends on a tenth of a degree.
    """

    value: float
    spread: float  # standard deviation, in the unit of the value
    source: str  # key of rules/sources.yaml
    origin: Literal["maker", "protocol", "typical", "baseline"]
    inside: float = 1.0
    beyond: "NoTarget | Target | None" = None


F = 5 / 9
"""One Fahrenheit degree as a difference, K."""
CFM_PER_TON = 0.3048**3 / 60 / 3516.8528
"""1 cfm/ton in m³/(s·W): 400 cfm/ton is 5.37e-5."""
OUNCE_PER_FOOT = 0.45359237 / 16 / 0.3048
"""1 oz/ft in kg/m."""
MINIMUM_TARGET_SUPERHEAT = 5 * F
"""Below this target (2.78 K) the superheat test is not valid; source ra3-2008, page RA3-14, read."""

_HAIR = 0.09  # °F (0.05 K) allowed beyond the edge of a table, so that rounding of units never kills a look-up


def _f(kelvin: float) -> float:
    return (kelvin - 273.15) * 1.8 + 32


def _usable(number: float | None) -> TypeGuard[float]:
    return number is not None and math.isfinite(number)


# Two protocol tables ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Table:
    """A 1 °F grid, blank cells filled, and which cells were blank."""

    first_dry_bulb: int
    first_wet_bulb: int
    cells: tuple[tuple[float, ...], ...]  # [dry bulb][wet bulb], °F
    blank: tuple[tuple[bool, ...], ...]
    source: str

    @property
    def last_dry_bulb(self) -> int:
        return self.first_dry_bulb + len(self.cells) - 1

    @property
    def last_wet_bulb(self) -> int:
        return self.first_wet_bulb + len(self.cells[0]) - 1

    def at(self, dry_bulb: float, wet_bulb: float) -> tuple[float, float]:
        """Bilinear value, and the weight of blank corners in it (0 to 1); °F, inside the table."""
        y = min(max(dry_bulb - self.first_dry_bulb, 0.0), len(self.cells) - 1.0)
        x = min(max(wet_bulb - self.first_wet_bulb, 0.0), len(self.cells[0]) - 1.0)
        i = min(int(y), len(self.cells) - 2)
        j = min(int(x), len(self.cells[0]) - 2)
        v, u = y - i, x - j
        weights = ((i, j, (1 - v) * (1 - u)), (i, j + 1, (1 - v) * u), (i + 1, j, v * (1 - u)), (i + 1, j + 1, v * u))
        value = sum(w * self.cells[r][c] for r, c, w in weights)
        return value, sum(w for r, c, w in weights if self.blank[r][c])


@lru_cache(maxsize=1)
def _data() -> dict[str, Any]:
    text = files("diagnose").joinpath("targets.json").read_text(encoding="utf-8")
    data: dict[str, Any] = json.loads(text)
    return data


@lru_cache(maxsize=2)
def _table(name: str, ceiling: float = math.inf) -> _Table:
    """Table with each blank filled from the plane through its three known neighbours (none above `ceiling`).

    Blank corners lie at low wet bulb and high dry bulb, so they are filled dry bulb upwards, wet bulb downwards. In a
    cell with one blank corner this is the plane through the other three, and everything stays continuous.
    """
    section = _data()[name]
    rows: list[list[float | None]] = section["rows"]
    filled: list[list[float]] = []
    for i, row in enumerate(rows):
        new = [0.0] * len(row)
        for j in reversed(range(len(row))):
            known = row[j]
            new[j] = filled[i - 1][j] + new[j + 1] - filled[i - 1][j + 1] if known is None else known
        filled.append(new)
    blank = tuple(tuple(cell is None for cell in row) for row in rows)
    cells = tuple(
        tuple(min(cell, ceiling) if empty else cell for cell, empty in zip(row, gaps, strict=True))
        for row, gaps in zip(filled, blank, strict=True)
    )
    return _Table(section["first_dry_bulb"], section["first_wet_bulb"], cells, blank, section["source"])


# K of spread for each °F beyond the edge of a table; the tables change by 1 to 2 °F (0.6 to 1.1 K) a °F. Judgement.
_SPREAD_BEYOND = 0.5


def _at_edge(table: _Table, dry_bulb: float, wet_bulb: float, least: float) -> Target:
    """What the table says at its nearest edge, at least `least` °F."""
    dry = min(max(dry_bulb, table.first_dry_bulb), table.last_dry_bulb)
    wet = min(max(wet_bulb, table.first_wet_bulb), table.last_wet_bulb)
    beyond = math.hypot(dry - dry_bulb, wet - wet_bulb)
    value, _ = table.at(dry, wet)
    return Target(max(value, least) * F, 0.3 + _SPREAD_BEYOND * beyond, table.source, "typical")


def _outside(
    of: Literal["superheat", "temperature split"],
    table: _Table,
    dry_bulb: float,
    dry_name: str,
    wet_bulb: float,
    least: float,
) -> NoTarget | None:
    ends = {
        name: (_kelvin(value), _kelvin(low), _kelvin(high))
        for name, value, low, high in (
            (dry_name, dry_bulb, table.first_dry_bulb, table.last_dry_bulb),
            ("return air wet bulb", wet_bulb, table.first_wet_bulb, table.last_wet_bulb),
        )
        if not low - _HAIR <= value <= high + _HAIR
    }
    return NoTarget("outside", of, _at_edge(table, dry_bulb, wet_bulb, least), outside=ends) if ends else None


_FADING = 2.0  # °F inside an edge over which a table's answer comes to count; thermometers and tables are no surer


def _near_edge(
    of: Literal["superheat", "temperature split"],
    table: _Table,
    dry_bulb: float,
    dry_name: str,
    wet_bulb: float,
    least: float,
) -> tuple[float, NoTarget | None]:
    """How far inside the ends of the table a point stands, 0 to 1, and what is said beyond the nearest end."""
    ends = (
        (dry_bulb - table.first_dry_bulb, (table.first_dry_bulb - 1.0, wet_bulb)),
        (table.last_dry_bulb - dry_bulb, (table.last_dry_bulb + 1.0, wet_bulb)),
        (wet_bulb - table.first_wet_bulb, (dry_bulb, table.first_wet_bulb - 1.0)),
        (table.last_wet_bulb - wet_bulb, (dry_bulb, table.last_wet_bulb + 1.0)),
    )
    distance, (dry, wet) = min(ends)
    inside = max(0.0, min(1.0, distance / _FADING))
    beyond = None if inside >= 1.0 else _outside(of, table, dry, dry_name, wet, least)
    if beyond is not None:  # its nearest edge is where the reading stands
        beyond = replace(beyond, nearest=_at_edge(table, dry_bulb, wet_bulb, least))
    return inside, beyond


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * F


def _missing(of: Literal["superheat", "temperature split"], **readings: float | None) -> NoTarget:
    names = tuple(name.replace("_", " ") for name, value in readings.items() if not _usable(value))
    return NoTarget("missing", of, readings=names)


def target_superheat(outdoor: float | None, wet_bulb: float | None) -> Target | NoTarget:
    """Target superheat (K) of a fixed orifice, at the suction service valve.

    `outdoor` is the dry bulb entering the condenser, `wet_bulb` that of the return air, K. Bilinear in the 1 °F table
    RA3.2-2, from memory; 55-115 °F by 50-76 °F. Blank (target below 5 °F) gives `NoTarget("blank")`: towards a blank
    corner the plane through the three known corners goes on until it passes below 5 °F. Spread 0.3 K: against the
    integer chart printed by three makers (source maker-charging-charts, read) the table is off by 0.38 °F rms, 1.0 °F
    at worst.
    """
    if not (_usable(outdoor) and _usable(wet_bulb)):
        return _missing("superheat", outdoor_air_temperature=outdoor, return_air_wet_bulb=wet_bulb)
    table = _table("target_superheat", 4.9)  # 4.9: a blank cell says below 5 °F, to one decimal
    dry, wet = _f(outdoor), _f(wet_bulb)
    outside = _outside("superheat", table, dry, "outdoor air", wet, 5.0)
    if outside is not None:
        return outside
    value, _ = table.at(dry, wet)
    if value < 5:
        edge = Target(MINIMUM_TARGET_SUPERHEAT, 0.8, table.source, "typical")
        return NoTarget("blank", "superheat", edge, at=(outdoor, wet_bulb))
    inside, beyond = _near_edge("superheat", table, dry, "outdoor air", wet, 5.0)
    if (value - 5) / _FADING < inside:  # the blank part is nearer than the ends
        inside = (value - 5) / _FADING
        beyond = NoTarget("blank", "superheat", Target(value * F, 0.8, table.source, "typical"), at=(outdoor, wet_bulb))
    return Target(value * F, 0.3, table.source, "protocol", inside, beyond)


@dataclass(frozen=True, slots=True)
class Cells:
    """The four cells of a protocol table about one point, for a lesson that reads it by hand. Everything in °F.

    dry, wet: the two rows (dry bulb) and columns (wet bulb). values, blank: [row][column]; a blank cell holds what the
    plane through the others gives. dry_share, wet_share: how far the point lies from the first to the second, 0 to 1.
    """

    dry: tuple[int, int]
    wet: tuple[int, int]
    values: tuple[tuple[float, float], tuple[float, float]]
    blank: tuple[tuple[bool, bool], tuple[bool, bool]]
    dry_share: float
    wet_share: float


def neighbours(
    table: Literal["target_superheat", "temperature_split"], dry_bulb: float, wet_bulb: float
) -> Cells | None:
    """The cells between which `target_superheat` or `target_temperature_split` reads at these temperatures (K).

    None outside the table.
    """
    found = _table(table, 4.9 if table == "target_superheat" else math.inf)
    y, x = _f(dry_bulb) - found.first_dry_bulb, _f(wet_bulb) - found.first_wet_bulb
    rows, columns = len(found.cells) - 1, len(found.cells[0]) - 1
    if not (-_HAIR <= y <= rows + _HAIR and -_HAIR <= x <= columns + _HAIR):
        return None
    y, x = min(max(y, 0.0), float(rows)), min(max(x, 0.0), float(columns))
    # Arithmetic between units leaves a whole degree a hair short of itself.
    i, j = min(int(y + 1e-6), rows - 1), min(int(x + 1e-6), columns - 1)
    above, below = found.cells[i : i + 2]
    empty_above, empty_below = found.blank[i : i + 2]
    return Cells(
        dry=(found.first_dry_bulb + i, found.first_dry_bulb + i + 1),
        wet=(found.first_wet_bulb + j, found.first_wet_bulb + j + 1),
        values=((above[j], above[j + 1]), (below[j], below[j + 1])),
        blank=((empty_above[j], empty_above[j + 1]), (empty_below[j], empty_below[j + 1])),
        dry_share=max(y - i, 0.0),
        wet_share=max(x - j, 0.0),
    )


def target_superheat_formula(outdoor: float, wet_bulb: float) -> float:
    """Target superheat (K) by the trade's line formula (3·WB - 80 - DB)/2 in °F; for look-ups and comparison only.

    Common practice, no source. Against the makers' chart: mean -0.45, rms 1.62, range -6.5 to +3.0 °F; within -2 to +3
    °F for 75-105 °F outdoor and 58-72 °F wet bulb; worst in hot humid weather (115/76: 16.5, chart 23). It gives 5 to
    7.5 °F at 85/60, 90/60, 95/62 and 100/64, where the table forbids the test. Never clipped; nan passes through.
    """
    return (3 * _f(wet_bulb) - 80 - _f(outdoor)) / 2 * F


def target_temperature_split(return_dry_bulb: float | None, return_wet_bulb: float | None) -> Target | NoTarget:
    """Target of return air minus supply air dry bulb, K; cooling, after 15 minutes, with adequate airflow.

    Bilinear in the 1 °F table RA3.2-3, from memory; return air 70-84 °F by 50-76 °F wet bulb. The table is blank for
    dry air; a cell with blank corners is answered (on the plane through the known ones) while the known corners carry
    at least half of the weight. Wet bulb above dry bulb is not refused here, though no air is like that. Spread 0.3 K,
    our judgement: one decimal, and a fit of rounding noise only.
    """
    if not (_usable(return_dry_bulb) and _usable(return_wet_bulb)):
        return _missing("temperature split", return_air_dry_bulb=return_dry_bulb, return_air_wet_bulb=return_wet_bulb)
    table = _table("temperature_split")
    dry, wet = _f(return_dry_bulb), _f(return_wet_bulb)
    outside = _outside("temperature split", table, dry, "return air dry bulb", wet, 0.0)
    if outside is not None:
        return outside
    value, blank = table.at(dry, wet)
    if blank > 0.5:
        edge = Target(value * F, 0.3 + _SPREAD_BEYOND * blank, table.source, "typical")
        return NoTarget("blank", "temperature split", edge, at=(return_dry_bulb, return_wet_bulb))
    inside, beyond = _near_edge("temperature split", table, dry, "return air dry bulb", wet, 0.0)
    if 1.0 - 2 * blank < inside:  # the blank part is nearer than the ends
        inside = 1.0 - 2 * blank
        edge = Target(value * F, 0.3 + _SPREAD_BEYOND * blank, table.source, "typical")
        beyond = NoTarget("blank", "temperature split", edge, at=(return_dry_bulb, return_wet_bulb))
    return Target(value * F, 0.3, table.source, "protocol", inside, beyond)


# What is typical ----------------------------------------------------------------------------------------------------


def typical_temperature_split() -> Target:
    """Return minus supply air dry bulb where no wet bulb was taken: 18 °F, spread 2.5 °F (14-22 °F is 1.6 spreads).

    14-20 °F read on a home inspectors' page, 16-22 °F usual at 50 % humidity from memory. It ranges from 3 °F in damp
    air to 26 °F in dry air (`target_temperature_split`), so a wet bulb is worth taking.
    """
    return Target(18 * F, 2.5 * F, "common-practice", "typical")


_CONDENSING = ((10.0, 30.0), (12.0, 25.0), (13.0, 20.0), (14.0, 15.0))  # SEER, °F


def _between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Linear between points sorted by x, flat outside."""
    if x <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return points[-1][1]


def condensing_over_ambient(seer: float | None) -> Target:
    """Condensing saturation temperature minus air entering the condenser, K, by seasonal efficiency (Btu/Wh).

    30 °F up to SEER 10, 25 at 12, 20 at 13, 15 at 14 and above, linear between, spread 2.2 K; read in notes on a
    college text. Without a SEER 20 °F with spread 3.5 K, which covers 15-30 within two spreads. Eight fault-free
    laboratory states (nistir-7350) sit at 16-19 °F. Spreads are our judgement.
    """
    if not (_usable(seer) and seer > 0):
        return Target(20 * F, 3.5, "college-text-notes", "typical")
    return Target(_between(_CONDENSING, seer) * F, 2.2, "college-text-notes", "typical")


def evaporator_temperature_difference(
    airflow_per_capacity: float | None, return_dry_bulb: float | None = None, return_wet_bulb: float | None = None
) -> Target:
    """Return air dry bulb minus evaporating saturation temperature, K; airflow over nominal capacity in m³/(s·W).

    The rule is 35 °F at 400 cfm/ton, 40 °F at 350 (read), linear, held at the ends of 300-450 cfm/ton; fault-free
    laboratory states (nistir-7350) read 26-31 °F at about 400. Between the two, nearer the rule: 33 °F at 400 and 1 °F
    for each 10 cfm/ton, spread 5 °F (2.8 K). Without airflow 33 °F. For cfm/ton multiply by `CFM_PER_TON`.

    That is for half saturated air (75/62.5 °F). A wet coil answers to the wet bulb of its air and hardly to the dry bulb,
    so the difference grows by 0.85 °F for each °F that dry and wet bulb lie further apart than there, 5 °F at most (the
    slope of the simulator and of the nistir-7350 machine between its days, rounded; temperatures in K).
    """
    cfm_per_ton = 400.0
    if _usable(airflow_per_capacity) and airflow_per_capacity > 0:
        cfm_per_ton = min(max(airflow_per_capacity / CFM_PER_TON, 300.0), 450.0)
    drier = 0.0
    if _usable(return_dry_bulb) and _usable(return_wet_bulb):
        drier = min(max(0.85 * ((return_dry_bulb - return_wet_bulb) / F - 12.5), -5.0), 5.0)
    return Target((33 + (400 - cfm_per_ton) / 10 + drier) * F, 2.8, "achr-airflow", "typical")


def subcooling(rated: float | None) -> Target:
    """Subcooling at the liquid service valve, K: the maker's where given (above 0), else 10 °F.

    10 °F on average, 5-15 (college-text-notes, read), so spread 1.4 K: the range is two spreads each way.
    """
    if _usable(rated) and rated > 0:
        return Target(rated, 0.0, "rating-plate", "maker")
    return Target(10 * F, 1.4, "college-text-notes", "typical")


def valve_superheat_range(rated: float | None) -> tuple[Target, float, float]:
    """Superheat of a working TXV or EEV: the expected value, and the lowest and highest that pass, K.

    The maker's value ± 5 °F (acca-5-qi, from memory; never below 0) where given, else the protocol's 4-25 °F (read)
    with its middle, 14.5 °F; spread 21/√12 °F, as if every value of the range were as likely. An independent rater
    would allow 3-26 °F.
    """
    if _usable(rated) and rated > 0:
        return Target(rated, 0.0, "rating-plate", "maker"), max(rated - 5 * F, 0.0), rated + 5 * F
    return Target(14.5 * F, 21 / math.sqrt(12) * F, "ra3-2008", "protocol"), 4 * F, 25 * F


def liquid_line_approach() -> Target:
    """Liquid line temperature minus outdoor air, K: 9 °F, spread 2 K.

    A maker prints 8-9 °F for two heat pumps (read); fault-free laboratory states (nistir-7350) have 8.2-10.6 °F. The
    spread is wider than either, our judgement: three machines are few.
    """
    return Target(9 * F, 2.0, "maker-4shp16lt", "typical")


# Ratios -------------------------------------------------------------------------------------------------------------


def capacity_ratio(return_wet_bulb: float | None, outdoor: float | None) -> float | None:
    """Total cooling capacity over nominal, at return wet bulb and outdoor dry bulb (K), rated airflow, right charge.

    Residential split systems, quadratic in °F (cutler-2013, read). 55-78 °F wet bulb (a wet coil), 55-125 °F outdoor,
    else None. 0.994 at 67/95 °F.
    """
    if return_wet_bulb is None or outdoor is None:
        return None
    w, t = _f(return_wet_bulb), _f(outdoor)
    if not (55 - _HAIR <= w <= 78 + _HAIR and 55 - _HAIR <= t <= 125 + _HAIR):
        return None
    return 3.670270705 - 0.098652414 * w + 0.000955906 * w * w + 0.006552414 * t - 1.56e-5 * t * t - 0.000131877 * w * t


def weather_inside(return_wet_bulb: float | None, outdoor: float | None) -> float:
    """How far a weather (K) stands inside the domain of `capacity_ratio`, 0 to 1: all of the way from 2 °F inside it."""
    if return_wet_bulb is None or outdoor is None:
        return 0.0
    w, t = _f(return_wet_bulb), _f(outdoor)
    return max(0.0, min(1.0, min(w - 55, 78 - w, t - 55, 125 - t) / _FADING))


def airflow_capacity_ratio(flow_fraction: float | None) -> float | None:
    """Total cooling capacity over that at rated airflow, at `flow_fraction` = actual/rated indoor airflow.

    0.718664047 + 0.41797409 f - 0.136638137 f² (cutler-2013, read); None outside 0.5-1.5. Below about 0.75 and above
    1.25 it is an extrapolation (our judgement), and an iced coil is worse than it says.
    """
    if flow_fraction is None or not 0.5 <= flow_fraction <= 1.5:
        return None
    return 0.718664047 + 0.41797409 * flow_fraction - 0.136638137 * flow_fraction**2


def power_ratio(return_wet_bulb: float | None, outdoor: float | None) -> float | None:
    """Electrical power over that at 67/95 °F, at return wet bulb and outdoor dry bulb (K), rated airflow, right charge.

    Product of the capacity and energy input ratios of residential split systems, quadratics in °F (cutler-2013, read);
    same domain as `capacity_ratio`. About 1 % for each °F outdoors.
    """
    capacity = capacity_ratio(return_wet_bulb, outdoor)
    if capacity is None or return_wet_bulb is None or outdoor is None:
        return None
    w, t = _f(return_wet_bulb), _f(outdoor)
    energy = -3.302695861 + 0.137871531 * w - 0.001056996 * w * w - 0.012573945 * t + 0.000214638 * t * t
    return capacity * (energy - 0.000145054 * w * t)


# Lines and charge ---------------------------------------------------------------------------------------------------

_INCH = 0.0254
_TUBE_TOLERANCE = 0.012 * _INCH  # 0.3 mm: 9.5 mm is 3/8 in, 10 mm tube is another size


@lru_cache(maxsize=1)
def _bores() -> tuple[tuple[float, float], ...]:
    return tuple((outside * _INCH, bore * _INCH) for _, outside, bore in _data()["copper_tube"]["rows"])


def tube_bore(outside_diameter: float | None) -> float | None:
    """Bore (m) of soft copper tube of that outside diameter (m), 1/4 to 1-3/8 in; None where there is no such size.

    Annealed sizes of astm-b280, read second-hand; drawn tube differs by up to 4 % in area. A size is recognised within
    0.3 mm, so 9.52 mm is 3/8 in.
    """
    if outside_diameter is None:
        return None
    for outside, bore in _bores():
        if abs(outside_diameter - outside) <= _TUBE_TOLERANCE:
            return bore
    return None


def line_charge(outside_diameter: float | None, length: float | None, density: float | None) -> float | None:
    """Refrigerant (kg) in a line: π/4 · bore² · length · density, lengths in m, density of the fluid in kg/m³.

    The liquid alone: the makers' allowances per foot (`published_line_charge`) carry 0.07-0.08 oz/ft more, for the
    vapour in the suction line and rounding up. Not for a line after the metering device (a ductless machine with its
    device outdoors): that holds about half. None for an unknown size or a negative number.
    """
    bore = tube_bore(outside_diameter)
    if bore is None or not (_usable(length) and _usable(density) and length >= 0 and density >= 0):
        return None
    return math.pi / 4 * bore**2 * length * density


PUBLISHED_OUNCES_PER_FOOT: Mapping[str, float] = MappingProxyType({"1/4": 0.27, "5/16": 0.40, "3/8": 0.60})
"""A maker's allowance for a whole R-410A line set, suction vapour included, by liquid line size (in); oz/ft.

Source maker-long-line (Table 4, page 27), read. The factory charge assumes 3/8 in. Another maker's ductless manual
allows 0.32 and 0.69 for 1/4 and 3/8 in with the metering device indoors, about half with it outdoors.
"""
_PUBLISHED = ((0.25, "1/4"), (0.3125, "5/16"), (0.375, "3/8"))


def published_line_charge(outside_diameter: float | None, length: float | None) -> float | None:
    """Refrigerant (kg) a maker allows for `length` (m) of R-410A line set with that liquid line (m), or None."""
    if outside_diameter is None or not (_usable(length) and length >= 0):
        return None
    for inches, nominal in _PUBLISHED:
        if abs(outside_diameter - inches * _INCH) <= _TUBE_TOLERANCE:
            return PUBLISHED_OUNCES_PER_FOOT[nominal] * OUNCE_PER_FOOT * length
    return None


_SUPERHEAT_WEIGHT = 1 / 2.5  # k_sh/sc
_EMPTY_CHARGE = 0.75  # alpha0: share of the rated high-side charge at which no subcooling is left
_HIGH_SIDE = 0.73  # X_hs: share of the rated charge in the high side


def charge_deviation(
    subcooling: float | None,
    rated_subcooling: float | None,
    superheat: float | None,
    target_superheat: float | None,
) -> float | None:
    """Charge over (+) or under (-) rated, as a fraction of rated: the virtual charge sensor.

    (1/k) · [(SC - SC rated) - (SH - SH rated)/2.5], k = SC rated / ((1 - 0.75) · 0.73), temperatures in K. Formula and
    its default constants from memory (kim-braun-charge-sensor); its accuracy, within 10 % of charge, read. Holds only
    once low airflow, restriction and non-condensables are ruled out. Rated subcooling 10 °F: 0.55 °F for each 1 %.
    Nothing clips it: far from rated charge (beyond about ±30 %, our judgement) it only shows the direction. None where
    an input is missing or rated subcooling is not above 0.
    """
    if subcooling is None or rated_subcooling is None or superheat is None or target_superheat is None:
        return None
    if not rated_subcooling > 0:
        return None
    slope = rated_subcooling / ((1 - _EMPTY_CHARGE) * _HIGH_SIDE)
    excess = (subcooling - rated_subcooling) - _SUPERHEAT_WEIGHT * (superheat - target_superheat)
    fraction = excess / slope
    return fraction if math.isfinite(fraction) else None
