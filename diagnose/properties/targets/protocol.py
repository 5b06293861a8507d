"""The two tables of the protocol for charging in the field: target superheat and temperature split."""

import math
from functools import lru_cache
from typing import Literal, NamedTuple

from diagnose.properties.targets.expected import (
    FADING,
    HAIR,
    ORIGINS,
    REASONS,
    F,
    NoTarget,
    Target,
    fahrenheit,
    tables,
    usable,
)
from diagnose.properties.targets.typical import typical_temperature_split
from diagnose.units.columns import absent, choose, clamp, greater, hypot, is_column, lesser

MINIMUM_TARGET_SUPERHEAT = 5 * F
"""Below this target (2.78 K) the superheat test is not valid; source ra3-2008, page RA3-14, read."""


class _Table(NamedTuple):
    """A 1 °F grid, blank cells filled, and which cells were blank. least: the lowest value it can have, °F."""

    of: Literal["superheat", "temperature split"]
    dry_name: str
    least: float
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
        y = clamp(dry_bulb - self.first_dry_bulb, 0.0, len(self.cells) - 1.0)
        x = clamp(wet_bulb - self.first_wet_bulb, 0.0, len(self.cells[0]) - 1.0)
        if is_column(y):
            from diagnose.properties.targets import columnwise

            return columnwise.between_cells(self, y, x)
        i = min(int(y), len(self.cells) - 2)
        j = min(int(x), len(self.cells[0]) - 2)
        weights = corners(i, j, y - i, x - j)
        value = sum(w * self.cells[r][c] for r, c, w in weights)
        return value, sum(w for r, c, w in weights if self.blank[r][c])


def corners(i: int, j: int, v: float, u: float) -> tuple[tuple[int, int, float], ...]:
    """The four cells about a point, each with its weight; v, u: how far from the first to the second, 0 to 1."""
    return ((i, j, (1 - v) * (1 - u)), (i, j + 1, (1 - v) * u), (i + 1, j, v * (1 - u)), (i + 1, j + 1, v * u))


@lru_cache(maxsize=2)
def _table(name: Literal["target_superheat", "temperature_split"]) -> _Table:
    """Table with each blank filled from the plane through its three known neighbors; of superheat none above 4.9 °F,
    because a blank cell says below 5 °F, to one decimal.

    Blank corners lie at low wet bulb and high dry bulb, so they are filled dry bulb upward, wet bulb downward. In a
    cell with one blank corner this is the plane through the other three, and everything stays continuous.
    """
    section = tables()[name]
    superheat = name == "target_superheat"
    ceiling = 4.9 if superheat else math.inf
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
    what: tuple[Literal["superheat", "temperature split"], str, float] = (
        ("superheat", "outdoor air", 5.0) if superheat else ("temperature split", "return air dry bulb", 0.0)
    )
    return _Table(*what, section["first_dry_bulb"], section["first_wet_bulb"], cells, blank, section["source"])


# K of spread for each °F beyond the edge of a table; the tables change by 1 to 2 °F (0.6 to 1.1 K) a °F. Judgement.
_SPREAD_BEYOND = 0.5


def _at_edge(table: _Table, dry_bulb: float, wet_bulb: float) -> Target:
    """What the table says at its nearest edge; the split goes on along the dry bulb as its last two rows do, 0.6 °F a °F.

    Sound simulated machines go on by 0.9 °F a °F up to 96 °F, and stopping at the edge made a hot house look like low airflow.
    """
    dry = clamp(dry_bulb, table.first_dry_bulb, table.last_dry_bulb)
    wet = clamp(wet_bulb, table.first_wet_bulb, table.last_wet_bulb)
    beyond = hypot(dry - dry_bulb, wet - wet_bulb)
    value, _ = table.at(dry, wet)
    if table.of == "temperature split":
        before, _ = table.at(clamp(dry_bulb, table.first_dry_bulb + 1.0, table.last_dry_bulb - 1.0), wet)
        value = value + (value - before) * abs(dry - dry_bulb)
    return Target(greater(value, table.least) * F, 0.3 + _SPREAD_BEYOND * beyond, table.source, "typical")


