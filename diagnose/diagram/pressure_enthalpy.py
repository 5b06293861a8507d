"""The pressure-enthalpy diagram: dome, isotherms, the cycle of a visit and the one it should have.

`pressure_enthalpy` draws a diagnosis, `pressure_enthalpy_of` any two cycles of one refrigerant.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log

from diagnose import units
from diagnose.diagram.cycle import Corners, Cycle, Expected, corners, expected_cycle, measured_cycle
from diagnose.diagram.dome import Dome, dome, isotherm
from diagnose.diagram.svg import (
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
    short,
    text,
    text_width,
    through,
)
from diagnose.pipeline import Diagnosis
from diagnose.properties import Refrigerant, liquid_enthalpy
from diagnose.visit import System
from diagnose.wording import number

WIDTH, HEIGHT = 640, 584
FRAME = Box(58, 112, 628, 516)

_F_ZERO = (-40 + 459.67) / 1.8
_TICKS: dict[System, tuple[int, ...]] = {
    "us": (0, 10, 20, 30, 40, 60, 80, 100, 150, 200, 300, 400, 500, 600, 800, 1000),
    "si": (0, 50, 100, 200, 300, 400, 600, 800, 1000, 1500, 2000, 3000, 4000, 5000, 7000),
}
_PER_UNIT: dict[System, float] = {"us": units.PSI, "si": 1000.0}
_GLIDE_SHOWN = 1.0  # K; below it bubble and dew temperature are one figure to a technician


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where a state lies on the paper, and how its figures are written."""

    system: System
    station: float  # Pa
    left: float  # J/kg at the frame's sides
    right: float
    bottom: float  # Pa at the frame's foot and head
    top: float

    def at(self, state: Point) -> Point:
        """Pixels of (J/kg, Pa)."""
        h, p = state
        x = FRAME.left + (h - self.left) / (self.right - self.left) * (FRAME.right - FRAME.left)
        y = FRAME.bottom - log(p / self.bottom) / log(self.top / self.bottom) * (FRAME.bottom - FRAME.top)
        return x, y

    def temperature(self, value: float) -> str:
        return number(value, "temperature", self.system)

    def about(self, value: float) -> str:
        shown = value * 1.8 - 459.67 if self.system == "us" else value - 273.15
        return f"about {shown:.0f} {_degree(self.system)}"

    def difference(self, value: float) -> str:
        return number(value, "difference", self.system)

    def pressure(self, value: float) -> str:
        gauge = value - self.station
        return units.show(gauge, "pressure", units.unit_for("pressure", self.system))


def _degree(system: System) -> str:
    return "°F" if system == "us" else "°C"


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
        expected if isinstance(expected, Expected) else None,
        d.system,
        station_pressure=machine.station_pressure,
        notes=notes,
    )


def pressure_enthalpy_of(
    refrigerant: Refrigerant,
    cycle: Cycle,
    expected: Cycle | Expected | None,
    system: System,
    *,
    station_pressure: float = 101325.0,
    names: tuple[str, str] = ("this visit", "what it should be"),
    notes: Sequence[str] = (),
) -> Drawing | NoDrawing:
    """The diagram of any cycle, and of another beside it (dashed).

    names: what the two are called in the legend. notes: sentences for the words. Gauge pressures count from the station
    pressure, Pa.
    """
    now = corners(refrigerant, cycle)
    if now is None:
        return NoDrawing(f"A pressure lies outside the property table of {refrigerant.name}.")
    wanted = expected if isinstance(expected, Expected) or expected is None else Expected(expected, None)
    ought = corners(refrigerant, wanted.cycle) if wanted else None
    said = wanted.superheat if wanted else None
    both = [now] + ([ought] if ought else [])
    bottom = 0.60 * min(c.cycle.low for c in both)
    shape = dome(refrigerant, bottom)
    s = _scale(both, shape, bottom, system, station_pressure)
    behind, hot = _isotherms(s, refrigerant)
    body = [
        _axes(s, refrigerant),
        behind,
        _dome(s, shape),
        *([_ought(s, ought)] if ought else []),
        _now(s, now),
        _lengths(s, now),
        _legend(names, now, ought is not None),
        _labels(s, refrigerant, now, ought, said, hot),
    ]
    title = f"Pressure and enthalpy of {refrigerant.name}: {names[0]}" + (f" and {names[1]}" if ought else "")
    words = _words(s, refrigerant, now, ought, said, names, notes)
    return drawing("cycle", title, words, WIDTH, HEIGHT, body)


