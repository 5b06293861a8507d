"""What counts as right, missed, harmful: on answers made by hand; then a small run from seed to page.

What the words mean is the project's own definition (no source), so the expected figures are counted by hand here. The
interval of a rate is checked against published figures, the classifier against scikit-learn's own accuracy.
"""

from __future__ import annotations

import json
import math
import random
from dataclasses import replace
from pathlib import Path

import commands
import pytest
from hypothesis import given
from hypothesis import strategies as st
from overlay import overlay

from diagnose import evaluation
from diagnose.diagnosis.pipeline import examine
from diagnose.evaluation import classifier
from diagnose.evaluation.drawing import advice_of, answer_of, beside, features, protocol, shows, truth_of, with_only
from diagnose.evaluation.model import ALIKE, READINGS, Answered, RankedAnswer, Rate, Truth, merged, wilson
from diagnose.evaluation.page import evaluation_page
from diagnose.evaluation.running import evaluate
from diagnose.evaluation.scoring import confusions, reliability, score, score_pairs, score_slips, thirds, told
from diagnose.evaluation.work import SLIPS, TWINS, Slipped
from diagnose.quantities.plausibility import Doubt
from diagnose.quantities.uncertainty import estimate
from diagnose.report import as_markdown, as_text
from diagnose.report.doubts import SENTENCES
from diagnose.simulator import FAULTS, REFRIGERANTS, Practice, draw
from diagnose.visit import visit_from
from diagnose.visit.reason import Reason

TO_LEARN = 40
CASES = 4


def truth(*faults: str, metering: str = "TXV", place: int = 0, severity: float = 1.0) -> Truth:
    return Truth(place, faults, metering, severity, f"{faults[0]} {metering}", severity)


def says(
    *order: str, verdict: str = "do not judge", shares: tuple[float, ...] = (), firm: tuple[str, ...] = ()
) -> RankedAnswer:
    parts = shares or tuple(0.5**i for i in range(1, len(order) + 1))
    return RankedAnswer(tuple(zip(order, parts, strict=True)), frozenset(firm), verdict)


def one(true: Truth, answer: RankedAnswer, shows: bool = True) -> Answered:
    return Answered(true, shows, answer)


HEALTHY = truth("nothing-wrong")
LOW = truth("low-charge")
OVER = truth("overcharge")
WEAK = truth("weak-compressor")


# -- rates ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_wilson_interval_is_the_published_one(count, of, low, high):
    """Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (score), 95 %; from memory."""
    assert wilson(count, of, 1.959964) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_an_interval_holds_its_share_and_stays_a_share(pair):
    count, of = pair
    low, high = wilson(count, of)
    assert 0.0 <= low <= count / of + 1e-12
    assert count / of - 1e-12 <= high <= 1.0
    assert low < high


def test_wilson_holds_what_it_promises():
    """Two sigma are 95.4 of 100: of many counts from a known share, about as many intervals hold it."""
    chance = random.Random(3)
    held = 0
    for _ in range(600):
        low, high = wilson(sum(chance.random() < 0.15 for _ in range(80)), 80)
        held += low <= 0.15 <= high
    assert 0.92 <= held / 600 <= 0.985


def test_no_case_is_no_figure():
    assert str(Rate(0, 0)) == "-"
    assert Rate(0, 0).share is None
    assert Rate(0, 0).interval == (0.0, 1.0)


def test_never_in_ten_is_not_never():
    assert str(Rate(0, 10)) == "0.00 ±0.29"


# -- what counts as what -------------------------------------------------------------------------------------------


def test_first_and_first_two():
    cases = [
        one(LOW, says("low-charge", "overcharge")),
        one(LOW, says("weak-compressor", "low-charge")),
        one(LOW, says("weak-compressor", "overcharge", "low-charge")),
        one(LOW, says()),
    ]
    found = score(cases)
    assert (found.first, found.first_two, found.no_answer) == (Rate(1, 4), Rate(2, 4), Rate(1, 4))
    assert found.misdiagnosis == Rate(2, 4)
    assert found.missed == Rate(0, 4)


