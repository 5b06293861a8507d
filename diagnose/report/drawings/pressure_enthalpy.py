"""The pressure-enthalpy diagram: dome, isotherms, the cycle of a visit and the one it should have.

`pressure_enthalpy` draws a diagnosis, `pressure_enthalpy_of` any two cycles of one refrigerant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from math import ceil, floor

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.properties import Refrigerant, liquid_enthalpy
from diagnose.report.drawings.cycle import Corners, Cycle, ExpectedCycle, corners, expected_cycle, measured_cycle
from diagnose.report.drawings.dome import Dome, dome, isotherm
from diagnose.report.drawings.figures import (
    FRAME,
    GLIDE_SHOWN,
    HEIGHT,
    WIDTH,
    DrawingScale,
    degree,
    labeled,
    offsets,
    states,
)
from diagnose.report.drawings.svg import (
    GRID,
    HOT,
    INK,
    PAPER,
    SMALL,
    SOFT,
    THIS,
    Drawing,
    Label,
    NoDrawing,
    Point,
    around,
    drawing,
    element,
    group,
    path,
    short,
    text,
    text_width,
    through,
)
from diagnose.visit import System

_F_ZERO = (-40 + 459.67) / 1.8
_TICKS: dict[System, tuple[int, ...]] = {
    "us": (0, 10, 20, 30, 40, 60, 80, 100, 150, 200, 300, 400, 500, 600, 800, 1000),
    "si": (0, 50, 100, 200, 300, 400, 600, 800, 1000, 1500, 2000, 3000, 4000, 5000, 7000),
}
_PER_UNIT: dict[System, float] = {"us": units.PSI, "si": 1000.0}


def pressure_enthalpy(d: Diagnosis) -> Drawing | NoDrawing:
    """The diagram of a visit: its own cycle, and the one it should have where that is known."""
    cycle, machine = measured_cycle(d), d.visit.machine
    if isinstance(cycle, NoDrawing):
        return cycle
    assert machine.refrigerant is not None
    expected = expected_cycle(d)
    notes = [expected.why] if isinstance(expected, NoDrawing) else []
    return pressure_enthalpy_of(
        machine.refrigerant,
        cycle,
        expected if isinstance(expected, ExpectedCycle) else None,
        d.system,
        station_pressure=machine.station_pressure,
        notes=notes,
    )


def pressure_enthalpy_of(
    refrigerant: Refrigerant,
    cycle: Cycle,
    expected: Cycle | ExpectedCycle | None,
    system: System,
    *,
    station_pressure: float = 101325.0,
    names: tuple[str, str] = ("this visit", "what it should be"),
    verb: str = "should be",
    notes: Sequence[str] = (),
) -> Drawing | NoDrawing:
    """The diagram of any cycle, and of another beside it (dashed).

    names: what the two are called in the legend. verb: what the labels say of the other one. notes: sentences for the words.
    Gauge pressures count from the station pressure, Pa.
    """
    now = corners(refrigerant, cycle)
    if now is None:
        return NoDrawing(f"A pressure lies outside the property table of {refrigerant.name}.")
    wanted = expected if isinstance(expected, ExpectedCycle) or expected is None else ExpectedCycle(expected, None)
    ought = corners(refrigerant, wanted.cycle) if wanted else None
    said = wanted.superheat if wanted else None
    both = [now] + ([ought] if ought else [])
    bottom = 0.60 * min(c.cycle.low for c in both)
    shape = dome(refrigerant, bottom)
    s = _scale(both, shape, bottom, system, station_pressure)
    behind, hot = _isotherms(s, refrigerant)
    off = offsets(s, now, ought)
    begins = _bubbles_begin(s, shape, now)
    mark, label = _flashing(s, begins, now.liquid)
    clear, labels = labeled(s, refrigerant, now, ought, said, hot, off, verb, _outline(s, shape), label)
    body = [
        _axes(s, refrigerant),
        behind,
        _dome(s, shape),
        clear,
        *([_ought(s, ought)] if ought else []),
        _now(s, now),
        mark,
        _lengths(s, now, off),
        _legend(names, now, ought is not None),
        labels,
    ]
    title = f"Pressure and enthalpy of {refrigerant.name}: {names[0]}" + (f" and {names[1]}" if ought else "")
    words = _words(s, refrigerant, now, ought, said, names, [*notes, *_told_besides(s, now, begins)])
    return drawing("cycle", title, words, WIDTH, HEIGHT, body)


def _scale(both: Sequence[Corners], shape: Dome, bottom: float, system: System, station: float) -> DrawingScale:
    left = min(min(c.low_liquid, c.liquid) for c in both)
    right = max(max(c.discharge, c.suction, *(h for h, _ in shape.dew)) for c in both)
    span = right - left
    top = max(1.10 * shape.top[1], *(1.35 * c.cycle.high for c in both))
    return DrawingScale(system, station, left - 0.08 * span, right + 0.14 * span, bottom, top)


# -- what lies behind ----------------------------------------------------------------------------------------------


def _enthalpy_ticks(s: DrawingScale, ref: Refrigerant) -> Iterator[tuple[float, str]]:
    """(J/kg, figure) with the zero of printed tables: US 0 for liquid at −40 °F, SI 200 kJ/kg for liquid at 0 °C."""
    zero, start, unit, step = (_F_ZERO, 0.0, 2326.0, 20) if s.system == "us" else (273.15, 200.0, 1000.0, 50)
    base = liquid_enthalpy(ref, zero)
    assert base is not None
    first = ceil(((s.left - base) / unit + start) / step) * step
    for value in range(first, floor((s.right - base) / unit + start) + 1, step):
        yield (value - start) * unit + base, f"{value:,}"


def _axes(s: DrawingScale, ref: Refrigerant) -> str:
    lines, words = [], []
    for h, figure in _enthalpy_ticks(s, ref):
        x, _ = s.at((h, s.bottom))
        lines.append(f"M{round(x)} {FRAME.bottom:g}v6")
        if x + text_width(figure, SMALL) / 2 < WIDTH - 1:
            words.append(text(x, FRAME.bottom + 23, figure, SMALL, "middle"))
    last = FRAME.bottom + 40
    for value in _TICKS[s.system]:
        p = value * _PER_UNIT[s.system] + s.station
        if s.bottom < p < s.top:
            _, y = s.at((s.left, p))
            if last - y >= 24:
                lines.append(f"M{FRAME.left:g} {round(y)}h-6")
                words.append(text(FRAME.left - 10, y + 5, f"{value:,}", SMALL, "end"))
                last = y
    zero = "liquid at −40 °F is 0" if s.system == "us" else "liquid at 0 °C is 200"
    unit = "Btu/lb" if s.system == "us" else "kJ/kg"
    words.append(text(FRAME.right, FRAME.bottom + 48, f"enthalpy, {unit} ({zero})", SMALL, "end"))
    words.append(text(6, FRAME.top - 25, "psig" if s.system == "us" else "kPa gauge", SMALL))
    frame = f"M{FRAME.left:g} {FRAME.top:g}V{FRAME.bottom:g}H{FRAME.right:g}"
    return element("path", d=frame + "".join(lines), fill="none", stroke=INK, class_="ink") + group(words, fill=INK)


def _isotherms(s: DrawingScale, ref: Refrigerant) -> tuple[str, list[Label]]:
    """Every 40 °F or 20 °C with its figure: at the head of the frame, or for the hot ones where the line begins."""
    step, zero, unit = (40.0, 459.67, 1.8) if s.system == "us" else (20.0, 273.15, 1.0)
    lines, words, hot = [], [], []
    free = FRAME.left
    for i in range(-3, 10):
        line = isotherm(ref, (i * step + zero) / unit, s.bottom, s.top)
        if line is None:
            continue
        inside = [pair for pair in map(s.at, line.points) if pair[0] <= FRAME.right]
        if len(inside) < 2 or inside[0][0] < FRAME.left + 2:
            continue
        lines.append(through(inside))
        figure = f"{i * step:g} {degree(s.system)}".replace("-", "−")
        x, y = inside[0]
        half = text_width(figure, SMALL) / 2
        if not line.from_liquid:
            if len(inside) == len(line.points):  # its beginning lies inside the frame
                hot.append(
                    Label((figure,), ((x, y - 10, "middle"), (x + half, y - 10, "middle")), SMALL, "soft", False)
                )
        elif x - half > free:
            words.append(text(x, FRAME.top - 7, figure, SMALL, "middle", "soft"))
            free = x + half + 4
    return element("path", d="".join(lines), fill="none", stroke=GRID, class_="grid") + group(words, fill=SOFT), hot


def _dome(s: DrawingScale, shape: Dome) -> str:
    points = [*map(s.at, shape.bubble), *map(s.at, reversed(shape.dew))]
    return path(points, fill="none", stroke=SOFT, stroke_width="1.6", class_="mild")


def _outline(s: DrawingScale, shape: Dome) -> list[tuple[Point, Point]]:
    """The dome in few straight pieces, for labels to keep off."""
    points = [*map(s.at, shape.bubble), *map(s.at, reversed(shape.dew))]
    return list(pairwise([*points[:: max(1, len(points) // 20)], points[-1]]))


def _bubbles_begin(s: DrawingScale, shape: Dome, c: Corners) -> float | None:
    """Pa at which liquid that loses pressure on its way crosses into the dome; None where nothing holds it back."""
    if not c.cycle.held or c.cycle.liquid is None:
        return None
    for (h0, p0), (h1, p1) in pairwise(shape.bubble):
        if min(h0, h1) <= c.liquid <= max(h0, h1) and h0 != h1:
            p = p0 + (p1 - p0) * (c.liquid - h0) / (h1 - h0)
            return p if c.cycle.low < p < c.cycle.high else None
    return None


def _flashing(s: DrawingScale, begins: float | None, enthalpy: float) -> tuple[str, list[Label]]:
    """A ring where the bubbles begin, and what it means."""
    if begins is None:
        return "", []
    at = s.at((enthalpy, begins))
    ring = element("circle", cx=at[0], cy=at[1], r=8, fill=PAPER, stroke=HOT, stroke_width=3, class_="paper hot")
    rows = ("bubbles begin", f"below {s.pressure(begins)}")
    return ring, [Label(rows, tuple(around(at, 13, 2, prefer="left, below left, above left")), of=at)]


def _told_besides(s: DrawingScale, c: Corners, begins: float | None) -> Iterator[str]:
    if c.cycle.air:
        yield (
            "Air in the circuit adds its pressure to the refrigerant’s, so the condensing temperature and the subcooling are "
            "apparent: the refrigerant itself condenses lower."
        )
    if begins is not None:
        yield (
            f"Ring: where the liquid crosses into the dome. Once the restriction has taken it below {s.pressure(begins)}, "
            "bubbles form and the line turns cold."
        )


# -- the cycles ----------------------------------------------------------------------------------------------------


def _ought(s: DrawingScale, c: Corners) -> str:
    at = states(c)
    round_ = [s.at(at[name]) for name in ("inlet", "suction", "discharge", "liquid")]
    return path(round_, True, fill="none", stroke=INK, stroke_width=2, stroke_dasharray="9 6", class_="ink")


def _now(s: DrawingScale, c: Corners) -> str:
    """The visit's cycle; where the discharge line was not measured, its two sides are dotted."""
    at = {name: s.at(state) for name, state in states(c).items()}
    sure = [at["high dew"], at["liquid"], at["inlet"], at["suction"]]
    guessed = [at["suction"], at["discharge"], at["high dew"]]
    dots = "1 7" if c.estimated else None
    parts = [path(sure), path(guessed, stroke_dasharray=dots, stroke_linecap="round")]
    lines = group(parts, fill="none", stroke=THIS, stroke_width="3.5", stroke_linejoin="round", class_="this")
    marks = [element("circle", cx=at[n][0], cy=at[n][1], r="5.5") for n in ("suction", "discharge", "liquid", "inlet")]
    return lines + group(marks, fill=THIS, class_="dot")


