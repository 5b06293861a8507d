"""SVG in small pieces: elements, text with an estimated width, and labels that find a place beside one another.

A drawing is one `<svg>` that stands by itself and can be put into a page. It takes the colors of the page (`--ink`,
`--paper` …, see templates/base.html) where there is one, and has its own for light, dark and paper where there is none.
Attributes repeat the colors for programs that do not know style sheets. Lengths are pixels of the view box.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot, inf
from operator import itemgetter
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

INK, SOFT, GRID, PAPER, THIS, HOT = "#1a1a1a", "#565656", "#c9c9c9", "#fff", "#1f4f82", "#9a3412"
FONT = 17.0
SMALL = 15.0
LEADING = 1.2


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished picture. svg: one `<svg>` element; words: what it shows, for those who cannot see it; size in pixels."""

    svg: str
    title: str
    words: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class NoDrawing:
    """Why there is no picture: a sentence."""

    why: str


class Box(NamedTuple):
    """A rectangle; y runs downward."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap(self, other: Box) -> float:
        """Area the two have in common."""
        return sum(self.overlaps([other]))

    def overlaps(self, others: Iterable[Box]) -> list[float]:
        """The same of each of the others that it touches."""
        left, top, right, bottom = self
        return [
            (min(right, o_right) - max(left, o_left)) * (min(bottom, o_bottom) - max(top, o_top))
            for o_left, o_top, o_right, o_bottom in others
            if not (right <= o_left or o_right <= left or bottom <= o_top or o_bottom <= top)
        ]


Point = tuple[float, float]


def element(tag: str, body: str | None = None, /, **attributes: object) -> str:
    """One element; `_` in a name becomes `-`, a trailing one is dropped; numbers lose needless digits; None is left out."""
    parts = [tag]
    for name, value in attributes.items():
        if value is not None:
            shown = short(value) if isinstance(value, float) else str(value)
            parts.append(f"{name.rstrip('_').replace('_', '-')}={quoteattr(shown)}")
    opening = " ".join(parts)
    return f"<{opening}/>" if body is None else f"<{opening}>{body}</{tag}>"


def short(value: float) -> str:
    """A length to a tenth of a pixel, without needless zeros."""
    return (
        f"{value:.1f}".removesuffix(".0").replace("-0", "0") if abs(value) < 0.05 else f"{value:.1f}".removesuffix(".0")
    )


def path(points: Iterable[Point], closed: bool = False, **attributes: object) -> str:
    """A line through the points."""
    return element("path", d=through(points, closed), **attributes)


def through(points: Iterable[Point], closed: bool = False) -> str:
    """The `d` of a line through the points; points that fall on their neighbor are left out."""
    kept: list[str] = []
    for x, y in points:
        pair = f"{short(x)} {short(y)}"
        if not kept or kept[-1] != pair:
            kept.append(pair)
    return "M" + "L".join(kept) + ("Z" if closed else "")


# -- text ----------------------------------------------------------------------------------------------------------

_NARROW, _HALF, _WIDE = set("ijl|'’.,:;!"), set("ftr()[] /-°"), set("mwMW%±@")


def text_width(text: str, size: float) -> float:
    """About how wide a text is in an ordinary sans-serif face, on the generous side."""
    ems = 0.0
    for sign in text:
        if sign in _NARROW:
            ems += 0.29
        elif sign in _HALF:
            ems += 0.36
        elif sign in _WIDE:
            ems += 0.88
        else:
            ems += 0.70 if sign.isupper() else 0.585
    return ems * size


def text(x: float, y: float, body: str, size: float = FONT, anchor: str = "start", class_: str | None = None) -> str:
    """One line of text with its baseline at y."""
    return element(
        "text",
        escape(body),
        x=round(x),
        y=round(y),
        font_size=None if size == FONT else f"{size:g}",
        text_anchor=None if anchor == "start" else anchor,
        class_=class_,
    )


# -- labels that find a place --------------------------------------------------------------------------------------

_BESIDE = {"start": 0.0, "middle": 0.5, "end": 1.0}


@lru_cache(maxsize=1000)
def _extent(lines: tuple[str, ...], size: float) -> tuple[float, float]:
    return max(text_width(row, size) for row in lines), LEADING * size * len(lines)


@dataclass(frozen=True, slots=True)
class Label:
    """A label of one line or more, and where it may stand, best place first: (x, y of its middle, anchor).

    must: a label that may be left out is, where it would lie on another. far: how bad the next place in the list is, in px
    of line across the letters.
    """

    lines: tuple[str, ...]
    places: tuple[tuple[float, float, str], ...]
    size: float = FONT
    class_: str | None = None
    must: bool = True
    far: float = 1.5
    of: Point | None = None  # what it names: a thin line leads there where it stands apart
    level: float | None = None  # or the y of a level line that it names

    def leader(self, place: tuple[float, float, str]) -> tuple[Point, Point] | None:
        """From the edge of the label to what it names, where that is not close by."""
        box = self.box(place)
        target = self.of or (None if self.level is None else ((box.left + box.right) / 2, self.level))
        if target is None:
            return None
        x = min(max(target[0], box.left), box.right)
        y = min(max(target[1], box.top), box.bottom)
        return ((x, y), target) if hypot(target[0] - x, target[1] - y) > APART else None

    def box(self, place: tuple[float, float, str]) -> Box:
        """What it covers at a place."""
        x, y, anchor = place
        wide, high = _extent(self.lines, self.size)
        left = x - _BESIDE[anchor] * wide
        return Box(left, y - high / 2, left + wide, y + high / 2)

    def draw(self, place: tuple[float, float, str]) -> str:
        """Its lines at a place."""
        x, _, anchor = place
        top = self.box(place).top
        rows = [
            text(x, top + (i + 0.8) * LEADING * self.size, row, self.size, anchor, self.class_)
            for i, row in enumerate(self.lines)
        ]
        return "".join(rows)


def around(
    point: Point, gap: float = 10.0, lines: int = 2, size: float = FONT, prefer: str = ""
) -> list[tuple[float, float, str]]:
    """Places round a point, those named in `prefer` first (of right, left, above, below and their corners).

    Further rings follow, so that a crowded point still finds room.
    """
    x, y = point
    half = LEADING * size * lines / 2
    places: list[tuple[float, float, str]] = []
    for ring in (0.0, 16.0, 36.0, 60.0, 90.0):
        d = gap + ring
        spots = {
            "right": (x + d, y, "start"),
            "left": (x - d, y, "end"),
            "above": (x, y - d - half, "middle"),
            "below": (x, y + d + half, "middle"),
            "above right": (x + 4, y - d - half, "start"),
            "above left": (x - 4, y - d - half, "end"),
            "below right": (x + 4, y + d + half, "start"),
            "below left": (x - 4, y + d + half, "end"),
        }
        first = [spots[name] for name in prefer.split(", ") if name]
        places += first + [place for place in spots.values() if place not in first]
    return places


APART = 26.0
"""px from what it names, beyond which a label has a line that leads there."""
_TIGHT = 5.0
"""px by which labels keep clear of one another, twice as far at their sides."""
_CLEAR = 2.0
"""px at its sides that a label keeps from lines."""
_REACH, _STEP = 168, 14
"""px: how far round what it names a label is looked a place for, and how finely."""
PlacedLabels = list[tuple[Label, tuple[float, float, str]]]


def placed(
    labels: Sequence[Label],
    frame: Box,
    taken: Sequence[Box] = (),
    lines: Sequence[tuple[Point, Point]] = (),
    orders: Sequence[Sequence[int]] = (),
) -> PlacedLabels:
    """Each label at its best place: inside the frame, off other labels and off `taken`, and off the lines if it can be.

    A later label yields to an earlier one. orders: other orders to try; the first that costs least is kept.
    """
    least, best = _placed(labels, frame, taken, lines)
    for order in orders:
        total, found = _placed([labels[i] for i in order], frame, taken, lines, least)
        if total < least:
            least, best = total, found
    return best


def _placed(
    labels: Sequence[Label],
    frame: Box,
    taken: Sequence[Box],
    lines: Sequence[tuple[Point, Point]],
    most: float = inf,
) -> tuple[float, PlacedLabels]:
    """What it costs, and each at its place; given up once it costs as much as `most`."""
    boxes, strokes = list(taken), list(lines)
    found: PlacedLabels = []
    total = 0.0
    for label in labels:
        best = _best(label, enumerate(label.places), frame, boxes, strokes)
        if best.bad and label.must and label.of:  # no usual place is free: look all round, the nearest first
            first = _best(label, _farther(label), frame, boxes, strokes)
            best = min(best, first, key=lambda one: one.cost)
        if not label.must and (best.wrong or best.crossed > label.size):
            continue
        total += best.cost
        if total >= most:
            break
        boxes.append(label.box(best.place))
        found.append((label, best.place))
        if (leader := label.leader(best.place)) is not None:
            strokes.append(leader)
    return total, found


class _Spot(NamedTuple):
    cost: float
    place: tuple[float, float, str]
    wrong: float  # on something else, or outside
    crossed: float  # px of line across the letters

    @property
    def bad(self) -> bool:
        return bool(self.wrong or self.crossed)


def _best(
    label: Label,
    places: Iterable[tuple[float, tuple[float, float, str]]],
    frame: Box,
    boxes: Sequence[Box],
    lines: Sequence[tuple[Point, Point]],
) -> _Spot:
    """The cheapest of the places, which come with their ranks, the lowest first."""
    best: _Spot | None = None
    least = inf
    wide, high = _extent(label.lines, label.size)
    for rank, place in places:  # thousands of them for one picture: what only makes a place worse is not looked at
        far = label.far * rank
        if least <= far:
            break  # later places are only farther off
        x, y, anchor = place
        left, top, bottom = x - _BESIDE[anchor] * wide, y - high / 2, y + high / 2
        right = left + wide
        outside = max(0.0, frame.left - left, right - frame.right, frame.top - top, bottom - frame.bottom)
        if outside and 1000 * outside + 200 + far >= least:
            continue
        hits = sum(Box(left - 2 * _TIGHT, top - _TIGHT, right + 2 * _TIGHT, bottom + _TIGHT).overlaps(boxes))
        if hits and 10 * hits + 1000 * outside + 200 + far >= least:
            continue
        leader = label.leader(place)
        if leader is not None:
            hits += sum(length_inside(*leader, other) for other in boxes if not _holds(other, leader[1]))
        wrong = 10 * hits + 1000 * outside + (200 if hits or outside else 0)
        if wrong + far >= least:
            continue
        crossed = sum(lengths_inside(lines, Box(left - _CLEAR, top, right + _CLEAR, bottom)))
        cost = wrong + (30 + 3 * crossed if crossed else 0) + far
        if cost < least:
            best, least = _Spot(cost, place, wrong, crossed), cost
    assert best is not None
    return best


def _holds(box: Box, point: Point) -> bool:
    return box.left <= point[0] <= box.right and box.top <= point[1] <= box.bottom


def _farther(label: Label) -> list[tuple[float, tuple[float, float, str]]]:
    """Places all round what a label names, the nearest first, each with how far off it is, in ranks of its own places."""
    assert label.of is not None
    x, y = label.of
    wide, high = _extent(label.lines, label.size)
    steps = range(-_REACH, _REACH + 1, _STEP)
    lefts = [(x + step, x + step - 0.5 * wide) for step in steps]
    across = [(at, max(left - x, 0, x - (left + wide))) for at, left in lefts]
    down = [(y + step, max(y + step - high / 2 - y, 0, y - (y + step + high / 2))) for step in steps]
    found = [(10 + hypot(dx, dy) / 4, (at, below, "middle")) for at, dx in across for below, dy in down]
    return sorted(found, key=itemgetter(0))


def lengths_inside(lines: Iterable[tuple[Point, Point]], box: Box) -> list[float]:
    """How much of each of the lines that may meet a box lies in it, px."""
    left, top, right, bottom = box
    return [
        length_inside((x, y), (to_x, to_y), box)
        for (x, y), (to_x, to_y) in lines
        if not (
            (x < left and to_x < left)
            or (x > right and to_x > right)
            or (y < top and to_y < top)
            or (y > bottom and to_y > bottom)
        )
    ]


def length_inside(a: Point, b: Point, box: Box) -> float:
    """How much of a straight line lies in a box, px (Liang and Barsky's clipping)."""
    (x, y), (to_x, to_y), (left, top, right, bottom) = a, b, box
    dx, dy = to_x - x, to_y - y
    start, end = 0.0, 1.0
    for step, room in ((-dx, x - left), (dx, right - x), (-dy, y - top), (dy, bottom - y)):
        if step == 0:
            if room < 0:
                return 0.0
        elif step < 0:
            start = max(start, room / step)
        else:
            end = min(end, room / step)
    return max(end - start, 0.0) * hypot(dx, dy)


# -- the whole -----------------------------------------------------------------------------------------------------

_NAMES = (("p", "paper"), ("i", "ink"), ("s", "soft"), ("g", "line"), ("a", "link"), ("h", "hot"))


def _colours(*own: str) -> str:
    """The page's colors where there is a page, else these."""
    return ";".join(f"--{letter}:var(--{name},{c})" for (letter, name), c in zip(_NAMES, own, strict=True))


_LIGHT = _colours(PAPER, INK, SOFT, GRID, THIS, HOT)
_DARK = _colours("#16181a", "#e9e7e3", "#b3b0aa", "#46494d", "#9cc3ee", "#f0a586")
# `.drawing` on everything, because the style of a picture inside a page is a style of the whole page.
_STYLE = (
    f".drawing{{{_LIGHT}}}@media (prefers-color-scheme:dark){{.drawing{{{_DARK}}}}}@media print{{.drawing{{{_LIGHT}}}}}"
    ".drawing .page{fill:var(--p)}"
    ".drawing text{fill:var(--i);stroke:var(--p);stroke-width:4px;stroke-linejoin:round;paint-order:stroke}"
    ".drawing .soft{fill:var(--s)}.drawing .bold{font-weight:700}"
    ".drawing .grid{stroke:var(--g)}.drawing .ink{stroke:var(--i)}.drawing .mild{stroke:var(--s)}"
    ".drawing .this{stroke:var(--a)}.drawing .dot{fill:var(--a)}.drawing .paper{fill:var(--p)}.drawing .bare{stroke:var(--p)}"
    ".drawing .band{fill:var(--g)}.drawing .hot{stroke:var(--h)}.drawing .struck{text-decoration:line-through;stroke:none}"
)


def drawing(kind: str, title: str, words: str, width: int, height: int, body: Iterable[str]) -> Drawing:
    """The finished picture; kind: one word, from which the ids come."""
    head = element("title", escape(title), id=f"{kind}-title") + element("desc", escape(words), id=f"{kind}-words")
    page = element("rect", width=width, height=height, class_="page", fill=PAPER)
    svg = element(
        "svg",
        head + element("style", _STYLE) + page + "".join(body),
        xmlns="http://www.w3.org/2000/svg",
        width=width,
        height=height,
        viewBox=f"0 0 {width} {height}",
        class_="drawing",
        role="img",
        aria_labelledby=f"{kind}-title {kind}-words",
        font_family="system-ui,-apple-system,Segoe UI,Roboto,Noto Sans,sans-serif",
        font_size=f"{FONT:g}",
        style="max-width:100%;height:auto",
    )
    return Drawing(svg, title, words, width, height)


def group(parts: Iterable[str], **attributes: object) -> str:
    """Parts that share attributes."""
    return element("g", "".join(parts), **attributes)
