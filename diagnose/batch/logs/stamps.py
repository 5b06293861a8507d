"""The clock of a log: what its stamps say, in s, and how they were written."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

Stamper = Callable[[str], float | None]

_EPOCH = datetime(1970, 1, 1)
_SPREADSHEET = datetime(1899, 12, 30)  # day 0 of spreadsheets
_TIMES = ("%H:%M:%S.%f", "%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
_MONTH_FIRST = ("%m/%d/%Y", "%m/%d/%y", "%m-%d-%Y", "%m-%d-%y")
_DAY_FIRST = ("%d/%m/%Y", "%d/%m/%y", "%d-%m-%Y", "%d-%m-%y")
_PLAIN = ("%d.%m.%Y", "%d.%m.%y", "%Y/%m/%d", "%Y.%m.%d", "%d %b %Y", "%d-%b-%Y", "%b %d %Y", "%d %B %Y", "%B %d %Y")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")
_HALF = re.compile(r"(?<=\d)\s*([ap])\.?\s*m\.?$", re.I)
_LOOKED_AT = 200  # stamps at either end by which the way of writing is told
DAY = 86400.0


@dataclass(frozen=True, slots=True)
class Clock:
    """How stamps are written. read: a cell to s since 1970 by the log's own clock, or None. way: `iso`, `month first`, `day
    first`, `dates`, `time of day`, `elapsed`, `epoch`, `spreadsheet`. sure: whether day and month cannot be mixed up.
    offset: s by which the clock is ahead of UTC, where the stamps say so.
    """

    read: Stamper
    way: str
    sure: bool = True
    offset: float | None = None


def clock_of(cells: Sequence[str], unit_seconds: float | None = None) -> Clock | None:
    """The way in which (nearly) all of these stamps are written; None where there is none.

    unit_seconds: what the header says a plain number counts, s.
    """
    looked = [cell for cell in (*cells[:_LOOKED_AT], *cells[_LOOKED_AT:][-_LOOKED_AT:]) if cell.strip()]
    if not looked:
        return None
    if unit_seconds is not None:
        return Clock(lambda cell: _scaled(cell, unit_seconds), "elapsed")
    for clock in _clocks(looked):
        if not _fits(clock, looked):
            continue
        if clock.way != "month first":
            return clock
        both = [each for each in (clock, _DAY_CLOCK) if _fits(each, looked)]
        in_order = [each for each in both if _in_order(each, looked)] or both
        return replace(in_order[0], sure=len(in_order) == 1)
    return None


def _fits(clock: Clock, cells: Sequence[str]) -> bool:
    """Whether nine of ten stamps can be read so; what is left are slips of the logger, told row by row."""
    return sum(clock.read(cell) is not None for cell in cells) >= 0.9 * len(cells)


def _in_order(clock: Clock, cells: Sequence[str]) -> bool:
    """Whether the log then covers the least of time: read the wrong way round, days of a month lie months apart."""
    times = [time for cell in cells if (time := clock.read(cell)) is not None]
    return max(times) - min(times) <= 28 * DAY and times == sorted(times)


def _clocks(cells: Sequence[str]) -> Iterator[Clock]:
    numbers = [_scaled(cell, 1.0) for cell in cells if _NUMBER.fullmatch(cell.strip())]
    plain = [number for number in numbers if number is not None]
    if len(plain) >= 0.9 * len(cells):
        least, most = min(plain), max(plain)
        if least >= 2e4 and most <= 8e4 and any(number % 1 for number in plain):
            base = (_SPREADSHEET - _EPOCH).total_seconds()
            yield Clock(lambda cell: _scaled(cell, DAY, base), "spreadsheet")
        elif 1e8 <= least <= 1e10:
            yield Clock(lambda cell: _scaled(cell, 1.0), "epoch", offset=0.0)
        elif 1e11 <= least <= 1e13:
            yield Clock(lambda cell: _scaled(cell, 1e-3), "epoch", offset=0.0)
        return
    yield _iso(cells)
    yield from (Clock(_by((date,)), "dates") for date in _PLAIN)
    yield Clock(_by(_MONTH_FIRST), "month first")
    yield _DAY_CLOCK
    yield Clock(_time_of_day, "time of day")


def _iso(cells: Sequence[str]) -> Clock:
    aware = [stamp.utcoffset() for cell in cells if (stamp := _iso_stamp(cell)) is not None]
    offset = next((each.total_seconds() for each in aware if each is not None), None)

    def read(cell: str) -> float | None:
        stamp = _iso_stamp(cell)
        if stamp is None:
            return None
        if stamp.tzinfo is None:
            return (stamp - _EPOCH).total_seconds() if offset is None else None
        return stamp.astimezone(UTC).timestamp() + (offset or 0.0)

    return Clock(read, "iso", offset=offset)


def _iso_stamp(cell: str) -> datetime | None:
    text = cell.strip()
    if not re.match(r"[0-9]{4}-?[0-9]{2}-?[0-9]{2}\D", text):
        return None
    try:
        return datetime.fromisoformat(text.replace(" UTC", "Z").replace(",", "."))
    except ValueError:
        return None


def _by(dates: Sequence[str]) -> Stamper:
    """One of these dates with any time of day; the one that fitted last is tried first."""
    ways = [f"{date} {time}" for date in dates for time in _TIMES]

    def read(cell: str) -> float | None:
        text = _tidy(cell)
        for i, way in enumerate(ways):
            try:
                found = datetime.strptime(text, way)
            except ValueError:
                continue
            ways.insert(0, ways.pop(i))
            return (found - _EPOCH).total_seconds()
        return None

    return read


def _time_of_day(cell: str) -> float | None:
    for way in _TIMES:
        try:
            found = datetime.strptime(_tidy(cell), way)
        except ValueError:
            continue
        return (found - datetime(1900, 1, 1)).total_seconds()
    return None


def _tidy(cell: str) -> str:
    text = " ".join(re.sub(r"(?<=\d)T(?=\d)|,", " ", cell).split())
    return _HALF.sub(lambda half: f" {half[1]}m", text)


def _scaled(cell: str, scale: float, base: float = 0.0) -> float | None:
    text = cell.strip()
    if not _NUMBER.fullmatch(text):
        return None
    return base + float(text.replace(",", ".")) * scale


_DAY_CLOCK = Clock(_by(_DAY_FIRST), "day first")


def shown(time: float, date: bool = False, seconds: bool = False) -> str:
    """`14:05`, `2026-07-14 14:05`: a moment by the log's clock; `0:25` from the beginning where it has no dates."""
    stamp = _EPOCH + timedelta(seconds=round(time))
    way = "%H:%M:%S" if seconds else "%H:%M"
    return stamp.strftime(f"%Y-%m-%d {way}" if date else way)


def day_text(time: float) -> str:
    """`Jul 14`."""
    stamp = _EPOCH + timedelta(seconds=time)
    return f"{stamp:%b}\u00a0{stamp.day}"


def day_of(time: float) -> str:
    """`2026-07-14`; empty where the stamps have no date."""
    return (_EPOCH + timedelta(seconds=time)).strftime("%Y-%m-%d") if time > 3650 * DAY else ""
