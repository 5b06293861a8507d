"""What no example of a rule needs; and what `check` says of evidence that counts twice or the wrong way round."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands import run
from small_book import SMALL, written

from diagnose.rulebook import Rulebook, RuleError, load_rules
from diagnose.shipped import shipped
from diagnose.workshop.advice import design_notes
from diagnose.workshop.coverage import mutants
from diagnose.workshop.trials import rule_trials, run_rule_trial

RULE = """\
rules:
  - id: quay/one
    fault: overcharge
    title: One
    when: {{superheat: [normal, high], air filter: dirty}}
    points: 2
    why: Superheat is {{superheat}}.
    source: book
    tests:
{tests}
"""


def own(parent: Path, text: str, fault: str = "") -> Rulebook:
    book = SMALL | ({"faults/overcharge.yaml": fault} if fault else {})
    return load_rules(written(parent / "book", book), written(parent / "quay", {"rules.yaml": text}))


def left(rules: Rulebook) -> set[tuple[str, str, str]]:
    return {(m.kind, m.finding, m.word) for m in mutants(rules, "quay/one") if not m.killed}


DROP, ADD, OFF = "word dropped", "word added", "condition dropped"
EVERY = {
    (DROP, "superheat", "normal"), (DROP, "superheat", "high"), (ADD, "superheat", "low"),
    (ADD, "air filter", "clean"), (OFF, "superheat", ""), (OFF, "air filter", ""),
}  # fmt: skip
BITES = [
    ("fires: {superheat: normal, air filter: dirty}", {(DROP, "superheat", "normal")}),
    (
        "fires: {superheat: [high, normal], air filter: dirty}",
        {(DROP, "superheat", "normal"), (DROP, "superheat", "high")},
    ),
    ("quiet: {superheat: low, air filter: dirty}", {(ADD, "superheat", "low"), (OFF, "superheat", "")}),
    ("quiet: {superheat: high, air filter: clean}", {(ADD, "air filter", "clean"), (OFF, "air filter", "")}),
    ("quiet: {superheat: low, air filter: clean}", set()),  # two things are off: neither is proved
]


@pytest.mark.parametrize(("example", "killed"), BITES)
def test_what_an_example_notices(tmp_path: Path, example: str, killed: set[tuple[str, str, str]]) -> None:
    needed = ["fires: {superheat: high, air filter: dirty}", "quiet: {superheat: low, air filter: clean}"]
    base = {(DROP, "superheat", "high")}
    tests = "\n".join(f"      - {one}" for one in (*needed, example))
    rules = own(tmp_path, RULE.format(tests=tests))
    assert all(run_rule_trial(trial, rules).passed for trial in rule_trials(rules))
    assert left(rules) == EVERY - base - killed


def test_a_list_is_an_example_with_each_word(tmp_path: Path) -> None:
    tests = "      - fires: {superheat: [high, normal], air filter: dirty}\n"
    tests += "      - quiet: {superheat: low, air filter: [dirty, clean]}"
    rules = own(tmp_path, RULE.format(tests=tests))
    assert [trial.words for trial in rule_trials(rules, "quay/one")] == [
        {"superheat": "high", "air filter": "dirty"},
        {"superheat": "normal", "air filter": "dirty"},
        {"superheat": "low", "air filter": "dirty"},
        {"superheat": "low", "air filter": "clean"},
    ]


@pytest.mark.parametrize("words", ["[]", "[high, higher]", "{a: b}"])
def test_words_that_are_none(tmp_path: Path, words: str) -> None:
    tests = f"      - fires: {{superheat: {words}, air filter: dirty}}\n      - quiet: {{superheat: low}}"
    with pytest.raises(RuleError):
        own(tmp_path, RULE.format(tests=tests))


def test_branches(tmp_path: Path) -> None:
    when = "when: {any: [{superheat: high}, {air filter: dirty}]}"
    text = RULE.replace(
        "when: {{superheat: [normal, high], air filter: dirty}}", when.replace("{", "{{").replace("}", "}}")
    )
    tests = "      - fires: {superheat: high}\n      - quiet: {superheat: normal, air filter: clean}"
    assert ("branch dropped", "air filter", "") in left(own(tmp_path, text.format(tests=tests)))


def test_the_shipped_book_bites() -> None:
    tried = list(mutants(load_rules(shipped("rules"))))
    assert sum(mutant.killed for mutant in tried) >= 0.9 * len(tried)


def test_the_command_lists_what_nobody_notices(tmp_path: Path) -> None:
    tests = "      - fires: {superheat: high, air filter: dirty}\n      - quiet: {superheat: low, air filter: clean}"
    own(tmp_path, RULE.format(tests=tests))
    asked = ["rules", "test", "quay", "--mutate", "--rules", str(tmp_path / "book"), "--rules", str(tmp_path / "quay")]
    out = run(*asked).fine()
    assert "unnoticed: quay/one: `superheat` may lose `normal`. Add it to an example that fires.\n" in out
    assert "1 of 6 changes of one word or one condition are noticed by an example (17%)." in out


# -- evidence that counts twice, or the wrong way round ------------------------------------------------------------------

TESTS = "      - fires: {superheat: low, air filter: dirty}\n      - quiet: {superheat: high, air filter: dirty}"
LESSON = """\
lesson:
  source: book
  story: [{place: evaporator, what: It floods.}]
  readings: [{quantity: superheat, moves: up, why: It does.}]
  confirm: [Look.]
  questions: [{ask: "Why?", answer: So.}]
rules:
"""


@pytest.mark.parametrize(
    ("when", "points", "lesson", "told"),
    [
        (
            "{superheat: low, air filter: dirty}",
            1,
            "",
            "quay/one (+1) asks for all that overcharge/flooded (+2) asks for, and more",
        ),
        ("{superheat: low, air filter: dirty}", 3, "", ""),
        ("{superheat: low, air filter: dirty}", -1, "", ""),
        (
            "{feed: starved}",
            2,
            "",
            "quay/one asks for feed, and overcharge/flooded for a finding that it is concluded from",
        ),
        (
            "{superheat: [low, normal]}",
            3,
            "up",
            "The lesson of overcharge says that superheat goes up, and overcharge/flooded",
        ),
    ],
)
def test_check_says_what_counts_twice(tmp_path: Path, when: str, points: int, lesson: str, told: str) -> None:
    text = RULE.replace("points: 2", f"points: {points}").replace("why: Superheat is {{superheat}}.", "why: So.")
    text = text.replace(
        "when: {{superheat: [normal, high], air filter: dirty}}", f"when: {when}".replace("{", "{{").replace("}", "}}")
    )
    tests = TESTS if "feed" not in when else "      - fires: {superheat: high}\n      - quiet: {superheat: low}"
    fault = SMALL["faults/overcharge.yaml"].replace("rules:\n", LESSON) if lesson else ""
    rules = own(tmp_path, text.format(tests=tests), fault)
    notes = list(design_notes(rules))
    assert any(note.startswith(told) for note in notes) if told else not notes