def _scale(both: Sequence[Corners], shape: Dome, bottom: float, system: System, station: float) -> _Scale:
    left = min(min(c.low_liquid, c.liquid) for c in both)
    right = max(max(c.discharge, c.suction, *(h for h, _ in shape.dew)) for c in both)
    span = right - left
    top = max(1.10 * shape.top[1], *(1.35 * c.cycle.high for c in both))
    return _Scale(system, station, left - 0.08 * span, right + 0.14 * span, bottom, top)


# -- what lies behind ----------------------------------------------------------------------------------------------


def _enthalpy_ticks(s: _Scale, ref: Refrigerant) -> Iterator[tuple[float, str]]:
    """(J/kg, figure) with the zero of printed tables: US 0 for liquid at −40 °F, SI 200 kJ/kg for liquid at 0 °C."""
    zero, start, unit, step = (_F_ZERO, 0.0, 2326.0, 20) if s.system == "us" else (273.15, 200.0, 1000.0, 50)
    base = liquid_enthalpy(ref, zero)
    assert base is not None
    first = ceil(((s.left - base) / unit + start) / step) * step
    for value in range(first, floor((s.right - base) / unit + start) + 1, step):
        yield (value - start) * unit + base, f"{value:,}"


def _axes(s: _Scale, ref: Refrigerant) -> str:
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


def _isotherms(s: _Scale, ref: Refrigerant) -> tuple[str, list[Label]]:
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
        figure = f"{i * step:g} {_degree(s.system)}".replace("-", "−")
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


def _dome(s: _Scale, shape: Dome) -> str:
    points = [*map(s.at, shape.bubble), *map(s.at, reversed(shape.dew))]
    return path(points, fill="none", stroke=SOFT, stroke_width="1.6", class_="mild")


# -- the cycles ----------------------------------------------------------------------------------------------------


def _states(c: Corners) -> dict[str, Point]:
    low, high = c.cycle.low, c.cycle.high
    return {
        "inlet": (c.liquid, low),
        "dew": (c.low_vapour, low),
        "suction": (c.suction, low),
        "discharge": (c.discharge, high),
        "high dew": (c.high_vapour, high),
        "bubble": (c.high_liquid, high),
        "liquid": (c.liquid, high),
    }


def _ought(s: _Scale, c: Corners) -> str:
    at = _states(c)
    round_ = [s.at(at[name]) for name in ("inlet", "suction", "discharge", "liquid")]
    return path(round_, True, fill="none", stroke=INK, stroke_width=2, stroke_dasharray="9 6", class_="ink")


def _now(s: _Scale, c: Corners) -> str:
    """The visit's cycle; where the discharge line was not measured, its two sides are dotted."""
    at = {name: s.at(state) for name, state in _states(c).items()}
    sure = [at["high dew"], at["liquid"], at["inlet"], at["suction"]]
    guessed = [at["suction"], at["discharge"], at["high dew"]]
    dots = "1 7" if c.estimated else None
    parts = [path(sure), path(guessed, stroke_dasharray=dots, stroke_linecap="round")]
    lines = group(parts, fill="none", stroke=THIS, stroke_width="3.5", stroke_linejoin="round", class_="this")
    marks = [_dot(at[name]) for name in ("suction", "discharge", "liquid", "inlet")]
    return lines + group(marks, fill=THIS, class_="dot")


def _dot(at: Point) -> str:
    return element("circle", cx=at[0], cy=at[1], r="5.5")


