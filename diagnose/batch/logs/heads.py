"""The head of a log: columns as in a table of visits (`batch/headers.py`), and those only a log has: time and switches."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.batch.headers import layout_of
from diagnose.rulebook import Rulebook
from diagnose.units import parse
from diagnose.units.spelling import BY_SPELLING, find, key_of
from diagnose.units.table import Unit
from diagnose.visit.fields import DEFROSTED, MINUTES, Field
from diagnose.yamlfile import Problem, printable

ColumnPart = Literal["time", "date", "readings", "machine", "switch"]
RUNS, DEFROSTS = "running", "defrost"
"""Switches: whether the compressor runs, whether the machine defrosts."""

_HEAD = re.compile(r"\s*(.*?)[\s:]*(?:[\[(]([^\[\]()]*)[\])])?\s*", re.S)
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
    """One column. place: from 0; name: as the visit file calls it; unit: of its figures, or None; field: of a reading."""

    place: int
    part: ColumnPart
    name: str
    unit: Unit | None = None
    field: Field | None = None


@dataclass(frozen=True, slots=True)
class Head:
    """What a head says. unused: names that are none of a log's, each with what may be meant by it. left_out: what is wrong with
    columns that name a reading or a fact and cannot be used.
    """

    columns: tuple[LogColumn, ...]
    unused: tuple[tuple[str, str], ...]
    left_out: tuple[Problem, ...]

    @property
    def usable(self) -> bool:
        """Whether this is a head at all: it names a time, and a reading or what is meant for one."""
        return any(self.names("time")) and (any(self.names("readings")) or bool(self.left_out))

    @property
    def with_unit(self) -> int:
        """How many readings have a unit."""
        return sum(column.part == "readings" and column.unit is not None for column in self.columns)

    def names(self, part: ColumnPart) -> Iterator[str]:
        """Of the columns of one part."""
        return (column.name for column in self.columns if column.part == part)


def head_of(cells: Sequence[str], file: str, line: int, book: Rulebook) -> Head:
    """What the cells of a row say, taken as a head."""
    found = {place: column for place, cell in enumerate(cells) if (column := _of_a_log(place, cell)) is not None}
    if not any(column.part == "time" for column in found.values()):
        found |= {place: LogColumn(place, "time", "time") for place, column in found.items() if column.part == "date"}
    twice = [a for a in found.values() if any(b.name == a.name and b.place < a.place for b in found.values())]
    left_out = [
        told(file, line, one.place, f"there are two columns `{one.name}`", "Keep one of them.") for one in twice
    ]
    layout = layout_of(["" if place in found else cell.replace("_", " ") for place, cell in enumerate(cells)], book)
    left_out += [told(file, line, each.place, each.what, each.fix) for each in layout.left_out]
    used = {one.place for one in layout.left_out} | set(found)
    columns = [column for column in found.values() if column not in twice]
    for one in layout.columns:
        if one.part in ("readings", "machine") and one.name not in (MINUTES, DEFROSTED):
            kind = one.field.kind if one.field is not None and one.unit else None
            unit = (
                find(parse(f"50 {one.unit}", kind).unit, kind, "") if kind is not None else None
            )  # it was looked at there
            columns.append(
                LogColumn(one.place, "readings" if one.part == "readings" else "machine", one.name, unit, one.field)
            )
            used.add(one.place)
    hints = layout.hints or {}
    unused = [(printable(" ".join(cell.split())), hints.get(i, "")) for i, cell in enumerate(cells) if i not in used]
    return Head(tuple(columns), tuple(pair for pair in unused if pair[0]), tuple(left_out))


def told(file: str, line: int, place: int, what: str, fix: str) -> Problem:
    """A problem with a cell: file, row and column."""
    return Problem(file, line, 0, f"column {place + 1}: {what}", fix)


def names_a_time(header: str) -> bool:
    """Whether a column of that head is the time of a log."""
    found = _of_a_log(0, header)
    return found is not None and found.part == "time"


def _of_a_log(place: int, cell: str) -> LogColumn | None:
    match = _HEAD.fullmatch(cell.lstrip("\ufeff").replace("_", " "))
    assert match is not None  # the name may be anything
    name, unit = " ".join(match[1].lower().split()), match[2]
    if name.partition(",")[0] in _TIMES:  # `Time, GMT-05:00`
        return LogColumn(place, "time", "time", BY_SPELLING["time"].get(key_of(unit or _COUNTS.get(name, "-"))))
    if name == "date":
        return LogColumn(place, "date", "date")
    return LogColumn(place, "switch", _SWITCHES[name]) if name in _SWITCHES and unit is None else None
