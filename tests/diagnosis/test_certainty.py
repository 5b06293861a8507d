"""How strongly an answer may be said: what contradicts it, and what it was judged without."""

from __future__ import annotations

from dataclasses import replace

import pytest
import yaml
from by_hand import place, rule
from doubtful import examined
from judged import BOOK
from shared import visit_of
from strategies import State, visit, with_machine, with_readings

from diagnose import examine
from diagnose.diagnosis.certainty import at_most, contradicted, lacked_by_target, much_against
from diagnose.diagnosis.charge import unparted
from diagnose.diagnosis.next_checks import next_checks
from diagnose.quantities.plausibility import layers, taken
from diagnose.quantities.plausibility.view import Doubt
from diagnose.report import as_text
from diagnose.report.first_screen import first_screen
from diagnose.shipped import shipped
from diagnose.visit import visit_in
from diagnose.visit.reason import Reason
from diagnose.workshop.trials import read_case

DEMO = shipped("cases") / "demo"
WORDS = ["strong", "fair", "weak", "unlikely"]
BEYOND = (
    "current-beyond-the-plate", "airflow-beyond-the-capacity", "discharge-line-too-hot", "supply-air-same-as-return-air",
    "celsius-written-as-fahrenheit",
)  # fmt: skip


@pytest.mark.parametrize("code", BEYOND)
def test_readings_that_contradict_the_plate_or_one_another_leave_no_strong_answer(code: str) -> None:
    d = examined(code)
    assert d.faults[0].fault == "nothing-wrong"
    assert d.faults[0].strength != "strong"
    assert d.charge.verdict == "do not judge"
    assert code in {reason.code for reason in d.charge.reasons}


def test_a_reading_that_carried_the_fault_leaves_nothing_wrong_weak() -> None:
    path = shipped("cases") / "demo" / "liquid-clamp-much-too-cold.yaml"
    d = examine(visit_in(read_case(path).document, ("visit",)))  # type: ignore[arg-type]
    assert d.faults[0].fault == "nothing-wrong"
    assert d.faults[0].share > 0.75
    assert d.faults[0].strength == "weak"


def test_without_a_wet_bulb_an_orifice_machine_is_at_most_weakly_sound_and_the_wet_bulb_is_asked_for_first() -> None:
    d = examine(with_readings(visit(State()), return_air_wet_bulb=None))
    assert lacked_by_target(d) == ("return air wet bulb",)
    assert WORDS.index(next(r for r in d.faults if r.fault == "nothing-wrong").strength) >= WORDS.index("weak")
    assert next_checks(d)[0].check == "measure-the-return-air"
    assert not lacked_by_target(examine(visit(State())))
    assert not lacked_by_target(examine(with_readings(visit(State(metering="TXV")), return_air_wet_bulb=None)))


def test_without_the_outdoor_air_an_orifice_machine_is_at_most_weakly_sound() -> None:
    d = examine(with_readings(visit(State()), outdoor_air_temperature=None))
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", "weak")


@pytest.mark.parametrize(("plate", "said"), [("10 F", "strong"), (None, "fair")])
def test_a_valve_machine_of_which_nobody_knows_the_subcooling_is_at_most_fairly_sound(
    plate: str | None, said: str
) -> None:
    d = examine(with_machine(visit(State(metering="TXV"), extra=True), rated_subcooling=plate))
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", said)
    assert d.faults[0].share > BOOK.judgement.strengths.strong


def test_a_machine_that_must_not_run_is_at_most_weakly_sound() -> None:
    lopsided = {"voltage_1_to_2": "208 V", "voltage_2_to_3": "219 V", "voltage_3_to_1": "230 V"}
    d = examine(with_readings(visit(State(metering="TXV")), **lopsided))
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", "weak")


def test_a_leader_against_which_much_stands_is_never_strong() -> None:
    d = examine(visit(State()))
    first = d.ranked[0]
    assert not much_against(first, d.rules)
    points = -d.rules.judgement.strengths.against
    heavy = first.evidence[0]._replace(rule=replace(first.evidence[0].rule, points=points), counted=1.0)
    worse = first._replace(evidence=(heavy,))
    assert much_against(worse, d.rules)


def test_what_speaks_for_a_fault_takes_nothing_off_what_speaks_against_it() -> None:
    both = place("low-charge", 0.9, rule(-3, x="high"), rule(0.9, x="high"))
    assert much_against(both, BOOK)


