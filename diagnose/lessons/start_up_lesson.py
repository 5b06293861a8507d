"""A start-up worked out before a class: why a pressure falls in the cold, what a vacuum tells, how a heater measures air."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.start_up_items import Item, ItemName
from diagnose.lessons.figures import BothSystems, beside, worked
from diagnose.quantities import QuantityKind
from diagnose.report.blocks import Block, heading, line, subheading
from diagnose.report.start_up import found_text, title, to_do
from diagnose.report.wording import upper_first


def start_up(d: Diagnosis, f: BothSystems) -> Iterator[Block]:
    """The steps of a start-up that were worked out, with their arithmetic; nothing where the visit is no start-up."""
    if d.start_up is None:
        return
    found = {item.item: item for item in d.start_up.items if item.status != "left out"}
    yield heading("The start-up, worked out")
    if not found:
        yield line("Nothing of it was written down.")
    for name, item in found.items():
        if name == "running readings":
            continue
        yield subheading(upper_first(title(name)))
        if name in _WHY:
            yield from _WHY[name](d, f, item)
        yield line(f"{found_text(d, item)} {to_do(d, item) if item.status != 'done' else ''}".strip())


def _pressure(d: Diagnosis, f: BothSystems, item: Item) -> Iterator[Block]:
    told = item.figures
    if "expected" not in told:
        return
    yield line(
        "A closed gas follows its temperature: the pressure counted from a perfect vacuum moves as the temperature counted "
        "from absolute zero, and nitrogen at a test pressure a little more, because its molecules attract one another."
    )
    if told["temperatures"]:
        warm, then = (f.value(told[f"{end} temperature"], "temperature") for end in ("start", "end"))
        high, low = (f.value(told[name], "pressure") for name in ("start pressure", "expected"))
        yield line(f"From {warm} to {then} the temperature alone takes {high} to {low}.")
    else:
        yield line("Nobody read the temperature, so that no change of it can be taken off.")
    for system in f.systems:
        per, unit, places = (units.PSI, "psi", 1) if system == "us" else (1000.0, "kPa", 0)
        error = f"{told['error'] / per:.{places}f}"
        yield worked(
            f"{{0}} {unit} expected − {{1}} {unit} read = {{total}} {unit}, good to ± {error} {unit}",
            [(told["expected"] / per, places), (told["end pressure"] / per, places)],
            (told["lost"] / per, places),
            lambda terms: terms[0] - terms[1],
            f.label(system),
        )
    yield line(
        "A loss larger than its error is a leak. A loss that its error covers is none only where the error itself is small: "
        "a test that could not have shown a leak has not ruled one out."
    )


def _decay(d: Diagnosis, f: BothSystems, item: Item) -> Iterator[Block]:
    yield line(
        "The pump is valved off, and the gauge shows what happens. Air that leaks in comes at one rate, because the air "
        "outside stands so far above any vacuum: a straight climb. Water boils in a vacuum until its own vapor fills the "
        "lines, and then no more: a climb that levels off. A tight, dry circuit hardly moves."
    )


def _airflow(d: Diagnosis, f: BothSystems, item: Item) -> Iterator[Block]:
    if item.figures.get("best") != "heat":
        return
    yield line(
        "Every watt of an electric heater ends in the air, so its rise shows how much air there is. At sea level the heat is "
        "the trade’s 1.08 × cfm × °F in Btu/h, or 1.2 × L/s × K in watts; thin air takes up less."
    )
    density = d.visit.machine.station_pressure / 101325.0
    yield line(
        f"Here air has {density:.2f} of its density at sea level, and the flow comes to {_flows(item.figures['flow'], f)}."
    )


def _flows(value: float, f: BothSystems) -> str:
    return beside([units.show(value, "airflow", units.unit_for("airflow", system)) for system in f.systems])


def _static(d: Diagnosis, f: BothSystems, item: Item) -> Iterator[Block]:
    yield line(
        "The blower can give only so much pressure at its rated flow, and filter, coil, ducts and grilles share it. What one "
        "of them takes too much, the airflow pays for."
    )
    parts: dict[str, float] = item.figures["parts"]
    if len(parts) > 1:
        pattern = " + ".join(f"{name} {{{i}}}" for i, name in enumerate(parts))
        terms: list[tuple[float, QuantityKind]] = [(value, "small pressure") for value in parts.values()]
        total: tuple[float, QuantityKind] = (item.figures["sum"], "small pressure")
        yield from f.sums(pattern, terms, total, lambda shown: sum(shown, Decimal(0)), bare=True)


_WHY: Mapping[ItemName, Callable[[Diagnosis, BothSystems, Item], Iterator[Block]]] = {
    "pressure test": _pressure,
    "decay test": _decay,
    "airflow": _airflow,
    "static pressure": _static,
}
