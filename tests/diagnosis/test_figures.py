"""Every figure of rules/judgement.yaml that decides in `diagnosis`, just inside and just outside; written down once more.

Those about the readings are held in tests/quantities: test_plausibility_limits.py, test_baseline.py, test_quantities.py.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from by_hand import finding, place, rule
from judged import BOOK, JUDGEMENT, judged
from strategies import UNSURE, F, State, visit

from diagnose import examine
from diagnose.diagnosis import amount, charge, costs, good_day
from diagnose.diagnosis.certainty import at_most, much_against
from diagnose.diagnosis.findings import Finding, odd_then
from diagnose.diagnosis.next_checks import _beginning, next_checks
from diagnose.diagnosis.pipeline import name_first_checks
from diagnose.diagnosis.ranking import strength
from diagnose.diagnosis.sensitivity import sensitivity, turning_points, would_change
from diagnose.diagnosis.value_of_information import Forecast, Likelihoods, Outcome, expected_cost, forecast, hours
from diagnose.diagnosis.verdict import ChargeReading, ChargeVerdict
from diagnose.properties import targets
from diagnose.properties.targets import Target
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.uncertainty import Estimate, estimate
from diagnose.visit import Machine, visit_from
from diagnose.visit.reason import Reason

DEMO = Path(__file__).parents[2] / "cases" / "demo"
GOOD = visit(State())


@pytest.mark.parametrize(
    ("share", "word"),
    [(0.85, "strong"), (0.849, "fair"), (0.4, "fair"), (0.399, "weak"), (0.1, "weak"), (0.099, "unlikely")],
)
def test_the_words_for_a_share(share: float, word: str) -> None:
    assert strength(share, JUDGEMENT.strengths) == word


@pytest.mark.parametrize(
    ("points", "many", "told"),
    [(-2.5, 1, True), (-2.49, 1, False), (-0.75, 4, True), (-0.69, 4, False), (-0.5, 10, True), (-0.5, 9, False),
     (-0.25, 99, False)],
)  # fmt: skip
def test_two_points_and_a_half_against_the_leader_contradict_it_unless_they_are_scraps(
    points: float, many: int, told: bool
) -> None:
    d = examine(GOOD)
    leader = place("low-charge", 0.9, *[rule(points, **{f"x{i}": "high"}) for i in range(many)])
    assert bool(much_against(leader, d.rules)) is told
    together = place("low-charge", 0.9, *[rule(points / 4, **{f"x{i}": "high"}) for i in range(many) for _ in range(4)])
    assert bool(much_against(together, d.rules)) is told, "rules on the same findings are one"


@pytest.mark.parametrize(("weight", "word"), [(0.3, "weak"), (0.299, "fair"), (0.1, "fair"), (0.099, None)])
def test_the_nearer_to_where_nothing_can_be_judged_the_less_firmly_the_leader_is_named(
    weight: float, word: Any
) -> None:
    d = replace(examine(visit(State(), extra=True)), doubts=(Doubt(Reason("a"), holds_visit=True, weight=weight),))
    assert at_most(d).get(d.ranked[0].fault) == word


@pytest.mark.parametrize(("counts", "asked"), [(0.5, False), (0.49, True)])
def test_a_finding_that_hardly_counts_is_asked_for_again(counts: float, asked: bool) -> None:
    d = examine(UNSURE)
    known = Finding("subcooling", {"normal": counts})
    checks = next_checks(replace(d, findings={**d.findings, "subcooling": known}))
    assert ("subcooling" in {name for check in checks for name in check.gives}) is asked


def test_only_evidence_worth_a_twentieth_of_a_point_is_told_on_its_side() -> None:
    found = place("low-charge", 0.9, rule(0.05), rule(0.049), rule(-0.05), rule(-0.049))
    assert [e.weight for e in found.supporting] == [0.05]
    assert [e.weight for e in found.opposing] == [-0.05]


def test_a_check_that_weighty_evidence_of_the_leader_names_begins_the_repair() -> None:
    check = "find-the-leak"
    for points, named in ((0.51, {check: 0.51 * 0.9}), (0.5, {})):
        speaking = rule(points)
        speaking.entry = SimpleNamespace(check=check)
        silent = rule(3)
        silent.entry = SimpleNamespace(check=None)
        leader = place("low-charge", 0.9, speaking, silent)
        other = rule(3)
        other.entry = SimpleNamespace(check=check)  # which says nothing of how the leader's repair begins
        assert _beginning((leader, place("overcharge", 0.1, other)), {}, BOOK) == pytest.approx(named)


def test_a_look_that_was_taken_already_begins_no_repair() -> None:
    speaking = rule(2)
    speaking.entry = SimpleNamespace(check="look-at-the-air-side")
    leader = (place("low-indoor-airflow", 1.0, speaking),)
    seen = {name: finding(name, "normal") for name in BOOK.checks["look-at-the-air-side"].gives}
    assert _beginning(leader, seen, BOOK) == {}
    assert _beginning(leader, dict(list(seen.items())[1:]), BOOK) == {"look-at-the-air-side": 2.0}


# -- what to do next ---------------------------------------------------------------------------------------------------


def test_four_checks_are_listed_of_more() -> None:
    assert len(next_checks(examine(DEMO / "only-two-readings.yaml"))) == 4
    assert len(next_checks(examine(DEMO / "only-two-readings.yaml", judged(next_checks__listed=20)))) > 4


def test_a_fault_shows_what_it_makes_three_times_in_four_and_what_others_make_one_time_in_twenty() -> None:
    found = Likelihoods(BOOK, {"metering": "TXV"}).of("subcooling")
    assert sum(found[word]["overcharge"] for word in ("high", "very high")) == pytest.approx(0.75)
    assert sum(found[word]["overcharge"] for word in ("low", "very low")) == pytest.approx(0.05)


def test_a_point_is_worth_less_than_one_where_it_is_asked_whether_to_go_on() -> None:
    """Three points are odds of 8; by 0.85 they are odds of 5.86. The finding tells the two apart for certain."""
    asking: Any = SimpleNamespace(
        scores=lambda words, _=(): {"low-charge": 3.0, "overcharge": 0.0}, speaks=lambda _: {"x"}
    )
    words = {"one": {"low-charge": 1.0, "overcharge": 0.0}, "other": {"low-charge": 0.0, "overcharge": 1.0}}
    likely: Any = SimpleNamespace(of=lambda _: words)
    book: Any = SimpleNamespace(
        findings={"x": SimpleNamespace(words=("one", "other"))},
        judgement=JUDGEMENT,
        faults=BOOK.faults,
        charge=BOOK.charge,
    )
    found = forecast(["x"], asking, likely, book).outcomes[0]
    assert found.chance == pytest.approx(2**2.55 / (1 + 2**2.55))


def test_two_minutes_of_handling_are_on_top_of_each_check() -> None:
    paying = [check for check in next_checks(examine(UNSURE)) if check.worth > 0]
    assert paying
    for check in paying:
        assert check.saves - check.worth == pytest.approx((check.minutes + 2) / 60)


def test_a_wrong_call_costs_another_trip_of_an_hour_and_three_hours_where_nothing_is_said() -> None:
    one, other = BOOK.faults["low-charge"], BOOK.faults["overcharge"]
    silent = replace(BOOK, faults={**BOOK.faults, "overcharge": other._replace(wrong_call=None)})
    assert hours("overcharge", silent) == 3.0
    assert expected_cost({"low-charge": 0.5, "overcharge": 0.5}, silent) == (one.wrong_call.hours + 1 + 3 + 1) / 4


@pytest.mark.parametrize(("chance", "first"), [(0.02, "ask-the-history"), (0.019, "measure-subcooling")])
def test_an_outcome_rarer_than_one_in_fifty_puts_no_check_before_the_others(
    chance: float, first: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: measuring is worth twice as much but can only confirm the leader; the history may put another one first.

    Looking is quicker than both and worth less, which changes nothing.
    """
    d = examine(UNSURE)
    leader = d.ranked[0].fault
    saved = {
        "measure-subcooling": (10.0, 2.0, leader),
        "ask-the-history": (5.0, 1.0, "weak-compressor"),
        "look-at-the-air-side": (3.0, 0.5, leader),
    }
    gives = {BOOK.checks[check].gives: told for check, (_, *told) in saved.items()}
    timed = {check: BOOK.checks[check]._replace(minutes=minutes) for check, (minutes, *_) in saved.items()}
    d = replace(d, rules=replace(BOOK, checks={**BOOK.checks, **timed}), first=(), always=())

    def forecast(findings: Any, *_: Any) -> Forecast:
        hours, fault = gives.get(tuple(findings), (0.0, leader))
        sure = Outcome({}, 1.0 - chance, leader, 0.5, "weak")
        return Forecast((sure, Outcome({}, chance, fault, 0.5, "weak")), hours)

    monkeypatch.setattr("diagnose.diagnosis.next_checks.forecast", forecast)
    paying = [check for check in next_checks(d) if check.worth > 0]
    assert paying[0].check == first


