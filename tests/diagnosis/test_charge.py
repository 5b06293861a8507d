"""The charge verdict: what is said, when nothing may be said, how much, and what to expect after."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from heats import IN_FROST, SOUND
from hypothesis import given
from hypothesis import strategies as st
from strategies import F, State, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine, load_rules
from diagnose.diagnosis.charge import _read_twice, _rival
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.verdict import NoVerdict
from diagnose.report.first_screen import first_screen
from diagnose.report.following import next_page
from diagnose.report.sentences import charge_text

RIGHT = State()
VALVE = State(metering="TXV", superheat=10)
LOW = State(superheat=25, subcooling=3, condensing=93, split=15)
HIGH = State(superheat=5, subcooling=18, condensing=103)
OUNCE = 0.45359237 / 16


def charge(data):
    return examine(data).charge


@pytest.mark.parametrize(
    ("state", "method", "verdict"),
    [(RIGHT, "superheat", "right"), (LOW, "superheat", "low"), (HIGH, "superheat", "high"), (VALVE, "subcooling", "right"),
     (VALVE.but(subcooling=2, condensing=94), "subcooling", "low"),
     (VALVE.but(subcooling=18, condensing=101), "subcooling", "high"),
     (VALVE.but(metering="EEV"), "subcooling", "right")],
)  # fmt: skip
def test_verdicts(state, method, verdict):
    found = charge(visit(state))
    assert (found.method, found.verdict) == (method, verdict)
    assert found.chance >= 0.75


# -- holds on the charge only ----------------------------------------------------------------------------------------------

ICED = VALVE.but(evaporating=20, superheat=14, subcooling=3.5, condensing=94, split=14)
UNCOOLED = with_readings(visit(RIGHT), supply_air_dry_bulb=None)
HOLDS = {  # the code of why: a readiness rule, or another -> visit, method
    "ready/cold-outdoors": (visit(RIGHT.but(outdoor=50, condensing=70)), "weight"),
    "ready/target-blank": (
        visit(RIGHT.but(outdoor=105, return_wb=58, condensing=122)), "superheat",
    ),
    "ready/target-outside": (
        visit(RIGHT.but(outdoor=118, return_wb=70, condensing=135)), "weight",
    ),
    "ready/house-still-hot": (visit(RIGHT.but(return_db=90)), "superheat"),
    "ready/dirty": (visit(RIGHT) | {"seen": {"air filter": "dirty"}}, "superheat"),
    "ready/outdoor-air-hindered": (visit(RIGHT) | {"seen": {"outdoor fan": "slow or stopped"}}, "superheat"),
    "ready/indoor-air-hindered": (visit(RIGHT) | {"seen": {"blower": "slow"}}, "superheat"),
    "ready/heating": (SOUND, "weight"),
    "ready/charge-hidden": (IN_FROST, "weight"),
    "ready/frosted": (
        with_machine(SOUND, rated_heating_subcooling="16 F") | {"seen": {"outdoor coil frost": "heavy"}}, "subcooling",
    ),
    "ready/supplementary-heat": (
        with_machine(SOUND, rated_heating_subcooling="16 F") | {"seen": {"supplementary heat": "on"}}, "subcooling",
    ),
    "ready/airflow-too-small": (with_readings(visit(RIGHT.but(tons=3)), airflow="750 cfm"), "superheat"),
    "ready/drain-blocked": (visit(RIGHT) | {"seen": {"condensate drain": "blocked"}}, "superheat"),
    "ready/compressor-stands": (UNCOOLED | {"seen": {"compressor sound": "silent"}}, "superheat"),
    "ready/what-stops-it-is-known": (UNCOOLED | {"seen": {"overload": "open"}}, "superheat"),
    "ready/heat-does-not-reach-the-coil": (visit(ICED), "subcooling"),
    "metering-not-given": (with_machine(visit(RIGHT), metering=None), None),
    "refrigerant-not-given": (with_machine(visit(RIGHT), refrigerant=None), "superheat"),
    "no-target-superheat": (
        with_readings(visit(RIGHT), return_air_wet_bulb=None), "superheat",
    ),
    "charge-not-measured": (with_readings(visit(RIGHT), suction_pressure=None), "superheat"),
}  # fmt: skip


@pytest.mark.parametrize("why", HOLDS)
def test_no_verdict_on_the_charge_but_the_faults_are_ranked(why):
    data, method = HOLDS[why]
    found = examine(data)
    assert found.status == "diagnosed"
    assert found.faults
    assert found.charge.verdict == "do not judge"
    assert found.charge.method == method
    assert why in [reason.code for reason in found.charge.reasons]
    assert isinstance(found.charge, NoVerdict)


def test_every_readiness_rule_on_the_charge_is_tried_here(book):
    holding = {r.id for r in book.rules if r.holds == "charge"}
    assert {name for name in holding if not name.startswith("machine/")} <= set(
        HOLDS
    )  # those: test_unusual_machines.py


def test_what_one_clamp_shows_alone_is_read_again_before_anything_is_added_or_taken_out():
    """A clamp that is 8 °F off turns a right subcooling into no charge's; shown by another, or elsewhere, it is acted on."""
    for state in (VALVE.but(subcooling=2), VALVE.but(subcooling=15, condensing=99)):
        once = visit(state)
        alone = examine(once)
        assert "subcooling-shows-it-alone" in [reason.code for reason in alone.charge.caveats]
        assert next_checks(alone)[0].check == "read-subcooling-again"
        assert alone.faults[0].strength == "fair"
        line = float(once["readings"]["liquid line temperature"].split()[0])
        other = -8 if alone.charge.verdict == "low" else 8
        drier, contrary = (with_readings(once, drier_inlet_temperature=f"{line + off} F") for off in (0, other))
        same_clamp = once | {
            "readings": [once["readings"] | {"minutes running": 15}, once["readings"] | {"minutes running": 20}]
        }
        for data, shown in ((drier, True), (once | {"seen": SEEN[alone.charge.verdict]}, True), (same_clamp, False),
                            (contrary, False)):  # fmt: skip
            found = examine(data).charge
            assert found.verdict == alone.charge.verdict
            codes = {"subcooling-shows-it-alone", "liquid-line-read-otherwise"} & {
                reason.code for reason in found.caveats
            }
            assert (codes == set()) is shown
            assert ("liquid-line-read-otherwise" in codes) is (data is contrary)
        assert next_checks(examine(contrary))[0].check == "read-what-is-doubtful-again"


