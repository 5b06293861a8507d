"""One start-up for each thing that can be said of an item."""

from __future__ import annotations

from typing import Any, NamedTuple

MACHINE = {
    "mode": "cooling", "refrigerant": "R-410A", "metering": "TXV", "nominal capacity": "3 ton", "SEER": 14,
    "rated subcooling": "10 F", "factory charge": "6 lb 4 oz", "altitude": "30 ft",
    "line set": {"liquid line": "3/8 in", "suction line": "3/4 in", "length": "40 ft", "included": "15 ft",
                 "lift": "12 ft"},
}  # fmt: skip
READINGS = {
    "minutes running": 20, "suction pressure": "130 psig", "liquid pressure": "306 psig", "suction line temperature": "56 F",
    "liquid line temperature": "88 F", "outdoor air temperature": "80 F", "return air dry bulb": "75 F",
    "return air wet bulb": "63 F", "supply air dry bulb": "56 F",
}  # fmt: skip
TEST = {"gas": "nitrogen", "start pressure": "450 psig", "start temperature": "70 F", "end pressure": "450 psig",
        "end temperature": "70 F", "held": "60 min", "highest allowed": "550 psig"}  # fmt: skip
LINES = {"longest allowed": "150 ft", "highest lift allowed": "50 ft", "insulation": "whole"}
HEAT = {"power": "9.6 kW", "return air": "70 F", "supply air": "95 F"}
TABLE = "0.3 inH2O 1280 cfm, 0.5 inH2O 1180 cfm"
STATIC = {"measured": "0.45 inH2O", "filter": "0.12 inH2O", "coil": "0.15 inH2O", "supply side": "0.1 inH2O",
          "return side": "0.08 inH2O", "highest allowed": "0.5 inH2O"}  # fmt: skip


class Shown(NamedTuple):
    """code, item, status, and the visit for which it is said."""

    code: str
    item: str
    status: str
    visit: dict[str, Any]


def _of(code: str, item: str, status: str, start_up: dict[str, Any], **more: Any) -> Shown:
    machine = {name: fact for name, fact in {**MACHINE, **more.pop("machine", {})}.items() if fact is not None}
    return Shown(code, item, status, {"machine": machine, "start-up": start_up, **more})


def _test(code: str, status: str, **changed: str | None) -> Shown:
    test = {
        name: said for name, said in {**TEST, **{n.replace("_", " "): v for n, v in changed.items()}}.items() if said
    }
    return _of(code, "pressure test", status, {"pressure test": test})


def _vacuum(code: str, status: str, rows: str, item: str = "decay test") -> Shown:
    return _of(code, item, status, {"vacuum": rows})


def _air(code: str, status: str, machine: dict[str, Any] | None = None, **start_up: Any) -> Shown:
    said = {name.replace("_", " "): value for name, value in start_up.items()}
    return _of(code, "airflow", status, said, machine=machine or {})


def _static(code: str, status: str, **changed: str | None) -> Shown:
    static = {
        name: said for name, said in {**STATIC, **{n.replace("_", " "): v for n, v in changed.items()}}.items() if said
    }
    return _of(code, "static pressure", status, {"static": static})


NO_PARTS = {"filter": None, "coil": None, "supply_side": None, "return_side": None}
LOW = {**READINGS, "suction pressure": "121 psig", "liquid pressure": "283 psig", "suction line temperature": "61 F",
       "liquid line temperature": "89 F", "supply air dry bulb": "58 F"}  # fmt: skip
UNSURE = {**READINGS, "liquid line temperature": "91 F"}