def _outside(table: _Table, dry_bulb: float, wet_bulb: float) -> NoTarget | None:
    ends = {
        name: (_kelvin(value), _kelvin(low), _kelvin(high))
        for name, value, low, high in (
            (table.dry_name, dry_bulb, table.first_dry_bulb, table.last_dry_bulb),
            ("return air wet bulb", wet_bulb, table.first_wet_bulb, table.last_wet_bulb),
        )
        if not low - HAIR <= value <= high + HAIR
    }
    return NoTarget("outside", table.of, _at_edge(table, dry_bulb, wet_bulb), outside=ends) if ends else None


def _near_edge(table: _Table, dry_bulb: float, wet_bulb: float) -> tuple[float, NoTarget | None]:
    """How far inside the ends of the table a point stands, 0 to 1, and what is said beyond the nearest end."""
    ends = (
        (dry_bulb - table.first_dry_bulb, (table.first_dry_bulb - 1.0, wet_bulb)),
        (table.last_dry_bulb - dry_bulb, (table.last_dry_bulb + 1.0, wet_bulb)),
        (wet_bulb - table.first_wet_bulb, (dry_bulb, table.first_wet_bulb - 1.0)),
        (table.last_wet_bulb - wet_bulb, (dry_bulb, table.last_wet_bulb + 1.0)),
    )
    distance, (dry, wet) = min(ends)
    inside = max(0.0, min(1.0, distance / FADING))
    beyond = None if inside >= 1.0 else _outside(table, dry, wet)
    if beyond is not None:  # its nearest edge is where the reading stands
        read = {table.dry_name: _kelvin(dry_bulb), "return air wet bulb": _kelvin(wet_bulb)}
        ends_at = {name: (read[name], first, last) for name, (_, first, last) in beyond.outside.items()}
        beyond = beyond._replace(nearest=_at_edge(table, dry_bulb, wet_bulb), outside=ends_at)
    return inside, beyond


def _found(table: _Table, dry: float, wet: float, value: float, blank: NoTarget, off_blank: float) -> Target:
    """A figure of the table, °F. off_blank: how far it stands from the blank part, 0 to 1, of which `blank` would be said."""
    inside, beyond = _near_edge(table, dry, wet)
    if off_blank < inside:  # the blank part is nearer than the ends
        inside, beyond = off_blank, blank
    return Target(value * F, 0.3, table.source, "protocol", inside, beyond)


def _found_in_columns(
    table: _Table, dry: float, wet: float, value: float, edge: Target, blank: bool, off_blank: float
) -> Target:
    """The same of columns, found or not. edge: what stands for a blank; blank: where the table is."""
    in_dry = lesser(dry - table.first_dry_bulb, table.last_dry_bulb - dry)
    distance = lesser(in_dry, lesser(wet - table.first_wet_bulb, table.last_wet_bulb - wet))
    inside = clamp(distance / FADING, 0.0, 1.0)
    missing, outside = ~usable(distance), distance < -HAIR
    by_blank = ~outside & (blank | (off_blank < inside))
    at_edge = _at_edge(table, dry, wet)
    nearest = Target(
        choose(by_blank, edge.value, at_edge.value),
        choose(by_blank, edge.spread, at_edge.spread),
        table.source,
        "typical",
    )
    why = choose(missing, REASONS.index("missing"), choose(by_blank, REASONS.index("blank"), REASONS.index("outside")))
    none = missing | outside | blank
    inside = choose(none, 0.0, lesser(inside, off_blank))
    beyond = NoTarget(why, table.of, nearest)
    return Target(choose(none, None, value * F), 0.3, table.source, "protocol", inside, beyond)


def or_typical(found: Target) -> Target:
    """Of columns of the temperature split: where the table has none, its nearest edge, else what is typical anywhere."""
    usual, said = typical_temperature_split(), found.beyond
    assert isinstance(said, NoTarget)
    assert said.nearest is not None
    none, edge = ~usable(found.value), usable(said.nearest.value)
    value, spread = choose(edge, said.nearest.value, usual.value), choose(edge, said.nearest.spread, usual.spread)
    unmeasured = choose(edge, ORIGINS.index("typical"), ORIGINS.index(usual.origin))
    origin = choose(none, unmeasured, ORIGINS.index("protocol"))
    return Target(
        choose(none, value, found.value),
        choose(none, spread, found.spread),
        found.source,
        origin,
        choose(none, 1.0, found.inside),
        said.nearest,
    )


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit + 459.67) * F


def _missing(of: Literal["superheat", "temperature split"], **readings: float | None) -> NoTarget:
    names = tuple(name.replace("_", " ") for name, value in readings.items() if absent(value))
    return NoTarget("missing", of, readings=names)


