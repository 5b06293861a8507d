"""Reasons as data: for, against, not measured, one short."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from strategies import State, states, visit, with_readings
from work import examples

from diagnose import examine
from diagnose.diagnosis.explanations import TOLD

STARVED = visit(State(superheat=25, subcooling=3, condensing=93, split=15))


def fault(found, name):
    return next(f for f in found.faults if f.fault == name)


def test_what_speaks_for_and_against():
    found = examine(STARVED)
    low = fault(found, "low-charge")
    assert low is found.faults[0]
    assert low.supporting
    assert all(s.weight >= TOLD for s in low.supporting)
    assert fault(found, "overcharge").opposing
    assert all(s.weight <= -TOLD for f in found.faults for s in f.opposing)


@examples(80)
@given(states())
def test_what_is_told_adds_up_to_the_score(book, state):
    for told in examine(visit(state, extra=True)).faults:
        silent = TOLD * len(book.evidence(told.fault))
        total = book.faults[told.fault].usual + sum(s.weight for s in told.supporting + told.opposing)
        assert total == pytest.approx(told.score, abs=silent)


@examples(80)
@given(states())
def test_every_text_is_filled_in(state):
    found = examine(visit(state, extra=True))
    texts = [s.text for f in found.faults for s in f.supporting + f.opposing]
    texts += [found.charge.why, *found.not_ready, *found.problems, *(c.text for c in found.cautions)]
    for text in texts:
        assert "{" not in text
        assert "(no " not in text, text
        assert not re.search(r"\bnan\b|\binf\b|None", text), text


def test_texts_carry_the_figures_of_this_visit_and_a_source():
    statement = fault(examine(STARVED), "low-charge").supporting[0]
    assert re.search(r"25\.0 ± \d\.\d °F", statement.text)
    assert statement.source


def test_weightiest_first():
    for f in examine(STARVED).faults:
        weights = [abs(s.weight) for s in f.supporting]
        assert weights == sorted(weights, reverse=True)


def test_what_was_not_measured_is_listed_with_how_to_get_it():
    missing = {m.finding: m for m in fault(examine(STARVED), "low-charge").missing}
    assert "standing pressure" in missing
    assert missing["standing pressure"].ask
    assert missing["standing pressure"].at_stake > 0
    stakes = [m.at_stake for m in missing.values()]
    assert stakes == sorted(stakes, reverse=True)
    assert "superheat" not in missing


def test_states_are_traced_back_to_what_can_be_measured(book):
    found = examine(with_readings(STARVED, suction_line_temperature=None))
    for f in found.faults:
        assert {m.finding for m in f.missing} <= set(book.findings)


def test_measuring_it_takes_it_off_the_list():
    seen = STARVED | {"seen": {"oil stains": "none"}}
    before = {m.finding for m in fault(examine(STARVED), "low-charge").missing}
    after = {m.finding for m in fault(examine(seen), "low-charge").missing}
    assert before - after == {"oil stains"}


def test_rules_that_lack_one_finding(book):
    found = examine(STARVED)
    for f in book.faults:
        for short in found.one_short(f):
            rule = book.by_id[short.rule]
            assert rule.fault == f
            assert short.lacking in rule.findings
            assert short.has is None or short.has not in short.wants
    shorts = found.one_short("low-charge")
    assert [abs(s.points) for s in shorts] == sorted((abs(s.points) for s in shorts), reverse=True)


def test_looks_like_names_faults_of_the_book(book):
    for f in examine(STARVED).faults:
        assert set(f.looks_like) <= set(book.faults)
        assert f.what
