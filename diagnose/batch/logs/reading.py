"""A log file into columns of figures in SI, cut where its clock, its units or its records break off.

What is odd about the file is a `Reason` in `notes`, and never bridged: a stretch lies within one piece.
"""

from __future__ import annotations

import csv
import io
import math
import re
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from diagnose.batch.logs.heads import Head, LogColumn, head_of, told
from diagnose.batch.logs.model import STATION, Log
from diagnose.batch.logs.sound import without_faults
from diagnose.batch.logs.stamps import Clock, clock_of
from diagnose.rulebook.judgement import LogFigures
from diagnose.units import Kind, UnitError, parse
from diagnose.units.spelling import find
from diagnose.units.table import Unit
from diagnose.visit.fields import READINGS
from diagnose.visit.reason import Reason
from diagnose.yamlfile import STANDARD_INPUT, InputProblems, Problem, printable
from diagnose.yamlfile.events import unreadable

LARGEST = 256_000_000  # bytes
MOST_COLUMNS = 2000
LONGEST_ROW = 100_000  # characters
PREAMBLE = 60  # lines of a logger's own before the head
_HOUR = 3600.0
_NOTHING = frozenset({"", "-", "--", "---", "nan", "na", "n/a", "null", "none", "#n/a"})
_ON, _OFF = (
    frozenset({"on", "1", "true", "yes", "run", "running", "y"}),
    frozenset({"off", "0", "false", "no", "n", "idle"}),
)


@dataclass(slots=True)
class _Rows:
    """What is gathered while the rows are read."""

    stamps: list[str] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    values: list[dict[str, float]] = field(default_factory=list)
    words: list[dict[str, str]] = field(default_factory=list)
    heads: list[tuple[int, Head]] = field(default_factory=list)  # from which record on
    own_units: dict[str, dict[str, tuple[int, Unit]]] = field(default_factory=dict)
    bad: dict[str, Counter[str]] = field(default_factory=dict)  # reading -> what stood there, where it is no figure
    outside: Counter[str] = field(default_factory=Counter)
    ragged: list[int] = field(default_factory=list)
    wide: list[int] = field(default_factory=list)
    width: int = 0


def read_log(content: bytes, name: str, figures: LogFigures) -> Log:
    """The log in a file's bytes. Raises InputProblems with everything that must be mended first."""
    text, notes = _decoded(content, name)
    delimiter, lines = _table(text, name, notes)
    rows = _Rows()
    head = None
    preamble = 0
    for number, cells in lines:
        if head is None or (len(cells) > 1 and not _figures(cells)):
            found = head_of(cells, name, number)
            if found.usable:
                if found.problems:
                    raise InputProblems(found.problems)
                head, rows.width = found, len(cells)
                rows.heads.append((len(rows.stamps), head))
                continue
        if head is None:
            preamble += 1
            if preamble > PREAMBLE:
                break
            continue
        _take(rows, head, cells, number, delimiter != ",")
    if head is None:
        raise InputProblems([_no_head(name, text, delimiter)])
    if not rows.stamps and rows.wide:
        what = f"this row has more cells than the {rows.width} columns that are named"
        fix = "Where commas stand in the figures, separate the cells by semicolons or tabs."
        raise InputProblems([Problem(name, rows.wide[0], 0, what, fix)])
    if not rows.stamps:
        raise InputProblems([Problem(name, 0, 0, "this log has a head and no records", "Let the logger run first.")])
    if preamble:
        notes.append(Reason("log-preamble", {"lines": preamble}))
    return _log(name, rows, notes, figures)


def content_of(path: str) -> tuple[bytes, str]:
    """The bytes of a log file (`-`: standard input), and its name in messages. Raises InputProblems."""
    if path == "-":
        content = getattr(sys.stdin, "buffer", sys.stdin).read(LARGEST + 1)
        return content if isinstance(content, bytes) else content.encode(), STANDARD_INPUT
    name = printable(path, 4096)
    try:
        with open(path, "rb") as file:
            return file.read(LARGEST + 1), name
    except (OSError, ValueError) as error:
        raise InputProblems([Problem(name, 0, 0, *unreadable(error))]) from None


