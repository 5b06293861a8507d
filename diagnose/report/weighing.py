"""Charging by weight in words: what a machine should hold in all, how that was worked out, and what the scale showed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from diagnose import units
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import ChargeVerdict
from diagnose.properties import Refrigerant, targets
from diagnose.properties.targets import OUNCE_PER_FOOT, LineStates
from diagnose.quantities.weighing import WeighIn, held, liquid_column, weigh_in
from diagnose.report.blocks import Block, line
from diagnose.report.wording import cite, lower_first, number
from diagnose.rulebook import Rulebook, machine_facts
from diagnose.units import FOOT, INCH
from diagnose.units.table import POUND
from diagnose.visit import LineSet, Machine, System
from diagnose.visit.fields import OUTDOORS, RECOVERED, WEIGHED_IN
from diagnose.visit.reason import Figures

NOTHING = 0.0005  # kg
LONG_LINE = 50 * FOOT
"""Beyond which makers ask for their long-line papers; some from 80 ft on (common practice, no source)."""

_LACKS = {
    "refrigerant": "the refrigerant",
    "factory charge": "the factory charge of the rating plate",
    "line set": "the line set (size, length, and the length that the plate covers)",
    "included": "the length of line that the factory charge covers (`included`, from the plate or the maker’s papers)",
    "allowance": "its maker’s `allowance`, because the pipe is no ASTM B280 size, or the refrigerant is outside the table",
}
_NAMES = {
    "factory charge": "factory charge",
    "line set": "line set",
    "liquid line": "liquid line",
    "suction line": "suction line",
    "indoor coil": "indoor coil",
    "drier": "filter drier",
}


# -- figures -------------------------------------------------------------------------------------------------------------


def mass(kg: float, system: System) -> str:
    """`6 lb 15 oz`, `10.4 oz`; `3.15 kg`, `295 g`; with the sign of what is taken out."""
    return units.show(kg, "mass", "lb" if system == "us" else "kg" if abs(kg) >= 1 else "g")


def mass_margin(kg: float, system: System) -> str:
    """A ± of a mass: `2 oz`, `60 g`."""
    if system == "us":
        ounces = kg / POUND * 16
        return f"{ounces:.1f} oz" if ounces < 1.95 else f"{ounces:.0f} oz" if ounces < 15.5 else mass(kg, system)
    return f"{kg * 1000:.0f} g" if kg < 0.0195 else f"{round(kg * 100) * 10} g"


def per_length(kg_per_meter: float, system: System) -> str:
    """`0.52 oz/ft`, `48 g/m`."""
    return f"{kg_per_meter / OUNCE_PER_FOOT:.2f} oz/ft" if system == "us" else f"{kg_per_meter * 1000:.0f} g/m"


def whole(w: WeighIn, system: System) -> str:
    """`6 lb 15 oz ± 2 oz (3.15 kg)`."""
    other: System = "si" if system == "us" else "us"
    return f"{mass(w.kg, system)} ± {mass_margin(w.error, system)} ({mass(w.kg, other)})"


def _length(meters: float, system: System) -> str:
    unit = "ft" if system == "us" else "m"
    return f"{round(units.from_si(meters, unit, 'length'), 1):g} {unit}"


def _size(meters: float, system: System) -> str:
    """`3/8 in`, also where it was written `9.52 mm`; `9.52 mm`."""
    nearest = round(meters / INCH * 16) / 16 * INCH
    if system == "us" and abs(nearest - meters) < SAME_SIZE:
        return units.show(nearest, "length", "in")
    return f"{round(meters * 1000, 2):g} mm"


SAME_SIZE = 0.0003  # m


# -- what it should hold ---------------------------------------------------------------------------------------------------


def shares_text(w: WeighIn, system: System) -> str:
    """`factory charge 6 lb 4 oz, liquid line 10.4 oz, suction line 1.8 oz`."""
    there = [share for share in w.shares if share.what == "factory charge" or abs(share.kg) >= NOTHING]
    return ", ".join(f"{_NAMES[share.what]} {mass(share.kg, system)}" for share in there)


def new_unit_text(w: WeighIn, system: System) -> str:
    """What a new outdoor unit gets that still holds its factory charge; empty where that is nothing."""
    added = mass(abs(w.lines), system)
    if w.lacks or abs(w.lines) < NOTHING:
        return ""
    return (
        f"To a new unit that came charged add {added}."
        if w.lines > 0
        else f"From a new unit that came charged recover {added}."
    )


def lacks_text(w: WeighIn) -> str:
    """`the factory charge … and the length of line …`; empty where nothing lacks."""
    return " and ".join(_LACKS[lack] for lack in w.lacks)


def way_text(machine: Machine, w: WeighIn, system: System, rules: Rulebook, states: LineStates) -> str:
    """By which figures the line set was counted, and what others would make of it; empty where there is none."""
    lines, gas = machine.line_set, machine.refrigerant
    if lines is None or gas is None or lines.included is None or w.way is None:
        return ""
    if all(abs(share.kg) < NOTHING for share in w.shares if "line" in share.what):
        return f"The factory charge covers this line set, {_length(lines.length, system)}."
    run = _run(lines, lines.included, system)
    printed = [
        f"{mass(kg, system)} ({per_length(one.per_length, system)}; {lower_first(cite(one.source, rules))})"
        for one, kg in w.printed
    ]
    others = f" Other makers’ allowances: {', '.join(printed)}." if printed else ""
    if w.way == "allowance":
        own = mass(sum(share.kg for share in w.shares if share.what == "line set"), system)
        density = f" By density it would be {mass(w.by_density, system)}." if w.by_density is not None else ""
        used = f"Line set by its maker’s own allowance, {per_length(lines.allowance or 0.0, system)}, for {run}: {own}."
        return f"{used}{density}{others}"
    by_density = mass(w.by_density or 0.0, system)
    return (
        f"Line set by density, not by an allowance: {by_density} for {run}. {contents_text(gas, lines, w, system, states)}"
        f"{others} Its own maker’s figure goes before all these: write it as `allowance`."
    )


def _run(lines: LineSet, included: float, system: System) -> str:
    """`20 ft beyond the 15 ft included`."""
    beyond, covered = lines.length - included, _length(included, system)
    if lines.included_liquid_line is not None:
        then = _size(lines.included_liquid_line, system)
        return f"{_length(lines.length, system)} instead of the {covered} of {then} included"
    return f"{_length(abs(beyond), system)} {'beyond' if beyond >= 0 else 'short of'} the {covered} included"


def contents_text(gas: Refrigerant, lines: LineSet, w: WeighIn, system: System, states: LineStates) -> str:
    """What a foot or a meter of each line holds, and in what state."""
    if w.held is None:
        return ""
    at = number(states.liquid, "temperature", system)
    pressure = states.pressure(gas)
    shown = units.show((pressure or 101325.0) - 101325.0, "pressure", units.unit_for("pressure", system))
    vapor = f"vapor at {shown} and {number(states.superheat, 'difference', system)} of superheat"
    thick = (
        f"in {_size(lines.suction_line, system)}"
        if lines.suction_line is not None
        else "in a line twice as wide (size not given)"
    )
    return (
        f"Liquid at {at} in {_size(lines.liquid_line, system)} tube {per_length(w.held.here, system)}, {vapor} {thick} "
        f"{per_length(w.held.suction, system)}."
    )


def notes(machine: Machine, w: WeighIn, system: System) -> Iterator[str]:
    """What else of the line set and of the refrigerant is to be known before anything is weighed in."""
    lines, gas = machine.line_set, machine.refrigerant
    place = machine.words.get("metering place")
    if lines is not None and place in OUTDOORS and lines.length != lines.included:
        yield "Metering device outdoors: the liquid line holds liquid and vapor, so its share is good to ± 50 % only."
    elif lines is not None and place is None and machine.words.get("kind") == "ductless":
        yield "If the metering device is outdoors (`metering place: outdoors`), the liquid line holds about half as much."
    if lines is not None and (slip := _slip(machine, lines, w)):
        yield slip
    if lines is not None and (lines.length > LONG_LINE or lines.lift is not None):
        yield long_line_text(lines, gas, place in OUTDOORS, system)
    if gas is not None and gas.safety in ("A2L", "A3"):
        yield flammable_text(gas, w, system)


def _slip(machine: Machine, lines: LineSet, w: WeighIn) -> str:
    """What looks like a slip of the pen: an allowance that no such line holds, or lines that hold too much; else nothing."""
    if lines.allowance is not None and w.held is not None:
        times = lines.allowance / (w.held.here + w.held.suction)
        if not 1 / ODD_ALLOWANCE < times < ODD_ALLOWANCE:
            return f"The allowance is {times:.1f} times what such lines hold: look at its point and its unit."
    factory = machine.fact("factory charge")
    if factory is not None and w.lines > factory / 2:
        return "The lines add more than half of the factory charge: is that really the liquid line, and its length?"
    return ""


ODD_ALLOWANCE = 2.5
"""Times the contents by density; makers' figures lie between 0.9 and 1.7 (tests/reference/charge_per_foot.csv)."""


