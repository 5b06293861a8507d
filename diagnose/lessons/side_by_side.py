"""Superheat beside subcooling: which faults each pair of words may come from, and which further reading tells them apart.

Read off the lessons: a fault stands in a cell if its lesson says that it moves both quantities there, and a reading tells two
faults apart if their lessons move it apart and their examples by more than its error. No rule, no points.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from diagnose.lessons.example import example
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.blocks import Block, deeper, item, line, subheading
from diagnose.report.wording import lower_first, name_of, upper_first
from diagnose.rulebook import Rulebook
from diagnose.rulebook.entries import Lesson, Moves
from diagnose.simulator.model import Device
from diagnose.visit import COOLING

SIDES = ("high", "normal", "low")
NAMES: Mapping[Device, str] = {"fixed orifice": "fixed orifice", "TXV": "expansion valve"}
Pair = tuple[str, str]
READABLE = 1.5  # errors by which two examples must differ in a quantity that tells them apart (judgement)
_ESTIMATES = {"compressor current": "current ratio"}
NOTHING_WRONG = "nothing-wrong"
NO_FAULT = "No fault by itself: read again, or look for two"

# Where a fault may bring a figure: fully grown, and while it is mild.
_REACH: Mapping[Moves, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "up": (("high",), ("normal",)),
    "down": (("low",), ("normal",)),
    "stays": (("normal",), ()),
    "stays then up": (("high", "normal"), ()),
    "stays then down": (("low", "normal"), ()),
    "either": (SIDES, ()),
}
_SIGNS: Mapping[Moves, frozenset[int]] = {
    "up": frozenset({1}),
    "down": frozenset({-1}),
    "stays": frozenset({0}),
    "stays then up": frozenset({0, 1}),
    "stays then down": frozenset({0, -1}),
    "either": frozenset({-1, 0, 1}),
}
_TURNED: Mapping[Moves, Moves] = {
    "up": "down",
    "down": "up",
    "stays then up": "stays then down",
    "stays then down": "stays then up",
}
# A coil is judged against its air: what moves its temperature moves that difference, the evaporator's the other way.
_OVER_AIR = {
    "condensing temperature": ("condensing over ambient", False),
    "evaporating temperature": ("evaporator temperature difference", True),
}
# What parts faults, the surest and cheapest first (judgement): each needs no more than a clamp, a thermometer or a rest.
_PARTING = (
    "evaporator temperature difference", "condensing over ambient", "liquid line drop", "standing pressure excess",
    "liquid line approach", "air temperature split", "compression ratio", "discharge line temperature",
    "condenser air rise", "compressor current",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Parting:
    """A quantity, and the candidates by the way in which each moves it (only those that it tells from another)."""

    quantity: str
    ways: Mapping[Moves, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Cell:
    """What one pair of words may come from: faults that bring both, and those that do while they are mild."""

    superheat: str
    subcooling: str
    faults: tuple[str, ...]
    mild: tuple[str, ...]
    parted: tuple[Parting, ...]
    alike: tuple[Pair, ...]  # pairs that no quantity of the lessons tells apart


def cells(device: Device, rules: Rulebook) -> list[Cell]:
    """The nine cells of a metering device in cooling, superheat high to low, and in each subcooling high to low."""
    taught = {fault: found for fault in rules.faults if (found := moves_of(fault, device, rules))}
    shifts = {fault: _shifts(fault, device, rules) for fault in taught}
    moves = {fault: _readable(told, shifts[fault]) for fault, told in taught.items()}
    apart = {name: {pair for pair in combinations(moves, 2) if _apart(name, *pair, moves, shifts)} for name in _PARTING}
    return [_cell(heat, cool, moves, apart, rules) for heat in SIDES for cool in SIDES]


def moves_of(fault: str, device: Device, rules: Rulebook) -> dict[str, Moves]:
    """Quantity → which way a fault moves it on such a machine in cooling; empty where superheat or subcooling is not told.

    A machine with nothing wrong moves nothing: its figures are called normal by what they should be. A fault that may do
    anything to both has no place in the table.
    """
    lesson = rules.faults[fault].lesson
    if lesson is None:
        return {}
    found = _moves(lesson, device)
    if fault == NOTHING_WRONG:
        return dict.fromkeys(("superheat", "subcooling", *_PARTING), "stays")
    told = {found.get("superheat"), found.get("subcooling")}
    return {} if None in told or told == {"either"} else found


def _moves(lesson: Lesson, device: Device) -> dict[str, Moves]:
    found: dict[str, Moves] = {}
    for moving in lesson.readings:
        on = dict(moving.applies)
        if COOLING not in on.get("mode", {COOLING}) or device not in on.get("metering", {device}):
            continue
        found[moving.quantity] = moving.moves
    for name, (over, turned) in _OVER_AIR.items():
        if name in found:
            moves = found[name]
            found.setdefault(over, _TURNED.get(moves, moves) if turned else moves)
    return found


def _shifts(fault: str, device: Device, rules: Rulebook) -> dict[str, float] | None:
    """How far the example of a fault moves each quantity, in errors of it; None where the simulator knows no such fault."""
    if fault == NOTHING_WRONG:
        return dict.fromkeys(_PARTING, 0.0)
    one = example(fault, device, rules)
    if one is None:
        return None
    found = {}
    for name in _PARTING:
        known = _ESTIMATES.get(name, name)
        before, after = one.right.estimates.get(known), one.faulty.estimates.get(known)
        if before is not None and after is not None:
            found[name] = (after.value - before.value) / (COVERAGE * max(before.sigma, after.sigma))
    return found


def _readable(told: Mapping[str, Moves], shifts: Mapping[str, float] | None) -> dict[str, Moves]:
    """What parts faults, as instruments show it: a move smaller than its error is none."""
    small = {name for name in _PARTING if shifts is not None and abs(shifts.get(name, 2.0)) < 1.0}
    return {name: "stays" if name in small and way in ("up", "down") else way for name, way in told.items()}


def _cell(
    heat: str, cool: str, moves: Mapping[str, Mapping[str, Moves]], apart: Mapping[str, set[Pair]], rules: Rulebook
) -> Cell:
    grown, mild = [], []
    for fault, told in moves.items():
        places = [(_REACH[told[name]], word) for name, word in (("superheat", heat), ("subcooling", cool))]
        if all(word in full for (full, _), word in places):
            grown.append(fault)
        elif all(word in full or word in small for (full, small), word in places):
            mild.append(fault)
    grown.sort(key=lambda fault: -rules.faults[fault].usual)
    mild.sort(key=lambda fault: -rules.faults[fault].usual)
    return Cell(heat, cool, tuple(grown), tuple(mild), *_parted([*grown, *mild], moves, apart))


def _parted(
    faults: Sequence[str], moves: Mapping[str, Mapping[str, Moves]], by: Mapping[str, set[Pair]]
) -> tuple[tuple[Parting, ...], tuple[Pair, ...]]:
    """Few quantities that together tell every two of these faults apart, and the pairs that are left."""
    left = set(combinations([fault for fault in moves if fault in faults], 2))
    found = []
    while left:
        name = max(_PARTING, key=lambda one: len(by[one] & left))
        told = by[name] & left
        if not told:
            break
        left -= told
        ways: dict[Moves, list[str]] = {}
        for fault in faults:
            if any(fault in pair for pair in told):
                ways.setdefault(moves[fault][name], []).append(fault)
        found.append(Parting(name, {way: tuple(some) for way, some in ways.items()}))
    return tuple(found), tuple(sorted(left))


def _apart(
    name: str,
    one: str,
    other: str,
    moves: Mapping[str, Mapping[str, Moves]],
    shifts: Mapping[str, Mapping[str, float] | None],
) -> bool:
    ways = [_SIGNS[told] for fault in (one, other) if (told := moves[fault].get(name))]
    if len(ways) < 2 or ways[0] & ways[1]:
        return False
    known = [found for fault in (one, other) if (found := shifts[fault]) is not None]
    return len(known) < 2 or abs(known[0].get(name, 0.0) - known[1].get(name, 0.0)) >= READABLE


# -- as a page ---------------------------------------------------------------------------------------------------------

_SAID: Mapping[Moves, str] = {
    "up": "higher",
    "down": "lower",
    "stays": "as it should be",
    "stays then up": "as it should be or higher",
    "stays then down": "as it should be or lower",
}


def table(rules: Rulebook) -> Iterator[Block]:
    """The nine cells for either device, and what to measure where a cell has more than one name."""
    if not all(set(SIDES) <= set(rules.findings[name].words) for name in ("superheat", "subcooling")):
        return
    found = {device: cells(device, rules) for device in NAMES}
    yield line(
        "Each pair of words may come from any of the faults beside it, by itself or while that fault is still small."
    )
    rows = [("superheat, subcooling", *NAMES.values())]
    rows += [
        (f"{both[0].superheat}, {both[0].subcooling}", *(_names(cell, rules) for cell in both))
        for both in zip(*found.values(), strict=True)
    ]
    yield Block("rows", rows=tuple(rows))
    yield line(
        "No pair of words decides about the charge. Where there is more than one name, leave the charge alone until the "
        "reading below has told them apart. A sound machine may stand a little off, too, where all else is right."
    )
    lacking = [entry.name for fault, entry in rules.faults.items() if not _in_it(fault, rules)]
    if lacking:
        yield line(
            f"Not in the table, because these two words say nothing there: {'; '.join(map(lower_first, lacking))}."
        )
    for device, some in found.items():
        yield subheading(f"What tells them apart: {NAMES[device]}")
        for cell in some:
            if cell.parted or cell.alike:
                yield item(f"Superheat {cell.superheat}, subcooling {cell.subcooling}:")
                for parting in cell.parted:
                    yield deeper(_parting_text(parting, rules))
                for pair in cell.alike:
                    names = " and ".join(name_of(fault, rules) for fault in pair)
                    yield deeper(f"{upper_first(names)}: {lower_first(_by_look(*pair, rules))}")


def _in_it(fault: str, rules: Rulebook) -> bool:
    """Whether it has a place in the table, or belongs to another mode."""
    modes = dict(rules.faults[fault].applies).get("mode", frozenset({COOLING}))
    return COOLING not in modes or any(moves_of(fault, device, rules) for device in NAMES)


def _names(cell: Cell, rules: Rulebook) -> str:
    names = "; ".join(name_of(fault, rules) for fault in cell.faults)
    mild = "; ".join(name_of(fault, rules) for fault in cell.mild)
    return ". ".join(part for part in (upper_first(names), f"While small: {mild}" if mild else "") if part) or NO_FAULT


def _parting_text(parting: Parting, rules: Rulebook) -> str:
    ways = (
        f"{_SAID.get(way, way)} with {', '.join(name_of(fault, rules) for fault in faults)}"
        for way, faults in sorted(parting.ways.items(), key=lambda pair: list(_SIGNS).index(pair[0]))
    )
    return f"{upper_first(parting.quantity)}: {'; '.join(ways)}."


def _by_look(one: str, other: str, rules: Rulebook) -> str:
    alike = (rules.faults[a].looks_like.get(b, "") for a, b in ((one, other), (other, one)))
    return next((text for text in alike if text), "these readings do not tell them apart.")
