"""The fault × finding matrix says what the rules say."""

from __future__ import annotations

from pathlib import Path

import pytest
from overlay import overlay

from diagnose.diagnosis.ranking import rank
from diagnose.rulebook import Rulebook, load_rules
from diagnose.rulebook.matcher import Firing
from diagnose.workshop.matrix import KINDS, matrix, matrix_markdown, table_text

FAULT = """\
fault: harbour-cooling-salt
name: Salt in the coil
usual: 0
usual_source: common-practice
what: Salt closes the outdoor coil.
rules:
"""
RULES = (  # id, applies, when, points, a firing and a quiet test
    ("warm", "", "superheat: [high, very high]", 2, "superheat: high", "superheat: low"),
    ("fed", "metering: fixed orifice", "superheat: normal", -2.5, "superheat: normal", "superheat: low"),
    ("short", "metering: fixed orifice", "subcooling: [low, very low]", 1, "subcooling: low", "subcooling: high"),
    ("short-valve", "metering: [TXV, EEV]", "subcooling: [low, very low]", 2.5, "subcooling: low", "subcooling: high"),
    ("none-valve", "metering: [TXV, EEV]", "subcooling: very low", 3.5, "subcooling: very low", "subcooling: low"),
    ("both", "", "superheat: high, oil stains: present", 3, "superheat: high, oil stains: present", "superheat: high"),
    ("dirt", "", "any: [{air filter: dirty}, {indoor coil: dirty}]", 0.5, "air filter: dirty", "air filter: clean"),
)


@pytest.fixture(scope="module")
def salty(tmp_path_factory: pytest.TempPathFactory) -> Rulebook:
    """The shipped book with a fault whose rules stand above."""
    folder = overlay(tmp_path_factory.mktemp("own"), changes="")
    (folder / "faults").mkdir()
    text = FAULT
    for name, applies, when, points, fires, quiet in RULES:
        text += (
            f"  - id: harbour-cooling-salt/{name}\n    title: A sign\n    applies: {{{applies}}}\n    when: {{{when}}}\n"
            f"    points: {points}\n    why: It is a sign.\n    source: common-practice\n"
            f"    tests: [fires: {{{fires}}}, quiet: {{{quiet}}}]\n"
        )
    (folder / "faults" / "harbour-cooling-salt.yaml").write_text(text, encoding="utf-8")
    return load_rules(folder)


def cell(book: Rulebook, name: str, word: str, fault: str) -> str:
    m = matrix(book)
    row = next((row for row in m.rows if (row.name, row.word) == (name, word)), None)
    return row.cells[m.faults.index(fault)] if row else ""


@pytest.mark.parametrize(
    ("name", "word", "said"),
    [
        ("superheat", "high", "+2*"),
        ("superheat", "very high", "+2"),
        ("superheat", "normal", "−2.5/0"),
        ("subcooling", "low", "+1/+2.5"),
        ("subcooling", "very low", "+1/+3.5"),  # the special rule takes the share of the plain one
        ("oil stains", "present", "*"),
        ("air filter", "dirty", "+0.5"),
        ("indoor coil", "dirty", "+0.5"),
    ],
)
def test_a_cell(salty: Rulebook, name: str, word: str, said: str) -> None:
    assert cell(salty, name, word, "harbour-cooling-salt") == said


@pytest.mark.parametrize("metering", KINDS)
def test_every_figure_is_what_the_ranking_makes_of_that_word_alone(book: Rulebook, metering: str) -> None:
    m = matrix(book)
    applying = [rule for rule in book.rules if dict(rule.applies).get("metering", {metering}) >= {metering}]
    for row in m.rows:
        fired = [
            Firing(rule.id, 1.0, ())
            for rule in applying
            if (len(rule.when) == 1 and not rule.either and rule.when[0][0] == row.name and row.word in rule.when[0][1])
            or (not rule.when and any(len(b) == 1 and b[0][0] == row.name and row.word in b[0][1] for b in rule.either))
        ]
        for place in rank(book, fired):
            points = place.score - book.faults[place.fault].usual
            cell = row.cells[m.faults.index(place.fault)].rstrip("*").replace("−", "-") or "0"
            figure = cell.split("/")[KINDS.index(metering)] if "/" in cell else cell
            assert float(figure) == pytest.approx(points), (row.name, row.word, place.fault)


def test_every_evidence_rule_is_in_it(book: Rulebook) -> None:
    m = matrix(book)
    several = {rule.id for rule, _ in m.several}
    single = {r.id for r in book.rules if r.kind == "evidence" and len(r.when) == 1 and not r.either}
    rest = {r.id for r in book.rules if r.kind == "evidence" and r.either}
    assert several | single | rest == {rule.id for rule in book.rules if rule.kind == "evidence"}
    assert not several & single


@pytest.mark.parametrize("width", [60, 80])
def test_the_text_fits(book: Rulebook, width: int) -> None:
    lines = table_text(matrix(book), width).splitlines()
    assert max(map(len, lines)) <= width
    assert all(line == line.rstrip() for line in lines)


def test_markdown_is_one_table_of_even_rows(book: Rulebook) -> None:
    m = matrix(book)
    rows = [line for line in matrix_markdown(m).splitlines() if line.startswith("|")]
    assert len(rows) == len(m.rows) + 2
    assert {line.count("|") for line in rows} == {len(m.faults) + 3}


def test_json_says_the_same(book: Rulebook) -> None:
    data = matrix(book).to_dict()
    row = next(r for r in data["rows"] if (r["finding"], r["word"]) == ("superheat", "high"))
    assert row["says"]["low-charge"] == cell(book, "superheat", "high", "low-charge")
    assert {"rule", "fault", "points", "when"} == set(data["several"][0])


def test_own_rules_and_changes_count(tmp_path: Path) -> None:
    book = load_rules(overlay(tmp_path))
    assert cell(book, "coil corrosion", "present", "low-outdoor-airflow") == "+2"
    assert not any(row.name == "oil stains" and row.cells[0] for row in matrix(book).rows)
