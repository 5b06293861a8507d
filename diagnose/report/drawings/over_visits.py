"""A machine's quantities over its visits, each against the band in which it should lie; SVG."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.story import FOLLOWED, Figure, Look, day
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.drawings.svg import (
    GRID,
    INK,
    SMALL,
    THIS,
    Box,
    Drawing,
    NoDrawing,
    drawing,
    element,
    group,
    path,
    text,
)
from diagnose.report.wording import in_units, number, upper_first
from diagnose.units import System

WIDTH = 640
_LEFT, _RIGHT, _TOP, _HIGH, _GAP = 52.0, 622.0, 44.0, 92.0, 44.0
_STEPS = (1, 2, 5, 10, 20, 50, 100)
_ROOM = 92.0  # px between two dates


def over_visits(machine: str, looks: Sequence[Look], system: System) -> Drawing | NoDrawing:
    """Superheat, subcooling, condensing over ambient and split over the dates, as far as they were measured at all."""
    shown = [name for name in FOLLOWED if any(name in look.story.figures for look in looks)]
    if not shown:
        return NoDrawing("None of the quantities that are followed was measured on any visit.")
    days = [day(look.date) for look in looks]
    first, last = min(days), max(days)

    def across(when: float) -> float:
        return (
            (_LEFT + _RIGHT) / 2
            if last == first
            else _LEFT + 14 + (when - first) / (last - first) * (_RIGHT - _LEFT - 28)
        )

    body = [text(8, 27, "Over the visits: dots with ± are readings, gray is normal", SMALL, class_="bold")]
    for place, name in enumerate(shown):
        top = _TOP + place * (_HIGH + _GAP) + 24
        box = Box(_LEFT, top, _RIGHT, top + _HIGH)
        points = [
            (across(when), look.story.figures[name])
            for when, look in zip(days, looks, strict=True)
            if name in look.story.figures
        ]
        body += _panel(box, name, points, system)
    foot = _TOP + len(shown) * (_HIGH + _GAP) + 8
    body += _dates(looks, [across(when) for when in days], foot)
    words = ". ".join(_words(name, looks, system) for name in shown) + "."
    return drawing("visits", f"{machine} over its visits", words, WIDTH, round(foot + 16), [group(body, fill=INK)])


def _panel(box: Box, name: str, points: Sequence[tuple[float, Figure]], system: System) -> Iterator[str]:
    shown = [(x, figure, *_limits(figure, system)) for x, figure in points]
    low, high = min(0.0, *(limits[0] for *_, limits in shown)), max(limits[1] for *_, limits in shown)
    high = max(high, low + 1.0) * 1.05

    def up(value: float) -> float:
        return box.bottom - (value - low) / (high - low) * (box.bottom - box.top)

    unit = in_units(0.0, "difference", system)[1]
    yield text(box.left, box.top - 8, f"{upper_first(name)}, {unit}", SMALL, class_="bold")
    step = next((s for s in _STEPS if (high - low) / s <= 4), _STEPS[-1])
    for tick in range(int(low // step) * step, int(high) + 1, step):
        if low <= tick <= high:
            y = up(tick)
            yield path(((box.left, y), (box.right, y)), stroke=GRID, class_="grid")
            yield text(box.left - 6, y + 5, f"{tick}".replace("-", "−"), SMALL, "end", "soft")
    banded = [(x, band) for x, _, band, _ in shown if band is not None]
    if banded:
        wide = [(x, *band) for x, band in banded]
        if len(wide) == 1:
            x, below, above = wide[0]
            wide = [(x - 12, below, above), (x + 12, below, above)]
        outline = [(x, up(above)) for x, _, above in wide] + [
            (x, up(max(below, low))) for x, below, _ in reversed(wide)
        ]
        yield path(outline, closed=True, fill=GRID, class_="band", fill_opacity="0.6")
    yield path([(x, up(_in(f.value, system))) for x, f, *_ in shown], fill="none", stroke=THIS, class_="this")
    for x, figure, *_ in shown:
        value, error = _in(figure.value, system), _in(COVERAGE * figure.sigma, system)
        ends = ((x, up(max(value - error, low))), (x, up(value + error)))
        yield path(ends, stroke=THIS, stroke_width="1.5", class_="this")
        yield element("circle", cx=x, cy=up(value), r="4", fill=THIS, class_="dot")


def _in(value: float, system: System) -> float:
    return in_units(value, "difference", system)[0]


def _limits(figure: Figure, system: System) -> tuple[tuple[float, float] | None, tuple[float, float]]:
    """The band in which it is normal; and the lowest and highest of all that is drawn."""
    value, error = _in(figure.value, system), _in(COVERAGE * figure.sigma, system)
    if figure.low is None or figure.high is None:
        return None, (value - error, value + error)
    below, above = _in(figure.low, system), _in(figure.high, system)
    return (below, above), (min(value - error, below), max(value + error, above))


def _dates(looks: Sequence[Look], places: Sequence[float], y: float) -> Iterator[str]:
    """The first and the last, and of the others those that have room."""
    taken: list[float] = []
    for i in (0, len(looks) - 1, *range(1, len(looks) - 1)):
        if all(abs(places[i] - other) >= _ROOM for other in taken):
            taken.append(places[i])
            x = min(max(places[i], _LEFT + 36), _RIGHT - 36)
            yield text(x, y, looks[i].date[:10], SMALL, "middle", "soft")


def _words(name: str, looks: Sequence[Look], system: System) -> str:
    told = [(look, look.story.figures[name]) for look in looks if name in look.story.figures]
    look, figure = told[-1]
    text = f"{upper_first(name)}, last {number(figure.value, 'difference', system)} on {look.date[:10]}"
    if figure.expected is not None:
        text += f" where {number(figure.expected, 'difference', system)} was expected"
    return f"{text}, first {number(told[0][1].value, 'difference', system)}" if len(told) > 1 else text
