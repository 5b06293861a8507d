"""Pictures of a fleet: bars with their uncertainty, and how soon an order of visits reaches the faults; SVG."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from diagnose.report.drawings.svg import (
    GRID,
    INK,
    SMALL,
    SOFT,
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

WIDTH = 640
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


def reaching(title: str, chances: Sequence[float]) -> Drawing:
    """Expected faults reached against visits: in this order, and in any other."""
    left, right, top, bottom = 62.0, 620.0, 66.0, 286.0
    whole, count = sum(chances), len(chances)
    step, across_step = _step(whole), max(1.0, _step(count))
    high = ceil(whole / step - 1e-9) * step

    def at(visits: float, faults: float) -> tuple[float, float]:
        return left + visits / count * (right - left), bottom - faults / high * (bottom - top)

    body = [
        text(8, 24, title, SMALL, class_="bold"),
        text(8, 46, "expected machines with a fault", SMALL, class_="soft"),
    ]
    for i in range(round(high / step) + 1):
        _, y = at(0, i * step)
        body.append(path(((left, y), (right, y)), stroke=GRID, class_="grid"))
        body.append(text(left - 8, y + 5, f"{i * step:g}", SMALL, "end", "soft"))
    for i in range(int(count / across_step + 1e-9) + 1):
        x, _ = at(i * across_step, 0)
        body.append(text(min(x, right - 8), bottom + 20, f"{i * across_step:g}", SMALL, "middle", "soft"))
    body.append(text(right, bottom + 42, "visits", SMALL, "end", "soft"))
    points, so_far = [at(0, 0)], 0.0
    every = max(1, count // 280)
    for i, chance in enumerate(chances, 1):
        so_far += chance
        if i % every == 0 or i == count:
            points.append(at(i, so_far))
    body.append(
        path(
            (at(0, 0), at(count, whole)),
            fill="none",
            stroke=SOFT,
            class_="mild",
            stroke_dasharray="6 4",
            stroke_width="1.6",
        )
    )
    body.append(path(points, fill="none", stroke=THIS, class_="this", stroke_width="2.4"))
    middle = at(count * 0.62, whole * 0.62)
    body.append(text(middle[0] + 8, middle[1] + 24, "in any order", SMALL, class_="soft"))
    x, y = at(count * 0.4, sum(chances[: round(count * 0.4)]))
    body.append(text(x - 10, y - 8, "worst first", SMALL, "end", "bold"))
    half = next(i for i in range(1, count + 1) if sum(chances[:i]) >= whole / 2 - 1e-9)
    words = (
        f"Worst first, half of the expected {whole:.1f} machines with a fault are reached in {half} of {count} visits; in any "
        f"order in {count / 2:g}."
    )
    return drawing("reach", title, words, WIDTH, 340, [group(body, fill=INK)])
