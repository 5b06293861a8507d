"""What the rules' own tests leave untried."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest
import shared
from overlay import overlay

from diagnose import Diagnosis
from diagnose.rulebook import Rulebook, load_rules
from diagnose.workshop import coverage
from diagnose.workshop.coverage import fired_by, idle_conditions, never_fired, unused_words

ANY = """\
rules:
  - id: harbour-cooling/salt
    fault: low-outdoor-airflow
    title: The coil is closed
    when:
      any:
        - {coil corrosion: present}
        - {hot air return: present, outdoor fan: normal}
    points: 2
    why: The coil is closed.
    source: common-practice
    tests:
      - fires: {coil corrosion: present}
      - quiet: {coil corrosion: none}
"""
STATE = """\
rules:
  - id: harbour-cooling/salt
    fault: low-charge
    title: The evaporator is starved near the sea
    when: {evaporator feed: starved, coil corrosion: present}
    points: 3
    why: The evaporator is starved.
    source: common-practice
    tests:
      - fires: {superheat: high, coil corrosion: present}
      - quiet: {superheat: low, coil corrosion: present}
"""


def told(folder: Path) -> list[str]:
    return [str(idle) for idle in idle_conditions(load_rules(folder), "harbour-cooling/salt")]


def test_every_shipped_rule_has_a_firing_and_a_quiet_test(book: Rulebook) -> None:
    for rule in book.rules:
        if rule.conditions:
            assert {trial.fires is not None for trial in rule.entry.tests} == {True, False}, rule.id


def test_a_branch_that_no_test_fires_by_is_idle(tmp_path: Path) -> None:
    assert told(overlay(tmp_path, rules=ANY, changes="")) == [
        f"harbour-cooling/salt: `{condition}` is idle: no test fires because of it. Add a test that fires by it and falls "
        "quiet without it"
        for condition in ("hot air return: present", "outdoor fan: normal")
    ]


def test_a_branch_with_a_test_of_its_own_is_not(tmp_path: Path) -> None:
    more = ANY + "      - fires: {hot air return: present, outdoor fan: normal}\n"
    assert told(overlay(tmp_path, rules=more, changes="")) == []


def test_two_branches_that_fire_together_prove_neither(tmp_path: Path) -> None:
    both = ANY.replace(
        "fires: {coil corrosion: present}",
        "fires: {coil corrosion: present, hot air return: present, outdoor fan: normal}",
    )
    assert len(told(overlay(tmp_path, rules=both, changes=""))) == 3


def test_a_condition_on_a_state_is_tried_by_its_findings(tmp_path: Path) -> None:
    assert told(overlay(tmp_path, rules=STATE, changes="")) == []


def test_a_rule_whose_test_fails_is_told_as_failed_only(tmp_path: Path) -> None:
    wrong = STATE.replace("fires: {superheat: high", "fires: {superheat: low").replace(
        "quiet: {superheat: low", "quiet: {superheat: high"
    )
    assert told(overlay(tmp_path, rules=wrong, changes="")) == []


def test_only_those_asked_for_are_looked_at(tmp_path: Path) -> None:
    """Of all none of the shipped book is idle: tests/cli/test_rules_commands.py."""
    book = load_rules(overlay(tmp_path, rules=ANY, changes=""))
    assert idle_conditions(book, "low-charge") == []
    assert {idle.rule for idle in idle_conditions(book, "low-outdoor-airflow")} == {"harbour-cooling/salt"}


def test_rules_that_no_case_fires_are_listed(book: Rulebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """For information: `diagnose rules test` prints them. Most rules are fired by a shipped case."""

    def unfired(names: Iterable[str]) -> list[str]:
        fired = set().union(*(fired_by(d) for d in map(shared.examined, names)))
        return [rule.id for rule in book.rules if rule.conditions and rule.id not in fired]

    left = unfired(shared.PATHS)
    for mode, share in (("cooling", 0.2), ("heating", 0.6)):
        rules = book.in_mode(mode).rules
        assert len({rule.id for rule in rules} & set(left)) < len(rules) * share, mode
    assert "low-charge/starved-and-empty" not in left
    assert never_fired(book) == left
    some = list(shared.PATHS)[::15]
    monkeypatch.setattr(coverage, "case_paths", lambda: [shared.PATHS[name] for name in some])
    assert set(never_fired(load_rules(overlay(tmp_path, changes="")))) == {*unfired(some), "harbour-cooling/salt"}


def kinds(d: Diagnosis) -> set[object]:
    """What a result shows, as far as its pages are made otherwise for it."""
    shows = {
        d.status, d.charge.verdict, d.charge.method, d.system, d.visit.machine.metering, d.stop or "go on",
        *(fault.strength for fault in d.faults[:1]),
    }  # fmt: skip
    has = {
        "dangers": d.dangers, "a second fault": d.also, "doubts": d.doubts, "costs": d.costs, "good day": d.good_day,
        "amount": getattr(d.charge, "percent", None), "no known pattern": d.explained and not d.explained.known,
    }  # fmt: skip
    return shows | {name for name, what in has.items() if what}


def test_each_third_of_the_demos_shows_every_kind_of_result() -> None:
    """So that a page is tried on all of them where it is made of a ninth of the demos (shared.PARTS)."""
    every = [set().union(*(kinds(shared.examined(f"demo/{name}")) for name in part)) for part in shared.PARTS]
    assert every[0] == every[1] == every[2], "name a demo of what is missing in shared.RARE"


def test_words_that_nobody_asks_for(book: Rulebook) -> None:
    words = unused_words(book)
    assert words["air filter"] == ("clean",)
    assert "superheat" not in words