def long_line_text(lines: LineSet, gas: Refrigerant | None, outdoors: bool, system: System) -> str:
    """That long lines and lifts are the maker's business, and what the lift costs in pressure and subcooling."""
    text = (
        "How long the line may be, how far it may rise, and what oil, traps or valves it then needs, its maker’s papers say; "
        "nothing here replaces them."
    )
    lift = lines.lift or 0.0
    column = liquid_column(gas, lift) if gas is not None and not outdoors else None
    if column is None:
        return text
    lost, used = column
    spent = "" if used is None else f", {number(used, 'difference', system)} of its subcooling"
    psi = f"{lost / units.PSI:.0f} psi" if system == "us" else f"{lost / 1000:.0f} kPa"
    return f"Rising {_length(lift, system)} costs the liquid {psi}{spent}, friction apart. {text}"


def flammable_text(gas: Refrigerant, w: WeighIn, system: System) -> str:
    """Where the law of the room stands, for a refrigerant that burns."""
    free, known = targets.free_of_room_limits(gas), not w.lacks
    text = (
        f"{gas.name} burns (class {gas.safety}): IEC 60335-2-40 / UL 60335-2-40 limit the charge by the room; the maker’s "
        "manual and local code come first."
    )
    if free is None:
        return f"{text} Take the least room area for the whole charge from the manual."
    about = f"{mass(free, system)} (from memory)"
    if known and w.kg - w.error > free:
        return f"{text} This is above {about}, up to which it asks nothing of the room: see the manual for more."
    if known and w.kg + w.error <= free:
        return f"{text} This is not above {about}, up to which it asks nothing of the room."
    return f"{text} Above {about} it asks for a least room area or a sensor: see the manual."