@pytest.mark.parametrize(("minutes", "first"), [(59.9, True), (60.0, False)])
def test_a_check_of_an_hour_that_only_the_charge_waits_for_is_not_begun_with(minutes: float, first: bool) -> None:
    d = examine(visit(State(outdoor=48, condensing=66, metering="TXV")))
    quicker = BOOK.checks["weigh-the-charge"]._replace(minutes=minutes)
    d = replace(d, rules=replace(BOOK, checks={**BOOK.checks, "weigh-the-charge": quicker}))
    assert ("weigh-the-charge" in name_first_checks(d).first) is first


# -- which reading would change the answer -----------------------------------------------------------------------------


def test_readings_are_moved_by_three_limits_of_error() -> None:
    """Here one reading turns the answer just before 3 limits of error, another a little later."""
    d = examine(DEMO / "weak-compressor-txv-after.yaml")
    assert 2.8 < max(t.times_error for t in sensitivity(d)) <= 3.0
    assert any(3.0 < t.times_error < 3.15 for t in sensitivity(d, 3.2))


@pytest.mark.parametrize(("turns", "close"), [(1.99, True), (2.01, False)])
def test_a_turn_within_two_limits_of_error_is_close(turns: float, close: bool) -> None:
    visited = examine(GOOD).visit
    was = visited.last.readings["suction line temperature"]

    def leading(v: Any, name: str) -> str:
        by = (v.last.readings[name].value - was.value) / was.error
        return "another" if name == was.name and by > turns else "here"

    (found,) = turning_points(visited, "here", leading, 3.0, JUDGEMENT.sensitivity.close)
    assert found.close is close
    assert JUDGEMENT.sensitivity.close == 2.0