def test_nothing_is_added_while_the_suction_clamp_may_be_reading_air():
    """Of 600 simulated machines in view such a clamp made 77 wrong `low`; the air of a coil so starved is hardly cooled."""
    loose = with_readings(visit(VALVE.but(subcooling=2, condensing=95)), suction_line_temperature="80 F")
    found = examine(loose)
    assert (found.charge.verdict, next_checks(found)[0].check) == ("low", "clamp-the-coil-outlet")
    assert any("Add nothing yet" in block.text for block in first_screen(found))
    cold = visit(VALVE.but(subcooling=0, condensing=92, evaporating=30, superheat=45))
    for sure in (with_readings(loose, supply_air_dry_bulb="66 F"), with_readings(loose, coil_outlet_temperature="76 F"),
                 cold, loose | {"seen": SEEN["low"]}):  # fmt: skip
        assert "suction-clamp-may-read-air" not in [reason.code for reason in examine(sure).charge.caveats]


def test_a_clamp_half_on_its_pipe_reads_between_pipe_and_air():
    """Of 600 such in view 57 were firmly `low`, now 4; of 37 right ones 2 wait for the coil outlet."""
    half = visit(VALVE.but(subcooling=2, condensing=95, superheat=25))
    found = examine(half)
    assert "suction-clamp-may-read-air" in [reason.code for reason in found.charge.caveats]
    told = [block.text for block in next_page(found)]
    why = next(i for i, text in enumerate(told) if text.startswith("This gives the superheat of the coil itself"))
    assert "Whatever is found" not in told[why + 1]  # what it finds may contradict the clamp
    hot_gas = with_readings(half, discharge_line_temperature="235 F")
    assert "suction-clamp-may-read-air" not in [reason.code for reason in examine(hot_gas).charge.caveats]
    much_cooled = visit(VALVE.but(subcooling=2, condensing=95, superheat=30, evaporating=28, split=32))
    assert "suction-clamp-may-read-air" in [reason.code for reason in examine(much_cooled).charge.caveats]


