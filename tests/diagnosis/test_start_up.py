"""A start-up, item by item; what stands as the machine's baseline; and what can hurt."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from judged import judged
from start_ups import HEAT, LINES, MACHINE, READINGS, SHOWN, STATIC, TEST, Shown

from diagnose import examine
from diagnose.diagnosis.start_up_items import ITEMS
from diagnose.quantities.weighing import weigh_in
from diagnose.report.sentences import problems
from diagnose.report.start_up_sentences import SENTENCES
from diagnose.units import IN_H2O, PSI, TON
from diagnose.visit import visit_from

ALL = {
    "lines": LINES, "pressure test": TEST, "vacuum": "0 min 300 microns, 5 min 350 microns, 12 min 360 microns",
    "electric heat": HEAT, "static": STATIC, "charge": {"added": "14 oz"}, "told the customer": "filter",
}  # fmt: skip


def items(start_up: dict[str, Any], rules: Any = None, **more: Any) -> dict[str, Any]:
    d = examine({"machine": MACHINE, "start-up": start_up, **more}, rules)
    return {item.item: item for item in d.start_up.items}


@pytest.mark.parametrize("shown", SHOWN, ids=lambda shown: f"{shown.code}-{SHOWN.index(shown)}")
def test_every_item_says_what_was_found(shown: Shown) -> None:
    d = examine(shown.visit)
    assert [item.item for item in d.start_up.items] == list(ITEMS)
    found = next(item for item in d.start_up.items if item.item == shown.item)
    assert (found.status, found.code) == (shown.status, shown.code)


def test_every_code_is_reached() -> None:
    assert {shown.code for shown in SHOWN} == set(SENTENCES)


def test_what_is_not_there_is_left_out_and_listed() -> None:
    assert {item.status for item in items({}).values()} == {"left out"}
    assert examine({"machine": MACHINE, "start-up": None}).start_up is None
    assert examine({"machine": MACHINE, "readings": READINGS}).start_up is None


def test_a_good_start_up_is_the_baseline_of_later_visits(tmp_path: Path) -> None:
    d = examine({"machine": MACHINE, "start-up": ALL, "readings": READINGS})
    assert {item.status for item in d.start_up.items} == {"done"}
    assert d.start_up.keeps
    later = {"machine": MACHINE, "readings": {**READINGS, "supply air dry bulb": "58 F"}}
    with_it = examine({**later, "baseline": {"machine": MACHINE, "start-up": ALL, "readings": READINGS}})
    assert with_it.good_day.used
    assert not any("start-up" in reason.code for reason in with_it.good_day.reasons)


@pytest.mark.parametrize("missing", ["readings", "pressure test", "vacuum"])
def test_it_is_none_where_the_readings_were_not_right_or_something_failed(missing: str) -> None:
    start_up: dict[str, Any] = (
        {**ALL, "pressure test": {**TEST, "end pressure": "420 psig"}} if missing == "pressure test" else ALL
    )
    start_up = {**start_up, "vacuum": "0 min 900 microns"} if missing == "vacuum" else start_up
    visit = {"machine": MACHINE, "start-up": start_up} | ({} if missing == "readings" else {"readings": READINGS})
    d = examine(visit)
    assert not d.start_up.keeps
    later = examine({"machine": MACHINE, "readings": READINGS, "baseline": visit})
    codes = {reason.code for reason, _ in problems(later)}
    assert ("baseline-start-up-failed" in codes) == (missing != "readings")
    assert ("baseline-not-ready" in codes) == (missing == "readings")


def test_a_start_up_found_faulty_is_refused_as_a_baseline() -> None:
    low = {**READINGS, "suction pressure": "95 psig", "liquid pressure": "250 psig", "suction line temperature": "62 F",
           "liquid line temperature": "88 F", "supply air dry bulb": "64 F"}  # fmt: skip
    later = examine({"machine": MACHINE, "readings": READINGS, "baseline": {"start-up": ALL, "readings": low}})
    assert "baseline-was-faulty" in {reason.code for reason, _ in problems(later)}


@pytest.mark.parametrize("gas", ["oxygen", "air"])
def test_a_gas_that_burns_oil_stops_everything(gas: str) -> None:
    d = examine({"machine": MACHINE, "start-up": {"pressure test": {**TEST, "gas": gas}}, "readings": READINGS})
    assert [danger.code for danger in d.dangers if danger.level == "stop"] == ["test-gas-burns"]
    assert d.charge.verdict == "do not judge"
    assert not d.start_up.keeps


@pytest.mark.parametrize(
    ("psig", "told"), [("550 psig", False), ("551 psig", True), ("565 psia", True), ("38 bar", True)]
)
def test_a_test_pressure_above_the_plate_is_a_danger_at_either_end(psig: str, told: bool) -> None:
    for end in ("start pressure", "end pressure"):
        d = examine({"machine": MACHINE, "start-up": {"pressure test": {**TEST, end: psig}}})
        assert ("test-pressure-too-high" in [danger.code for danger in d.dangers]) is told


def test_no_danger_where_the_plate_is_not_known() -> None:
    test = {name: said for name, said in TEST.items() if name != "highest allowed"}
    assert (
        examine({"machine": MACHINE, "start-up": {"pressure test": {**test, "start pressure": "600 psig"}}}).dangers
        == ()
    )


def test_the_airflow_that_was_worked_out_is_among_the_readings() -> None:
    d = examine({"machine": MACHINE, "start-up": {"electric heat": HEAT}, "readings": READINGS})
    assert d.estimates["airflow per ton"].value * 3 * TON == pytest.approx(
        items({"electric heat": HEAT})["airflow"].figures["flow"]
    )
    assert "airflow-of-the-start-up" in {reason.code for reason, _ in problems(d)}
    measured = examine(
        {"machine": MACHINE, "start-up": {"electric heat": HEAT}, "readings": {**READINGS, "airflow": "1150 cfm"}}
    )
    assert measured.visit.last.readings["airflow"].unit == "cfm"
    assert "airflow-of-the-start-up" not in {reason.code for reason, _ in problems(measured)}
    both = next(item for item in measured.start_up.items if item.item == "airflow")  # type: ignore[union-attr]
    assert set(both.figures["by"]) == {"meter", "heat"}


def test_three_phases_take_more_power() -> None:
    heat = {"voltage": "208 V", "current": "26.6 A", "return air": "70 F", "supply air": "95 F"}
    one, three = (items({"electric heat": {**heat, "phases": p}})["airflow"].figures["flow"] for p in ("one", "three"))
    assert three / one == pytest.approx(3**0.5)


def test_a_column_of_liquid_costs_subcooling() -> None:
    lines = {**MACHINE["line set"], "lift": "30 ft"}  # type: ignore[dict-item]
    d = examine({"machine": {**MACHINE, "line set": lines}, "start-up": {"lines": LINES}})
    told = d.start_up.items[0].figures
    assert told["column"] / PSI == pytest.approx(0.43 * 30, rel=0.05)  # psi a foot of R-410A, from memory
    assert told["column_subcooling"] * 1.8 == pytest.approx(2.7, abs=0.3)


@pytest.mark.parametrize(
    ("start_up", "item", "now", "before", "after"),
    [
        ({"pressure test": {**TEST, "held": "20 min"}}, "pressure test",
         {"start_up__least_held": "30 min"}, "done", "cannot be told"),
        ({"pressure test": TEST}, "pressure test", {"start_up__least_pressure": "460 psig"}, "done", "cannot be told"),
        ({"pressure test": {**TEST, "start pressure": "95 psig", "end pressure": "95 psig", "highest allowed": "100 psig"}},
         "pressure test", {"start_up__least_pressure": "94 psig"}, "done", "done"),
        ({"pressure test": {**TEST, "start pressure": "95 psig", "end pressure": "95 psig", "highest allowed": "100 psig"}},
         "pressure test", {"start_up__of_the_plate": 0.97}, "done", "cannot be told"),
        ({"pressure test": {**TEST, "start pressure": "88 psig", "end pressure": "88 psig", "highest allowed": "100 psig"}},
         "pressure test", {"start_up__of_the_plate": 0.89}, "cannot be told", "done"),
        ({"pressure test": TEST}, "pressure test", {"start_up__shows": 0.004}, "done", "cannot be told"),
        ({"pressure test": {**TEST, "end pressure": "446 psig"}}, "pressure test",
         {"start_up__gas_temperature": "8 F"}, "failed", "done"),
        ({"vacuum": "0 min 450 microns"}, "evacuation", {"start_up__depth": "400 microns"}, "done", "failed"),
        ({"vacuum": "0 min 300 microns, 10 min 500 microns, 30 min 620 microns"}, "decay test",
         {"start_up__stays": "550 microns"}, "done", "failed"),
        ({"electric heat": {**HEAT, "supply air": "108 F"}}, "airflow", {"start_up__airflow": 0.4}, "failed", "done"),
    ],
)  # fmt: skip
def test_a_company_may_set_its_own_limits(
    start_up: dict[str, Any], item: str, now: dict[str, Any], before: str, after: str
) -> None:
    assert items(start_up)[item].status == before
    assert items(start_up, judged(**now))[item].status == after


def test_what_is_lacking_is_named() -> None:
    assert items({"pressure test": {"start pressure": "450 psig"}})["pressure test"].figures["lacks"] == (
        "end pressure",
    )
    for name in ("start temperature", "end temperature"):
        one = {key: value for key, value in TEST.items() if key != name}
        assert items({"pressure test": one})["pressure test"].figures["temperatures"] is False
    assert items({"pressure test": {"gas": "N2"}})["pressure test"].figures["lacks"] == (
        "start pressure",
        "end pressure",
    )
    lines = {name: said for name, said in LINES.items() if name != "insulation"}
    assert items({"lines": lines})["line set"].figures["lacks"] == ("insulation",)
    bare = {**MACHINE, "line set": {"liquid line": "3/8 in", "length": "40 ft"}}
    d = examine({"machine": bare, "start-up": {"lines": {**LINES, "maker's suction line": "3/4 in"}}})
    assert d.start_up.items[0].figures["lacks"] == ("lift", "suction line")
    heat = {"voltage": "240 V", "supply air": "95 F"}
    assert items({"electric heat": heat})["airflow"].figures["lacks"] == ("return air", "power, or voltage and current")


def test_the_static_pressure_is_judged_where_somebody_began_to() -> None:
    total = {**READINGS, "external static pressure": "0.45 inH2O"}
    assert items({}, readings=total)["static pressure"].status == "left out"
    assert items({"static": {"highest allowed": "0.5 inH2O"}})["static pressure"].status == "left out"
    assert (
        items({"static": {"highest allowed": "0.5 inH2O"}}, readings=total)["static pressure"].code == "static-within"
    )
    assert (
        items({"blower table": "0.4 inH2O 1200 cfm, 0.5 inH2O 1100 cfm"}, readings=total)["airflow"].code
        == "airflow-right"
    )


@pytest.mark.parametrize(("measured", "told"), [("0.45 inH2O", False), ("0.60 inH2O", True), ("0.30 inH2O", True)])
def test_what_the_parts_do_not_explain_is_told(measured: str, told: bool) -> None:
    figures = items({"static": {**STATIC, "measured": measured}})["static pressure"].figures
    assert ("unexplained" in figures) is told


def test_what_the_scale_showed_is_held_against_the_whole() -> None:
    wanted = weigh_in(visit_from({"machine": MACHINE}).machine)
    factory = 6.25 * 0.45359237
    for charge, held in (
        ({"added": "2 oz"}, factory + 0.0567),
        ({"removed": "2 oz"}, factory - 0.0567),
        ({"whole": "3 kg"}, 3.0),
    ):
        told = items({"charge": charge})["charge by weight"].figures
        assert told["held"] == pytest.approx(held, abs=1e-4)
        assert told["off"] == pytest.approx(held - wanted.kg, abs=1e-4)
        assert told["most"] - wanted.kg == pytest.approx(wanted.kg - told["least"])
    on_the_plate = {"machine": {**MACHINE, "weighed in": "3.2 kg"}}
    for start_up, held in (({}, 3.2), ({"charge": {"added": "2 oz"}}, factory + 0.0567)):
        d = examine({**on_the_plate, "start-up": start_up})
        found = next(item for item in d.start_up.items if item.item == "charge by weight")
        assert found.figures["held"] == pytest.approx(held, abs=1e-4)


def test_the_table_that_was_left_is_told_by_its_ends() -> None:
    table = "0.2 inH2O 1300 cfm, 0.3 inH2O 1250 cfm, 0.5 inH2O 1150 cfm"
    told = items({"blower table": table, "static": {"measured": "0.6 inH2O"}})["airflow"].figures
    assert [end / IN_H2O for end in told["table"]] == pytest.approx([0.2, 0.5])


def test_a_test_far_above_the_plate_is_a_danger_and_no_slip_of_the_pen() -> None:
    found = examine(
        {"start-up": {"pressure test": {**TEST, "start pressure": "900 psig", "highest allowed": "600 psig"}}}
    )
    assert [danger.code for danger in found.dangers] == ["test-pressure-too-high"]


def test_a_meter_that_reads_nothing_is_the_least_exact_of_all() -> None:
    stands = {**READINGS, "airflow": "0 cfm"}
    assert items({}, readings=stands)["airflow"].code == "airflow-low"
    both = items({"electric heat": HEAT}, readings=stands)["airflow"]
    assert (both.code, set(both.figures["by"])) == ("airflow-contradicts", {"meter", "heat"})
