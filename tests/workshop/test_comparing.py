"""Two books on every case: what changes is told, and only that."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import shared
from commands import run
from overlay import BOOK, LIMITS, NEW_LIMITS, NEW_POINTS, NEW_USUAL, POINTS, USUAL, overlay
from shared import DEMO

from diagnose.report import as_text
from diagnose.rulebook import Rulebook, load_rules
from diagnose.shipped import shipped
from diagnose.workshop.comparing import Difference, book_named, compare, comparison_page, differences
from diagnose.yamlfile import InputProblems

FEW = ("low-charge-orifice", "low-outdoor-airflow-orifice", "iced-coil")
SUPPORTING = [rule.id for rule in BOOK.evidence("low-charge") if rule.points > 0]
BREAKS = "changes:\n" + "".join(
    f'  - {{off: {rule}, because: to see it break, date: "2026-05-01"}}\n' for rule in SUPPORTING
)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A folder with a few of the shipped cases: charge, air, and one that is not ready."""
    folder = tmp_path / "cases" / "demo"
    folder.mkdir(parents=True)
    for name in FEW:
        shutil.copy(DEMO / f"{name}.yaml", folder)
    return folder


def test_a_book_and_itself(book: Rulebook, demo: Path) -> None:
    found = compare(book, book, demo)
    assert len(found.cases) == len(FEW)
    assert not found.moves
    assert not found.differences
    assert not any(change.differs for change in found.cases)
    said = as_text(comparison_page(found))
    assert said.startswith(f"0 of {len(found.cases)} cases change; 0 passed and fail now.\n")
    assert said.endswith("What differs in the books\n  Nothing.\n")


def test_what_differs_in_the_books(book: Rulebook, tmp_path: Path) -> None:
    found = list(differences(book, load_rules(overlay(tmp_path))))
    assert found == [
        Difference("rule", "low-charge/starved-and-empty", "changed", (f"points {POINTS:g} → {NEW_POINTS:g}",)),
        Difference("rule", "low-charge/oil", "removed"),
        Difference(
            "rule", "harbour-cooling/salt", "added", ("+2 points for low-outdoor-airflow: The fins are eaten by salt",)
        ),
        Difference("finding", "superheat", "changed", (f"limits {LIMITS} → {NEW_LIMITS}",)),
        Difference("finding", "coil corrosion", "added"),
        Difference("fault", "low-charge", "changed", (f"usual {USUAL:g} → {NEW_USUAL:g}",)),
    ]
    back = {(d.name, d.how) for d in differences(load_rules(tmp_path / "harbour-cooling"), book)}
    assert ("low-charge/oil", "added") in back
    assert ("coil corrosion", "removed") in back


def test_every_shipped_case_is_compared_unless_some_are_named(book: Rulebook) -> None:
    assert [change.case.name for change in compare(book, book).cases] == list(shared.PATHS)


def test_scores_move_and_the_largest_come_first(book: Rulebook, tmp_path: Path, demo: Path) -> None:
    found = compare(book, load_rules(overlay(tmp_path)), demo)
    sizes = [abs(move.by) for move in found.moves]
    assert sizes == sorted(sizes, reverse=True)
    move = next(move for move in found.moves if move.fault == "low-charge")
    assert move.new == pytest.approx(move.old + move.by)
    said = " ".join(as_text(comparison_page(found)).split())
    assert "harbour-cooling, 2026-05-03: old machines" in said
    assert "Largest moves of a score" in said


def test_a_case_that_fails_now_leaves_with_1(tmp_path: Path, demo: Path) -> None:
    folder = overlay(tmp_path, changes=BREAKS)
    done = run("rules", "compare", "shipped", str(folder), "--cases", str(demo))
    assert done.exit_code == 1
    assert "! demo/low-charge-orifice: passed, fails now\n" in done.stdout
    assert "first: low-charge (" in done.stdout
    assert "truth: low-charge\n" in done.stdout
    out = run("rules", "compare", str(folder), "shipped", "--cases", str(demo)).fine()
    assert "- demo/low-charge-orifice: failed, passes now\n" in out


def test_overlay_whole_book_and_shipped_by_name(book: Rulebook, tmp_path: Path) -> None:
    assert book_named("shipped").name == book.name
    assert book_named(str(shipped("rules"))).name == book.name
    assert book_named(str(overlay(tmp_path))).name.partition(" + ")[2].startswith("harbour-cooling (")


def test_shipped_is_shipped_whatever_the_environment_says(
    book: Rulebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_RULES", str(overlay(tmp_path)))
    assert book_named("shipped").name == book.name


def test_what_is_not_there(tmp_path: Path, book: Rulebook) -> None:
    with pytest.raises(InputProblems, match="there is no such folder of rules"):
        book_named(str(tmp_path / "none"))
    with pytest.raises(InputProblems, match="there is no case here"):
        compare(book, book, tmp_path)


def test_as_json(book: Rulebook, tmp_path: Path, demo: Path) -> None:
    data = compare(book, load_rules(overlay(tmp_path, changes=BREAKS)), demo).to_dict()
    changed = {entry["case"]: entry for entry in data["changed"]}
    assert changed["demo/low-charge-orifice"]["old"]["first"] == "low-charge"
    assert changed["demo/low-charge-orifice"]["new"]["passed"] is False
