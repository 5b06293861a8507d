"""Where the figures come from that the readings are laid against, and what the air carries away, with the visit's own facts.

Laws that are published in °F are written out in °F; the result stands in the lesson's units above. All of it is the pipeline's
own arithmetic (`targets`, `quantities/air_side.py`), so each sum ends at the figure that the program used.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.lessons.figures import BothSystems, add_up, beside, signed, term, worked
from diagnose.properties import enthalpy, specific_volume, standard_pressure, targets
from diagnose.properties.targets import F
from diagnose.properties.targets.expected import fahrenheit
from diagnose.quantities.expectations import NEAREST_LIQUID
from diagnose.quantities.uncertainty import Estimate
from diagnose.report.blocks import Block, heading, line, subheading
from diagnose.report.wording import cite
from diagnose.units.table import BTU, BTU_PER_HOUR, POUND
from diagnose.visit import COOLING, System

DRY_AIR_US = 1006.0 * 32 / 1.8 / (BTU / POUND)
"""Btu/lb by which dry air, counted from 0 °F as US charts do, holds more than counted from 0 °C."""


def altitude(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Atmospheric pressure from the altitude, where it was taken from that."""
    high = d.visit.machine.fact("altitude")
    if high is None or d.visit.machine.station_from != "altitude":
        return
    found = standard_pressure(high)
    assert found is not None
    yield line("The standard atmosphere (ASHRAE handbook) gives it:")
    for system in f.systems:
        us = system == "us"
        per, unit, decimals = (units.PSI, "psi", 2) if us else (1000.0, "kPa", 2)
        slope, height, of = (2.25577e-5 * units.FOOT, high / units.FOOT, "ft") if us else (2.25577e-5, high, "m")
        yield worked(
            f"{{0}} {unit} × (1 − {{1}} × {{2}} {of})^5.2559 = {{total}} {unit}",
            [(101325.0 / per, 3), (slope, 10), (height, 0)],
            (found / per, decimals),
            lambda t: t[0] * (1 - t[1] * t[2]) ** Decimal("5.2559"),
            f.label(system),
        )