def test_liquid_that_is_left_speaks_against_so_low_a_charge_until_it_is_read_elsewhere():
    """A clamp 6 °F warm hid the liquid behind 36 restrictions of 600 machines in view, now 7; of 37 right ones 3 wait."""
    starved = VALVE.but(superheat=40, evaporating=30, condensing=92, split=14)
    left, gone = (visit(starved.but(subcooling=liquid)) for liquid in (4, 0))
    found = examine(left)
    assert (found.charge.verdict, next_checks(found)[0].check) == ("low", "read-subcooling-again")
    line = left["readings"]["liquid line temperature"]
    for sure in (gone, with_readings(left, drier_inlet_temperature=line), left | {"seen": SEEN["low"]}):
        charge = examine(sure).charge
        assert (charge.verdict, "liquid-is-left" in [reason.code for reason in charge.caveats]) == ("low", False)


def test_at_the_edge_of_the_table_the_sentence_says_so():
    """It said that the outdoor air and the wet bulb were missing, though both were read."""
    damp = visit(State(return_db=84, return_wb=76, superheat=20))
    assert "return air wet bulb 76.0 °F is at the end of the table (50.0 °F to 76.0 °F)" in charge_text(examine(damp))


def test_nothing_is_recovered_to_be_weighed_while_the_readings_fit_no_pattern():
    cold = State(metering="TXV", outdoor=25, condensing=84, subcooling=24, evaporating=38, superheat=11, return_db=72)
    found = examine(visit(cold.but(return_wb=55, split=20)))
    assert (found.explained.known, next_checks(found)[0].check) == (False, "wait-and-read-again")


SEEN = {"low": {"oil stains": "present"}, "high": {"charge changed": "added"}}


@pytest.mark.parametrize(("verdict", "apart"), [("low", 1), ("high", -1)])
def test_two_places_on_the_liquid_line_show_the_same_within_both_their_errors(verdict, apart):
    for times, twice in ((1.9, True), (2.1, False)):
        read = {"liquid line temperature": (300.0 + times * apart, 1.0), "drier inlet temperature": (300.0, 1.0)}
        readings = {name: SimpleNamespace(value=value, error=error) for name, (value, error) in read.items()}
        assert _read_twice(verdict, SimpleNamespace(last=SimpleNamespace(readings=readings))) is twice


def test_much_liquid_alone_makes_no_charge_high_before_the_outdoor_air_was_read():
    full = visit(VALVE.but(subcooling=18, condensing=101))
    found = examine(with_readings(full, outdoor_air_temperature=None))
    assert isinstance(found.charge, NoVerdict)
    assert found.charge.leaning == "high"
    assert [reason.code for reason in found.charge.reasons] == ["condensing-not-measured"]
    assert next_checks(found)[0].check == "measure-condensing"
    assert charge(full).verdict == "high"


def test_much_liquid_makes_no_charge_high_before_the_class_of_a_hot_condenser_was_noted():
    """Of 1,000 machines of two simulators, read without a SEER, 36 of 98 such `high` were wrong, for air."""
    hot = visit(VALVE.but(subcooling=18, condensing=112))
    found = examine(with_machine(hot, SEER=None))
    assert [reason.code for reason in found.charge.reasons] == ["efficiency-not-noted"]
    assert next_checks(found)[0].check == "read-the-plate"
    cool = examine(with_machine(visit(VALVE.but(subcooling=18, condensing=101)), SEER=None))
    assert cool.charge.verdict == "high"  # air would have made it hotter
    assert "read-the-plate" not in [check.check for check in next_checks(cool)]
    dirty = examine(with_machine(visit(VALVE.but(condensing=115)), SEER=None))
    assert "read-the-plate" in [check.check for check in next_checks(dirty)]


