"""The interview, driven by answers written down beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from strategies import State, visit

from diagnose import examine
from diagnose.cli.questions import (
    FIRST_LOOKS,
    FIRST_READINGS,
    FURTHER,
    MACHINE_QUESTIONS,
    _modes,
    as_file,
    interview,
    keep,
    reading_question,
    refuse_to_keep,
)
from diagnose.rulebook import Rulebook
from diagnose.visit import COOLING, HEATING, READINGS, read_visit
from diagnose.yamlfile import InputProblems

LEAD = [""] * (1 + len(FIRST_LOOKS))  # the complaint and what is looked at first, left out


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
    said: dict[str, str | list[str]] = {"Further": "y", "Things": "yes", "Put the gauges": "y"}
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
    assert len(technician.asked) == len(LEAD) + len(MACHINE_QUESTIONS) + len(FIRST_READINGS) + 3
    assert examine({}).status == "not ready"


def test_every_reading_and_everything_seen_can_be_asked_for(book: Rulebook) -> None:
    """In one mode or the other; what is read in heating alone is not asked of a machine that cools."""
    asked = {}
    for mode in ("cooling", "heating"):
        technician = Technician(Cooling=mode, Further="y", Things="y")
        technician.interview(book)
        asked[mode] = technician.asked
    for name in ("minutes running", *READINGS):
        counts = [sum(text.startswith(reading_question(name).text) for text in each) for each in asked.values()]
        assert max(counts) == 1, name
        assert counts[0] == (not name.startswith(("valve tube", "vapour line", "electric power"))), name
    after = asked["heating"][asked["heating"].index("Altitude of the site (for example 250 ft)") + 1 :]
    assert [text.split(":")[0] for text in after[:2]] == ["Outdoor coil frost", "Supplementary heat"]
    for name, entry in book.seen.items():
        assert f"{name.capitalize()}: {', '.join(entry.words)}" in {*asked["cooling"], *asked["heating"]}


@pytest.mark.parametrize("question", [*MACHINE_QUESTIONS, *map(reading_question, ("minutes running", *READINGS))])
def test_the_example_of_each_question_is_an_answer_to_it(question: Any, book: Rulebook) -> None:
    heats = {} if COOLING in _modes(question, book) else {"Cooling": HEATING}
    said = Technician(**{question.text: question.example("us"), "Further": "y"}, **heats)
    assert said.interview(book)[question.section][question.name] == question.example("us")
    assert said.heard == [
        "Press Enter to leave out what you do not know; write < to go back to the question before. Write every number with its "
        "unit.",
        *(text for text in said.heard if text.startswith("  Gauges are needed: ")),
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
        ("Suction pressure", "20 inHg", "118 psig", "`inHg` can mean two pressures. Write `20 inHg vacuum` if a gauge"),
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
    told = [text for text in technician.heard[1:-1] if not text.startswith(("  Gauges", "  No gauges"))]
    assert len(told) == 2
    assert explained in told[0]
    assert ".." not in told[0]


def test_a_bad_answer_can_be_given_up(book: Rulebook) -> None:
    assert Technician(SEER=["a lot", ""]).interview(book) == {}


def test_what_means_nothing_in_a_file_leaves_a_question_out_here_too(book: Rulebook) -> None:
    technician = Technician(SEER="n/a", Suction_pressure="?", Air_filter="unknown", Indoor_coil_ice="none")
    assert technician.interview(book) == {"seen": {"indoor coil ice": "none"}}


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
    assert "  Write one of: normal, slow, dirty wheel, stopped. Enter leaves it out." in technician.heard
    assert (
        "  Write one of: no, evacuated below 500 microns, not evacuated well. Enter leaves it out." in technician.heard
    )


@pytest.mark.parametrize("metering", ["fixed orifice", "TXV"])
@pytest.mark.parametrize("system", ["us", "si"])
def test_the_file_it_writes_says_the_same(metering: str, system: str, book: Rulebook, tmp_path: Path) -> None:
    written = visit(State(metering=metering, superheat=25, subcooling=2), system=system)
    technician = from_visit(written)
    asked = technician.interview(book)
    assert [text for text in technician.heard[1:-1] if "auges" not in text] == []
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


def put_in_turn(*answers: str) -> tuple[list[str], Technician]:
    """One who answers question after question, whatever is asked; nothing when the answers are used up."""
    left = list(answers)
    technician = Technician()
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return left.pop(0) if left else ""

    technician.answer = answer  # type: ignore[method-assign]
    return asked, technician


@pytest.mark.parametrize("back", ["<", "back", " BACK "])
def test_one_can_go_back_and_answer_again(back: str, book: Rulebook) -> None:
    asked, technician = put_in_turn(*LEAD, "R-22", "TXV", back, back, "R-410A", "orifice")
    assert technician.interview(book)["machine"] == {"refrigerant": "R-410A", "metering": "orifice"}
    names = [question.text for question in MACHINE_QUESTIONS]
    assert [text.split(" (for")[0] for text in asked[len(LEAD) :][:6]] == [*names[:3], names[1], names[0], names[1]]


def test_before_the_first_question_there_is_none(book: Rulebook) -> None:
    _, technician = put_in_turn("<", *LEAD, "R-22")
    assert technician.interview(book) == {"machine": {"refrigerant": "R-22"}}
    assert "  This is the first question." in technician.heard


def test_going_back_to_a_no_opens_what_it_closed(book: Rulebook) -> None:
    first = [*LEAD, *[""] * (len(MACHINE_QUESTIONS) + len(FIRST_READINGS) + 1)]
    asked, technician = put_in_turn(*first, "n", "<", "y", "12 F")
    said = technician.interview(book)
    assert asked[len(first)] == asked[len(first) + 2] == "Further facts of the machine, and readings? (y/n)"
    assert said == {"machine": {FURTHER[0].name: "12 F"}}


def test_going_back_leaves_nothing_of_the_answer_behind(book: Rulebook) -> None:
    _, technician = put_in_turn(*LEAD, "R-22", "<", "")
    assert technician.interview(book) == {}


def test_examples_are_in_the_units_chosen_or_used_so_far(book: Rulebook) -> None:
    asked: dict[str | None, list[str]] = {}
    for system in ("us", "si", None):
        technician = Technician(Suction_line_temperature="16 C")
        interview(technician.answer, technician.heard.append, book, system)
        asked[system] = technician.asked
    outdoor = {
        system: next(text for text in texts if text.startswith("Outdoor air")) for system, texts in asked.items()
    }
    assert [outdoor[system].split("(for example ")[1] for system in ("us", "si", None)] == ["80 F)", "27 C)", "27 C)"]


def test_the_humidity_is_asked_before_further_readings_where_there_is_no_wet_bulb(book: Rulebook) -> None:
    without, having = Technician(), Technician(Return_air_wet_bulb="63 F")
    for technician in (without, having):
        technician.interview(book)
    humidity = [i for i, text in enumerate(without.asked) if text.startswith("Return air relative humidity")]
    further = [i for i, text in enumerate(without.asked) if text.startswith("Further")]
    assert len(humidity) == 1
    assert humidity < further
    assert not any(text.startswith("Return air relative humidity") for text in having.asked)