@pytest.mark.parametrize(
    ("doubt", "limited"),
    [
        (Doubt(Reason("a"), set_aside=("x",), weight=0.5), True),
        (Doubt(Reason("a"), set_aside=("x",), weight=0.49), False),
        (Doubt(Reason("a"), spoils=("x",), weight=0.5), True),
        (Doubt(Reason("a"), weight=0.5), False),  # nothing was left out for it
    ],
)
def test_nothing_is_wrong_is_said_less_firmly_where_a_reading_was_left_out(doubt: Doubt, limited: bool) -> None:
    d = examine(visit(State(), extra=True))
    assert "nothing-wrong" not in at_most(d)
    assert at_most(replace(d, doubts=(doubt,))).get("nothing-wrong") == ("fair" if limited else None)


def test_a_caveat_that_must_be_confirmed_weakens_the_leader_and_no_other() -> None:
    d = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15), extra=True))
    assert d.faults[0].fault == "low-charge"
    hanging = replace(d, charge=d.charge._replace(caveats=(Reason("subcooling-not-low"),)))
    assert at_most(hanging) == {**at_most(d), "low-charge": "fair"}
    assert "low-charge" not in at_most(d)


def test_what_contradicts_the_leader_weakens_it_and_no_other() -> None:
    """Firm findings that it does not make; of "nothing wrong", which makes none, only its own evidence."""
    d = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15), extra=True))
    odd = replace(d, explained=d.explained._replace(left=("static pressure",)))
    assert (contradicted(d), contradicted(odd)) == (False, True)
    assert at_most(odd) == {**at_most(d), "low-charge": "fair"}
    sound = examine(visit(State(), extra=True))
    assert not contradicted(replace(sound, explained=sound.explained._replace(left=("static pressure",))))


def test_layers_share_out_the_whole_by_how_sure_the_doubts_are() -> None:
    reason = Reason("test")
    assert [(layer.share, layer.set_aside) for layer in layers(())] == [(1.0, frozenset())]
    found = layers((
        Doubt(reason, set_aside=("a",), weight=0.75), Doubt(reason, set_aside=("b",), weight=0.25), Doubt(reason),
    ))  # fmt: skip
    assert [(layer.share, set(layer.set_aside)) for layer in found] == [(0.25, set()), (0.5, {"a"}), (0.25, {"a", "b"})]
    assert layers((Doubt(reason, set_aside=("a",)),))[0].set_aside == {"a"}


@pytest.mark.parametrize("by", [x / 10 for x in range(0, 60, 2)])
def test_what_comes_from_a_doubted_reading_keeps_the_rest_of_its_say(by: float) -> None:
    d = examine(with_readings(visit(State(metering="TXV")), liquid_line_temperature=f"{80 - by} F"))
    doubted = max((x.weight for x in d.doubts if "liquid line temperature" in x.set_aside), default=0.0)
    counts = d.findings["subcooling"].counts if "subcooling" in d.findings else 0.0
    assert counts == pytest.approx(1.0 - doubted, abs=1e-6)


def test_a_worn_compressor_and_a_low_stage_look_alike_until_the_stages_or_the_discharge_line_are_known() -> None:
    """A sound 4 ton machine at a low stage that nobody wrote down."""
    low = State(
        metering="TXV",
        tons=4,
        outdoor=85,
        evaporating=49,
        condensing=95,
        superheat=11,
        subcooling=8,
        split=14,
        return_wb=63,
    )
    hot = f"{low.but(efficiency=0.4).discharge} F"
    words = {
        name: examine(data).faults[0]
        for name, data in {
            "not said": visit(low),
            "one stage": with_machine(visit(low), compressor="single stage"),
            "discharge line read": with_readings(visit(low), discharge_line_temperature=hot),
            "a heat pump": with_machine(
                with_readings(visit(low), discharge_line_temperature=hot), kind="heat pump", compressor="single stage"
            ),
        }.items()
    }
    assert {first.fault for first in words.values()} == {"weak-compressor"}
    assert {name: first.strength for name, first in words.items()} == {
        "not said": "fair", "one stage": "strong", "discharge line read": "strong", "a heat pump": "fair",
    }  # fmt: skip


def test_a_heat_pump_that_cools_is_told_that_its_reversing_valve_may_leak() -> None:
    read = visit_of("demo/weak-compressor-orifice")
    alone, pump = (
        as_text(first_screen(examine(replace(read, machine=read.machine._replace(words=words)))))
        for words in (read.machine.words, {**read.machine.words, "kind": "heat pump"})
    )
    assert "reversing valve" not in alone
    assert "The same at the gauges: reversing valve leaking." in " ".join(pump.split())
    assert "Test the reversing valve" in pump


def test_doubts_that_hold_instead_of_one_another_leave_nothing_as_it_was_read() -> None:
    one, other = Doubt(Reason("test"), set_aside=("a",), weight=0.5), Doubt(Reason("test"), set_aside=("b",))
    found = layers((one, other.after(0.5)))
    assert [(layer.share, set(layer.set_aside)) for layer in found] == [(0.5, {"b"}), (0.5, {"a"})]
    assert taken((one, other.after(0.5))) == 1.0
    assert taken((one, other._replace(weight=0.25))) == 0.5