SHOWN = (
    _of("left-out", "line set", "left out", {}),
    _of("line-set-right", "line set", "done", {"lines": LINES}),
    _of("line-set-wrong", "line set", "failed", {"lines": {**LINES, "highest lift allowed": "11 ft"}}),
    _of("line-set-wrong", "line set", "failed", {"lines": {**LINES, "longest allowed": "39 ft"}}),
    _of("line-set-wrong", "line set", "failed", {"lines": {**LINES, "insulation": "torn"}}),
    _of("line-set-wrong", "line set", "failed", {"lines": {**LINES, "maker's liquid line": "1/2 in"}}),
    _of("line-set-not-all-known", "line set", "cannot be told", {"lines": {"slope": "good"}}),
    _of("line-set-not-all-known", "line set", "cannot be told", {"lines": {**LINES, "maker's suction line": "3/4"}},
        machine={"line set": {"liquid line": "3/8 in", "length": "40 ft"}}),
    _test("test-holds", "done"),
    _test("test-holds", "done", end_pressure="441 psig", end_temperature="61 F"),
    _test("test-leaks", "failed", end_pressure="440 psig"),
    _test("test-leaks", "failed", end_pressure="390 psig", end_temperature=None),
    _test("test-rises", "cannot be told", end_pressure="455 psig"),
    _test("test-too-coarse", "cannot be told", start_temperature=None),
    _of("test-too-coarse", "pressure test", "cannot be told", {"pressure test": TEST}, instruments={"gauges": "10 %"}),
    _test("test-pressure-low", "cannot be told", start_pressure="20 psig", end_pressure="20 psig"),
    _test("test-too-short", "cannot be told", held="14 min"),
    _test("test-time-unknown", "cannot be told", held=None),
    _test("test-one-pressure", "cannot be told", end_pressure=None),
    _test("test-gas-unknown", "cannot be told", gas="argon"),
    _test("test-gas-wrong", "failed", gas="oxygen"),
    _test("test-gas-wrong", "failed", gas="R-22"),
    _test("test-pressure-above-plate", "failed", start_pressure="560 psig"),
    _test("test-bubbles", "failed", bubbles="seen"),
    _test("test-out-of-range", "cannot be told", start_pressure="865 psig", highest_allowed=None),
    _vacuum("vacuum-deep", "done", "0 min 500 microns", "evacuation"),
    _vacuum("vacuum-shallow", "failed", "0 min 510 microns", "evacuation"),
    _vacuum("vacuum-holds", "done", "0 min 300 microns, 10 min 350 microns"),
    _vacuum("vacuum-levels-off", "failed", "0 min 300 microns, 5 min 1700 microns, 10 min 1900 microns, 20 min 1950 microns"),
    _vacuum("vacuum-climbs", "failed", "0 min 300 microns, 5 min 1100 microns, 10 min 1900 microns"),
    _vacuum("vacuum-climbs", "failed", "0 min 300 microns, 1 min 90000 microns"),
    _vacuum("vacuum-rises", "failed", "0 min 300 microns, 10 min 1900 microns"),
    _vacuum("vacuum-still-rising", "cannot be told", "0 min 300 microns, 10 min 900 microns"),
    _vacuum("vacuum-falls", "cannot be told", "0 min 400 microns, 10 min 250 microns"),
    _vacuum("vacuum-one-point", "cannot be told", "300 microns"),
    _vacuum("vacuum-too-short", "cannot be told", "0 min 300 microns, 5 min 320 microns"),
    _vacuum("vacuum-not-deep", "cannot be told", "0 min 1500 microns, 10 min 1520 microns"),
    _air("airflow-right", "done", electric_heat=HEAT),
    _air("airflow-right", "done", blower_table=TABLE, static={"measured": "0.5 inH2O"}),
    _air("airflow-low", "failed", electric_heat={**HEAT, "supply air": "110 F"}),
    _air("airflow-high", "failed", {"rated airflow": "900 cfm"}, electric_heat=HEAT),
    _air("airflow-near-limit", "cannot be told", electric_heat={**HEAT, "supply air": "101 F"}),
    _air("airflow-no-target", "cannot be told", {"nominal capacity": None}, electric_heat=HEAT),
    _air("airflow-no-rise", "cannot be told", electric_heat={**HEAT, "supply air": "69 F"}),
    _air("airflow-heat-incomplete", "cannot be told", electric_heat={"voltage": "240 V", "return air": "70 F"}),
    _air("airflow-static-missing", "cannot be told", blower_table=TABLE),
    _air("airflow-off-table", "cannot be told", blower_table=TABLE, static={"measured": "0.6 inH2O"}),
    _air("airflow-contradicts", "cannot be told", blower_table=TABLE, static={"measured": "0.5 inH2O"},
         electric_heat={**HEAT, "supply air": "110 F"}),
    _static("static-within", "done"),
    _static("static-within", "done", **NO_PARTS),
    _static("static-within", "done", measured=None),
    _static("static-over", "failed", measured="0.7 inH2O"),
    _static("static-over", "failed", measured="0.7 inH2O", **NO_PARTS),
    _static("static-contradicts", "cannot be told", filter="0.9 inH2O"),
    _static("static-near-limit", "cannot be told", measured="0.51 inH2O"),
    _static("static-no-limit", "cannot be told", highest_allowed=None),
    _static("static-parts-missing", "cannot be told", measured=None, coil=None),
    _of("charge-as-worked-out", "charge by weight", "done", {"charge": {"added": "14 oz"}}),
    _of("charge-as-worked-out", "charge by weight", "done", {}, machine={"weighed in": "7 lb 2 oz"}),
    _of("charge-as-worked-out", "charge by weight", "done", {"charge": {"whole": "7 lb 1 oz"}}),
    _of("charge-otherwise", "charge by weight", "failed", {"charge": {"added": "2 oz"}}),
    _of("charge-otherwise", "charge by weight", "failed", {"charge": {"removed": "6 oz"}}),
    _of("charge-unknown", "charge by weight", "cannot be told", {"charge": {"added": "2 oz"}}, machine={"line set": None}),
    _of("running-right", "running readings", "done", {}, readings=READINGS),
    _of("running-wrong", "running readings", "failed", {}, readings=LOW),
    _of("running-unsure", "running readings", "cannot be told", {}, readings=UNSURE),
    _of("running-held", "running readings", "cannot be told", {}, readings={**READINGS, "minutes running": 4}),
    _of("customer-told", "customer", "done", {"told the customer": ["filter", "shut-off"]}),
)  # fmt: skip
