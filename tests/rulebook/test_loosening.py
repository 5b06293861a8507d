"""A company's rules may make dangers and holds stricter; looser or silent only where somebody answers for it, and told."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from strategies import State, visit, with_readings

from diagnose import examine, load_rules
from diagnose.report.dangers import loosened_text
from diagnose.report.pages import diagnosis_page
from diagnose.rulebook import Rulebook, RuleError, from_data, to_data
from diagnose.shipped import shipped
from diagnose.workshop.advice import loosened_notes

SAID = "because: We know better., date: 2026-05-01"
ANSWERED = ", approved_by: the head of service"
LOOSER = {
    "a danger switched off": "off: caution/discharge-far-too-hot",
    "a caution switched off": "off: caution/never-vent",
    "a hold switched off": "off: ready/running-time",
    "a danger later": "limits: discharge line, was: [225 F, 250 F], now: [240 F, 270 F]",
    "a danger later at one of its words": "limits: discharge line, was: [225 F, 250 F], now: [220 F, 260 F]",
    "a danger of low figures later": "limits: liquid at the compressor, was: [2 F, 5 F], now: [1 F, 5 F]",
    "a pressure limit raised": "pressure_limit: R-410A, was: 610 psig, now: 650 psig",
    "what has settled": "judgement: steadiness/repeatability, was: 0.2 F, now: 0.4 F",
    "how deep a vacuum must be": "judgement: start up/depth, was: 500 microns, now: 900 microns",
    "a hold that begins later": "limits: running time, was: [15 min], now: [10 min]",
}
STRICTER = {
    "a danger sooner": "limits: discharge line, was: [225 F, 250 F], now: [200 F, 240 F]",
    "a danger of low figures sooner": "limits: liquid at the compressor, was: [2 F, 5 F], now: [3 F, 6 F]",
    "a pressure limit lowered": "pressure_limit: R-410A, was: 610 psig, now: 41 bar gauge",
    "a hold that begins sooner": "limits: running time, was: [15 min], now: [20 min]",
    "what guards nothing": "off: low-charge/oil",
}


def book(parent: Path, change: str, more: str = "") -> Rulebook:
    folder = parent / "harbour"
    folder.mkdir()
    (folder / "changes.yaml").write_text(f"changes:\n  - {{{change}, {SAID}{more}}}\n", encoding="utf-8")
    return load_rules(folder)


@pytest.mark.parametrize("change", LOOSER.values(), ids=LOOSER)
def test_looser_is_refused_unless_somebody_answers_for_it(change: str, tmp_path: Path) -> None:
    with pytest.raises(RuleError) as refused:
        book(tmp_path, change)
    (problem,) = refused.value.problems
    assert (problem.line, problem.file) == (2, "harbour/changes.yaml")
    assert problem.fix.endswith("unless `approved_by:` says who answers for it.")


@pytest.mark.parametrize("change", LOOSER.values(), ids=LOOSER)
def test_what_was_loosened_is_told_on_the_page_and_in_json(change: str, tmp_path: Path) -> None:
    made = book(tmp_path, change, ANSWERED)
    ((own, loosened),) = made.loosened
    assert (own, loosened.approved_by, loosened.loosens) == ("harbour", "the head of service", True)
    text = loosened_text(own, loosened)
    assert loosened.target in text
    assert text.endswith("We know better. Approved by: the head of service.")
    d = examine(visit(State()), made)
    assert [block.text for block in diagnosis_page(d)[:2]][1] == text
    (told,) = d.to_dict()["loosened"]
    assert (told["target"], told["approved_by"], told["text"]) == (loosened.target, "the head of service", text)


def test_what_was_loosened_is_kept(tmp_path: Path) -> None:
    """One of each kind of change, in one book."""
    kinds = "a caution switched off", "a danger later", "a pressure limit raised", "what has settled"
    made = book(tmp_path, f", {SAID}{ANSWERED}}}\n  - {{".join(LOOSER[kind] for kind in kinds), ANSWERED)
    assert len(made.loosened) == len(kinds)
    assert from_data(to_data(made)) == made


@pytest.mark.parametrize("change", STRICTER.values(), ids=STRICTER)
def test_stricter_needs_nobody(change: str, tmp_path: Path) -> None:
    made = book(tmp_path, change)
    assert made.loosened == ()
    assert len(made.changes) == 1


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ("pressure_limit: R-410B, was: 610 psig, now: 600 psig", "`R-410B` has no pressure limit"),
        (
            "pressure_limit: R-410A, was: 600 psig, now: 590 psig",
            "the shipped book has moved on, its limit is now 610 psig",
        ),
        ("pressure_limit: R-410A, was: 610 psig, now: 600 F", "600 F"),
        ("pressure_limit: R-410A, was: 610 psig, now: 600 psia", "`600 psia` is no pressure above the air"),
        ("pressure_limit: R-410A, was: 610 psig, now: 610 psig", "nothing is changed"),
        ("pressure_limit: R-410A, was: 610, now: 600", "must be pressures"),
    ],
)
def test_a_pressure_limit_that_cannot_be_changed_so(change: str, what: str, tmp_path: Path) -> None:
    with pytest.raises(RuleError) as refused:
        book(tmp_path, change)
    assert what in str(refused.value)


IMPOSSIBLE = {
    "pressure_limit: R-410A, was: 610 psig, now: 900 psig": "a limit of 900 psig cannot be right for R-410A",
    "pressure_limit: R-410A, was: 610 psig, now: 60 psig": "a limit of 60 psig cannot be right for R-410A",
    "limits: discharge line, was: [225 F, 250 F], now: [900 F, 950 F]": "no machine comes near `900 F`",
    "limits: running time, was: [15 min], now: [40 h]": "no machine comes near `40 h`",
}


@pytest.mark.parametrize("change", IMPOSSIBLE)
def test_nobody_can_answer_for_what_cannot_be(change: str, tmp_path: Path) -> None:
    with pytest.raises(RuleError) as refused:
        book(tmp_path, change, ANSWERED)
    (problem,) = refused.value.problems
    assert IMPOSSIBLE[change] in problem.what


def test_check_names_everything_that_is_less_strict(tmp_path: Path) -> None:
    made = book(tmp_path, LOOSER["a danger switched off"], ANSWERED)
    (note,) = loosened_notes(made)
    assert note.startswith(
        "Less strict than the shipped rules: rule caution/discharge-far-too-hot, switched off by harbour"
    )
    assert not list(loosened_notes(load_rules()))


def test_a_whole_book_without_a_shipped_caution_is_told(tmp_path: Path) -> None:
    shutil.copytree(shipped("rules"), tmp_path / "quay")
    path = tmp_path / "quay" / "cautions.yaml"
    before, _, after = path.read_text(encoding="utf-8").partition("  - id: caution/never-vent\n")
    path.write_text(before + after[after.index("  - id: ") :], encoding="utf-8")
    (note,) = loosened_notes(load_rules(tmp_path / "quay"))
    assert note.startswith("Less strict than the shipped rules: quay has no rule caution/never-vent")


def test_a_lower_limit_is_used(tmp_path: Path) -> None:
    warm = with_readings(visit(State()), liquid_pressure="595 psig")
    lower = book(tmp_path, "pressure_limit: R-410A, was: 610 psig, now: 590 psig")
    found: list[Any] = [[danger.code for danger in examine(warm, rules).dangers] for rules in (load_rules(), lower)]
    assert found == [["high-side-near-limit"], ["high-side-pressure"]]


def test_a_folder_cannot_bring_limits_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "harbour").mkdir()
    text = "pressure_limits:\n  limits: {R-410A: 900 psig}\n  near: 1\n  source: common-practice\n  why: We like it.\n"
    (tmp_path / "harbour" / "cautions.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(RuleError, match="`pressure_limits` is the shipped book's own"):
        load_rules(tmp_path / "harbour")
