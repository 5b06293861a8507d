"""What `rules show` prints: every entry of the book, and who uses it."""

from __future__ import annotations

import json

import pytest
from commands import run

from diagnose.report import as_markdown, as_text
from diagnose.rulebook import Rulebook, load_rules
from diagnose.workshop.showing import show_entry
from diagnose.yamlfile import InputProblems

BOOK = load_rules()
KINDS = {
    "rule": list(BOOK.by_id),
    "fault": list(BOOK.faults),
    "finding": list(BOOK.findings),
    "state": list(BOOK.states),
    "check": list(BOOK.checks),
    "source": list(BOOK.sources),
}


def text(name: str) -> str:
    return " ".join(as_text(show_entry(name, BOOK)[0]).split())


@pytest.mark.parametrize("kind", KINDS)
def test_every_entry_can_be_shown(kind: str) -> None:
    for name in KINDS[kind]:
        blocks, data = show_entry(name, BOOK)
        printed = as_text(blocks)
        assert printed.startswith(f"{name}: "), name
        assert max(map(len, printed.splitlines())) <= 80, name
        assert as_markdown(blocks).startswith(f"# {name}: ")
        assert not any(sign in printed for sign in ("[", "]", "{'", "frozenset")), name
        assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_names_of_different_kinds_do_not_hide_each_other() -> None:
    names = [name for kind in KINDS.values() for name in kind]
    assert len(names) == len(set(names))


def test_a_rule() -> None:
    said = text("low-charge/starved-and-empty")
    assert (
        "When superheat high or very high, subcooling very low or low: 2.5 points for low refrigerant charge." in said
    )
    assert "Source: Rossi and Braun" in said
    assert "File: rules/faults/low-charge.yaml." in said
    assert "Check: Find the leak. Check joints" in said
    assert "- fires on superheat high or very high, subcooling low or very low" in said
    assert "- quiet on superheat high, subcooling high, because " in said


def test_what_a_rule_contains_and_is_contained_in_is_of_its_machines() -> None:
    wide, narrow = text("low-charge/starved"), text("low-charge/starved-and-empty")
    assert "Contained in, and their points replace its own - low-charge/starved-and-empty: 2.5 points" in wide
    assert "Contains, and its points replace theirs - low-charge/starved: 1.5 points" in narrow
    assert "low-charge/heating-" not in wide + narrow


def test_one_point_and_the_machines_a_rule_is_for() -> None:
    said = text("low-charge") + text("nothing-wrong")
    assert "compresses-well: 1 point for nothing wrong" in said
    assert "(on machines with metering fixed orifice)" in said
    assert "(on machines with metering TXV or EEV)" in said
    assert "superheat high or very high, subcooling very low or low (in heating)" in said


def test_what_a_fault_is_only_met_on_is_not_said_of_each_of_its_rules() -> None:
    said = text("reversing-valve-leaking")
    assert "(in heating" not in said
    assert "(on machines with metering TXV or EEV)" in said


def test_a_fault_lists_all_its_rules_and_what_looks_like_it(book: Rulebook) -> None:
    said = text("low-charge")
    assert said.startswith("low-charge: Low refrigerant charge. There is less refrigerant")
    assert "How usual: +1 point (Home Energy Magazine" in said
    for rule in book.evidence("low-charge"):
        assert f"- {rule.id}: " in said
    for other in book.faults["low-charge"].looks_like:
        assert f"- {book.faults[other].name}: " in said


def test_a_finding_shows_its_limits_and_its_users(book: Rulebook) -> None:
    said = text("superheat")
    assert "Words: very low, low, normal, high, very high." in said
    assert "by difference on machines with metering fixed orifice: limits -9 F, -5 F, 5 F, 12 F." in said
    assert "by value on machines with metering TXV or EEV: limits 3 F, 6 F, 24 F, 30 F." in said
    for rule in book.rules:
        assert (f"- {rule.id}: " in said) == ("superheat" in rule.findings)
    assert "Given by - measure-superheat: " in said


def test_a_state_shows_who_concludes_it() -> None:
    said = text("evaporator feed")
    assert said.startswith("evaporator feed: Is the evaporator fed? Words: starved, fed, flooded.")
    assert "- state/starved: concludes evaporator feed: starved when superheat high or very high" in said


def test_a_check_and_a_source_show_who_names_them() -> None:
    assert "(30 minutes.) Gives: leak. Named by" in text("find-the-leak")
    assert "- low-charge/starved-and-empty: 2.5 points" in text("find-the-leak")
    said = text("rossi-braun-1997")
    assert "Confidence: read second-hand." in said
    assert "Cited by" in said
    assert "- low-charge/starved-and-empty: 2.5 points" in said


def test_rules_of_other_kinds_say_what_they_do() -> None:
    kinds = {rule.kind: rule.id for rule in BOOK.rules}
    assert "caution of rank " in text(kinds["caution"])
    assert "holds the " in text(kinds["readiness"])


@pytest.mark.parametrize(
    ("name", "near"), [("superhat", "superheat"), ("low-chrge", "low-charge"), ("find-the-leek", "find-the-leak")]
)
def test_a_name_that_is_not_there(name: str, near: str) -> None:
    with pytest.raises(InputProblems):
        show_entry(name, BOOK)
    done = run("rules", "show", name)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr == f"nothing in the rule book is called `{name}`\n      Did you mean `{near}`?\n"


def test_a_name_like_nothing() -> None:
    err = run("rules", "show", "zzzzzzzz").refused()
    assert "Name a rule, fault, finding, state, check, source or figure of judgement." in err


@pytest.mark.parametrize("name", ["low-charge", "superheat"])
def test_as_json(name: str) -> None:
    out = run("rules", "show", name, "--as", "json").fine()
    assert name in json.loads(out).values()
