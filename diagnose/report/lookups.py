"""One figure at a time, with its source: saturation, target superheat, temperature split, line charge, charging by
weight, moist air.

Each function takes what a technician would type, and returns the blocks to print and the same in SI for JSON. Raises
InputProblems with how to mend it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnose import quantities, units
from diagnose.properties import (
    EVAPORATOR_BELOW_DEW,
    Refrigerant,
    UnknownRefrigerant,
    dew_point,
    enthalpy,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_wet_bulb,
    liquid_density,
    refrigerant,
    relative_humidity,
    saturation_pressure,
    saturation_range,
    saturation_temperature,
    specific_volume,
    standard_pressure,
    targets,
    wet_bulb,
)
from diagnose.properties.targets import F, NoTarget, Target
from diagnose.report import weighing
from diagnose.report.blocks import Block, item, line
from diagnose.report.weighing import per_length
from diagnose.report.wording import cite, no_target_text, number, upper_first
from diagnose.rulebook import Rulebook
from diagnose.units import Kind, Measured, UnitError
from diagnose.visit import System, Visit
from diagnose.visit.fields import LINE_SET, LINES
from diagnose.visit.sheet import tube_size
from diagnose.yamlfile import InputProblems, refusal

Found = tuple[list[Block], dict[str, Any]]


def saturation(name: str, value: str, altitude: str | None, rules: Rulebook) -> Found:
    """Saturation temperature at a pressure, or pressure at a temperature, on both lines."""
    gas, ambient = gas_named(name), station(altitude)
    try:
        given, is_pressure = units.parse(value, "pressure"), True
    except UnitError as error:
        try:
            given, is_pressure = units.parse(value, "temperature"), False
        except UnitError as other:
            if other.of == "pressure":  # it is one, and written wrong: `130 psi`
                raise refusal(error.what, error.fix) from None
            if error.of == "temperature":
                raise refusal(other.what, other.fix) from None
            raise refusal(error.what, "Give a pressure or a temperature, for example `130 psig` or `45 F`.") from None
    system = system_typed(given)
    found: dict[str, Any] = {"refrigerant": gas.name, "station_pressure": ambient, "unit": "K, Pa absolute"}
    blocks = []
    absolute = given.value + ambient if given.gauge else given.value
    for kind, use in (("dew", "superheat is counted from it"), ("bubble", "subcooling is counted from it")):
        if is_pressure:
            answer = saturation_temperature(gas, "dew" if kind == "dew" else "bubble", absolute)
        else:
            answer = saturation_pressure(gas, "dew" if kind == "dew" else "bubble", given.value)
        if answer is None:
            bubble = ((saturation_temperature(gas, "bubble", end), end) for end in saturation_range(gas))
            ends = (
                f"{number(at or 0.0, 'temperature', system)}, {number(end, 'pressure', system)}" for at, end in bubble
            )
            raise refusal(
                f"{gas.name} has no saturation at {value} in the table", f"It goes from {' to just under '.join(ends)}."
            )
        found[kind] = answer
        if is_pressure:
            text = number(answer, "temperature", system)
        else:
            unit = units.unit_for("pressure", system)
            text = f"{units.show(answer - ambient, 'pressure', unit)} ({number(answer, 'pressure', system)})"
        blocks.append(item(f"{kind} {text}: {use}"))
    found |= {"limit_of_error_K": gas.saturation_error, "source": "coolprop-8"}
    margin = number(gas.saturation_error, "difference", system)
    # It shrinks towards the critical point: that of this pressure, or in an evaporator where none was asked for.
    glide = number(found["dew"] - found["bubble"] if is_pressure else gas.glide, "difference", system)
    reason = gas.error_reason.partition(":")[0]  # without its own figure, which stands here in the right unit
    where = "" if is_pressure else " in an evaporator"
    note = f"Glide {glide}{where}. Good to ± {margin}: {reason}. Source: {cite('coolprop-8', rules)}."
    head = Block("answer", f"{gas.name} at {value}, station pressure {number(ambient, 'pressure', system)}:")
    return [head, *blocks, *([line(f"{given.note}.")] if given.note else []), line(note)], found


def target_superheat(outdoor: str, wet: str, rules: Rulebook) -> Found:
    """Target superheat of a fixed orifice."""
    out, inside = read(outdoor, "temperature", "outdoor air"), read(wet, "temperature", "return air wet bulb")
    system = system_typed(out, inside)
    target = targets.target_superheat(out.value, inside.value)
    head = f"Target superheat at {outdoor} outdoors and {wet} return air wet bulb, fixed orifice"
    blocks, found = _target(target, head, system, rules)
    if isinstance(target, Target):
        formula = targets.target_superheat_formula(out.value, inside.value)
        blocks.append(
            line(
                f"The trade’s line formula gives {number(formula, 'difference', system)} (common practice, no source)."
            )
        )
        blocks.append(
            line(
                f"Within {number(5 * targets.F, 'difference', system)} of the target the charge passes "
                f"({cite('ra3-2008', rules)})."
            )
        )
        found["line_formula"] = formula
    return blocks, found


def temperature_split(dry: str, wet: str, rules: Rulebook) -> Found:
    """Target temperature split over the indoor coil."""
    a, b = read(dry, "temperature", "return air dry bulb"), read(wet, "temperature", "return air wet bulb")
    target = targets.target_temperature_split(a.value, b.value)
    if isinstance(target, NoTarget):  # the table itself has figures for air that cannot be
        _check_order(a.value, b.value)
    return _target(target, f"Target temperature split at {dry} dry bulb and {wet} wet bulb", system_typed(a, b), rules)


def _check_order(dry: float, wet: float) -> None:
    if wet > dry:
        raise refusal("the wet bulb is above the dry bulb", "They are swapped, or one is misread.")


def _target(target: Target | NoTarget, head: str, system: System, rules: Rulebook) -> Found:
    if isinstance(target, NoTarget):
        why = no_target_text(target, system)
        return [Block("answer", f"{head}: none."), line(f"{upper_first(why)}.")], {"value": None, "why": why}
    shown = number(target.value, "difference", system)
    around = number(2 * target.spread, "difference", system)
    return (
        [Block("answer", f"{head}: {shown} (± {around})."), line(f"Source: {cite(target.source, rules)}.")],
        {"value": target.value, "spread": target.spread, "unit": "K", "source": target.source},
    )


def line_charge(name: str, tube: str, length: str, rules: Rulebook) -> Found:
    """Liquid in a liquid line, of saturated liquid at 100 °F."""
    gas, size, long = gas_named(name), read(tube_size(tube), "length", "tube"), read(length, "length", "length")
    if long.value <= 0:
        raise refusal(f"length: {length} is no length", "Write how long the line is, for example `25 ft`.")
    density = liquid_density(gas, targets.LineStates().liquid)
    mass = targets.line_charge(size.value, long.value, density)
    if mass is None:
        raise _no_tube("tube", tube)
    system: System = "si" if "m" in long.unit else "us"
    per = mass / long.value
    shown = units.show(mass, "mass", "oz" if system == "us" else "g", decimals=1 if system == "us" else 0)
    blocks = [
        Block("answer", f"{length} of {tube} liquid line hold {shown} of {gas.name}, {per_length(per, system)}."),
        line(
            "Bore × length × density of saturated liquid at 100 °F (38 °C); 10 °F (6 K) warmer or colder changes it by "
            f"about 2 %. Bore: {cite('astm-b280', rules)}; density: {cite('coolprop-8', rules)}."
        ),
    ]
    found: dict[str, Any] = {"kg": mass, "kg_per_m": per, "source": "astm-b280, coolprop-8"}
    printed = targets.published_allowances(gas.name, size.value, outdoors=False)
    for one in printed[:1]:
        published = one.per_length * long.value
        allowance = units.show(published, "mass", "oz" if system == "us" else "g", decimals=1 if system == "us" else 0)
        blocks.append(
            line(
                f"One maker allows {allowance}, with the vapor in the suction line beside it ({cite(one.source, rules)})."
            )
        )
        found["published_kg"] = published
    blocks.append(
        line(
            "Not for a line between an outdoor metering device and the indoor coil: it holds liquid and vapor, "
            "about half as much. `diagnose lookup weigh-in` works out the whole charge."
        )
    )
    return blocks, found


def _no_tube(what: str, size: str, more: str = "") -> InputProblems:
    fix = f"From 1/4 in to 1-3/8 in outside diameter.{more}"
    return refusal(f"{what}: {size} is not a size of ASTM B280 tube", fix)


def weigh_in(
    name: str, tube: str, length: str, more: Mapping[str, str | None], states: Mapping[str, str | None], rules: Rulebook
) -> Found:
    """What a machine should hold in all.

    more: what a visit says of a machine and its line set, by its names there. states: `liquid at`, `suction at`, `superheat`.
    """
    given = {word: text for word, text in more.items() if text is not None}
    lines = {"liquid line": tube, "length": length, **{word: text for word, text in given.items() if word in LINE_SET}}
    facts = {word: text for word, text in given.items() if word not in LINE_SET}
    machine = Visit.parse({"machine": {"refrigerant": name, **facts, LINES.name: lines}}).machine
    at = _states(states)
    w, gas, line_set = quantities.weighing.weigh_in(machine, at), machine.refrigerant, machine.line_set
    assert gas is not None
    assert line_set is not None  # both are asked for, and what cannot be read is refused
    for word, size in lines.items():
        if "line" not in word or w.held is not None or "allowance" in lines:
            continue
        if targets.tube_bore(getattr(line_set, word.replace(" ", "_"))) is None:
            raise _no_tube(word, str(size), " For other pipe give its maker’s figure, `--allowance`.")
    if at.vapor_density(gas) is None or liquid_density(gas, at.liquid) is None:
        raise refusal(
            f"{gas.name} has no such liquid or vapor in the table",
            "Give its liquid temperature, suction pressure, superheat.",
        )
    system: System = "si" if "m" in read(length, "length", "length").unit else "us"
    if w.lacks:
        head = f"How much {gas.name} to weigh in cannot be told: it lacks {weighing.lacks_text(w)}."
    else:
        head = f"Weigh in {weighing.whole(w, system)} of {gas.name} in all."
    blocks = [Block("answer", head)]
    if w.shares:
        new = weighing.new_unit_text(w, system)
        blocks.append(item(f"{upper_first(weighing.shares_text(w, system))}. {new}".rstrip()))
    if way := weighing.way_text(machine, w, system, rules, at) or weighing.contents_text(gas, line_set, w, system, at):
        blocks.append(item(way))
    blocks += [item(note) for note in weighing.notes(machine, w, system)]
    blocks += [item(caution, "!") for caution in weighing.CAUTIONS]
    usual = "States of a machine at its rating, 95 °F (35 °C) outdoors. " if at == targets.LineStates() else ""
    sources = f"{usual}Bores: {cite('astm-b280', rules)}; densities: CoolProp 8. ± holds 95 of 100 (judgement)."
    blocks.append(item(sources))
    return blocks, dict(weighing.weigh_in_dict(machine, at))


def _states(states: Mapping[str, str | None]) -> targets.LineStates:
    """Of liquid and vapor in the lines, as typed; the usual ones where nothing is."""
    usual = targets.LineStates()
    liquid, suction, superheat = (states.get(word) for word in ("liquid at", "suction at", "superheat"))
    pressure = read(suction, "pressure", "suction at") if suction else None
    heat = read(superheat, "difference", "superheat").value if superheat else usual.superheat
    if heat < 0:
        raise refusal("superheat: it cannot be negative", "For example `10 F`.")
    return targets.LineStates(
        read(liquid, "temperature", "liquid at").value if liquid else usual.liquid,
        None if pressure is None else pressure.value + (station(None) if pressure.gauge else 0.0),
        heat,
    )


def moist_air(dry: str, wet_or_humidity: str, altitude: str | None, rules: Rulebook) -> Found:
    """All about air from its dry bulb, and its wet bulb or relative humidity."""
    a, ambient = read(dry, "temperature", "dry bulb"), station(altitude)
    if "%" in wet_or_humidity:
        water = humidity_ratio_from_relative_humidity(
            a.value, read(wet_or_humidity, "percent", "relative humidity").value, ambient
        )
    else:
        wet = read(wet_or_humidity, "temperature", "wet bulb")
        water = humidity_ratio_from_wet_bulb(a.value, wet.value, ambient)
        _check_order(a.value, wet.value)
    if water is None:
        raise refusal("no air can be like that", "Check both figures and their units.")
    system = system_typed(a)
    humid, dew = relative_humidity(a.value, water, ambient), dew_point(water, ambient)
    bulb, heat, volume = (
        wet_bulb(a.value, water, ambient),
        enthalpy(a.value, water),
        specific_volume(a.value, water, ambient),
    )
    found = {
        "dry_bulb": a.value, "wet_bulb": bulb, "relative_humidity": humid, "dew_point": dew, "humidity_ratio": water,
        "enthalpy": heat, "specific_volume": volume, "station_pressure": ambient,
        "unit": "K, 1, kg/kg, J/kg dry air, m3/kg dry air, Pa", "source": "ashrae-fundamentals-2017",
    }  # fmt: skip
    rows = [
        ("wet bulb", number(bulb, "temperature", system) if bulb else "none"),
        ("dew point", number(dew, "temperature", system) if dew else "none"),
        ("relative humidity", number(humid or 0.0, "percent", system)),
        (
            "water content",
            f"{number(water, 'humidity', system)} ({water:.5f} {'lb/lb' if system == 'us' else 'kg/kg'})",
        ),
        ("enthalpy", _enthalpy(heat or 0.0, system)),
        ("specific volume", _volume(volume or 0.0, system)),
    ]
    head = Block(
        "answer", f"Air at {dry} and {wet_or_humidity}, station pressure {number(ambient, 'pressure', system)}:"
    )
    return [
        head,
        *(item(f"{name} {value}") for name, value in rows),
        line(
            f"Per unit of dry air. Ideal gas, within 0.6 % of the real one. Source: {cite('ashrae-fundamentals-2017', rules)}."
        ),
    ], found


def _enthalpy(joules: float, system: System) -> str:
    # The I-P scale counts from dry air at 0 °F, the SI scale from 0 °C: 0.240 Btu/(lb °F) × 32 °F between them.
    figure = f"{joules / 2326 + 7.686:.2f} Btu/lb" if system == "us" else f"{joules / 1000:.1f} kJ/kg"
    return figure.replace("-", "−")


def _volume(value: float, system: System) -> str:
    return f"{value * 16.01846:.2f} ft3/lb" if system == "us" else f"{value:.4f} m3/kg"


# -- what is typed -----------------------------------------------------------------------------------------------------


def read(text: str, kind: Kind, what: str) -> Measured:
    """The figure as it was typed. Raises InputProblems, which names what it is."""
    try:
        return units.parse(text, kind)
    except UnitError as error:
        raise refusal(f"{what}: {error.what}", error.fix) from None


def gas_named(name: str) -> Refrigerant:
    """The refrigerant of this name. Raises InputProblems."""
    try:
        return refrigerant(name)
    except UnknownRefrigerant as error:
        raise refusal(error.what, error.fix) from None


def station(altitude: str | None) -> float:
    """Station pressure at an altitude as written, Pa; sea level without one."""
    metres = read(altitude, "length", "altitude").value if altitude else 0.0
    found = standard_pressure(metres)
    if found is None:
        raise refusal(f"altitude: {altitude} is out of range", "Below 36,000 ft (11 km).")
    return found


def system_typed(*read: Measured) -> System:
    """US or SI, by what was typed."""
    return (
        "si" if all(m.unit in ("C", "K") or "Pa" in m.unit or "bar" in m.unit or "kg" in m.unit for m in read) else "us"
    )


# -- what a sound heat pump reads while it heats ----------------------------------------------------------------------

COLDEST, WARMEST = 255.372 - 10 * F, 255.372 + 70 * F  # K; where the lines of the charts are no longer held


def heating(outdoor: str, returned: str | None, name: str | None, altitude: str | None, rules: Rulebook) -> Found:
    """The expected differences, the air rise and, for a refrigerant, the two pressures."""
    air = read(outdoor, "temperature", "outdoor air")
    returned = returned or ("70 F" if system_typed(air) == "us" else "21 C")
    room = read(returned, "temperature", "return air")
    system = system_typed(air, room)
    if not COLDEST <= air.value <= WARMEST:
        raise refusal(
            f"{outdoor} outdoors is outside the charts of heating machines",
            "They go from about 0 to 65 °F (−18 to 18 °C). Where it is warmer, check whether the machine is cooling.",
        )
    if not 50 * F <= room.value - 255.372 <= 90 * F:
        raise refusal(f"return air: {returned} is no room that is heated", "Write the air that enters the indoor coil.")
    rows: list[tuple[str, Target | None]] = [
        ("condensing over return air", targets.condensing_over_return_air(air.value)),
        ("outdoor coil below outdoor air", targets.outdoor_coil_below_outdoor_air(air.value)),
        ("subcooling behind a valve", targets.heating_subcooling(None)),
        ("air rise, heat pump alone", targets.air_rise(air.value)),
    ]
    found: dict[str, Any] = {
        text: {"value": target.value, "spread": target.spread, "unit": "K"} for text, target in rows if target
    }
    blocks = [Block("answer", f"A sound heat pump at {outdoor} outdoors and {returned} return air, heating:")]
    blocks += [item(f"{text} {_about(target, 'difference', system)}") for text, target in rows if target]
    share, performance = targets.heating_capacity_ratio(air.value), targets.heating_performance(air.value)
    if share and performance:
        blocks.append(item(f"heat {share.value:.2f} ± {2 * share.spread:.2f} of the nominal cooling capacity"))
        blocks.append(item(f"coefficient of performance {performance.value:.1f} ± {2 * performance.spread:.1f}"))
        found |= {"heating capacity ratio": share.value, "coefficient of performance": performance.value}
    if name is not None:
        blocks += _pressures(gas_named(name), air.value, room.value, station(altitude), system, found)
    blocks += [
        line(
            "± holds 95 of 100 sound machines. Charts of two makers, R-410A, about 400 cfm/ton (54 L/s per kW). The "
            f"maker's own chart goes first. Source: {cite(targets.HEATING_CHARTS, rules)}."
        ),
        line("Fixed orifices and accumulators: superheat and subcooling near zero are ordinary in the cold."),
        line("Never charge by these figures. Weigh the charge in, and confirm it in cooling weather."),
    ]
    return blocks, found | {"source": targets.HEATING_CHARTS}


def _about(target: Target, kind: Any, system: System) -> str:
    return f"{number(target.value, kind, system)} ± {number(2 * target.spread, kind, system)}"


def _pressures(
    gas: Refrigerant, air: float, room: float, station: float, system: System, found: dict[str, Any]
) -> list[Block]:
    """The gauges that go with the expected temperatures, from one spread of two below to two above."""
    condensing, coil = targets.condensing_over_return_air(air), targets.outdoor_coil_below_outdoor_air(air)
    assert condensing is not None
    assert coil is not None
    blocks = []
    for text, middle, spread, line_, off in (
        ("liquid pressure", room + condensing.value, condensing.spread, "bubble", -gas.glide / 2),
        ("suction pressure", air - coil.value, coil.spread, "dew", EVAPORATOR_BELOW_DEW * gas.glide),
    ):
        ends = [
            saturation_pressure(gas, "bubble" if line_ == "bubble" else "dew", middle + off + by * spread)
            for by in (-2, 2)
        ]
        if None not in ends:
            unit = units.unit_for("pressure", system)
            low, high = (units.show(end - station, "pressure", unit, decimals=0) for end in ends if end is not None)
            blocks.append(item(f"{text} of {gas.name} about {low.split(' ')[0]} to {high}"))
            found[text] = {"from": ends[0], "to": ends[1], "unit": "Pa absolute"}
    return blocks