@pytest.mark.parametrize(
    ("fault", "counted"), [*ALIKE.items(), *((counted, counted) for counted in dict.fromkeys(ALIKE.values()))]
)
def test_faults_alike_at_the_gauges_are_one(fault, counted):
    found = score([one(truth(fault), says(counted, "low-charge"))])
    assert found.first == Rate(1, 1)
    assert found.misdiagnosis == Rate(0, 1)


def test_the_score_counts_as_one_what_the_book_holds_for_one_doubt(book):
    assert {frozenset(pair) for pair in ALIKE.items()} == {frozenset(pair) for pair in book.charge.one_doubt}


def test_false_alarms_are_of_the_healthy_only():
    cases = [
        one(HEALTHY, says("nothing-wrong", "low-charge", firm=("nothing-wrong",))),
        one(HEALTHY, says("low-charge", "nothing-wrong", firm=())),  # first, but weakly said
        one(HEALTHY, says("overcharge", "nothing-wrong", firm=("overcharge", "nothing-wrong"))),
        one(LOW, says("overcharge", firm=("overcharge",))),
        one(HEALTHY, says()),
    ]
    found = score(cases)
    assert found.false_alarm == Rate(2, 4)
    assert found.firm_false_alarm == Rate(1, 4)


def test_missed_counts_only_faults_that_show():
    cases = [
        one(LOW, says("nothing-wrong", "low-charge")),
        one(LOW, says("nothing-wrong", "low-charge"), shows=False),
        one(WEAK, says("weak-compressor")),
        one(HEALTHY, says("nothing-wrong")),
    ]
    found = score(cases)
    assert found.missed == Rate(1, 2)
    assert found.shows == Rate(2, 3)
    assert found.misdiagnosis == Rate(0, 3)  # nothing-wrong is missed, not mistaken for another


@pytest.mark.parametrize(
    ("true", "verdict", "harm"),
    [
        (LOW, "low", False),
        (LOW, "high", True),
        (LOW, "right", False),
        (OVER, "high", False),
        (OVER, "low", True),
        (HEALTHY, "low", True),
        (HEALTHY, "high", True),
        (HEALTHY, "right", False),
        (WEAK, "low", True),
        (WEAK, "do not judge", False),
        (truth("weak-compressor", "low-charge"), "low", False),
        (truth("weak-compressor", "low-charge"), "high", True),
    ],
)
def test_harmful_advice(true, verdict, harm):
    assert score([one(true, says("low-charge", verdict=verdict))]).harmful == Rate(int(harm), 1)


def test_right_advice_where_charge_is_the_only_fault():
    cases = [
        one(LOW, says("low-charge", verdict="low")),
        one(LOW, says("low-charge", verdict="right")),
        one(OVER, says("overcharge")),
        one(HEALTHY, says("nothing-wrong", verdict="right")),
        one(HEALTHY, says("nothing-wrong", verdict="high")),
        one(WEAK, says("weak-compressor", verdict="right")),  # of another fault nothing is asked
    ]
    found = score(cases)
    assert found.right_charge == Rate(1, 3)
    assert found.right_advice == Rate(2, 5)
    assert found.undecided == Rate(1, 5)


def test_who_names_a_fault_advises_on_the_charge_only_where_it_is_of_the_charge():
    named = {fault: advice_of(fault) for fault in ("low-charge", "overcharge", "nothing-wrong", "weak-compressor")}
    assert list(named.values()) == ["low", "high", "right", "do not judge"]


def test_one_who_only_advises_is_not_counted_as_ranking():
    found = score([one(WEAK, replace(says(verdict="low"), ranks=False))])
    assert found.first == found.misdiagnosis == found.no_answer == Rate(0, 0)
    assert found.harmful == Rate(1, 1)


def test_confusions_are_counted_by_device_commonest_first():
    orifice = truth("weak-compressor", metering="fixed orifice")
    cases = [
        *[one(WEAK, says("nothing-wrong"))] * 2,
        one(orifice, says("nothing-wrong")),
        one(orifice, says("low-charge")),
        one(orifice, says("weak-compressor")),
        one(truth("metering-underfeeding"), says("liquid-line-restriction")),
        one(LOW, says()),
    ]
    found = confusions(cases)
    assert [(c.truth, c.first, dict(c.by_metering)) for c in found] == [
        ("weak-compressor", "nothing-wrong", {"fixed orifice": 1, "TXV": 2}),
        ("low-charge", None, {"fixed orifice": 0, "TXV": 1}),
        ("weak-compressor", "low-charge", {"fixed orifice": 1, "TXV": 0}),
    ]
    assert len(confusions(cases, most=1)) == 1