def _decoded(content: bytes, name: str) -> tuple[str, list[Reason]]:
    if len(content) > LARGEST:
        what = f"the log is larger than {LARGEST // 1_000_000} MB"
        raise InputProblems([Problem(name, 0, 0, what, "Split it by days.")])
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", "replace"), []
    if b"\0" in content[:4096]:
        what = "this is no text: it holds bytes that no log has"
        raise InputProblems([Problem(name, 0, 0, what, "Export the log as CSV, in UTF-8.")])
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace"), [Reason("log-not-utf-8")]


def _table(text: str, name: str, notes: list[Reason]) -> tuple[str, Iterator[tuple[int, list[str]]]]:
    """The sign between the cells, and every row that is not empty with its line."""
    beginning = [line for line in text[:200_000].splitlines()[: PREAMBLE + 5] if len(line) <= LONGEST_ROW]
    most, delimiter = 0, ","
    for sign in ",;\t|":
        tried = (cells for line in beginning if len(cells := _cells(line, sign)) > 1 and not _figures(cells))
        found = max((len(head_of(cells[:MOST_COLUMNS], name, 0).columns) for cells in tried), default=0)
        if found > most:
            most, delimiter = found, sign

    def rows() -> Iterator[tuple[int, list[str]]]:
        for number, line in enumerate(io.StringIO(text), 1):
            if len(line) > LONGEST_ROW:
                notes.append(Reason("log-long-row", {"line": number}))
                continue
            cells = _cells(line.rstrip("\r\n"), delimiter)
            if len(cells) > MOST_COLUMNS:
                what = f"this row has {len(cells):,} columns, more than {MOST_COLUMNS:,}"
                raise InputProblems([Problem(name, number, 0, what, "Export only the columns of one machine.")])
            if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
                yield number, cells

    return delimiter, rows()


