"""The paper of the pressure-enthalpy diagram: where a state lies on it, and its figures, each at its place and clear of the
others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

from diagnose import units
from diagnose.properties import Refrigerant
from diagnose.report.drawings.cycle import Corners
from diagnose.report.drawings.svg import (
    FONT,
    INK,
    PAPER,
    SOFT,
    Box,
    Label,
    Point,
    around,
    element,
    group,
    placed,
    text,
    through,
)
from diagnose.report.wording import number
from diagnose.visit import System

WIDTH, HEIGHT = 640, 584
FRAME = Box(58, 112, 628, 516)

GLIDE_SHOWN = 1.0  # K; below it bubble and dew temperature are one figure to a technician


@dataclass(frozen=True, slots=True)
class DrawingScale:
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
        """A temperature, K, to a tenth."""
        return number(value, "temperature", self.system)

    def about(self, value: float) -> str:
        """For estimates and rules of thumb, which are good to some degrees."""
        shown = round(value * 1.8 - 459.67 if self.system == "us" else value - 273.15)
        return f"about {shown} {degree(self.system)}".replace("-", "−")

    def difference(self, value: float) -> str:
        """A difference, K, to a tenth."""
        return number(value, "difference", self.system)

    def pressure(self, value: float) -> str:
        """A pressure, Pa absolute, as a gauge shows it."""
        gauge = value - self.station
        return units.show(gauge, "pressure", units.unit_for("pressure", self.system))


def degree(system: System) -> str:
    """The unit of a temperature."""
    return "°F" if system == "us" else "°C"


def states(c: Corners) -> dict[str, Point]:
    """The corners by name, (J/kg, Pa), in the order in which the refrigerant meets them."""
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


OFF = 15.0  # px of the marked lengths from the cycle


def offsets(s: DrawingScale, now: Corners, ought: Corners | None) -> tuple[float, float]:
    """How far below the low side and above the high side the lengths stand: clear of the other cycle's level lines."""

    def off(side: str) -> float:
        if ought is None:
            return OFF
        sign = 1 if side == "low" else -1
        mine, other = (s.at((s.left, getattr(c.cycle, side)))[1] for c in (now, ought))
        beyond = sign * (other - mine)
        return beyond + 13 if abs(beyond - OFF) < 11 else OFF

    return off("low"), off("high")


def labeled(
    s: DrawingScale,
    ref: Refrigerant,
    now: Corners,
    ought: Corners | None,
    said: str | None,
    hot: Sequence[Label],
    off: tuple[float, float],
    verb: str = "should be",
    behind: Sequence[tuple[Point, Point]] = (),
    more: Sequence[Label] = (),
) -> tuple[str, str]:
    """All of them: heading, lengths, the four points, the two pressures; and those of the hot isotherms that find room.

    said: of the superheat, where there is no single target. off: where the lengths stand (`offsets`). verb: what is
    said of the other cycle, `should be` or `was`. behind: lines of the dome, which no label should lie on. more: labels of
    what else is marked. Returns what clears the lines of equal temperature away behind the labels, and the labels.
    """
    at = {name: s.at(state) for name, state in states(now).items()}
    lines = list(pairwise([at[n] for n in ("inlet", "suction", "discharge", "liquid", "inlet")]))
    if ought:
        wanted = {name: s.at(state) for name, state in states(ought).items()}
        lines += list(pairwise([wanted[n] for n in ("inlet", "suction", "discharge", "liquid", "inlet")]))
    lengths = [
        x
        for x in (_superheat(s, now, ought, said, at, off[0], verb), _subcooling(s, now, ought, at, off[1], verb))
        if x
    ]
    points, levels = list(_points(s, now, at)), list(_pressures(s, ref, now, ought, at, verb))
    labels = [*lengths, *points, *levels, *more, *hot]
    some, most = len(lengths), len(lengths) + len(points)
    rest = list(range(most + 2, len(labels)))
    widest = [most, most + 1]  # when they come last, they may not find room
    orders = [[*range(some), *widest, *range(some, most), *rest], [*widest, *range(most), *rest]]
    dots = [Box(x - 7, y - 7, x + 7, y + 7) for x, y in (at[n] for n in ("suction", "discharge", "liquid", "inlet"))]
    brackets = [
        Box(at["dew"][0], at["dew"][1] + off[0] - 7, at["suction"][0] + 1, at["dew"][1] + off[0] + 6),
        Box(at["liquid"][0], at["liquid"][1] - off[1] - 6, at["bubble"][0] + 1, at["liquid"][1] - off[1] + 7),
    ]
    room = Box(FRAME.left + 6, FRAME.top + 2, WIDTH - 4, FRAME.bottom - 4)
    heading = text(8, 27, f"{ref.name}: pressure against enthalpy", FONT, class_="bold")
    found = placed(labels, room, [*dots, *brackets], [*lines, *behind], orders)
    boxes = [label.box(place) for label, place in found]
    clear = "".join(
        f"M{round(b.left)} {round(b.top)}H{round(b.right)}V{round(b.bottom)}H{round(b.left)}Z" for b in boxes
    )
    leads = [line for label, place in found if (line := label.leader(place)) is not None]
    thin = element("path", d="".join(map(through, leads)), fill="none", stroke=SOFT, class_="mild") if leads else ""
    words = group([heading, *(label.draw(place) for label, place in found)], fill=INK)
    return element("path", d=clear, fill=PAPER, class_="paper"), thin + words