def test_reliability_of_a_judge_that_is_too_sure():
    """Forty times 0.85 and right half of the time: the one bin is 0.35 off."""
    cases = [one(LOW if i % 2 else OVER, says("low-charge", "overcharge", shares=(0.85, 0.15))) for i in range(40)]
    bins = reliability(cases, first_only=True)
    (full,) = [b for b in bins if b.true.of]
    assert (full.low, full.mean, full.true) == (0.8, pytest.approx(0.85), Rate(20, 40))
    assert full.off == pytest.approx(0.35)
    assert full.bad
    every = reliability(cases, first_only=False)
    assert [b.true.of for b in every] == [0, 40, 0, 0, 0, 0, 0, 0, 40, 0]
    few = reliability(cases[:29], first_only=True)
    assert not any(b.bad for b in few)  # below thirty nothing is judged


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30))
def test_every_share_falls_into_its_bin(shares):
    bins = reliability([one(LOW, says("low-charge", shares=(share,))) for share in shares], first_only=True)
    assert sum(b.true.of for b in bins) == len(shares)
    assert all(b.mean is None or b.low - 1e-9 <= b.mean <= b.high + 1e-9 for b in bins)


def test_thirds_are_of_equal_size_and_in_order():
    several = [truth("low-charge", place=i, severity=-0.9 + 0.03 * i) for i in range(9)]
    found = thirds(several)
    assert [found[i] for i in range(9)] == ["mild"] * 3 + ["middle"] * 3 + ["severe"] * 3
    assert thirds(several[:1]) == {0: "middle"}


def test_thirds_compare_like_with_like():
    """The worst of one sort is severe, however small its figure is beside those of another sort."""
    several = [truth("non-condensables", place=i, severity=0.001 * i) for i in range(1, 4)]
    several += [truth("overcharge", place=10 + i, severity=1.1 + 0.1 * i) for i in range(3)]
    assert thirds(several)[3] == thirds(several)[12] == "severe"


def test_pairs():
    both = truth("low-charge", "weak-compressor")
    alike = truth("liquid-line-restriction", "metering-underfeeding")
    cases = [
        one(both, says("weak-compressor", "low-charge")),
        one(both, replace(says("weak-compressor", "overcharge"), also=("low-charge",))),
        one(both, says("overcharge", "low-charge", verdict="low")),
        one(both, says()),
        one(alike, says("liquid-line-restriction", "low-charge", verdict="low")),
    ]
    found = score_pairs("basic", cases)
    assert found.one_first == Rate(3, 5)
    assert found.both_first_two == Rate(2, 5)
    assert found.both_named == Rate(2, 5)
    assert found.both_told == Rate(3, 5)
    assert found.no_answer == Rate(1, 5)
    assert found.harmful == Rate(1, 5)


def test_what_is_told_beside_the_ranking():
    """A range that only says "at least" has no width; what is gained is no loss, and no reason to claim one."""
    lacks = replace(LOW, charge=-25.0, lost=(12.0, 8.0))
    over = replace(OVER, charge=30.0, lost=(-2.0, 3.0))
    cases = [
        one(lacks, replace(says("low-charge"), amount=(-30.0, -10.0), costs=((5, 12), (9, 20)))),
        one(lacks, replace(says("low-charge"), amount=(-math.inf, -8.0), also=("weak-compressor",))),
        one(over, replace(says("overcharge"), amount=(2.0, 22.0), costs=((0, 0), (0, 9)))),
        one(over, replace(says("overcharge"), costs=((1, 4), None), also=("overcharge",))),
        one(HEALTHY, replace(says("low-charge"), amount=(-22.0, -2.0), also=("low-indoor-airflow",))),
    ]
    found = told(cases)
    assert found.second_in_vain == Rate(2, 5)
    assert found.amount == Rate(2, 3)
    assert found.at_least == Rate(1, 3)
    assert found.width == 20.0
    assert found.cooling == Rate(2, 3)
    assert found.efficiency == Rate(1, 2)
    assert told([one(HEALTHY, says())]).width is None