def _lengths(s: DrawingScale, c: Corners, off: tuple[float, float]) -> str:
    """Superheat and subcooling as measured lengths beside the cycle."""
    at = {name: s.at(state) for name, state in states(c).items()}
    marks = []
    for start, end, by in (("dew", "suction", off[0]), ("liquid", "bubble", -off[1])):
        (a, y), (b, _) = at[start], at[end]
        if b - a >= 1:
            y += by
            marks.append(f"M{short(a)} {short(y - 6)}v12M{short(a)} {short(y)}H{short(b)}M{short(b)} {short(y - 6)}v12")
    if not marks:
        return ""
    return element("path", d="".join(marks), fill="none", stroke=INK, stroke_width=2, class_="ink lengths")


def _legend(names: tuple[str, str], c: Corners, ought: bool) -> str:
    """One row above the frame: which line is which."""
    rows = [(names[0], {"stroke": THIS, "stroke_width": "3.5", "class_": "this"})]
    if ought:
        rows.append((names[1], {"stroke": INK, "stroke_width": "2", "stroke_dasharray": "9 6", "class_": "ink"}))
    if c.estimated:
        dots = {"stroke": THIS, "stroke_width": "3.5", "stroke_dasharray": "1 7", "stroke_linecap": "round"}
        rows.append(("estimated", {**dots, "class_": "this"}))
    x, parts = 8.0, []
    for name, look in rows:
        parts.append(element("path", d=f"M{round(x)} 57h34", **look))
        parts.append(text(x + 42, 62, name, SMALL))
        x += 42 + text_width(name, SMALL) + 14
    return "".join(parts)


