"""The chart of a day: pressures, pipes, air and current over the hours, when it ran, and what was examined; SVG."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from diagnose import units
from diagnose.batch.logs.model import ExaminedLog
from diagnose.batch.logs.notes import moment, time_text
from diagnose.batch.logs.stamps import DAY, day_of, day_text, shown
from diagnose.report.drawings.svg import (
    GRID,
    INK,
    SMALL,
    SOFT,
    THIS,
    Box,
    Drawing,
    Point,
    drawing,
    element,
    group,
    path,
    text,
    text_width,
)
from diagnose.report.wording import upper_first
from diagnose.units import System
from diagnose.visit.fields import READINGS

WIDTH = 640
_LEFT, _RIGHT, _HIGH, _GAP = 56.0, 628.0, 110.0, 40.0
_PANELS: tuple[tuple[str, Mapping[str, str]], ...] = (
    ("pressures", {"suction pressure": "suction", "liquid pressure": "liquid"}),
    ("pipes", {"suction line temperature": "suction line", "liquid line temperature": "liquid line",
               "vapour line temperature": "vapor line"}),
    ("air", {"outdoor air temperature": "outdoor", "return air dry bulb": "return", "supply air dry bulb": "supply"}),
    ("current", {"compressor current": "compressor"}),
    ("power", {"electric power": "whole machine"}),
)  # fmt: skip
_LOOKS: tuple[dict[str, Any], ...] = (
    {"stroke": THIS, "class_": "this", "stroke_width": "2"},
    {"stroke": INK, "class_": "ink", "stroke_width": "1.4"},
    {"stroke": SOFT, "class_": "mild", "stroke_width": "1.6", "stroke_dasharray": "6 4"},
)
_COLUMNS = 286  # px pairs across a panel: of the records in each, the highest and the lowest are drawn
MOST_DAYS = 10


@dataclass(frozen=True, slots=True)
class _Across:
    """Where a moment lies on the paper."""

    begin: float
    end: float

    def at(self, time: float) -> float:
        return _LEFT + (time - self.begin) / max(self.end - self.begin, 1.0) * (_RIGHT - _LEFT)


def day_charts(log: ExaminedLog, system: System) -> list[Drawing]:
    """A chart for each day of the log; one of all of it where these would be too many, or it has no dates."""
    times = log.log.times
    first, last = times[0], times[-1]
    days = sorted({int(time // DAY) for time in times})
    if last - first <= DAY or not day_of(first) or len(days) > MOST_DAYS:
        return [_chart(log, first, last, system, 0)]
    return [
        _chart(log, max(first, day * DAY), min(last, (day + 1) * DAY), system, number)
        for number, day in enumerate(days)
    ]


def _chart(log: ExaminedLog, begin: float, end: float, system: System, number: int) -> Drawing:
    across = _Across(begin, end)
    values = log.log.values
    panels = [(title, {n: word for n, word in lines.items() if n in values}) for title, lines in _PANELS]
    panels = [(title, lines) for title, lines in panels if lines]
    top = 78.0
    foot = top + len(panels) * (_HIGH + _GAP)
    when = day_of(begin) or "The log"
    when += f" to {day_of(end)}" if end - begin > DAY else ""
    body = [text(8, 24, f"{when}: numbered bands were examined", SMALL, class_="bold")]
    body += _bands(log, across, top - 16, foot - _GAP + 16)
    body += _spells(log, across)
    for place, (title, lines) in enumerate(panels):
        upper = top + place * (_HIGH + _GAP) + 24
        body += _panel(log, title, lines, Box(_LEFT, upper, _RIGHT, upper + _HIGH - 8), across, system)
    body += _hours(across, foot, bool(day_of(begin)))
    return drawing(
        f"day{number}",
        f"{when}, as it was logged",
        _words(log, begin, end),
        WIDTH,
        round(foot + 12),
        [group(body, fill=INK)],
    )


def _words(log: ExaminedLog, begin: float, end: float) -> str:
    ran = sum(max(0.0, min(end, log.log.times[s.end - 1]) - max(begin, log.log.times[s.begin])) for s in log.spells)
    starts = sum(begin <= log.log.times[s.begin] <= end for s in log.spells if s.started)
    number = sum(begin <= each.begin <= end for each in log.stretches)
    return (
        f"From {moment(log.log, begin)} to {moment(log.log, end)} the machine ran {time_text(ran)} and started "
        f"{starts} time{'' if starts == 1 else 's'}; {number} stretch{'' if number == 1 else 'es'} examined. "
        "The figures stand in the tables."
    )


def _bands(log: ExaminedLog, across: _Across, top: float, bottom: float) -> Iterator[str]:
    free = -math.inf
    for number, each in enumerate(log.stretches, 1):
        if each.end < across.begin or each.begin > across.end:
            continue
        x, right = across.at(max(each.begin, across.begin)), across.at(min(each.end, across.end))
        wide = max(right - x, 2.0)
        yield element(
            "rect", x=x, y=top, width=wide, height=bottom - top, fill=GRID, class_="band", fill_opacity="0.55"
        )
        middle = min(max(x + wide / 2, _LEFT + 6), _RIGHT - 6)
        half = 0.55 * text_width(f"{number}", SMALL)  # bold
        if middle - half >= free:
            yield text(middle, top + 14, f"{number}", SMALL, "middle", "bold")
            free = middle + half + 4


def _spells(log: ExaminedLog, across: _Across) -> Iterator[str]:
    """A bar while it runs, a tick at each start; short cycling, hunting and defrosts below it; gaps as dots."""
    y = 42.0
    yield text(_LEFT - 6, y + 5, "runs", SMALL, "end")
    times = log.log.times
    for spell in log.spells:
        a, b = max(times[spell.begin], across.begin), min(times[spell.end - 1], across.end)
        if a > b:
            continue
        yield element(
            "rect",
            x=across.at(a),
            y=y - 5,
            width=max(across.at(b) - across.at(a), 1.5),
            height="10",
            fill=THIS,
            class_="dot",
        )
    for (_, before), (after, _) in pairwise(log.log.pieces):
        a, b = times[before - 1], times[after]
        if b >= across.begin and a <= across.end and b - a > log.log.step:
            ends = ((across.at(max(a, across.begin)), y), (across.at(min(b, across.end)), y))
            yield path(ends, stroke=SOFT, class_="mild", stroke_dasharray="2 4", stroke_width="2")
    for event in log.events:
        if event.end < across.begin or event.begin > across.end:
            continue
        a, b = across.at(max(event.begin, across.begin)), across.at(min(event.end, across.end))
        yield path(((a, y + 11), (max(b, a + 3), y + 11)), stroke=INK, class_="ink", stroke_width="3")


def _panel(
    log: ExaminedLog, title: str, lines: Mapping[str, str], box: Box, across: _Across, system: System
) -> Iterator[str]:
    kind = READINGS[next(iter(lines))].kind
    unit = {"current": "A", "capacity": "kW"}.get(kind) or units.unit_for(kind, system)
    drawn = {name: list(_points(log, name, across, unit)) for name in lines}
    figures = [y for pieces in drawn.values() for piece in pieces for _, y in piece]
    x = box.left
    name = {"F": "°F", "C": "°C"}.get(unit, unit)
    yield text(x, box.top - 8, f"{upper_first(title)}, {name}:", SMALL, class_="bold")
    x += 1.1 * text_width(f"{upper_first(title)}, {name}: ", SMALL) + 14
    for look, word in zip(_LOOKS, lines.values(), strict=False):
        yield path(((x, box.top - 13), (x + 26, box.top - 13)), fill="none", **look)
        yield text(x + 32, box.top - 8, word, SMALL)
        x += 32 + text_width(word, SMALL) + 18
    if not figures:
        return
    low, high = min(figures), max(figures)
    step = _step(high - low)
    low, high = math.floor(low / step) * step, max(math.ceil(high / step) * step, math.floor(low / step) * step + step)

    def up(value: float) -> float:
        return box.bottom - (value - low) / (high - low) * (box.bottom - box.top)

    for i in range(round((high - low) / step) + 1):
        y = up(low + i * step)
        yield path(((box.left, y), (box.right, y)), stroke=GRID, class_="grid")
        yield text(box.left - 6, y + 5, f"{low + i * step:g}".replace("-", "−"), SMALL, "end", "soft")
    for look, pieces in zip(_LOOKS, drawn.values(), strict=False):
        for piece in pieces:
            yield path([(a, up(value)) for a, value in piece], fill="none", **look)


def _step(span: float) -> float:
    """1, 2, 2.5 or 5 of a tenfold, so that at most four steps span it."""
    tenfold = 10.0 ** math.floor(math.log10(max(span, 0.4) / 4))
    return next(side * tenfold for side in (1, 2, 2.5, 5, 10) if side * tenfold * 4 >= span)


def _points(log: ExaminedLog, name: str, across: _Across, unit: str) -> Iterator[list[Point]]:
    """Lines that break where the log does, thinned to what can be seen: the lowest and highest of each column of pixels."""
    values, times = log.log.values[name], log.log.times
    kind = READINGS[name].kind
    for first, last in log.log.pieces:
        columns: dict[int, list[Point]] = {}
        for i in range(first, last):
            if not across.begin <= times[i] <= across.end:
                continue
            if math.isnan(values[i]):
                if columns:
                    yield _thin(columns)
                columns = {}
                continue
            x = across.at(times[i])
            columns.setdefault(int((x - _LEFT) / (_RIGHT - _LEFT) * _COLUMNS), []).append(
                (x, units.from_si(values[i], unit, kind))
            )
        if columns:
            yield _thin(columns)


def _thin(columns: Mapping[int, Sequence[Point]]) -> list[Point]:
    found: list[Point] = []
    for each in columns.values():
        low, high = min(each, key=lambda p: p[1]), max(each, key=lambda p: p[1])
        found += [low] if low == high else sorted((low, high))
    return found


def _hours(across: _Across, y: float, dated: bool) -> Iterator[str]:
    span = across.end - across.begin
    step = next(
        (s for s in (300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800) if span / s <= 8), 604800
    )
    time = math.ceil(across.begin / step) * step
    while time <= across.end:
        x = across.at(time)
        yield path(((x, y - _GAP + 16), (x, y - _GAP + 22)), stroke=SOFT, class_="mild")
        label = day_text(time) if step >= 86400 and dated else shown(time)
        yield text(min(max(x, _LEFT + 4), _RIGHT - 16), y - _GAP + 38, label, SMALL, "middle", "soft")
        time += step
