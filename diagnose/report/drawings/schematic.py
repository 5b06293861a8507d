"""A plain picture of the circuit with the readings at their places. Full tube: liquid. Hollow: vapor. Dashed: both."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.report.drawings.cycle import device_outdoors
from diagnose.report.drawings.svg import (
    FONT,
    GRID,
    HOT,
    INK,
    LEADING,
    PAPER,
    SMALL,
    SOFT,
    THIS,
    Drawing,
    NoDrawing,
    drawing,
    element,
    group,
    text,
)
from diagnose.report.wording import estimate_text, number, unit_in
from diagnose.visit import FIXED_ORIFICE, HEATING, READINGS

WIDTH, HEIGHT = 640, 660
TOP, BOTTOM, LEFT, RIGHT = 172, 536, 168, 472  # the tubes
WALL = 320
CONDENSER, EVAPORATOR = (222, 322), (296, 396)  # y of the coils
HALF = 42  # of a coil's width
COMPRESSOR, DEVICE, DRIER = 440, 232, 258  # y, y, x

UNMEASURED = "not measured"


def schematic(d: Diagnosis) -> Drawing | NoDrawing:
    """The circuit, the condensing coil on the left, with every reading of the last round where its probe sits."""
    if not d.visit.last.readings:
        return NoDrawing("The visit has no reading to put at its place.")
    body = [_rooms(d), _tubes(), _parts(d), *_air(), _probes(d), group(_texts(d), fill=INK)]
    return drawing("circuit", "The circuit with the readings at their places", _words(d), WIDTH, HEIGHT, body)


# -- lines ---------------------------------------------------------------------------------------------------------


def _heats(d: Diagnosis) -> bool:
    return d.visit.machine.mode == HEATING


def _thin_line(d: Diagnosis) -> bool:
    """Whether what was read at the liquid port was read behind the device, on the low side."""
    return device_outdoors(d) == "outdoors"


def _rooms(d: Diagnosis) -> str:
    """The wall between outdoors and indoors; in heating only the coil on the left is indoors, with a device outdoors only
    the one on the right."""
    if _heats(d) or device_outdoors(d):
        coil, left, right = (CONDENSER, 4, WALL) if _heats(d) else (EVAPORATOR, WALL + 4, WIDTH - 4)
        top, bottom = coil[0] - 24, coil[1] + (28 if _heats(d) else 84)
        house = f"M{left} {top}H{right}V{bottom}H{left}Z"
        wall = element("path", d=house, fill="none", stroke=GRID, stroke_dasharray="2 6", stroke_width=2, class_="grid")
        inside = text(left + 8, bottom - 8, "indoors", SMALL, class_="soft")
        names = inside + text(WALL + 12, 84, "outdoors", SMALL, class_="soft")
        return wall + group([names], fill=SOFT)
    wall = element(
        "path", d=f"M{WALL} 68V{HEIGHT - 14}", stroke=GRID, stroke_dasharray="2 6", stroke_width=2, class_="grid"
    )
    names = text(WALL - 12, 84, "outdoors", SMALL, "end", "soft") + text(WALL + 12, 84, "indoors", SMALL, class_="soft")
    return wall + group([names], fill=SOFT)


def _coil(x: int, top: int, bottom: int) -> str:
    """A serpentine from top to bottom, entering and leaving on the tube."""
    step = (bottom - top) / 5
    rows = "".join(f"V{top + (i + 0.5) * step:g}H{x + (-HALF if i % 2 else HALF)}" for i in range(4))
    return f"M{x} {top}{rows}V{top + 4.5 * step:g}H{x}V{bottom}"


def _tubes() -> str:
    """Vapor tubes hollow, liquid tubes full, both in one dashed: the coils, and the mixture after the device.

    The high side is wide and of a warm color, the low side narrow and blue.
    """
    condenser, evaporator = _coil(LEFT, *CONDENSER), _coil(RIGHT, *EVAPORATOR)
    hot_gas, cold_gas = (
        f"M{LEFT} {COMPRESSOR - 34}V{CONDENSER[1]}",
        f"M{RIGHT} {EVAPORATOR[1]}V{BOTTOM}H{LEFT}V{COMPRESSOR + 34}",
    )
    liquid = f"M{LEFT} {CONDENSER[0]}V{TOP}H{RIGHT}V{DEVICE - 16}"
    mixed = f"M{RIGHT} {DEVICE + 16}V{EVAPORATOR[0]}"
    dashes = "5 3"
    hot = [
        element("path", d=hot_gas, stroke_width=9),
        element("path", d=condenser, stroke_width=7, stroke_dasharray=dashes),
        element("path", d=liquid, stroke_width=9),
    ]
    cold = [
        element("path", d=cold_gas, stroke_width=6),
        element("path", d=evaporator, stroke_width=5, stroke_dasharray=dashes),
        element("path", d=mixed, stroke_width=6, stroke_dasharray=dashes),
    ]
    inside = {"stroke": PAPER, "class_": "bare"}
    hollow = element("path", d=hot_gas, stroke_width="5", **inside) + element(
        "path", d=cold_gas, stroke_width="3", **inside
    )
    sides = group(hot, stroke=HOT, class_="hot") + group(cold, stroke=THIS, class_="this")
    return group([sides, hollow, group([_arrows()], stroke=INK, class_="ink")], fill="none", stroke_linejoin="round")


def _arrows() -> str:
    """Which way the refrigerant goes, beside the tubes."""
    heads = (
        (WALL - 26, TOP - 16, 1, 0),
        (WALL + 40, BOTTOM - 16, -1, 0),
        (LEFT - 16, COMPRESSOR - 66, 0, -1),
        (RIGHT + 16, BOTTOM - 40, 0, 1),
    )
    d = ""
    for x, y, dx, dy in heads:  # a stroke of 22 px from tail to tip, and two short ones back from the tip
        tip_x, tip_y = x + 11 * dx, y + 11 * dy
        back_x, back_y = tip_x - 6 * dx, tip_y - 6 * dy
        d += f"M{x - 11 * dx} {y - 11 * dy}L{tip_x} {tip_y}"
        d += f"M{back_x - 5 * dy} {back_y - 5 * dx}L{tip_x} {tip_y}L{back_x + 5 * dy} {back_y + 5 * dx}"
    return element("path", d=d, stroke_width=2)


def _parts(d: Diagnosis) -> str:
    """Compressor, drier, metering device."""
    paper = {"fill": PAPER, "stroke": INK, "stroke_width": "3", "class_": "paper ink"}
    compressor = element("circle", cx=LEFT, cy=COMPRESSOR, r=34, **paper)
    # two strokes that come together the way the gas goes: it is squeezed
    wide, narrow = COMPRESSOR + 16, COMPRESSOR - 31
    lines = f"M{LEFT - 30} {wide}L{LEFT - 12} {narrow}M{LEFT + 30} {wide}L{LEFT + 12} {narrow}"
    squeeze = element("path", d=lines, stroke=INK, stroke_width=2, class_="ink")
    drier = element("rect", x=DRIER - 22, y=TOP - 11, width=44, height=22, rx=8, **paper)
    bow = f"M{RIGHT - 15} {DEVICE - 16}h30l-30 32h30Z"
    device = element("path", d=bow, stroke_linejoin="round", **paper)
    if d.visit.machine.metering not in (None, FIXED_ORIFICE):  # a valve has a head that moves it
        device += element(
            "path", d=f"M{RIGHT} {DEVICE}h26m0 -13v26", fill="none", stroke=INK, stroke_width=3, class_="ink"
        )
    return compressor + squeeze + drier + device


def _air() -> Iterator[str]:
    """Arrows of the air through the coils: outdoors from the left, indoors from the right."""
    for y, x, way in ((CONDENSER, LEFT, 1), (EVAPORATOR, RIGHT, -1)):
        middle = (y[0] + y[1]) // 2
        d = ""
        for start in (x - way * (HALF + 44), x + way * (HALF + 14)):
            d += f"M{start} {middle}h{30 * way}m{-8 * way} -6l{8 * way} 6l{-8 * way} 6"
        yield element("path", d=d, fill="none", stroke=SOFT, stroke_width=2, class_="mild")


# -- readings ------------------------------------------------------------------------------------------------------

_PROBES = {
    "suction": (LEFT + 92, BOTTOM, ("suction pressure", "suction line temperature")),
    "liquid": (LEFT + 34, TOP, ("liquid pressure", "liquid line temperature")),
    "discharge": (LEFT, 372, ("discharge line temperature",)),
    "coil outlet": (RIGHT, 432, ("coil outlet temperature", "valve tube temperature")),
    "metering inlet": (RIGHT - 40, TOP, ("metering inlet pressure", "metering inlet temperature")),
    "drier inlet": (DRIER - 30, TOP, ("drier inlet temperature",)),
    "drier outlet": (DRIER + 30, TOP, ("drier outlet temperature",)),
}


def _probes(d: Diagnosis) -> str:
    """A dot where a probe sat, a hollow one where a usual probe was not used; rarer probes only where used."""
    taken = d.visit.last.readings
    dots = []
    for name, (x, y, readings) in _PROBES.items():
        used = any(reading in taken for reading in readings)
        if name == "liquid" and _thin_line(d):
            if not used:
                continue
            x, y = RIGHT, DEVICE + 28
        if used:
            dots.append(
                element("circle", cx=x, cy=y, r="6.5", fill=THIS, class_="dot bare", stroke=PAPER, stroke_width=2)
            )
        elif name in ("suction", "liquid"):
            dots.append(
                element("circle", cx=x, cy=y, r="5.5", fill=PAPER, class_="paper mild", stroke=SOFT, stroke_width=2)
            )
    # the usual two have more to say than fits beside them: a thin line leads to it
    leads = "".join(
        f"M{_PROBES[name][0]} {y}V{y + off}H{LEFT + 2}"
        for name, y, off in (("liquid", TOP - 7, -41), ("suction", BOTTOM + 7, 43))
        if name != "liquid" or not _thin_line(d)
    )
    return element("path", d=leads, fill="none", stroke=SOFT, class_="mild") + "".join(dots)


def _shown(d: Diagnosis, name: str) -> str | None:
    """A reading in the units of the answer; None where it was not taken."""
    reading = d.visit.last.readings.get(name)
    if reading is None:
        return None
    kind = READINGS[name].kind
    if kind == "temperature":
        return number(reading.value, "temperature", d.system)
    if kind == "pressure":
        gauge = reading.value if reading.gauge else reading.value - d.visit.machine.station_pressure
        return units.show(gauge, "pressure", units.unit_for("pressure", d.system))
    return units.show(reading.value, kind, unit_in(reading, d.system))


def _block(x: float, y: float, rows: list[tuple[str, str | None]], anchor: str = "start") -> Iterator[str]:
    """Lines of text downward from y: (words, class)."""
    for i, (words, class_) in enumerate(rows):
        size = SMALL if class_ in ("soft", "soft struck") else FONT
        yield text(x, y + i * LEADING * FONT, words, size, anchor, class_)


def _not_used(d: Diagnosis) -> set[str]:
    """Readings that were set aside: nothing is judged by them."""
    return {name for doubt in d.doubts if doubt.firm for name in doubt.set_aside} & set(d.visit.last.readings)


def _reading(d: Diagnosis, name: str, before: str = "") -> tuple[str, str | None]:
    shown = _shown(d, name)
    if shown and name in _not_used(d):
        return (f"{before}{shown}", "soft struck")
    return (f"{before}{shown}", None) if shown else (f"{before}{UNMEASURED}", "soft")


def _texts(d: Diagnosis) -> Iterator[str]:
    """Names in small soft letters, figures in full ones, each beside its place."""
    m, taken = d.visit.machine, d.visit.last.readings
    yield text(8, 27, f"The circuit{f', {m.refrigerant.name}' if m.refrigerant else ''}", FONT, class_="bold")
    yield text(8, 48, "tube: solid, liquid; hollow, vapor; dashed, both", SMALL, class_="soft")
    struck = "; struck out, not used" if _not_used(d) else ""
    yield text(8, 66, f"wide, high side; narrow, low side{struck}", SMALL, class_="soft")
    liquid = [_reading(d, "liquid pressure"), _reading(d, "liquid line temperature")]
    if not _thin_line(d):
        yield from _block(8, 92, [("liquid line", "soft"), *liquid, *_worked_out(d, "subcooling")])
    elif any(name in taken for name in _PROBES["liquid"][2]):
        yield from _block(RIGHT + 40, DEVICE - 12, [("thin line", "soft"), *liquid])
    yield from _block(
        8, BOTTOM + 36,
        [("suction line", "soft"), _reading(d, "suction pressure"), _reading(d, "suction line temperature"),
         *_worked_out(d, "superheat")],
    )  # fmt: skip
    # outdoors
    entering, leaving = _LEFT_AIR[_heats(d)]
    yield from _block(8, 252, [(entering[0], "soft"), _reading(d, entering[1])])
    inner = LEFT + HALF + 8
    condenses = "" if _thin_line(d) else "condensing temperature"
    rows: list[tuple[str, str | None]] = _part(d, "condenser", "condenses at", condenses)
    yield from _block(inner, 302, rows)
    if leaving[1] in taken:
        yield from _block(inner, 236, [(leaving[0], "soft"), _reading(d, leaving[1])])
    yield from _block(LEFT + 18, 368, [("discharge line", "soft"), _reading(d, "discharge line temperature")])
    rows = [("compressor", "soft")]
    rows += [_reading(d, "compressor current")] if "compressor current" in taken else []
    yield from _block(LEFT + 46, COMPRESSOR + 4, rows)
    # liquid line
    yield text(DRIER, TOP - 20, "drier", SMALL, "middle", "soft")
    for name, x, anchor in (
        ("drier inlet temperature", DRIER - 12, "end"),
        ("drier outlet temperature", DRIER + 2, "start"),
    ):
        if name in taken:
            yield text(x, TOP + 30, _shown(d, name) or "", SMALL, anchor)
    inlet = [_reading(d, name) for name in ("metering inlet pressure", "metering inlet temperature") if name in taken]
    if inlet:
        yield from _block(WALL + 12, TOP - 20 - 20 * len(inlet), [("before the metering device", "soft"), *inlet])
    yield from _block(RIGHT - 23, DEVICE - 4, [("metering device", "soft"), (m.metering or "not said", None)], "end")
    yield from _right_air(d)


_LEFT_AIR = {
    False: (("outdoor air", "outdoor air temperature"), ("air out", "condenser leaving air temperature")),
    True: (("return air", "return air dry bulb"), ("supply air", "supply air dry bulb")),
}
"""Name and reading of the air that enters and leaves the coil on the left; in heating that is the indoor one."""


def _right_air(d: Diagnosis) -> Iterator[str]:
    """The evaporator and its air, and what is read beside it."""
    taken = d.visit.last.readings
    outer = RIGHT + HALF + 14
    if _heats(d):
        yield from _block(outer, 302 - 12, [("outdoor air", "soft"), _reading(d, "outdoor air temperature")])
        yield from _block(outer, 424, _part(d, "evaporator", "boils at", "evaporating temperature"))
        if "valve tube temperature" in taken:
            yield from _block(RIGHT - 18, 430, [("valve tube", "soft"), _reading(d, "valve tube temperature")], "end")
        yield from _blower(d)
        return
    air = [("return air", "soft"), _reading(d, "return air dry bulb"), *_humidity(d, "return")]
    yield from _block(outer, 302 - 12, air[:2])
    yield from _block(outer, 346 + 24, air[2:])
    out = RIGHT - HALF - 14
    supply = [("supply air", "soft"), _reading(d, "supply air dry bulb")]
    yield from _block(out, 302 - 12, supply, "end")
    if any(f"supply air {word}" in taken for word in ("wet bulb", "relative humidity")):
        yield from _block(out, 346 + 24, _humidity(d, "supply"), "end")
    yield from _block(outer, 424, _part(d, "evaporator", "boils at", "evaporating temperature"))
    if "coil outlet temperature" in taken:
        yield from _block(RIGHT - 18, 430, [("coil outlet", "soft"), _reading(d, "coil outlet temperature")], "end")
    yield from _blower(d)


def _blower(d: Diagnosis) -> Iterator[str]:
    rows: list[tuple[str, str | None]] = []
    for name, word in (("airflow", "airflow"), ("external static pressure", "static pressure")):
        if name in d.visit.last.readings:
            rows += [(word, "soft"), _reading(d, name)]
    yield from _block(WALL + 8, BOTTOM + 36, rows)


def _worked_out(d: Diagnosis, name: str) -> list[tuple[str, str | None]]:
    """A quantity beside the readings that it comes from."""
    estimate = d.estimates.get(name)
    return [] if estimate is None else [(f"{name} {number(estimate.value, estimate.kind, d.system)}", None)]


def _part(d: Diagnosis, name: str, does: str, quantity: str) -> list[tuple[str, str | None]]:
    """A coil, and at what temperature the refrigerant boils or condenses in it."""
    estimate = d.estimates.get(quantity)
    if estimate is None:
        return [(name, "soft")]
    return [(name, "soft"), (does, "soft"), (number(estimate.value, estimate.kind, d.system), None)]


def _humidity(d: Diagnosis, side: str) -> list[tuple[str, str | None]]:
    """Wet bulb, or relative humidity where that was measured."""
    if f"{side} air relative humidity" in d.visit.last.readings:
        return [("humidity", "soft"), _reading(d, f"{side} air relative humidity")]
    return [("wet bulb", "soft"), _reading(d, f"{side} air wet bulb")]


# -- the same in words ---------------------------------------------------------------------------------------------

_ROUND = (
    "suction pressure", "suction line temperature", "compressor current", "discharge line temperature",
    "outdoor air temperature", "condenser leaving air temperature", "liquid pressure", "liquid line temperature",
    "drier inlet temperature", "drier outlet temperature", "metering inlet pressure", "metering inlet temperature",
    "return air dry bulb",
    "return air wet bulb", "return air relative humidity", "supply air dry bulb", "supply air wet bulb",
    "supply air relative humidity", "airflow", "external static pressure", "coil outlet temperature",
    "vapour line temperature", "vapour line pressure", "valve tube temperature", "electric power",
)  # fmt: skip
_USUAL = (
    "suction pressure", "suction line temperature", "liquid pressure", "liquid line temperature",
    "discharge line temperature", "outdoor air temperature", "return air dry bulb", "supply air dry bulb",
)  # fmt: skip


def _words(d: Diagnosis) -> str:
    """The readings in the order in which the refrigerant meets them."""
    taken = d.visit.last.readings
    found = [f"{name} {_shown(d, name)}" for name in _ROUND if name in taken]
    device = d.visit.machine.metering or "not given"
    parts = [
        "The refrigerant circuit in heating, without the reversing valve. Indoors: the condenser. Outdoors: liquid line with "
        f"drier, metering device ({device}), evaporator, and the suction line back to the compressor."
        if _heats(d)
        else "The refrigerant circuit in cooling. Outdoors: compressor, condenser, liquid line with drier, metering device "
        f"({device}). Indoors: the evaporator. Then the suction line back to the compressor."
        if device_outdoors(d)
        else "The refrigerant circuit in cooling. Outdoors: compressor, condenser, liquid line with drier. Indoors: metering "
        f"device ({device}) and evaporator. Then the suction line back to the compressor.",
        f"Readings: {'; '.join(found)}." if found else "",
    ]
    if aside := [name for name in _ROUND if name in _not_used(d)]:
        parts.append(f"Not used: {', '.join(aside)}.")
    if _thin_line(d) and any(name in taken for name in _PROBES["liquid"][2]):
        parts.append("The liquid port is on the low side, between device and evaporator.")
    missing = [name for name in _USUAL if name not in taken]
    if missing:
        parts.append(f"Not measured: {', '.join(missing)}.")
    worked = [
        f"{name} {estimate_text(d.estimates[name], d.system)}"
        for name in ("evaporating temperature", "superheat", "condensing temperature", "subcooling")
        if name in d.estimates and not (_thin_line(d) and name in ("condensing temperature", "subcooling"))
    ]
    if worked:
        parts.append(f"Worked out: {'; '.join(worked)}.")
    return " ".join(part for part in parts if part)
