"""The target superheat of a fixed orifice over outdoor air and return air wet bulb, with the visit's point on it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from diagnose.diagnosis.record import Diagnosis
from diagnose.properties.targets import F, NoTarget, Target, target_superheat
from diagnose.quantities.uncertainty import COVERAGE, Estimate
from diagnose.report.drawings.svg import (
    FONT,
    GRID,
    INK,
    SMALL,
    SOFT,
    THIS,
    Box,
    Drawing,
    Label,
    NoDrawing,
    Point,
    around,
    drawing,
    element,
    group,
    path,
    placed,
    text,
    through,
)
from diagnose.report.wording import no_target_text, number
from diagnose.visit import FIXED_ORIFICE, System

WIDTH, HEIGHT = 640, 560
FRAME = Box(48, 84, 572, 496)

_ZERO = {"us": 459.67 * F, "si": 273.15}
_UNIT = {"us": F, "si": 1.0}
# outdoor air and wet bulb lines in the units of the drawing: first, last, step of the ticks, step between samples
_OUTDOOR: dict[System, tuple[float, float, int, float]] = {"us": (55, 115, 10, 2.5), "si": (12, 48, 6, 1.0)}
_WET: dict[System, range] = {"us": range(50, 77, 4), "si": range(10, 25, 2)}


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where an outdoor temperature and a superheat lie on the paper. K in, pixels out."""

    system: System
    left: float  # K
    right: float
    top: float  # K of superheat at the head of the frame; the foot is 0

    def at(self, outdoor: float, superheat: float) -> Point:
        x = FRAME.left + (outdoor - self.left) / (self.right - self.left) * (FRAME.right - FRAME.left)
        return x, FRAME.bottom - superheat / self.top * (FRAME.bottom - FRAME.top)


def superheat_chart(d: Diagnosis) -> Drawing | NoDrawing:
    """The chart with this visit's target and its superheat, where there is a fixed orifice and both air readings."""
    machine = d.visit.machine
    outdoor, wet, measured = (d.estimates.get(n) for n in ("outdoor air temperature", "return wet bulb", "superheat"))
    if machine.metering is None:
        return NoDrawing("The chart of target superheat needs the metering device.")
    if machine.metering != FIXED_ORIFICE:
        return NoDrawing(
            f"The chart of target superheat is for a fixed orifice. A {machine.metering} holds the superheat itself, so the "
            "machine is charged by subcooling."
        )
    if machine.mode == "heating":
        return NoDrawing("The chart of target superheat is for cooling.")
    lacking = [] if outdoor else ["the outdoor air temperature"]
    lacking += [] if wet else ["the return air wet bulb"]
    if outdoor is None or wet is None:
        return NoDrawing(f"The chart of target superheat needs {' and '.join(lacking)}.")
    target = target_superheat(outdoor.value, wet.value)
    first, last, *_ = _OUTDOOR[d.system]
    low, high = (first * _UNIT[d.system] + _ZERO[d.system], last * _UNIT[d.system] + _ZERO[d.system])
    s = _Scale(
        d.system,
        min(low, outdoor.value - 1.0),
        max(high, outdoor.value + 1.0),
        max(45 * F, measured.value + 3.0 if measured else 0.0),
    )
    labels, marks = _marks(s, outdoor.value, target, measured)
    curves, names, figures = _curves(s)
    own = _curve(s, wet.value) if isinstance(target, Target) else []
    tolerance = d.charge.by.tolerance if d.charge.by and d.charge.method == "superheat" and own else None
    if own:
        x, y = own[-1]
        shown = number(wet.value, "temperature", d.system)
        labels.append(Label((shown,), ((x + 6, y, "start"), (x + 6, y + 14, "start")), SMALL, must=False))
    boxes = [Box(x - 8, y - 8, x + 8, y + 8) for x, y in _points(s, outdoor.value, target, measured)]
    room = Box(FRAME.left + 4, FRAME.top + 2, FRAME.right - 2, FRAME.bottom - 4)
    drawn = [label.draw(place) for label, place in placed(labels, room, [*boxes, *names], list(pairwise(own)))]
    body = [
        _band(s, own, tolerance) if tolerance else "",
        _axes(s),
        curves,
        path(own, fill="none", stroke=INK, stroke_width="1.6", stroke_dasharray="9 6", class_="ink") if own else "",
        figures,
        marks,
        group([text(8, 27, "Target superheat of a fixed orifice", FONT, class_="bold"), *drawn], fill=INK),
    ]
    words = _words(d, outdoor, wet, target, measured)
    return drawing("target", "Target superheat over outdoor air and return air wet bulb", words, WIDTH, HEIGHT, body)


