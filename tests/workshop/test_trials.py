"""The runner that judges rules and cases: it must also fail when it should."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose.rulebook import Rulebook
from diagnose.shipped import shipped
from diagnose.workshop.coverage import Tally, tally
from diagnose.workshop.trials import (
    CaseResult,
    case_paths,
    read_case,
    read_cases,
    rule_trials,
    run_case,
    run_rule_trial,
)
from diagnose.yamlfile import InputProblems

LOW = shipped("cases") / "demo" / "low-charge-orifice.yaml"


def case_with(folder: Path, expect: dict[str, Any], **changes: Any) -> CaseResult:
    """The low charge case with other expectations."""
    content = yaml.safe_load(LOW.read_text(encoding="utf-8")) | {"expect": expect} | changes
    path = folder / "case.yaml"
    path.write_text(yaml.safe_dump(content), encoding="utf-8")
    return run_case(read_case(path))


RIGHT: list[dict[str, Any]] = [
    {},
    {"first": "low-charge"},
    {"first": ["overcharge", "low-charge"]},
    {"second": ["liquid-line-restriction", "metering-underfeeding", "weak-compressor"]},
    {"charge": "low"},
    {"first": "low-charge", "not_above": ["low-charge", "liquid-line-restriction"]},
    {"first": ["overcharge", "low-charge"], "not_above": ["liquid-line-restriction"]},
    {"percent": {"value": -18, "within": 5}},
    {"kg": {"value": -0.45, "within": 0.02}},
    {"charge": ["do not judge", "low"]},
    {"status": "diagnosed"},
    {"cautions": ["caution/gloves", "caution/electric"]},
    {"problems": ["sea-level-assumed"]},
    {"checks": ["find-the-leak"]},
    {"quantities": {"superheat": {"value": "24.9 F", "within": "0.1 F"}}},
    {"quantities": {"superheat": {"target": "11.3 F", "within": "0.1 F"}}},
    {"quantities": {"evaporating temperature": {"value": "38.1 F", "within": "0.1 F"}}},
    {"quantities": {"evaporating temperature": {"value": "3.4 C", "within": "0.1 K"}}},
    {"quantities": {"compression ratio": {"value": 2.62, "within": 0.01}}},
]
WRONG: list[tuple[dict[str, Any], str]] = [
    ({"first": "overcharge"}, "place 1 is low-charge, not overcharge (low-charge 1.00, "),
    ({"first": ["overcharge", "weak-compressor"]}, "place 1 is low-charge, not overcharge or weak-compressor ("),
    ({"first": "low-chrge"}, "`low-chrge` is not a fault"),
    ({"second": "overcharge"}, "place 2 is "),
    ({"first": ["overcharge"], "not_above": ["low-charge"]}, "place 1 is low-charge, not overcharge ("),
    ({"not_above": ["low-charge"]}, "low-charge ranks above all others"),
    ({"not_above": ["low-chrge"]}, "`low-chrge` is not a fault of this rule book. Did you mean `low-charge`?"),
    ({"also": ["overcharge"]}, "overcharge is not named as a second fault (none is)"),
    ({"also": ["over-charge"]}, "`over-charge` is not a fault of this rule book. Did you mean `overcharge`?"),
    ({"percent": {"value": -30, "within": 5}}, "percent is -18, not -30 within 5"),
    ({"kg": {"value": 0.45, "within": 0.02}}, "kg is -0.4"),
    ({"charge": "high"}, "charge is 'low', not high: The superheat is 24.9 ± 1.5 °F"),
    ({"charge": ["right", "do not judge"]}, "charge is 'low', not right or do not judge: "),
    ({"status": "not ready"}, "status is diagnosed, not not ready"),
    ({"cautions": ["caution/flammable-a3"]}, "caution caution/flammable-a3 is not shown"),
    ({"dangers": ["high-side-pressure"]}, "danger high-side-pressure is not told (none is)"),
    ({"problems": ["clamps-swapped"]}, "no problem is `clamps-swapped`; there are: sea-level-assumed"),
    ({"checks": ["weigh-in"]}, "check weigh-in is not advised ("),
    ({"quantities": {"superheat": {"value": "23 F", "within": "0.5 F"}}}, "superheat value is 24.9 F, not 23 F within 0.5 F"),
    ({"quantities": {"superheat": {"target": "13 F", "within": "0.5 F"}}}, "superheat target is 11.3 F, not 13 F within 0.5 F"),
    ({"quantities": {"evaporating temperature": {"value": "45 F", "within": "1 F"}}}, "evaporating temperature value is"),
    ({"quantities": {"evaporating temperature": {"target": "45 F", "within": "1 F"}}}, "evaporating temperature has no"),
    ({"quantities": {"compression ratio": {"value": 3, "within": 0.1}}}, "compression ratio value is 2.62, not 3 within 0.1"),
    ({"quantities": {"compression ratio": {"value": "hot", "within": 0.1}}}, "quantity compression ratio: "),
    ({"quantities": {"heat": {"value": "3 ton", "within": "1 ton"}}}, "quantity heat was not worked out"),
    ({"quantities": {"superheat": {"value": "23", "within": "1 F"}}}, "quantity superheat: `23` has no unit"),
    ({"quantities": {"superheat": {"value": "23 F"}}}, "quantity superheat: 'within' is missing"),
    ({"start_up": {"decay test": "done"}}, "the visit has no `start-up:`"),
]  # fmt: skip


@pytest.mark.parametrize("expect", RIGHT, ids=str)
def test_what_comes_out_passes(expect: dict[str, Any], tmp_path: Path) -> None:
    result = case_with(tmp_path, expect)
    assert result.wrong == ()
    assert result.passed


@pytest.mark.parametrize(("expect", "wrong"), WRONG, ids=lambda value: str(value)[:60])
def test_what_does_not_come_out_fails_and_is_said(expect: dict[str, Any], wrong: str, tmp_path: Path) -> None:
    result = case_with(tmp_path, expect)
    assert not result.passed
    assert result.wrong[0].startswith(wrong)


def test_every_key_of_expect_has_a_trial_that_fails() -> None:
    from diagnose.workshop.trials import Expected

    assert {key for expect, _ in WRONG for key in expect} == set(Expected.model_fields)


def test_all_that_is_wrong_is_said_at_once(tmp_path: Path) -> None:
    result = case_with(tmp_path, {"first": "overcharge", "charge": "high", "checks": ["weigh-in"]})
    assert len(result.wrong) == 3


def test_a_case_whose_visit_cannot_be_read_fails_with_its_problems(tmp_path: Path) -> None:
    result = case_with(tmp_path, {"first": "low-charge"}, visit={"readings": {"suction pressure": "118 psj"}})
    assert not result.passed
    assert result.diagnosis is None
    assert result.first_right is None
    assert "`psj`" in result.wrong[0]
    assert "case.yaml:" in result.wrong[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"expect": {"frist": "low-charge"}}, "first"),
        ({"expects": {}}, "expect"),
        ({"story": None}, "story"),
        ({"visit": "a text"}, "visit"),
    ],
    ids=str,
)
def test_a_case_file_with_a_mistake_is_refused(change: dict[str, Any], said: str, tmp_path: Path) -> None:
    content = yaml.safe_load(LOW.read_text(encoding="utf-8")) | change
    path = tmp_path / "case.yaml"
    path.write_text(yaml.safe_dump(content), encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        read_case(path)
    assert said in str(caught.value.problems[0])
    assert caught.value.problems[0].line


def test_case_paths(tmp_path: Path) -> None:
    assert case_paths(LOW) == [LOW]
    assert LOW in case_paths()
    assert case_paths(tmp_path) == []
    with pytest.raises(InputProblems):
        case_paths(tmp_path / "none")


def test_the_tally_never_pools_folders(tmp_path: Path) -> None:
    results = []
    for folder, expect in (("a", {"first": "low-charge"}), ("a", {"first": "overcharge"}), ("lab", {"charge": "low"})):
        (tmp_path / folder).mkdir(exist_ok=True)
        results.append(case_with(tmp_path / folder, expect))
    assert tally(results) == {
        "lab": Tally(passed=1, right=1),
        "a": Tally(passed=1, failed=1, first_right=2, ranked=2, right=2),
    }
    assert list(tally(results)) == ["lab", "a"]


@pytest.mark.parametrize(
    ("truth", "advice", "first"),
    [
        ("low-charge", "right", True),
        ("overcharge", "harmful", False),
        ("liquid-line-restriction", "harmful", False),
        ("nothing-wrong", "harmful", False),
        ("bad visit", "harmful", None),
    ],
)
def test_advice_to_add_is_harmful_wherever_the_charge_is_not_low(
    truth: str, advice: str, first: bool | None, tmp_path: Path
) -> None:
    result = case_with(tmp_path, {"first": "low-charge"}, truth=truth)
    assert result.passed
    assert result.advice == advice
    assert result.first_right is first


def test_a_charge_called_right_is_missed_where_it_is_off_and_right_where_another_fault_is_the_truth() -> None:
    case = read_case(shipped("cases") / "demo" / "nothing-wrong-orifice.yaml")

    def with_truth(truth: str) -> CaseResult:
        return run_case(dataclasses.replace(case, entry=case.entry.model_copy(update={"truth": truth})))

    assert with_truth("low-charge").advice == "missed"
    assert with_truth("low-indoor-airflow").advice == "right"
    assert with_truth("bad visit").advice == "missed"


def test_no_verdict_is_no_advice() -> None:
    assert run_case(read_case(shipped("cases") / "demo" / "swapped-pressures.yaml")).advice is None


def test_an_unknown_truth_fails_and_is_said(tmp_path: Path) -> None:
    result = case_with(tmp_path, {}, truth="low-chrge")
    assert result.wrong == ("`low-chrge` is not a fault of this rule book. Did you mean `low-charge`?",)


def test_a_visit_is_no_case(tmp_path: Path) -> None:
    path = tmp_path / "visit.yaml"
    path.write_text("readings: {suction pressure: 118 psig}\n", encoding="utf-8")
    with pytest.raises(InputProblems, match="this is a visit, not a case"):
        read_case(path)


def test_every_mistake_in_every_case_file_is_said_at_once(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.yaml").write_text("story: none\n", encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        read_cases(tmp_path)
    assert {Path(problem.file).stem for problem in caught.value.problems} == {"one", "two"}


# -- the rules' own tests ------------------------------------------------------------------------------------------


def test_every_test_of_every_rule_is_run(book: Rulebook) -> None:
    trials = list(rule_trials(book))
    assert len(trials) == sum(len(list(trial.each())) for rule in book.rules for trial in rule.entry.tests)
    assert {trial.rule for trial in trials} == {rule.id for rule in book.rules if rule.entry.tests}
    assert len({trial.name for trial in trials}) == len(trials)


@pytest.mark.parametrize("only", ["low-charge/starved", "low-charge", "low-charge.yaml", "states.yaml"])
def test_only_some(only: str, book: Rulebook) -> None:
    found = list(rule_trials(book, only))
    assert 0 < len(found) < len(list(rule_trials(book)))
    assert all(only in (trial.rule, trial.rule.split("/")[0], Path(trial.file).name) for trial in found)


def test_a_trial_that_expects_the_opposite_fails_and_says_why(book: Rulebook) -> None:
    for trial in rule_trials(book, "low-charge"):
        assert run_rule_trial(trial, book).passed
        result = run_rule_trial(dataclasses.replace(trial, expected=not trial.expected), book)
        assert not result.passed
        verb = "stays quiet" if not trial.expected else "fires"
        assert result.why.startswith(f"{trial.rule} {verb} on {{")
        assert "(states concluded: " in result.why


def test_states_are_concluded_from_the_whole_book(book: Rulebook) -> None:
    trial = next(trial for trial in rule_trials(book, "low-charge/starved-and-empty") if trial.expected)
    result = run_rule_trial(dataclasses.replace(trial, expected=False), book)
    assert "evaporator feed: starved" in result.why
    assert "condenser liquid: short" in result.why