CAUTIONS = (
    "Weigh a blend in as liquid. Scale level, zeroed with the hose filled. Never more than the maximum on the plate.",
    "Weigh in only what was evacuated and leak tested; into a running machine only throttled, into the suction side.",
)


# -- in a visit ------------------------------------------------------------------------------------------------------------


def is_the_way(d: Diagnosis) -> bool:
    """Whether weighing is how this machine is charged today, or how its repair ends."""
    machine = d.visit.machine
    return (
        d.charge.method == "weight"
        or machine.mode == "heating"
        or machine.words.get("metering place") in OUTDOORS
        or machine_facts(machine)["charging"] == "weight only"
        or (isinstance(d.charge, ChargeVerdict) and d.charge.verdict == "low")
        or held(machine) is not None
    )


def told_though_held(d: Diagnosis) -> bool:
    """Whether the charge is told though nothing may be judged by the readings."""
    machine = d.visit.machine
    return is_the_way(d) and (d.charge.method == "weight" or machine.line_set is not None or held(machine) is not None)


def in_short(d: Diagnosis) -> str:
    """`In all it should hold 6 lb 15 oz ± 2 oz (3.15 kg).`; empty where weighing is not the way, or the whole is not known."""
    w = weigh_in(d.visit.machine)
    return f"In all it should hold {whole(w, d.system)}." if is_the_way(d) and not w.lacks else ""


def weighing(d: Diagnosis) -> Iterator[Block]:
    """What the machine should hold, or what is missing to tell it; nothing where the charge is not a matter of weight."""
    if not is_the_way(d):
        return
    machine = d.visit.machine
    w = weigh_in(machine)
    if w.lacks:
        scale = held(machine)
        then = (
            f" What the scale showed, {mass(scale[1], d.system)}, can then be judged."
            if scale and d.charge.method != "weight"
            else ""
        )
        yield line(f"By weight: what it should hold in all cannot be told yet; the visit lacks {lacks_text(w)}.{then}")
    else:
        yield line(f"By weight: it should hold {whole(w, d.system)} in all ({shares_text(w, d.system)}).")
        if way := way_text(machine, w, d.system, d.rules, LineStates()):
            yield line(way)
    yield from map(line, notes(machine, w, d.system))
    after = machine.fact(WEIGHED_IN)
    if after is not None and machine.fact(RECOVERED) is not None and not w.lacks:
        yield line(_since(after, w, d.system))


