"""What a check may find, and what knowing it is worth; asking "and if …?" of the rule book."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, states, visit
from work import examples

from diagnose import examine, load_rules
from diagnose.diagnosis.ranking import rank
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.diagnosis.value_of_information import chances, expected_cost, forecast, hours
from diagnose.rulebook import Rulebook
from diagnose.rulebook.matcher import matcher_for
from diagnose.shipped import shipped
from diagnose.yamlfile import InputProblems

RESTRICTED = visit(State(superheat=30, subcooling=18, evaporating=34, split=14))


def posteriors(book: Rulebook, data: object) -> Posteriors:
    d = examine(data, book)
    return Posteriors(book, d.applying, d.findings)


# -- and if …? -----------------------------------------------------------------------------------------------------------


@examples(40)
@given(states(), st.data())
def test_a_posterior_is_the_same_as_ranking_the_whole_again(book, state, data):
    """The oracle is the pipeline's own way, with every rule matched and every fault scored anew."""
    d = examine(visit(state), book)
    words = {
        name: data.draw(st.sampled_from(book.findings[name].words), label=name)
        for name in data.draw(st.lists(st.sampled_from(list(book.findings)), min_size=1, max_size=3, unique=True))
    }
    known = {name: finding.words for name, finding in d.findings.items()}
    whole = matcher_for(d.applying.patterns).run(known | {name: {word: 1.0} for name, word in words.items()})
    wanted = {r.fault: r.share for r in rank(book, whole.firings)}
    assert Posteriors(book, d.applying, d.findings).shares(words) == pytest.approx(wanted, abs=1e-9)


def test_the_posterior_of_nothing_is_the_ranking(book):
    d = examine(RESTRICTED, book)
    found = Posteriors(book, d.applying, d.findings).shares({})
    assert found == pytest.approx({r.fault: r.share for r in d.ranked})


def test_a_finding_speaks_of_faults_also_through_a_state(book):
    found = posteriors(book, {"machine": {"metering": "TXV", "refrigerant": "R-410A"}})
    assert "liquid-line-restriction" in found.speaks(["drier temperature drop"])
    assert not found.speaks(["running time"])


# -- how likely the outcomes are -------------------------------------------------------------------------------------------

MIX = st.lists(st.floats(0.001, 1.0), min_size=3, max_size=3).map(lambda xs: [x / sum(xs) for x in xs])


@given(MIX, st.lists(MIX, min_size=2, max_size=6))
def test_outcomes_average_back_to_today(now, after):
    """The law of total probability, whatever the rules say after each word."""
    names = ("a", "b", "c")
    today = dict(zip(names, now, strict=True))
    p, then = chances(today, [dict(zip(names, one, strict=True)) for one in after])
    assert sum(p) == pytest.approx(1.0)
    assert all(q >= 0 for q in p)
    for name in names:
        assert sum(q * shares[name] for q, shares in zip(p, then, strict=True)) == pytest.approx(today[name])


def test_where_the_rules_agree_with_themselves_bayes_gives_what_they_say():
    """Two faults, two words, likelihoods 0.9 and 0.2: the shares after each word follow from Bayes' theorem by hand."""
    today = {"a": 0.4, "b": 0.6}
    chance = 0.4 * 0.9 + 0.6 * 0.2
    yes = {"a": 0.4 * 0.9 / chance, "b": 0.6 * 0.2 / chance}
    no = {"a": 0.4 * 0.1 / (1 - chance), "b": 0.6 * 0.8 / (1 - chance)}
    p, then = chances(today, [yes, no])
    assert p[0] == pytest.approx(chance, abs=0.01)  # the lean towards equal chances moves it a little
    assert then[0]["a"] == pytest.approx(yes["a"], abs=0.02)


def test_a_word_that_tells_nothing_saves_nothing(book):
    today = {"low-charge": 0.5, "overcharge": 0.5}
    p, then = chances(today, [today, today])
    after = sum(q * expected_cost(shares, book) for q, shares in zip(p, then, strict=True))
    assert after == pytest.approx(expected_cost(today, book))


@examples(25)
@given(states())
def test_no_check_makes_things_worse_and_its_outcomes_are_all_there_are(book, state):
    d = examine(visit(state), book)
    asking = Posteriors(book, d.applying, d.findings)
    before = expected_cost(asking.shares({}), book)
    for check in book.checks.values():
        found = forecast([g for g in check.gives if g not in d.findings], asking, book)
        assert 0 <= found.saved <= before + 1e-9
        if found.outcomes:
            assert sum(o.chance for o in found.outcomes) == pytest.approx(1.0)
            assert list(found.outcomes) == sorted(found.outcomes, key=lambda o: -o.chance)
            sizes = [len(book.findings[name].words) for name in found.outcomes[0].words]
            assert len(found.outcomes) == math.prod(sizes)


def test_an_outcome_is_what_examining_it_says(book):
    """A dirty outdoor coil, supposed and then seen."""
    found = posteriors(book, RESTRICTED).shares({"outdoor coil": "dirty"})
    seen = examine(RESTRICTED | {"seen": {"outdoor coil": "dirty"}}, book)
    assert found == pytest.approx({r.fault: r.share for r in seen.ranked})


# -- what a wrong call costs -----------------------------------------------------------------------------------------------


def test_certainty_costs_nothing_and_doubt_between_dear_faults_most(book):
    def between(one: str, other: str) -> float:
        return expected_cost({one: 0.5, other: 0.5}, book)

    assert expected_cost({"low-charge": 1.0, "overcharge": 0.0}, book) == 0.0
    assert between("weak-compressor", "low-charge") > between("low-indoor-airflow", "low-outdoor-airflow")
    assert between("low-charge", "overcharge") == pytest.approx(
        (hours("low-charge", book) + hours("overcharge", book)) / 4 + book.judgement.next_checks.come_back / 3600 / 2
    )


def test_touching_the_charge_or_the_circuit_for_nothing_is_dearer_than_cleaning(book):
    cleaning = max(hours("low-indoor-airflow", book), hours("low-outdoor-airflow", book))
    for fault in book.faults:
        if "airflow" not in fault:
            assert hours(fault, book) > cleaning, fault


@pytest.mark.parametrize(
    ("was", "now", "says"),
    [
        ("hours: 5,", "hours: 500,", "500 hours cannot be right"),
        ("hours: 5,", "hours: true,", "`true` is not a number"),
        ("hours: 5, why:", "hours: 5, y:", "`why` is missing"),
    ],
)
def test_a_wrong_cost_is_told_where_it_stands(tmp_path: Path, was: str, now: str, says: str) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(shipped("rules"), folder)
    file = folder / "faults" / "low-charge.yaml"
    text = file.read_text(encoding="utf-8")
    assert f"wrong_call: {{{was}" in text
    file.write_text(text.replace(f"wrong_call: {{{was}", f"wrong_call: {{{now}"), encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        load_rules(folder)
    assert any(says in problem.what for problem in caught.value.problems)
    for problem in caught.value.problems:
        assert "faults/low-charge.yaml" in problem.file
        assert problem.line > 1
        assert problem.fix
