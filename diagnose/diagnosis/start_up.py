"""A start-up, item by item: what was done, whether it came out right, what cannot be told, what was left out.

From the `start-up:` of a visit alone; what its running readings say is added in `commissioning.py`. Values only, SI, each
with a code; the sentences stand in `report/start_up.py`, the limits under `start up` in rules/judgement.yaml.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import copysign, hypot
from typing import Any, Literal

from diagnose import targets
from diagnose.properties import liquid_density, saturation_pressure, saturation_temperature
from diagnose.quantities.start_up import Measure, airflow_by_heat, airflow_by_table, decay, pressure_lost
from diagnose.rulebook import Rulebook
from diagnose.visit import Machine, Reading, StartUp, Visit
from diagnose.visit.start_up_fields import HEAT, LINE_CHECK, PRESSURE, STATIC, TABLE, VACUUM, WEIGHED

Status = Literal["done", "failed", "left out", "cannot be told"]
ItemName = Literal[
    "line set", "pressure test", "evacuation", "decay test", "airflow", "static pressure", "charge by weight",
    "running readings", "customer",
]  # fmt: skip
ITEMS: tuple[ItemName, ...] = (
    "line set", "pressure test", "evacuation", "decay test", "airflow", "static pressure", "charge by weight",
    "running readings", "customer",
)  # fmt: skip
"""In the order of the work."""
WRONG_GASES = ("oxygen", "air")
"""They burn oil under pressure, and may explode."""
LIQUID = 310.93
"""K, 100 °F: liquid on its way to the indoor coil on a warm day."""
_GRAVITY = 9.80665
_SIZE = 0.0005  # m; one tube size and the next lie further apart
SIDES = ("filter", "coil", "supply side", "return side")
"""What uses up the external static pressure of nearly every machine."""


@dataclass(frozen=True, slots=True)
class Item:
    """One step of a start-up. code: why it has this status, unique in the program. figures: SI, names."""

    item: ItemName
    status: Status
    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Commissioning:
    """A start-up: every item, in the order of the work."""

    items: tuple[Item, ...]

    def having(self, status: Status) -> tuple[Item, ...]:
        """The items of one status."""
        return tuple(item for item in self.items if item.status == status)

    @property
    def keeps(self) -> bool:
        """Whether the readings of this day can be the baseline of later ones: found right, and nothing failed."""
        right = any(item.item == "running readings" and item.status == "done" for item in self.items)
        return right and not self.having("failed")


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
        "airflow": _airflow,
        "static pressure": _static,
        "charge by weight": _charge,
        "customer": _customer,
    }
    return {name: step(visit, start_up, rules) for name, step in steps.items()}


def _left_out(item: ItemName) -> Item:
    return Item(item, "left out", "left-out")


# -- the lines ---------------------------------------------------------------------------------------------------------


def _line_set(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """Length, lift and sizes against what the maker allows; insulation, slope and traps as they look."""
    given, looks = start_up.of(LINE_CHECK), start_up.looks(LINE_CHECK)
    lines = visit.machine.line_set
    if not given and not looks:
        return _left_out("line set")
    has: dict[str, float] = {"lift": given["lift"].value} if "lift" in given else {}
    if "suction line" in given:
        has["suction line"] = given["suction line"].value
    if lines is not None:
        has |= {"length": lines.length, "liquid line": lines.liquid_line}
    allowed = {
        name: given[limit].value
        for name, limit in (
            ("length", "longest allowed"), ("lift", "highest lift allowed"), ("liquid line", "maker's liquid line"),
            ("suction line", "maker's suction line"),
        )
        if limit in given
    }  # fmt: skip
    wrong = [name for name in ("length", "lift") if name in has and has[name] > allowed.get(name, has[name])]
    wrong += [
        name
        for name in ("liquid line", "suction line")
        if name in has and name in allowed and abs(has[name] - allowed[name]) > _SIZE
    ]
    wrong += [name for name in ("insulation", "slope", "traps") if looks.get(name) in _BAD]
    lacks = [name for name in ("length", "lift") if name not in has or name not in allowed]
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
    """What a column of liquid of this height costs: pressure (Pa), and the subcooling (K) that it uses up."""
    gas = machine.refrigerant
    density = liquid_density(gas, LIQUID) if gas is not None else None
    full = saturation_pressure(gas, "bubble", LIQUID) if gas is not None else None
    if lift is None or gas is None or density is None or full is None:
        return {}
    weight = density * _GRAVITY * lift
    left = saturation_temperature(gas, "bubble", full - weight)
    return {"column": weight} | ({} if left is None else {"column_subcooling": LIQUID - left})


# -- the pressure test -------------------------------------------------------------------------------------------------


def absolute(reading: Reading, machine: Machine) -> Measure:
    """Pa absolute."""
    return Measure(reading.value + (machine.station_pressure if reading.gauge else 0.0), reading.error)


def _measure(reading: Reading) -> Measure:
    return Measure(reading.value, reading.error)


def above_the_plate(visit: Visit) -> tuple[float, float] | None:
    """The test pressure and what the plate allows, Pa absolute, where it was more than that."""
    given = visit.start_up.of(PRESSURE) if visit.start_up is not None else {}
    if "highest allowed" not in given:
        return None
    most = absolute(given["highest allowed"], visit.machine).value
    tested = [absolute(given[name], visit.machine).value for name in ("start pressure", "end pressure") if name in given]
    return (max(tested), most) if tested and max(tested) > most * 1.0001 else None


def _pressure_test(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """Holds, leaks, or cannot be told with these instruments."""
    given, looks, figures = start_up.of(PRESSURE), start_up.looks(PRESSURE), rules.judgement.start_up
    if not given and not looks:
        return _left_out("pressure test")
    told: dict[str, Any] = {"gas": looks.get("gas", "nitrogen")}
    told |= {"held": given["held"].value} if "held" in given else {}
    told |= {name: absolute(given[name], visit.machine).value for name in ("start pressure", "end pressure") if name in given}

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
    warm, then = (_measure(given[name]) if name in given else None for name in ("start temperature", "end temperature"))
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
    if "held" not in given:
        return item("cannot be told", "test-time-unknown")
    if told["held"] < figures.least_held:
        return item("cannot be told", "test-too-short")
    return item("done", "test-holds")


# -- the vacuum --------------------------------------------------------------------------------------------------------


def _points(start_up: StartUp) -> list[tuple[float, Measure]]:
    return [(time.value, _measure(pressure)) for time, pressure in start_up.pairs(VACUUM)]


def _evacuation(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """How deep the vacuum was when the pump was valved off."""
    points, figures = _points(start_up), rules.judgement.start_up
    if not points:
        return _left_out("evacuation")
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
        return _left_out("decay test")
    found = decay(points, figures)
    told = {"time": found.time, "start": found.start, "end": found.end, "early": found.early, "late": found.late,
            "stays": figures.stays, "least": figures.decay, "depth": figures.depth, "points": len(points)}  # fmt: skip
    return Item("decay test", _STOOD.get(found.code, "cannot be told"), found.code, told)


# -- the air -----------------------------------------------------------------------------------------------------------


def _static_read(visit: Visit, start_up: StartUp) -> Measure | None:
    """The external static pressure that was measured, at the start-up or among the readings."""
    found = start_up.of(STATIC).get("measured") or visit.last.readings.get("external static pressure")
    return None if found is None else _measure(found)


def _power(given: Mapping[str, Reading], phases: str) -> Measure | None:
    """Of the heater, W; resistance heat has no power factor."""
    if "power" in given:
        return _measure(given["power"])
    if "voltage" not in given or "current" not in given:
        return None
    volts, amps = given["voltage"], given["current"]
    power = volts.value * amps.value * (3**0.5 if phases == "three" else 1.0)
    return Measure(power, power * hypot(volts.error / volts.value, amps.error / amps.value))


def _airflow(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """By heat, by the blower table or by a meter: the surest counts, and they must not contradict each other."""
    figures, heat, rows = rules.judgement.start_up, start_up.of(HEAT), start_up.pairs(TABLE)
    metered = visit.last.readings.get("airflow")
    if not heat and not rows and metered is None:
        return _left_out("airflow")
    found: dict[str, Measure] = {} if metered is None else {"meter": _measure(metered)}
    why: list[str] = []
    power = _power(heat, start_up.looks(HEAT).get("phases", "one"))
    if heat and (power is None or "return air" not in heat or "supply air" not in heat):
        why.append("airflow-heat-incomplete")
    elif heat and power is not None:
        air = (_measure(heat["return air"]), _measure(heat["supply air"]))
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
    told: dict[str, Any] = {"by": {name: tuple(each) for name, each in found.items()}}
    told |= {"static": static.value, "table": (rows[0][0].value, rows[-1][0].value)} if static is not None and rows else {}
    if not found:
        return Item("airflow", "cannot be told", why[0], told)
    best = min(found, key=lambda name: found[name].error / found[name].value)
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


def _static(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """What the ducts, filter and coil use up, against what the plate allows."""
    given = start_up.of(STATIC)
    total = _static_read(visit, start_up)
    parts = {name: given[name] for name in (*SIDES, "other") if name in given}
    if not parts and (total is None or (not given and not start_up.pairs(TABLE))):
        return _left_out("static pressure")
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
    if judged.low > most or summed.low > most:
        return Item("static pressure", "failed", "static-over", told)
    if total is None and told["missing"]:
        return Item("static pressure", "cannot be told", "static-parts-missing", told)
    if judged.value > most:
        return Item("static pressure", "cannot be told", "static-near-limit", told)
    return Item("static pressure", "done", "static-within", told)


# -- the charge, and the customer --------------------------------------------------------------------------------------


def _charge(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    """What was weighed in, against the factory charge and what this line set adds to it."""
    given, machine = start_up.of(WEIGHED), visit.machine
    if not given:
        return _left_out("charge by weight")
    factory, lines = machine.fact("factory charge"), _lines_hold(machine)
    lacks = tuple(name for name, value in (("factory charge", factory), ("line set", lines)) if value is None)
    put = sum(given[name].value * sign for name, sign in (("whole", 1), ("added", 1), ("removed", -1)) if name in given)
    told: dict[str, Any] = {"put": put, "whole": "whole" in given, "lacks": lacks}
    if factory is None or lines is None:
        return Item("charge by weight", "cannot be told", "charge-unknown", told)
    held = put if "whole" in given else factory + put
    within = rules.judgement.start_up.weighed * (factory + lines)
    error = hypot(*(each.error for each in given.values()))
    told |= {"held": held, "wanted": factory + lines, "lines": lines, "off": held - factory - lines, "within": within,
             "error": error}  # fmt: skip
    right = abs(told["off"]) <= within + error
    return Item(
        "charge by weight", "done" if right else "failed", "charge-as-worked-out" if right else "charge-otherwise", told
    )


def _lines_hold(machine: Machine) -> float | None:
    """What the line set adds to the factory charge, kg; negative for a short one."""
    lines, gas = machine.line_set, machine.refrigerant
    if lines is None or gas is None:
        return None
    extra = lines.length - lines.included
    found = targets.line_charge(lines.liquid_line, abs(extra), liquid_density(gas, LIQUID))
    return None if found is None else copysign(found, extra)


def _customer(visit: Visit, start_up: StartUp, rules: Rulebook) -> Item:
    if not start_up.told:
        return _left_out("customer")
    return Item("customer", "done", "customer-told", {"told": start_up.told})
