"""A vacuum over the minutes after the pump was valved off, with its limits: a leak climbs, water levels off."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.drawings.svg import (
    FONT,
    GRID,
    INK,
    SMALL,
    THIS,
    Box,
    Drawing,
    NoDrawing,
    Point,
    drawing,
    element,
    group,
    path,
    text,
)
from diagnose.report.start_up import found_text
from diagnose.visit import System
from diagnose.visit.start_up_fields import VACUUM

WIDTH, HEIGHT = 640, 420
FRAME = Box(76, 66, 620, 366)
_UNIT: dict[System, tuple[float, str]] = {"us": (units.MICRON, "microns"), "si": (1.0, "Pa")}


def vacuum_chart(d: Diagnosis) -> Drawing | NoDrawing:
    """The chart of a start-up's vacuum; it needs two readings."""
    rows = d.visit.start_up.pairs(VACUUM) if d.visit.start_up is not None else ()
    if d.start_up is None or len(rows) < 2:
        return NoDrawing("The chart of a vacuum needs two readings after the pump was valved off.")
    item = next(item for item in d.start_up.items if item.item == "decay test")
    scale, unit = _UNIT[d.system]
    minutes = [time.value / 60 for time, _ in rows]
    shown = [max(pressure.value, units.MICRON) / scale for _, pressure in rows]
    limits = (item.figures["depth"] / scale, item.figures["stays"] / scale)
    step = _step(max(*shown, *limits))
    high = step * ceil(1.05 * max(*shown, *limits) / step)  # counted evenly: only so a leak climbs in a straight line

    def at(minute: float, value: float) -> Point:
        share = (minute - minutes[0]) / (minutes[-1] - minutes[0])
        x = FRAME.left + 8 + share * (FRAME.right - FRAME.left - 16)
        return x, FRAME.bottom - value / high * (FRAME.bottom - FRAME.top)

    points = [at(minute, value) for minute, value in zip(minutes, shown, strict=True)]
    body = [
        _grid(step, high),
        *(_limit(at(minutes[0], limit)[1]) for limit in limits),
        path(points, fill="none", stroke=THIS, stroke_width="2.4", class_="this"),
        *(element("circle", cx=x, cy=y, r=5, fill=THIS, class_="dot") for x, y in points),
        _words(minutes, limits, unit),
    ]
    told = ", ".join(f"{value:,.0f} {unit} at {minute:g} minutes" for minute, value in zip(minutes, shown, strict=True))
    words = f"The vacuum after the pump was valved off: {told}. {found_text(d, item)}"
    return drawing("vacuum", "The vacuum after the pump was valved off", words, WIDTH, HEIGHT, body)


def _step(most: float) -> float:
    """1, 2 or 5 of a tenfold, so that five to twelve lines lie up to the highest figure."""
    tenfold = 10.0 ** floor(log10(most / 5))
    return tenfold * max(side for side in (1, 2, 5) if side * tenfold <= most / 5)


def _grid(step: float, high: float) -> str:
    """The frame, and the lines of equal pressure with their figures."""
    lines, words = [], []
    for i in range(round(high / step) + 1):
        y = round(FRAME.bottom - i * step / high * (FRAME.bottom - FRAME.top))
        lines.append(f"M{FRAME.left:g} {y}H{FRAME.right:g}")
        words.append(text(FRAME.left - 8, y + 5, f"{i * step:,.0f}", SMALL, "end"))
    frame = f"M{FRAME.left:g} {FRAME.top:g}V{FRAME.bottom:g}H{FRAME.right:g}"
    return (
        element("path", d="".join(lines), fill="none", stroke=GRID, class_="grid")
        + element("path", d=frame, fill="none", stroke=INK, class_="ink")
        + group(words, fill=INK)
    )


def _limit(y: float) -> str:
    line = f"M{FRAME.left:g} {y:.1f}H{FRAME.right:g}"
    return element("path", d=line, fill="none", stroke=INK, stroke_width="1.6", stroke_dasharray="9 6", class_="ink")


def _words(minutes: Sequence[float], limits: Sequence[float], unit: str) -> str:
    """Title, units, and the first and last minute; what the dashed lines are."""
    depth, stays = limits
    return group(
        [
            text(8, 25, "The vacuum after the pump was valved off", FONT, class_="bold"),
            text(8, 50, f"{unit}; dashed: at most {depth:,.0f} at the start, {stays:,.0f} at the end", SMALL),
            text(FRAME.left + 8, FRAME.bottom + 22, f"{minutes[0]:g}", SMALL, "middle"),
            text(FRAME.right - 8, FRAME.bottom + 22, f"{minutes[-1]:g}", SMALL, "end"),
            text(FRAME.right - 8, FRAME.bottom + 44, "minutes", SMALL, "end"),
        ],
        fill=INK,
    )
