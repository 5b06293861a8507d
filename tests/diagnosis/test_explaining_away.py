"""Explaining away, by hand: what a second fault must be worth, what falls away, and what is no known pattern."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from by_hand import Book, entry, finding, place, rule
from judged import JUDGEMENT

from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.second_fault import ExplainedAway, explain_away
from diagnose.quantities.uncertainty import Estimate

# By hand: the leader makes x high and y low, the other one z high.
WORDS = ("low", "normal", "high")

MANY = tuple((f"m{i}", "high") for i in range(8))
RULES: Any = Book(
    faults={
        "leader": entry(None, ("x", "high"), ("y", "low"), *MANY[4:]),
        "other": entry(None, ("z", "high"), *MANY[:4]),
        "nothing-wrong": entry("right"),
    },
    rules=(),
    states={},
    charge=SimpleNamespace(one_doubt=()),
    judgement=JUDGEMENT,
)


def explained(findings: tuple[Finding, ...], *others: Any, share: float = 0.5) -> ExplainedAway:
    ranked = (place("leader", share, rule(2, x="high")), place("other", 0.1, *others), place("nothing-wrong", 0.0))
    return explain_away(ranked, {f.name: f for f in findings}, RULES, {})


X, Y, Z = finding("x", "high"), finding("y", "normal"), finding("z", "high")


@pytest.mark.parametrize(("sure", "left"), [(0.8, ("z",)), (0.79, ())])
def test_how_firm_a_finding_must_be(sure: float, left: tuple[str, ...]) -> None:
    assert explained((X, finding("z", "high", sure))).left == left


@pytest.mark.parametrize(("chance", "sure"), [(0.995, ("x",)), (0.994, ())])
def test_how_sure_a_measured_finding_must_be_for_nothing_to_be_strong_beside_it(
    chance: float, sure: tuple[str, ...]
) -> None:
    measured = finding("x", "high", chance)._replace(
        estimate=Estimate("x", "difference", 1.0, 0.0, None, None, 0.0, (), {}, "", "")
    )
    assert explained((measured, Z)).sure == sure  # z was seen, not measured


@pytest.mark.parametrize(("points", "named"), [(2.1, True), (2.09, False)])
def test_what_a_second_fault_must_be_worth(points: float, named: bool) -> None:
    assert (explained((X, Z), rule(points, z="high")).second is not None) is named


@pytest.mark.parametrize(("against", "named"), [(-1.9, True), (-1.91, False)])
def test_what_speaks_against_a_second_fault_is_taken_off(against: float, named: bool) -> None:
    found = explained((X, Z, finding("w", "normal")), rule(4, z="high"), rule(against, w="normal"))
    assert (found.second is not None) is named


@pytest.mark.parametrize(("its", "points"), [("high", 5.0), ("low", 3.0), (None, 3.0)])
def test_an_objection_falls_away_where_the_two_pull_a_reading_apart(its: str | None, points: float) -> None:
    """The leader pulls y down: that y is normal is no objection to what pulls it up, but is to what pulls it down too."""
    book = world(other=entry(None, ("z", "high"), *([("y", its)] if its else [])))
    found = among(book, (X, Y, Z), LEADS, place("other", 0.1, rule(5, z="high"), rule(-2, y="normal"))).second
    assert found.points == points


@pytest.mark.parametrize(("share", "known"), [(0.3, True), (0.29, False)])
def test_a_leader_with_a_second_fault_must_have_this_share(share: float, known: bool) -> None:
    assert explained((X, Z), rule(3, z="high"), share=share).known is known


@pytest.mark.parametrize(("count", "known"), [(4, True), (5, False)])
def test_how_much_may_be_off_where_nothing_is_wrong(count: int, known: bool) -> None:
    """Of findings that no one fault makes."""
    ranked = (place("nothing-wrong", 0.9), place("leader", 0.05), place("other", 0.05))
    found = {name: finding(name, word) for name, word in MANY[:count]}
    assert explain_away(ranked, found, RULES, {}).known is known


# -- what is whose -----------------------------------------------------------------------------------------------------


def world(one_doubt: tuple[tuple[str, ...], ...] = (), rules: tuple[Any, ...] = (), **faults: Any) -> Any:
    """The two faults and "nothing wrong", and more; the states s (on where z is high) and, of the rules given."""
    known = {**RULES.faults, **faults}
    return Book(
        faults=known, rules=rules, states={"s": None}, charge=SimpleNamespace(one_doubt=one_doubt), judgement=JUDGEMENT
    )


def among(book: Any, findings: tuple[Finding, ...], *ranked: Ranked) -> ExplainedAway:
    return explain_away(ranked, {f.name: f for f in findings}, book, {})


LEADS = place("leader", 0.5, rule(2, x="high"))


def test_of_what_is_off_normal_each_finding_is_the_leader_s_the_second_s_or_nobody_s() -> None:
    odd = tuple(finding(name, "high") for name in ("x", "z", "m0", "m4"))
    found = among(RULES, (*odd, finding("w", "high")), LEADS, place("other", 0.1, rule(3, z="high")))
    assert found.first == ("x", "m4")
    assert found.second.findings == ("z", "m0")
    assert (found.left, found.known) == ((), True)


def test_a_second_fault_that_makes_nothing_firm_owns_what_its_evidence_rests_on() -> None:
    unsure = finding("z", "high", 0.7)
    found = among(RULES, (X, unsure), LEADS, place("other", 0.1, rule(3, z="high")))
    assert (found.second.findings, found.second.points) == (("z",), 3.0)


@pytest.mark.parametrize(("made", "first"), [(0.5, ("both",)), (0.49, ())])
def test_a_finding_is_the_leader_s_where_it_makes_half_of_what_is_off(made: float, first: tuple[str, ...]) -> None:
    book = world(one=entry(None, ("both", "high")), two=entry(None, ("both", "low")))
    both = Finding("both", {"high": made, "low": 1 - made})
    assert among(book, (both,), place("one", 0.6), place("two", 0.4)).first == first


@pytest.mark.parametrize(
    ("left", "balance", "known"),
    [(0, -1, True), (1, 1, True), (1, -1, False), (2, 1, True), (3, 1, False), (2, 0.5, True), (2, 0, False)],
)
def test_a_leader_is_a_pattern_where_it_explains_more_than_it_leaves_and_more_speaks_for_it(
    left: int, balance: float, known: bool
) -> None:
    """It makes x and two more; what is left is made by two faults, so by no other one alone."""
    mine = (X, *(finding(name, "high") for name, _ in MANY[4:6]))
    others = [finding(name, "high") for name in ("z", "q", "m0")][:left]
    book = world(third=entry(None, ("q", "high")))
    leader = place("leader", 0.5, *([rule(balance, x="high")] if balance else []))
    found = among(book, (*mine, *others), leader, place("other", 0.1), place("third", 0.1))
    assert found.known is known
    assert found.left == tuple(f.name for f in others)
    assert found.first == tuple(f.name for f in mine)


@pytest.mark.parametrize(("left", "known"), [(1, True), (2, False)])
def test_a_leader_that_explains_one_finding_may_leave_one(left: int, known: bool) -> None:
    book = world(third=entry(None, ("q", "high")))
    others = [finding(name, "high") for name in ("z", "q")][:left]
    assert among(book, (X, *others), LEADS, place("other", 0.1), place("third", 0.1)).known is known


@pytest.mark.parametrize(("stray", "known"), [(2, True), (3, False)])
def test_two_faults_are_a_pattern_where_they_explain_as_much_as_they_leave(stray: int, known: bool) -> None:
    more = [finding(f"q{i}", "high") for i in range(stray)]
    book = world(third=entry(None, *((f.name, "high") for f in more)))
    found = among(book, (X, Z, *more), LEADS, place("other", 0.1, rule(3, z="high")), place("third", 0.1))
    assert found.known is known


# -- which may be second -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("leader", "other", "together", "named"),
    [
        (None, None, False, True),
        (None, None, True, False),  # gauges cannot tell them apart
        (None, "low", False, True),
        ("high", None, False, True),
        ("high", "low", False, False),  # no charge is both
        (None, "right", False, False),
    ],
)
def test_no_second_fault_is_what_gauges_cannot_part_nor_the_opposite_charge(
    leader: str | None, other: str | None, together: bool, named: bool
) -> None:
    book = world(
        one_doubt=(("a", "b"), ("leader", "other")) if together else (("a", "b"),),
        leader=entry(leader, ("x", "high")),
        other=entry(other, ("z", "high")),
    )
    found = among(book, (X, Z), LEADS, place("other", 0.1, rule(3, z="high")))
    assert (found.second is not None) is named


def test_the_one_with_the_most_points_is_second() -> None:
    book = world(third=entry(None, ("q", "high")))
    second, third = place("other", 0.2, rule(2.5, z="high")), place("third", 0.1, rule(3, q="high"))
    found = among(book, (X, Z, finding("q", "high")), LEADS, second, third).second
    assert (found.fault, found.points) == ("third", 3.0)


@pytest.mark.parametrize(
    ("evidence", "points"),
    [
        ([rule(4, z="high")], 4.0),
        ([rule(4, z="high"), rule(-1, w="normal")], 3.0),  # nobody makes w: the objection stands
        ([rule(4, z="high"), rule(-4, x="high")], 4.0),  # the leader makes it
        ([rule(4, z="high"), rule(-1, y="normal")], 3.0),  # the leader alone moves it: the objection stands
        ([rule(4, z="high"), rule(-1, unread="high")], 3.0),
        ([rule(4, z="high"), rule(5, x="high")], 4.0),  # what the leader makes speaks for no other
        ([rule(4, z="high"), rule(5, w="high")], 4.0),  # what nobody makes is not off normal
        ([rule(4, z="high"), rule(5, unread="high")], 4.0),
        ([rule(4, z="high", x="high")], 4.0),  # the freshest of what it rests on counts
        ([rule(4, z="high"), rule(0.5, m0="high")], 4.0),  # m0 has no chance of being high
    ],
)
def test_what_speaks_for_and_against_a_second_fault(evidence: list[Any], points: float) -> None:
    read = (X, Y, Z, finding("w", "normal"), finding("m0", "low"))
    found = among(RULES, read, LEADS, place("other", 0.1, *evidence)).second
    assert found.points == pytest.approx(points)


@pytest.mark.parametrize(("fresh", "own"), [(0.35, ("z",)), (0.34, ())])
def test_what_the_leader_makes_mostly_is_not_the_second_s_own(fresh: float, own: tuple[str, ...]) -> None:
    book = world(leader=entry(None, ("x", "high"), ("z", "low")))
    shared = Finding("z", {"high": fresh, "low": 0.7 - fresh, "normal": 0.3})
    both = rule(10)
    both.conditions, both.findings = (("z", frozenset({"high", "low"})),), ("z",)
    found = among(book, (X, shared), LEADS, place("other", 0.1, both)).second
    assert (found.findings if found else ()) == own


def test_an_objection_by_a_branch_that_does_not_hold_is_not_excused() -> None:
    """The leader makes x high, but it is low: what holds is w, which nobody makes."""
    against = rule(-2)
    against.either = ((("x", frozenset({"high"})),), (("w", frozenset({"normal"})),))
    leader = place("leader", 0.5)
    found = among(
        RULES, (finding("x", "low"), Z, finding("w", "normal")), leader, place("other", 0.1, rule(5, z="high"), against)
    )
    assert found.second.points == 3.0


def test_a_state_stands_for_the_findings_that_its_word_is_concluded_from() -> None:
    on, off = rule(0, z="high"), rule(0, q="high")
    on.concludes, off.concludes = ("s", "on"), ("s", "off")
    other = rule(0, w="high")
    other.concludes = ("t", "on")
    book = world(rules=(on, off, other, rule(1, x="high")))
    book.rules[-1].concludes = None
    assert book.spelled_out(rule(1, s="on", x="low")) == (("z", frozenset({"high"})), ("x", frozenset({"low"})))
