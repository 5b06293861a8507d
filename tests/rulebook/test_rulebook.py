"""The rule book: what is shipped is sound. What is said about mistakes: test_rule_errors.py."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from small_book import SMALL, written

from diagnose import RuleError, load_rules
from diagnose.rulebook import applies, machine_facts
from diagnose.rulebook.book import MOST_KEPT
from diagnose.visit import visit_from


@pytest.fixture
def rules_folder(tmp_path: Path) -> Path:
    """The small book in files."""
    return written(tmp_path / "rules")


# -- what is shipped ---------------------------------------------------------------------------------------------------------


def test_the_shipped_book_is_sound(book):
    assert re.fullmatch(r"shipped \([0-9a-f]{8}\)", book.name)


def test_it_is_read_once():
    assert load_rules() is load_rules()


def test_every_fault_of_the_design_is_there(book):
    assert set(book.faults) >= {
        "nothing-wrong", "low-charge", "overcharge", "low-indoor-airflow", "low-outdoor-airflow",
        "liquid-line-restriction", "metering-underfeeding", "metering-overfeeding", "non-condensables", "weak-compressor",
    }  # fmt: skip
    assert {f: e.charge for f, e in book.faults.items() if e.charge} == {
        "nothing-wrong": "right", "low-charge": "low", "overcharge": "high",
    }  # fmt: skip


def test_every_source_is_used_and_confidence_is_said(book):
    cited = {item for r in book.rules for item in r.entry.source}
    cited |= {item for f in book.findings.values() for s in f.scales for item in s.source}
    cited |= {item for f in book.faults.values() for item in f.usual_source} | set(book.charge.source)
    assert cited & set(book.sources)
    assert all(entry.confidence for entry in book.sources.values())


def test_every_finding_that_is_seen_says_how_to_look(book):
    for entry in book.seen.values():
        assert entry.ask, entry.finding


def test_a_small_book_loads(rules_folder):
    small = load_rules(rules_folder)
    assert small.name.startswith("rules (")
    assert list(small.faults) == ["low-charge", "overcharge"]  # the usual ones first
    assert [r.id for r in small.evidence("low-charge")] == ["low-charge/starved"]


def test_a_missing_file(rules_folder):
    (rules_folder / "checks.yaml").unlink()
    with pytest.raises(RuleError, match=r"checks\.yaml"):
        load_rules(rules_folder)


def test_no_such_folder(tmp_path):
    with pytest.raises(RuleError):
        load_rules(tmp_path / "nowhere")


# -- machine facts -------------------------------------------------------------------------------------------------------------


def test_machine_facts():
    machine = visit_from({"machine": {"refrigerant": "R-32", "metering": "TXV", "mode": "cooling"}}).machine
    facts = machine_facts(machine)
    assert facts == {
        "refrigerant": "R-32",
        "metering": "TXV",
        "mode": "cooling",
        "safety class": "A2L",
        "phase-down": "none",
        "metering device": "TXV",
        "charging": "weight and temperatures",
        "heating target": "not stated",
    }
    assert applies((("metering", frozenset({"TXV", "EEV"})),), facts)
    assert not applies((("metering", frozenset({"fixed orifice"})),), facts)
    assert not applies((("mode", frozenset({"cooling"})),), {})  # what is not known applies to nothing
    assert applies((), {})


def test_the_mode_is_cooling_unless_heating_is_said_and_the_makers_target_is_known_or_not():
    assert machine_facts(visit_from({}).machine)["mode"] == "cooling"
    heats = machine_facts(visit_from({"machine": {"mode": "heating", "rated heating subcooling": "15 F"}}).machine)
    assert (heats["mode"], heats["heating target"]) == ("heating", "stated")


def test_rules_are_sorted_out_once_for_each_kind_of_machine(book):
    facts = {"metering": "TXV"}
    assert book.applying(facts) is book.applying(dict(facts))
    fixed = {r.id for r in book.applying({"metering": "fixed orifice"}).rules}
    valve = {r.id for r in book.applying(facts).rules}
    assert fixed - valve
    assert valve - fixed


def test_a_server_that_meets_every_kind_of_machine_keeps_some_of_them(book):
    for number in range(300):
        facts = {"metering": "TXV", "accumulator": str(number), "kind": str(number)}
        assert book.about(facts).applying(facts).rules
    assert max(len(book._kept), len(book._about), *(len(about._kept) for about in book._about.values())) <= MOST_KEPT


def test_a_rule_is_of_the_machines_of_its_fault_where_it_does_not_say_otherwise(tmp_path: Path) -> None:
    files = SMALL | {
        "faults/overcharge.yaml": SMALL["faults/overcharge.yaml"].replace("what:", "applies: {mode: heating}\nwhat:")
    }
    heats = ("mode", frozenset({"heating"}))
    assert load_rules(written(tmp_path / "book", files)).by_id["overcharge/flooded"].applies == (heats,)
    files["faults/overcharge.yaml"] = files["faults/overcharge.yaml"].replace(
        "points: 2", "applies: {mode: [cooling, heating]}\n    points: 2"
    )
    both = load_rules(written(tmp_path / "other", files)).by_id["overcharge/flooded"].applies
    assert both == (("mode", frozenset({"cooling", "heating"})),)