def test_slips_are_counted_for_each_set():
    found = score_slips(
        [Slipped("basic", "a", True, False), Slipped("basic", "a", False, True), Slipped("all", "a", True, False)]
    )
    assert [(s.name, s.named, s.false) for s in found] == [
        ("basic", Rate(1, 2), Rate(1, 2)),
        ("all", Rate(1, 1), Rate(0, 1)),
    ]


# -- one case ------------------------------------------------------------------------------------------------------


def some(fault: str, metering: str, seed: int = 1) -> Practice:
    """The first machine of a seed with this fault and metering device."""
    for place in range(200):
        found = draw(seed, place, faults=[fault])
        if found.machine.metering == metering:
            return found
    raise AssertionError


@pytest.mark.parametrize("fault", ["low-charge", "overcharge", "metering-overfeeding"])
def test_severity_rises_with_the_damage(fault):
    """Sizes go both ways: 0.6 of the charge is worse than 0.9, 1.4 worse than 1.1, a loose bulb worse at 0 than at 0.6."""
    drawn = [(draw(2, i, faults=[fault]), i) for i in range(12)]
    for practice, i in drawn:
        found = truth_of(practice, i)
        ill = practice.faults
        if fault == "low-charge":
            assert found.severity == -practice.size
        elif fault == "overcharge":
            assert found.severity == practice.size
        elif ill.bulb_contact < 1.0:
            assert (found.severity, found.sort) == (-ill.bulb_contact, "metering-overfeeding TXV bulb")
        elif ill.valve_opening is not None:
            assert (found.severity, found.sort) == (ill.valve_opening, "metering-overfeeding TXV stuck")
        else:
            assert (found.severity, found.sort) == (ill.metering_size, "metering-overfeeding fixed orifice")


def test_fewer_readings_are_fewer_readings():
    practice = draw(1, 0)
    for names in READINGS.values():
        taken = with_only(practice.visit, names)["readings"]
        assert set(taken) == {*names, "minutes running"}
        assert all(value == practice.visit["readings"][name] for name, value in taken.items())
    assert set(READINGS["basic"]) < set(READINGS["running"]) < set(READINGS["airflow"]) < set(READINGS["all"])
    assert set(READINGS["airflow"]) - set(READINGS["running"]) == {"airflow"}


def test_a_fault_shows_only_where_it_moves_something():
    """Charge a third short shows; a machine compared with itself does not, nor does air by one thermometer outdoors."""
    practice = some("low-charge", "TXV")
    assert shows(practice, READINGS["basic"])
    assert not shows(replace(practice, state=practice.healthy), READINGS["basic"])
    assert not shows(practice, ("outdoor air temperature",))


@pytest.mark.parametrize(
    ("metering", "name", "by", "verdict"),
    [
        ("fixed orifice", "superheat", 5.2, "low"),
        ("fixed orifice", "superheat", 4.8, "right"),
        ("fixed orifice", "superheat", -5.2, "high"),
        ("TXV", "subcooling", 3.2, "high"),
        ("TXV", "subcooling", 2.8, "right"),
        ("TXV", "subcooling", -3.2, "low"),
    ],
)
def test_the_protocol_is_the_published_one(metering, name, by, verdict):
    """Superheat within 5 °F of the target, subcooling within 3 °F of the plate (ra3-2008, pages RA3-14 and RA3-15)."""
    practice = some("nothing-wrong", metering)
    found = estimate(visit_from(practice.visit))
    target = found[name].target
    moved = found | {name: found[name]._replace(value=target.value + by / 1.8)}
    assert protocol(moved, metering)[0].verdict == verdict


def test_the_protocol_goes_by_the_nearest_figure_where_the_chart_is_blank():
    practice = some("nothing-wrong", "fixed orifice")
    readings = practice.visit["readings"] | {"outdoor air temperature": "112 F", "return air wet bulb": "55 F"}
    found = estimate(visit_from({**practice.visit, "readings": readings}))
    assert found["superheat"].target is None
    said, off_chart = protocol(found, "fixed orifice")
    assert off_chart
    assert said.verdict in ("low", "right", "high")
    assert not said.ranks


