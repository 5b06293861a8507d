"""The rule book: what is shipped is sound, and what is said about every mistake in a book."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from small_book import SMALL

from diagnose import RuleError, load_rules
from diagnose.rulebook import applies, machine_facts
from diagnose.rulebook.book import MOST_KEPT
from diagnose.visit import visit_from


def write(folder: Path, **changes: tuple[str, str]) -> Path:
    """The small book with one text replaced in each named file."""
    texts = dict(SMALL)
    for name, (old, new) in changes.items():
        file = next(f for f in SMALL if Path(f).stem.replace("-", "_") == name)
        assert old in texts[file], (file, old)
        texts[file] = texts[file].replace(old, new, 1)
    for file, text in texts.items():
        (folder / file).parent.mkdir(exist_ok=True, parents=True)
        (folder / file).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def rules_folder(tmp_path):
    return tmp_path / "rules"


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
    small = load_rules(write(rules_folder))
    assert small.name.startswith("rules (")
    assert list(small.faults) == ["low-charge", "overcharge"]  # the usual ones first
    assert [r.id for r in small.evidence("low-charge")] == ["low-charge/starved"]


# -- what is said about mistakes -----------------------------------------------------------------------------------------------

MISTAKES = {
    "an unknown finding": (
        {"overcharge": ("when: {superheat: low}", "when: {superheet: low}")},
        [("rules/faults/overcharge.yaml", 9, "`superheet` is not a finding or a state", "Did you mean `superheat`?")],
    ),
    "an unknown word": (
        {"states": ("when: {superheat: high}", "when: {superheat: hihg}")},
        [("rules/states.yaml", 6, "`hihg` is not a word of `superheat`", "Did you mean `high`?")],
    ),
    "a negated unknown word": (
        {"states": ("when: {superheat: high}", "when: {superheat: not big}")},
        [("rules/states.yaml", 6, "`big` is not a word of `superheat`", "Known: low, normal, high.")],
    ),
    "too many points": (
        {"overcharge": ("points: 2", "points: 5")},
        [("rules/faults/overcharge.yaml", 10, "5 points are out of range",
          "From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.")],
    ),
    "no points": (
        {"overcharge": ("points: 2", "points: 0")},
        [("rules/faults/overcharge.yaml", 10, "0 points are out of range",
          "From -4 to 4 and not 0: each point doubles, or halves, the odds of the fault.")],
    ),
    "no condition": (
        {"overcharge": ("    when: {superheat: low}\n    points: 2\n    why: Superheat is {superheat}.",
                        "    points: 2\n    why: Because.")},
        [("rules/faults/overcharge.yaml", 7, "`overcharge/flooded` has no `when`",
          "A rule speaks only when something was found, for example `when: {superheat: high}`.")],
    ),
    "a figure in the text that the rule does not read": (
        {"overcharge": ("why: Superheat is {superheat}.", "why: The filter is {air filter}.")},
        [("rules/faults/overcharge.yaml", 11, "`{air filter}` is not among the findings of this rule's `when`",
          "Known: superheat.")],
    ),
    "an unknown source": (
        {"overcharge": ("source: book\n    tests", "source: bok\n    tests")},
        [("rules/faults/overcharge.yaml", 12, "`bok` is not a source", "Did you mean `book`?")],
    ),
    "an unknown check": (
        {"low_charge": ("check: look", "check: lok")},
        [("rules/faults/low-charge.yaml", 15, "`lok` is not a check", "Did you mean `look`?")],
    ),
    "no test that leaves it quiet": (
        {"overcharge": ("      - quiet: {superheat: high}\n", "")},
        [("rules/faults/overcharge.yaml", 7, "`overcharge/flooded` has no test that leaves it quiet",
          "Add one under `tests:`, for example `- quiet: {superheat: high}`.")],
    ),
    "a test on a state": (
        {"low_charge": ("- fires: {superheat: high}", "- fires: {feed: starved}")},
        [("rules/faults/low-charge.yaml", 17, "`feed` is not a finding",
          "It is a state: give the findings it is concluded from.")],
    ),
    "an id of another fault": (
        {"overcharge": ("id: overcharge/flooded", "id: low-charge/flooded")},
        [("rules/faults/overcharge.yaml", 7, "`low-charge/flooded` must begin with `overcharge/`",
          "For example `overcharge/flooded`.")],
    ),
    "an id that is none": (
        {"overcharge": ("id: overcharge/flooded", "id: Overcharge Flooded")},
        [("rules/faults/overcharge.yaml", 7, "`Overcharge Flooded` is not an id",
          "Small letters, digits and hyphens, for example `overcharge-flooded`.")],
    ),
    "an id twice": (
        {"low_charge": ("id: low-charge/starved", "id: state/starved")},
        [("rules/faults/low-charge.yaml", 9, "`state/starved` must begin with `low-charge/`",
          "For example `low-charge/starved`."),
         ("rules/faults/low-charge.yaml", 9, "`state/starved` is already the id of a rule in rules/states.yaml:4",
          "Rename one.")],
    ),
    "a file not named after its fault": (
        {"overcharge": ("fault: overcharge", "fault: overfull"), "low_charge": ("overcharge: Both", "overfull: Both")},
        [("rules/faults/overcharge.yaml", 1, "the file is not named after the fault `overfull`",
          "Call the file `overfull.yaml`, or write `fault: overcharge`."),
         ("rules/faults/overcharge.yaml", 7, "`overcharge/flooded` must begin with `overfull/`",
          "For example `overfull/flooded`.")],
    ),
    "a fault that looks like nothing known": (
        {"low_charge": ("overcharge: Both", "overchage: Both")},
        [("rules/faults/low-charge.yaml", 7, "`overchage` is not a fault", "Did you mean `overcharge`?")],
    ),
    "too few limits": (
        {"findings": ("limits: [5 F, 20 F]", "limits: [5 F]")},
        [("rules/findings.yaml", 8, "3 words have 2 limits between them, not 1",
          "The words are [low, normal, high]: one limit between each two of them.")],
    ),
    "limits that fall": (
        {"findings": ("limits: [5 F, 20 F]", "limits: [20 F, 5 F]")},
        [("rules/findings.yaml", 8, "the limits do not rise", "Write them from low to high.")],
    ),
    "a limit without a unit": (
        {"findings": ("limits: [5 F, 20 F]", "limits: [5, 20 F]")},
        [("rules/findings.yaml", 8, "`5` has no unit", "Write the unit, for example `5 F`.")],
    ),
    "an unknown quantity": (
        {"findings": ("quantity: superheat", "quantity: superheet")},
        [("rules/findings.yaml", 4, "`superheet` is not a quantity", "Did you mean `superheat`?")],
    ),
    "a word of the machine that is none": (
        {"findings": ("      - by: value", "      - applies: {metering: piston}\n        by: value")},
        [("rules/findings.yaml", 7, "`piston` is not a word of `metering`", "Known: fixed orifice, TXV, EEV.")],
    ),
    "an unknown key": (
        {"overcharge": ("points: 2", "pionts: 2")},
        [("rules/faults/overcharge.yaml", 7, "`points` is missing", "Add it to this entry."),
         ("rules/faults/overcharge.yaml", 10, "`pionts` is not a field here", "Did you mean `points`?")],
    ),
    "an unknown state": (
        {"states": ("concludes: {feed: starved}", "concludes: {fed: starved}")},
        [("rules/states.yaml", 7, "`fed` is not a state", "Did you mean `feed`?")],
    ),
    "a check that gives nothing known": (
        {"checks": ("gives: [air filter]", "gives: [air filtr]")},
        [("rules/checks.yaml", 2, "`air filtr` is not a finding", "Did you mean `air filter`?")],
    ),
}  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_what_is_said_about_a_mistake(rules_folder, mistake):
    changes, said = MISTAKES[mistake]
    with pytest.raises(RuleError) as caught:
        load_rules(write(rules_folder, **changes))
    assert [(p.file, p.line, p.what, p.fix) for p in caught.value.problems] == said


def test_all_mistakes_at_once(rules_folder):
    """One in each file, told together."""
    with pytest.raises(RuleError) as caught:
        load_rules(
            write(
                rules_folder,
                states=("source: book", "source: bok"),
                low_charge=("check: look", "check: lok"),
                findings=("limits: [5 F, 20 F]", "limits: [5 F]"),
            )
        )
    assert len(caught.value.problems) == 3


def test_states_that_wait_for_each_other(rules_folder):
    loop = """  - id: state/fed
    title: Fed
    when: {other: big}
    concludes: {feed: fed}
    why: Because.
    source: book
    tests:
      - fires: {superheat: high}
      - quiet: {superheat: low}
  - id: state/other
    title: Other
    when: {feed: fed}
    concludes: {other: big}
    why: Because.
    source: book
    tests:
      - fires: {superheat: high}
      - quiet: {superheat: low}
"""
    write(rules_folder)
    path = rules_folder / "states.yaml"
    text = path.read_text().replace(
        "words: [starved, fed]}\n", "words: [starved, fed]}\n  - {state: other, question: Q, words: [big, small]}\n"
    )
    path.write_text(text + loop)
    with pytest.raises(RuleError) as caught:
        load_rules(rules_folder)
    (problem,) = caught.value.problems
    assert problem.file == "rules/states.yaml"
    assert problem.line > 4
    assert "feed" in problem.what
    assert "other" in problem.what
    assert problem.fix


def test_two_rules_that_ask_for_the_same(rules_folder):
    again = SMALL["faults/overcharge.yaml"].split("rules:\n")[1].replace("overcharge/flooded", "overcharge/again")
    write(rules_folder)
    path = rules_folder / "faults" / "overcharge.yaml"
    path.write_text(path.read_text() + again)
    with pytest.raises(RuleError) as caught:
        load_rules(rules_folder)
    assert [p.what for p in caught.value.problems] == [
        "`overcharge/again` asks for the same as `overcharge/flooded` in rules/faults/overcharge.yaml:7"
    ]


def test_a_missing_file(rules_folder):
    write(rules_folder)
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