def target_superheat(outdoor: float | None, wet_bulb: float | None) -> Target | NoTarget:
    """Target superheat (K) of a fixed orifice, at the suction service valve.

    `outdoor` is the dry bulb entering the condenser, `wet_bulb` that of the return air, K. Bilinear in the 1 °F table
    RA3.2-2, from memory; 55-115 °F by 50-76 °F. Blank (target below 5 °F) gives `NoTarget("blank")`: toward a blank
    corner the plane through the three known corners goes on until it passes below 5 °F. Spread 0.3 K: against the
    integer chart printed by three makers (source maker-charging-charts, read) the table is off by 0.38 °F rms, 1.0 °F
    at worst.
    """
    if outdoor is None or wet_bulb is None:
        return _missing("superheat", outdoor_air_temperature=outdoor, return_air_wet_bulb=wet_bulb)
    table = _table("target_superheat")
    dry, wet = fahrenheit(outdoor), fahrenheit(wet_bulb)
    columns = is_column(dry + wet)
    if not columns and not (usable(outdoor) and usable(wet_bulb)):
        return _missing("superheat", outdoor_air_temperature=outdoor, return_air_wet_bulb=wet_bulb)
    outside = None if columns else _outside(table, dry, wet)
    if outside is not None:
        return outside
    value, _ = table.at(dry, wet)
    edge = Target(greater(value * F, MINIMUM_TARGET_SUPERHEAT), 0.8, table.source, "typical")
    off_blank = (value - 5) / FADING
    if columns:
        return _found_in_columns(table, dry, wet, value, edge, value < 5, off_blank)
    blank = NoTarget("blank", "superheat", edge, at=(outdoor, wet_bulb))
    return blank if value < 5 else _found(table, dry, wet, value, blank, off_blank)


class Cells(NamedTuple):
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


def neighbors(
    table: Literal["target_superheat", "temperature_split"], dry_bulb: float, wet_bulb: float
) -> Cells | None:
    """The cells between which `target_superheat` or `target_temperature_split` reads at these temperatures (K).

    None outside the table.
    """
    found = _table(table)
    y, x = fahrenheit(dry_bulb) - found.first_dry_bulb, fahrenheit(wet_bulb) - found.first_wet_bulb
    rows, columns = len(found.cells) - 1, len(found.cells[0]) - 1
    if not (-HAIR <= y <= rows + HAIR and -HAIR <= x <= columns + HAIR):
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
    return (3 * fahrenheit(wet_bulb) - 80 - fahrenheit(outdoor)) / 2 * F


def target_temperature_split(return_dry_bulb: float | None, return_wet_bulb: float | None) -> Target | NoTarget:
    """Target of return air minus supply air dry bulb, K; cooling, after 15 minutes, with adequate airflow.

    Bilinear in the 1 °F table RA3.2-3, from memory; return air 70-84 °F by 50-76 °F wet bulb. The table is blank for
    dry air; a cell with blank corners is answered (on the plane through the known ones) while the known corners carry
    at least half of the weight. Wet bulb above dry bulb is not refused here, though no air is like that. Spread 0.3 K,
    our judgement: one decimal, and a fit of rounding noise only.
    """
    if return_dry_bulb is None or return_wet_bulb is None:
        return _missing("temperature split", return_air_dry_bulb=return_dry_bulb, return_air_wet_bulb=return_wet_bulb)
    table = _table("temperature_split")
    dry, wet = fahrenheit(return_dry_bulb), fahrenheit(return_wet_bulb)
    columns = is_column(dry + wet)
    if not columns and not (usable(return_dry_bulb) and usable(return_wet_bulb)):
        return _missing("temperature split", return_air_dry_bulb=return_dry_bulb, return_air_wet_bulb=return_wet_bulb)
    outside = None if columns else _outside(table, dry, wet)
    if outside is not None:
        return outside
    value, empty = table.at(dry, wet)
    edge = Target(value * F, 0.3 + _SPREAD_BEYOND * empty, table.source, "typical")
    if columns:
        return _found_in_columns(table, dry, wet, value, edge, empty > 0.5, 1.0 - 2 * empty)
    blank = NoTarget("blank", "temperature split", edge, at=(return_dry_bulb, return_wet_bulb))
    return blank if empty > 0.5 else _found(table, dry, wet, value, blank, 1.0 - 2 * empty)