def test_features_are_differences_where_there_is_an_expectation():
    found = estimate(visit_from(some("low-charge", "TXV").visit))
    row = features(found, "TXV")
    assert row["subcooling"] == pytest.approx(found["subcooling"].difference)
    assert row["compressor efficiency"] == found["compressor efficiency"].value
    assert row["fixed orifice"] == 0.0
    assert "running time" not in row
    assert beside(row, row)["subcooling against the baseline"] == 0.0


def test_shares_of_one_group_are_added_and_the_order_is_kept(book):
    diagnosis = examine(some("metering-underfeeding", "fixed orifice").visit, book)
    answer = answer_of(diagnosis)
    assert sum(share for _, share in answer.ranked) == pytest.approx(1.0)
    assert answer.first == merged(diagnosis.faults[0].fault)
    both = {f.fault: f.share for f in diagnosis.faults if merged(f.fault) == "liquid-line-restriction"}
    assert len(both) == 2
    assert dict(answer.ranked)["liquid-line-restriction"] == pytest.approx(sum(both.values()))


# -- slips ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.name)
def test_a_slip_changes_what_it_says_and_can_be_read(slip):
    visit = draw(4, 1).visit
    before = json.dumps(visit)
    made = slip.made(visit, random.Random(1))
    assert json.dumps(visit) == before  # the visit itself is left alone
    visit_from(made)
    different = {
        (part, name)
        for part in ("machine", "readings")
        for name in visit[part]
        if visit[part][name] != made[part][name]
    }
    assert len(different) == (1 if "refrigerant" in slip.name else 2)
    if "swapped" in slip.name:
        assert slip.made(made, random.Random(1)) == visit


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
def test_another_refrigerant_is_no_twin(refrigerant):
    visit = draw(4, 1).visit
    visit = {**visit, "machine": {**visit["machine"], "refrigerant": refrigerant}}
    near = next(family for family in TWINS if refrigerant in family)
    for slip in SLIPS:
        if "refrigerant" in slip.name:
            entered = slip.made(visit, random.Random(2))["machine"]["refrigerant"]
            assert entered != refrigerant
            assert (entered in near) == (slip.name == "near-twin refrigerant")


@pytest.mark.parametrize(
    ("slip", "code", "named"),
    [
        ("line clamps swapped", "clamps-swapped", True),
        ("line clamps swapped", "suction-line-too-cold", False),
        ("line clamps swapped", "suction-line-above-discharge-line", False),
        ("return and supply swapped", "supply-air-above-return-air", True),
        ("wet and dry bulb swapped", "return-wet-bulb-above-dry-bulb", True),
        ("gauges swapped", "suction-above-liquid", True),
        ("another refrigerant", "saturations-too-high", True),
        ("near-twin refrigerant", "saturations-too-low", True),
        ("another refrigerant", "supply-air-too-cold", False),
    ],
)
def test_a_slip_is_named_by_the_code_that_says_it(slip, code, named):
    (kind,) = [s for s in SLIPS if s.name == slip]
    sound = examine(some("low-charge", "TXV").visit)
    assert kind.named(replace(sound, doubts=(Doubt(Reason(code)),))) is named
    assert kind.named(replace(sound, doubts=(Doubt(Reason("no-known-pattern")),))) is False


def test_the_code_of_a_slip_is_the_code_of_some_doubt():
    assert {code for slip in SLIPS for code in slip.codes} <= set(SENTENCES)


# -- the classifier ------------------------------------------------------------------------------------------------


def test_the_classifier_learns_what_can_be_learnt():
    """Two classes a line parts: right on rows it has not seen, chances add up, and a missing column does no harm."""
    pytest.importorskip("sklearn")
    chance = random.Random(5)
    rows = [{"superheat": chance.gauss(0, 1), "subcooling": chance.gauss(0, 1)} for _ in range(300)]
    truths = ["low-charge" if row["superheat"] > row["subcooling"] else "overcharge" for row in rows]
    model = classifier.trained(rows[:200], truths[:200])
    found = model.ranked(rows[200:])
    assert sum(one[0][0] == true for one, true in zip(found, truths[200:], strict=True)) >= 90
    assert all(sum(share for _, share in one) == pytest.approx(1.0) for one in found)
    assert model.ranked([{"superheat": 9.0}])[0][0][0] == "low-charge"


