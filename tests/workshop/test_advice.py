"""A fault of a company's own among the others: whether it can come first, what parts it, and what it takes from them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_book import written
from work import THOROUGH

from diagnose.diagnosis.next_checks import next_checks
from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.workshop import skeleton
from diagnose.workshop.advice import (
    begun_notes,
    idle_notes,
    left_over_notes,
    own_faults,
    parted_by,
    rival_notes,
    share_notes,
)
from diagnose.workshop.skeleton import Wanted, start
from diagnose.workshop.trials import case_paths, read_case, rule_trials, run_case, run_rule_trial
from diagnose.yamlfile import InputProblems

GENERAL = """\
fault: quay-leak
name: Our leak
usual: 0
usual_source: book
what: It leaks.
rules:
  - id: quay-leak/low
    title: Superheat is low
    when: {superheat: low}
    points: 1
    why: It is {superheat}.
    source: book
    tests:
      - fires: {superheat: low}
      - quiet: {superheat: high}
"""


def small(parent: Path, fault: str, **texts: str) -> Rulebook:
    own = {"faults/quay-leak.yaml": fault, **{f"{name}.yaml": text for name, text in texts.items()}}
    return load_rules(written(parent / "book"), written(parent / "quay", own))


def test_what_nobody_filled_in_or_reads_is_told(tmp_path: Path) -> None:
    start(tmp_path / "quay", Wanted("salt", fault="overcharge", new_findings=("white crust",)))
    (begun,) = begun_notes([tmp_path / "quay", written(tmp_path / "book")])
    assert begun.startswith("quay: 8 lines with FILL IN, from findings.yaml:5 on.")
    assert not list(idle_notes(load_rules(tmp_path / "quay")))  # nor is there any in the shipped book
    idle = {
        "findings.yaml": "findings:\n  - {finding: crust, what: w, seen: true, ask: Look., words: [none, thick]}\n",
        "checks.yaml": "checks:\n  - {check: net-loft-look, ask: Look., why: W, minutes: 5}\n"
        "  - {check: net-loft-feel, ask: Feel., why: W, minutes: 5, gives: [crust]}\n",
    }
    assert list(idle_notes(load_rules(written(tmp_path / "net-loft", idle)))) == [
        "No rule reads crust: it changes no answer.",
        "net-loft-look gives no finding and no rule names it as its `check`: it is never advised.",
    ]


def test_one_general_rule_loses_to_the_fault_that_has_more(tmp_path: Path) -> None:
    first, *rest = rival_notes(small(tmp_path, GENERAL))
    assert first.startswith("quay-leak never comes first")
    assert "overcharge stays ahead by 1.0 points (overcharge/flooded)" in first
    assert not [note for note in rest if "overcharge" in note]  # a point apart: by how much both say it


def test_the_same_evidence_cannot_be_parted(tmp_path: Path) -> None:
    notes = list(rival_notes(small(tmp_path, GENERAL.replace("points: 1", "points: 2"))))
    assert any("Nothing tells quay-leak from overcharge" in note for note in notes)


SEEN = GENERAL.replace(
    "rules:\n",
    """rules:
  - id: quay-leak/stain
    title: A stain
    when: {stain: there}
    points: 3
    why: It is {stain}.
    source: book
    tests:
      - fires: {stain: there}
      - quiet: {stain: none}
