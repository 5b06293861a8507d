"""Numbers become words, once."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import F, State, states, visit, with_machine, with_readings

from diagnose import VisitError, examine
from diagnose.diagnosis.findings import SILENT, find, probabilities
from diagnose.quantities.uncertainty import estimate
from diagnose.visit import visit_from

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


def test_without_uncertainty_a_value_on_a_limit_belongs_to_the_upper_word():
    assert probabilities(["low", "high"], [0.0], 0.0, 0.0) == {"high": 1.0}
    assert probabilities(["low", "high"], [0.0], -1e-12, 0.0) == {"low": 1.0}


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
    assert orifice.scale is not None
    assert orifice.scale.by == "difference"
    assert valve.word == "normal"  # 4 to 25 °F passes: RA3-15
    assert valve.scale is not None
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
