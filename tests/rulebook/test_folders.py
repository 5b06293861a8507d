"""Which folders are read as rules, and what is said of one from which nothing would be."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from overlay import FILES, overlay
from small_book import written

from diagnose.rulebook import RuleError, load_rules
from diagnose.shipped import shipped

RULE = FILES["rules.yaml"]
FAULT = """\
fault: harbour-cooling-fan
name: Fan on the wrong tap
usual: 0
usual_source: common-practice
what: The fan runs on the wrong tap.
rules:
  - id: harbour-cooling-fan/warm
    title: The air is warm
    when: {coil corrosion: present}
    points: 1
    why: It is.
    source: common-practice
    tests:
      - fires: {coil corrosion: present}
      - quiet: {coil corrosion: none}
"""


def problems_of(folder: Path) -> str:
    with pytest.raises(RuleError) as caught:
        load_rules(folder)
    return str(caught.value)


def test_a_company_folder_with_every_file_it_may_have_is_no_whole_book(tmp_path: Path) -> None:
    folder = overlay(tmp_path, states="states: []\n", readiness="rules: []\n", cautions="rules: []\n",
                     checks="checks: []\n", sources="sources: {}\n")  # fmt: skip
    (folder / "faults").mkdir()
    (folder / "faults" / "harbour-cooling-fan.yaml").write_text(FAULT, encoding="utf-8")
    book = load_rules(folder)
    assert book.base == "shipped"
    assert "harbour-cooling-fan" in book.faults


def test_a_whole_book_without_one_of_its_files_is_still_told_as_one(tmp_path: Path) -> None:
    for name in ("judgement.yaml", "findings.yaml"):
        copy = tmp_path / name.partition(".")[0]
        shutil.copytree(shipped("rules"), copy)
        (copy / name).unlink()
        told = problems_of(copy)
        assert f"{copy.name}/{name}: there is no such file" in told
        assert "already" not in told


def test_rules_may_stand_in_several_files(tmp_path: Path) -> None:
    folder = overlay(tmp_path)
    (folder / "rules").mkdir()
    other = RULE.replace("/salt", "/sand").replace("points: 2", "points: 1").replace("coil corrosion: present}\n    p",
                                                                                    "coil corrosion: none}\n    p")  # fmt: skip
    other = other.replace("fires: {coil corrosion: present", "fires: {coil corrosion: none").replace(
        "quiet: {coil corrosion: none", "quiet: {coil corrosion: present"
    )
    path = folder / "rules" / "sand.yaml"
    path.write_text(other, encoding="utf-8")
    book = load_rules(folder)
    assert book.by_id["harbour-cooling/sand"].file == "harbour-cooling/rules/sand.yaml"
    path.write_text(other.replace("points: 1", "points: 3"), encoding="utf-8")
    assert load_rules(folder).by_id["harbour-cooling/sand"].points == 3  # a change there is noticed
    path.write_text(RULE, encoding="utf-8")
    assert "`harbour-cooling/salt` is already the id of a rule in harbour-cooling/rules.yaml:2" in problems_of(folder)


def test_too_many_rules_for_one_file_can_be_split(tmp_path: Path) -> None:
    rule = RULE.removeprefix("rules:\n")
    rules = [
        rule.replace("/salt", f"/salt-{i}").replace("when: {", f"when: {{air filter: {word}, superheat: {heat}, ")
        for i, (word, heat) in enumerate((w, h) for w in ("clean", "dirty") for h in ("low", "high"))
    ]
    folder = overlay(tmp_path, rules="rules:\n" + rule * 1500)
    assert "Split it: rules may stand in several files, in a folder `rules` beside this one." in problems_of(folder)
    (folder / "rules.yaml").unlink()
    (folder / "rules").mkdir()
    for i, text in enumerate(rules):
        fires = text.replace("fires: {coil", f"fires: {{{text.split('when: {')[1].split(', coil')[0]}, coil")
        (folder / "rules" / f"part-{i}.yaml").write_text(f"rules:\n{fires}", encoding="utf-8")
    assert sum(rule.own == "harbour-cooling" for rule in load_rules(folder).rules) == len(rules)


NAMED = {
    "rules.yaml.txt": "Call it `rules.yaml`.",
    "rules.txt": "Call it `rules.yaml`.",
    "faults/harbour-cooling-fan.yaml.txt": "Call it `harbour-cooling-fan.yaml`.",
    "rules/salt.yml": "Call it `salt.yaml`.",
    "changes.docx": "Save it as plain text. Call it `changes.yaml`.",
}


@pytest.mark.parametrize("name", NAMED)
def test_a_file_of_which_nothing_is_read_is_told(tmp_path: Path, name: str) -> None:
    path = tmp_path / "harbour-cooling" / name
    path.parent.mkdir(parents=True)
    path.write_text(RULE, encoding="utf-8")
    told = problems_of(tmp_path / "harbour-cooling")
    assert told == f"harbour-cooling/{name}: no rules are read from a file of this name\n      {NAMED[name]}"


@pytest.mark.parametrize("room", ["rules", "faults"])
def test_a_folder_below_one_of_rules_is_told(tmp_path: Path, room: str) -> None:
    below = overlay(tmp_path) / room / "summer"
    below.mkdir(parents=True)
    (below / "salt.yaml").write_text(RULE, encoding="utf-8")
    assert problems_of(tmp_path / "harbour-cooling") == (
        f"harbour-cooling/{room}/summer: no rules are read from a folder below this one\n"
        f"      Put its files into `{room}` itself, or the folder elsewhere."
    )


def test_notes_and_backups_beside_the_rules_are_left_alone(tmp_path: Path) -> None:
    folder = overlay(tmp_path)
    for name in ("notes.txt", "README.md", "rules.yaml~", ".rules.yaml.swp", "rules.yaml.orig"):
        (folder / name).write_text("Salt.", encoding="utf-8")
    assert "harbour-cooling/salt" in load_rules(folder).by_id


def test_a_folder_without_rules_is_told(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert "there are no rules in this folder\n      Its rules go into `findings.yaml`" in problems_of(
        tmp_path / "empty"
    )
    folder = overlay(tmp_path)
    assert f"There are some in the folder below it: give `{folder}`." in problems_of(tmp_path)
    book = written(tmp_path / "checkout" / "rules")
    assert f"give `{book}`" in problems_of(tmp_path / "checkout")
