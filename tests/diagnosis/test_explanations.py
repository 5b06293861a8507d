"""Reasons as data: for, against, not measured, one short."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest
from hypothesis import given
from strategies import State, states, visit, with_machine, with_readings
from work import examples

from diagnose import examine
from diagnose.diagnosis.explanations import missing, near_misses
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import TOLD
from diagnose.report.evidence import evidence_text
from diagnose.report.sentences import charge_text, problems, rule_text, said
from diagnose.report.wording import how_to_get

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


@examples(18)
@given(states())
def test_what_is_told_adds_up_to_the_score(book, state):
    for told in examine(visit(state, extra=True)).faults:
        silent = TOLD * len(book.evidence(told.fault))
        total = book.faults[told.fault].usual + sum(s.weight for s in told.supporting + told.opposing)
        assert total == pytest.approx(told.score, abs=silent)


@examples(18)
@given(states())
def test_every_text_is_filled_in(state):
    found = examine(visit(state, extra=True))
    texts = [evidence_text(s, found) for f in found.faults for s in f.supporting + f.opposing]
    texts += [charge_text(found), *(rule_text(found, rule, alarming=True) for rule in found.cautions)]
    texts += [said(found, reason) for reason in (*found.not_ready, *(reason for reason, _ in problems(found)))]
    for text in texts:
        assert "{" not in text
        assert "(no " not in text, text
        assert not re.search(r"\bnan\b|\binf\b|None", text), text


def test_texts_carry_the_figures_of_this_visit_and_a_source():
    found = examine(STARVED)
    evidence = fault(found, "low-charge").supporting[0]
    assert re.search(r"25\.0 ± \d\.\d °F", evidence_text(evidence, found))
    assert evidence.rule.entry.source


def test_weightiest_first():
    for f in examine(STARVED).faults:
        weights = [abs(s.weight) for s in f.supporting]
        assert weights == sorted(weights, reverse=True)


def test_what_was_not_measured_is_listed_with_how_to_get_it(book):
    lacking = {m.finding: m for m in missing(examine(STARVED), "low-charge")}
    assert "standing pressure" in lacking
    assert how_to_get("standing pressure", book)
    assert lacking["standing pressure"].at_stake > 0
    stakes = [m.at_stake for m in lacking.values()]
    assert stakes == sorted(stakes, reverse=True)
    assert "superheat" not in lacking


def test_what_has_no_word_on_this_machine_is_not_lacking():
    """At full load nothing is said of the liquid at part load, and in cooling nothing of a figure of heating."""
    found = examine(with_machine(STARVED, metering="TXV"))
    lacking = {m.finding for f in found.faults for m in missing(found, f.fault)}
    assert "standing pressure" in lacking
    assert not lacking & {"liquid at part load", "condensing over return air", "outdoor coil difference"}


def test_states_are_traced_back_to_what_can_be_measured(book):
    found = examine(with_readings(STARVED, suction_line_temperature=None))
    for f in found.faults:
        assert {m.finding for m in missing(found, f.fault)} <= set(book.findings)


def test_measuring_it_takes_it_off_the_list():
    seen = STARVED | {"seen": {"oil stains": "none"}}
    before = {m.finding for m in missing(examine(STARVED), "low-charge")}
    after = {m.finding for m in missing(examine(seen), "low-charge")}
    assert before - after == {"oil stains"}


def test_rules_that_lack_one_finding(book):
    found = examine(STARVED)
    for f in book.faults:
        for short in near_misses(found, f):
            assert short.rule.fault == f
            assert short.lacking in short.rule.findings
            assert short.has is None or short.has not in short.wants
    shorts = near_misses(found, "low-charge")
    assert shorts
    assert [abs(s.rule.points) for s in shorts] == sorted((abs(s.rule.points) for s in shorts), reverse=True)


# By hand: x was measured high, the state s is concluded from a or b, which were not.
def rule(points: float, fault: str | None = "f", concludes=None, **when: str):
    asked = tuple((name, frozenset({word})) for name, word in when.items())
    return SimpleNamespace(
        id=str(when), fault=fault, points=points, when=asked, either=(), concludes=concludes, findings=tuple(when)
    )


def by_hand(*rules, findings=("x",), fired=()):
    return SimpleNamespace(
        applying=SimpleNamespace(rules=rules),
        visit=examine(STARVED).visit,
        rules=SimpleNamespace(findings=dict.fromkeys("abxyz", SimpleNamespace(seen=True))),
        findings={name: Finding(name, {"high": 0.9, "normal": 0.1}) for name in findings},
        states={"t": {"small": 0.4, "big": 0.6}},
        matched=SimpleNamespace(firings=[SimpleNamespace(rule=each.id) for each in fired]),
    )


def test_a_state_that_is_not_concluded_lacks_what_it_is_concluded_from():
    making = [rule(0.0, None, ("s", "on"), a="high"), rule(0.0, None, ("s", "off"), b="high", x="high")]
    d = by_hand(*making, rule(0.04, s="on"), rule(-3, y="low"), rule(2, y="high"), rule(4, "another", z="high"))
    assert {m.finding: m.at_stake for m in missing(d, "f")} == {"y": 3, "a": 0.04, "b": 0.04}


@pytest.mark.parametrize(
    ("when", "lacking", "has"),
    [({"x": "high", "y": "low"}, "y", None),  # one short, and not measured
     ({"x": "low"}, "x", "high"),  # measured, and another word
     ({"t": "huge"}, "t", "big"),  # a state, and another word
     ({"y": "low"}, None, None),  # all of it unknown is not nearly
     ({"y": "low", "z": "low"}, None, None),
     ({"x": "normal"}, None, None)],  # it has some of that
)  # fmt: skip
def test_a_near_miss_lacks_one_finding_and_has_another_or_another_word(when, lacking, has):
    found = near_misses(by_hand(rule(1, **when)), "f")
    assert [(miss.lacking, miss.has) for miss in found] == ([] if lacking is None else [(lacking, has)])


def test_what_fired_or_speaks_of_another_fault_is_no_near_miss():
    one = rule(1, x="low")
    assert near_misses(by_hand(one, fired=[one]), "f") == ()
    assert near_misses(by_hand(one), "another") == ()


def test_looks_like_names_faults_of_the_book(book):
    for f in book.faults.values():
        assert set(f.looks_like) <= set(book.faults)
        assert f.what
