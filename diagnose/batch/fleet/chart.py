"""Pictures of a fleet: bars with their uncertainty; SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from diagnose.report.drawings.svg import (
    GRID,
    INK,
    SMALL,
    THIS,
    Drawing,
    drawing,
    element,
    group,
    path,
    text,
    text_width,
)
from diagnose.report.wording import upper_first

NARROW = 400  # px, as wide as a phone shows it whole
_LEFT, _RIGHT = 12.0, 388.0
_ROW = 44.0
MOST = 16  # bars of one picture


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its name, how long it is, between what the true value lies, and what is written behind the name."""

    label: str
    value: float
    low: float
    high: float
    told: str


def bars(kind: str, title: str, over: str, rows: Sequence[Bar], most: float | None = None) -> Drawing:
    """Bars from the left, each with a line between its limits. over: what the axis counts; most: its end, where it is known."""
    shown = rows[:MOST]
    end = most or max([row.high for row in shown] + [1.0])
    step = _step(end)
    top = 62.0
    end = end if most else ceil(end / step - 1e-9) * step

    def across(value: float) -> float:
        return _LEFT + min(max(value, 0.0), end) / end * (_RIGHT - _LEFT)

    bottom = top + _ROW * len(shown)
    body = [text(_LEFT, 24, title, SMALL, class_="bold"), text(_LEFT, 46, over, SMALL, class_="soft")]
    for i in range(int(end / step + 1e-9) + 1):
        x = across(i * step)
        body.append(path(((x, top), (x, bottom)), stroke=GRID, class_="grid"))
        label = f"{round(100 * i * step)} %" if most == 1.0 else f"{i * step:g}"
        anchor = "start" if i == 0 else "end" if x > _RIGHT - 12 else "middle"
        body.append(text(x, bottom + 18, label, SMALL, anchor, "soft"))
    for place, row in enumerate(shown):
        y = top + _ROW * place + 31
        name = _fitting(row.label, _RIGHT - _LEFT - text_width(f"  {row.told}", SMALL))
        body.append(text(_LEFT, y - 13, f"{name}: {row.told}", SMALL))
        wide = max(across(row.value) - _LEFT, 0.5)
        body.append(
            element("rect", x=_LEFT, y=y - 7, width=wide, height="14", fill=THIS, class_="dot", fill_opacity="0.5")
        )
        ends = ((across(row.low), y), (across(row.high), y))
        body.append(path(ends, stroke=INK, class_="ink", stroke_width="2"))
        body += [path(((x, y - 5), (x, y + 5)), stroke=INK, class_="ink", stroke_width="2") for x, _ in ends]
    more = len(rows) - len(shown)
    words = "; ".join(f"{row.label} {row.told}" for row in shown) + (f"; and {more} more" if more else "")
    told = f"{upper_first(words)}. The table below has every figure."
    return drawing(kind, title, told, NARROW, round(bottom + 30), [group(body, fill=INK)])


def _fitting(label: str, room: float) -> str:
    """As much of a name as there is room for."""
    if text_width(label, SMALL) <= room:
        return label
    while label and text_width(f"{label}…", SMALL) > room:
        label = label[:-1]
    return f"{label.rstrip()}…"


def _step(most: float) -> float:
    """1, 2 or 5 of a tenfold, so that at most six steps lead to the end."""
    tenfold = 10.0 ** floor(log10(most / 6)) if most > 0 else 1.0
    return next(side * tenfold for side in (1, 2, 5, 10) if side * tenfold * 6 >= most)
