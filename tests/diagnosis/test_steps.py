"""Single steps of the pipeline, each on a record made for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from by_hand import place, rule
from strategies import State, visit, with_machine, with_readings

from diagnose import examine
from diagnose.diagnosis.dangers import STOP, WAIT, Danger
from diagnose.diagnosis.pipeline import (
    _without,
    assumed,
    judge,
    look_for_a_second_fault,
    more_likely,
    name_first_checks,
    say_of_the_charge,
    see_whether_ready,
    tell_costs,
)
from diagnose.diagnosis.record import Diagnosis, Part
from diagnose.diagnosis.second_fault import ExplainedAway, Second
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.quantities.plausibility import Doubt, Layer
from diagnose.visit import visit_from
from diagnose.visit.reason import Reason

RIGHT = examine(visit(State()))
LOW = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15)))


def test_the_matcher_that_was_asked_for_does_it() -> None:
    assert judge(RIGHT, "plain").matcher == "plain"
    assert judge(RIGHT).matcher == RIGHT.applying.matcher().name


def test_what_fits_no_pattern_or_is_held_has_no_price() -> None:
    assert LOW.costs is not None
    bare = replace(LOW, costs=None)
    assert tell_costs(bare).costs == LOW.costs
    assert tell_costs(replace(bare, explained=LOW.explained._replace(known=False))).costs is None
    assert tell_costs(replace(bare, not_ready=(Reason("a"),))).costs is None


def test_a_reading_that_is_set_aside_prices_nothing() -> None:
    aside = Doubt(Reason("a"), set_aside=("outdoor air temperature",), weight=0.5)
    assert tell_costs(replace(LOW, costs=None, doubts=(aside,))).costs != LOW.costs
    assert tell_costs(replace(LOW, costs=None, doubts=(aside._replace(weight=0.49),))).costs == LOW.costs


# -- what goes first ---------------------------------------------------------------------------------------------------


def first(d: Diagnosis, *doubts: Doubt, **changes: Any) -> tuple[str, ...]:
    return name_first_checks(replace(d, doubts=doubts, **changes)).first


UNSAID = visit_from(with_readings(with_machine(visit(State()), metering=None, refrigerant=None), minutes_running=None))


def standing(d: Diagnosis, sure: float) -> Diagnosis:
    return replace(d, matched=d.matched._replace(states={"compressor": {"standing": sure}}))


def test_on_a_machine_that_stands_neither_its_plate_nor_minutes_nor_air_is_asked_for() -> None:
    asked = ("note-the-refrigerant", "note-the-minutes", "note-the-metering-device")
    unsaid = replace(RIGHT, visit=UNSAID, charge=NoVerdict(None, (Reason("metering-not-given"),)))
    assert first(RIGHT) == ()
    assert first(unsaid)[:3] == asked
    assert first(standing(unsaid, 0.5))[:3] == asked
    assert not set(asked) & set(first(standing(unsaid, 0.51)))
    iced = first(replace(unsaid, not_ready=(Reason("ready/ice"),)))
    assert iced[:2] == (asked[0], asked[2])  # before it is thawed, minutes say nothing
    dry = examine(with_readings(visit(State()), return_air_wet_bulb=None))
    assert "measure-the-return-air" in first(dry)
    assert "measure-the-return-air" not in first(standing(dry, 0.51))


@pytest.mark.parametrize(("weight", "asked"), [(0.5, ("rest-and-read",)), (0.49, ())])
def test_the_check_that_clears_a_firm_doubt_goes_first(weight: float, asked: tuple[str, ...]) -> None:
    assert first(RIGHT, Doubt(Reason("a"), weight=weight, check="rest-and-read")) == asked
    assert first(RIGHT, Doubt(Reason("a"), weight=weight)) == ()


def test_a_verdict_that_hangs_on_the_airflow_asks_for_it_until_it_is_known() -> None:
    assert name_first_checks(LOW).always == ("confirm-the-airflow",)
    known = {**LOW.findings, "airflow per ton": LOW.findings["superheat"]}
    assert name_first_checks(replace(LOW, findings=known)).always == ()
    assert name_first_checks(replace(LOW, charge=NoVerdict("superheat", ()))).always == ()
    assert name_first_checks(replace(LOW, charge=LOW.charge._replace(caveats=()))).always == ()


def test_what_a_caveat_hangs_on_goes_first() -> None:
    caveats = (Reason("subcooling-not-low"), Reason("airflow-not-confirmed"))
    assert first(LOW, charge=LOW.charge._replace(caveats=caveats)) == ("clamp-the-drier",)


def test_where_the_machine_must_be_stopped_that_goes_first_and_nothing_lets_it_run() -> None:
    waiting = Doubt(Reason("a"), weight=0.5, check=WAIT)
    assert first(RIGHT, waiting) == (WAIT,)
    assert first(RIGHT, waiting, dangers=(Danger("a", "stop"),)) == (STOP,)
    beyond = {"outside": (Reason("outside/heats"), Reason("ready/running-time"))}
    asked = tuple(RIGHT.rules.by_id[reason.code].entry.check for reason in beyond["outside"])
    assert first(RIGHT, **beyond) == asked
    assert asked[1] == WAIT
    assert first(RIGHT, **beyond, dangers=(Danger("a", "stop"),)) == (STOP, asked[0])


def test_a_recovery_is_begun_with_only_where_the_charge_leads() -> None:
    d = examine(visit(State(metering="TXV", outdoor=48, condensing=66)))
    for leader, other, begun in (("low-charge", "weak-compressor", True), ("weak-compressor", "low-charge", False)):
        now = name_first_checks(replace(d, ranked=(place(leader, 0.9), place(other, 0.1))))
        assert ("weigh-the-charge" in now.first) is begun
        assert ("weigh-the-charge" in now.always) is not begun


# -- whether it is ready, and what then is said of the charge ----------------------------------------------------------


@pytest.mark.parametrize(("points", "ready"), [(0.05, True), (-0.05, True), (0.049, False)])
def test_a_visit_is_ready_where_anything_speaks_for_or_against_a_fault(points: float, ready: bool) -> None:
    d = see_whether_ready(replace(RIGHT, ranked=(place("low-charge", 1.0, rule(points)),)))
    assert [reason.code for reason in d.not_ready] == ([] if ready else ["nothing-to-judge"])


def test_of_a_visit_that_is_not_ready_the_first_reason_stands_for_the_charge() -> None:
    held = say_of_the_charge(replace(LOW, not_ready=(Reason("a"), Reason("b"))))
    assert held.charge.reasons == (Reason("a"),)


def test_what_fits_no_pattern_holds_the_charge(monkeypatch: pytest.MonkeyPatch) -> None:
    unknown = ExplainedAway(("x",), None, ("y",), known=False)
    monkeypatch.setattr("diagnose.diagnosis.pipeline.explain_away", lambda *_: unknown)
    odd = look_for_a_second_fault(LOW).doubts[-1]
    assert (odd.reason.figures["findings"], odd.holds_charge, odd.holds_visit) == (("x", "y"), True, False)


def test_beside_a_second_fault_a_charge_that_is_off_says_so() -> None:
    two = LOW.explained._replace(second=Second("low-indoor-airflow", 2.0, ()))
    told = say_of_the_charge(replace(LOW, explained=two)).charge.caveats[-1]
    assert (told.code, told.figures["fault"]) == ("second-fault", "low-indoor-airflow")
    assert "second-fault" not in {
        reason.code for reason in say_of_the_charge(replace(RIGHT, explained=two)).charge.caveats
    }


def test_a_charge_that_is_off_waits_for_a_machine_that_must_be_stopped() -> None:
    stopped = say_of_the_charge(replace(LOW, dangers=(Danger("a", "stop"),))).charge
    assert (stopped.verdict, stopped.caveats[-1].code) == ("low", "stop-before-charging")


# -- with and without what is doubted ----------------------------------------------------------------------------------


def test_what_a_doubt_spoils_is_left_out_and_what_it_sets_aside_is_worked_out_anew() -> None:
    read = RIGHT.as_read
    spoilt = _without(RIGHT, read, Layer(1.0, frozenset(), frozenset({"subcooling"})))
    assert read.keys() - spoilt.keys() == {"subcooling"}
    aside = _without(RIGHT, read, Layer(1.0, frozenset({"liquid line temperature"}), frozenset()))
    assert "subcooling" not in aside
    assert "superheat" in aside


@pytest.mark.parametrize(
    ("shares", "left_out"), [((0.51, 0.3, 0.19), "nothing"), ((0.4, 0.35, 0.25), "a"), ((0.3, 0.2, 0.5), "b")]
)
def test_the_quantities_are_those_without_what_is_more_likely_wrong(shares: tuple[float, ...], left_out: str) -> None:
    """a is left out in the second part and b in the third, each with its neighbor c."""
    named = {"nothing": frozenset[str](), "a": frozenset({"a"}), "b": frozenset({"a", "b"})}
    parts = [Part(share, without, {name: None}) for share, (name, without) in zip(shares, named.items(), strict=True)]  # type: ignore[dict-item]
    assert set(more_likely(parts)) == {left_out}


# -- what was taken for granted ----------------------------------------------------------------------------------------


def gauge_shows(**more: str) -> dict[str, Any]:
    bare = visit(State()) | {"readings": {"minutes running": 20, "gauge superheat": "12 F"}}
    return with_readings(bare, **more)


DAMP = {"airflow": "1200 cfm", "return_air_wet_bulb": None}


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (visit(State()), set()),
        (with_readings(visit(State()), airflow="1200 cfm"), set()),
        (with_readings(visit(State()), **DAMP), {"humidity-assumed"}),
        (with_readings(visit(State()), **DAMP, return_air_relative_humidity="50 %"), set()),
        (with_readings(visit(State()), return_air_wet_bulb=None), set()),
        (with_machine(visit(State()), altitude=None), {"sea-level-assumed"}),
        (with_machine(visit(State(), absolute=True), altitude=None), set()),  # no gauge counted from the air
        (with_machine(visit(State()), mode=None), {"cooling-assumed"}),
        (with_machine(visit(State()), metering=None), {"no-metering"}),
        (with_machine(visit(State()), refrigerant=None), {"no-refrigerant"}),
        ({"machine": {"name": "unit 2"}}, set()),  # nothing was read, so nothing was taken for granted
        (with_readings(visit(State()), minutes_running=None), {"running-time-not-noted"}),
        (gauge_shows(), {"gauge-figure-needs-pressure"}),
        (gauge_shows(suction_pressure="130 psig"), set()),
        (gauge_shows(suction_line_temperature="60 F"), set()),
        (with_readings(gauge_shows(), gauge_superheat=None, outdoor_air_temperature="80 F"), set()),
    ],
)
def test_what_a_visit_left_open_is_told(data: dict[str, Any], told: set[str]) -> None:
    assert {reason.code for reason in assumed(visit_from(data))} == told