def _lengths(s: _Scale, c: Corners) -> str:
    """Superheat and subcooling as measured lengths beside the cycle."""
    at = {name: s.at(state) for name, state in _states(c).items()}
    marks = []
    for start, end, off in (("dew", "suction", 15), ("liquid", "bubble", -15)):
        (a, y), (b, _) = at[start], at[end]
        if b - a >= 1:
            y += off
            marks.append(f"M{short(a)} {short(y - 6)}v12M{short(a)} {short(y)}H{short(b)}M{short(b)} {short(y - 6)}v12")
    return element("path", d="".join(marks), fill="none", stroke=INK, stroke_width=2, class_="ink") if marks else ""


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


# -- figures at their places ---------------------------------------------------------------------------------------


def _labels(
    s: _Scale, ref: Refrigerant, now: Corners, ought: Corners | None, said: str | None, hot: Sequence[Label]
) -> str:
    at = {name: s.at(state) for name, state in _states(now).items()}
    lines = list(pairwise([at[n] for n in ("inlet", "suction", "discharge", "liquid", "inlet")]))
    if ought:
        wanted = {name: s.at(state) for name, state in _states(ought).items()}
        lines += list(pairwise([wanted[n] for n in ("inlet", "suction", "discharge", "liquid", "inlet")]))
    lengths = [x for x in (_superheat(s, now, ought, said, at), _subcooling(s, now, ought, at)) if x]
    points, levels = list(_points(s, now, at)), list(_pressures(s, ref, now, ought, at))
    labels = [*lengths, *points, *levels, *hot]
    first = len(lengths) + len(points)  # the widest ones, first in the other order
    other_order = [first, first + 1, *range(first), *range(first + 2, len(labels))]
    dots = [Box(x - 7, y - 7, x + 7, y + 7) for x, y in (at[n] for n in ("suction", "discharge", "liquid", "inlet"))]
    brackets = [
        Box(at["dew"][0], at["dew"][1] + 8, at["suction"][0] + 1, at["dew"][1] + 21),
        Box(at["liquid"][0], at["liquid"][1] - 21, at["bubble"][0] + 1, at["liquid"][1] - 8),
    ]
    room = Box(FRAME.left + 6, FRAME.top + 2, WIDTH - 4, FRAME.bottom - 4)
    heading = text(8, 27, f"{ref.name}: pressure against enthalpy", FONT, class_="bold")
    drawn = [label.draw(place) for label, place in placed(labels, room, [*dots, *brackets], lines, [other_order])]
    return group([heading, *drawn], fill=INK)


def _superheat(s: _Scale, now: Corners, ought: Corners | None, said: str | None, at: dict[str, Point]) -> Label | None:
    if now.superheat is None:
        return None
    rows = [f"superheat {s.difference(now.superheat)}"]
    if said:
        rows.append(said)
    elif ought and ought.superheat is not None:
        rows.append(f"should be {s.difference(ought.superheat)}")
    middle = ((at["dew"][0] + at["suction"][0]) / 2, at["dew"][1] + 18)
    return Label(tuple(rows), tuple(around(middle, 7, len(rows), prefer="below, below left, below right")))


def _subcooling(s: _Scale, now: Corners, ought: Corners | None, at: dict[str, Point]) -> Label | None:
    if now.subcooling is None:
        return None
    rows = [f"subcooling {s.difference(now.subcooling)}"]
    if ought and ought.subcooling is not None:
        rows.append(f"should be {s.difference(ought.subcooling)}")
    middle = ((at["liquid"][0] + at["bubble"][0]) / 2, at["liquid"][1] - 18)
    return Label(tuple(rows), tuple(around(middle, 7, len(rows), prefer="above, above left, above right")))


def _points(s: _Scale, c: Corners, at: dict[str, Point]) -> Iterator[Label]:
    """The four points by the place of the probe."""

    def figure(value: float | None) -> str:
        return "not measured" if value is None else s.temperature(value)

    hot = s.about(c.discharge_temperature) if c.estimated else s.temperature(c.discharge_temperature)
    rows: tuple[tuple[str, tuple[str, ...], str], ...] = (
        ("suction", ("1 suction line", figure(c.cycle.suction)), "right, above right, below right"),
        ("discharge", ("2 discharge line", hot), "above, above right, above left"),
        ("liquid", ("3 liquid line", figure(c.cycle.liquid)), "left, above left, below left"),
        ("inlet", ("4 after the", "metering device"), "below, below right, below left"),
    )
    for name, said, prefer in rows:
        yield Label(said, tuple(around(at[name], 11, len(said), prefer=prefer)))