def _cells(line: str, delimiter: str) -> list[str]:
    """A row's cells; each row by itself, so that a quotation mark that is never closed spoils one row and not the log."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def _figures(cells: Sequence[str]) -> bool:
    """Whether a row holds figures: a head does not."""
    return any(cell.strip()[:1] in "+-.0123456789" for cell in cells[1:] if cell.strip())


def _no_head(name: str, text: str, delimiter: str) -> Problem:
    if not text.strip():
        return Problem(name, 0, 0, "this log is empty", "Let the logger run first.")
    first = next((line for line in text.splitlines() if line.strip()), "")
    found = head_of(_cells(first, delimiter), name, 1)
    lacks = "a time stamp" if any(column.part == "readings" for column in found.columns) else "a reading with its unit"
    fix = "The first row names the columns, for example `time, suction pressure [psig], liquid line temperature [F]`."
    if found.problems:
        return replace(found.problems[0], fix=f"{found.problems[0].fix} {fix}")
    return Problem(name, 1, 0, f"no row names the columns of a log: none has {lacks} and the rest", fix)


def _take(rows: _Rows, head: Head, cells: Sequence[str], number: int, comma: bool) -> None:
    """One record; what cannot be read in it is counted."""
    got = {column.place: cells[column.place].strip() if column.place < len(cells) else "" for column in head.columns}
    stamp = " ".join(got[column.place] for part in ("date", "time") for column in head.columns if column.part == part)
    if any(cell.strip() for cell in cells[rows.width :]):
        rows.wide.append(number)
        return
    if not stamp.strip():
        rows.ragged.append(number)
        return
    values: dict[str, float] = {}
    words: dict[str, str] = {}
    for column in head.columns:
        cell = got[column.place]
        if column.part == "readings":
            found = _figure(rows, column, cell, comma, len(rows.stamps))
            if found is not None:
                values[column.name] = found
        elif column.part == "switch":
            if cell.lower() in _ON or cell.lower() in _OFF:
                words[f"switch {column.name}"] = "1" if cell.lower() in _ON else "0"
            elif cell:
                rows.bad.setdefault(column.name, Counter())[printable(cell, 20)] += 1
        elif column.part in ("machine", "seen", "remarks") and cell:
            unit = f" {column.unit.name}" if column.unit is not None and column.unit.name else ""
            words[f"{column.part} {column.name}"] = f"{cell}{unit}"
    rows.stamps.append(stamp)
    rows.lines.append(number)
    rows.values.append(values)
    rows.words.append(words)


_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")


def _figure(rows: _Rows, column: LogColumn, cell: str, comma: bool, at: int) -> float | None:
    """SI, gauge as gauge; None where nothing that can be such a reading stands there, which is counted."""
    if cell.lower() in _NOTHING:
        return None
    spec = READINGS[column.name]
    text = cell.replace("\u2212", "-")
    if column.unit is not None and (_PLAIN.fullmatch(text) or (comma and _COMMA.fullmatch(text))):
        value, unit = (float(text.replace(",", ".")) + column.unit.offset) * column.unit.scale, column.unit
    else:
        try:
            found = parse(cell, spec.kind, spec.examples[0], spec.high)
        except UnitError:
            rows.bad.setdefault(column.name, Counter())[printable(cell, 20)] += 1
            return None
        value, unit = found.value, _unit_named(found.unit, spec.kind)
        rows.own_units.setdefault(column.name, {}).setdefault(unit.name, (at, unit))
    gauge = value if unit.gauge or spec.kind != "pressure" else value - STATION
    if not (math.isfinite(value) and spec.low <= gauge <= spec.high):
        rows.outside[column.name] += 1
        return None
    return value


def _unit_named(name: str, kind: Kind) -> Unit:
    return find(name, kind, "")


# -- from rows to a log ------------------------------------------------------------------------------------------------


def _log(name: str, rows: _Rows, notes: list[Reason], figures: LogFigures) -> Log:
    first = rows.heads[0][1]
    counted = next((column.unit for column in first.columns if column.part == "time"), None)
    clock = clock_of(rows.stamps, counted.scale if counted is not None else None)
    if clock is None:
        what = f"`{printable(rows.stamps[0], 40)}` is not understood as a time stamp"
        fix = "Write it as `2026-07-14 14:05:00`, or name the column `elapsed [min]`."
        raise InputProblems([Problem(name, rows.lines[0], 0, what, fix)])
    if not clock.sure:
        notes.append(Reason("log-day-or-month", {"first": clock.way == "month first", "stamp": rows.stamps[0]}))
    kept, times, breaks = _in_order(rows, clock, notes)
    if not kept:
        what = "no two records of this log are in order"
        raise InputProblems([Problem(name, rows.lines[0], 0, what, "Look at the column of the time stamps.")])
    steps = sorted(b - a for a, b in pairwise(times) if b > a)
    step = steps[len(steps) // 2] if steps else 60.0
    gap = max(figures.gap, 3 * step)
    for i in range(1, len(times)):
        if times[i] - times[i - 1] > gap and i not in breaks:
            breaks.add(i)
            forward = abs(times[i] - times[i - 1] - step - _HOUR) <= max(30.0, step / 2)
            code = "log-clock-forward" if forward else "log-gap"
            notes.append(Reason(code, {"from": times[i - 1], "to": times[i]}))
    short = [b - a for a, b in pairwise(times) if 2.5 * step < b - a <= gap]
    if short:
        notes.append(Reason("log-short-gaps", {"count": len(short), "longest": max(short)}))
    pieces, units = _pieces(rows, kept, times, breaks, notes)
    names = sorted({reading for head in rows.heads for reading in _readings(head[1])}, key=list(READINGS).index)
    values = {n: tuple(rows.values[i].get(n, math.nan) for i in kept) for n in names}
    values = {n: each for n, each in values.items() if any(math.isfinite(value) for value in each)}
    switches = {
        n: tuple(float(rows.words[i].get(f"switch {n}", "nan")) for i in kept)
        for n in {column.name for _, head in rows.heads for column in head.columns if column.part == "switch"}
    }
    log = Log(
        name,
        times,
        values,
        switches,
        {},
        pieces,
        units,
        step,
        clock,
        rows=len(rows.stamps) + len(rows.ragged) + len(rows.wide),
    )
    log = _with_facts(log, rows, kept, name)
    _tell_cells(rows, first, names, values, notes)
    return without_faults(replace(log, notes=tuple(notes)), figures)


def _readings(head: Head) -> Iterator[str]:
    return (column.name for column in head.columns if column.part == "readings")


def _in_order(rows: _Rows, clock: Clock, notes: list[Reason]) -> tuple[list[int], tuple[float, ...], set[int]]:
    """The rows that are taken, their times, and where the clock was set back."""
    read = [clock.read(stamp) for stamp in rows.stamps]
    unread = [rows.lines[i] for i, time in enumerate(read) if time is None]
    known = [time for time in read if time is not None]
    down = sum(b < a for a, b in pairwise(known))
    if down > 0.5 * max(1, len(known) - 1):
        _turn(rows)
        read.reverse()
        notes.append(Reason("log-newest-first"))
    gaps = sorted(abs(b - a) for a, b in pairwise(known) if a != b)
    step = gaps[len(gaps) // 2] if gaps else 60.0
    kept: list[int] = []
    times: list[float] = []
    breaks: set[int] = set()
    repeated, late, shift = 0, 0, 0.0
    for i, time in enumerate(read):
        if time is None:
            continue
        time += shift
        if times:
            by = time - times[-1]
            if clock.way == "time of day" and by < -43200:  # midnight
                shift += 86400.0
                time += 86400.0
                notes.append(Reason("log-midnight", {"at": time}))
            elif by == 0:
                repeated += 1
                continue
            elif by < 0 and abs(by + _HOUR - step) <= max(90.0, 1.5 * step) and clock.offset is None:
                shift += _HOUR
                time += _HOUR
                breaks.add(len(times))
                notes.append(Reason("log-clock-back", {"at": times[-1]}))
                if time <= times[-1]:
                    time = times[-1] + step
            elif by < 0:
                late += 1
                continue
        kept.append(i)
        times.append(time)
    if unread:
        notes.append(Reason("log-bad-stamps", {"count": len(unread), "line": unread[0]}))
    if rows.wide:
        notes.append(Reason("log-wide-rows", {"count": len(rows.wide), "line": rows.wide[0]}))
    if rows.ragged:
        notes.append(Reason("log-no-stamps", {"count": len(rows.ragged), "line": rows.ragged[0]}))
    if repeated:
        notes.append(Reason("log-repeated", {"count": repeated}))
    if late:
        notes.append(Reason("log-out-of-order", {"count": late}))
    return kept, tuple(times), breaks


def _turn(rows: _Rows) -> None:
    """The oldest record first."""
    count = len(rows.stamps)
    for each in (rows.stamps, rows.lines, rows.values, rows.words):
        each.reverse()
    ends = [*(at for at, _ in rows.heads[1:]), count]
    rows.heads = [(count - end, head) for end, (_, head) in zip(ends, rows.heads, strict=True)][::-1]


def _pieces(
    rows: _Rows, kept: Sequence[int], times: Sequence[float], breaks: set[int], notes: list[Reason]
) -> tuple[tuple[tuple[int, int], ...], tuple[Mapping[str, Unit], ...]]:
    """Cut as well where a new head, or a cell, says another unit; with the units of each piece."""
    starts = {0, *breaks}
    place = {row: i for i, row in enumerate(kept)}
    changes: dict[int, dict[str, Unit]] = {}
    now: dict[str, Unit] = {}
    for at, head in rows.heads:
        i = next((place[row] for row in range(at, len(rows.stamps)) if row in place), None)
        if i is None:
            continue
        units = {c.name: c.unit for c in head.columns if c.part == "readings" and c.unit is not None}
        differs = tuple(n for n, unit in units.items() if n in now and now[n].name != unit.name)
        if now:
            starts.add(i)
            notes.append(Reason("log-new-units" if differs else "log-new-head", {"at": times[i], "readings": differs}))
        changes.setdefault(i, {}).update(units)
        now.update(units)
    for reading, each in rows.own_units.items():
        own = sorted(each.values(), key=lambda pair: pair[0])
        headed = reading in now
        for at, unit in own:
            if headed and unit.name == now[reading].name:
                continue
            i = next((place[row] for row in range(at, len(rows.stamps)) if row in place), None)
            if i is None:
                continue
            if headed or at != own[0][0]:
                starts.add(i)
                notes.append(Reason("log-new-units", {"at": times[i], "readings": (reading,)}))
            changes.setdefault(0 if not headed and at == own[0][0] else i, {})[reading] = unit
    cuts = sorted(starts)
    pieces = tuple((a, b) for a, b in zip(cuts, [*cuts[1:], len(kept)], strict=True))
    found: list[Mapping[str, Unit]] = []
    units_now: dict[str, Unit] = {}
    for begin, _ in pieces:
        for i in sorted(changes):
            if i <= begin:
                units_now.update(changes[i])
        found.append(dict(units_now))
    return pieces, tuple(found)


def _with_facts(log: Log, rows: _Rows, kept: Sequence[int], name: str) -> Log:
    """Constant columns say what the machine is; `mode` and the stage may change. Raises InputProblems for others that do."""
    facts: dict[str, dict[str, str]] = {"machine": {}, "seen": {}, "remarks": {}}
    changing: dict[str, tuple[str, ...]] = {}
    problems = []
    for key in dict.fromkeys(key for words in rows.words for key in words):
        part, word = key.split(" ", 1)
        if part == "switch":
            continue
        said = [rows.words[i].get(key, "") for i in kept]
        each = list(dict.fromkeys(text for text in said if text))
        if len(each) == 1:
            facts[part][word] = each[0]
        elif part == "machine" and word in _MAY_CHANGE:
            changing[word] = tuple(said)
        elif part == "machine" and each:
            line = next(rows.lines[i] for i in kept if rows.words[i].get(key, "") == each[1])
            place = next(c.place for _, h in rows.heads for c in h.columns if (c.part, c.name) == ("machine", word))
            what = f"`{word}` changes from `{printable(each[0], 30)}` to `{printable(each[1], 30)}`: a log is of one machine"
            fix = "Split the log by machine, and give each alone."
            problems.append(told(name, line, place, what, fix))
        elif part == "seen" and each:  # what was seen last
            facts[part][word] = each[-1]
    if problems:
        raise InputProblems(problems)
    return replace(log, facts=facts["machine"], seen=facts["seen"], remarks=facts["remarks"], words=changing)


_MAY_CHANGE = ("mode", "running at")


def _tell_cells(
    rows: _Rows, head: Head, names: Sequence[str], values: Mapping[str, object], notes: list[Reason]
) -> None:
    for reading, texts in rows.bad.items():
        most = texts.most_common(1)[0][0]
        notes.append(Reason("log-no-figures", {"reading": reading, "count": sum(texts.values()), "text": most}))
    for reading, count in rows.outside.items():
        notes.append(Reason("log-impossible", {"reading": reading, "count": count}))
    empty = tuple(n for n in names if n not in values)
    if empty:
        notes.append(Reason("log-empty-columns", {"readings": empty}))
    if head.unused:
        notes.append(Reason("log-unused", {"columns": head.unused}))
