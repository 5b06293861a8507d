"""Fired rules to faults in order: the arithmetic of DESIGN.md, on a book of its own."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import JUDGEMENT
from strategies import states, visit

from diagnose import examine
from diagnose.diagnosis.ranking import STRENGTHS, rank, strength, word_for
from diagnose.rulebook import Rule
from diagnose.rulebook.entries import RuleEntry
from diagnose.rulebook.matcher import Firing


def rule(name: str, points: float, when: dict[str, list[str]], either=(), fault: str = "low-charge") -> Rule:
    entry = RuleEntry(f"{fault}/{name}", "t", "w", ("s",))
    as_conditions = lambda m: tuple((k, frozenset(v)) for k, v in m.items())  # noqa: E731
    return Rule("evidence", entry, as_conditions(when), tuple(map(as_conditions, either)), (), fault, points)


ONE_DOUBT = (("restriction", "underfeeding"),)


class Book:
    """Just what ranking asks of a rule book."""

    def __init__(self, *rules: Rule, faults: tuple[str, ...] = ("low-charge", "overcharge"), usual: float = 0.0):
        self.rules = rules
        self.judgement = JUDGEMENT
        self.charge = SimpleNamespace(one_doubt=ONE_DOUBT)
        self.by_id = {r.id: r for r in rules}
        self.faults = {f: type("Entry", (), {"usual": usual if f == "low-charge" else 0.0})() for f in faults}

    def evidence(self, fault: str) -> tuple[Rule, ...]:
        return tuple(r for r in self.rules if r.fault == fault)

    def more_special(self, rule: Rule) -> frozenset[str]:
        return frozenset(r.id for r in self.evidence(rule.fault) if r.contains(rule))


def firing(of: Rule, sure: float) -> Firing:
    return Firing(of.id, sure, {})


def ranked(book: Book, **sure: float):
    by_name = {r.id.split("/")[1].replace("-", "_"): r for r in book.rules}
    return {r.fault: r for r in rank(book, [firing(by_name[n], s) for n, s in sure.items()])}  # type: ignore[arg-type]


A, B, C = {"superheat": ["high"]}, {"subcooling": ["low"]}, {"split": ["low"]}


def test_score_is_usual_plus_points_times_certainty():
    book = Book(rule("one", 3, A), rule("two", -2, B), usual=1.5)
    found = ranked(book, one=0.5, two=0.25)["low-charge"]
    assert found.score == pytest.approx(1.5 + 1.5 - 0.5)


def test_share_is_two_to_the_score():
    book = Book(rule("one", 3, A))
    found = ranked(book, one=1.0)
    assert found["low-charge"].share == pytest.approx(8 / 9)
    assert found["overcharge"].share == pytest.approx(1 / 9)


def test_the_general_rule_counts_only_with_what_is_left():
    """The special one is 0.6 sure, the general one 0.9: so 0.3 of the general one is left."""
    book = Book(rule("general", 2, A), rule("special", 4, A | B))
    found = ranked(book, general=0.9, special=0.6)["low-charge"]
    assert {e.rule.id: e.counted for e in found.evidence} == pytest.approx(
        {"low-charge/general": 0.3, "low-charge/special": 0.6}
    )
    assert found.score == pytest.approx(2 * 0.3 + 4 * 0.6)


def test_a_chain_of_three_is_shared_out_once():
    book = Book(rule("one", 1, A), rule("two", 2, A | B), rule("three", 3, A | B | C))
    found = ranked(book, one=0.9, two=0.7, three=0.4)["low-charge"]
    assert sum(e.counted for e in found.evidence) == pytest.approx(0.9)
    assert found.score == pytest.approx(1 * 0.2 + 2 * 0.3 + 3 * 0.4)


def test_a_special_rule_that_did_not_fire_takes_nothing():
    book = Book(rule("general", 2, A), rule("special", 4, A | B))
    assert ranked(book, general=0.9)["low-charge"].score == pytest.approx(1.8)


def test_rules_of_other_faults_take_nothing():
    book = Book(rule("general", 2, A), rule("special", 4, A | B, fault="overcharge"))
    found = ranked(book, general=0.9, special=0.6)
    assert found["low-charge"].score == pytest.approx(1.8)
    assert found["overcharge"].score == pytest.approx(2.4)


def test_narrower_words_are_more_special():
    wide, narrow = (
        rule("wide", 2, {"superheat": ["high", "very high"]}),
        rule("narrow", 3, {"superheat": ["very high"]}),
    )
    assert narrow.contains(wide)
    assert not wide.contains(narrow)


def test_contains():
    general, special = rule("g", 1, A), rule("s", 1, A | B)
    other = rule("o", 1, B)
    branches = ({"split": ["low"]}, {"filter": ["dirty"]})
    with_any, more = rule("a", 1, A, branches), rule("m", 1, A | B, branches)
    assert special.contains(general)
    assert not general.contains(special)
    assert not special.contains(special)
    assert special.contains(other)
    assert not other.contains(general)
    assert with_any.contains(general)  # it asks for A and for more
    assert more.contains(with_any)
    assert not special.contains(with_any)  # it does not ask for any of the branches


def test_two_rules_that_ask_for_the_same_do_not_silence_each_other():
    """The loader lets this through where their `applies` differ; in the same order both count."""
    one, other = rule("one", 2, A | B), rule("other", 3, B | A)
    assert not one.contains(other)
    assert ranked(Book(one, other), one=1.0, other=1.0)["low-charge"].score > 0


def test_a_rule_that_holds_one_branch_of_an_any_is_the_more_special():
    general = rule("general", 2, {}, ({"air filter": ["dirty"]}, {"indoor coil": ["dirty"]}))
    special = rule("special", 3, {"air filter": ["dirty"]} | A)
    assert special.contains(general)
    assert ranked(Book(general, special), general=1.0, special=1.0)["low-charge"].score == pytest.approx(3)


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3), st.floats(0, 1e-6))
def test_scores_are_continuous_in_every_certainty(sure, step):
    book = Book(rule("one", 4, A), rule("two", -4, A | B), rule("three", 4, A | B | C))
    names = ("one", "two", "three")
    before = ranked(book, **dict(zip(names, sure, strict=True)))["low-charge"].score
    for n in names:
        moved = dict(zip(names, sure, strict=True))
        moved[n] = min(1.0, moved[n] + step)
        assert abs(ranked(book, **moved)["low-charge"].score - before) <= 16 * step + 1e-12


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_the_order_of_the_rules_does_not_matter(sure):
    rules = [rule("one", 4, A), rule("two", -4, A | B), rule("three", 3, A | B | C)]
    by = dict(zip(("one", "two", "three"), sure, strict=True))
    scores = {ranked(Book(*order), **by)["low-charge"].score for order in itertools.permutations(rules)}
    assert max(scores) - min(scores) < 1e-12


def test_scores_far_apart_do_not_overflow():
    many = [rule(f"r{i}", 4, {f"f{i}": ["x"]}) for i in range(300)]
    found = ranked(Book(*many), **{f"r{i}": 1.0 for i in range(300)})
    assert found["low-charge"].share == 1.0
    assert found["overcharge"].share == 0.0


@pytest.mark.parametrize(
    ("restriction", "underfeeding", "words"),
    [
        (0.35, 0.10, ("fair", "weak")),  # together 0.45: one of the two, and likelier this one
        (0.10, 0.35, ("weak", "fair")),
        (0.35, 0.04, ("weak", "unlikely")),
        (0.09, 0.08, ("weak", "unlikely")),
        (0.50, 0.45, ("fair", "fair")),  # 0.95 is strong, but which of them nobody knows
        (0.90, 0.05, ("strong", "unlikely")),
    ],
)
def test_the_likeliest_of_one_doubt_has_the_word_for_all_of_it_at_most_fair(restriction, underfeeding, words):
    rest = 1.0 - restriction - underfeeding
    share = {"low-charge": rest, "restriction": restriction, "underfeeding": underfeeding}
    book = Book(faults=tuple(share))
    assert (word_for("restriction", share, book), word_for("underfeeding", share, book)) == words
    assert word_for("low-charge", share, book) == strength(rest, JUDGEMENT.strengths)


def test_no_faults():
    assert rank(Book(faults=()), []) == ()  # type: ignore[arg-type]


def test_strengths_cover_every_share():
    figures = JUDGEMENT.strengths
    assert strength(0.0, figures) == STRENGTHS[-1] == "unlikely"
    assert strength(1.0, figures) == STRENGTHS[0] == "strong"


@given(states())
def test_shares_of_a_visit_sum_to_one(state):
    found = examine(visit(state, extra=True)).ranked
    assert math.isclose(sum(r.share for r in found), 1.0)
    assert all(0 <= r.share <= 1 for r in found)
    assert [r.score for r in found] == sorted((r.score for r in found), reverse=True)
    for r in found:
        assert all(-1e-12 <= e.counted <= 1 + 1e-12 for e in r.evidence)


def test_contained_rules_of_the_shipped_book_contain_nothing_in_a_circle(book):
    for fault in book.faults:
        for one, other in itertools.combinations(book.evidence(fault), 2):
            facts_meet = all(dict(other.applies).get(n, words) & words for n, words in one.applies)
            if facts_meet:
                assert not (one.contains(other) and other.contains(one)), (one.id, other.id)
