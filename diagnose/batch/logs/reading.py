"""A log file into columns of figures in SI, cut where its clock, its columns or its records break off.

What is odd about the file is a `Reason` in `notes`, and never bridged: a stretch lies within one piece.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate, pairwise, zip_longest

from diagnose.batch.logs.heads import (
    PREAMBLE,
    Head,
    LogColumn,
    bad,
    decoded,
    delimiter_of,
    has_figures,
    head_of,
    rows_of,
    told,
)
from diagnose.batch.logs.model import STATION, Log
from diagnose.batch.logs.running import without_faults
from diagnose.batch.logs.stamps import DAY, Clock, clock_of
from diagnose.rulebook import Rulebook
from diagnose.units.table import Unit
from diagnose.visit.fields import READINGS
from diagnose.visit.reason import Reason
from diagnose.yamlfile import InputProblems, Problem, printable

IN_TURN = 0.3  # share of records without a figure between two of its own from which a column was written in turn
LASTS = 10  # records after which a clock that was set back is no disorder
_HOUR = 3600.0
_NOTHING = frozenset({"", "-", "--", "---", "nan", "na", "n/a", "null", "none", "#n/a"})
_ON = frozenset({"on", "1", "true", "yes", "run", "running", "y", "cooling", "heating", "closed", "defrost"})
_OFF = frozenset({"off", "0", "false", "no", "n", "idle", "standby", "stop", "stopped", "open", "normal"})
_MAY_CHANGE = ("mode", "running at")
_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")


class NotBegun(InputProblems):
    """A log without any record yet."""


@dataclass(slots=True)
class _Record:
    """One row: its line, stamp, figures (SI, pressures as a gauge shows them), words, which head it stands below; narrow: it
    ends before the last column that is used.
    """

    line: int
    stamp: str
    values: dict[str, float]
    words: dict[str, str]
    head: int
    narrow: bool


@dataclass(slots=True)
class _Read:
    """What is gathered while the rows are read. bad: what stood there, where it is no figure; ragged, wide: lines without a
    stamp, with too many cells.
    """

    records: list[_Record] = field(default_factory=list)
    heads: list[Head] = field(default_factory=list)
    width: int = 0
    bad: dict[str, Counter[str]] = field(default_factory=dict)
    outside: Counter[str] = field(default_factory=Counter)
    ragged: list[int] = field(default_factory=list)
    wide: list[int] = field(default_factory=list)


def read_log(content: bytes, name: str, book: Rulebook) -> Log:
    """The log in a file's bytes. Raises InputProblems with everything that must be mended first."""
    text, notes = decoded(content, name)
    delimiter = delimiter_of(text, name, book)
    read = _Read()
    preamble, titles = 0, [""]
    for number, cells in rows_of(text, name, delimiter, notes):
        if not read.heads or (len(cells) > 1 and not has_figures(cells)):
            head = head_of(cells, name, number, book)
            if head.usable:
                if not any(head.names("readings")):
                    raise InputProblems(head.left_out)
                notes += [Reason("log-left-out", {"what": each.what, "fix": each.fix}) for each in head.left_out]
                read.heads.append(head)
                read.width, titles = len(cells), cells
                continue
            if read.heads and not read.records:  # the units in a row of their own
                both = [f"{a} [{b.strip()}]" if b.strip() else a for a, b in zip_longest(titles, cells, fillvalue="")]
                head = head_of(both, name, number, book)
                if head.with_unit > read.heads[-1].with_unit:
                    read.heads[-1] = head
                    continue
        if read.heads:
            _take(read, cells, number, delimiter != ",")
        elif (preamble := preamble + 1) > PREAMBLE:
            break
    _refuse_nothing(read, name, text)
    return _log(name, read, notes, book)


# -- rows --------------------------------------------------------------------------------------------------------------