def test_a_wick_that_dries_holds_no_charge_that_the_liquid_shows():
    damp = with_readings(visit(VALVE), return_air_wet_bulb="71 F")
    assert [doubt.reason.code for doubt in examine(damp).doubts if doubt.told] == ["return-air-like-fog"]
    assert charge(damp).verdict == "right"
    assert charge(with_readings(visit(State()), return_air_wet_bulb="71 F")).verdict == "do not judge"


def test_nothing_is_taken_out_while_the_clamp_may_be_reading_air():
    """Common practice, no source: a loose clamp reads the air about it, and makes a right charge look like too much."""
    high = VALVE.but(subcooling=19, condensing=99)
    loose, tight = (examine(with_readings(visit(high), liquid_line_temperature=at)) for at in ("80.2 F", "84 F"))
    assert (loose.charge.verdict, tight.charge.verdict) == ("high", "high")
    assert "subcooling-by-a-doubted-clamp" in [reason.code for reason in loose.charge.caveats]
    assert next_checks(loose)[0].check == "read-subcooling-again"
    assert "subcooling-by-a-doubted-clamp" not in [reason.code for reason in tight.charge.caveats]
    twice = with_readings(visit(high), liquid_line_temperature="80.2 F", drier_inlet_temperature="80.2 F")
    assert "subcooling-by-a-doubted-clamp" not in [reason.code for reason in charge(twice).caveats]
    orifice = State(outdoor=72, condensing=92, superheat=11, return_db=76, return_wb=63)  # 7 °F below its target
    full = charge(with_readings(visit(orifice), liquid_line_temperature="72 F"))
    assert (full.verdict, full.caveats[0].code) == ("high", "subcooling-by-a-doubted-clamp")
    assert any("Take out nothing yet" in block.text for block in first_screen(loose))
    perhaps = examine(with_readings(visit(high), liquid_line_temperature="82 F"))  # the doubt is told, though not firm
    assert not any(doubt.firm for doubt in perhaps.doubts)
    assert any("Take out nothing yet" in block.text for block in first_screen(perhaps))


@pytest.mark.parametrize("changes", [{}, {"metering": "fixed orifice", "superheat": 5}, {"split": 24}])
def test_a_coil_that_freezes_though_it_is_fed_is_looked_at_before_anything_is_added(changes):
    found = examine(visit(ICED.but(**changes)))
    assert (found.faults[0].fault, found.charge.verdict) == ("low-indoor-airflow", "do not judge")
    assert next_checks(found)[0].check in ("look-at-the-air-side", "confirm-the-airflow")


def test_a_valve_machine_needs_its_liquid_line():
    (reason,) = charge(with_readings(visit(VALVE), liquid_line_temperature=None)).reasons
    assert (reason.code, reason.figures["method"]) == ("charge-not-measured", "subcooling")


def test_a_dirty_filter_does_not_keep_from_saying_where_it_leans():
    found = charge(HOLDS["ready/dirty"][0])
    assert found.leaning == "right"


@pytest.mark.parametrize("outdoor", [54.0, 56.0])
def test_55_degrees_outdoors_is_the_least(outdoor):
    """RA3-9: below 55 °F the protocol allows only weighing in."""
    found = charge(visit(VALVE.but(outdoor=outdoor, condensing=outdoor + 18)))
    assert (found.verdict == "do not judge") == (outdoor < 55)


# -- near the limit ------------------------------------------------------------------------------------------------------------


def test_near_the_limit_no_verdict_and_the_reading_to_improve_is_named():
    """2 °F clamps on a subcooling at the very limit, 3 °F below the plate: half this, half that."""
    data = visit(VALVE.but(subcooling=7, condensing=93)) | {"instruments": {"pipe clamps": "2 F", "gauges": "0.5 %"}}
    found = charge(data)
    assert found.verdict == "do not judge"
    assert found.chance == pytest.approx(0.5, abs=0.02)
    assert found.improve == "liquid line temperature"
    (reason,) = found.reasons
    assert reason.code == "near-the-limit"
    assert reason.figures["improve"] == "liquid line temperature"


