"""What a check may find, and what knowing it is worth; asking "and if …?" of the rule book."""

from __future__ import annotations

import dataclasses
import math
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import State, states, visit
from work import examples

from diagnose import Diagnosis, examine, load_rules
from diagnose.diagnosis.ranking import rank, shares
from diagnose.diagnosis.suppositions import Posteriors
from diagnose.diagnosis.value_of_information import Forecast, Likelihoods, Outcome, expected_cost, forecast, hours
from diagnose.rulebook import Rulebook, machine_facts
from diagnose.shipped import shipped
from diagnose.yamlfile import InputProblems

RESTRICTED = visit(State(superheat=30, subcooling=18, evaporating=34, split=14))


def posteriors(book: Rulebook, data: object) -> Posteriors:
    d = examine(data, book)
    return Posteriors(d.rules, d.applying, d.findings)


def likelihoods(book: Rulebook, d: Diagnosis) -> Likelihoods:
    return Likelihoods(book, machine_facts(d.visit.machine))


# -- and if …? -----------------------------------------------------------------------------------------------------------


@examples(10)
@given(states(), st.data())
def test_a_posterior_is_the_same_as_ranking_the_whole_again(book, state, data):
    """The oracle is the pipeline's own way, with every rule matched and every fault scored anew."""
    d = examine(visit(state), book)
    words = {
        name: data.draw(st.sampled_from(book.findings[name].words), label=name)
        for name in data.draw(st.lists(st.sampled_from(list(book.findings)), min_size=1, max_size=3, unique=True))
    }
    known = {name: finding.words for name, finding in d.findings.items()}
    whole = d.applying.matcher().run(known | {name: {word: 1.0} for name, word in words.items()})
    wanted = {r.fault: r.share for r in rank(d.rules, whole.firings)}
    assert Posteriors(d.rules, d.applying, d.findings).shares(words) == pytest.approx(wanted, abs=1e-9)


def test_the_posterior_of_nothing_is_the_ranking(book):
    d = examine(RESTRICTED, book)
    found = Posteriors(d.rules, d.applying, d.findings).shares({})
    assert found == pytest.approx({r.fault: r.share for r in d.ranked})


def test_a_finding_speaks_of_faults_also_through_a_state(book):
    found = posteriors(book, {"machine": {"metering": "TXV", "refrigerant": "R-410A"}})
    assert "liquid-line-restriction" in found.speaks(["drier temperature drop"])
    assert not found.speaks(["running time"])


# -- how likely the outcomes are -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV"])
def test_each_fault_has_some_word_and_seldom_one_that_it_does_not_make(book, metering):
    facts = {"metering": metering, "mode": "cooling"}
    likely = Likelihoods(book, facts)
    made = book.makes(facts).of
    for name in book.findings:
        words = likely.of(name)
        assert set(words) in (set(), set(book.findings[name].words))
        makers = {word for its in made.values() for word in its.get(name, ())}
        for fault in book.faults if words else ():
            assert sum(p[fault] for p in words.values()) == pytest.approx(1.0)
            odd = makers - made[fault].get(name, frozenset())
            assert sum(words[word][fault] for word in odd) <= 0.05 / 0.95 + 1e-9, (name, fault)


def test_the_chances_by_hand(book):
    """An overcharge shows high or very high subcooling in three of four, another wrong word in one of twenty."""
    found = Likelihoods(book, {"metering": "TXV", "mode": "cooling"})
    by_hand = {"high": 0.375, "very high": 0.375, "normal": 0.2, "low": 0.025, "very low": 0.025}
    assert {word: p["overcharge"] for word, p in found.of("subcooling").items()} == pytest.approx(by_hand)
    assert found.of("standing pressure")["below saturation"]["low-charge"] == pytest.approx(0.1)
    assert found.of("standing pressure")["at saturation"]["nothing-wrong"] == pytest.approx(0.95)
    assert found.of("running time") == {}


