"""How far the charge is off where the condenser holds no liquid, and what the machine is charged by."""

from __future__ import annotations

from dataclasses import replace

import pytest
from judged import BOOK
from strategies import State, visit, with_machine

from diagnose import examine
from diagnose.diagnosis.amount import how_much, in_mass, no_liquid_left, readings_after
from diagnose.diagnosis.findings import Finding
from diagnose.properties.targets import Target
from diagnose.quantities.uncertainty import Estimate, GoodDay
from diagnose.quantities.weighing import weigh_in
from diagnose.report.result import charge_dict
from diagnose.rulebook import machine_facts
from diagnose.rulebook.entries import WordScale
from diagnose.simulator import HEALTHY, TON, charged_right, design, readings, solve
from diagnose.simulator.family import CHARGING_DAY, CHARGING_SUPERHEAT
from diagnose.simulator.model import NoSolution
from diagnose.visit import Machine, visit_from

EMPTY = State(metering="TXV", superheat=25, subcooling=0, evaporating=36, condensing=92, split=12)


@pytest.mark.parametrize("refrigerant", ["R-410A", "R-22"])
@pytest.mark.parametrize("missing", [10, 15, 25, 35, 45, 60])
def test_the_range_holds_what_is_missing_on_a_valve_machine(refrigerant: str, missing: int) -> None:
    machine = charged_right(design(refrigerant, "TXV", 3 * TON, 14), CHARGING_DAY, CHARGING_SUPERHEAT)
    faults = replace(HEALTHY, charge=1 - missing / 100)
    state = solve(machine, CHARGING_DAY, faults)
    assert not isinstance(state, NoSolution)
    d = examine(readings(machine, CHARGING_DAY, faults, state))
    assert d.charge.verdict == "low"
    assert d.charge.percent[0] <= -missing <= d.charge.percent[1]
    assert d.charge.at_least == (d.estimates["subcooling"].value < 1.0)


def test_superheat_beyond_the_valve_s_range_raises_the_least_that_is_missing() -> None:
    held, beyond = (examine(visit(replace(EMPTY, superheat=heat))).charge for heat in (18, 50))
    assert held.percent == (-60, -8)
    assert beyond.percent[0] == -60
    assert beyond.percent[1] <= -16


def test_only_a_valve_machine_without_subcooling_says_at_least() -> None:
    some, orifice = (
        examine(visit(replace(EMPTY, **change))).charge
        for change in ({"subcooling": 5, "superheat": 12}, {"metering": "fixed orifice"})
    )
    for charge in (some, orifice):
        assert not charge.at_least


def test_an_orifice_that_floods_says_at_least() -> None:
    """What wets the vapor further shows nowhere."""
    wet, dry = (
        examine(visit(State(superheat=heat, subcooling=18, condensing=102, evaporating=44))).charge for heat in (0, 4)
    )
    assert (wet.verdict, wet.at_least, wet.percent and wet.percent[1]) == ("high", True, 60)
    assert not dry.at_least


# -- by hand -----------------------------------------------------------------------------------------------------------


def figure(name: str, value: float, target: float | None = None, good_day: float | None = None) -> Estimate:
    """K, measured without error; `good_day`: what that day expects."""
    expected = None if target is None else Target(target, 0.0, "test", "typical")
    day = None if good_day is None else GoodDay(Target(good_day, 0.0, "test", "baseline"), value - good_day, 0.0)
    return Estimate(name, "difference", value, 0.0, expected, None, 0.0, (), {}, "", "", good_day=day)


def middle(metering: str, **estimates: Estimate) -> float:
    """Percent; sizes differ between machines by a fifth and by 10 more on either side."""
    found = how_much("high", Machine(metering=metering), estimates, {}, BOOK, at_least=False)
    return ((found[0] + 10) * 1.2 + (found[1] - 10) / 1.2) / 2


def test_what_a_machine_showed_on_its_good_day_stands_for_right() -> None:
    """One K of 3.65 K of subcooling is 5 %, 2.5 K of superheat as much (the formula's constants)."""
    liquid = figure("subcooling", 10.0, 3.65, good_day=6.0)
    heat = figure("superheat", 3.0, 20.0, good_day=13.0)
    assert middle("TXV", subcooling=liquid) == pytest.approx(20, abs=0.6)
    assert middle("TXV", subcooling=liquid, superheat=heat) == pytest.approx(20, abs=0.6)  # a valve holds it
    assert middle("fixed orifice", subcooling=liquid, superheat=heat) == pytest.approx(20 + 0.3 * 20, abs=0.6)
    assert middle("fixed orifice", subcooling=liquid, superheat=figure("superheat", 3.0)) == pytest.approx(20, abs=0.6)


@pytest.mark.parametrize("liquid", [None, figure("subcooling", 5.0), figure("subcooling", 5.0, 0.0)])
def test_without_a_right_subcooling_no_amount_is_told(liquid: Estimate | None) -> None:
    estimates = {} if liquid is None else {"subcooling": liquid}
    assert how_much("high", Machine(metering="TXV"), estimates, {}, BOOK, at_least=False) is None