def _refuse_nothing(read: _Read, name: str, text: str) -> None:
    """Raises InputProblems where there is no head, or no record below it."""
    if read.records:
        return
    if not text.strip():
        raise NotBegun([Problem(name, 0, 0, "this log is empty", "Let the logger run first.")])
    if not read.heads:
        fix = (
            "The first row names the columns, for example `time, suction pressure [psig], liquid line temperature [F]`. "
            "A table of visits goes through `diagnose batch IN OUT`."
        )
        raise bad(name, 1, "no row names the columns of a log: a time and readings with their units", fix)
    if read.wide:
        what = f"this row has more cells than the {read.width} columns that are named"
        fix = "Where commas stand in the figures, separate the cells by semicolons or tabs."
        raise bad(name, read.wide[0], what, fix)
    raise NotBegun([Problem(name, 0, 0, "this log has a head and no records", "Let the logger run first.")])


def _take(read: _Read, cells: Sequence[str], number: int, comma: bool) -> None:
    """One record; what cannot be read in it is counted."""
    columns = read.heads[-1].columns
    got = [cells[column.place].strip() if column.place < len(cells) else "" for column in columns]
    stamp = " ".join(
        cell for part in ("date", "time") for column, cell in zip(columns, got, strict=True) if column.part == part
    ).strip()
    if any(cell.strip() for cell in cells[read.width :]) or not stamp:
        (read.ragged if not stamp else read.wide).append(number)
        return
    narrow = len(cells) < read.width and len(cells) <= max(column.place for column in columns)
    record = _Record(number, stamp, {}, {}, len(read.heads) - 1, narrow)
    for column, cell in zip(columns, got, strict=True):
        if column.part == "readings" and cell.lower() not in _NOTHING:
            found = _figure(read, column, cell, comma)
            if found is not None:
                record.values[column.name] = found
        elif column.part == "switch" and cell:
            if cell.lower() in _ON or cell.lower() in _OFF:
                record.values[column.name] = float(cell.lower() in _ON)
            else:
                read.bad.setdefault(column.name, Counter())[printable(cell, 20)] += 1
        elif column.part == "machine" and cell:
            record.words[column.name] = f"{cell} {column.unit.name}" if column.unit and column.unit.name else cell
    read.records.append(record)


def _figure(read: _Read, column: LogColumn, cell: str, comma: bool) -> float | None:
    """SI, a pressure as a gauge shows it at sea level; None where no such reading stands there, which is counted."""
    spec, unit = column.field, column.unit
    assert spec is not None  # it is a reading
    text = cell.replace("\u2212", "-")
    if unit is None or not (_PLAIN.fullmatch(text) or (comma and _COMMA.fullmatch(text))):
        read.bad.setdefault(column.name, Counter())[printable(cell, 20)] += 1
        return None
    value = (float(text.replace(",", ".")) + unit.offset) * unit.scale
    value -= STATION if spec.kind == "pressure" and not unit.gauge else 0.0
    if not (math.isfinite(value) and spec.low <= value <= spec.high):
        read.outside[column.name] += 1
        return None
    return value


# -- from rows to a log ------------------------------------------------------------------------------------------------


def _log(name: str, read: _Read, notes: list[Reason], book: Rulebook) -> Log:
    figures = book.judgement.logs
    counted = next((column.unit for column in read.heads[0].columns if column.part == "time"), None)
    scale = counted.scale if counted is not None else None
    clock = clock_of([each.stamp for each in read.records], scale)
    first = read.records[0]
    if clock is None:
        strange = next((each for each in read.records if clock_of([each.stamp], scale) is None), first)
        what = f"`{printable(strange.stamp, 40)}` is not understood as a time stamp"
        raise bad(name, strange.line, what, "Write it as `2026-07-14 14:05:00`, or name the column `elapsed [min]`.")
    if not clock.sure:
        notes.append(Reason("log-day-or-month", {"first": clock.way.split()[0], "stamp": first.stamp}))
    kept, times, breaks = _in_order(read, clock, notes)
    if not kept:
        raise bad(name, first.line, "no two records of this log are in order", "Look at the column of the time stamps.")
    step = _usual([b - a for a, b in pairwise(times)])
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
    pieces, units = _pieces(read, kept, times, breaks, notes)
    named = {name for head in read.heads for part in ("readings", "switch") for name in head.names(part)}
    fields = READINGS | {one.name: one for one in book.own.readings}
    names = [name for name in fields if name in named]
    columns = {n: tuple(each.values.get(n, math.nan) for each in kept) for n in named}
    values = {n: columns[n] for n in names if any(map(math.isfinite, columns[n]))}
    values = _held(values, times, pieces, gap, notes)
    facts, words = _facts(kept, read.heads, name)
    switches = {n: columns[n] for head in read.heads for n in head.names("switch")}
    _tell_cells(read, tuple(n for n in names if n not in values), notes)
    log = Log(
        name,
        times,
        values,
        switches,
        words,
        pieces,
        units,
        step,
        facts,
        tuple(notes),
        {n: fields[n].kind for n in values},
    )
    return without_faults(log, figures)


