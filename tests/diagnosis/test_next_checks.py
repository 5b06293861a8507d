"""What to do next, and why."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from shared import examined
from strategies import UNSURE, State, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine
from diagnose.diagnosis.next_checks import _emptied, _tells, next_checks
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.value_of_information import Forecast, Outcome
from diagnose.shipped import shipped


def asked(data) -> list[str]:
    return [c.check for c in next_checks(examine(data))]


def test_a_starved_evaporator_without_subcooling_asks_for_subcooling():
    assert "measure-subcooling" in asked(UNSURE)


def test_a_machine_nearly_empty_is_searched_for_its_leak_before_its_airflow_is_confirmed():
    """Whatever the airflow is, it is no less empty."""
    machine = {"mode": "cooling", "refrigerant": "R-410A", "metering": "TXV", "SEER": 14, "rated subcooling": "10 F"}
    readings = {
        "minutes running": 20, "suction pressure": "60 psig", "liquid pressure": "280 psig",
        "suction line temperature": "58 F", "liquid line temperature": "90 F", "outdoor air temperature": "85 F",
        "return air dry bulb": "75 F", "return air wet bulb": "63 F", "supply air dry bulb": "66 F",
    }  # fmt: skip
    d = examine({"machine": machine, "readings": readings})
    assert (d.faults[0].fault, d.faults[0].strength) == ("low-charge", "strong")
    assert [check.check for check in next_checks(d)] == ["find-the-leak", "confirm-the-airflow"]


def test_where_the_leader_is_strong_its_repair_begins_before_what_cannot_turn_the_answer():
    """The scale has shown what is missing; warm suction tubes would still leave the charge low."""
    first, *others = next_checks(examined("demo/weigh-in-heating-low"))
    assert first.check == "find-the-leak"
    assert "clamp-the-suction-tubes" in [each.check for each in others if each.worth > 0]


def test_what_was_measured_is_not_asked_for_again(book):
    found = examine(visit(State(), extra=True))
    for check in next_checks(found):
        gives = book.checks[check.check].gives
        assert not gives or any(g not in found.findings for g in gives), check.check


def test_a_figure_outside_its_formula_is_not_asked_for_again():
    """Where wet gas leaves the compressor an efficiency says nothing, however often the line is clamped."""
    wet = with_readings(visit(State()), discharge_line_temperature="115 F")
    found = examine(wet)
    assert found.estimates["compressor efficiency"].inside == 0
    assert "clamp-the-discharge" in asked(visit(State()))
    assert "clamp-the-discharge" not in asked(wet)


@examples(24)
@given(states())
def test_never_more_than_a_few_all_of_the_book_and_each_once(book, state):
    found = next_checks(examine(visit(state)))
    assert len(found) <= 4 + 1
    assert len({c.check for c in found}) == len(found)
    for check in found:
        assert check.check in book.checks
        assert check.ask
        assert check.why
        assert check.minutes > 0


@examples(8)
@given(states())
def test_what_comes_first_pays_or_must_be_done_or_begins_the_repair(book, state):
    """No measurement that saves less than it takes is ever named, unless something else asks for it."""
    d = examine(visit(state))
    for check in next_checks(d):
        assert check.saves >= check.worth >= 0.0
        if check.worth == 0.0 and check.check not in (*d.first, *d.always):
            assert all(book.findings[name].seen for name in book.checks[check.check].gives), check.check


def test_a_long_check_worth_nothing_is_not_named():
    """Plainly overcharged: forty minutes at rest would only confirm it, two minutes of asking may refute it."""
    clamp, *found = next_checks(examine(shipped("cases") / "demo" / "overcharge-txv.yaml"))
    assert (clamp.check, found[0].check) == ("read-subcooling-again", "ask-the-history")
    assert found[0].worth > 0
    assert "rest-and-read" not in [c.check for c in found]


def test_what_is_quicker_and_worth_more_comes_before_what_may_turn_the_answer():
    """Full, and the liquid a little nearer the air: two minutes of asking before forty of waiting."""
    state = State(metering="TXV", superheat=10, subcooling=20, outdoor=90, condensing=114, evaporating=45, split=19)
    ask, rest, *_ = next_checks(examine(visit(state)))
    assert (ask.check, rest.check) == ("ask-the-history", "rest-and-read")
    assert ask.worth > rest.worth > 0
    assert {o.fault for o in ask.outcomes} == {"overcharge", "non-condensables"}
    assert {o.fault for o in rest.outcomes} > {"overcharge"}


@pytest.mark.parametrize(
    ("leader", "outcome", "tells"),
    [
        ("nothing-wrong", ("nothing-wrong", "strong"), False),
        ("nothing-wrong", ("nothing-wrong", "fair"), True),
        ("nothing-wrong", ("low-charge", "strong"), True),
        ("low-charge", ("low-charge", "strong"), True),  # a repair in vain costs more than the look that confirms it
    ],
)
def test_on_a_sound_machine_only_what_may_say_otherwise_is_worth_the_walk(book, leader, outcome, tells):
    ranked = [Ranked(fault, 0.0, share, (), "strong") for fault, share in ((leader, 0.9), ("overcharge", 0.1))]
    found = Forecast((Outcome({}, 1.0, outcome[0], 0.9, outcome[1]),), 1.0)
    assert _tells(found, ranked, book) is tells


@pytest.mark.parametrize(("sure", "asked_for"), [(0.5, True), (0.51, False)])
def test_no_figure_of_a_running_machine_is_asked_for_where_the_compressor_stands(book, sure, asked_for):
    d = replace(examine(UNSURE), first=(), always=())
    d = replace(d, matched=d.matched._replace(states={**d.states, "compressor": {"standing": sure}}))
    assert any(not book.findings[name].seen for check in next_checks(d) for name in check.gives) is asked_for


def test_where_nothing_pays_how_the_repair_begins_goes_before_what_is_named_anyway(monkeypatch):
    monkeypatch.setattr("diagnose.diagnosis.next_checks.forecast", lambda *_: Forecast((), 0.0))
    monkeypatch.setattr("diagnose.diagnosis.next_checks._beginning", lambda *_: {"find-the-leak": 0.6})
    d = replace(examine(UNSURE), first=(), always=("confirm-the-airflow",))
    assert [check.check for check in next_checks(d)] == ["find-the-leak", "confirm-the-airflow"]


def test_the_discharge_line_is_not_asked_for_where_no_pressure_is_known():
    found = asked(shipped("cases") / "demo" / "temperatures-only-small-split.yaml")
    assert "measure-subcooling" in found
    assert "clamp-the-discharge" not in found


def test_no_look_is_advised_twice():
    """Two checks bring dirt and the fan of the outdoor unit; the second would send somebody to look at them again."""
    for name in ("heating-reversing-valve-txv.yaml", "heating-low-outdoor-airflow-txv.yaml"):
        named = [c.check for c in next_checks(examine(shipped("cases") / "demo" / name))]
        assert len({"look-for-frost", "look-at-the-outdoor-unit"} & set(named)) == 1, name


def test_minutes_missing_come_first():
    assert asked(with_readings(UNSURE, minutes_running=None))[0] == "note-the-minutes"


def test_a_gauge_that_shows_what_cannot_be_is_read_before_the_minutes_are_asked_for():
    """With R-22 at 1.2 psig, or with swapped gauges, how long the machine ran settles nothing."""
    swapped = {"suction_pressure": "340 psig", "liquid_pressure": "130 psig"}
    for changed, check in (
        ({"suction_pressure": "1.2 psig"}, "see-that-the-valves-are-open"),
        ({"suction_pressure": "1.2 psig", "supply_air_dry_bulb": None}, "see-that-the-valves-are-open"),
        (swapped, "read-the-pressures-again"),
    ):
        assert asked(with_readings(UNSURE, minutes_running=None, **changed))[0] == check
    alone = {"machine": UNSURE["machine"], "readings": {"suction line temperature": "50 F"}}
    assert "note-the-minutes" not in asked(alone)


def test_ice_asks_for_the_air_side_first():
    assert asked(UNSURE | {"seen": {"indoor coil ice": "present"}})[0] == "look-at-the-air-side"


def test_cold_weather_names_the_scales_and_begins_with_no_recovery():
    found = asked(visit(State(metering="TXV", outdoor=48, condensing=66)))
    assert found[0] == "come-back-in-other-weather"
    assert "weigh-the-charge" in found


def test_a_fault_that_leads_is_not_left_for_other_weather_nor_a_danger_for_its_gauges():
    felt = [c.check for c in next_checks(examined("demo/check-valve-leaking-orifice"))]
    assert felt[0] != "come-back-in-other-weather"
    assert "come-back-in-other-weather" in felt
    assert next_checks(examined("demo/danger-current-above-the-plate"))[0].check == "measure-the-supply"


def test_a_check_promises_no_figure_that_cannot_come_of_it():
    """The evaporator's difference to the return air needs the suction pressure, which nobody reads in a duct."""
    without = with_readings(visit(State()), suction_pressure=None, return_air_dry_bulb=None, return_air_wet_bulb=None)
    gives = {c.check: c.gives for c in next_checks(examine(without))}
    assert "evaporator temperature difference" not in gives.get("measure-the-return-air", ())
    whole = with_readings(visit(State()), return_air_dry_bulb=None, return_air_wet_bulb=None)
    gives = {c.check: c.gives for c in next_checks(examine(whole))}
    assert "evaporator temperature difference" in gives["measure-the-return-air"]


