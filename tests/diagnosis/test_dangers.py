"""Dangers: judged before and apart from everything else, from every reading that was given."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import F, State, states, visit, with_machine, with_readings
from work import THOROUGH

from diagnose import examine, load_rules
from diagnose.diagnosis.dangers import STOP, WAIT, WATCH, dangers_of, pressure_limit
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.record import Diagnosis
from diagnose.properties import REFRIGERANTS, saturation_temperature
from diagnose.rulebook.matcher import Firing, Matched
from diagnose.units import PSI
from diagnose.visit import visit_from

RULES = load_rules()
DAY = visit(State())


def codes(d: Diagnosis) -> list[str]:
    return [danger.code for danger in d.dangers]


def in_rounds(*rounds: dict[str, Any]) -> dict[str, Any]:
    """The last visit, with the readings of the others as earlier rounds."""
    return rounds[-1] | {"readings": [each["readings"] for each in rounds]}


def high(psig: float, base: dict[str, Any] = DAY) -> Diagnosis:
    return examine(with_readings(base, liquid_pressure=f"{psig} psig"))


# -- the high side -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("psig", [611, 630, 640, 645, 690, 720, 860])
def test_a_high_side_over_its_limit_is_stopped_however_far_over(psig: float) -> None:
    d = high(psig)
    assert codes(d)[0] == "high-side-pressure"
    assert d.dangers[0].level == "stop"
    assert next_checks(d)[0].check == STOP
    assert not any(f.strength in ("strong", "fair") for f in d.faults if f.fault == "nothing-wrong")


@pytest.mark.parametrize(
    ("psig", "found"), [(609, ["high-side-near-limit"]), (581, ["high-side-near-limit"]), (578, []), (450, [])]
)
def test_close_to_the_limit_care_is_asked_for_and_below_nothing(psig: float, found: list[str]) -> None:
    assert codes(high(psig)) == found


def test_one_limit_does_not_cry_wolf_for_all_refrigerants() -> None:
    """R-22 at 360 psig on a day of 115 °F condenses 30 °F over it, which is typical of SEER 10."""
    old = visit(State(gas="R-22", outdoor=115, condensing=145, evaporating=48, return_db=80, return_wb=67))
    assert codes(high(360, old)) == []
    assert codes(high(401, old)) == ["high-side-pressure"]


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_every_refrigerant_has_a_limit_where_it_condenses_at_about_150(name: str) -> None:
    """Common practice: high pressure cut-outs open where the refrigerant condenses at 145 to 156 °F."""
    condensing = saturation_temperature(name, "bubble", RULES.pressure_limits.limits[name] + 101325.0)
    assert 145 <= (condensing - 273.15) / F + 32 <= 156


@pytest.mark.parametrize(
    ("cut_out", "psig", "found"), [("550 psig", 560, True), ("550 psig", 500, False), ("800 psig", 615, True)]
)
def test_the_machines_own_cut_out_counts_and_loosens_nothing(cut_out: str, psig: float, found: bool) -> None:
    d = high(psig, with_machine(DAY, **{"high pressure cut-out": cut_out}))
    assert ("high-side-pressure" in codes(d)) is found


def test_what_is_told_of_a_pressure_is_absolute() -> None:
    """630 psig, and 20 inches of mercury below the air, at sea level."""
    (over,) = high(630).dangers
    assert over.reason.figures["pressure"] == pytest.approx(630 * PSI + 101325, rel=1e-6)
    assert over.reason.figures["limit"] == pytest.approx(610 * PSI + 101325, rel=1e-3)
    (empty,) = [d for d in examine(with_readings(DAY, suction_pressure="20 inHg vacuum")).dangers if "vacuum" in d.code]
    assert empty.reason.figures["pressure"] == pytest.approx(101325 - 20 * 3386.39, rel=1e-4)
    assert empty.reason.figures["by"] == pytest.approx(20 * 3386.39, rel=1e-4)


@pytest.mark.parametrize(("psig", "found"), [(551, ["high-side-pressure"]), (549, [])])
def test_a_book_without_limits_still_knows_the_machine_s_own_cut_out(psig: float, found: list[str]) -> None:
    """And says nothing of coming near it."""
    data = with_machine(with_readings(DAY, liquid_pressure=f"{psig} psig"), **{"high pressure cut-out": "550 psig"})
    bare = replace(RULES, pressure_limits=None)
    assert [danger.code for danger in examine(data, bare).dangers] == found
    assert pressure_limit(visit_from(DAY), bare) is None


def test_a_refrigerant_without_a_limit_of_its_own_has_none_but_the_machine_s() -> None:
    others = {name: limit for name, limit in RULES.pressure_limits.limits.items() if name != "R-410A"}
    short = replace(RULES, pressure_limits=RULES.pressure_limits._replace(limits=others))
    assert pressure_limit(visit_from(DAY), short) is None


def test_without_a_refrigerant_the_highest_limit_of_all_holds() -> None:
    unknown = with_machine(DAY, refrigerant=None)
    assert pressure_limit(visit_from(unknown), RULES) == (max(RULES.pressure_limits.limits.values()), "any")
    assert codes(high(640, unknown)) == ["high-side-pressure"]


@pytest.mark.parametrize(
    ("reading", "psig", "code"),
    [("liquid_pressure", 720, "pressure-above-table"), ("suction_pressure", -11, "pressure-below-table")],
)
def test_a_pressure_beyond_the_table_is_a_finding_of_its_own_and_never_called_not_measured(
    reading: str, psig: float, code: str
) -> None:
    d = examine(with_readings(DAY, **{reading: f"{psig} psig"}))
    assert [doubt.reason.code for doubt in d.doubts] == [code]
    assert d.status == "not ready"
    assert d.stop


# -- vacuum ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "found"),
    [
        ("20 inHg vacuum", True),
        ("-2 psig", True),
        ("-0.4 psig", False),
        ("0 psig", False),
        ("12 psia", True),
        ("14.5 psia", False),
    ],
)
def test_below_the_pressure_of_the_air_by_more_than_the_errors_is_a_vacuum(written: str, found: bool) -> None:
    d = examine(with_readings(DAY, suction_pressure=written))
    assert ("suction-in-vacuum" in codes(d)) is found
    if found:
        assert d.stop
        assert not any(f.strength in ("strong", "fair") for f in d.faults if f.fault == "nothing-wrong")


# -- the compressor ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amperes", "found"),
    [
        (17, []),
        (21, []),
        (21.5, ["caution/current-too-high"]),
        (35, ["caution/current-far-too-high"]),
        (170, ["caution/current-far-too-high"]),
    ],
)
def test_a_current_above_the_plate(amperes: float, found: list[str]) -> None:
    d = examine(with_machine(with_readings(DAY, compressor_current=f"{amperes} A"), rated_current="17 A"))
    assert codes(d) == found


@pytest.mark.parametrize(
    ("degrees", "found"),
    [
        (130, []),
        (170, ["caution/hot-pipe"]),
        (232, ["caution/discharge-hot", "caution/hot-pipe"]),
        (399, ["caution/discharge-far-too-hot", "caution/hot-pipe"]),
    ],
)
def test_a_hot_discharge_line(degrees: float, found: list[str]) -> None:
    assert codes(examine(with_readings(DAY, discharge_line_temperature=f"{degrees} F"))) == found


@pytest.mark.parametrize(
    ("superheat", "found"), [(1, ["caution/liquid-reaches-the-compressor"]), (3.5, ["caution/liquid-return"]), (8, [])]
)
def test_liquid_at_the_compressor(superheat: float, found: list[str]) -> None:
    assert codes(examine(visit(State(superheat=superheat)))) == found


def test_a_compressor_that_stands_makes_somebody_reach_among_live_parts() -> None:
    d = examine(with_readings(DAY, suction_pressure="235 psig", liquid_pressure="236 psig"))
    assert codes(d) == ["live-parts"]


@pytest.mark.parametrize(
    ("current", "rated", "stands"),
    [("1.6 A", "17 A", True), ("1.8 A", "17 A", False), ("0.19 A", None, True), ("0.21 A", None, False)],
)
def test_a_compressor_that_draws_next_to_nothing_stands(current: str, rated: str | None, stands: bool) -> None:
    d = examine(with_machine(with_readings(DAY, compressor_current=current), rated_current=rated))
    assert (codes(d) == ["live-parts"]) is stands


@pytest.mark.parametrize(("psig", "stands"), [(235, True), (262, True), (276, False)])
def test_pressures_within_a_seventh_of_one_another_stand(psig: int, stands: bool) -> None:
    """250 psia and 277, 291: a ratio of 1.15 lies between."""
    d = examine(with_readings(DAY, suction_pressure="235.3 psig", liquid_pressure=f"{psig} psig"))
    assert ("live-parts" in codes(d)) is stands


@pytest.mark.parametrize(
    ("gas", "found"), [("R-290", ["caution/flammable-a3"]), ("R-32", ["caution/flammable-a2l"]), ("R-22", [])]
)
def test_what_burns_is_a_danger_before_anything_is_measured(gas: str, found: list[str]) -> None:
    d = examine({"machine": {"refrigerant": gas}})
    assert d.status == "not ready"
    assert codes(d) == found


def test_good_practice_is_no_danger() -> None:
    d = examine(DAY)
    assert d.dangers == ()
    assert [rule.id for rule in d.cautions] == [
        "caution/electric", "caution/gloves", "caution/never-vent", "caution/licensed", "caution/high-gwp",
    ]  # fmt: skip


# -- before all else ---------------------------------------------------------------------------------------------------


def test_a_danger_overrides_every_hold_and_every_step() -> None:
    early = with_readings(visit(State(minutes=8)), liquid_pressure="615 psig", discharge_line_temperature="232 F")
    d = examine(early)
    assert d.status == "not ready"
    checks = [check.check for check in next_checks(d)]
    assert checks[0] == STOP
    assert WAIT not in checks
    assert WAIT in [check.check for check in next_checks(examine(visit(State(minutes=8))))]


EARLY = visit(State(minutes=8, superheat=10))
STANDING = with_readings(EARLY, suction_pressure="230 psig", liquid_pressure="231 psig")


@pytest.mark.parametrize(
    ("data", "first"),
    [
        (EARLY, WAIT),
        ({**EARLY, "seen": {"outdoor fan": "slow or stopped"}}, "free-the-air"),
        ({**EARLY, "seen": {"air filter": "dirty"}}, "clean-what-is-dirty"),
        ({**EARLY, "seen": {"blower": "stopped"}}, "free-the-air"),
        (with_readings(EARLY, liquid_pressure="590 psig"), WATCH),
        (with_readings(EARLY, discharge_line_temperature="232 F"), WATCH),
        (visit(State(minutes=8, superheat=4)), WATCH),
        (with_readings(EARLY, voltage_1_to_2="208 V", voltage_2_to_3="190 V", voltage_3_to_1="210 V"), STOP),
        (with_readings(STANDING, supply_air_dry_bulb=None), "clamp-the-current"),
        ({**EARLY, "readings": {"minutes running": 8}, "seen": {"compressor sound": "humming"}}, "look-for-the-call"),
    ],
)  # fmt: skip
def test_no_machine_is_left_running_where_that_would_harm_it(data, first):
    """A stopped fan, dirt or a bad supply comes before the quarter of an hour, and what stands cannot run it."""
    checks = [check.check for check in next_checks(examine(data))]
    assert checks[0] == first
    assert checks.count(WAIT) == (first in (WAIT, "free-the-air", "clean-what-is-dirty"))


def test_with_a_danger_the_waiting_check_is_not_even_worth_its_minutes() -> None:
    drifting = in_rounds(visit(State(minutes=16, superheat=20)), with_readings(DAY, liquid_pressure="640 psig"))
    assert WAIT not in [check.check for check in next_checks(examine(drifting))]


def test_readings_of_an_earlier_round_count_where_nobody_took_them_again() -> None:
    then = with_readings(visit(State(minutes=15)), liquid_pressure="640 psig", discharge_line_temperature="260 F")
    now = with_readings(DAY, liquid_pressure=None, liquid_line_temperature=None)
    assert codes(examine(in_rounds(then, now))) == [
        "high-side-pressure",
        "caution/discharge-far-too-hot",
        "caution/hot-pipe",
    ]
    assert codes(examine(in_rounds(then, with_readings(DAY, discharge_line_temperature="160 F")))) == [
        "caution/hot-pipe"
    ]


def test_rounds_before_still_tell_the_drift_where_a_reading_of_theirs_counts() -> None:
    then = with_readings(visit(State(minutes=15)), discharge_line_temperature="170 F")
    asking = tuple(replace(r, kind="caution") if r.id == "ready/superheat-settled" else r for r in RULES.rules)
    assert "superheat drift" in examine(in_rounds(then, DAY), replace(RULES, rules=asking)).alarming


@pytest.mark.parametrize(("sure", "told"), [(0.5, True), (0.49, False)])
def test_a_caution_is_told_from_an_even_chance(sure: float, told: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    rule = next(rule for rule in RULES.rules if rule.kind == "caution" and rule.when and rule.level == "stop")
    fired = Matched((Firing(rule.id, sure, {}),), {})
    monkeypatch.setattr(type(RULES.applying({}).plain), "run", lambda *_: fired)
    seen = dangers_of(visit_from(DAY), RULES, {})
    assert (rule.id in [danger.code for danger in seen.dangers]) is told


def test_of_pressures_in_each_others_place_each_is_judged_alone() -> None:
    d = examine(with_readings(DAY, suction_pressure="640 psig", liquid_pressure="125 psig"))
    assert codes(d) == ["high-side-pressure"]
    assert codes(examine(with_readings(DAY, suction_pressure="330 psig", liquid_pressure="125 psig"))) == []


PAST = st.one_of(
    st.tuples(st.sampled_from(["suction pressure", "liquid pressure", "metering inlet pressure", "standing pressure"]),
              st.integers(626, 860).map(lambda psig: f"{psig} psig"), st.just("high-side-pressure")),
    st.tuples(st.sampled_from(["suction pressure", "liquid pressure"]),
              st.floats(1.1, 29.5).map(lambda inches: f"{inches:.2f} inHg vacuum"), st.just("suction-in-vacuum")),
    st.tuples(st.just("discharge line temperature"), st.floats(251, 399).map(lambda f: f"{f:.1f} F"),
              st.just("caution/discharge-far-too-hot")),
    st.tuples(st.just("compressor current"), st.floats(35, 400).map(lambda a: f"{a:.1f} A"),
              st.just("caution/current-far-too-high")),
)  # fmt: skip


@settings(max_examples=150 if THOROUGH else 15, deadline=None)
@given(state=states(), past=PAST, data=st.data())
def test_whenever_a_raw_reading_passes_a_limit_the_danger_is_told(state: State, past: Any, data: st.DataObject) -> None:
    """Whatever else is in the visit: readings missing, doubted or contradicting it, early, heating, in several rounds."""
    reading, written, code = past
    full = with_machine(visit(state, extra=data.draw(st.booleans())), rated_current="17 A")
    readings = dict(full["readings"])
    for name in data.draw(st.sets(st.sampled_from(sorted(readings)))):
        del readings[name]
    for name in data.draw(st.sets(st.sampled_from(["suction line temperature", "outdoor air temperature"]))):
        readings[name] = "104 F"
    readings[reading] = written
    machine = full["machine"] | {"mode": data.draw(st.sampled_from(["cooling", "heating"]))}
    if data.draw(st.booleans()):
        later = {name: value for name, value in readings.items() if name != reading}
        rounds: Any = [readings | {"minutes running": 5}, later | {"minutes running": 12}]
    else:
        rounds = readings
    d = examine(full | {"machine": machine, "readings": rounds})
    assert code in codes(d)
    assert d.stop
    assert next_checks(d)[0].check == STOP