def test_no_reading_is_moved_where_the_first_fault_has_95_percent() -> None:
    d = examine(DEMO / "metering-underfeeding-orifice.yaml")
    for share, sought in ((0.949, True), (0.95, False)):
        ranked = (d.ranked[0]._replace(share=share), *d.ranked[1:])
        assert bool(would_change(replace(d, ranked=ranked))) is sought


# -- the good day ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("share", "good"), [(0.05, True), (0.0499, False)])
def test_a_good_day_needs_this_share_of_nothing_wrong(share: float, good: bool) -> None:
    d = examine(GOOD)
    ranked = tuple(r._replace(share=share if r.fault == "nothing-wrong" else 0.0) for r in d.ranked)
    assert (good_day._was_not_right(replace(d, ranked=ranked)) is None) is good


def test_a_good_day_on_which_another_fault_came_first_is_told_to_look_faulty() -> None:
    d = examine(GOOD)
    assert good_day._looks_faulty(d) == ()
    faulty = replace(d, ranked=(place("low-charge", 0.6), place("nothing-wrong", 0.4)))
    assert [reason.figures["fault"] for reason in good_day._looks_faulty(faulty)] == ["low-charge"]


def test_right_on_a_good_day_is_what_a_good_day_expects_also_of_a_share() -> None:
    """A share of one of the airflow, and no difference of superheat."""
    for name, quantity, right, wrong in (
        ("airflow per ton", "airflow per ton", "normal", "low"),
        ("superheat", "superheat", "normal", "low"),
    ):
        assert odd_then({name: Finding(name, {right: 1.0})}, BOOK) == frozenset()
        assert odd_then({name: Finding(name, {wrong: 1.0})}, BOOK) == {quantity}


@pytest.mark.parametrize(("chance", "odd"), [(0.1, frozenset()), (0.099, frozenset({"superheat"}))])
def test_a_figure_of_a_good_day_must_be_right_with_this_chance(chance: float, odd: frozenset[str]) -> None:
    words: Mapping[str, float] = {"normal": chance, "high": 1 - chance}
    assert odd_then({"superheat": Finding("superheat", words)}, BOOK) == odd


# -- what a fault costs ------------------------------------------------------------------------------------------------

AIR = {"return air dry bulb": 299.8, "outdoor air temperature": 308.2}
BY = ChargeReading("superheat", 10.0, 0.5, 5.0, 1.0)