def test_a_check_that_two_rules_ask_for_keeps_its_place():
    """Below 55 °F outdoors a fixed orifice is too cold, and outside its table as well."""
    found = asked(visit(State(outdoor=48, condensing=66)))
    assert found[0] == "weigh-the-charge"  # for the charge is suspected
    assert found.count("weigh-the-charge") == 1


@pytest.mark.parametrize(
    ("reading", "written", "check"),
    [
        ("outdoor_air_temperature", "104 F", "read-what-is-doubtful-again"),  # in the sun
        ("liquid_line_temperature", "112 F", "read-what-is-doubtful-again"),
        ("suction_line_temperature", "80.5 F", "read-what-is-doubtful-again"),  # a clamp in the air
        ("return_air_wet_bulb", "73.5 F", "measure-the-return-air"),  # 93 % humidity: doubted in part
        ("supply_air_dry_bulb", "39 F", "measure-the-split"),
    ],
)
def test_a_verdict_that_waits_for_a_doubtful_reading_asks_for_it_first(reading, written, check):
    metering = "TXV" if reading in ("outdoor_air_temperature", "liquid_line_temperature") else "fixed orifice"
    found = examine(with_readings(visit(State(metering=metering)), **{reading: written}))
    assert any(doubt.reason in found.charge.reasons for doubt in found.doubts)
    assert next_checks(found)[0].check == check