""",
).replace("points: 1\n", "points: 2\n")
STAIN = "findings:\n  - {finding: stain, what: a stain, seen: true, words: [there, none]}\n"
LOOK = "checks:\n  - {check: quay-look, ask: Look., why: It shows., minutes: 2, gives: [stain]}\n"


def test_what_parts_them_must_be_given_by_a_check(tmp_path: Path) -> None:
    (note,) = rival_notes(small(tmp_path, SEEN, findings=STAIN))
    assert (
        note
        == "No check tells quay-leak from overcharge: only stain would, and no check gives it. Add one to checks.yaml."
    )
    for name, files in (
        ("asked", {"findings": STAIN.replace("true,", "true, ask: Look.,")}),
        ("checked", {"findings": STAIN, "checks": LOOK}),
    ):
        assert not list(rival_notes(small(tmp_path / name, SEEN, **files)))


def test_the_shipped_faults_are_not_talked_about() -> None:
    book = load_rules(shipped("rules"))
    assert not own_faults(book)
    assert not list(rival_notes(book))
    assert not list(share_notes(book))


def test_a_text_that_still_writes_out_a_limit_that_was_moved(tmp_path: Path) -> None:
    moved = "changes:\n  - {limits: superheat, was: [5 F, 20 F], now: [5 F, 22 F], because: so, date: 2026-05-01}\n"
    fault = GENERAL.replace("It is {superheat}.", "It is {superheat}. From 20 °F on it starves, below 5 °F it floods.")
    (note,) = left_over_notes(small(tmp_path, fault, changes=moved))
    assert note.startswith("quay-leak/low still says “20 °F”, a limit of superheat that quay has moved.")


@pytest.fixture(scope="module")
def alike(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    folder = tmp_path_factory.mktemp("alike") / "quay"
    start(folder, Wanted("slide", new_fault="valve", like="weak-compressor", new_findings=("slide knock",)))
    return load_rules(folder)


def test_a_look_alike_begins_with_what_both_share_and_what_parts_them(alike: Rulebook) -> None:
    mine, theirs = alike.evidence("quay-valve"), alike.evidence("weak-compressor")
    asked = {(rule.when, rule.either, rule.applies, rule.points) for rule in mine}
    shipped_ones = [rule for rule in theirs if not rule.own]
    assert all((rule.when, rule.either, rule.applies, rule.points) in asked for rule in shipped_ones)
    assert parted_by("quay-valve", "weak-compressor", alike) == {"slide knock"}
    assert not list(rival_notes(alike))
    assert alike.faults["quay-valve"].looks_like.keys() == {"weak-compressor"}
    parting, *others = alike.faults["quay-valve"].brings
    assert parting.findings == (("slide knock", frozenset({"present"})),)
    assert tuple(others) == alike.faults["weak-compressor"].brings
    assert alike.faults["quay-valve"].wrong_call == alike.faults["weak-compressor"].wrong_call
    own = [trial for trial in rule_trials(alike) if trial.rule.startswith("quay")]
    assert len(own) > 2 * len(shipped_ones)
    assert all(run_rule_trial(trial, alike).passed for trial in own)


@pytest.mark.parametrize(("seen", "first"), [("present", "quay-valve"), ("none", "weak-compressor")])
def test_the_parting_sign_decides(alike: Rulebook, seen: str, first: str) -> None:
    from diagnose.workshop.advice import _ranked

    words = {
        name: min(words) for rule in alike.evidence("quay-valve") if rule.points > 2 for name, words in rule.conditions
    }
    order = _ranked(words | {"slide knock": seen}, {"metering": "TXV"}, alike)
    assert next(place.fault for place in order if place.fault in ("quay-valve", "weak-compressor")) == first


def test_what_parts_them_is_advised(alike: Rulebook) -> None:
    d = run_case(read_case(shipped("cases") / "demo" / "weak-compressor-txv.yaml"), alike).diagnosis
    assert d.faults[0].fault == "weak-compressor"  # so far
    assert "quay-look-for-slide-knock" in [check.check for check in next_checks(d)]


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted("slide", new_fault="valve", like="weak-compressor"),
        Wanted("slide", new_fault="valve", like="weak-compresor", new_findings=("slide knock",)),
        Wanted("slide", fault="overcharge", like="weak-compressor", new_findings=("slide knock",)),
    ],
)
def test_a_look_alike_that_cannot_be_begun(tmp_path: Path, wanted: Wanted) -> None:
    with pytest.raises(InputProblems) as refused:
        start(tmp_path / "quay", wanted)
    assert refused.value.problems[0].fix
    assert not (tmp_path / "quay").exists()


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted("sign", fault="check-valve-leaking", new_findings=("warm bypass",)),
        Wanted("sign", fault="low-charge", findings=("air rise",)),
        Wanted("sign", new_fault="bypass", like="check-valve-leaking", new_findings=("warm bypass",)),
    ],
)
def test_what_is_of_heating_alone_is_begun_for_heating(tmp_path: Path, wanted: Wanted) -> None:
    begun = start(tmp_path / "quay", wanted)
    assert load_rules(tmp_path / "quay").by_id[begun.rule].applies == (("mode", frozenset({"heating"})),)


def test_a_rule_may_be_called_like_its_fault(tmp_path: Path) -> None:
    begun = start(tmp_path / "quay", Wanted("kink", new_fault="kink", like="low-charge", new_findings=("kinked line",)))
    assert begun.rule == "quay-kink/kink"


def test_ten_faults_as_they_are_begun_hardly_touch_the_shipped_cases(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "quay"
    asked = [
        "superheat",
        "subcooling",
        "compression ratio",
        "condensing over ambient",
        "evaporator temperature difference",
    ]
    asked += ["air temperature split", "liquid line approach", "discharge superheat", "air filter", "outdoor coil"]
    with monkeypatch.context() as patch:  # each is read with the next, and the last below
        patch.setattr(skeleton, "try_out", lambda *_: None)
        for i, finding in enumerate(asked):
            start(folder, Wanted(f"sign-{i}", new_fault=f"fault-{i}", findings=(finding,)))
    book = load_rules(folder)
    some = case_paths()[:: 1 if THOROUGH else 30]
    broken = [result for path in some if not (result := run_case(read_case(path), book)).passed]
    # Of 293 four, three of so few readings that ten more faults hold the verdict back; none is told to touch a charge.
    assert len(broken) <= max(1, len(some) / 72)
    told = ("charge is 'do not judge'", "charge is 'right'")
    assert all(len(result.wrong) == 1 and result.wrong[0].startswith(told) for result in broken)
    few = tmp_path / "few"
    few.mkdir()
    for path in case_paths(shipped("cases") / "textbook")[:: 1 if THOROUGH else 4]:
        shutil.copy(path, few)
    notes = list(share_notes(book, few))
    assert [note.split(" ", 1)[0] for note in notes] == [f"quay-fault-{i}" for i in range(10)]
    assert not [note for note in notes if "That is much" in note]
    loud = folder / "faults" / "quay-fault-0.yaml"
    loud.write_text(loud.read_text(encoding="utf-8").replace("usual: -3", "usual: 2"), encoding="utf-8")
    assert "That is much" in next(share_notes(load_rules(folder), few))