def test_with_poor_gauges_the_pressure_is_named():
    data = visit(VALVE.but(subcooling=7, condensing=93)) | {"instruments": {"pipe clamps": "0.2 F", "gauges": "5 %"}}
    assert charge(data).improve == "liquid pressure"


def test_on_a_fixed_orifice_the_wet_bulb_may_be_the_worst():
    """Its 1 °F moves the target by 1.5 °F: the trade's formula has 3·WB/2 (common practice)."""
    assert charge(visit(RIGHT.but(superheat=18.5, subcooling=4))).improve == "return air wet bulb"
    bare = with_machine(visit(VALVE.but(subcooling=14.8)), rated_subcooling=None)
    assert charge(bare).improve == "rated subcooling"
    loose = bare | {"instruments": {"pipe clamps": "8 F"}}  # further off than what the plate could settle
    assert charge(loose).improve == "liquid line temperature"


def test_a_better_instrument_settles_it():
    data = visit(VALVE.but(subcooling=7.6, condensing=95))
    poor = charge(data | {"instruments": {"pipe clamps": "4 F"}})
    good = charge(data | {"instruments": {"pipe clamps": "0.3 F", "gauges": "0.3 %"}})
    assert (poor.verdict, good.verdict) == ("do not judge", "right")


@pytest.mark.parametrize("gas", ["R-454B", "R-410A"])
def test_only_what_can_be_measured_again_is_named(gas):
    exact = {"instruments": {"gauges": "0.05 %", "pipe clamps": "0.02 F", "air thermometers": "0.02 F"}}
    found = charge(visit(VALVE.but(subcooling=7, condensing=90, gas=gas)) | exact)
    assert found.verdict == "do not judge"
    assert found.improve in visit(VALVE)["readings"]


@examples(20)
@given(states())
def test_a_verdict_is_never_given_below_the_certainty_of_the_policy(state):
    found = charge(visit(state, extra=True))
    if found.verdict != "do not judge":
        assert found.chance >= load_rules().charge.sure
    else:
        assert found.reasons


@examples(20)
@given(states(metering=("fixed orifice",)), st.floats(0.5, 15))
def test_more_superheat_never_turns_low_into_right_or_right_into_high(state, by):
    order = {"high": 0, "right": 1, "low": 2}
    one, other = (charge(visit(s)) for s in (state, state.but(superheat=state.superheat + by)))
    if one.verdict in order and other.verdict in order:
        assert order[other.verdict] >= order[one.verdict]


# -- no advice on the charge where something else explains it better -----------------------------------------------------------


def test_another_fault_that_explains_it_better_holds_the_verdict():
    """Much superheat with much subcooling: the liquid is there, but held back. Adding charge is what hurts."""
    restricted = State(superheat=28, subcooling=15, evaporating=36, condensing=97, split=14)
    found = examine(visit(restricted))
    assert found.faults[0].fault in ("liquid-line-restriction", "metering-underfeeding")
    assert found.charge.verdict == "do not judge"
    assert found.charge.leaning == "low"
    assert [reason.code for reason in found.charge.reasons] == ["liquid-is-held-back"]


@pytest.mark.parametrize(
    ("state", "verdict"),
    [(RIGHT.but(superheat=2), "do not judge"), (RIGHT.but(superheat=2, subcooling=17, condensing=103), "high"),
     (RIGHT.but(superheat=24), "do not judge"), (RIGHT.but(superheat=24, subcooling=2, condensing=94), "low")],
)  # fmt: skip
def test_superheat_alone_moves_no_charge_while_the_liquid_stands_as_on_its_good_day(state, verdict):
    """Charge that is added or lost changes what the condenser holds (cycle physics)."""
    found = charge(visit(state) | DAY)
    assert found.verdict == verdict
    assert verdict != "do not judge" or [r.code for r in found.reasons] == ["liquid-as-on-its-good-day"]


BLANK = RIGHT.but(outdoor=100, return_wb=57, condensing=117, subcooling=10)
BEHIND_AN_ORIFICE = VALVE.but(outdoor=75, return_db=80, return_wb=70, superheat=27, subcooling=11, condensing=96)