def _superheat(
    s: DrawingScale, now: Corners, ought: Corners | None, said: str | None, at: dict[str, Point], off: float, verb: str
) -> Label | None:
    if now.superheat is None:
        return None
    rows = [f"superheat {s.difference(now.superheat)}"]
    if said:
        rows.append(said)
    elif ought and ought.superheat is not None:
        rows.append(f"{verb} {s.difference(ought.superheat)}")
    middle = ((at["dew"][0] + at["suction"][0]) / 2, at["dew"][1] + off + 3)
    return Label(
        tuple(rows), tuple(around(middle, 7, len(rows), prefer="below, below left, below right")), far=3.0, of=middle
    )


def _subcooling(
    s: DrawingScale, now: Corners, ought: Corners | None, at: dict[str, Point], off: float, verb: str
) -> Label | None:
    if now.subcooling is None:
        return None
    rows = [f"{'apparent ' if now.cycle.air else ''}subcooling {s.difference(now.subcooling)}"]
    if ought and ought.subcooling is not None:
        rows.append(f"{verb} {s.difference(ought.subcooling)}")
    middle = ((at["liquid"][0] + at["bubble"][0]) / 2, at["liquid"][1] - off - 3)
    return Label(
        tuple(rows), tuple(around(middle, 7, len(rows), prefer="above, above left, above right")), far=3.0, of=middle
    )


def _points(s: DrawingScale, c: Corners, at: dict[str, Point]) -> Iterator[Label]:
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
        yield Label(said, tuple(around(at[name], 11, len(said), prefer=prefer)), of=at[name])


def _pressures(
    s: DrawingScale, ref: Refrigerant, now: Corners, ought: Corners | None, at: dict[str, Point], verb: str
) -> Iterator[Label]:
    """Evaporating and condensing: temperature, pressure, and what it should be, along the two level lines."""
    glide = ref.glide >= GLIDE_SHOWN
    for side in ("low", "high"):
        does = "evaporating" if side == "low" else "seems to condense:" if now.cycle.air else "condensing"
        p = getattr(now.cycle, side)
        bubble, dew = getattr(now, f"{side}_bubble"), getattr(now, f"{side}_dew")
        counts = dew if side == "low" else bubble
        end = "dew " if side == "low" else "bubble "
        if glide:
            first, second = (bubble, dew) if side == "low" else (dew, bubble)
            order = ("bubble", "dew") if side == "low" else ("dew", "bubble")
            rows = [f"{does} at {s.pressure(p)}"]
            rows.append(
                f"{order[0]} {number(first, 'temperature', s.system, unit=False)}, {order[1]} {s.temperature(second)}"
            )
        else:
            rows = [f"{does} {s.temperature(counts)}", f"at {s.pressure(p)}"]
            end = ""
        if ought:
            should = getattr(ought, "low_dew" if side == "low" else "high_bubble")
            rows.append(f"{verb} {end}{s.about(should)}")
        a, b = (at["inlet"], at["dew"]) if side == "low" else (at["bubble"], at["high dew"])
        places: list[tuple[float, float, str]] = []
        half = 0.6 * FONT * len(rows)
        for off in (9, 20, 34, 50, 75, 100, 130):
            for part in (0.5, 0.42, 0.58, 0.35, 0.65, 0.28, 0.72):
                x = a[0] + part * (b[0] - a[0])
                above, below = (x, a[1] - off - half, "middle"), (x, a[1] + off + half, "middle")
                places += [below, above] if side == "low" else [above, below]
        yield Label(tuple(rows), tuple(places), level=a[1])
