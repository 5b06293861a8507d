"""A start-up, item by item: what was done, whether it came out right, what cannot be told, what was left out.

From the `start-up:` of a visit alone; what its running readings say is added in `commissioning.py`. Values only, SI, each
with a code; the sentences stand in `report/start_up.py`, the limits under `start up` in rules/judgement.yaml.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import hypot
from typing import Any

from diagnose.diagnosis.start_up_air import airflow, static_pressure
from diagnose.diagnosis.start_up_items import Item, ItemName, Status, left_out, measure
from diagnose.quantities.start_up import Measure, decay, pressure_lost
from diagnose.quantities.weighing import liquid_column, weigh_in
from diagnose.rulebook import Rulebook
from diagnose.visit import Machine, Reading, StartUp, Visit
from diagnose.visit.fields import WEIGHED_IN
from diagnose.visit.start_up_fields import LINE_CHECK, PRESSURE, VACUUM, WEIGHED

WRONG_GASES = ("oxygen", "air")
"""They burn oil under pressure, and may explode."""
BY_WEIGHT = "charge by weight"
"""The finding whose limits say how far a weighed charge may be off."""
_SIZE = 0.0005  # m; one tube size and the next lie further apart


def items_of(visit: Visit, rules: Rulebook) -> dict[ItemName, Item]:
    """Every item but the running readings, in the order of the work; none where the visit is no start-up."""
    start_up = visit.start_up
    if start_up is None:
        return {}
    steps: Mapping[ItemName, Callable[[Visit, StartUp, Rulebook], Item]] = {
        "line set": _line_set,
        "pressure test": _pressure_test,
        "evacuation": _evacuation,
        "decay test": _decay_test,
        "airflow": airflow,
        "static pressure": static_pressure,
        "charge by weight": _charge,
        "customer": _customer,
    }
    return {name: step(visit, start_up, rules) for name, step in steps.items()}


# -- the lines ---------------------------------------------------------------------------------------------------------


def _line_set(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """Length, lift and sizes against what the maker allows; insulation, slope and traps as they look."""
    given, looks = start_up.of(LINE_CHECK), start_up.looks(LINE_CHECK)
    lines = visit.machine.line_set
    if not given and not looks:
        return left_out("line set")
    has: dict[str, float] = {}
    if lines is not None:
        has = {"length": lines.length, "liquid line": lines.liquid_line}
        has |= {} if lines.lift is None else {"lift": lines.lift}
        has |= {} if lines.suction_line is None else {"suction line": lines.suction_line}
    allowed = {
        name: given[limit].value
        for name, limit in (
            ("length", "longest allowed"), ("lift", "highest lift allowed"), ("liquid line", "maker's liquid line"),
            ("suction line", "maker's suction line"),
        )
        if limit in given
    }  # fmt: skip
    wrong: list[str] = [
        name for name in ("length", "lift") if name in has and abs(has[name]) > allowed.get(name, abs(has[name]))
    ]
    wrong += [
        name
        for name in ("liquid line", "suction line")
        if name in has and name in allowed and abs(has[name] - allowed[name]) > _SIZE
    ]
    wrong += [name for name in ("insulation", "slope", "traps") if looks.get(name) in _BAD]
    lacks: list[str] = [name for name in ("length", "lift") if name not in has or name not in allowed]
    lacks += [name for name in ("liquid line", "suction line") if name in allowed and name not in has]
    lacks += [name for name in ("insulation",) if name not in looks]
    figures = {"has": has, "allowed": allowed, "looks": dict(looks), "wrong": tuple(wrong), "lacks": tuple(lacks)}
    figures |= _column(visit.machine, has.get("lift"))
    if wrong:
        return Item("line set", "failed", "line-set-wrong", figures)
    if lacks:
        return Item("line set", "cannot be told", "line-set-not-all-known", figures)
    return Item("line set", "done", "line-set-right", figures)


_BAD = ("damaged", "missing", "sags")


def _column(machine: Machine, lift: float | None) -> dict[str, float]:
    """What the column of liquid costs: pressure (Pa), and the subcooling (K) that it uses up."""
    outdoors = machine.words.get("metering place") == "outdoors"
    if lift is None or machine.refrigerant is None or outdoors:
        return {}
    found = liquid_column(machine.refrigerant, lift)
    if found is None:
        return {}
    return {"column": found[0]} | ({} if found[1] is None else {"column_subcooling": found[1]})


# -- the pressure test -------------------------------------------------------------------------------------------------


def absolute(reading: Reading, machine: Machine) -> Measure:
    """Pa absolute."""
    return Measure(reading.value + (machine.station_pressure if reading.gauge else 0.0), reading.error)


def above_the_plate(visit: Visit) -> tuple[float, float] | None:
    """The test pressure and what the plate allows, Pa absolute, where it was more than that."""
    given = visit.start_up.of(PRESSURE) if visit.start_up is not None else {}
    if "highest allowed" not in given:
        return None
    most = absolute(given["highest allowed"], visit.machine).value
    tested = [
        absolute(given[name], visit.machine).value for name in ("start pressure", "end pressure") if name in given
    ]
    return (max(tested), most) if tested and max(tested) > most * 1.0001 else None


def _pressure_test(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """Holds, leaks, or cannot be told with these instruments."""
    given, looks, figures = start_up.of(PRESSURE), start_up.looks(PRESSURE), rules.judgement.start_up
    if not given and not looks:
        return left_out("pressure test")
    told: dict[str, Any] = {"gas": looks.get("gas", "nitrogen")}
    told |= {"held": given["held"].value} if "held" in given else {}
    told |= {
        name: absolute(given[name], visit.machine).value for name in ("start pressure", "end pressure") if name in given
    }

    def item(status: Status, code: str, **more: Any) -> Item:
        return Item("pressure test", status, code, {**told, **more})

    if told["gas"] in (*WRONG_GASES, "refrigerant"):
        return item("failed", "test-gas-wrong")
    if (over := above_the_plate(visit)) is not None:
        return item("failed", "test-pressure-above-plate", pressure=over[0], allowed=over[1])
    if looks.get("bubbles") == "seen":
        return item("failed", "test-bubbles")
    if "start pressure" not in given or "end pressure" not in given:
        lacks = tuple(name for name in ("start pressure", "end pressure") if name not in given)
        return item("cannot be told", "test-one-pressure", lacks=lacks)
    if told["gas"] != "nitrogen":
        return item("cannot be told", "test-gas-unknown")
    start, end = (absolute(given[name], visit.machine) for name in ("start pressure", "end pressure"))
    warm, then = (measure(given[name]) if name in given else None for name in ("start temperature", "end temperature"))
    loss = pressure_lost(start, end, warm, then, figures)
    if loss is None:
        return item("cannot be told", "test-out-of-range")
    lost, error = loss.lost
    known = warm is not None and then is not None
    told |= {"lost": lost, "error": error, "expected": loss.expected, "moved": loss.moved, "temperatures": known}
    told |= {"start temperature": warm.value, "end temperature": then.value} if warm and then else {}
    told |= {"unknown": figures.unknown_temperature, "least": figures.least_held}
    if lost > error:
        return item("failed", "test-leaks")
    if lost < -error:
        return item("cannot be told", "test-rises")
    if error > figures.shows * start.value:
        return item("cannot be told", "test-too-coarse", shows=figures.shows * start.value)
    most = absolute(given["highest allowed"], visit.machine).value if "highest allowed" in given else None
    enough = figures.least_pressure + visit.machine.station_pressure
    enough = enough if most is None else min(enough, figures.of_the_plate * most)
    if start.value < enough:
        return item("cannot be told", "test-pressure-low", enough=enough)
    if "held" not in given:
        return item("cannot be told", "test-time-unknown")
    if told["held"] < figures.least_held:
        return item("cannot be told", "test-too-short")
    return item("done", "test-holds")


# -- the vacuum --------------------------------------------------------------------------------------------------------


def _points(start_up: StartUp) -> list[tuple[float, Measure]]:
    return [(time.value, measure(pressure)) for time, pressure in start_up.pairs(VACUUM)]


def _evacuation(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """How deep the vacuum was when the pump was valved off."""
    points, figures = _points(start_up), rules.judgement.start_up
    if not points:
        return left_out("evacuation")
    reached = points[0][1]
    told = {"reached": reached.value, "error": reached.error, "depth": figures.depth}
    deep = reached.value <= figures.depth
    return Item("evacuation", "done" if deep else "failed", "vacuum-deep" if deep else "vacuum-shallow", told)


_STOOD: Mapping[str, Status] = {"vacuum-holds": "done", "vacuum-levels-off": "failed", "vacuum-climbs": "failed",
                                "vacuum-rises": "failed"}  # fmt: skip


def _decay_test(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """How the vacuum stood after that."""
    points, figures = _points(start_up), rules.judgement.start_up
    if not points:
        return left_out("decay test")
    found = decay(points, figures)
    told = {"time": found.time, "start": found.start, "end": found.end, "early": found.early, "late": found.late,
            "stays": figures.stays, "least": figures.decay, "depth": figures.depth, "points": len(points)}  # fmt: skip
    return Item("decay test", _STOOD.get(found.code, "cannot be told"), found.code, told)


# -- the charge, and the customer --------------------------------------------------------------------------------------


def _charge(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """What was weighed in, against the factory charge and what this line set adds to it."""
    given, machine = start_up.of(WEIGHED), visit.machine
    weighed_in = machine.fact(WEIGHED_IN)
    if not given and weighed_in is None:
        return left_out("charge by weight")
    wanted = weigh_in(machine)
    all_of_it = "whole" in given or not given
    put = sum(given[name].value * sign for name, sign in (("whole", 1), ("added", 1), ("removed", -1)) if name in given)
    put = put if given or weighed_in is None else weighed_in
    told: dict[str, Any] = {"put": put, "whole": all_of_it, "lacks": wanted.lacks}
    if wanted.lacks:
        return Item("charge by weight", "cannot be told", "charge-unknown", told)
    factory = machine.fact("factory charge") or 0.0
    has = put if all_of_it else factory + put
    low, high = rules.findings[BY_WEIGHT].scales[0].limits
    error = hypot(wanted.error, *(each.error for each in given.values()))
    least, most = low * wanted.kg - error, high * wanted.kg + error
    told |= {
        "held": has,
        "wanted": wanted.kg,
        "lines": wanted.lines,
        "off": has - wanted.kg,
        "least": least,
        "most": most,
    }
    right = least <= has <= most
    return Item(
        "charge by weight", "done" if right else "failed", "charge-as-worked-out" if right else "charge-otherwise", told
    )


def _customer(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    if not start_up.told:
        return left_out("customer")
    return Item("customer", "done", "customer-told", {"told": start_up.told})