def test_without_scikit_learn_the_row_says_so(monkeypatch):
    monkeypatch.setattr(classifier, "available", lambda: False)
    found = evaluate(1, 3, readings=["basic"], jobs=1)
    assert found.trained == 0
    assert found.measured[0].classifier is None
    assert "install scikit-learn to see it" in as_text(evaluation_page(found))


# -- the whole run -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def run() -> evaluation.Evaluation:
    train = TO_LEARN if classifier.available() else 0
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(classifier, "LEAST", TO_LEARN)
        return evaluate(
            11, CASES, readings=["basic", "all"], baseline=True, pairs=True, slips=True, train=train, jobs=1
        )


def test_a_run_agrees_with_its_cases(run, book):
    """Counted again here, one case at a time, from the result that a user would see."""
    first, harmful = 0, 0
    for place in range(CASES):
        practice = draw(11, place)
        visit = {**practice.visit, "readings": {
            k: v for k, v in practice.visit["readings"].items() if k in READINGS["basic"] or k == "minutes running"
        }}  # fmt: skip
        result = examine(visit, book).to_dict()
        leader = result["faults"][0]["fault"] if result["faults"] else None
        group = {"liquid-line-restriction", "metering-underfeeding"}
        first += leader == practice.truth or (leader in group and practice.truth in group)
        verdict = result["charge"]["verdict"]
        harmful += verdict == "low" and practice.truth != "low-charge"
        harmful += verdict == "high" and practice.truth != "overcharge"
    assert run.measured[0].rules.score.first == Rate(first, CASES)
    assert run.measured[0].rules.score.harmful == Rate(harmful, CASES)


def test_the_parts_add_up(run):
    for m in run.measured:
        whole = m.rules.score
        cells = [cell for inner in m.rules.by_fault.values() for cell in inner.values()]
        assert sum(cell.first.count for cell in cells) == whole.first.count
        assert sum(cell.first.of for cell in cells) == whole.first.of == CASES
        assert sum(cell.harmful.count for cell in cells) == whole.harmful.count
        sized = [cell for inner in m.rules.by_size.values() for cell in inner.values()]
        assert sum(cell.first.of for cell in sized) == whole.misdiagnosis.of
        assert sum(b.true.of for b in m.rules.reliability_first) == CASES - whole.no_answer.count
        wrong = sum(c.count for c in m.rules.confusions)
        assert wrong <= whole.first.of - whole.first.count
        assert m.protocol.first.of == 0
        assert m.protocol.undecided.count == 0  # it always says something
    assert set(run.measured[0].rules.by_fault) <= set(FAULTS)
    assert run.pairs[0].one_first.of == run.pairs_with_baseline[0].one_first.of == CASES
    assert run.pairs != run.pairs_with_baseline
    assert {s.slip for s in run.slips} == {s.name for s in SLIPS}


def test_the_rules_do_less_harm_than_the_protocol_alone(run):
    for m in run.measured:
        assert m.rules.score.harmful.count < m.protocol.harmful.count


def test_the_ceiling_is_above_chance(run):
    pytest.importorskip("sklearn")
    for m in run.measured:
        assert m.classifier.first.count > CASES / 2  # nine classes: chance is one or two of twelve
        assert m.classifier_with_baseline is not None


def test_the_page_says_it_all_in_80_columns(run):
    text = as_text(evaluation_page(run), 80)
    assert max(map(len, text.splitlines())) <= 80
    for words in (
        "true fault first",
        "with baseline",
        "Floor",
        "Ceiling",
        f"Two faults at once: {CASES} machines",
        "line clamps",
    ):
        assert words in text
    first = run.measured[0].rules.score.first
    assert f"{first.share:.2f} ±{first.margin:.2f}" in text
    assert "no figure here is about real machines" in text.replace("\n", " ").lower()
    assert "| true fault first |" in as_markdown(evaluation_page(run))


