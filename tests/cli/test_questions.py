"""The interview, driven by answers written down beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from strategies import State, visit

from diagnose import examine
from diagnose.cli.questions import (
    FIRST_READINGS,
    MACHINE_QUESTIONS,
    as_file,
    interview,
    keep,
    reading_question,
    refuse_to_keep,
)
from diagnose.rulebook import Rulebook
from diagnose.visit import READINGS, read_visit
from diagnose.yamlfile import InputProblems


class Technician:
    """Answers by the beginning of the question; each answer once, in turn; what is not known is left out."""

    def __init__(self, **answers: str | list[str]) -> None:
        self.answers = {k.replace("_", " "): [v] if isinstance(v, str) else list(v) for k, v in answers.items()}
        self.asked: list[str] = []
        self.heard: list[str] = []

    def answer(self, text: str) -> str:
        self.asked.append(text)
        for beginning in sorted(self.answers, key=len, reverse=True):
            if text.lower().startswith(beginning.lower()) and self.answers[beginning]:
                return self.answers[beginning].pop(0)
        return ""

    def interview(self, book: Rulebook) -> dict[str, Any]:
        return interview(self.answer, self.heard.append, book)


def from_visit(written: Mapping[str, Mapping[str, object]]) -> Technician:
    """One who answers what a visit says, under the names of the questions."""
    said: dict[str, str | list[str]] = {"Further": "y", "Things": "yes"}
    for question in MACHINE_QUESTIONS:
        if question.name in written["machine"]:
            said[question.text] = str(written["machine"][question.name])
    for name in ("minutes running", *READINGS):
        if name in written["readings"]:
            said[reading_question(name).text] = str(written["readings"][name])
    return Technician(**said)


def test_enter_skips_everything(book: Rulebook) -> None:
    technician = Technician()
    assert technician.interview(book) == {}
    assert len(technician.asked) == len(MACHINE_QUESTIONS) + len(FIRST_READINGS) + 2
    assert examine({}).status == "not ready"


def test_every_reading_and_everything_seen_can_be_asked_for(book: Rulebook) -> None:
    technician = Technician(Further="y", Things="y")
    technician.interview(book)
    for name in ("minutes running", *READINGS):
        assert sum(text.startswith(reading_question(name).text) for text in technician.asked) == 1
    for name, entry in book.seen.items():
        assert f"{name.capitalize()}: {', '.join(entry.words)}" in technician.asked


@pytest.mark.parametrize("question", [*MACHINE_QUESTIONS, *map(reading_question, ("minutes running", *READINGS))])
def test_the_example_of_each_question_is_an_answer_to_it(question: Any, book: Rulebook) -> None:
    said = Technician(**{question.text: question.example, "Further": "y"})
    assert said.interview(book) == {question.section: {question.name: question.example}}
    assert said.heard == [
        "Press Enter to leave out what you do not know. Write every number with its unit.",
        "These further facts settle many doubts.",
    ]


@pytest.mark.parametrize(
    ("beginning", "bad", "good", "explained"),
    [
        ("Refrigerant", "R-410B", "R-410A", "There is no refrigerant 'R-410B' in the table. Did you mean R-410A?"),
        ("Metering", "orfice", "orifice", "`orfice` is not known. Did you mean `fixed orifice`?"),
        ("SEER", "a lot", "14", "`a lot` does not begin with a number."),
        ("SEER", "400", "14", "400"),
        ("Rated subcooling", "10", "10 F", "`10` has no unit. Write the unit, for example `10 F`."),
        ("Suction pressure", "118 psi", "118 psig", "`psi` can mean two pressures. Write `118 psig` if a gauge"),
        ("Outdoor air", "80 psig", "80 F", "`psig` is a pressure; a temperature is expected here."),
        ("Outdoor air", "800 F", "80 F", "800 F"),
        ("Minutes running", "soon", "15", "`soon` does not begin with a number."),
    ],
)
def test_a_bad_answer_is_explained_and_asked_again(
    beginning: str, bad: str, good: str, explained: str, book: Rulebook
) -> None:
    technician = Technician(**{beginning: [bad, bad, good]})
    (values,) = technician.interview(book).values()
    assert list(values.values()) == [good]
    assert len([text for text in technician.asked if text.startswith(beginning)]) == 3
    told = technician.heard[1:-1]
    assert len(told) == 2
    assert explained in told[0]
    assert ".." not in told[0]


def test_a_bad_answer_can_be_given_up(book: Rulebook) -> None:
    assert Technician(SEER=["a lot", ""]).interview(book) == {}


def test_the_first_letters_of_a_word_are_enough_where_they_fit_one_only(book: Rulebook) -> None:
    technician = Technician(
        Things="y", Air_filter="D", Registers="closed", Recent_opening=["n", "no"], Blower=["spinning", ""],
        Filter_drier="cold   or FROSTED at the outlet",
    )  # fmt: skip
    assert technician.interview(book)["seen"] == {
        "air filter": "dirty",
        "registers": "closed or blocked",
        "recent opening": "no",
        "filter drier": "cold or frosted at the outlet",
    }
    assert "  Write one of: normal, slow, dirty wheel." in technician.heard
    assert "  Write one of: no, evacuated below 500 microns, not evacuated well." in technician.heard


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV"])
@pytest.mark.parametrize("system", ["us", "si"])
def test_the_file_it_writes_says_the_same(metering: str, system: str, book: Rulebook, tmp_path: Path) -> None:
    written = visit(State(metering=metering, superheat=25, subcooling=2), system=system)
    technician = from_visit(written)
    asked = technician.interview(book)
    assert technician.heard[1:-1] == []
    assert asked["readings"].keys() == written["readings"].keys()
    path = tmp_path / "kept.yaml"
    keep(asked, path)
    assert examine(path).to_dict() == examine(asked).to_dict()
    assert examine(path).faults[0].fault == "low-charge"
    assert read_visit(path).last == read_visit(path).last


@pytest.mark.parametrize("text", ["no", "a: b", "- x", "it's", "#1", "null", "", " a", "1 %", "{x}", "~", "é"])
def test_words_that_yaml_would_read_otherwise_are_quoted(text: str, tmp_path: Path) -> None:
    path = tmp_path / "visit.yaml"
    keep({"machine": {"name": text}}, path)
    assert read_visit(path).machine.name == text or not text


def test_as_file() -> None:
    assert as_file({"machine": {"refrigerant": "R-410A"}, "seen": {"recent opening": "no"}}) == (
        "machine:\n  refrigerant: R-410A\nseen:\n  recent opening: 'no'\n"
    )


def test_a_file_that_is_there_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "there.yaml"
    path.write_text("mine", encoding="utf-8")
    for refusal in (lambda: refuse_to_keep(path), lambda: keep({}, path)):
        with pytest.raises(InputProblems):
            refusal()
    with pytest.raises(InputProblems, match="no such folder"):
        refuse_to_keep(tmp_path / "none" / "visit.yaml")
    refuse_to_keep(tmp_path / "new.yaml")
    assert path.read_text(encoding="utf-8") == "mine"