# -- the same in words ---------------------------------------------------------------------------------------------


def _words(
    s: DrawingScale,
    ref: Refrigerant,
    now: Corners,
    ought: Corners | None,
    said: str | None,
    names: tuple[str, str],
    notes: Sequence[str],
) -> str:
    """What the picture shows, in sentences."""
    parts = [
        f"Pressure against enthalpy of {ref.name}, with the saturation dome and lines of equal temperature.",
        f"Solid line, {names[0]}: {_told(s, ref, now)}",
    ]
    if now.estimated:
        parts.append(
            "The discharge line was not measured: its point is an estimate for a sound compressor "
            f"(efficiency {now.cycle.efficiency:.2f}), {s.about(now.discharge_temperature)}, and dotted."
        )
    if now.superheat is not None and now.superheat < 0.05:  # K, told as 0.0
        parts.append(
            "A suction line no warmer than its dew temperature may hold wet vapor; how wet cannot be told, so it is drawn dry."
        )
    if now.subcooling is not None and now.subcooling < 0:
        parts.append(
            "A liquid line above the bubble temperature means bubbles; how many cannot be told, so none are drawn."
        )
    if ought is not None:
        parts.append(f"Dashed line, {names[1]}: {_told(s, ref, ought, said, s.about)}")
    parts += notes
    if ref.glide >= GLIDE_SHOWN:
        parts.append(
            f"{ref.name} has a glide: at one pressure it boils from its bubble to its dew temperature, so the lines of equal "
            "temperature fall to the right inside the dome."
        )
    return " ".join(parts)