def expected(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """For each typical figure of a machine that cools: the law it comes from, worked out."""
    if d.outside or d.visit.machine.mode not in (None, COOLING):
        return
    made = [*_condensing(d), *_evaporator(d), *_approach(d, f), *_split(d), *_capacity_in_weather(d)]
    if made:
        yield heading("Where the typical figures come from")
        yield line("These laws are published in °F, so they are worked out in °F.")
        yield from made


def _typical(name: str, d: Diagnosis) -> Estimate | None:
    e = d.estimates.get(name)
    return e if e is not None and e.target is not None and e.target.origin in ("typical", "assumed") else None


def _from(e: Estimate, d: Diagnosis) -> Block:
    assert e.target is not None
    return line(f"Source: {cite(e.target.source, d.rules)}.")


def _condensing(d: Diagnosis) -> Iterator[Block]:
    e, seer = _typical("condensing over ambient", d), d.visit.machine.fact("SEER")
    if e is None or e.target is None:
        return
    yield subheading("Condensing over ambient, from the SEER")
    yield line("The better the machine, the larger its condenser, and the closer it condenses to the outdoor air.")
    points = targets.CONDENSING_BY_SEER
    yield Block("rows", rows=(("SEER", "condensing over ambient"), *((f"{s:g}", f"{by:.0f} °F") for s, by in points)))
    if seer is None:
        yield line(f"Nobody gave the SEER: {e.target.value / F:.0f} °F, with a wide spread.")
    else:
        below = [point for point in points if point[0] <= seer]
        above = [point for point in points if point[0] >= seer]
        if below and above and below[-1] != above[0]:
            (s0, y0), (s1, y1) = below[-1], above[0]
            yield worked(
                "SEER {3}: {0} + ({1} − {2}) × ({3} − {4}) / ({5} − {6}) = {total} °F",
                [(y0, 0), (y1, 0), (y0, 0), (seer, 1), (s0, 0), (s1, 0), (s0, 0)],
                (e.target.value / F, 1),
                lambda t: t[0] + (t[1] - t[2]) * (t[3] - t[4]) / (t[5] - t[6]),
            )
        else:
            yield line(
                f"SEER {seer:g}: {e.target.value / F:.0f} °F. Beyond the ends of the table the last figure holds."
            )
    yield _from(e, d)


def _evaporator(d: Diagnosis) -> Iterator[Block]:
    e = _typical("evaporator temperature difference", d)
    if e is None or e.target is None:
        return
    dry, wet, flow = (term(n, d) for n in ("return air dry bulb", "return wet bulb", "airflow per ton"))
    yield subheading("Evaporator temperature difference, from the air")
    yield line(
        "33 °F at 400 cfm/ton in air of 75 °F with a wet bulb of 62.5 °F. Less air and drier air make it larger."
    )
    terms, text = [(33.0, 0)], ["{0}"]
    if flow is not None:
        held = min(max(flow / targets.CFM_PER_TON, 300.0), 450.0)
        terms.append((held, 0))
        text.append(f"(400 − {{{len(terms) - 1}}}) / 25")
    whole = 0.0
    if dry is not None and wet is not None:
        whole = 0.85 * ((dry - wet) / F - 12.5)
        if abs(whole) <= 5.0:
            terms += [(fahrenheit(dry), 1), (fahrenheit(wet), 1)]
            text.append(f"0.85 × ({{{len(terms) - 2}}} − {{{len(terms) - 1}}} − 12.5)")
        else:
            terms.append((5.0 if whole > 0 else -5.0, 0))
            text.append(f"{{{len(terms) - 1}}}")

    def worked(t: list[Decimal]) -> Decimal:
        total, place = t[0], 1
        if flow is not None:
            total += (400 - t[place]) / 25
            place += 1
        if dry is not None and wet is not None:
            total += Decimal("0.85") * (t[place] - t[place + 1] - Decimal("12.5")) if abs(whole) <= 5.0 else t[place]
        return total

    shown, total = add_up(terms, (e.target.value / F, 1), lambda t: worked(list(t)))
    yield Block("sum", f"{' + '.join(text).format(*shown)} = {total} °F".replace("+ −", "− "))
    if flow is not None and not 300.0 <= flow / targets.CFM_PER_TON <= 450.0:
        yield line("Below 300 and above 450 cfm/ton the end of that range is taken.")
    if abs(whole) > 5.0:
        yield line("Dry or damp air counts for 5 °F at most.")
    yield _from(e, d)


def _approach(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    e, coil = _typical("liquid line approach", d), d.estimates.get("condensing over ambient")
    whole = None if coil is None or coil.target is None else coil.target.value / F
    if e is None or e.target is None or whole is None or coil is None:
        return
    yield subheading("Liquid line approach, from how far the machine condenses above the air")
    least, ordinary, nearest = (
        round(each / F)
        for each in (targets.liquid_line_approach().value, targets.subcooling(None).value, NEAREST_LIQUID)
    )
    yield line(f"What is left of that after {ordinary} °F of subcooling, and {least} °F at least.")
    start = max(least, whole - ordinary)
    if start > least:
        yield worked(f"{{0}} − {ordinary} = {{total}} °F", [(whole, 1)], (start, 1), lambda t: t[0] - ordinary)
    plate = d.estimates.get("subcooling")
    asked = ordinary if plate is None or plate.target is None else plate.target.value / F
    if round(asked, 1) != ordinary:
        way = "nearer to" if asked > ordinary else "further from"
        off = abs(asked - ordinary)
        yield line(f"The plate asks for {asked:.1f} °F: {off:.1f} °F {way} the air, and {nearest} °F from it at least.")
        before, start = start, max(nearest, start + ordinary - asked)
        if start > nearest:
            pattern = f"{{0}} + {ordinary} − {{1}} = {{total}} °F"
            yield worked(pattern, [(before, 1), (asked, 1)], (start, 1), lambda t: t[0] + ordinary - t[1])
    share = min(max(coil.value / F / whole, 0.0), 1.0)
    if share == 0.0:
        yield line("The machine condenses no warmer than the air, so nothing of it is left.")
    elif share < 1.0:
        yield line("The machine condenses closer to the air than that, so the same part of it is left:")
        terms = [(start, 1), (coil.value / F, 1), (whole, 1)]
        yield worked("{0} × {1} / {2} = {total} °F", terms, (e.target.value / F, 1), lambda t: t[0] * t[1] / t[2])
    yield _from(e, d)


def _split(d: Diagnosis) -> Iterator[Block]:
    """The four cells of the table of temperature splits, where both bulbs were taken."""
    e = d.estimates.get("air temperature split")
    dry, wet = term("return air dry bulb", d), term("return wet bulb", d)
    if e is None or e.target is None or e.target.origin != "protocol" or dry is None or wet is None:
        return
    cells = targets.neighbors("temperature_split", dry, wet)
    if cells is None:
        return
    yield subheading("Air temperature split, from its table")
    rows: list[tuple[str, ...]] = [("return air", *(f"wet bulb {at} °F" for at in cells.wet))]
    rows += [(f"{at} °F", *(f"{one:.1f} °F" for one in some)) for at, some in zip(cells.dry, cells.values, strict=True)]
    yield Block("rows", rows=tuple(rows))
    yield line(f"At {fahrenheit(dry):.1f} °F and a wet bulb of {fahrenheit(wet):.1f} °F: {e.target.value / F:.1f} °F.")
    yield _from(e, d)


def _capacity_in_weather(d: Diagnosis) -> Iterator[Block]:
    e = _typical("cooling capacity", d)
    out, wet = term("outdoor air temperature", d), term("return wet bulb", d)
    if e is None or e.target is None or out is None or wet is None:
        return
    yield subheading("Cooling capacity over the nominal one, from the weather")
    yield line("W is the wet bulb of the return air and T the outdoor air, in °F; right at 67 and 95 °F it is 0.99.")
    w, t = fahrenheit(wet), fahrenheit(out)
    yield worked(
        "3.670270705 − 0.098652414 × {0} + 0.000955906 × {0}² + 0.006552414 × {1} − 0.0000156 × {1}² − 0.000131877 × {0} × {1} "
        "= {total}",
        [(w, 1), (t, 1)],
        (e.target.value, 2),
        lambda x: (
            Decimal("3.670270705") - Decimal("0.098652414") * x[0] + Decimal("0.000955906") * x[0] * x[0]
            + Decimal("0.006552414") * x[1] - Decimal("0.0000156") * x[1] * x[1] - Decimal("0.000131877") * x[0] * x[1]
        ),
    )  # fmt: skip
    yield _from(e, d)


# -- what the air carries away -----------------------------------------------------------------------------------------


def air(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """Airflow over capacity, the weight of the air, its enthalpy before and after the coil, and the capacity."""
    flow, ton = d.visit.last.readings.get("airflow"), d.visit.machine.fact("nominal capacity")
    per_ton = d.estimates.get("airflow per ton")
    if flow is None:
        return
    yield heading("The air, and the heat that it carries")
    if per_ton is not None and ton is not None:
        yield line("How much air there is for the size of the machine:")
        for system in f.systems:
            (per, unit), (of, size), (last, text) = _FLOWS[system]
            pattern, terms = f"{{0}} {unit} / {{1}} {size} = {{total}} {text}", [(flow.value / per, 0), (ton / of, 1)]
            yield worked(pattern, terms, (per_ton.value / last, 0), lambda t: t[0] / t[1], f.label(system))
    yield from _heat(d, f, flow.value)


_FLOWS: dict[System, tuple[tuple[float, str], tuple[float, str], tuple[float, str]]] = {
    "us": ((units.CFM, "cfm"), (units.TON, "ton"), (units.CFM / units.TON, "cfm/ton")),
    "si": ((1e-3, "L/s"), (1e3, "kW"), (1e-6, "L/s per kW")),
}


def _heat(d: Diagnosis, f: BothSystems, flow: float) -> Iterator[Block]:
    """From dry and wet bulb on both sides of the coil to the capacity."""
    names = ("return air dry bulb", "return humidity ratio", "supply air dry bulb", "supply humidity ratio")
    inside = [term(name, d) for name in names]
    total_capacity = d.estimates.get("total capacity")
    if None in inside or total_capacity is None:
        return
    dry, water, cold, left = (value for value in inside if value is not None)
    volume = specific_volume(dry, water, d.visit.machine.station_pressure)
    before, after = enthalpy(dry, water), enthalpy(cold, left)
    if not volume or before is None or after is None:
        return
    mass = flow / volume
    yield line(
        "Dry and wet bulb give the water in the air, and with it its volume and its heat (ASHRAE handbook), at the atmospheric "
        "pressure of the place."
    )
    yield Block(
        "rows",
        rows=(
            ("air", "water in it", "heat in it"),
            ("return", f.value(water, "humidity"), beside([_enthalpy(before, s) for s in f.systems])),
            ("supply", f.value(left, "humidity"), beside([_enthalpy(after, s) for s in f.systems])),
        ),
    )
    yield line("How much dry air passes in that volume:")
    for system in f.systems:
        us = system == "us"
        per, unit, each, space, last, weight = (
            (units.CFM / 60, "ft³/h", units.FOOT**3 / POUND, "ft³/lb", POUND / 3600, "lb/h")
            if us
            else (1e-3, "L/s", 1e-3, "L/kg", 1.0, "kg/s")
        )
        yield worked(
            f"{{0}} {unit} / {{1}} {space} = {{total}} {weight}",
            [(flow / per, 0), (volume / each, 2 if us else 0)],
            (mass / last, 0 if us else 3),
            lambda t: t[0] / t[1],
            f.label(system),
        )
    yield line("And the heat that it leaves at the coil:")
    for system in f.systems:
        us = system == "us"
        last, weight, per, unit = (POUND / 3600, "lb/h", BTU_PER_HOUR, "Btu/h") if us else (1.0, "kg/s", 1e3, "kW")
        one, other = (heat_of(h, system) for h in (before, after))
        yield worked(
            f"{{0}} {weight} × ({{1}} − {{2}}) = {{total}} {unit}",
            [(mass / last, 0 if us else 3), (one, 2), (other, 2)],
            (total_capacity.value / per, 0 if us else 2),
            lambda t: t[0] * (t[1] - t[2]),
            f.label(system),
        )
    ratio, nominal = d.estimates.get("cooling capacity"), d.visit.machine.fact("nominal capacity")
    if ratio is not None and nominal:
        yield line(f"Over the nominal {f.value(nominal, 'capacity')}:")
        terms = [(total_capacity.value / 1e3, 2), (nominal / 1e3, 2)]
        yield worked("{0} kW / {1} kW = {total}", terms, (ratio.value, 2), lambda t: t[0] / t[1])


def heat_of(joules: float, system: System) -> float:
    """kJ/kg, or Btu/lb as US charts count it: from dry air at 0 °F."""
    return joules / 1e3 if system == "si" else joules / (BTU / POUND) + DRY_AIR_US


def _enthalpy(joules: float, system: System) -> str:
    return f"{signed(Decimal(f'{heat_of(joules, system):.2f}'))} {'kJ/kg' if system == 'si' else 'Btu/lb'}"
