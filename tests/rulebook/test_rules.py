"""Every test beside every rule of the shipped book, through both matchers; and what every rule must have."""

from __future__ import annotations

from functools import partialmethod

import pytest

from diagnose import load_rules
from diagnose.rulebook import Applying
from diagnose.rulebook.matcher.durable_rules import importable
from diagnose.workshop.trials import rule_trials, run_rule_trial

BOOK = load_rules()
TRIALS = list(rule_trials(BOOK))
BY_FILE = {file: [trial for trial in TRIALS if trial.file == file] for file in sorted({trial.file for trial in TRIALS})}
ENGINES = [
    pytest.param(
        "durable-rules", marks=pytest.mark.skipif(not importable(), reason="durable-rules does not load here")
    ),
    "plain",
]


@pytest.mark.parametrize("engine", ENGINES)
@pytest.mark.parametrize("file", BY_FILE)
def test_trials(file, engine, monkeypatch):
    monkeypatch.setattr(Applying, "matcher", partialmethod(Applying.matcher, engine))
    done = [(trial.name, run_rule_trial(trial, BOOK)) for trial in BY_FILE[file]]
    assert [f"{name}: {result.why}" for name, result in done if not result.passed] == []


def test_every_rule_has_a_source_and_both_tests():
    for rule in BOOK.rules:
        assert rule.entry.source[0] in BOOK.sources, rule.id
        if rule.when or rule.either:
            assert any(t.fires is not None for t in rule.entry.tests), rule.id
            assert any(t.quiet is not None for t in rule.entry.tests), rule.id


@pytest.mark.parametrize("only", ["low-charge", "low-charge.yaml", "low-charge/starved-and-empty", "states.yaml"])
def test_trials_of_one_fault_file_or_rule(only):
    found = list(rule_trials(BOOK, only))
    assert found
    assert len(found) < len(TRIALS)


def test_a_trial_that_fails_says_what_happened():
    wrong = next(t for t in TRIALS if t.rule == "low-charge/starved" and t.expected)
    upside_down = type(wrong)(wrong.rule, wrong.number, False, wrong.words, wrong.machine, wrong.file)
    result = run_rule_trial(upside_down, BOOK)
    assert not result.passed
    assert result.why.startswith(
        "low-charge/starved fires on {superheat: high} (states concluded: evaporator feed: starved"
    )
