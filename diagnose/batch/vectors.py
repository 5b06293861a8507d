"""A table's rows as columns of figures for the evaluator: all that are plain figures and known words, at once.

Whatever asks for more (a unit in a cell, a fraction, a baseline, a figure that cannot be, two facts to be held against each
other) makes its row one that is read by itself, by the reader of visit files; so every row is read as there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from diagnose.batch import arrow
from diagnose.batch.headers import Column, Layout, value_in
from diagnose.rulebook import Rulebook
from diagnose.units.reading import LARGEST
from diagnose.units.spelling import find
from diagnose.units.table import UNITS, Unit
from diagnose.visit import DEFROSTED, MINUTES, VisitError, visit_from
from diagnose.visit.fields import PLATE_HOLDS, THIS_DAY, Field
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.sheet import LEAST_ASKED, MOST_ASKED, PLATE_DEGREES

FigureCells = np.ndarray
WordCells = tuple[np.ndarray, tuple[str, ...]]
_IN_HEATING = ("vapour line temperature", "vapour line pressure")
_ONE_BY_ONE = ("SEER2", *THIS_DAY, *_IN_HEATING)
"""Lines that change how others are read."""


@dataclass(frozen=True, slots=True)
class Vectors:
    """rows: which rows these are, by their place in the table. columns: by the name of the line, SI (a pressure above the air
    unless `absolute` has its name), NaN for a gap; words as codes into a list. units: as each reading was written. as_gauge:
    which of these rows have a pressure whose mark was left out.
    """

    rows: np.ndarray
    columns: Mapping[str, FigureCells | WordCells]
    units: Mapping[str, str]
    absolute: frozenset[str]
    as_gauge: np.ndarray


@dataclass(slots=True)
class _Gathering:
    count: int
    apart: np.ndarray
    as_gauge: np.ndarray
    columns: dict[str, FigureCells | WordCells] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    absolute: set[str] = field(default_factory=set)


def vectors_of(table: arrow.ArrowTable, layout: Layout, book: Rulebook, apart: np.ndarray) -> Vectors:
    """The rows that can be taken together. apart: rows that are not, whatever they hold."""
    g = _Gathering(table.num_rows, apart.copy(), np.zeros(table.num_rows, bool))
    for column in layout.columns:
        if column.part == "seen":
            _seen(g, table, column, book)
        elif column.part == "machine" and column.field is None:
            _machine_word(g, table, column, book)
        elif column.part in ("machine", "readings") and column.field is not None:
            _figures(g, table, column, column.field)
        else:
            g.apart |= _said(table, column)
    _held_against_each_other(g)
    rows = np.flatnonzero(~g.apart & bool(g.columns))
    taken: dict[str, FigureCells | WordCells] = {}
    for name, values in g.columns.items():
        taken[name] = (values[0][rows], values[1]) if isinstance(values, tuple) else values[rows]
    return Vectors(rows, taken, g.units, frozenset(g.absolute), g.as_gauge[rows])


def _said(table: arrow.ArrowTable, column: Column) -> np.ndarray:
    """Which cells of a column hold anything."""
    codes, words = arrow.words_in(table, column.place)
    empty = np.array([value_in(word, column) is None for word in words] + [True])  # the last one is that of no cell
    return np.asarray(~empty[codes])


def _figures(g: _Gathering, table: arrow.ArrowTable, column: Column, one: Field) -> None:
    figures, odd = arrow.figures_in(table, column.place)
    g.apart |= odd
    unit = _unit_of(column, one)
    said = ~np.isnan(figures)
    pressure = one.kind == "pressure"
    if unit is None or column.name in _ONE_BY_ONE or (pressure and column.part == "machine"):
        g.apart |= said
        return
    if "discharge" in column.word.lower() and column.name == "liquid pressure":
        g.apart |= said
        return
    with np.errstate(over="ignore", invalid="ignore"):
        si = (figures + unit.offset) * unit.scale
        gauge = unit.gauge or unit.note
        held = si - 101325.0 if pressure and not gauge else si
        inside = (held >= one.low) & (held <= one.high) & (np.abs(figures) <= LARGEST)
        if pressure and not gauge:
            inside &= si >= 0
        if one.kind == "temperature":
            inside &= si >= 0
        if one.name in PLATE_DEGREES:  # the reader of visit files knows whether it asks in which degrees it was meant
            inside &= (si >= LEAST_ASKED) & (si <= MOST_ASKED)
    g.apart |= said & ~inside
    si = np.where(inside, si, np.nan)
    if column.name in (MINUTES, DEFROSTED):
        si = si / 60.0  # minutes, as a round has them
    g.columns[column.name] = si
    if column.part == "readings" and column.name not in (MINUTES, DEFROSTED):
        g.units[column.name] = _marked(unit)
    if pressure and not gauge:
        g.absolute.add(column.name)
    if unit.note:
        g.as_gauge |= said & inside


def _unit_of(column: Column, one: Field) -> Unit | None:
    """The unit of each bare figure; None where a figure alone does not say enough."""
    if not column.unit:
        return UNITS[one.kind][0] if one.kind in ("number", "time") else None
    unit = find(column.unit, one.kind, "")
    of_vacuum = unit.scale < 0 or unit.name in ("micron", "torr") or unit.name.endswith("vacuum")
    return None if unit.ask or of_vacuum else unit


def _marked(unit: Unit) -> str:
    """As a reading says it was written."""
    if not unit.note:
        return unit.name
    return "psig" if unit.name == "psi" else f"{unit.name} gauge"


def _machine_word(g: _Gathering, table: arrow.ArrowTable, column: Column, book: Rulebook) -> None:
    codes, words = arrow.words_in(table, column.place)
    own = any(one.name == column.name for one in book.own.words)
    values = [value_in(word, column) for word in words]
    known = [_told(column.name, value, book.own) if own else _canonical(column.name, value) for value in values]
    bad = np.array([one is None for one in known] + [False])
    g.apart |= bad[codes]
    for line in dict.fromkeys(line for one in known if one for line, _ in one):
        if line == "name":
            continue  # nothing is judged by it
        told = tuple(dict.fromkeys(word for one in known if one for name, word in one if name == line))
        place = [next((told.index(word) for name, word in one or () if name == line), -1) for one in known]
        g.columns[line] = (np.array([*place, -1])[codes], told)


@lru_cache(maxsize=4096)
def _canonical(name: str, value: object) -> tuple[tuple[str, str], ...] | None:
    """The same, kept: of the lines that every book knows."""
    return _told(name, value, NOTHING_OWN)


def _told(name: str, value: object, own: Own) -> tuple[tuple[str, str], ...] | None:
    """What a machine word says, by the reader of visit files; None where it is not known."""
    if value is None:
        return ()
    try:
        machine = visit_from({"machine": {name: value}}, own=own).machine
    except VisitError:
        return None
    said = [
        ("name", machine.name if name == "name" else None),
        ("mode", machine.mode),
        ("refrigerant", machine.refrigerant.name if machine.refrigerant else None),
        ("metering", machine.metering),
        *machine.words.items(),
    ]
    return tuple((line, word) for line, word in said if word)


def _seen(g: _Gathering, table: arrow.ArrowTable, column: Column, book: Rulebook) -> None:
    codes, cells = arrow.words_in(table, column.place)
    words = book.seen[column.name].words
    told = [value_in(cell, column) for cell in cells]
    folded = [" ".join(word.split()).lower() if isinstance(word, str) else word for word in told]
    bad = np.array([word is not None and word not in words for word in folded] + [False])
    g.apart |= bad[codes]
    place = [words.index(word) if word in words else -1 for word in folded]
    g.columns[f"seen: {column.name}"] = (np.array([*place, -1])[codes], tuple(words))


def _held_against_each_other(g: _Gathering) -> None:
    """Facts that contradict each other are told by the reader of visit files."""

    def there(name: str) -> np.ndarray:
        values = g.columns.get(name)
        if values is None:
            return np.zeros(g.count, bool)
        return values[0] >= 0 if isinstance(values, tuple) else ~np.isnan(values)

    g.apart |= there("altitude") & there("station pressure")
    g.apart |= there("compressor") & there("running at")
    if {"factory charge", "nominal capacity"} <= g.columns.keys():
        with np.errstate(divide="ignore", invalid="ignore"):
            held = np.asarray(g.columns["factory charge"]) / np.asarray(g.columns["nominal capacity"])
        g.apart |= (held < PLATE_HOLDS[0]) | (held > PLATE_HOLDS[1])