def _pressures(
    s: _Scale, ref: Refrigerant, now: Corners, ought: Corners | None, at: dict[str, Point]
) -> Iterator[Label]:
    """Evaporating and condensing: temperature, pressure, and what it should be, along the two level lines."""
    glide = ref.glide >= _GLIDE_SHOWN
    for side in ("low", "high"):
        verb = "evaporating" if side == "low" else "condensing"
        p = getattr(now.cycle, side)
        bubble, dew = getattr(now, f"{side}_bubble"), getattr(now, f"{side}_dew")
        counts = dew if side == "low" else bubble
        end = "dew " if side == "low" else "bubble "
        if glide:
            first, second = (bubble, dew) if side == "low" else (dew, bubble)
            order = ("bubble", "dew") if side == "low" else ("dew", "bubble")
            rows = [f"{verb} at {s.pressure(p)}"]
            rows.append(
                f"{order[0]} {number(first, 'temperature', s.system, unit=False)}, {order[1]} {s.temperature(second)}"
            )
        else:
            rows = [f"{verb} {s.temperature(counts)}", f"at {s.pressure(p)}"]
            end = ""
        if ought:
            should = getattr(ought, "low_dew" if side == "low" else "high_bubble")
            rows.append(f"should be {end}{s.temperature(should)}")
        a, b = (at["inlet"], at["dew"]) if side == "low" else (at["bubble"], at["high dew"])
        places: list[tuple[float, float, str]] = []
        half = 0.6 * FONT * len(rows)
        for off in (9, 20, 34, 50, 75, 100, 130):
            for part in (0.5, 0.42, 0.58, 0.35, 0.65, 0.28, 0.72):
                x = a[0] + part * (b[0] - a[0])
                above, below = (x, a[1] - off - half, "middle"), (x, a[1] + off + half, "middle")
                places += [below, above] if side == "low" else [above, below]
        yield Label(tuple(rows), tuple(places))


# -- the same in words ---------------------------------------------------------------------------------------------


def _words(
    s: _Scale,
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
        f"Drawn through, {names[0]}: {_told(s, ref, now)}",
    ]
    if now.estimated:
        parts.append(
            "The discharge line was not measured: its point is an estimate for a sound compressor "
            f"(efficiency {now.cycle.efficiency:.2f}), {s.about(now.discharge_temperature)}, and dotted."
        )
    if now.superheat is not None and now.superheat < 0:
        parts.append(
            "A suction line below the dew temperature means wet vapour; how wet cannot be told, so it is drawn dry."
        )
    if now.subcooling is not None and now.subcooling < 0:
        parts.append(
            "A liquid line above the bubble temperature means bubbles; how many cannot be told, so none are drawn."
        )
    if ought is not None:
        parts.append(f"Dashed, {names[1]}: {_told(s, ref, ought, said)}")
    parts += notes
    if ref.glide >= _GLIDE_SHOWN:
        parts.append(
            f"{ref.name} has a glide: at one pressure it boils from its bubble to its dew temperature, so the lines of equal "
            "temperature fall to the right inside the dome."
        )
    return " ".join(parts)


def _told(s: _Scale, ref: Refrigerant, c: Corners, said: str | None = None) -> str:
    kind = {"dew": " dew temperature", "bubble": " bubble temperature"} if ref.glide >= _GLIDE_SHOWN else {}
    parts = [f"evaporating at {s.pressure(c.cycle.low)}, {s.temperature(c.low_dew)}{kind.get('dew', '')}"]
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
    parts.append(f"condensing at {s.pressure(c.cycle.high)}, {s.temperature(c.high_bubble)}{kind.get('bubble', '')}")
    if c.cycle.liquid is not None and c.subcooling is not None:
        parts.append(
            f"liquid line {s.temperature(c.cycle.liquid)}, which is {s.difference(c.subcooling)} of subcooling"
        )
    else:
        parts.append("liquid line not measured")
    return "; ".join(parts) + "."
