"""Outside what the rules were written for: a plain sentence, no fault, no verdict; what could hurt is told all the same."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import F, State, kelvin, states, visit, with_machine, with_readings
from work import examples

from diagnose import VisitError, examine, load_rules
from diagnose.diagnosis.field import nearly_held
from diagnose.diagnosis.next_checks import next_checks
from diagnose.lessons.visit_lesson import lesson_page
from diagnose.report.blocks import Block
from diagnose.report.pages import diagnosis_page
from diagnose.report.sentences import said
from diagnose.report.trace import why_page
from diagnose.rulebook.matcher import Firing, Matched

SHOP = visit(State(metering="TXV", superheat=10))
COLD = State(outdoor=32, return_db=70, return_wb=56, evaporating=15, condensing=100, superheat=10, metering="TXV")
HEATS = with_readings(visit(COLD), supply_air_dry_bulb="98 F", supply_air_wet_bulb=None)
MILD = State(outdoor=60, return_db=70, return_wb=56, evaporating=43, condensing=110, superheat=9, metering="TXV")
MILD_HEATS = with_readings(visit(MILD), supply_air_dry_bulb="104 F", supply_air_wet_bulb=None)
PORTS = with_readings(SHOP, liquid_pressure="146 psig", liquid_line_temperature="50 F")

# the rule that says so -> a visit, and what to do about it
OUTSIDE: dict[str, tuple[dict[str, Any], str]] = {
    "outside/cold-store": (with_machine(SHOP, kind="walk-in cooler"), "use-the-makers-data"),
    "outside/chiller": (with_machine(SHOP, kind="chiller"), "use-the-makers-data"),
    "outside/other-machine": (with_machine(SHOP, kind="dehumidifier"), "use-the-makers-data"),
    "outside/cold-space-by-the-refrigerant": (
        with_readings(
            visit(State(gas="R-404A", evaporating=5, superheat=8, metering="TXV")),
            return_air_dry_bulb=None,
            return_air_wet_bulb=None,
            supply_air_dry_bulb=None,
        ),
        "say-what-machine-it-is",
    ),
    "outside/water-cooled": (with_machine(SHOP, condenser_cooled_by="water"), "use-the-makers-data"),
    "outside/stage-not-stated": (with_machine(SHOP, compressor="two-stage"), "run-at-the-high-stage"),
    "outside/part-load": (
        with_machine(HEATS, mode="heating", compressor="inverter", running_at="60 %"),
        "run-at-the-high-stage",
    ),
    "outside/flash-gas-bypass": (with_machine(SHOP, gas_path="flash gas bypass"), "use-the-makers-data"),
    "outside/cold-space": (
        with_readings(SHOP, return_air_dry_bulb="37 F", return_air_wet_bulb=None, supply_air_dry_bulb="29 F"),
        "say-what-machine-it-is",
    ),
    "outside/heats": (HEATS, "note-the-mode"),
    "outside/heats-by-the-lift": (
        with_readings(HEATS, return_air_dry_bulb=None, return_air_wet_bulb=None, supply_air_dry_bulb=None),
        "note-the-mode",
    ),
    "outside/heats-by-the-supply-air": (MILD_HEATS, "note-the-mode"),
    "outside/heats-on-a-hot-day": (
        with_readings(
            visit(State(metering="TXV", outdoor=88, evaporating=70, condensing=109, superheat=10, subcooling=18)),
            supply_air_dry_bulb="106 F",
        ),
        "note-the-mode",
    ),
    "outside/ports-on-the-low-side": (with_machine(PORTS, metering_place="outdoors"), "find-the-high-side"),
    "outside/ports-on-the-low-side-by-the-line": (PORTS, "find-the-high-side"),
}


@pytest.mark.parametrize(
    ("rule", "sure", "nearly"),
    [("outside/heats", 0.5, True), ("outside/heats", 0.51, False), ("ready/hunting", 0.2, True), ("ready/dirty", 0.5, False)],
)  # fmt: skip
def test_a_rule_that_would_hold_everything_is_a_doubt_until_it_is_more_likely_true_than_not(rule, sure, nearly):
    """One that holds the charge alone is none: it takes away no fault."""
    d = replace(examine(SHOP), matched=Matched((Firing(rule, sure, {}),), {}))
    found = nearly_held(d)
    assert [doubt.reason.code for doubt in found] == ([rule] if nearly else [])
    for doubt in found:
        assert (doubt.weight, doubt.holds_visit, doubt.holds_charge) == (sure, True, True)


def test_a_charge_that_waits_for_what_nearly_holds_asks_for_that_first():
    cool = State(metering="TXV", return_db=60, return_wb=52, evaporating=34, superheat=10, split=15)
    d = examine(visit(cool))
    assert [reason.code for reason in d.charge.reasons] == ["outside/cold-space"]
    assert next_checks(d)[0].check == "say-what-machine-it-is"


def test_of_a_machine_outside_the_first_reason_stands_for_the_charge():
    d = examine(with_machine(SHOP, kind="chiller", condenser_cooled_by="water"))
    assert len(d.outside) == 2
    assert d.charge.reasons == d.outside[:1]


def text(blocks: list[Block]) -> str:
    return "\n".join(f"{b.text} {' '.join(' '.join(row) for row in b.rows)}" for b in blocks)


@pytest.mark.parametrize("rule", OUTSIDE)
def test_outside_and_why_and_what_to_do(rule, book):
    data, check = OUTSIDE[rule]
    d = examine(data)
    assert d.status == "outside"
    assert rule in [reason.code for reason in d.outside]
    assert (d.faults, d.ranked, d.not_ready, d.also) == ((), (), (), ())
    assert d.charge.verdict == "do not judge"
    assert d.charge.by is None
    assert next_checks(d)[0].check == check
    title = book.by_id[rule].entry.title
    for blocks in (diagnosis_page(d), why_page(d, "low-charge"), lesson_page(d)):
        assert title in text(blocks)
        assert "(no " not in text(blocks)
    told = d.to_dict()
    assert told["status"] == "outside"
    assert told["outside"][0] == {"code": d.outside[0].code, "text": said(d, d.outside[0])}
    assert (told["faults"], told["charge"]["verdict"], told["charge"]["target"]) == ([], "do not judge", None)
    assert told["cautions"]
    assert {one["expected"] for one in told["quantities"].values()} == {None}


def test_every_rule_that_says_outside_is_tried_here(book):
    assert {rule.id for rule in book.rules if rule.kind == "readiness" and rule.holds == "outside"} == set(OUTSIDE)


INSIDE = {
    "single stage": with_machine(SHOP, compressor="single stage"),
    "two-stage at its high stage": with_machine(SHOP, compressor="two-stage", running_at="high"),
    "at nearly full speed": with_machine(SHOP, compressor="inverter", running_at="100 %"),
    "split, cooled by air, metering indoors": with_machine(
        SHOP, kind="split", condenser_cooled_by="air", metering_place="indoors"
    ),
    "metering outdoors, a port on the high side": with_machine(SHOP, metering_place="high side read"),
    "cool rooms": visit(State(return_db=66, return_wb=56, evaporating=37, metering="TXV", superheat=10)),
    "return and supply air changed places in a hot house": with_readings(
        SHOP,
        return_air_dry_bulb="74 F",
        supply_air_dry_bulb="95 F",
        return_air_wet_bulb=None,
        supply_air_wet_bulb=None,
        outdoor_air_temperature="98 F",
        liquid_pressure="390 psig",
    ),
    "R-134a that boils cold in a room": with_readings(
        visit(State(gas="R-134a", evaporating=22, superheat=8, metering="TXV"))
    ),
    "R-410A that boils cold, no return air read": with_readings(
        visit(State(evaporating=15, superheat=8, metering="TXV")),
        return_air_dry_bulb=None,
        return_air_wet_bulb=None,
        supply_air_dry_bulb=None,
    ),
    "return and supply air changed places": with_readings(
        SHOP, return_air_dry_bulb="55 F", supply_air_dry_bulb="75 F", return_air_wet_bulb=None
    ),
    "cooling on a cold day": visit(
        State(outdoor=45, evaporating=38, condensing=88, return_db=72, return_wb=58, metering="TXV", superheat=10)
    ),
    # Heat that cannot get out in the cold: the supply air is cold, so it cools.
    "a stopped fan on a cold day": visit(
        State(outdoor=45, evaporating=38, condensing=115, return_db=72, return_wb=58, metering="TXV", superheat=10)
    ),
}


@pytest.mark.parametrize("what", INSIDE)
def test_these_are_inside(what):
    assert examine(INSIDE[what]).status == "diagnosed"


HEATED = {
    "cold": with_machine(HEATS, mode="heating"),
    "no air read": with_machine(OUTSIDE["outside/heats-by-the-lift"][0], mode="heating"),
    "mild": with_machine(MILD_HEATS, mode="heating"),
    # The device outdoors is ahead of the outdoor coil in heating, and the liquid port then on the high side.
    "metering outdoors": with_machine(HEATS, mode="heating", metering_place="outdoors"),
}


@pytest.mark.parametrize("what", HEATED)
def test_rules_written_for_cooling_are_silent_in_heating(what):
    d = examine(HEATED[what])
    assert (d.status, d.outside, d.not_ready, d.doubts) == ("diagnosed", (), (), ())
    # No heat pump stands behind these readings, so anything may come first, but nothing firmly.
    assert not [one.fault for one in d.faults if one.fault != "nothing-wrong" and one.strength in ("strong", "fair")]
    book = {rule.id: rule for rule in load_rules().rules}
    fired = [book[firing.rule] for firing in d.matched.firings]
    assert not [rule.id for rule in fired if rule.kind == "evidence" and "heating" not in dict(rule.applies)["mode"]]
    assert [reason.code for reason in d.charge.reasons] == ["ready/heating"]


@pytest.mark.parametrize(
    "rule", ["outside/cold-store", "outside/water-cooled", "outside/stage-not-stated", "outside/part-load"]
)
def test_a_machine_that_is_another_is_outside_in_heating_as_well(rule):
    kind = {name: word for name, word in OUTSIDE[rule][0]["machine"].items() if name not in SHOP["machine"]}
    d = examine({**HEATED["cold"], "machine": {**HEATED["cold"]["machine"], **kind}})
    assert (d.status, [reason.code for reason in d.outside]) == ("outside", [rule])


def test_heating_has_no_target_for_cooling():
    d = examine(HEATED["cold"])
    in_cooling_only = {
        "condensing over ambient", "evaporator temperature difference", "air temperature split", "liquid line approach",
        "cooling capacity", "cooled space", "indoor lift", "outdoor lift",
    }  # fmt: skip
    assert not in_cooling_only & d.estimates.keys()
    assert not in_cooling_only & d.findings.keys()
    assert d.charge.by is None
    # The plate says 10 °F, for cooling.
    assert {name: e.expected.value / F for name, e in d.estimates.items() if e.expected is not None} == pytest.approx({
        "subcooling": 20.0, "condensing over return air": 33 - 0.36 * 15, "outdoor coil below outdoor air": 17 - 0.2 * 15,
        "air rise": 26 - 0.33 * 15, "compression ratio": d.estimates["compression ratio"].expected.value / F,
        "liquid over return air": 33 - 0.36 * 15 - 20, "indoor coil effectiveness": (26 - 0.33 * 15) / (33 - 0.36 * 15) / F,
    })  # fmt: skip
    for blocks in (diagnosis_page(d), lesson_page(d)):
        assert not re.search(r"should be (10\.0|5\.5)", text(blocks))


def test_what_could_hurt_is_told_outside_as_well():
    flooded = with_readings(SHOP, suction_line_temperature="44 F")
    inside, out = examine(flooded), examine(with_machine(flooded, kind="walk-in freezer"))
    assert "caution/liquid-reaches-the-compressor" in [danger.code for danger in out.dangers]
    assert out.dangers == inside.dangers
    assert out.cautions == inside.cautions


def test_what_is_told_of_the_readings_does_not_speak_of_an_air_conditioner():
    d = examine(PORTS)
    assert d.doubts == ()
    wet = examine(with_readings(OUTSIDE["outside/cold-store"][0], return_air_wet_bulb="80 F"))
    assert [doubt.reason.code for doubt in wet.doubts] == ["return-wet-bulb-above-dry-bulb"]  # cannot be in any room


CAUSES = (
    {"kind": "walk-in cooler"},
    {"condenser_cooled_by": "water"},
    {"compressor": "two-stage"},
    {"gas_path": "flash gas"},
)


@examples(8)
@given(states(), st.booleans(), st.sampled_from(CAUSES), st.sampled_from((None, "cooling", "heating")))
def test_outside_nothing_is_ranked_and_every_caution_stays(state, extra, facts, mode):
    data = with_machine(visit(state, extra=extra), mode=mode)
    inside, out = examine(data), examine(with_machine(data, **facts))
    assert out.status == "outside"
    assert out.faults == ()
    assert out.charge.verdict == "do not judge"
    assert {rule.id for rule in inside.cautions} == {rule.id for rule in out.cautions}
    assert {danger.code for danger in inside.dangers} == {danger.code for danger in out.dangers}
    assert all(e.expected is None for e in out.estimates.values())


@examples(8)
@given(states(), st.floats(0, 58))
def test_any_cold_space_is_outside(state, at):
    data = with_readings(visit(state), return_air_dry_bulb=f"{at:.1f} F", return_air_wet_bulb=None)
    d = examine(with_readings(data, supply_air_dry_bulb=None, supply_air_wet_bulb=None))
    assert (d.status, d.faults, d.charge.verdict) == ("outside", (), "do not judge")
    assert d.estimates["cooled space"].value == pytest.approx(kelvin(round(at, 1)), abs=0.06)


# -- states that are no fault of the circuit ------------------------------------------------------------------------

EQUAL = with_readings(SHOP, suction_pressure="235 psig", liquid_pressure="236 psig", supply_air_dry_bulb="75 F")


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV", "EEV", None])
@pytest.mark.parametrize("current", [None, "0 A"])
def test_a_compressor_that_stands(metering, current):
    data = with_readings(with_machine(EQUAL, metering=metering, rated_current="17 A"), compressor_current=current)
    d = examine(data)
    assert (d.faults[0].fault, d.faults[0].strength) == ("compressor-not-running", "strong")
    assert d.charge.verdict == "do not judge"
    assert d.explained.known
    checks = [check.check for check in next_checks(d)]
    assert "look-for-the-call" in checks
    assert "test-contactor-and-capacitor" in checks
    assert ("clamp-the-current" in checks) == (current is None)


def test_no_current_with_pressures_apart_is_a_clamp_first():
    d = examine(with_readings(with_machine(SHOP, rated_current="17 A"), compressor_current="0 A"))
    assert (d.status, d.not_ready[0].code) == ("not ready", "no-compressor-current")


@examples(6)
@given(states(), st.booleans())
def test_a_machine_that_runs_is_not_taken_for_one_that_stands(state, extra):
    d = examine(visit(state, extra=extra))
    assert next(place.share for place in d.ranked if place.fault == "compressor-not-running") < 1e-3


def rounds(*lines: float, metering: str = "TXV") -> dict[str, Any]:
    data = visit(State(metering=metering, superheat=10))
    base = data["readings"]
    taken = [
        {**base, "suction line temperature": f"{at} F", "minutes running": 20 + 3 * i} for i, at in enumerate(lines)
    ]
    return data | {"readings": taken}


def test_a_valve_that_hunts_is_named_and_not_extrapolated():
    d = examine(rounds(48, 58, 48, 58))
    assert [reason.code for reason in d.not_ready] == ["ready/hunting"]
    assert d.estimates["superheat swing"].value == pytest.approx(10 / 1.8)
    assert "superheat drift" not in d.estimates
    assert "10.0 ± 0.3 °F" in said(d, d.not_ready[0])


@pytest.mark.parametrize("lines", [(54, 56, 54, 56), (55, 55, 55, 55)])
def test_a_valve_that_works_swings_a_little(lines):
    assert examine(rounds(*lines)).status == "diagnosed"


@pytest.mark.parametrize("lines", [(40, 44, 48, 52), (40, 52, 51, 50)])
def test_what_goes_one_way_is_no_hunting(lines):
    d = examine(rounds(*lines))
    assert "superheat swing" not in d.estimates
    assert "ready/superheat-settled" in [reason.code for reason in d.not_ready]


def test_an_orifice_does_not_hunt():
    codes = [reason.code for reason in examine(rounds(48, 58, 48, 58, metering="fixed orifice")).not_ready]
    assert codes == ["ready/superheat-settled"]


@pytest.mark.parametrize("condensing", [85, 95, 102])
def test_fan_cycling_on_a_cold_day_is_no_want_of_outdoor_air(condensing):
    day = State(outdoor=50, return_db=74, return_wb=61, evaporating=41, condensing=condensing, metering="TXV",
                superheat=10, subcooling=10)  # fmt: skip
    d = examine(visit(day))
    first = d.faults[0]
    assert (first.fault, first.strength) != ("low-outdoor-airflow", "strong")
    assert first.fault == "nothing-wrong"
    checks = next_checks(d)
    assert checks[0].minutes < 60


def test_a_recovery_comes_first_only_where_the_charge_is_suspected():
    low = State(outdoor=50, evaporating=28, condensing=68, superheat=38, subcooling=1, metering="TXV", return_wb=61)
    d = examine(visit(low))
    assert d.faults[0].fault == "low-charge"
    assert "weigh-the-charge" in [check.check for check in next_checks(d)[:2]]


# -- what a visit may say of the machine and beside it -----------------------------------------------------------------


def test_words_of_the_trade_for_machine_facts():
    data = with_machine(SHOP, kind="mini split", compressor="variable speed", running_at="full", accumulator=True)
    d = examine(data)
    assert dict(d.visit.machine.words) == {
        "kind": "ductless", "compressor": "inverter", "running at": "high", "accumulator": "yes",
    }  # fmt: skip
    assert d.status == "diagnosed"
    assert "An accumulator may hold spare liquid and hide it." in text(diagnosis_page(d))
    assert "ductless, inverter compressor, running at high, accumulator: yes" in text(diagnosis_page(d))


@pytest.mark.parametrize(
    ("facts", "what"),
    [
        ({"kind": "spilt"}, "`kind`: `spilt` is not known"),
        ({"compressor": "single stage", "running_at": "low"}, "does not go with `compressor: single stage`"),
        ({"running_at": "400 %"}, "`running at`: `400 %` is not known"),
    ],
)
def test_machine_facts_that_cannot_be(facts, what):
    with pytest.raises(VisitError) as error:
        examine(with_machine(SHOP, **facts))
    assert what in error.value.problems[0].what
    assert error.value.problems[0].fix


def test_remarks_are_kept_and_printed_and_never_judged():
    remarks = {
        "complaint": "no cooling  since\nSunday", "date": "2026-07-14", "technician": "early shift",
        "notes": ["key at the bakery", "dog"], "done": ["filter changed", "coil washed"],
    }  # fmt: skip
    d, plain = examine(SHOP | remarks), examine(SHOP)
    assert d.ranked == plain.ranked
    page = text(diagnosis_page(d))
    for told in ("Complaint: no cooling since Sunday.", "Date: 2026-07-14.", "Done: filter changed; coil washed."):
        assert told in page
    told = d.to_dict()["visit"]
    assert told["complaint"] == "no cooling since Sunday"
    assert told["notes"] == "key at the bakery; dog"
    assert told["done"] == ["filter changed", "coil washed"]
    assert told["machine"]["refrigerant"] == "R-410A"
    assert plain.to_dict()["visit"].keys() == {"machine"}


@pytest.mark.parametrize("remark", [{"a": 1}, [["a"]], "x" * 2001])
def test_remarks_that_cannot_be_printed(remark):
    with pytest.raises(VisitError, match="complaint"):
        examine(SHOP | {"complaint": remark})


@pytest.mark.parametrize(
    "kind", ["pool heat pump", "Geothermal heat pump", "car air conditioner", "multi-split", "server room"]
)
def test_another_machine_is_none_of_a_house_whatever_else_it_is_called(kind: str) -> None:
    assert examine(with_machine(visit(State()), kind=kind)).status == "outside"
