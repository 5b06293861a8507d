"""The table that `diagnose batch` wrote, row by row: CSV, or Parquet (which needs pyarrow)."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from diagnose.diagnosis.story import FOLLOWED
from diagnose.properties.targets import F
from diagnose.quantities import STEPS
from diagnose.visit import COOLING, HEATING, machine_key
from diagnose.yamlfile import InputProblems, printable, refusal
from diagnose.yamlfile.content import unreadable

NEEDED = ("status", "fault", "share", "charge verdict")
SHARE = "share: "
_UNITS = {"K": (1.0, 0.0), "C": (1.0, 273.15), "F": (F, 459.67)}
"""K of one, and what is added before: the table is in SI or in US units."""
_OUTDOOR = (("condensing temperature", "condensing over ambient", -1.0),
            ("evaporating temperature", "outdoor coil below outdoor air", 1.0))  # fmt: skip
"""A temperature and how far it lies from the outdoor air, which itself is no column: in cooling, in heating."""
_HEATS = frozenset(step.name for step in STEPS if step.mode == HEATING) - {s.name for s in STEPS if s.mode != HEATING}
"""Figures that only a heating machine has: the mode itself is no column."""
_TIME = re.compile(r"[ T](\d{1,2}:\d{2})")
_FORMULA = re.compile(r"'+(?=[=+\-@\t\r])")  # what stands before a text that a spreadsheet would take for a formula


@dataclass(frozen=True, slots=True)
class FleetVisit:
    """One row. machine: its name, or the row's own number; day, time: ISO, empty where there is none. shares: fault -> 0 to 1,
    of all faults where the table has them, else of the first. quantities: (value, limit of error), K. estimate: percent of
    the charge.
    """

    row: int
    machine: str
    day: str
    kind: str
    refrigerant: str
    mode: str
    metering: str
    status: str
    fault: str
    share: float
    second: str
    verdict: str
    check: str
    estimate: tuple[float, float] | None
    dangers: tuple[str, ...]
    problems: tuple[str, ...]
    shares: Mapping[str, float]
    outdoor: float | None = None
    quantities: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    time: str = ""

    @property
    def key(self) -> str:
        """By which the machine is known, as in a store."""
        return machine_key(self.machine)

    @property
    def order(self) -> tuple[str, str, int]:
        """Among the visits of a machine."""
        return self.day, self.time, self.row

    @property
    def judged(self) -> bool:
        """Whether faults were ranked."""
        return self.status == "diagnosed" and bool(self.shares)


@dataclass(frozen=True, slots=True)
class FleetTable:
    """The rows; whether they hold the share of every fault; how many rows lack a name, or a date that can be read, and in how
    many a share is none.
    """

    name: str
    visits: tuple[FleetVisit, ...]
    all_shares: bool
    unnamed: int
    undated: int
    odd: int


def read_table(path: Path) -> FleetTable:
    """Raises InputProblems where it is no such table."""
    name = printable(str(path), 4096)
    try:
        with path.open("rb") as file:
            start = file.read(4)
        rows = _parquet(path, name) if start == b"PAR1" else _texts(path, name)
        return _table(name, rows)
    except (OSError, ValueError) as error:
        if isinstance(error, InputProblems):
            raise
        if isinstance(error, UnicodeDecodeError):
            raise refusal("this table is not UTF-8", "Write it again with `diagnose batch`.", name) from None
        raise refusal(*unreadable(error), name) from None


NamedCells = Mapping[str, Any]


def _texts(path: Path, name: str) -> Iterator[NamedCells]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        first = file.readline()
        file.seek(0)
        reader = csv.reader(file, delimiter=";" if first.count(";") > first.count(",") else ",")  # a spreadsheet's
        try:
            head = [cell.strip() for cell in next(reader, [])]
            _refuse_head(name, head)
            for cells in reader:
                if any(cells):
                    yield dict(zip(head, cells, strict=False))
        except csv.Error as error:
            raise refusal(f"line {reader.line_num} cannot be read ({error})", "Write the table again.", name) from None


def _parquet(path: Path, name: str) -> Iterator[NamedCells]:
    """Through the batch room's own door to pyarrow, slice by slice."""
    try:
        from diagnose.batch import arrow, parquet
    except ModuleNotFoundError:
        what = "reading Parquet needs pyarrow"
        raise refusal(what, "Install it: `pip install pyarrow`; or let `diagnose batch` write CSV.", name) from None
    head = parquet.parquet_head(str(path), look=False)
    _refuse_head(name, list(head.headers))
    for group, count in enumerate(head.groups):
        for start in range(0, count, arrow.SLICE):
            taken, _ = parquet.read_slice(str(path), group, start, min(arrow.SLICE, count - start))
            columns = [arrow.cells_of(taken, place) for place in range(len(head.headers))]
            for cells in zip(*columns, strict=True):
                yield dict(zip(head.headers, cells, strict=True))