def test_an_outdoor_probe_in_the_sun_makes_no_compressor_weak():
    """Condensing hardly above such air, the pressures look too close together."""
    found = examine(with_readings(visit(State(metering="TXV", condensing=105)), outdoor_air_temperature="104 F"))
    assert (found.faults[0].fault, found.charge.verdict) == ("nothing-wrong", "do not judge")


def test_dirt_is_cleaned_first_but_pressures_that_cannot_be_go_before_it():
    dirty = {"seen": {"air filter": "dirty"}}
    assert asked(visit(State()) | dirty)[0] == "clean-what-is-dirty"
    other = asked(with_readings(visit(State()), suction_pressure="70 psig", liquid_pressure="215 psig") | dirty)
    assert other[:2] == ["read-the-plate", "clean-what-is-dirty"]
    leaks = {"seen": {"air filter": "dirty", "leak": "found"}}  # nor is a machine read again that has only just started
    early = with_readings(visit(State(minutes=3)), suction_pressure="70 psig", liquid_pressure="215 psig")
    assert asked(early | leaks)[0] != "read-the-plate"


@pytest.mark.parametrize("data", [{}, {"machine": {"refrigerant": "R-22"}}, {"seen": {"air filter": "clean"}}])
def test_hardly_anything_known(data):
    assert isinstance(asked(data), list)


def test_what_the_plate_says_is_asked_for_where_the_visit_does_not():
    """Measuring pressures again would not help: without the refrigerant they say nothing."""
    assert asked(with_machine(visit(State()), refrigerant=None))[0] == "note-the-refrigerant"
    unnamed = with_machine(visit(State()), metering=None)
    assert asked(unnamed)[0] == "note-the-metering-device"
    assert asked(with_machine(unnamed, compressor="inverter", running_at="40 %"))[0] == "run-at-the-high-stage"
    assert not {"note-the-refrigerant", "note-the-metering-device"} & set(asked(visit(State())))


def test_a_machine_is_emptied_where_it_is_more_likely_so_than_not():
    for chance, emptied in ((0.51, True), (0.49, False)):
        found = {"standing pressure": SimpleNamespace(words={"below saturation": chance})}
        at_rest = SimpleNamespace(findings=found, visit=SimpleNamespace(last=SimpleNamespace(readings={})))
        assert _emptied(at_rest) is emptied


@pytest.mark.parametrize(("sound", "first"), [("humming", "test-contactor-and-capacitor"), ("silent", "look-for-the-call"),
                                             ("running", "read-the-pressures-again")])  # fmt: skip
def test_a_compressor_that_is_heard_to_stand_is_not_left_on_for_its_gauges(sound, first):
    """One that hums is asked to run, draws its locked current, and its pressures level; only of one that runs they are odd."""
    levelled = {"suction_pressure": "230 psig", "liquid_pressure": "232 psig", "compressor_current": "70 A",
                "supply_air_dry_bulb": "75 F"}  # fmt: skip
    assert asked({**with_readings(visit(State()), **levelled), "seen": {"compressor sound": sound}})[0] == first


def test_an_emptied_machine_is_searched_for_its_leak_and_not_run_for_a_reading():
    """At rest below saturation no liquid is left (thermodynamics), so nothing it showed while it ran would mean anything."""
    rest = {"standing pressure": "12 psig", "standing air temperature": "80 F"}
    assert asked({**UNSURE, "readings": rest})[0] == "find-the-leak"
    unnamed = {name: fact for name, fact in UNSURE["machine"].items() if name != "metering"}
    assert asked({"machine": unnamed, "readings": rest})[0] == "find-the-leak"
    assert not {"measure-superheat", "measure-subcooling", "measure-condensing"} & {
        *asked({**UNSURE, "readings": rest})
    }


def test_a_compressor_that_stands_is_not_called_weak():
    """Warm coils and pressures that have come near: what a worn compressor shows while it runs, one that stands shows too."""
    levelling = {
        "suction_pressure": "180 psig", "liquid_pressure": "260 psig", "suction_line_temperature": "74 F",
        "liquid_line_temperature": "86 F", "supply_air_dry_bulb": "74 F",
    }  # fmt: skip
    data = with_readings(visit(State(metering="TXV")), discharge_line_temperature=None, **levelling)
    assert examine(data).faults[0].fault == "weak-compressor"
    assert examine({**data, "seen": {"compressor sound": "silent"}}).faults[0].fault == "compressor-not-running"