def test_the_widest_page_fits():
    """Four sets of readings, with counts of thousands."""
    found = evaluate(2, 2, train=0, jobs=1)
    wide = replace(found, measured=tuple(replace(m, off_chart=Rate(1234, 5000)) for m in found.measured))
    assert max(map(len, as_text(evaluation_page(wide), 80).splitlines())) <= 80


def test_json_carries_all_numbers(run):
    data = json.loads(json.dumps(run.to_dict(), allow_nan=False))
    basic = data["measured"][0]
    first = run.measured[0].rules.score.first
    assert basic["rules"]["score"]["first"] == {
        "count": first.count,
        "of": CASES,
        "share": round(first.share, 5),
        "low": round(first.interval[0], 5),
        "high": round(first.interval[1], 5),
    }
    assert basic["readings"] == list(READINGS["basic"])
    assert len(basic["rules"]["reliability_all"]) == 10
    assert basic["with_baseline"]["score"]["first"]["of"] == CASES
    assert data["seed"] == 11
    assert {"one_first", "both_first_two", "both_named", "both_told"} <= set(data["pairs"][0])


def test_the_same_seed_gives_the_same_figures_however_many_share_the_work():
    alone = evaluate(5, 4, readings=["basic"], train=0, jobs=1)
    shared = evaluate(5, 4, readings=["basic"], train=0, jobs=2)
    other = evaluate(6, 4, readings=["basic"], train=0, jobs=1)
    assert alone == shared
    assert alone.measured != other.measured


def test_progress_is_told_case_by_case():
    told: list[tuple[int, int]] = []
    evaluate(5, 3, readings=["basic"], train=0, jobs=1, progress=lambda done, count: told.append((done, count)))
    assert told == [(1, 3), (2, 3), (3, 3)]


# -- the command ---------------------------------------------------------------------------------------------------


def command(*words: str) -> commands.Ran:
    return commands.run("cases", "run", *words, COLUMNS="80")


def test_the_command_prints_the_page_and_the_json():
    options = ("--simulated", "3", "--seed", "3", "--readings", "basic", "--train", "0")
    assert "3 simulated machines, seed 3." in command(*options).fine()
    data = json.loads(command(*options, "--as", "json").stdout)
    assert data == evaluate(3, 3, readings=["basic"], train=0, jobs=1).to_dict()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--simulated", "0"), "--simulated must be 1 or more, not 0"),
        (("--simulated", "5", "--seed", "-1"), "--seed must be 0 or more, not -1"),
        (("--simulated", "5", "--train", "9"), "--train must be 0, or 100 or more, not 9"),
        (("--simulated", "5", "cases/demo"), "cases/demo is given as well"),
        (("--seed", "5"), "--seed goes with --simulated only"),
        (("--pairs", "--slips"), "2 problems to mend"),
        (("--as", "json"), "--as json goes with --simulated only"),
        (("--readings", "basic"), "--readings goes with --simulated only"),
        (("--baseline",), "--baseline goes with --simulated only"),
        (("--train", "200"), "--train goes with --simulated only"),
        (("--families", "seen"), "--families goes with --simulated only"),
    ],
)
def test_bad_options_of_the_command(words, said):
    err = command(*words).refused()
    assert said in err


def test_own_rules_are_measured(tmp_path: Path, book):
    """A company that meets mostly weak compressors is measured by its own book."""
    usual = book.faults["weak-compressor"].usual
    change = (
        f"{{usual: weak-compressor, was: {usual:g}, now: 4, because: the old mill is all we serve, date: '2026-05-03'}}"
    )
    folder = overlay(tmp_path, rules="", changes=f"changes:\n  - {change}\n")
    options = ("--simulated", "6", "--readings", "basic", "--train", "0", "--as", "json")
    out = command(*options, "--rules", str(folder)).fine()
    ours, shipped = json.loads(out), json.loads(command(*options).stdout)
    assert "harbour-cooling" in ours["rulebook"]
    assert _weak_firsts(ours) > _weak_firsts(shipped)


def _weak_firsts(data: dict) -> int:
    measured = data["measured"][0]["rules"]
    right = sum(cell["first"]["count"] for cell in measured["by_fault"].get("weak-compressor", {}).values())
    return right + sum(c["count"] for c in measured["confusions"] if c["first"] == "weak-compressor")
