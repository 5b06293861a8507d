"""A company's rules over the years: who wrote what, drafts, branches, and a folder that fits no longer."""

from __future__ import annotations

from pathlib import Path

import pytest
from overlay import FILES, NEW_POINTS, POINTS, overlay
from strategies import State, visit

from diagnose import examine, load_rules
from diagnose.report import as_text, first_screen
from diagnose.report.dangers import unfit_text
from diagnose.report.wording import change_text
from diagnose.rulebook import RuleError, from_data, to_data, usable_rules
from diagnose.rulebook.load import VARIABLE
from diagnose.shipped import shipped
from diagnose.visit import VisitError
from diagnose.workshop.comparing import book_named
from diagnose.workshop.showing import added_text, show_entry
from diagnose.yamlfile import InputProblems

SALT = "harbour-cooling/salt"


def with_status(status: str, name: str = "rules.yaml", before: str = "    title: ") -> dict[str, str]:
    text = FILES[name].replace(before, f"    status: {status}\n    author: the head of service\n{before}", 1)
    return {name.partition(".")[0]: text}


# -- who, since, status ------------------------------------------------------------------------------------------------


def test_a_draft_speaks_only_where_drafts_are_asked_for(tmp_path: Path) -> None:
    folder = overlay(tmp_path, **with_status("draft"))
    assert SALT not in load_rules(folder).by_id
    book = load_rules(folder, drafts=True)
    assert SALT in book.by_id
    assert book.name.endswith(" with drafts")
    assert SALT not in load_rules(folder).by_id  # the two are kept apart
    assert from_data(to_data(book)) == book


@pytest.mark.parametrize(("status", "told"), [("draft", "is a draft"), ("retired", "is retired")])
def test_whoever_asks_for_what_does_not_speak_is_told_why(tmp_path: Path, status: str, told: str) -> None:
    book = load_rules(overlay(tmp_path, **with_status(status)))
    with pytest.raises(InputProblems) as caught:
        show_entry(SALT, book)
    assert caught.value.problems[0].what == f"`{SALT}` {told}"


def test_what_is_retired_never_speaks(tmp_path: Path) -> None:
    folder = overlay(tmp_path, **with_status("retired"))
    for drafts in (False, True):
        book = load_rules(folder, drafts=drafts)
        assert SALT not in book.by_id
        assert book.signed[SALT].status == "retired"


def test_a_rule_in_force_cannot_ask_for_a_draft(tmp_path: Path) -> None:
    folder = overlay(tmp_path, **with_status("draft", "findings.yaml", "    what: "))
    with pytest.raises(RuleError) as refused:
        load_rules(folder)
    assert {problem.what for problem in refused.value.problems} == {
        "`coil corrosion` is a draft, and speaks only with `--drafts`"
    }
    assert SALT in load_rules(folder, drafts=True).by_id


def test_a_finding_that_is_retired_can_still_stand_in_a_visit(tmp_path: Path) -> None:
    folder = overlay(tmp_path, rules="", **with_status("retired", "findings.yaml", "    what: "))
    book = load_rules(folder)
    assert book.findings["coil corrosion"].ask is None
    data = {"machine": {"mode": "cooling"}, "seen": {"coil corrosion": "present"}}
    assert examine(data, book).visit.seen["coil corrosion"] == "present"


def test_who_wrote_it_is_told(tmp_path: Path) -> None:
    changes = FILES["changes.yaml"].replace("    because: many", "    author: the foreman\n    because: many")
    rules = FILES["rules.yaml"].replace(
        "    title: ", "    author: the head of service\n    since: 2026-03-01\n    title: "
    )
    book = load_rules(overlay(tmp_path, changes=changes, rules=rules))
    told = added_text(SALT, "harbour-cooling", book)
    assert told == "Added by harbour-cooling (the head of service), in force since 2026-03-01"
    ((own, change),) = book.changes_of("low-charge/starved-and-empty")
    assert change_text(own, change).startswith("points changed by harbour-cooling (the foreman) on 2026-05-01 from ")


@pytest.mark.parametrize("line", ["status: paused", "since: last spring", "author: [a, b]"])
def test_what_an_entry_cannot_say_of_itself(tmp_path: Path, line: str) -> None:
    with pytest.raises(RuleError) as refused:
        load_rules(overlay(tmp_path, rules=FILES["rules.yaml"].replace("    title: ", f"    {line}\n    title: ")))
    (problem,) = refused.value.problems
    assert problem.fix
    assert problem.line == 4


# -- a branch over its firm --------------------------------------------------------------------------------------------


def branch(parent: Path, was: float, now: float) -> Path:
    folder = parent / "a-branch"  # before its firm by the alphabet
    folder.mkdir()
    text = f"was: {was:g}, now: {now:g}, because: here, date: 2026-06-01"
    path = folder / "changes.yaml"
    path.write_text(f"changes:\n  - {{points: low-charge/starved-and-empty, {text}}}\n", encoding="utf-8")
    return folder