def _told(
    s: DrawingScale, ref: Refrigerant, c: Corners, said: str | None = None, shown: Callable[[float], str] | None = None
) -> str:
    """One cycle in words; `shown` writes its evaporating and condensing temperatures."""
    shown = shown or s.temperature
    kind = {"dew": " dew temperature", "bubble": " bubble temperature"} if ref.glide >= GLIDE_SHOWN else {}
    parts = [f"evaporating at {s.pressure(c.cycle.low)}, {shown(c.low_dew)}{kind.get('dew', '')}"]
    if said:
        parts.append(f"superheat: {said}")
    elif c.cycle.suction is not None and c.superheat is not None:
        parts.append(
            f"suction line {s.temperature(c.cycle.suction)}, which is {s.difference(c.superheat)} of superheat"
        )
    else:
        parts.append("suction line not measured")
    if c.cycle.discharge is not None:
        parts.append(f"discharge line {s.temperature(c.cycle.discharge)}")
    parts.append(f"condensing at {s.pressure(c.cycle.high)}, {shown(c.high_bubble)}{kind.get('bubble', '')}")
    if c.cycle.liquid is not None and c.subcooling is not None:
        parts.append(
            f"liquid line {s.temperature(c.cycle.liquid)}, which is {s.difference(c.subcooling)} of subcooling"
        )
    else:
        parts.append("liquid line not measured")
    return "; ".join(parts) + "."
