"""The charge verdict by hand: doubts, rivals, what the metering check and the liquid say, and the machine's own good day."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from by_hand import finding, place
from judged import BOOK
from strategies import F, State, visit

from diagnose import examine
from diagnose.diagnosis import charge
from diagnose.diagnosis.charge import judge_charge
from diagnose.diagnosis.findings import Finding
from diagnose.diagnosis.ranking import Ranked
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.verdict import Charge, ChargeReading, ChargeVerdict, NoVerdict
from diagnose.properties.targets import NoTarget, Target
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.uncertainty import Estimate, GoodDay
from diagnose.rulebook.entries import WordScale
from diagnose.visit.reason import Reason

RIGHT = examine(visit(State()))
LOW = examine(visit(State(superheat=25, subcooling=3, condensing=93, split=15)))
SOUND = RIGHT.findings["charge by superheat"].words["right"]


def judged(d: Any, doubts: list[Doubt], **changes: Any) -> Charge:
    now = {"findings": d.findings, "ranked": d.ranked, **changes}
    return judge_charge(d.visit, d.estimates, now["findings"], now["ranked"], [], doubts, BOOK)


def doubt(code: str, weight: float, reading: str = "suction line temperature", holds: bool = False) -> Doubt:
    return Doubt(Reason(code), set_aside=(reading,), weight=weight, holds_charge=holds)


def shares(**of: float) -> list[Ranked]:
    named = {name.replace("_", "-"): share for name, share in of.items()}
    return [place(name, share) for name, share in sorted(named.items(), key=lambda one: -one[1])]


UNSURE = shares(nothing_wrong=0.6, low_charge=0.3, overcharge=0.1)


# -- doubts ------------------------------------------------------------------------------------------------------------


def test_a_doubt_about_what_it_comes_from_takes_its_share_of_the_chance() -> None:
    assert judged(RIGHT, [doubt("a", 0.1)]).chance == pytest.approx(SOUND * 0.9)
    assert judged(RIGHT, [doubt("a", 0.4, "supply air dry bulb")]).chance == pytest.approx(SOUND)
    assert judged(RIGHT, [doubt("a", 0.1, "supply air dry bulb", holds=True)]).chance == pytest.approx(SOUND * 0.9)


def test_where_a_doubt_makes_it_too_unsure_the_surest_doubt_is_the_reason() -> None:
    found = judged(RIGHT, [doubt("a", 0.2), doubt("b", 0.4)])
    assert [reason.code for reason in found.reasons] == ["b"]
    assert (found.leaning, found.improve) == ("right", None)


def test_where_it_was_too_unsure_before_the_doubt_the_limit_is_the_reason() -> None:
    near = Finding("charge by superheat", {"right": 0.6, "low": 0.3, "high": 0.1}, limits=(-5 * F, 5 * F))
    found = judged(RIGHT, [doubt("a", 0.2)], findings={**RIGHT.findings, "charge by superheat": near}, ranked=UNSURE)
    (reason,) = found.reasons
    assert reason.code == "near-the-limit"
    assert [word for word, _ in reason.figures["chances"]] == ["right", "low"]
    assert [chance for _, chance in reason.figures["chances"]] == pytest.approx([0.6, 0.3])


def test_beside_a_blank_target_the_chances_told_are_those_of_the_words_alone() -> None:
    near = Finding("charge by superheat", {"right": 0.16, "high": 0.08}, limits=(-5 * F, 5 * F))
    (reason,) = judged(RIGHT, [], findings={**RIGHT.findings, "charge by superheat": near}, ranked=UNSURE).reasons
    assert [chance for _, chance in reason.figures["chances"]] == pytest.approx([2 / 3, 1 / 3])


@pytest.mark.parametrize(
    ("share", "doubted", "verdict"),
    [(0.76, 0.0, "right"), (0.74, 0.0, "do not judge"), (0.85, 0.1, "right"), (0.85, 0.15, "do not judge")],
)
def test_all_readings_together_must_be_as_sure_as_its_own_would_have_to_be(
    share: float, doubted: float, verdict: str
) -> None:
    near = Finding("charge by superheat", {"right": 0.6, "low": 0.3, "high": 0.1}, limits=(-5 * F, 5 * F))
    ranked = shares(nothing_wrong=share, low_charge=1 - share)
    found = judged(
        RIGHT, [doubt("a", doubted)], findings={**RIGHT.findings, "charge by superheat": near}, ranked=ranked
    )
    assert found.verdict == verdict


@pytest.mark.parametrize(
    ("others", "verdict"),
    [({"low_charge": 0.2}, "right"), ({"low_charge": 0.3}, "do not judge"),
     ({"low_charge": 0.1, "overcharge": 0.1}, "right"), ({"low_charge": 0.15, "overcharge": 0.15}, "do not judge"),
     ({"weak_compressor": 0.36}, "right"), ({"weak_compressor": 0.39}, "do not judge")],
)  # fmt: skip
def test_what_is_near_the_limit_is_right_where_a_charge_that_is_off_is_unlikely_by_all(
    others: dict[str, float], verdict: str
) -> None:
    """Where it leans that way itself; and nothing wrong must lead as a fault must for its advice."""
    away = Finding("charge by superheat", {"right": 0.4, "low": 0.6}, limits=(-5 * F, 5 * F))
    near = away._replace(words={"right": 0.6, "low": 0.4})
    ranked = shares(nothing_wrong=1 - sum(others.values()), **others)
    found = judged(RIGHT, [], findings={**RIGHT.findings, "charge by superheat": near}, ranked=ranked)
    assert found.verdict == verdict
    held = judged(RIGHT, [], findings={**RIGHT.findings, "charge by superheat": away}, ranked=ranked)
    for one in (held,) if verdict == "right" else (held, found):
        assert [reason.code for reason in one.reasons] == ["near-the-limit"]


def test_a_firm_doubt_is_the_only_reason_and_nothing_is_added_to_it() -> None:
    """Though it is near the limit, a rival leads, and the liquid speaks against it."""
    near = Finding("charge by superheat", {"right": 0.4, "low": 0.6}, limits=(-5 * F, 5 * F))
    liquid = finding("subcooling", "high")
    found = judged(
        RIGHT,
        [doubt("a", 0.9, holds=True)],
        findings={**RIGHT.findings, "charge by superheat": near, "subcooling": liquid},
    )
    assert [reason.code for reason in found.reasons] == ["a"]


# -- rivals ------------------------------------------------------------------------------------------------------------


SCATTERED = shares(low_charge=0.44, low_indoor_airflow=0.19, low_outdoor_airflow=0.19, weak_compressor=0.18)


LIQUID = ("subcooling", "condensing over ambient", "liquid line approach")


@pytest.mark.parametrize("lacking", [(), LIQUID])
def test_only_with_both_superheat_and_subcooling_must_it_be_as_likely_as_all_others(lacking: tuple[str, ...]) -> None:
    findings = {name: f for name, f in LOW.findings.items() if name not in lacking}
    found = judged(LOW, [], findings=findings, ranked=SCATTERED)
    assert isinstance(found, ChargeVerdict) is bool(lacking)


@pytest.mark.parametrize("half", LIQUID[1:])
@pytest.mark.parametrize(("state", "held"), [(LOW, True), (RIGHT, False)])
def test_who_reads_the_liquid_side_reads_it_whole(half: str, state: Diagnosis, held: bool) -> None:
    findings = {name: f for name, f in state.findings.items() if name not in LIQUID} | {half: finding(half, "normal")}
    found = judged(state, [], findings=findings)
    assert (isinstance(found, NoVerdict) and found.reasons[0].code == charge.HALF_READ) is held


def rival(verdict: Any, ranked: list[Ranked], both: bool = False, alike: frozenset[str] = frozenset()) -> str | None:
    found = charge._rival(verdict, ranked, {}, BOOK, {}, both, alike)
    return found and found.fault


def test_the_strongest_rival_is_named() -> None:
    two = shares(low_charge=0.4, low_indoor_airflow=0.2, weak_compressor=0.25, low_outdoor_airflow=0.15)
    assert rival("low", two) == "weak-compressor"
    assert rival("low", SCATTERED, both=True) in ("low-indoor-airflow", "low-outdoor-airflow")
    assert rival("low", SCATTERED) is None
    enough = shares(low_charge=0.61, low_indoor_airflow=0.13, low_outdoor_airflow=0.13, weak_compressor=0.13)
    assert rival("low", enough, both=True) is None


def test_of_all_faults_its_own_must_have_three_chances_for_each_two_of_the_others() -> None:
    """What is left for "nothing wrong" counts on neither side, and is no fault to name."""
    parts = {"low_indoor_airflow": 0.1, "low_outdoor_airflow": 0.1, "nothing_wrong": 0.3}
    assert rival("low", shares(low_charge=0.41, weak_compressor=0.09, **parts), both=True) == "low-indoor-airflow"
    assert rival("low", shares(low_charge=0.43, weak_compressor=0.07, **parts), both=True) is None
    assert rival("low", shares(low_charge=0.41, weak_compressor=0.09, **parts)) is None


def test_what_gauges_cannot_tell_apart_stands_in_the_way_together() -> None:
    parts = {"liquid_line_restriction": 0.16, "metering_underfeeding": 0.15}
    assert rival("low", shares(low_charge=0.5, weak_compressor=0.19, **parts)) == "liquid-line-restriction"
    assert (
        rival("low", shares(low_charge=0.5, weak_compressor=0.19, low_indoor_airflow=0.16, nothing_wrong=0.15)) is None
    )


def test_nothing_wrong_must_only_not_be_likelier() -> None:
    assert rival("low", shares(low_charge=0.5, nothing_wrong=0.49)) is None
    assert rival("low", shares(low_charge=0.49, nothing_wrong=0.5)) == "nothing-wrong"
    assert rival("low", shares(low_charge=0.5, nothing_wrong=0.5)) is None


def test_over_what_looks_alike_it_must_lead_by_as_much_as_makes_a_verdict_sure() -> None:
    both = frozenset({"overcharge", "non-condensables"})
    near = shares(overcharge=0.8, non_condensables=0.1)
    assert rival("high", near) is None
    assert rival("high", near, alike=both) == "non-condensables"
    assert rival("high", near, alike=frozenset({"overcharge"})) is None


def test_without_its_fault_in_the_book_or_any_other_nothing_stands_in_the_way() -> None:
    assert rival("low", shares(weak_compressor=0.9)) is None
    assert rival("low", shares(low_charge=0.1)) is None


@pytest.mark.parametrize(
    ("ranked", "against", "code"),
    [
        (shares(nothing_wrong=0.5, low_charge=0.3), "nothing-wrong", "readings-say-nothing-wrong"),
        (shares(low_charge=0.5, nothing_wrong=0.3), "nothing-wrong", "likely-only-by-others"),
        (shares(low_charge=0.5, weak_compressor=0.4), "weak-compressor", "rival-too-likely"),
        (shares(weak_compressor=0.5, low_charge=0.4), "weak-compressor", "rival-explains-better"),
    ],
)
def test_why_a_rival_holds_the_verdict(ranked: list[Ranked], against: str, code: str) -> None:
    theirs = next(one for one in ranked if one.fault == against)
    assert charge._rival_reason(theirs, ranked, "low", "superheat", BOOK).code == code


PARTED = finding("standing pressure", "at saturation")


@pytest.mark.parametrize(
    ("chance", "known", "alike"),
    [
        (0.51, (), True),
        (0.5, (), False),
        (0.51, (PARTED,), False),
        (0.51, (finding("standing pressure", "at saturation", 0.75),), False),
        (0.51, (finding("standing pressure", "at saturation", 0.74),), True),  # it may as well be above
        (0.51, (finding("charge changed", "added"),), False),
        # Nobody knows of anything: one of the two was done all the same.
        (0.51, (finding("charge changed", "no"), finding("recent opening", "no")), True),
    ],
)
def test_faults_look_alike_while_their_findings_stand_and_nothing_parts_them(
    chance: float, known: tuple[Finding, ...], alike: bool
) -> None:
    pair = next(pair for pair in BOOK.charge.unparted if "overcharge" in pair.faults)
    seen = {name: Finding(name, {sorted(words)[0]: chance, "none": 1 - chance}) for name, words in pair.findings}
    seen |= {one.name: one for one in known}
    assert charge.unparted(seen, BOOK) == (frozenset(pair.faults) if alike else frozenset())


# -- the valve, and the liquid -----------------------------------------------------------------------------------------


def check(**words: float) -> dict[str, Finding]:
    named = {name.replace("_", " "): chance for name, chance in words.items()}
    return {"metering check": Finding("metering check", named, limits=(2.0, 15.0))}


@pytest.mark.parametrize(
    ("leaning", "findings", "at_fault", "holds"),
    [
        ("low", {}, False, False),
        ("low", check(in_range=0.51, above_range=0.49), False, True),
        ("low", check(in_range=0.5, above_range=0.5), True, False),  # as likely as not is not to hold it
        ("low", check(above_range=1.0), False, False),  # too little charge starves any valve
        ("high", check(above_range=1.0), True, False),
        ("low", check(below_range=1.0), True, False),
    ],
)
def test_a_valve_that_does_not_hold_its_superheat_comes_before_the_charge(
    leaning: Any, findings: dict[str, Finding], at_fault: bool, holds: bool
) -> None:
    assert bool(charge._valve_at_fault(leaning, findings)) is at_fault
    assert bool(charge._valve_holds(findings)) is holds


@pytest.mark.parametrize(("chance", "alike"), [(0.51, True), (0.5, False)])
def test_right_behind_the_other_device_is_who_has_more_likely_than_not_the_usual_liquid(
    chance: float, alike: bool
) -> None:
    seen = {name: each for name, each in RIGHT.findings.items() if name != charge.DEVICE}
    seen["subcooling"] = finding("subcooling", "normal", chance)
    assert charge._right_behind_the_other_device(RIGHT.visit, seen, BOOK) is alike


@pytest.mark.parametrize(
    ("leaning", "word", "code"),
    [("low", "high", "liquid-is-held-back"), ("low", "very high", "liquid-is-held-back"), ("low", "low", None),
     ("high", "low", "little-liquid-in-condenser"), ("high", "high", None), ("right", "high", None)],
)  # fmt: skip
def test_liquid_in_the_condenser_speaks_against_what_superheat_says(leaning: Any, word: str, code: str | None) -> None:
    for chance, told in ((0.51, code), (0.5, None)):
        found = charge._liquid_speaks_against(leaning, {"subcooling": finding("subcooling", word, chance)})
        assert [reason.code for reason in found] == ([] if told is None else [told])


@pytest.mark.parametrize(
    ("verdict", "method", "seen", "told"),
    [
        ("low", "superheat", [], {"subcooling-not-measured"}),
        ("right", "superheat", [], set()),
        ("low", "superheat", [finding("subcooling", "low", 0.51)], set()),
        ("low", "superheat", [finding("subcooling", "low", 0.5)], {"subcooling-not-low"}),
        ("low", "superheat", [finding("subcooling", "normal"), finding("drier temperature drop", "none")], set()),
        ("low", "subcooling", [finding("subcooling", "low")], {"superheat-not-measured"}),
        ("low", "subcooling", [finding("superheat", "high", 0.51)], set()),
        ("low", "subcooling", [finding("superheat", "high", 0.5)], {"subcooling-shows-it-alone"}),
        ("high", "subcooling", [finding("superheat", "normal")], {"subcooling-shows-it-alone"}),
        ("high", "subcooling", [finding("condensing over ambient", "high", 0.51)], set()),
        ("high", "subcooling", [finding("condensing over ambient", "normal")], {"subcooling-shows-it-alone"}),
        ("high", "superheat", [finding("subcooling", "normal")], set()),
        ("right", "superheat", [finding("subcooling", "high")], {"subcooling-does-not-fit"}),
        ("right", "subcooling", [finding("subcooling", "high")], set()),
    ],
)
def test_what_a_verdict_hangs_on_though_nobody_confirmed_it(
    verdict: Any, method: Any, seen: list[Finding], told: set[str]
) -> None:
    known = {f.name: f for f in (*seen, finding("airflow per ton", "normal"))}
    found = {reason.code for reason in charge._caveats(verdict, method, RIGHT.visit, known, [], BOOK)}
    assert found == told
    untimed = replace(RIGHT.visit, rounds=(RIGHT.visit.last._replace(minutes=None),))
    found = {reason.code for reason in charge._caveats(verdict, method, untimed, known, [], BOOK)}
    assert found == told | {"running-time-not-confirmed"}
    del known["airflow per ton"]
    found = {reason.code for reason in charge._caveats(verdict, method, RIGHT.visit, known, [], BOOK)}
    assert found == told | {"airflow-not-confirmed"}


@pytest.mark.parametrize(("over", "low"), [(39.0, False), (41.0, True)])
def test_beyond_the_table_superheat_must_stand_forty_degrees_above_its_nearest_target(over: float, low: bool) -> None:
    """Twenty as where the table is blank, and as many for the distance from it."""
    nearest = Target(5.0, 1.0, "test", "protocol")
    heat = Estimate("superheat", "difference", 5.0 + over * F, 0.0, NoTarget("outside", "superheat", nearest), None, 0.0,
                    (), {}, "", "")  # fmt: skip
    for chance, held in ((0.51, False), (0.5, True)):
        empty = {"subcooling": finding("subcooling", "very low", chance)}
        assert (charge._emptied(heat, empty, shares(low_charge=0.9), [], BOOK) is not None) is (low and not held)
    assert not charge._emptied(heat, {}, shares(low_charge=0.9), [], BOOK)
    none_left = {"subcooling": finding("subcooling", "very low")}
    assert not charge._emptied(heat, none_left, shares(weak_compressor=0.9), [], BOOK)
    assert (charge._emptied(heat, none_left, shares(low_charge=0.75), [], BOOK) is not None) is low
    assert not charge._emptied(heat, none_left, shares(low_charge=0.74), [], BOOK)


# -- the good day ------------------------------------------------------------------------------------------------------

DAY = GoodDay(Target(9.0, 0.5, "test", "baseline"), 1.0, 0.25)
HEAT = Estimate(
    "superheat", "difference", 10.0, 0.5, Target(5.0, 0.5, "test", "protocol"), 5.0, 0.75, (), {}, "", "", good_day=DAY
)
SCALES = {
    name: WordScale((), target, "difference", "difference", (-2.8, 2.8), None, (), None, (), "")  # type: ignore[arg-type]
    for name, target in (("own", "baseline"), ("general", "protocol"))
}
OWN, GENERAL = (
    Finding("charge by superheat", {"right": 1.0}, HEAT, SCALES[name], (-2.8, 2.8)) for name in ("own", "general")
)
BY = ChargeReading("superheat", 10.0, 0.5, 5.0, 2.8)


def test_by_its_good_day_a_machine_is_as_far_off_as_from_that_day() -> None:
    assert charge._difference(OWN) == (1.0, 0.25)
    assert charge._difference(GENERAL) == (5.0, 0.75)
    assert charge._difference(finding("x", "high")) == (None, 0)
    assert charge._verdict_reason("right", OWN, BY, BOOK).figures["side"] == "low"  # much superheat is little charge
    for verdict, tolerance in (("low", 2.8), ("right", None)):
        by = BY._replace(tolerance=tolerance)
        assert charge._verdict_reason(verdict, OWN, by, BOOK).figures["side"] is None  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("verdict", "read", "by", "other"),
    [
        ("right", OWN, BY, "low"),
        ("low", OWN, BY, None),  # both say so
        ("right", GENERAL, BY, None),
        ("right", OWN, BY._replace(tolerance=5.0), None),
        ("low", OWN, BY._replace(tolerance=5.0), "right"),
        ("right", OWN, BY._replace(method="subcooling"), "high"),
        ("right", OWN._replace(estimate=HEAT._replace(difference=-5.0)), BY, "high"),
        ("right", OWN._replace(estimate=HEAT._replace(difference=-5.0)), BY._replace(method="subcooling"), "low"),
        ("right", OWN._replace(estimate=HEAT._replace(difference=None)), BY, None),
        ("right", OWN._replace(estimate=None), BY, None),
        ("right", OWN, BY._replace(tolerance=None), None),
    ],
)
def test_where_the_general_target_says_otherwise_it_is_told(
    verdict: Any, read: Finding, by: ChargeReading, other: str | None
) -> None:
    found = charge._general_differs(verdict, read, by)
    assert [reason.figures["verdict"] for reason in found] == ([] if other is None else [other])


def test_what_it_is_judged_by_is_told() -> None:
    by = judged(LOW, []).by
    assert (by.tolerance, by.own) == (pytest.approx(5 * F), None)
    own = OWN._replace(words={"right": 1.0})
    estimates = {**RIGHT.estimates, "superheat": RIGHT.estimates["superheat"]._replace(good_day=DAY)}
    for read, value in ((own, 9.0), (GENERAL, None)):
        found = judge_charge(
            RIGHT.visit, estimates, {**RIGHT.findings, "charge by superheat": read}, RIGHT.ranked, [], [], BOOK
        )
        assert found.by.own == value