def test_without_a_superheat_no_valve_is_known_to_have_run_out() -> None:
    liquid = {"subcooling": figure("subcooling", 0.0, 3.65)}
    found = {
        "metering check": Finding("metering check", {"above range": 1.0}, figure("superheat", 17.5), None, (2.0, 15.0))
    }
    assert how_much("low", Machine(metering="TXV"), liquid, {}, BOOK, at_least=True) == (-60, -8)
    assert how_much("low", Machine(metering="TXV"), liquid, found, BOOK, at_least=True) == (
        -60,
        -13,
    )  # 2.5 K beyond: 5 %


@pytest.mark.parametrize(("bubbles", "ended"), [(0.5, False), (0.51, True)])
def test_bubbles_in_the_sight_glass_are_no_liquid(bubbles: float, ended: bool) -> None:
    seen = {"sight glass": Finding("sight glass", {"bubbles": bubbles, "clear": 1 - bubbles})}
    assert no_liquid_left(Machine(metering="TXV"), {"subcooling": figure("subcooling", 5.0)}, seen) is ended


def test_what_the_line_set_holds_beyond_what_is_included_counts_for_the_mass() -> None:
    line = {"liquid line": "3/8 in", "length": "35 ft", "included": "15 ft"}
    plain = visit_from(with_machine(visit(State()), factory_charge="3 kg")).machine
    long = visit_from(with_machine(visit(State()), factory_charge="3 kg", line_set=line)).machine
    more = weigh_in(long).kg - 3
    assert more > 0.2
    assert in_mass((-20, -10), plain) == pytest.approx((-0.6, -0.3))
    assert in_mass((-20, -10), long) == pytest.approx((-0.2 * (3 + more), -0.1 * (3 + more)))
    assert in_mass(None, plain) is None
    assert in_mass((-20, -10), Machine()) is None


def scaled(how: str, target: str | None = None) -> WordScale:
    return WordScale((), target, how, "difference", (), None, (), None, (), "")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("scale", "value", "tolerance"),
    [
        (scaled("value"), 6.0, 2.0),
        (scaled("difference", "typical"), 11.0, 2.0),
        (scaled("difference", "baseline"), 13.0, 2.0),
    ],
)
def test_what_to_expect_is_the_middle_of_what_is_normal(scale: WordScale, value: float, tolerance: float) -> None:
    """Normal is 4 to 8 K, or 4 to 8 K off what it is judged against."""
    estimate = figure("superheat", 20.0, target=5.0, good_day=7.0)
    normal = Finding("superheat", {"high": 1.0}, estimate, scale, (2.0, 4.0, 8.0, 12.0))
    (found,) = readings_after("low", {"superheat": estimate}, {"superheat": normal}).values()
    assert (found.value, found.tolerance) == (value, tolerance)
    assert readings_after("right", {"superheat": estimate}, {"superheat": normal}) == {}
    assert readings_after("low", {"superheat": estimate}, {}) == {}
    assert readings_after("low", {}, {"superheat": normal}) == {}


def test_json_says_at_least_beside_the_pair() -> None:
    told = charge_dict(examine(visit(EMPTY)))
    assert told["estimate_at_least"] is True
    assert told["estimate_percent"] == [-60, -8]
    assert charge_dict(examine(visit(State())))["estimate_at_least"] is False


@pytest.mark.parametrize(
    ("facts", "weight_only"),
    [
        ({}, False),
        ({"factory charge": "0.99 kg"}, True),
        ({"factory charge": "1 kg"}, False),
        ({"nominal capacity": "0.9 ton"}, True),
        ({"nominal capacity": "0.9 ton", "factory charge": "1.2 kg"}, False),
        ({"metering": "cap tube"}, True),
        ({"metering": "Capillary  Tube", "factory charge": "3 kg"}, True),
        ({"refrigerant": "R-290"}, True),
        ({"kind": "window"}, True),
    ],
)
def test_what_a_machine_is_charged_by(facts: dict[str, str], weight_only: bool) -> None:
    machine = visit_from({"machine": {"refrigerant": "R-410A", "metering": "piston", **facts}}).machine
    assert machine.metering == "fixed orifice"
    assert (machine_facts(machine)["charging"] == "weight only") == weight_only


def test_a_capillary_tube_is_kept_as_it_was_written() -> None:
    for written, device in (("capillary tube", "capillary tube"), ("orifice", "orifice"), ("TEV", "TXV")):
        assert machine_facts(visit_from({"machine": {"metering": written}}).machine)["metering device"] == device
    data = with_machine(visit(State()), metering="cap tube")
    data["baseline"] = {"readings": data["readings"]}
    before = visit_from(data).baseline
    assert machine_facts(before.machine)["metering device"] == "capillary tube"
