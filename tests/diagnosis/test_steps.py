"""Single steps of the pipeline, each on a record made for it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from strategies import State, visit, with_machine, with_readings

from diagnose import examine
from diagnose.diagnosis.charge import NoVerdict
from diagnose.diagnosis.pipeline import assumed, judge, name_first_checks, tell_costs
from diagnose.diagnosis.record import Diagnosis
from diagnose.quantities.plausibility import Doubt
from diagnose.rulebook.matcher import matcher_for
from diagnose.visit import visit_from
from diagnose.visit.reason import Reason

RIGHT = examine(visit(State()))
LOW = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15)))


def test_the_matcher_that_was_asked_for_does_it() -> None:
    assert judge(RIGHT, "plain").matcher == "plain"
    assert judge(RIGHT).matcher == matcher_for(RIGHT.applying.patterns).name


def test_what_fits_no_pattern_or_is_held_has_no_price() -> None:
    assert LOW.costs is not None
    bare = replace(LOW, costs=None)
    assert tell_costs(bare).costs == LOW.costs
    assert tell_costs(replace(bare, explained=replace(LOW.explained, known=False))).costs is None
    assert tell_costs(replace(bare, not_ready=(Reason("a"),))).costs is None


def test_a_reading_that_is_set_aside_prices_nothing() -> None:
    aside = Doubt(Reason("a"), set_aside=("outdoor air temperature",), weight=0.5)
    assert tell_costs(replace(LOW, costs=None, doubts=(aside,))).costs != LOW.costs
    assert tell_costs(replace(LOW, costs=None, doubts=(replace(aside, weight=0.49),))).costs == LOW.costs


# -- what goes first ---------------------------------------------------------------------------------------------------


def first(d: Diagnosis, *doubts: Doubt, **changes: Any) -> tuple[str, ...]:
    return name_first_checks(replace(d, doubts=doubts, **changes)).first


UNSAID = visit_from(with_readings(with_machine(visit(State()), metering=None, refrigerant=None), minutes_running=None))
STANDS = Doubt(Reason("pressures-equal"), weight=0.5)


def test_on_a_machine_that_stands_neither_minutes_nor_metering_nor_air_is_asked_for() -> None:
    asked = ("note-the-refrigerant", "note-the-minutes", "note-the-metering-device")
    assert first(RIGHT) == ()
    assert first(replace(RIGHT, visit=UNSAID))[:3] == asked
    assert first(replace(RIGHT, visit=UNSAID), replace(STANDS, weight=0.49))[:3] == asked
    assert first(replace(RIGHT, visit=UNSAID), STANDS)[:3] == asked[:1]
    dry = examine(with_readings(visit(State()), return_air_wet_bulb=None))
    assert "measure-the-return-air" in first(dry)
    assert "measure-the-return-air" not in first(dry, STANDS)


@pytest.mark.parametrize(("weight", "asked"), [(0.5, ("rest-and-read",)), (0.49, ())])
def test_the_check_that_clears_a_firm_doubt_goes_first(weight: float, asked: tuple[str, ...]) -> None:
    assert first(RIGHT, Doubt(Reason("a"), weight=weight, check="rest-and-read")) == asked
    assert first(RIGHT, Doubt(Reason("a"), weight=weight)) == ()


def test_a_verdict_that_hangs_on_the_airflow_asks_for_it_until_it_is_known() -> None:
    assert name_first_checks(LOW).always == ("confirm-the-airflow",)
    known = {**LOW.findings, "airflow per ton": LOW.findings["superheat"]}
    assert name_first_checks(replace(LOW, findings=known)).always == ()
    assert name_first_checks(replace(LOW, charge=NoVerdict("superheat", ()))).always == ()
    assert name_first_checks(replace(LOW, charge=replace(LOW.charge, caveats=()))).always == ()  # type: ignore[type-var]


def test_what_a_caveat_hangs_on_goes_first() -> None:
    caveats = (Reason("subcooling-not-low"), Reason("airflow-not-confirmed"))
    assert first(LOW, charge=replace(LOW.charge, caveats=caveats)) == ("clamp-the-drier",)  # type: ignore[type-var]


# -- what was taken for granted ----------------------------------------------------------------------------------------

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
        (with_machine(visit(State()), accumulator="yes"), {"accumulator-not-used"}),
    ],
)
def test_what_a_visit_left_open_is_told(data: dict[str, Any], told: set[str]) -> None:
    assert {reason.code for reason in assumed(visit_from(data))} == told
