"""The air side of a start-up: airflow by heat, blower table or meter, and what uses up the external static pressure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import hypot, inf
from typing import Any

from diagnose.diagnosis.start_up_items import Item, left_out, measure
from diagnose.quantities.start_up import Measure, airflow_by_heat, airflow_by_table
from diagnose.rulebook import Rulebook
from diagnose.units import unit_for
from diagnose.visit import Machine, Reading, StartUp, Visit
from diagnose.visit.reason import Reason
from diagnose.visit.start_up_fields import HEAT, STATIC, TABLE

SIDES = ("filter", "coil", "supply side", "return side")
"""What uses up the external static pressure of nearly every machine."""


def with_airflow(visit: Visit, rules: Rulebook) -> Visit:
    """The same with the airflow that was worked out at its start-up among its readings, where no meter has measured it."""
    start_up, taken = visit.start_up, visit.last.readings
    if start_up is None or not taken or "airflow" in taken:
        return visit
    told = airflow(visit, start_up, rules).figures
    if "flow" not in told:
        return visit
    flow = Reading("airflow", told["flow"], told["error"], unit_for("airflow", visit.system))
    last = visit.last._replace(readings={**taken, "airflow": flow})
    note = Reason("airflow-of-the-start-up", {"by": told["best"]})
    return replace(visit, rounds=(*visit.rounds[:-1], last), notes=(*visit.notes, note))


def _static_read(visit: Visit, start_up: StartUp) -> Measure | None:
    """The external static pressure that was measured, at the start-up or among the readings."""
    found = start_up.of(STATIC).get("measured") or visit.last.readings.get("external static pressure")
    return None if found is None else measure(found)


def _power(given: Mapping[str, Reading], phases: str) -> Measure | None:
    """Of the heater, W; resistance heat has no power factor."""
    if "power" in given:
        return measure(given["power"])
    if "voltage" not in given or "current" not in given:
        return None
    volts, amps = given["voltage"], given["current"]
    power = volts.value * amps.value * (3**0.5 if phases == "three" else 1.0)
    return Measure(power, power * hypot(volts.error / volts.value, amps.error / amps.value))


def airflow(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """By heat, by the blower table or by a meter: the surest counts, and they must not contradict each other."""
    figures, heat, rows = rules.judgement.start_up, start_up.of(HEAT), start_up.pairs(TABLE)
    metered = visit.last.readings.get("airflow")
    if not heat and not rows and metered is None:
        return left_out("airflow")
    found: dict[str, Measure] = {} if metered is None else {"meter": measure(metered)}
    why: list[str] = []
    power = _power(heat, start_up.looks(HEAT).get("phases", "one"))
    lacks = [name for name in ("return air", "supply air") if name not in heat] if heat else []
    lacks += ["power, or voltage and current"] if heat and power is None else []
    if lacks:
        why.append("airflow-heat-incomplete")
    elif heat and power is not None:
        air = (measure(heat["return air"]), measure(heat["supply air"]))
        station = Measure(visit.machine.station_pressure, visit.machine.station_error)
        by_heat = airflow_by_heat(power, *air, station, figures)
        if by_heat is None:
            why.append("airflow-no-rise")
        else:
            found["heat"] = by_heat
    static = _static_read(visit, start_up)
    if rows and static is None:
        why.append("airflow-static-missing")
    elif static is not None and rows:
        by_table = airflow_by_table([(one.value, other.value) for one, other in rows], static, figures)
        if by_table is None:
            why.append("airflow-off-table")
        else:
            found["table"] = by_table
    if metered is not None and metered.value in [each.value for name, each in found.items() if name != "meter"]:
        del found["meter"]  # it came from here: see `with_airflow`
    told: dict[str, Any] = {"by": {name: tuple(each) for name, each in found.items()}}
    told["lacks"] = tuple(lacks)
    told |= (
        {"static": static.value, "table": (rows[0][0].value, rows[-1][0].value)} if static is not None and rows else {}
    )
    if not found:
        return Item("airflow", "cannot be told", why[0], told)
    best = min(found, key=lambda name: found[name].error / found[name].value if found[name].value else inf)
    if any(abs(each.value - found[best].value) > each.error + found[best].error for each in found.values()):
        return Item("airflow", "cannot be told", "airflow-contradicts", told)
    return _against_rated(visit.machine, best, found[best], told, rules)


def _against_rated(machine: Machine, best: str, flow: Measure, told: dict[str, Any], rules: Rulebook) -> Item:
    figures, rated, size = rules.judgement.start_up, machine.fact("rated airflow"), machine.fact("nominal capacity")
    wanted = rated if rated is not None else None if size is None else rules.judgement.costs.rated * size
    told |= {"best": best, "flow": flow.value, "error": flow.error, "share": figures.airflow}
    if size is not None:
        told["per_capacity"] = flow.value / size
    if wanted is None:
        return Item("airflow", "cannot be told", "airflow-no-target", told)
    told |= {"wanted": wanted, "rated": rated is not None}
    low, high = wanted * (1 - figures.airflow), wanted * (1 + figures.airflow)
    if low <= flow.value <= high:
        return Item("airflow", "done", "airflow-right", told)
    if flow.high < low:
        return Item("airflow", "failed", "airflow-low", told)
    if flow.low > high:
        return Item("airflow", "failed", "airflow-high", told)
    return Item("airflow", "cannot be told", "airflow-near-limit", told)


def static_pressure(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """What the ducts, filter and coil use up, against what the plate allows."""
    given = start_up.of(STATIC)
    total = _static_read(visit, start_up)
    parts = {name: given[name] for name in (*SIDES, "other") if name in given}
    if not parts and (total is None or (not given and not start_up.pairs(TABLE))):
        return left_out("static pressure")
    summed = Measure(sum(each.value for each in parts.values()), hypot(*(each.error for each in parts.values())))
    told: dict[str, Any] = {
        "parts": {name: each.value for name, each in parts.items()},
        "sum": summed.value if parts else None,
        "measured": None if total is None else total.value,
        "missing": tuple(name for name in SIDES if name not in parts),
    }
    if total is not None and parts and abs(gap := total.value - summed.value) > total.error + summed.error:
        told["unexplained"] = gap
    judged = total if total is not None else summed
    told |= {"judged": judged.value, "error": judged.error}
    if "highest allowed" not in given:
        return Item("static pressure", "cannot be told", "static-no-limit", told)
    most = given["highest allowed"].value
    told["allowed"] = most
    if judged.low > most:
        return Item("static pressure", "failed", "static-over", told)
    if summed.low > most:
        return Item("static pressure", "cannot be told", "static-contradicts", told)
    if total is None and told["missing"]:
        return Item("static pressure", "cannot be told", "static-parts-missing", told)
    if judged.value > most:
        return Item("static pressure", "cannot be told", "static-near-limit", told)
    return Item("static pressure", "done", "static-within", told)