def priced(percent: tuple[int, int], metering: str, share: float = 0.5) -> Any:
    verdict = ChargeVerdict("low", BY, 0.9, (), percent)
    ranked = (place("low-charge", share),)
    return costs.costs(ranked, verdict, {}, {}, Machine(metering=metering), AIR, BOOK)


@pytest.mark.parametrize(("share", "told"), [(0.4, True), (0.399, False)])
def test_a_leader_has_a_price_from_this_share(share: float, told: bool) -> None:
    assert (priced((-20, -20), "TXV", share) is not None) is told


@pytest.mark.parametrize(("metering", "more"), [("TXV", 1.5), ("fixed orifice", 2.0)])
def test_machines_and_orifices_differ_by_this_much(metering: str, more: float) -> None:
    capacity, _ = costs.charge_effect(-0.25, AIR["return air dry bulb"], AIR["outdoor air temperature"])
    low, high = priced((-25, -25), metering).capacity
    lost = 100 * (1 - capacity)
    assert low == int(lost / 1.5)
    assert high == int(lost * more) + 1


def test_nobody_tells_more_than_60_percent_from_readings() -> None:
    assert costs._span([0.5], JUDGEMENT.costs, 2.0)[1] == 60
    assert costs._span([0.29], JUDGEMENT.costs, 2.0)[1] == 58


def figure(name: str, value: float, target: float | None = None, sigma: float = 0.0) -> Estimate:
    expected = None if target is None else Target(target, 0.0, "test", "typical")
    off = None if target is None else value - target
    return Estimate(name, "difference", value, sigma, expected, off, sigma, (), {}, "", "test")


def test_the_rated_airflow_is_400_cfm_a_ton_to_12_percent_and_a_split_tells_it_to_15_percent_more() -> None:
    cfm_ton = 0.3048**3 / 60 / 3516.8528
    found: Any = costs._of_airflow("f", {"airflow per ton": figure("a", 300 * cfm_ton)}, Machine(), JUDGEMENT.costs)
    assert (found.size.low, found.size.high) == pytest.approx((0.88 * 0.75, 1.12 * 0.75))
    found = costs._of_airflow("f", {"air temperature split": figure("s", 14.0, 10.0)}, Machine(), JUDGEMENT.costs)
    middle = (found.size.low + found.size.high) / 2
    assert found.size.high == pytest.approx((1 + math.hypot(0.15, 0.12)) * middle)


def test_a_blower_that_moves_less_air_draws_less() -> None:
    """At 65 % of the air the curves alone lose 4 to 5 % of the efficiency; the blower gives most of it back."""
    cfm_ton = 0.3048**3 / 60 / 3516.8528
    flow = {"airflow per ton": figure("a", 0.65 * 400 * cfm_ton)}
    with_it, without = (
        costs._of_airflow("f", flow, Machine(), replace(JUDGEMENT.costs, blower=share)) for share in (0.13, 0.0)
    )
    assert with_it.efficiency == (0, 9)  # type: ignore[union-attr]
    assert without.efficiency == (2, 9)  # type: ignore[union-attr]


def test_an_overcharge_may_cost_4_percent_of_efficiency_for_every_10_of_excess() -> None:
    """One machine with an expansion valve lost 8 % at 20 % too much (Farzad 1990); the pooled correlation says 1 %."""
    verdict = ChargeVerdict("high", BY._replace(method="subcooling"), 0.9, (), (10, 20))
    found: Any = costs.costs((place("overcharge", 0.5),), verdict, {}, {}, Machine(metering="TXV"), AIR, BOOK)
    assert found.efficiency[0] <= 1
    assert found.efficiency[1] == 8


# -- how far the charge is off -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("verdict", "subcooling", "percent"), [("low", 3.0, (-60, -2)), ("high", 9.0, (2, 60))])
def test_the_charge_is_said_to_be_off_by_2_to_60_percent(
    verdict: Any, subcooling: float, percent: tuple[int, int]
) -> None:
    """Measured so badly that the range would go from nearly empty to twice too much."""
    poor = {"subcooling": figure("subcooling", subcooling, 6.0, sigma=60.0)}
    assert amount.how_much(verdict, Machine(metering="TXV"), poor, {}, BOOK, at_least=False) == percent