def test_a_machine_that_is_overcharged_is_not_forecast_to_stand_below_saturation(book):
    d = examine(shipped("cases") / "demo" / "mountain-overcharge.yaml", book)
    assert (d.ranked[0].fault, d.ranked[0].strength) == ("overcharge", "strong")
    found = forecast(["standing pressure"], Posteriors(d.rules, d.applying, d.findings), likelihoods(book, d), book)
    assert next(o.chance for o in found.outcomes if o.words["standing pressure"] == "below saturation") < 0.05


def test_what_no_rule_listens_to_saves_nothing(book):
    d = examine(RESTRICTED, book)
    deaf = dataclasses.replace(book, rules=tuple(r for r in book.rules if "standing pressure" not in dict(r.when)))
    asking = Posteriors(deaf, deaf.applying(machine_facts(d.visit.machine)), d.findings)
    assert forecast(["standing pressure"], asking, likelihoods(book, d), deaf) == Forecast((), 0.0)


def test_what_a_check_saves_by_hand(book):
    """Two faults left, one finding: the derivation of the module, written out with plain figures."""
    d = examine(RESTRICTED, book)
    asking, likely = Posteriors(d.rules, d.applying, d.findings), likelihoods(book, d)
    name, trust = "liquid line pressure loss", book.judgement.next_checks.trust
    now = asking.scores({})
    believed = shares({f: trust * s for f, s in now.items()})

    def lost(true: dict[str, float], acted: dict[str, float]) -> float:
        return sum(acted[g] * true[f] * (hours(g, book) + 1) for g in acted for f in true if f != g)

    saved = 0.0
    for word, p in likely.of(name).items():
        joint = {f: b * p[f] for f, b in believed.items()}
        then = asking.scores({name: word})
        saved += max(0.0, lost(joint, believed) - lost(joint, shares({f: then[f] - (1 - trust) * now[f] for f in now})))
    assert forecast([name], asking, likely, book).saved == pytest.approx(saved)


@examples(6)
@given(states())
def test_no_check_makes_things_worse_and_its_outcomes_are_all_there_are(book, state):
    d = examine(visit(state), book)
    asking, likely = Posteriors(d.rules, d.applying, d.findings), likelihoods(book, d)
    trust = book.judgement.next_checks.trust
    before = expected_cost(shares({fault: trust * points for fault, points in asking.scores({}).items()}), book)
    for check in book.checks.values():
        found = forecast([g for g in check.gives if g not in d.findings], asking, likely, book)
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


@pytest.mark.parametrize(
    ("saved", "together"),
    [
        ({"five": 3, "also five": 2, "four": 1}, ["five", "four"]),  # 25 outcomes are too many, 20 are not
        ({"six": 3, "four": 2, "two": 1}, ["six", "four"]),  # 24 are not; then nothing fits any more
        ({"five": 3, "four": 0.02}, ["five", "four"]),
        ({"five": 3, "four": 0.019}, ["five"]),
        ({"five": 0.001}, ["five"]),
        ({"five": 0.001, "four": 0.0005}, ["five"]),
        ({"five": 1, "four": 3}, ["four", "five"]),  # the one worth most first
    ],
)
def test_findings_of_one_check_are_taken_together_while_they_matter_and_are_few(saved, together, monkeypatch):
    def of(names, *_):
        return Forecast((Outcome(dict.fromkeys(names, "x"), 1.0, "f", 1.0, "strong"),), saved[names[0]])

    monkeypatch.setattr("diagnose.diagnosis.value_of_information._forecast", of)
    sizes = {"two": 2, "four": 4, "five": 5, "also five": 5, "six": 6}
    words = SimpleNamespace(findings={name: SimpleNamespace(words=("x",) * size) for name, size in sizes.items()})
    silent = SimpleNamespace(of=lambda name: name != "mute")
    asking = SimpleNamespace(speaks=lambda names: names != ["nobody listens"])
    found = forecast([*saved, "mute", "nobody listens"], asking, silent, words)
    assert list(found.outcomes[0].words) == together
    assert forecast(["mute", "nobody listens"], asking, silent, words) == Forecast((), 0.0)


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
    assert hours("supplementary-heat-on", book) <= cleaning  # a switch is turned
    for fault in book.faults:
        if "airflow" not in fault and fault != "supplementary-heat-on":
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