@pytest.mark.parametrize(("weight", "word"), [(0.099, "strong"), (0.1, "fair"), (0.299, "fair"), (0.3, "weak")])
def test_just_before_nothing_is_ranked_nothing_is_said_firmly(weight: float, word: str) -> None:
    d = examine(visit(State()))
    assert d.faults[0].strength == "strong"
    near = replace(d, nearly=(Doubt(Reason("outside/cold-space"), holds_visit=True, weight=weight),))
    assert at_most(near).get(d.faults[0].fault, "strong") == word


# -- faults that only rest or the history part ---------------------------------------------------------------------------------

ALIKE = State(
    metering="TXV", superheat=10, subcooling=24, outdoor=90, condensing=90 + 24 + 10, evaporating=43, split=19
)


@pytest.mark.parametrize("metering", ["TXV", "fixed orifice"])
@pytest.mark.parametrize("subcooling", [20, 24, 29])
def test_an_overcharge_and_air_are_not_strong_where_only_rest_or_history_part_them(
    metering: str, subcooling: int
) -> None:
    """Hot, full, and the liquid hardly nearer the air than usual: both raise the pressure that subcooling is counted from."""
    state = ALIKE.but(metering=metering, subcooling=subcooling, condensing=90 + subcooling + 10)
    d = examine(visit(state))
    word = {place.fault: place.strength for place in d.ranked}
    assert "strong" not in (word["overcharge"], word["non-condensables"])
    assert d.charge.verdict == "do not judge"


def test_what_parts_them_lets_one_be_strong() -> None:
    rest = {"standing pressure": "280 psig", "standing air temperature": "80 F"}  # R-410A alone: 236 psig
    d = examine(with_readings(visit(ALIKE), **rest))
    assert (d.ranked[0].fault, d.ranked[0].strength) == ("non-condensables", "strong")


@pytest.mark.parametrize("left", [("superheat",), ()])
def test_a_finding_that_the_leader_does_not_make_contradicts_it_by_itself(left: tuple[str, ...]) -> None:
    d = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15)))
    assert not much_against(d.ranked[0], d.rules)
    assert contradicted(replace(d, explained=d.explained._replace(left=left))) is bool(left)


def test_what_surely_is_off_leaves_no_machine_strongly_sound() -> None:
    """Half as much current again as the plate allows, and all else as it should be: the charge is not known by it."""
    d = examine(DEMO / "danger-current-above-the-plate.yaml")
    assert d.explained.sure == ("compressor current",)
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", "fair")
    assert (d.explained.of_charge, d.charge.verdict) == ((), "right")


def test_no_charge_is_right_where_what_a_wrong_one_is_known_by_is_surely_off() -> None:
    """The superheat of an orifice on its target, and 18 °F of subcooling."""
    d = examine(visit(State(subcooling=18, condensing=100)))
    assert d.explained.of_charge == ("subcooling",)
    assert [reason.code for reason in d.charge.reasons] == ["surely-off-normal"]


def test_no_charge_is_low_by_what_low_charge_does_not_make() -> None:
    """Air at rest, or none: a sound machine whose subcooling is on the edge is not undercharged because of it."""
    edge, low = visit(State(metering="TXV", subcooling=5)), visit(State(metering="TXV", subcooling=3))
    rest = {"standing_pressure": "255 psig", "standing_air_temperature": "80 F"}  # R-410A alone: 236 psig
    assert examine(with_readings(edge, **rest)).charge.verdict == "do not judge"
    assert examine(with_readings(low, **rest)).charge.verdict == "low"


def test_what_is_set_aside_makes_no_verdict() -> None:
    """Supply air so cold that its wet bulb cannot be: by the split as it was read, little air passes the coil."""
    day = visit(State(metering="TXV", superheat=5, split=26), extra=True)
    d = examine(with_readings(day, condenser_leaving_air_temperature="112 F", supply_air_wet_bulb="52 F"))
    assert any("supply air dry bulb" in doubt.set_aside and not doubt.holds_charge for doubt in d.doubts)
    assert d.charge.verdict == "do not judge"
    assert [reason.code for reason in d.charge.reasons] == ["supply-wet-bulb-above-dry-bulb"]


def test_a_reading_that_is_likelier_right_than_wrong_is_never_called_not_measured() -> None:
    """Three doubts lie side by side, none of them firm: what each of them alone would leave out is still there."""
    d = examine(
        visit(State(metering="TXV", superheat=30, subcooling=0, outdoor=90, condensing=87, evaporating=35, split=6))
    )
    aside = {name for doubt in d.doubts for name in doubt.set_aside}
    assert aside >= {"liquid line temperature", "outdoor air temperature"}
    assert not any(doubt.firm for doubt in d.doubts)
    assert "subcooling" in d.estimates
    assert "charge-not-measured" not in [reason.code for reason in d.charge.reasons]