@pytest.mark.parametrize(
    ("state", "alike", "verdict", "rule"),
    [(RIGHT.but(superheat=5), True, "high", "ready/a-valve-not-an-orifice"),
     (RIGHT.but(superheat=23, subcooling=8), True, "low", "ready/a-valve-not-an-orifice"),
     (HIGH, False, "high", None), (LOW, False, "low", None),  # the liquid shows it as well
     (BEHIND_AN_ORIFICE, True, "do not judge", "ready/an-orifice-not-a-valve"),
     (BEHIND_AN_ORIFICE.but(superheat=34), False, "do not judge", None),
     (BLANK.but(superheat=16), True, "do not judge", "ready/a-valve-not-an-orifice"),
     (BLANK.but(superheat=6), False, "do not judge", None)],
)  # fmt: skip
def test_what_would_be_right_behind_the_other_metering_device_asks_which_is_fitted(state, alike, verdict, rule):
    """Target superheat 13.5 and 27.5 °F (RA3.2-2, from memory); a valve holds 4 to 25 °F."""
    data, device = visit(state), "fixed orifice" if state.metering == "fixed orifice" else "valve"
    found = examine(data)
    codes = [reason.code for reason in (*found.charge.reasons, *found.charge.caveats)]
    assert found.charge.verdict == verdict
    assert ("right-behind-the-other-device" in codes) is alike
    assert (next_checks(found)[0].check == "look-at-the-metering-device") is alike
    if state == BLANK.but(superheat=16):  # a drier that cools the liquid shows that a restriction is real
        blocked = examine(with_readings(data, drier_inlet_temperature="106 F", drier_outlet_temperature="101 F"))
        assert next_checks(blocked)[0].check != "look-at-the-metering-device"
    if alike and verdict != "do not judge":
        assert any(
            "nothing yet: on a valve machine these readings would be" in block.text for block in first_screen(found)
        )
    if rule is None:
        return
    assert found.faults[0].strength != "strong"
    looked = examine(data | {"seen": {"device at the coil": device}})
    assert looked.charge.verdict == verdict
    assert "right-behind-the-other-device" not in [r.code for r in (*looked.charge.reasons, *looked.charge.caveats)]
    other = examine(data | {"seen": {"device at the coil": "valve" if device == "fixed orifice" else "fixed orifice"}})
    assert [reason.code for reason in other.not_ready] == [rule]
    assert next_checks(other)[0].check == "note-the-metering-device"


def test_what_a_long_line_in_a_hot_attic_takes_up_is_neither_the_valves_fault_nor_the_charges():
    """Superheat of 32 °F where the gauges are, air cooled as it should be: at the coil it is 10 °F (cycle physics)."""
    warm = visit(VALVE.but(superheat=32))
    found = examine(warm)
    assert [reason.code for reason in found.charge.reasons] == ["valve-off-its-superheat", "line-may-be-warmed"]
    assert next_checks(found)[0].check == "clamp-the-coil-outlet"
    fed, starved = (
        examine(with_readings(warm, coil_outlet_temperature=f"{t} F")) for t in (VALVE.evaporating + 10, 74)
    )
    assert (fed.faults[0].fault, fed.charge.verdict) == ("nothing-wrong", "do not judge")
    assert [doubt.reason.code for doubt in fed.doubts if doubt.firm] == ["suction-line-warmed"]
    assert starved.faults[0].fault in ("liquid-line-restriction", "metering-underfeeding")
    assert [reason.code for reason in starved.charge.reasons] == ["valve-off-its-superheat"]
    for other in (visit(VALVE.but(superheat=32, split=12)), with_machine(warm, kind="packaged")):  # not cooled, no line
        assert "line-may-be-warmed" not in [reason.code for reason in examine(other).charge.reasons]


# -- how much, and what to expect ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("state", [LOW, HIGH, VALVE.but(subcooling=2, condensing=94)])
def test_how_much_is_never_finer_than_the_policy_and_never_the_wrong_way(state):
    found = charge(visit(state))
    low, high = found.percent
    assert high - low >= 2
    assert (high <= 0) if found.verdict == "low" else (low >= 0)
    assert -60 <= low < high <= 60


