"""The head of a log: which column is which reading, machine fact or switch, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.units import UnitError
from diagnose.units.spelling import BY_SPELLING, find, key_of
from diagnose.units.table import Unit
from diagnose.visit.fields import DEFROSTED, MACHINE, MINUTES, READINGS, WORDS
from diagnose.visit.trade_words import meant, misspelt, which
from diagnose.yamlfile import Problem, printable

ColumnPart = Literal["time", "date", "readings", "machine", "switch"]
RUNS, DEFROSTS = "running", "defrost"
"""Switches: whether the compressor runs, whether the machine defrosts."""

_HEAD = re.compile(r"\s*(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*)\))?\s*", re.S)
_TIMES = frozenset(
    {"time", "timestamp", "time stamp", "date time", "datetime", "date/time", "date and time", "date & time", "time of day",
     "local time", "elapsed", "elapsed time", "time elapsed", "recorded at", "logged at", "seconds", "minutes", "hours"}
)  # fmt: skip
_COUNTS = {"seconds": "s", "minutes": "min", "hours": "h"}
_SWITCHES = {
    "running": RUNS, "compressor running": RUNS, "compressor on": RUNS, "compressor status": RUNS, "compressor state": RUNS,
    "run status": RUNS, "contactor": RUNS, "defrost": DEFROSTS, "defrosting": DEFROSTS, "defrost on": DEFROSTS,
    "defrost status": DEFROSTS, "in defrost": DEFROSTS,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column. place: from 0; name: as the visit file calls it; unit: of its figures, None where it holds words or each cell
    has its own."""

    place: int
    part: ColumnPart
    name: str
    unit: Unit | None = None


@dataclass(frozen=True, slots=True)
class Head:
    """What a head says. unused: names that are none of a visit's, each with what may be meant by it."""

    columns: tuple[LogColumn, ...]
    unused: tuple[tuple[str, str], ...]
    problems: tuple[Problem, ...]

    @property
    def usable(self) -> bool:
        """Whether this is a head at all: it names a time and a reading."""
        parts = {column.part for column in self.columns}
        return "time" in parts and ("readings" in parts or bool(self.problems))

    def names(self, part: ColumnPart) -> Iterator[str]:
        """Of the columns of one part."""
        return (column.name for column in self.columns if column.part == part)


def head_of(cells: Sequence[str], file: str, line: int) -> Head:
    """What the cells of a row say, taken as a head."""
    columns: list[LogColumn] = []
    unused: list[tuple[str, str]] = []
    problems: list[Problem] = []
    taken: dict[str, str] = {}
    for place, cell in enumerate(cells):
        if not cell.strip():
            continue
        found, what, fix = _column(place, cell)
        if what:
            problems.append(told(file, line, place, what, fix))
        if found is None:
            if not what:
                unused.append((printable(cell.strip()), fix))
            continue
        key = f"{found.part}: {found.name}"
        if key in taken:
            what = f"{_quoted(taken[key])} and {_quoted(cell)} are the same column"
            problems.append(told(file, line, place, what, "Keep one of them: rename or delete the other."))
            continue
        taken[key] = cell
        columns.append(found)
    if any(column.part == "date" for column in columns) and not any(column.part == "time" for column in columns):
        columns = [
            LogColumn(column.place, "time", "time", column.unit) if column.part == "date" else column
            for column in columns
        ]
    return Head(tuple(columns), tuple(unused), tuple(problems))


def told(file: str, line: int, place: int, what: str, fix: str) -> Problem:
    """A problem with a cell: file, row and column."""
    return Problem(file, line, 0, f"column {place + 1}: {what}", fix) if line else Problem(file, 0, 0, what, fix)


def _quoted(cell: str) -> str:
    return f"`{printable(' '.join(cell.split()), 40)}`"


def _column(place: int, cell: str) -> tuple[LogColumn | None, str, str]:
    """The column, or what is wrong and how to mend it; neither where the name is none of a visit's."""
    match = _HEAD.fullmatch(cell.lstrip("\ufeff"))
    assert match is not None
    name = " ".join(match[1].replace("_", " ").split())
    unit = match[2] if match[2] is not None else match[3]
    lower = name.lower().rstrip(":")
    if lower in _TIMES:
        counted = BY_SPELLING["time"].get(key_of(unit or _COUNTS.get(lower, "-")))
        return LogColumn(place, "time", "time", counted), "", ""
    if lower == "date":
        return LogColumn(place, "date", "date"), "", ""
    if lower in _SWITCHES and unit is None:
        return LogColumn(place, "switch", _SWITCHES[lower]), "", ""
    if lower in ("machine", "machine name"):
        return LogColumn(place, "machine", "name"), "", ""
    return _of_a_visit(place, cell, name, unit)


def _of_a_visit(place: int, cell: str, name: str, unit: str | None) -> tuple[LogColumn | None, str, str]:
    readings = tuple(one for one in meant("readings", name) if one not in (MINUTES, DEFROSTED))
    if len(readings) > 1:
        return None, f"{_quoted(cell)} can mean two things", which(readings, "readings")
    if readings:
        kind, example = READINGS[readings[0]].kind, READINGS[readings[0]].examples[0]
        if unit is None:  # each cell must have its own
            return LogColumn(place, "readings", readings[0]), "", ""
        try:
            found = find(unit, kind, "")
        except UnitError as error:
            return None, f"{_quoted(cell)}: {error.what}", _with_example(readings[0], example)
        if found.ask or not unit.strip():
            fix = f"Write {' or '.join(f'`{readings[0]} [{each}]`' for each in found.ask.split(','))}."
            return None, f"{_quoted(cell)}: its unit can mean two things", fix
        return LogColumn(place, "readings", readings[0], found), "", ""
    facts = tuple(one for one in meant("machine", name) if one in MACHINE or one in WORDS)
    if len(facts) == 1:
        of = BY_SPELLING[MACHINE[facts[0]].kind].get(key_of(unit)) if unit and facts[0] in MACHINE else None
        if unit and of is None:
            return None, f"{_quoted(cell)}: `{printable(unit, 20)}` is not its unit", "Look at the unit in brackets."
        return LogColumn(place, "machine", facts[0], of), "", ""
    return None, "", misspelt(name, READINGS)


def _with_example(name: str, example: str) -> str:
    return f"Write the unit in brackets, for example `{name} [{example.split(' ', 1)[-1]}]`."