def _refuse_head(name: str, head: list[str]) -> None:
    lacking = [column for column in NEEDED if column not in head]
    if lacking:
        what = f"this is no table of examined visits: it lacks the column{'s' if len(lacking) > 1 else ''} {', '.join(lacking)}"
        raise refusal(
            what, "Examine the visits first: `diagnose batch IN OUT.csv`, then `diagnose fleet OUT.csv`.", name
        )
    twice = [column for column in dict.fromkeys(head) if head.count(column) > 1 and column]
    if twice:
        raise refusal(f"the column `{printable(twice[0], 40)}` stands there twice", "Keep one of them.", name)


# -- a row -------------------------------------------------------------------------------------------------------------


def _table(name: str, rows: Iterator[NamedCells]) -> FleetTable:
    visits: list[FleetVisit] = []
    unnamed = undated = odd = 0
    all_shares = True
    for number, cells in enumerate(rows, 2):  # as lines of a file with a head are counted
        visit, fine = _visit(cells, number)
        unnamed += not _text(cells, "machine")
        undated += not visit.day
        odd += not fine
        all_shares = all_shares and (not visit.judged or sum(visit.shares.values()) > 0.99)
        visits.append(visit)
    if not visits:
        raise refusal("this table has no rows", "Examine some visits first: `diagnose batch IN OUT`.", name)
    return FleetTable(name, tuple(visits), all_shares, unnamed, undated, odd)


def _visit(cells: NamedCells, number: int) -> tuple[FleetVisit, bool]:
    """The visit of a row; and whether the share in it can be one."""
    fault, share = _text(cells, "fault"), _number(cells, "share")
    fine = not fault or (share is not None and 0 <= share <= 1)
    share = min(max(share or 0.0, 0.0), 1.0)
    low, high = _number(cells, "charge estimate low [%]"), _number(cells, "charge estimate high [%]")
    day, time = _moment(_text(cells, "date"))
    quantities = {}
    for each in FOLLOWED:
        value, error = _kelvin(cells, each), _kelvin(cells, f"{each} ±")
        if value is not None and error is not None and error > 0:
            quantities[each] = (value, error)
    visit = FleetVisit(
        row=number,
        machine=printable(_text(cells, "machine"), 1000) or f"row {number}",
        day=day,
        kind=printable(_text(cells, "kind")),
        refrigerant=printable(_text(cells, "refrigerant")),
        mode=HEATING if any(_number(cells, column) is not None for column in _heats(tuple(cells))) else COOLING,
        metering=_text(cells, "metering"),
        status=_text(cells, "status"),
        fault=fault,
        share=share,
        second=_text(cells, "second"),
        verdict=_text(cells, "charge verdict"),
        check=_text(cells, "charge check"),
        estimate=(low, high) if low is not None and high is not None and -100 <= low <= high <= 400 else None,
        dangers=tuple(dict.fromkeys((*_codes(cells, "dangers"), *_codes(cells, "dangers of the log")))),
        problems=_codes(cells, "problems"),
        shares=_shares(cells) or ({fault: share} if fault else {}),
        outdoor=_outdoor(cells),
        quantities=quantities,
        time=time,
    )
    return visit, fine


def _shares(cells: NamedCells) -> dict[str, float]:
    """Of every fault; brought to a sum of one, where rounding left another."""
    found = {
        column.removeprefix(SHARE): value
        for column in cells
        if column.startswith(SHARE) and (value := _number(cells, column)) is not None and value > 0
    }
    whole = sum(found.values())
    return {fault: value / whole for fault, value in found.items()}


def _kelvin(cells: NamedCells, name: str, difference: bool = True) -> float | None:
    for unit, (size, zero) in _UNITS.items():
        if (value := _number(cells, f"{name} [{unit}]")) is not None:
            return (value + (0.0 if difference else zero)) * size
    return None


@cache
def _heats(columns: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(column for column in columns if column.partition(" [")[0] in _HEATS)


def _outdoor(cells: NamedCells) -> float | None:
    for name, over, sign in _OUTDOOR:
        at, by = _kelvin(cells, name, difference=False), _kelvin(cells, over)
        if at is not None and by is not None:
            return at + sign * by
    return None


def _text(cells: NamedCells, column: str) -> str:
    found = cells.get(column)
    return "" if found is None else _FORMULA.sub("", str(found).strip(), count=1)


def _number(cells: NamedCells, column: str) -> float | None:
    found = cells.get(column)
    if found is None or found == "":
        return None
    try:
        value = float(found.replace(",", ".") if isinstance(found, str) else found)
    except (TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _codes(cells: NamedCells, column: str) -> tuple[str, ...]:
    return tuple(code.strip() for code in _text(cells, column).split(",") if code.strip())


def _moment(text: str) -> tuple[str, str]:
    """The day, and the time of day where that is told."""
    try:
        day, time = date.fromisoformat(text[:10]).isoformat(), _TIME.match(text[10:])
    except ValueError:
        return "", ""
    return day, time[1].zfill(5) if time else ""
