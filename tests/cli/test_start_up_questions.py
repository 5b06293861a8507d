"""`diagnose ask --start-up`: every line can be asked for, and the answers become a visit."""

from __future__ import annotations

from pathlib import Path

import pytest
from commands import run
from start_ups import READINGS
from test_questions import Technician

from diagnose import examine
from diagnose.cli import questions
from diagnose.cli.questions import interview, keep, problem_with
from diagnose.rulebook import Rulebook
from diagnose.visit import read_visit

GATES = questions.GATES.values()
LINES = [(part, line) for part, line in questions._start_up() if not line.leads_to]


def test_nothing_answered_is_a_start_up_with_everything_left_out(book: Rulebook) -> None:
    technician = Technician()
    found = interview(technician.answer, technician.heard.append, book, start_up=True)
    assert found == {"start-up": {}}
    assert [text for text in technician.asked if text in GATES] == list(GATES)
    assert "never oxygen or air" in technician.heard[1]
    plain = Technician()
    plain.interview(book)
    assert not [text for text in plain.asked if text in GATES]


@pytest.mark.parametrize(("part", "line"), LINES, ids=lambda each: getattr(each, "name", ""))
def test_every_line_is_asked_and_its_example_is_an_answer(part: str, line: questions.Question, book: Rulebook) -> None:
    text = line.text
    answer = line.examples[0] if line.examples else text.split(": ")[1].split(", ")[0]
    assert problem_with(line, answer) is None
    assert line.examples == () or problem_with(line, "no such thing") is not None or line.name == questions.TOLD
    technician = Technician(**{questions.GATES.get(part, "-"): "y", text: answer})
    found = interview(technician.answer, technician.heard.append, book, start_up=True)
    assert sum(each.startswith(text) for each in technician.asked) == 1
    if line.section != "line set":  # of which one figure alone says nothing
        assert answer in str(found["start-up"])


def test_power_that_is_known_is_not_asked_for_as_volts_and_amps(book: Rulebook) -> None:
    technician = Technician(**{questions.GATES["electric heat"]: "y", "Power of heater": "9.6 kW"})
    interview(technician.answer, technician.heard.append, book, start_up=True)
    assert not [text for text in technician.asked if "Voltage" in text]


def test_the_whole_of_it_is_kept_and_read_again(book: Rulebook, tmp_path: Path) -> None:
    technician = Technician(
        **dict.fromkeys(GATES, "y"), **{
            "Refrigerant on": "R-410A", "Metering": "TXV", "Rated subcooling": "10 F", "Nominal": "3 ton",
            "Outside diameter of the liquid": "3/8", "Length of the liquid line": "40 ft",
            "Pressure when the test": "450",
            "Vacuum, read": "y", "The vacuum after": ["0 min 300, 5 min 320", "0 min 300 microns, 10 min 320 microns"],
            "What the customer": "filter",
        }
    )  # fmt: skip
    technician.answers["Pressure when the test"].append("450 psig")
    found = interview(technician.answer, technician.heard.append, book, start_up=True)
    assert found["machine"]["line set"] == {"liquid line": "3/8", "length": "40 ft"}
    assert any("`450` has no unit" in text for text in technician.heard)
    assert any("`300` has no unit" in text for text in technician.heard)
    keep(found, tmp_path / "visit.yaml")
    d = examine(read_visit(str(tmp_path / "visit.yaml")), book)
    assert {item.item for item in d.start_up.having("done")} == {"evacuation", "decay test", "customer"}


def test_the_command(tmp_path: Path) -> None:
    out = run("ask", "--start-up", "--as", "json", stdin="R-410A\n").fine()
    assert '"status": "left out"' in out
    assert READINGS