def _points(s: _Scale, outdoor: float, target: Target | NoTarget, measured: Estimate | None) -> list[Point]:
    values = [target.value] if isinstance(target, Target) else []
    return [s.at(outdoor, value) for value in [*values, *([max(measured.value, 0.0)] if measured else [])]]


def _axes(s: _Scale) -> str:
    zero, unit = _ZERO[s.system], _UNIT[s.system]
    degree, rise = ("°F", "°F") if s.system == "us" else ("°C", "K")
    lines, words = [], []
    _, _, step, _ = _OUTDOOR[s.system]
    start = -(-round((s.left - zero) / unit, 6) // step) * step
    for i in range(20):
        kelvin = (start + i * step) * unit + zero
        if kelvin > s.right:
            break
        x, _ = s.at(kelvin, 0.0)
        lines.append(f"M{round(x)} {FRAME.bottom:g}v6")
        words.append(text(x, FRAME.bottom + 23, f"{start + i * step:g}", SMALL, "middle"))
    for value in range(0, 200, 5):
        if value * unit > s.top or (s.system == "us" and value % 10):
            continue
        _, y = s.at(s.left, value * unit)
        lines.append(f"M{FRAME.left:g} {round(y)}h-6")
        words.append(text(FRAME.left - 10, y + 5, f"{value}", SMALL, "end"))
    words.append(text(FRAME.right, FRAME.bottom + 47, f"outdoor air, {degree}", SMALL, "end"))
    words.append(text(8, 58, f"superheat, {rise}", SMALL))
    words.append(text(WIDTH - 6, 58, f"return air wet bulb, {degree}", SMALL, "end", "soft"))
    frame = f"M{FRAME.left:g} {FRAME.top:g}V{FRAME.bottom:g}H{FRAME.right:g}"
    return element("path", d=frame + "".join(lines), fill="none", stroke=INK, class_="ink") + group(words, fill=INK)


def _curve(s: _Scale, wet: float) -> list[Point]:
    """The target over the outdoor air at one wet bulb (K), as far as the table has it."""
    first, last, _, sample = _OUTDOOR[s.system]
    points = []
    for i in range(round((last - first) / sample) + 1):
        outdoor = (first + i * sample) * _UNIT[s.system] + _ZERO[s.system]
        found = target_superheat(outdoor, wet)
        if isinstance(found, Target):
            points.append(s.at(outdoor, found.value))
    return points


def _band(s: _Scale, own: list[Point], tolerance: float) -> str:
    """What passes: this much above and below the target."""
    high = tolerance / s.top * (FRAME.bottom - FRAME.top)
    edge = [(x, y - high) for x, y in own] + [(x, min(y + high, FRAME.bottom)) for x, y in reversed(own)]
    shown = number(tolerance, "difference", s.system)
    words = text(8, FRAME.bottom + 47, f"gray band: within {shown} of the target", SMALL)
    return path(edge, True, fill=GRID, fill_opacity="0.35", class_="band") + words


def _curves(s: _Scale) -> tuple[str, list[Box], str]:
    """The lines of equal wet bulb, where their figures stand (at the right end), and the figures."""
    lines, words, boxes = [], [], []
    for wet in _WET[s.system]:
        points = _curve(s, wet * _UNIT[s.system] + _ZERO[s.system])
        if len(points) < 2:
            continue
        lines.append(through(points))
        x, y = points[-1]
        label = Label((f"{wet}",), ((x + 6, y, "start"),), SMALL, "soft")
        boxes.append(label.box(label.places[0]))
        words.append(label.draw(label.places[0]))
    curves = element("path", d="".join(lines), fill="none", stroke=GRID, stroke_width="1.6", class_="grid")
    return curves, boxes, group(words, fill=SOFT)


def _marks(s: _Scale, outdoor: float, target: Target | NoTarget, measured: Estimate | None) -> tuple[list[Label], str]:
    """The target as a hollow diamond with the ± that passes, the measured superheat as a disc with its own ±."""
    parts: list[str] = []
    labels: list[Label] = []
    x, _ = s.at(outdoor, 0.0)
    if isinstance(target, Target):
        _, y = s.at(outdoor, target.value)
        parts.append(
            element(
                "path",
                d=f"M{x:.1f} {y - 8:.1f}l8 8l-8 8l-8 -8Z",
                fill="#fff",
                stroke=INK,
                stroke_width=2,
                class_="paper ink",
            )
        )
        rows = (f"target {number(target.value, 'difference', s.system)}",)
        labels.append(Label(rows, tuple(around((x, y), 13, 1, prefer="left, right, below left, below right"))))
    else:
        foot = f"M{x:.1f} {FRAME.bottom:g}V{FRAME.top:g}"
        parts.append(element("path", d=foot, stroke=INK, stroke_dasharray="3 5", class_="ink"))
        rows = ("no target here",)
        labels.append(Label(rows, tuple(around((x, FRAME.bottom - 30), 10, 1, prefer="left, right"))))
    if measured is not None:
        _, y = s.at(outdoor, max(measured.value, 0.0))
        half = COVERAGE * measured.sigma / s.top * (FRAME.bottom - FRAME.top)
        bar = f"M{x:.1f} {y - half:.1f}V{y + half:.1f}M{x - 7:.1f} {y - half:.1f}h14M{x - 7:.1f} {y + half:.1f}h14"
        parts.append(element("path", d=bar, fill="none", stroke=THIS, stroke_width=2, class_="this"))
        parts.append(element("circle", cx=x, cy=y, r="5.5", fill=THIS, class_="dot"))
        shown = number(measured.value, "difference", s.system, unit=False)
        margin = number(COVERAGE * measured.sigma, "difference", s.system)
        said = ("measured", f"{shown} ± {margin}")
        labels.append(Label(said, tuple(around((x, y), 13, 2, prefer="right, left, above right, above left"))))
    return labels, "".join(parts)


def _words(d: Diagnosis, outdoor: Estimate, wet: Estimate, target: Target | NoTarget, measured: Estimate | None) -> str:
    """What the chart says, in sentences."""
    at = (
        f"{number(outdoor.value, 'temperature', d.system)} outdoor air and {number(wet.value, 'temperature', d.system)} "
        "return air wet bulb"
    )
    parts = [
        "Target superheat of a fixed orifice over the outdoor air, one line for each return air wet bulb: it falls as the "
        "outdoor air gets warmer and rises with the wet bulb."
    ]
    if isinstance(target, Target):
        parts.append(f"At {at} the target is {number(target.value, 'difference', d.system)}.")
    else:
        parts.append(f"There is no target for this visit: {no_target_text(target, d.system)}.")
    if measured is None:
        parts.append("The superheat was not measured.")
    else:
        shown = number(measured.value, "difference", d.system, unit=False)
        margin = number(COVERAGE * measured.sigma, "difference", d.system)
        parts.append(f"Measured: {shown} ± {margin}.")
        if isinstance(target, Target):
            off = measured.value - target.value
            parts.append(
                f"That is {number(abs(off), 'difference', d.system)} {'above' if off > 0 else 'below'} the target."
            )
    return " ".join(parts)