def test_how_much_in_mass():
    data = with_machine(visit(LOW), factory_charge="6 lb 4 oz")
    found = charge(data)
    assert found.percent is not None
    assert found.mass == pytest.approx(tuple(p / 100 * 100 * OUNCE for p in found.percent))


@pytest.mark.parametrize(("length", "ounces"), [("35 ft", 112), ("5 ft", 94), ("15 ft", 100)])
def test_the_line_set_counts(length, ounces):
    """0.6 oz a foot of 3/8 in liquid line is every maker's figure for R-410A (common practice; tests/reference)."""
    line = {"liquid line": "3/8 in", "length": length, "included": "15 ft"}
    found = charge(with_machine(visit(LOW), factory_charge="6 lb 4 oz", line_set=line))
    assert found.mass == pytest.approx(tuple(p / 100 * ounces * OUNCE for p in found.percent), rel=0.01)


def test_what_to_expect_after():
    found = charge(visit(LOW)).expect_after
    assert found["superheat"].value / F == pytest.approx(13.5, abs=0.05)
    assert found["superheat"].tolerance / F == pytest.approx(5)
    assert charge(visit(RIGHT)).expect_after == {}


# -- low without a target --------------------------------------------------------------------------------------------------

EMPTY = State(
    outdoor=100, return_db=80, return_wb=58, superheat=40, subcooling=0, condensing=110, evaporating=25, split=9
)


def test_where_the_table_is_blank_a_nearly_empty_machine_is_low_all_the_same():
    found = charge(visit(EMPTY))
    assert (found.verdict, found.by.target, found.percent) == ("low", None, None)
    assert [reason.code for reason in found.reasons] == ["beyond-any-target"]


@pytest.mark.parametrize(("superheat", "verdict"), [(26, "do not judge"), (27.5, "low")])
def test_it_must_stand_20_degrees_above_a_target_of_5_with_its_uncertainty(superheat, verdict):
    """Superheat is known to 1.5 °F: 25 and 1.5."""
    assert charge(visit(EMPTY.but(superheat=superheat))).verdict == verdict


DAY = {"baseline": {"readings": visit(RIGHT)["readings"]}}


def test_its_own_good_day_stands_in_for_the_blank_target():
    """Sound, this one shows no superheat in such weather: 8 °F may still be the weather, 20 °F cannot."""
    day, much = DAY, EMPTY.but(superheat=20, evaporating=32)
    assert charge(visit(much)).verdict == "do not judge"
    d = examine(visit(much) | day)
    found = d.charge
    assert (found.verdict, found.by.target, [reason.code for reason in found.reasons]) == (
        "low",
        None,
        ["beyond-good-day"],
    )
    assert found.chance == d.faults[0].share
    assert found.by.own == pytest.approx(0.0, abs=0.1)
    assert charge(visit(EMPTY) | day).verdict == "low"


@pytest.mark.parametrize(
    "data",
    [visit(EMPTY.but(subcooling=9, condensing=119)),  # liquid is there
     visit(EMPTY) | {"seen": {"indoor coil": "dirty"}},  # another hold
     with_readings(visit(EMPTY), return_air_wet_bulb=None)],  # nobody knows whether it is blank
)  # fmt: skip
def test_it_is_held_where_anything_else_may_be(data):
    assert charge(data).verdict == "do not judge"


BLANK = RIGHT.but(outdoor=105, return_wb=58, superheat=2)


