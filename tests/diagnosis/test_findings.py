"""Numbers become words, once."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import F, State, states, visit, with_machine, with_readings

from diagnose import VisitError, examine
from diagnose.diagnosis.findings import SILENT, Finding, chances, find, measured, probabilities
from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities.uncertainty import Estimate, GoodDay, estimate
from diagnose.rulebook.entries import FindingEntry, Unfit, WordScale
from diagnose.visit import visit_from
from diagnose.visit.trade_words import SEEN, said_as

FIVE = ["very low", "low", "normal", "high", "very high"]
LIMITS = [-9.0, -5.0, 5.0, 12.0]


def findings(data, book):
    parsed = visit_from(data)
    return find(parsed, estimate(parsed), book)


@given(st.floats(-1e6, 1e6), st.floats(0, 1e6))
def test_probabilities_are_probabilities(value, sigma):
    found = probabilities(FIVE, LIMITS, value, sigma)
    assert math.isclose(sum(found.values()), 1.0)
    assert all(0 < p <= 1 for p in found.values())
    assert list(found) == [word for word in FIVE if word in found]


def test_the_normal_distribution():
    """Half on a limit; 84.1 % within a standard deviation on one side (any table of the normal distribution)."""
    assert probabilities(["low", "high"], [0.0], 0.0, 1.0) == pytest.approx({"low": 0.5, "high": 0.5})
    found = probabilities(["low", "high"], [0.0], 1.0, 1.0)
    assert found["high"] == pytest.approx((0.841345 - SILENT) / (1 - 2 * SILENT), abs=1e-5)


@pytest.mark.parametrize(("chance", "said"), [(0.0101, True), (0.0099, False)])
def test_a_word_less_likely_than_one_in_a_hundred_is_not_said(chance, said):
    above = NormalDist().inv_cdf(1 - chance)
    assert ("low" in probabilities(["low", "high"], [0.0], above, 1.0)) is said


def test_no_rounding_makes_a_finding_count_as_more_than_all():
    assert Finding("x", {"low": 0.6, "high": 0.6}).counts == 1.0


# -- towards the edge of a table, and of a formula: by hand, limits at -1 and 1 ----------------------------------------------


def by(how: str, target: str | None = None) -> WordScale:
    return WordScale((), target, how, "difference", (-1.0, 1.0), None, (), None, (), "")


def entry(*scales: WordScale, words=("low", "normal", "high")) -> FindingEntry:
    return FindingEntry("x", "", "x", False, None, 0.0, words, scales)


def figure(value: float, target: Target | NoTarget | None = None, **more) -> Estimate:
    return Estimate("x", "difference", value, 0.0, target, None, 0.0, (), {}, "", "test", **more)


NEAR = Target(0.0, 0.0, "test", "typical")
BEYOND = NEAR._replace(inside=0.75, beyond=Target(5.0, 0.0, "test", "typical"))  # there it is low, here it is high
NOTHING_BEYOND = NEAR._replace(inside=0.75, beyond=NoTarget("outside", "superheat"))


@pytest.mark.parametrize(
    ("estimate", "words"),
    [
        (figure(3.0, NEAR), {"high": 1.0}),
        (figure(3.0, NEAR, inside=0.5), {"high": 0.5}),
        (figure(3.0, BEYOND), {"high": 0.75, "low": 0.25}),
        (figure(3.0, BEYOND, inside=0.5), {"high": 0.375, "low": 0.125}),
        (figure(3.0, NOTHING_BEYOND), {"high": 0.75}),
        (figure(3.0, NoTarget("missing", "superheat")), None),
        (figure(3.0, NEAR, inside=0.0), None),
    ],
)
def test_towards_an_edge_what_is_said_beyond_it_counts_as_well_and_beyond_its_domain_nothing(estimate, words):
    found = measured(entry(by("difference", "typical")), estimate, {})
    assert (None if found is None else dict(found.words)) == (None if words is None else pytest.approx(words))


def test_at_an_edge_the_larger_part_says_what_it_was_judged_by():
    for inside, side in ((0.75, 0.0), (0.25, 5.0)):
        found = measured(entry(by("difference", "typical")), figure(3.0, BEYOND._replace(inside=inside)), {})
        assert found.estimate.target.value == side


def test_whether_there_is_a_target_is_no_matter_of_degree():
    found = measured(entry(by("target"), words=("found", "outside")), figure(3.0, BEYOND, inside=0.5), {})
    assert found.words == {"found": 1.0}


GOOD_DAY = GoodDay(Target(10.0, 0.5, "test", "baseline"), 3.0, 0.0)


@pytest.mark.parametrize(
    ("scale", "estimate", "word", "spread"),
    [
        (by("difference", target="baseline"), figure(13.0, NEAR, good_day=GOOD_DAY), "high", 0.5),
        (by("share", target="baseline"), figure(0.0, NEAR, good_day=GOOD_DAY), "normal", 0.05),
        (by("share", "typical"), figure(0.4, NEAR._replace(value=0.5, spread=0.1)), "normal", 0.2),  # 0.8 of it
        (by("value"), figure(-2.0), "low", 0.0),
        (
            by("nearest", "none"),
            figure(8.0, NoTarget("outside", "superheat", nearest=NEAR._replace(value=9.5, spread=0.3))),
            "low",
            0.3,
        ),
    ],
)
def test_what_the_limits_are_compared_with(scale, estimate, word, spread):
    found = measured(entry(scale), estimate, {})
    assert (found.word, found.spread) == (word, pytest.approx(spread))


def test_limits_stand_further_out_by_a_good_day_that_says_less():
    """By hand: 0.3 is half of 0.6, so as a share e^0.5 away from it."""
    day = GOOD_DAY._replace(expected=NEAR._replace(value=0.6), least=0.3)
    share = measured(entry(by("share", "baseline")._replace(limits=(0.8, 1.25))), figure(0.6, good_day=day), {})
    assert share.limits == pytest.approx((math.exp(-0.5), math.exp(0.5)))
    difference = by("difference", "baseline")._replace(limits=(-0.1, 0.2))
    assert measured(entry(difference), figure(0.6, good_day=day), {}).limits == pytest.approx((-0.3, 0.6))


def test_the_machines_own_good_day_comes_first_wherever_its_limits_are_written():
    both = entry(by("value"), by("difference", target="baseline"))
    assert measured(both, figure(13.0, NEAR, good_day=GOOD_DAY), {}).spread == 0.5
    assert measured(both, figure(13.0, NEAR), {}).spread == 0.0


@pytest.mark.parametrize(
    ("scale", "estimate"),
    [
        (by("difference", target="baseline"), figure(13.0, NEAR)),  # no good day
        (by("share", target="baseline"), figure(1.0, good_day=GOOD_DAY._replace(expected=NEAR._replace(value=0.0)))),
        (by("share", "typical"), figure(1.0, NEAR._replace(value=0.0))),  # a share of nothing
        (by("nearest", "none"), figure(1.0, NEAR)),
        (by("nearest", "none"), figure(1.0, NoTarget("outside", "superheat"))),
    ],
)
def test_where_there_is_nothing_to_compare_with_nothing_is_said(scale, estimate):
    assert measured(entry(scale), estimate, {}) is None


def test_without_uncertainty_a_value_on_a_limit_belongs_to_the_upper_word():
    assert probabilities(["low", "high"], [0.0], 0.0, 0.0) == {"high": 1.0}
    assert probabilities(["low", "high"], [0.0], -1e-12, 0.0) == {"low": 1.0}
    with np.errstate(all="ignore"):  # as where columns are worked out
        low, high = chances([0.0], np.array([0.0, -1e-12, 0.0]), np.array([0.0, 0.0, 1.0]))
    assert (low.tolist(), high.tolist()) == ([0.0, 1.0, 0.5], [1.0, 0.0, 0.5])


@given(st.floats(-30, 30), st.floats(0.05, 5))
def test_a_small_step_moves_no_word_by_much(value, sigma):
    before, after = (probabilities(FIVE, LIMITS, v, sigma) for v in (value, value + 1e-4 * sigma))
    for word in FIVE:
        assert abs(before.get(word, 0) - after.get(word, 0)) < 1e-3


@given(st.floats(-30, 30), st.floats(0.05, 20), st.floats(0, 10))
def test_a_larger_value_never_makes_lower_words_likelier(value, sigma, by):
    before, after = (probabilities(FIVE, LIMITS, v, sigma) for v in (value, value + by))
    for n in range(1, 5):
        chance = [sum(p for word, p in found.items() if word in FIVE[:n]) for found in (before, after)]
        assert chance[1] <= chance[0] + 0.02  # silencing shares out up to a hundredth a word


@given(states())
def test_every_finding_of_every_visit_sums_to_one(book, state):
    for finding in findings(visit(state, extra=True), book).values():
        assert sum(finding.words.values()) == pytest.approx(finding.counts)
        assert 0.0 < finding.counts <= 1.0
        assert all(0 <= p <= 1 for p in finding.words.values())
        assert finding.word in book.findings[finding.name].words


def test_an_orifice_is_judged_by_its_target_and_a_valve_by_the_range(book):
    orifice = findings(visit(State(superheat=22)), book)["superheat"]
    valve = findings(visit(State(superheat=22, metering="TXV")), book)["superheat"]
    assert orifice.word == "high"
    assert orifice.scale.by == "difference"
    assert valve.word == "normal"  # 4 to 25 °F passes: RA3-15
    assert valve.scale.by == "value"


def test_the_limits_of_superheat_are_those_of_the_protocol(book):
    """± 5 °F about the target passes: RA3-14."""
    limits = findings(visit(State()), book)["charge by superheat"].limits
    assert [x / F for x in limits] == pytest.approx([-5, 5])
    limits = findings(visit(State(metering="TXV")), book)["charge by subcooling"].limits
    assert [x / F for x in limits] == pytest.approx([-3, 3])  # ± 3 °F about the plate: RA3-15


def test_without_a_plate_the_limits_are_wider(book):
    data = with_machine(visit(State(metering="TXV")), rated_subcooling=None)
    limits = findings(data, book)["charge by subcooling"].limits
    assert [x / F for x in limits] == pytest.approx([-5, 5])  # 5 to 15 °F: college text


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb", "word"),
    [(80, 63, "found"), (105, 58, "blank"), (118, 70, "outside"), (80, None, "missing")],
)
def test_whether_there_is_a_target(book, outdoor, wet_bulb, word):
    data = visit(State(outdoor=outdoor, condensing=outdoor + 17))
    data = with_readings(data, return_air_wet_bulb=None if wet_bulb is None else f"{wet_bulb} F")
    found = findings(data, book)
    assert found["superheat target"].words == {word: 1.0}
    assert ("charge by superheat" in found) == (word == "found")


def test_what_was_not_measured_says_nothing(book):
    found = findings(with_readings(visit(State()), suction_pressure=None), book)
    assert "superheat" not in found
    assert "compression ratio" not in found
    assert "subcooling" in found


def test_things_seen(book):
    found = findings(visit(State()) | {"seen": {"air filter": " Dirty ", "indoor coil ice": None}}, book)
    assert found["air filter"].words == {"dirty": 1.0}
    assert "indoor coil ice" not in found


def test_what_is_seen_is_judged_by_no_limits(book):
    seen = findings(visit(State()) | {"seen": {"air filter": "dirty"}}, book)["air filter"]
    assert (seen.limits, seen.spread, seen.counts) == ((), 0, 1.0)


def test_of_a_visit_that_was_never_written_the_place_of_a_mistake_is_not_told(book):
    with pytest.raises(VisitError) as caught:
        examine(replace(visit_from(visit(State())), seen={"air filtr": "dirty"}, seen_at={}), book)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (0, 0)


def test_things_seen_that_nobody_asks_for(book, tmp_path):
    path = tmp_path / "v.yaml"
    path.write_text("seen:\n  air filtr: dirty\n  indoor coil: drty\n", encoding="utf-8")
    with pytest.raises(VisitError) as caught:
        examine(path)
    first, second = caught.value.problems
    assert (first.line, first.what, first.fix) == (
        2, "seen: `air filtr` is not something this rule book asks for", "Did you mean `air filter`?",
    )  # fmt: skip
    assert (second.line, second.what, second.fix) == (
        3, "seen: `indoor coil: drty` is not known", "Did you mean `dirty`?",
    )  # fmt: skip


def test_every_reading_that_is_worse_measured_makes_the_word_less_sure(book):
    good = findings(visit(State(superheat=20)) | {"instruments": {"pipe clamps": "0.3 F"}}, book)["superheat"]
    bad = findings(visit(State(superheat=20)) | {"instruments": {"pipe clamps": "5 F"}}, book)["superheat"]
    assert max(bad.words.values()) < max(good.words.values())


def test_what_a_technician_calls_it_is_proposed_and_never_guessed(book):
    """Common practice, no source: other names of what is looked at, and other words for what was seen."""
    said = {"evap coil": "dirty", "air filter": "plugged", "outdoor fan": "off", "indoor coil ice": "yes"}
    said["sight glass"] = "foaming"
    with pytest.raises(VisitError) as error:
        examine({"seen": said})
    assert [problem.fix for problem in error.value.problems] == [
        f"Did you mean `{one}`?" for one in ("indoor coil", "dirty", "slow or stopped", "present", "bubbles")
    ]
    assert {*SEEN.values()} <= {*book.seen}
    assert said_as("ok", book.seen["contactor"].words) == "ok"


def test_what_only_rules_with_mistakes_know_is_left_out_and_a_slip_is_told(book):
    """A company's own things seen stop no visit while its rules cannot be used; a slip of the pen stays a slip."""

    def seen(by, **looked):
        return examine(visit(State()) | {"seen": {n.replace("_", " "): word for n, word in looked.items()}}, by).visit

    without = replace(book, unfit=Unfit(("harbour-cooling",), 1, "shipped"))
    found = seen(without, salt_crust="thick", air_filter="dirty")
    assert (found.seen, found.left_out) == ({"air filter": "dirty"}, ("salt crust",))
    with pytest.raises(VisitError, match="Known: "):
        seen(book, salt_crust="thick")
    with pytest.raises(VisitError, match="Did you mean `air filter`"):
        seen(without, air_fliter="dirty")


def test_what_was_seen_under_an_earlier_name_counts_under_todays(book):
    renamed = replace(book, renamed={"finding": {"filter mat": "air filter"}})
    d = examine(visit(State()) | {"seen": {"filter mat": "dirty"}}, renamed)
    assert (d.visit.seen, d.findings["air filter"].word) == ({"air filter": "dirty"}, "dirty")
