"""From the gauges to superheat and subcooling, every step written out with the visit's own figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Literal

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons import should_be
from diagnose.lessons.figures import BothSystems, add_up, term, worked
from diagnose.properties import saturation_temperature, targets
from diagnose.properties.targets import Cells, NoTarget
from diagnose.quantities import QuantityKind
from diagnose.quantities.uncertainty import COVERAGE, STATION, TABLE, Estimate, absolute
from diagnose.report.blocks import Block, heading, item, line, subheading
from diagnose.report.wording import cite, no_target_text, reading_text, upper_first
from diagnose.visit import FIXED_ORIFICE, Reading

GLIDE_TOLD = 0.5  # K between bubble and dew from which the two lines are told apart
HAIR = 1e-6  # of the way between two cells; what arithmetic between units leaves

_PAIRS: tuple[tuple[str, str, str, str], ...] = (
    # quantity, its two terms, why it is what it is
    ("superheat", "suction line temperature", "evaporating temperature", "how far the vapor is above saturation"),
    ("subcooling", "condensing temperature", "liquid line temperature", "how far the liquid is below saturation"),
    ("air temperature split", "return air dry bulb", "supply air dry bulb", "how far the indoor coil cools the air"),
    ("air rise", "supply air dry bulb", "return air dry bulb", "how much the indoor unit warms the air"),
    ("suction tubes difference", "suction line temperature", "valve tube temperature",
     "how much warmer the suction gas leaves the reversing valve than it came"),
    ("liquid line approach", "liquid line temperature", "outdoor air temperature", "how close the liquid gets to that air"),
    ("condenser air rise", "condenser leaving air temperature", "outdoor air temperature", "how far the coil warms the air"),
    ("drier temperature drop", "drier inlet temperature", "drier outlet temperature", "how much the liquid cools in the drier"),
    ("liquid line drop", "liquid line temperature", "metering inlet temperature", "how much the liquid cools in the line"),
    ("coil superheat", "coil outlet temperature", "evaporating temperature", "the same where it leaves the coil"),
    ("suction line warming", "suction line temperature", "coil outlet temperature", "how much the vapor warms on its way"),
)  # fmt: skip


def difference(terms: Sequence[Decimal]) -> Decimal:
    """First less second."""
    return terms[0] - terms[1]


def pressures(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Gauge pressure → absolute → saturation temperature."""
    machine, taken = d.visit.machine, d.visit.last.readings
    if "suction pressure" not in taken and "liquid pressure" not in taken:
        return
    yield heading("From the gauges to saturation temperatures")
    yield line(
        "A gauge shows how far the pressure is above that of the air around it. Tables count from a perfect vacuum, so "
        "atmospheric pressure is added first."
    )
    said = {
        "measured": "as measured",
        "altitude": "worked out from the altitude",
        "assumed": "as at sea level, because the visit gives no altitude",
    }[machine.station_from]
    yield line(f"Atmospheric pressure here: {f.value(machine.station_pressure, 'pressure')}, {said}.")
    yield from should_be.altitude(d, f)
    gas = machine.refrigerant
    for name, quantity, branch in (
        ("suction pressure", "evaporating temperature", "dew"),
        ("liquid pressure", "condensing temperature", "bubble"),
    ):
        reading = taken.get(name)
        if reading is None:
            continue
        yield subheading(upper_first(name))
        yield from _absolute(reading, d, f)
        found = d.estimates.get(quantity)
        if gas is None or found is None:
            continue
        action = "boils" if branch == "dew" else "condenses"
        yield line(
            f"{gas.name} {action} at {f.value(found.value, 'temperature')} at this pressure, from the table "
            f"({branch} line). The {quantity} is {f.plus_minus(found.value, found.sigma, 'temperature')}."
        )
        yield from _glide(d, f, reading, branch)