@pytest.mark.parametrize("now", [NEW_POINTS - 0.25, POINTS])
def test_a_branch_changes_what_its_firm_changed(tmp_path: Path, now: float) -> None:
    book = load_rules(overlay(tmp_path), branch(tmp_path, NEW_POINTS, now))
    assert book.by_id["low-charge/starved-and-empty"].points == now


def test_two_that_begin_at_the_same_figure_are_told(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="already changed in") as refused:
        load_rules(overlay(tmp_path), branch(tmp_path, POINTS, 1.0))
    assert "with `was: 1`" in str(refused.value)


def test_a_branch_may_switch_off_what_its_firm_changed(tmp_path: Path) -> None:
    folder = branch(tmp_path, 1.0, 2.0)
    off = "changes:\n  - {off: low-charge/starved-and-empty, because: here, date: 2026-06-01}\n"
    (folder / "changes.yaml").write_text(off, encoding="utf-8")
    assert "low-charge/starved-and-empty" not in load_rules(overlay(tmp_path), folder).by_id


def test_stricter_for_the_firm_and_nearer_to_the_shipped_for_a_branch_is_not_loose(tmp_path: Path) -> None:
    for name, was, now in (("firm", 610, 580), ("quay", 580, 600), ("yard", 600, 620)):
        (tmp_path / name).mkdir()
        text = f"pressure_limit: R-410A, was: {was} psig, now: {now} psig, because: so, date: 2026-06-01"
        (tmp_path / name / "changes.yaml").write_text(f"changes:\n  - {{{text}}}\n", encoding="utf-8")
    assert not load_rules(tmp_path / "quay", tmp_path / "firm").loosened
    with pytest.raises(RuleError, match="a limit of 620 psig instead of 610 psig"):
        load_rules(tmp_path / "yard", tmp_path / "quay", tmp_path / "firm")


# -- a folder that fits no longer --------------------------------------------------------------------------------------


def test_no_mistake_in_a_folder_stops_a_visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    folder = overlay(tmp_path)
    sound = load_rules(folder)
    (folder / "rules.yaml").write_text(FILES["rules.yaml"].replace("points: 2", "points: two"), encoding="utf-8")
    book = usable_rules(folder)
    assert (book.unfit.folders, book.unfit.mistakes, book.unfit.instead) == (("harbour-cooling",), 1, "last")
    assert book.by_id == sound.by_id
    d = examine(visit(State()), book)
    assert unfit_text(book.unfit) in " ".join(as_text(first_screen(d)).split())
    assert d.to_dict()["unfit_rules"]["instead"] == "last"
    assert examine(visit(State()), sound).to_dict()["unfit_rules"] is None


def test_without_a_sound_version_the_shipped_book_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", "off")
    folder = overlay(tmp_path, rules="rules: [")
    monkeypatch.setenv(VARIABLE, str(folder))
    d = examine(visit(State()))
    assert d.rules.base == "shipped"
    assert "the shipped rules alone are used here" in as_text(first_screen(d)).replace("\n  ", " ")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "share that is not mounted"))
    assert examine(visit(State())).rules.unfit is not None


def test_a_line_that_only_these_rules_know_does_not_stop_the_visit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", "off")
    book = usable_rules(overlay(tmp_path, rules="rules: ["))
    data = {"machine": {"mode": "cooling", "duct run": "attic"}, "readings": {"shell temperature": "150 F"}}
    d = examine(data | {"seen": {"coil corrosion": "present", "air filter": "dirty"}}, book)
    assert set(d.visit.left_out) == {"duct run", "shell temperature", "coil corrosion"}
    assert d.visit.seen == {"air filter": "dirty"}
    assert "Left out of the visit: duct run, shell temperature, coil corrosion." in " ".join(
        as_text(first_screen(d)).split()
    )
    for slip in ({"readings": {"sucton pressure": "120 psig"}}, {"seen": {"air fliter": "dirty"}}):
        with pytest.raises(VisitError, match="Did you mean"):
            examine({"machine": {"mode": "cooling"}} | slip, book)


def test_a_folder_that_was_named_and_is_not_there_is_a_slip(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="there is no such folder of rules"):
        usable_rules(tmp_path / "harbor")


# -- stacks ------------------------------------------------------------------------------------------------------------


def test_stacks_by_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = overlay(tmp_path)
    over = branch(tmp_path, NEW_POINTS, POINTS)
    assert book_named(f"{folder} + {over}") is load_rules(folder, over)
    assert book_named(f"shipped+{folder}") == load_rules(folder)
    monkeypatch.setenv(VARIABLE, str(folder))
    assert book_named(None) is load_rules(folder)
    assert book_named("shipped") is load_rules(shipped("rules"))