def _since(after: float, w: WeighIn, system: System) -> str:
    """What was weighed in after the recovery, against what it should be."""
    off = after - w.kg
    if abs(off) <= max(w.error, 0.02 * w.kg):
        return f"Weighed in since: {mass(after, system)}, as it should be."
    side = "more" if off > 0 else "less"
    todo = "recover that much again" if off > 0 else "weigh that much in as well, as liquid"
    return f"Weighed in since: {mass(after, system)}, {mass(abs(off), system)} {side} than it should hold: {todo}."


def verdict_text(d: Diagnosis) -> str:
    """`low by weight, 4 lb 2 oz ± 2 oz against 6 lb 15 oz`."""
    by = d.charge.by
    if by is None or by.target is None:
        return d.charge.verdict
    error = mass_margin(2 * by.sigma, d.system)
    return f"{d.charge.verdict} by weight, {mass(by.value, d.system)} against {mass(by.target, d.system)} ± {error}"


def by_the_scale_text(d: Diagnosis, f: Figures) -> str:
    """Why the charge is what the scale says it is."""
    begin = f"{_it_held(d, f)}, and it should hold {mass(f['whole'], d.system)}"
    known = " The line set is not known, so this is rough." if f["lacks"] else ""
    within = mass(f["within"], d.system)
    if f["verdict"] == "right":
        return f"{begin}: within {within} of it, so the charge is right.{known}"
    side = "less" if f["off"] < 0 else "more"
    return f"{begin}: {mass(abs(f['off']), d.system)} {side}, where {within} counts, so the charge is {f['verdict']}.{known}"


def near_text(d: Diagnosis, f: Figures) -> str:
    """Why the scale gives no verdict."""
    whole = f"{mass(f['whole'], d.system)} ± {mass_margin(f['error'], d.system)}"
    return (
        f"{_it_held(d, f)}, and it should hold {whole}: too near the limit, {mass(f['within'], d.system)} off, to be called "
        f"{f['verdict']}."
    )


def _it_held(d: Diagnosis, f: Figures) -> str:
    how = "recovered" if f["of"] == RECOVERED else "weighed in"
    return f"By the scale it held {mass(f['held'], d.system) if f['held'] >= NOTHING else 'nothing'} ({how})"


def correct_text(d: Diagnosis) -> str:
    """What to do about a charge that the scale shows to be wrong."""
    w, c = weigh_in(d.visit.machine), d.charge
    amount = whole(w, d.system) if not w.lacks else "the charge of the rating plate and the line set"
    empty = d.visit.machine.fact(RECOVERED) is not None
    if c.verdict == "low":
        if empty:
            return f"Find the leak, repair, pressure test and evacuate, then weigh in {amount}."
        return f"Weigh in what is missing, as liquid, until it holds {amount}; if it held that before, find the leak first."
    return f"Weigh in {amount} and no more." if empty else f"Recover the excess by weight until it holds {amount}."


def _digits(value: float | None, digits: int = 4) -> float | None:
    return None if value is None else float(f"{value:.{digits}g}")


def weigh_in_dict(machine: Machine, states: LineStates | None = None) -> Mapping[str, Any]:
    """What the machine should hold, for JSON, kg; total None where something lacks."""
    w, scale = weigh_in(machine, states), held(machine)
    return {
        "kg": None if w.lacks else _digits(w.kg),
        "error_kg": None if w.lacks else _digits(w.error, 2),
        "shares": [{"what": s.what, "kg": _digits(s.kg), "error_kg": _digits(s.error, 2)} for s in w.shares],
        "line_set_by": w.way,
        "line_set_by_density_kg": _digits(w.by_density),
        "line_set_by_printed_allowances": [
            {"kg": _digits(kg), "kg_per_m": _digits(one.per_length), "source": one.source} for one, kg in w.printed
        ],
        "lacks": list(w.lacks),
        "on_the_scale": None if scale is None else {"what": scale[0], "kg": _digits(scale[1])},
    }