def _absolute(reading: Reading, d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    station = d.visit.machine.station_pressure
    whole = absolute(reading, d.visit.machine)
    if not reading.gauge:
        yield line(f"It was read as an absolute pressure, {f.value(whole, 'pressure')}, so nothing is added.")
        return
    written = units.show(reading.value, "pressure", reading.unit)
    yield line(f"The gauge shows {written}.")
    for system in f.systems:
        per, unit, decimals = (units.PSI, "psi", 1) if system == "us" else (1000.0, "kPa", 0)
        terms = [(reading.value / per, decimals), (station / per, decimals)]
        pattern = f"{{0}} {unit} on the gauge + {{1}} {unit} of air = {{total}} {unit} absolute"
        yield worked(pattern, terms, (whole / per, decimals), lambda t: t[0] + t[1], f.label(system))


def _glide(d: Diagnosis, f: BothSystems, reading: Reading, branch: str) -> Iterator[Block]:
    """For a blend: the two lines, and what the wrong one would do."""
    gas = d.visit.machine.refrigerant
    assert gas is not None
    whole = absolute(reading, d.visit.machine)
    dew, bubble = saturation_temperature(gas, "dew", whole), saturation_temperature(gas, "bubble", whole)
    if dew is None or bubble is None or dew - bubble < GLIDE_TOLD:
        return
    error = f.value(dew - bubble, "difference")
    if branch == "dew":
        yield line(
            f"This blend boils over a range. The first bubble comes at {f.value(bubble, 'temperature')} (bubble line), the "
            f"last drop boils at {f.value(dew, 'temperature')} (dew line). Superheat counts from the last drop. From the "
            f"bubble line it would read {error} too much."
        )
    else:
        yield line(
            f"This blend condenses over a range. The first drop comes at {f.value(dew, 'temperature')} (dew line), the last "
            f"bubble is gone at {f.value(bubble, 'temperature')} (bubble line). Subcooling counts from the last bubble. From "
            f"the dew line it would read {error} too much."
        )


def differences(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Superheat, subcooling, splits, condensing over ambient, the coil against the air, the pressure ratio."""
    made = [*_pairs(d, f), *_over_air(d, f), *_ratio(d, f)]
    if made:
        yield heading("Differences that show what the machine is doing")
        yield line("± is the limit that holds 95 of 100 readings.")
        yield from made


def _pairs(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    for name, one, other, meaning in _PAIRS:
        e = d.estimates.get(name)
        first, second = term(one, d), term(other, d)
        if e is None or first is None or second is None:
            continue
        yield from _headed(name, meaning)
        yield from f.sums(
            f"{one} {{0}} − {other} {{1}}",
            [(first, "temperature"), (second, "temperature")],
            (e.value, "difference"),
            difference,
        )
        yield from _verdict(name, e, f)


def _headed(name: str, meaning: str) -> Iterator[Block]:
    yield subheading(f"{upper_first(name)}: {meaning}")


def _verdict(name: str, e: Estimate, f: BothSystems) -> Iterator[Block]:
    """The figure with its ±, what it should be, and how far it is from that."""
    text = f"{upper_first(name)} is {f.plus_minus(e.value, e.sigma, e.kind)}"
    if e.target is None or e.difference is None:
        yield line(f"{text}.")
        return
    where = {"maker": "by the rating plate", "protocol": "by the table"}
    should = f.value(e.target.value, e.kind)
    by = where.get(e.target.origin, "as is typical of such a machine")
    yield line(f"{text}. It should be {should}, {by}. The difference:")
    yield from f.sums(
        "is {0} − should be {1}", [(e.value, e.kind), (e.target.value, e.kind)], (e.difference, e.kind), difference
    )


# Quantity, the pressure of its coil, its air as a reading and as a word, whether the coil is the warmer, what it means.
_COILS = (
    ("condensing over ambient", "liquid pressure", "outdoor air temperature", "outdoor air", True,
     "how far the condenser is above the outdoor air"),
    ("evaporator temperature difference", "suction pressure", "return air dry bulb", "return air", False,
     "how far the indoor coil is below the return air"),
    ("condensing over return air", "liquid pressure", "return air dry bulb", "return air", True,
     "how far the indoor coil is above the return air"),
    ("outdoor coil below outdoor air", "suction pressure", "outdoor air temperature", "outdoor air", False,
     "how far the outdoor coil is below the outdoor air"),
)  # fmt: skip


def _over_air(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Where a quantity compares a whole coil with the air, a mean of bubble and dew line stands for the coil."""
    for name, pressure, reading, word, warmer, meaning in _COILS:
        e, air = d.estimates.get(name), term(reading, d)
        dew, bubble = _on_line(d, pressure, "dew"), _on_line(d, pressure, "bubble")
        if e is None or air is None or dew is None or bubble is None:
            continue
        yield from _headed(name, meaning)
        coil: list[tuple[float, QuantityKind]] = [(bubble, "temperature"), (dew, "temperature")]
        if warmer:
            yield from f.sums(
                f"(bubble {{0}} + dew {{1}}) / 2 − {word} {{2}}",
                [*coil, (air, "temperature")],
                (e.value, "difference"),
                lambda t: (t[0] + t[1]) / 2 - t[2],
            )
        else:
            yield from f.sums(
                f"{word} {{0}} − (0.4 × bubble {{1}} + 0.6 × dew {{2}})",
                [(air, "temperature"), *coil],
                (e.value, "difference"),
                lambda t: t[0] - (2 * t[1] + 3 * t[2]) / 5,
            )
        yield from _verdict(name, e, f)


def _on_line(d: Diagnosis, name: str, branch: Literal["dew", "bubble"]) -> float | None:
    gas, reading = d.visit.machine.refrigerant, d.visit.last.readings.get(name)
    if gas is None or reading is None:
        return None
    return saturation_temperature(gas, branch, absolute(reading, d.visit.machine))


def _ratio(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    e = d.estimates.get("compression ratio")
    high, low = term("liquid pressure", d), term("suction pressure", d)
    if e is None or high is None or low is None:
        return
    yield from _headed("compression ratio", "how many times the compressor raises the absolute pressure")
    yield from f.sums(
        "{0} / {1}", [(high, "pressure"), (low, "pressure")], (e.value, "ratio"), lambda t: t[0] / t[1]
    )  # fmt: skip
    yield from _verdict("compression ratio", e, f)


# -- the target from its table -----------------------------------------------------------------------------------------


def target(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """What superheat, or subcooling, should be today, and how that is read."""
    metering = d.visit.machine.metering
    if metering is None:
        return
    if metering != FIXED_ORIFICE:
        yield from _valve_target(d, f)
        return
    yield heading("Today’s target superheat, from its table")
    yield line(
        "A fixed orifice does not hold superheat, so the right superheat moves with the weather. The table has a row for each "
        "°F of outdoor air and a column for each °F of return air wet bulb."
    )
    out, wet = d.estimates.get("outdoor air temperature"), d.estimates.get("return wet bulb")
    if out is None or wet is None:
        lacking = [n for n, e in (("outdoor air temperature", out), ("return air wet bulb", wet)) if e is None]
        yield line(f"It cannot be used without the {' and the '.join(lacking)}.")
        return
    yield line(f"Outdoors {f.value(out.value, 'temperature')}, wet bulb {f.value(wet.value, 'temperature')}.")
    expected = d.estimates["superheat"].expected if "superheat" in d.estimates else None
    cells = targets.neighbors("target_superheat", out.value, wet.value)
    if cells is not None:
        yield from _cells(cells, isinstance(expected, NoTarget))
    found = targets.target_superheat(out.value, wet.value)
    if isinstance(found, NoTarget):
        yield line(f"There is no target: {no_target_text(found, d.system)}.")
        if found.nearest is not None:
            yield line(
                f"The nearest edge of the table has {f.value(found.nearest.value, 'difference')}. That is good enough to "
                "tell a starved coil from a flooded one, but the charge is not judged by it."
            )
        return
    yield line(
        f"The target is {f.value(found.value, 'difference')}. Within {f.value(5 * targets.F, 'difference')} of it the "
        f"charge passes. Source: {cite(found.source, d.rules)}."
    )


def _cells(cells: Cells, no_target: bool) -> Iterator[Block]:
    """The four neighbors, and the way between them, in °F as the table is."""
    rows: list[tuple[str, ...]] = [("outdoor", *(f"wet bulb {wet} °F" for wet in cells.wet))]
    for dry, values, blank in zip(cells.dry, cells.values, cells.blank, strict=True):
        told = ("blank" if empty else f"{value:.1f} °F" for value, empty in zip(values, blank, strict=True))
        rows.append((f"{dry} °F", *told))
    yield Block("rows", rows=tuple(rows))
    if no_target:
        return
    if any(any(row) for row in cells.blank):
        yield line("A blank corner is filled from the plane through the other three.")
    if cells.dry_share < HAIR and cells.wet_share < HAIR:
        yield line("The point lies exactly on a cell of the table.")
        return
    lines = []
    for dry, (left, right) in zip(cells.dry, cells.values, strict=True):
        value = left + cells.wet_share * (right - left)
        shown, total = add_up(
            [(left, 1), (cells.wet_share, 1), (right, 1), (left, 1)],
            (value, 2),
            lambda t: t[0] + t[1] * (t[2] - t[3]),
        )
        lines.append((value, f"{dry} °F outdoors: {shown[0]} + {shown[1]} × ({shown[2]} − {shown[3]}) = {total} °F"))
    if cells.dry_share < HAIR:
        lines = lines[:1]
    for _, text in lines:
        yield Block("sum", text)
    if len(lines) == 2:
        (above, _), (below, _) = lines
        yield worked(
            "between the rows: {0} + {1} × ({2} − {3}) = {total} °F",
            [(above, 2), (cells.dry_share, 1), (below, 2), (above, 2)],
            (above + cells.dry_share * (below - above), 1),
            lambda t: t[0] + t[1] * (t[2] - t[3]),
        )


def _valve_target(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    yield heading("What a valve machine should read")
    low, high = (f.value(limit, "difference") for limit in targets.valve_superheat_range(None)[1:])
    e = d.estimates.get("superheat")
    if e is not None and e.target is not None:
        yield line(f"The maker states a superheat of {f.value(e.target.value, 'difference')}; the valve must hold it.")
    else:
        yield line(f"The valve holds superheat by itself, in any weather. From {low} to {high} it passes.")
    cooling = d.estimates.get("subcooling")
    if cooling is not None and cooling.target is not None:
        target = f.value(cooling.target.value, "difference")
        plate = cooling.target.origin == "maker"
        yield line(
            f"So the charge is judged by subcooling. {'The plate gives' if plate else 'There is no plate value; typical is'} "
            f"{target}. Source: {cite(cooling.target.source, d.rules)}."
        )
    else:
        yield line("So the charge is judged by subcooling, which was not measured.")


# -- how sure ----------------------------------------------------------------------------------------------------------

_NAMES = {STATION: "atmospheric pressure", TABLE: "refrigerant table"}


def doubt(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Where the ± of superheat and subcooling comes from, and which reading to take again first."""
    made = [block for name in ("superheat", "subcooling") for block in _doubt(name, d, f)]
    if made:
        yield heading("How sure the figures are")
        yield line(
            "Each reading may be off by the limit of error of its instrument. Each in turn is moved by that much, and the "
            "effects are combined as the root of the sum of their squares, because they seldom all err the same way."
        )
        yield from made


def _doubt(name: str, d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    e = d.estimates.get(name)
    if e is None or not e.difference_sigma:
        return
    effects = [(source, COVERAGE * abs(by)) for source, by in e.effects.items() if abs(by) > 1e-9]
    effects.sort(key=lambda pair: -pair[1])
    kind: QuantityKind = "difference"
    told = f"{name} less what it should be" if e.target is not None else name
    yield subheading(f"The ± of {told}")
    for source, by in effects:
        reading = d.visit.last.readings.get(source)
        written = f" {reading_text(reading)}" if reading is not None else ""
        yield item(f"{_NAMES.get(source, source)}{written}: moves it by {f.value(by, kind)}")
    root = "√({})".format(" + ".join(f"{{{i}}}²" for i in range(len(effects))))
    yield from f.sums(
        root,
        [(by, kind) for _, by in effects],
        (COVERAGE * e.difference_sigma, kind),
        lambda t: sum((one * one for one in t), Decimal(0)).sqrt(),
        bare=True,
    )
    first = next((source for source, _ in effects if source in d.visit.last.readings), None)
    if first is not None:
        yield line(f"Most of it comes from the {first}. Measure that again first, or with a better instrument.")