@pytest.mark.parametrize(
    ("state", "verdict"),
    [(BLANK.but(superheat=12, subcooling=1, condensing=118), "low"),
     (BLANK.but(superheat=0.5, subcooling=20, condensing=128), "high"),
     (BLANK.but(subcooling=6.5, condensing=121), "do not judge")],
)  # fmt: skip
def test_where_superheat_has_no_target_the_liquid_shows_the_charge_by_its_own_good_day(state, verdict):
    """A right charge leaves next to no superheat there, so that too much cannot show in it (cycle physics)."""
    assert charge(visit(state)).verdict == "do not judge"
    found = charge(visit(state) | DAY)
    assert (found.method, found.verdict) == ("subcooling", verdict)
    assert found.by.own == pytest.approx(10 * F, abs=2 * F)
    told = [reason.code for reason in found.reasons]
    assert told == ["no-target-so-by-liquid", "charge-judged"] if verdict != "do not judge" else ["near-the-limit"]


def test_a_good_day_whose_own_liquid_was_odd_does_not_stand_in():
    odd = {"baseline": {"readings": visit(RIGHT.but(subcooling=25))["readings"]}}
    found = charge(visit(BLANK.but(superheat=0.5, subcooling=20, condensing=128)) | odd)
    assert (found.method, found.verdict) == ("superheat", "do not judge")


def test_the_charge_is_right_where_all_readings_say_so_together():
    """Near the limit by its own reading alone; all the others as on its good day."""
    near = VALVE.but(subcooling=7.5, condensing=93)
    day = {"baseline": {"readings": visit(near.but(subcooling=10))["readings"]}}
    alone, together = charge(visit(near)), charge(visit(near) | day)
    assert [reason.code for reason in alone.reasons] == ["near-the-limit"]
    assert together.verdict == "right"
    agree = next(reason for reason in together.reasons if reason.code == "all-readings-agree")
    assert agree.figures["chances"][0] == ("right", pytest.approx(0.63, abs=0.05))
    off = sum(r.share for r in examine(visit(near) | day).faults if r.fault in ("low-charge", "overcharge"))
    assert together.chance == pytest.approx(1 - off)
    assert agree.figures["off"] == pytest.approx(off)
    poor = {"instruments": {"pipe clamps": "8 F"}}
    assert charge(visit(near) | day | poor).verdict == "do not judge"


# -- what stands in the way ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("verdict", "own", "other", "held"),
    [("right", 0.5, 0.3, False), ("right", 0.3, 0.5, False), ("right", 0.3, 0.6, True),  # by more than 0.25
     ("low", 0.63, 0.37, False), ("low", 0.62, 0.38, True), ("high", 0.63, 0.37, False), ("high", 0.62, 0.38, True),
     ("low", 0.61, 0.3, False), ("low", 0.59, 0.3, True)],
)  # fmt: skip
def test_advice_must_lead_by_a_quarter_and_a_right_charge_only_not_lag_by_more(verdict, own, other, held):
    rules = load_rules()
    fault = next(name for name, entry in rules.faults.items() if entry.charge == verdict)
    shares = {fault: own, "low-indoor-airflow": other, "weak-compressor": 1.0 - own - other}
    ranked = [Ranked(name, 0.0, share, (), "weak") for name, share in sorted(shares.items(), key=lambda s: -s[1])]
    rival = _rival(verdict, ranked, {}, rules, {}, both_pairs=True, alike=frozenset())
    assert (rival and rival.fault) == ("low-indoor-airflow" if held else None)


def test_the_airflow_is_asked_for_where_advice_hangs_on_it_and_it_was_not_measured():
    assert "confirm-the-airflow" in examine(visit(LOW)).always
    assert "confirm-the-airflow" not in examine(with_readings(visit(LOW), airflow="1200 cfm")).always
    assert "confirm-the-airflow" not in examine(with_readings(visit(RIGHT), return_air_wet_bulb=None)).always


def test_no_charge_is_called_right_on_a_machine_that_must_be_stopped():
    found = charge(with_readings(visit(RIGHT), standing_pressure="20 inHg vacuum", standing_air_temperature="75 F"))
    assert (found.verdict, found.leaning) == ("do not judge", "right")
    assert [reason.code for reason in found.reasons] == ["stop-before-charging"]


def test_of_what_it_needs_what_was_read_is_named():
    found = examine(with_readings(visit(VALVE), liquid_line_temperature=None))
    assert charge_text(found).endswith(
        "it needs liquid pressure and liquid line temperature, and only the liquid pressure was read."
    )
