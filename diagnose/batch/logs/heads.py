"""The rows of a log file: its bytes as text, what stands between the cells, every row that holds any; and its head: columns as
in a table of visits (`batch/headers.py`), and those only a log has: time and switches."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from diagnose.batch.headers import layout_of
from diagnose.rulebook import Rulebook
from diagnose.units import parse
from diagnose.units.spelling import BY_SPELLING, find, key_of
from diagnose.units.table import Unit
from diagnose.visit.fields import DEFROSTED, MINUTES, Field
from diagnose.visit.reason import Reason
from diagnose.yamlfile import InputProblems, Problem, printable
from diagnose.yamlfile.content import bytes_of, name_of
from diagnose.yamlfile.files import YAML_ENDINGS

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


# -- the rows ---------------------------------------------------------------------------------------------------------

LARGEST = 64_000_000  # bytes: a week of records each second; 25 times as much is needed in memory
MOST_COLUMNS = 2000
LONGEST_ROW = 100_000  # characters
PREAMBLE = 60  # lines of a logger's own before the head


def content_of(path: str) -> tuple[bytes, str]:
    """The bytes of a log file (`-`: standard input), and its name in messages. Raises InputProblems."""
    return bytes_of(path, LARGEST), name_of(path)


def machine_beside(path: str) -> str | None:
    """The visit file that says what the machine of a log is: of the same name, beside it."""
    found = (Path(path).with_suffix(ending) for ending in YAML_ENDINGS)
    return next((str(each) for each in found if each.is_file()), None)


def decoded(content: bytes, name: str) -> tuple[str, list[Reason]]:
    """The text, and what is odd about it. Raises InputProblems."""
    if len(content) > LARGEST:
        raise bad(name, 0, f"the log is larger than {LARGEST // 1_000_000} MB", "Split it by days.")
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", "replace"), []
    if b"\0" in content[:4096]:
        raise bad(name, 0, "this is no text: it holds bytes that no log has", "Export the log as CSV, in UTF-8.")
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace"), [Reason("log-not-utf-8")]


def bad(name: str, line: int, what: str, fix: str) -> InputProblems:
    """One problem with the log."""
    return InputProblems([Problem(name, line, 0, what, fix)])


def delimiter_of(text: str, name: str, book: Rulebook) -> str:
    """The sign between the cells: the one by which a line at the beginning names most columns."""
    beginning = [line for line in text[:200_000].splitlines()[: PREAMBLE + 5] if len(line) <= LONGEST_ROW]

    def named(sign: str) -> int:
        tried = (cells for line in beginning if len(cells := cells_of(line, sign)) > 1 and not has_figures(cells))
        return max((len(head_of(cells[:MOST_COLUMNS], name, 0, book).columns) for cells in tried), default=0)

    return max(",;\t|", key=named)


def rows_of(text: str, name: str, delimiter: str, notes: list[Reason]) -> Iterator[tuple[int, list[str]]]:
    """Every row that is not empty, with its line."""
    for number, line in enumerate(io.StringIO(text, None), 1):
        if len(line) > LONGEST_ROW:
            notes.append(Reason("log-long-row", {"line": number}))
            continue
        cells = cells_of(line.rstrip("\r\n"), delimiter)
        if len(cells) > MOST_COLUMNS:
            what = f"this row has {len(cells):,} columns, more than {MOST_COLUMNS:,}"
            raise bad(name, number, what, "Export only the columns of one machine.")
        if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
            yield number, cells


def cells_of(line: str, delimiter: str) -> list[str]:
    """A row's cells; each row by itself, so that a quotation mark that is never closed spoils one row and not the log."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def has_figures(cells: Sequence[str]) -> bool:
    """Whether a row holds figures: a head does not."""
    return any(cell.strip()[:1] in "+-.0123456789" for cell in cells[1:] if cell.strip())