def _held(
    values: dict[str, tuple[float, ...]],
    times: Sequence[float],
    pieces: Sequence[tuple[int, int]],
    gap: float,
    notes: list[Reason],
) -> dict[str, tuple[float, ...]]:
    """Where several loggers wrote in turn, each its own columns, a figure holds until its next, for a gap at the most."""
    found = {}
    for name, each in values.items():
        held, between = list(each), 0
        for begin, end in pieces:
            last = -1
            for i in range(begin, end):
                if math.isfinite(each[i]):
                    if last >= 0 and times[i] - times[last] <= gap:
                        between += i - last - 1
                    last = i
                elif last >= 0 and times[i] - times[last] < gap:
                    held[i] = each[last]
        if between > IN_TURN * len(each):
            found[name] = tuple(held)
    if found:
        notes.append(Reason("log-in-turn", {"readings": tuple(found), "longest": gap}))
    return {**values, **found}


def _usual(steps: Sequence[float]) -> float:
    """The middle one of those that lead on, s."""
    found = sorted(each for each in steps if each > 0)
    return found[len(found) // 2] if found else 60.0


def _in_order(read: _Read, clock: Clock, notes: list[Reason]) -> tuple[list[_Record], tuple[float, ...], set[int]]:
    """The records that are taken, their times, and where the clock was set back."""
    moments = [(each, clock.read(each.stamp)) for each in read.records]
    stamped = [(each, time) for each, time in moments if time is not None]
    unread = [each.line for each, time in moments if time is None]
    whole = {each.head for each, _ in stamped if not each.narrow}
    narrow = [each.line for each, _ in stamped if each.narrow and each.head in whole]
    stamped = [pair for pair in stamped if not (pair[0].narrow and pair[0].head in whole)]
    steps = [b - a for (_, a), (_, b) in pairwise(stamped)]
    if sum(each < 0 for each in steps) > 0.5 * max(1, len(steps)):
        stamped.reverse()
        notes.append(Reason("log-newest-first"))
    step = _usual([abs(each) for each in steps])
    kept: list[_Record] = []
    times: list[float] = []
    breaks: set[int] = set()
    repeated, late, shift = 0, 0, 0.0
    seen: dict[float, dict[str, float]] = {}
    highest = [*accumulate((time for _, time in reversed(stamped)), max)][::-1]  # from each record on
    for i, (record, written) in enumerate(stamped):
        again = seen.get(written) == record.values
        seen.setdefault(written, record.values)
        time = written + shift
        by = time - times[-1] if times else step
        if clock.way == "time of day" and by < -DAY / 2:  # midnight
            shift += DAY
            time += DAY
            notes.append(Reason("log-midnight", {"at": time}))
        elif by == 0 or (by < 0 and again):
            repeated += 1
            continue
        elif times and by > DAY and any(0 <= at + shift - times[-1] < DAY for _, at in stamped[i + 1 : i + LASTS]):
            late += 1  # ahead of its time: those behind it go on where it broke off
            continue
        elif by < 0 and abs(by + _HOUR - step) <= max(90.0, 1.5 * step) and clock.offset is None:
            shift += _HOUR
            breaks.add(len(times))
            notes.append(Reason("log-clock-back", {"at": times[-1]}))
            time = time + _HOUR if time + _HOUR > times[-1] else times[-1] + step
        elif by < 0 and highest[i] + shift < times[-1] and len(stamped) - i >= LASTS:
            shift += step - by
            breaks.add(len(times))
            notes.append(Reason("log-clock-set-back", {"at": times[-1], "by": -by}))
            time = times[-1] + step
        elif by < 0:
            late += 1
            continue
        kept.append(record)
        times.append(time)
    for code, lines in (
        ("log-bad-stamps", unread),
        ("log-wide-rows", read.wide),
        ("log-narrow-rows", narrow),
        ("log-no-stamps", read.ragged),
    ):
        if lines:
            notes.append(Reason(code, {"count": len(lines), "line": lines[0]}))
    notes += [Reason(c, {"count": n}) for c, n in (("log-repeated", repeated), ("log-out-of-order", late)) if n]
    return kept, tuple(times), breaks


def _pieces(
    read: _Read, kept: Sequence[_Record], times: Sequence[float], breaks: set[int], notes: list[Reason]
) -> tuple[tuple[tuple[int, int], ...], tuple[dict[str, Unit], ...]]:
    """Cut as well where a new head stands; with the units of each piece."""
    heads = [{c.name: c.unit for c in h.columns if c.part == "readings" and c.unit} for h in read.heads]
    for i, (one, other) in enumerate(pairwise(kept), 1):
        if one.head != other.head:
            before, now = heads[one.head], heads[other.head]
            differs = tuple(n for n, unit in now.items() if n in before and before[n].name != unit.name)
            breaks.add(i)
            notes.append(Reason("log-new-units" if differs else "log-new-head", {"at": times[i], "readings": differs}))
    cuts = sorted({0, *breaks})
    pieces = tuple((a, b) for a, b in zip(cuts, [*cuts[1:], len(kept)], strict=True))
    return pieces, tuple(heads[kept[begin].head] for begin, _ in pieces)


def _facts(
    kept: Sequence[_Record], heads: Sequence[Head], name: str
) -> tuple[dict[str, str], dict[str, tuple[str, ...]]]:
    """Constant columns say what the machine is; the mode and the stage may change. Raises InputProblems for others that do."""
    facts: dict[str, str] = {}
    changing: dict[str, tuple[str, ...]] = {}
    problems = []
    for word in dict.fromkeys(word for head in heads for word in head.names("machine")):
        said = tuple(each.words.get(word, "") for each in kept)
        each = list(dict.fromkeys(filter(None, said)))
        if len(each) == 1:
            facts[word] = each[0]
        elif each and word in _MAY_CHANGE:
            changing[word] = said
        elif each:
            record = kept[said.index(each[1])]
            place = next(column.place for column in heads[record.head].columns if column.name == word)
            what = f"`{word}` changes from `{printable(each[0], 30)}` to `{printable(each[1], 30)}`: a log is of one machine"
            problems.append(told(name, record.line, place, what, "Split the log by machine, and give each alone."))
    if problems:
        raise InputProblems(problems)
    return facts, changing


def _tell_cells(read: _Read, empty: tuple[str, ...], notes: list[Reason]) -> None:
    with_unit = {c.name for head in read.heads for c in head.columns if c.part == "switch" or c.unit}
    for reading, texts in read.bad.items():
        told_of = {"reading": reading, "count": sum(texts.values()), "text": texts.most_common(1)[0][0]}
        notes.append(Reason("log-no-figures" if reading in with_unit else "log-no-unit", told_of))
    for reading, count in read.outside.items():
        notes.append(Reason("log-impossible", {"reading": reading, "count": count}))
    if empty:
        notes.append(Reason("log-empty-columns", {"readings": empty}))
    if read.heads[0].unused:
        notes.append(Reason("log-unused", {"columns": read.heads[0].unused}))