@pytest.mark.parametrize("metering", ["TXV", "fixed orifice"])
@pytest.mark.parametrize("outdoor", [20, 40, 50])
@pytest.mark.parametrize("over", [30, 40])
def test_a_head_pressure_that_controls_hold_up_in_the_cold_is_no_air(metering: str, outdoor: int, over: int) -> None:
    """Fan cycling holds about 70 °F or more of condensing temperature on any cold day (common practice, no source)."""
    superheat = 12 if metering == "TXV" else 25
    cold = State(metering=metering, outdoor=outdoor, condensing=outdoor + over, evaporating=38, superheat=superheat)
    (air,) = (place for place in examine(visit(cold)).faults if place.fault == "non-condensables")
    assert air.share < 0.1
    for wet, full in ((12, 15), (12, 10), (superheat, 15)):  # an orifice that is fed better, more liquid
        assert examine(visit(cold.but(superheat=wet, subcooling=full))).ranked[0].fault != "non-condensables"


LIQUID_SIDE = ("liquid_pressure", "liquid_line_temperature")


@pytest.mark.parametrize(
    ("state", "left_out", "leads", "beside"),
    [
        (State(superheat=30, split=14, subcooling=12), LIQUID_SIDE, "low-charge", {"liquid-line-restriction": 0.1}),
        (State(metering="TXV", superheat=30, split=14, subcooling=12), LIQUID_SIDE, "low-charge",
         {"liquid-line-restriction": 0.2, "metering-underfeeding": 0.1}),
        (State(superheat=3), LIQUID_SIDE, "overcharge", {"weak-compressor": 0.1, "metering-overfeeding": 0.1}),
        (State(condensing=115), LIQUID_SIDE[1:], "low-outdoor-airflow", {"non-condensables": 0.2}),
    ],
)  # fmt: skip
def test_a_fault_is_no_surer_than_what_looks_alike_where_the_reading_that_parts_them_was_left_out(
    state: State, left_out: tuple[str, ...], leads: str, beside: dict[str, float]
) -> None:
    d = examine(with_readings(visit(state), **dict.fromkeys(left_out)))
    share = {fault.fault: fault.share for fault in d.faults}
    assert d.faults[0].fault == leads
    assert d.faults[0].share < 0.75
    assert all(share[fault] > least for fault, least in beside.items())


def test_without_the_outdoor_air_no_overcharge_is_strong() -> None:
    """Air in the circuit reads as liquid, and what it does besides is seen against the outdoor air alone."""
    full = with_readings(visit(State(superheat=2, subcooling=22, condensing=112)), outdoor_air_temperature=None)
    d = examine(full)
    assert (d.faults[0].fault, d.faults[0].strength) == ("overcharge", "fair")
    assert d.faults[0].share > BOOK.judgement.strengths.strong
    at_rest = with_readings(full, standing_pressure="236 psig", standing_air_temperature="80 F")
    assert at_most(examine(at_rest)).get("overcharge") is None


@pytest.mark.parametrize(("left_out", "alike"), [({}, False), ({"supply_air_dry_bulb": None}, True)])
def test_in_heating_air_and_too_little_air_look_alike_where_nobody_knows_how_far_the_air_is_warmed(
    left_out: dict[str, None], alike: bool
) -> None:
    case = yaml.safe_load((DEMO / "heating-air-in-the-circuit.yaml").read_text(encoding="utf-8"))
    d = examine(with_readings(case["visit"], **left_out))
    assert ("low-indoor-airflow" in unparted(d.findings, d.rules)) is alike


@pytest.mark.parametrize(
    ("seen", "word"),
    [
        ({}, "strong"),
        ({"charge changed": "added"}, "fair"),
        ({"blower": "stopped"}, "weak"),
        ({"air filter": "dirty"}, "weak"),
    ],
)
def test_where_something_was_seen_that_must_be_set_right_nothing_wrong_is_weak(seen: dict[str, str], word: str) -> None:
    """However right the readings are; what only happened is nothing to set right."""
    d = examine({**visit(State()), "seen": seen})
    assert (d.faults[0].fault, d.faults[0].strength) == ("nothing-wrong", word)


def test_an_outdoor_coil_with_no_liquid_to_boil_has_no_frost_fault() -> None:
    case = yaml.safe_load((DEMO / "heating-air-in-the-circuit.yaml").read_text(encoding="utf-8"))
    d = examine(with_readings(case["visit"], suction_pressure="3 inHg vacuum"))
    assert d.findings["outdoor coil difference"].words["very high"] > 0.99
    assert d.faults[0].fault != "defrost-fault"