@pytest.mark.parametrize(("fraction", "percent"), [(0.049, (-4, -2)), (0.051, None)])
def test_a_range_of_less_than_2_percent_is_none(fraction: float, percent: tuple[int, int] | None) -> None:
    """A verdict "low" of a machine that rather has too much: from 10 % less than that to 2 % less than right."""
    well = {"subcooling": figure("subcooling", 6.0 + fraction / targets.charge_slopes(6.0)[0], 6.0)}
    assert amount.how_much("low", Machine(metering="TXV"), well, {}, BOOK, at_least=False) == percent


@pytest.mark.parametrize(
    ("short", "hot", "size"), [(4.0, 0.0, 20.0), (0.0, 10.0, 20.0), (4.0, 5.0, 23.0), (4.0, 10.0, 26.0)]
)
def test_of_two_signs_on_an_orifice_three_tenths_of_the_smaller_count_and_machines_differ_by_a_fifth(
    short: float, hot: float, size: float
) -> None:
    """K; 4 K of subcooling are a fifth of the charge where 3.65 K are its whole right subcooling (the formula's constants)."""
    read = {"subcooling": figure("subcooling", 3.65 - short, 3.65), "superheat": figure("superheat", 7 + hot, 7.0)}
    told = amount.how_much("low", Machine(metering="fixed orifice"), read, {}, BOOK, at_least=False)
    assert told == (round(-size * 1.2 - 10), round(-size / 1.2 + 10))


@pytest.mark.parametrize(("normal", "told"), [(0.25, True), (0.251, False)])
def test_subcooling_is_said_not_to_fit_a_right_charge_where_it_is_normal_with_a_chance_of_a_quarter(
    normal: float, told: bool
) -> None:
    words = {"subcooling": Finding("subcooling", {"normal": normal, "high": 1 - normal})}
    found = charge._caveats("right", "superheat", visit_from(GOOD), words, [], BOOK)
    assert ("subcooling-does-not-fit" in [reason.code for reason in found]) is told


@pytest.mark.parametrize(
    ("method", "off", "side"),
    [("superheat", -0.21, "high"), ("superheat", 0.21, "low"), ("subcooling", 0.21, "high"), ("superheat", 0.19, None)],
)
def test_a_right_charge_stands_on_one_side_from_a_fifth_of_what_passes(
    method: Any, off: float, side: str | None
) -> None:
    """Little superheat is much charge."""
    by = BY._replace(method=method, tolerance=1.0)
    read = Finding(method, {"right": 1.0}, figure(method, 5.0 + off, 5.0))
    assert charge._verdict_reason("right", read, by, BOOK).figures["side"] == side
    unsure = read._replace(estimate=figure(method, 5.0 + off, 5.0, sigma=0.22))
    assert charge._verdict_reason("right", unsure, by, BOOK).figures["side"] is None


@pytest.mark.parametrize(("without", "held"), [(17.9, False), (18.1, True)])
def test_without_a_class_air_is_suspected_where_18_degrees_stand_over_the_air_without_the_excess(
    without: float, held: bool
) -> None:
    """15 °F of subcooling on a usual 10: the condenser stands 5 °F higher than without them."""
    scale = next(scale for scale in BOOK.findings["condensing over ambient"].scales if scale.target == "assumed")
    over = Finding(
        "condensing over ambient", {"normal": 1.0}, figure("condensing over ambient", (without + 5) * F), scale
    )
    words = {over.name: over, "subcooling": Finding("subcooling", {"high": 1.0}, figure("subcooling", 15 * F, 10 * F))}
    assert bool(charge._air_reads_the_same("subcooling", words, False, BOOK)) is held
    assert charge._air_reads_the_same("subcooling", {**words, charge.AT_REST: over}, False, BOOK) == []


# -- rounds ------------------------------------------------------------------------------------------------------------


def test_a_probe_repeats_itself_within_a_fifth_of_a_degree_and_a_gauge_within_2_in_1000() -> None:
    two = {
        **GOOD,
        "readings": [{**GOOD["readings"], "minutes running": 15}, {**GOOD["readings"], "minutes running": 20}],
    }
    found = estimate(visit_from(two), settling=JUDGEMENT.steadiness)
    assert found["superheat drift"].sigma == pytest.approx(2**0.5 * 0.2 * F / 2)
    assert found["suction pressure drift"].sigma == pytest.approx(2**0.5 * 0.002 / 2)
    assert not any("drift" in name for name in estimate(visit_from(two)))
