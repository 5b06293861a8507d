"""Posters: one sheet a fault, which says what the lesson says."""

from __future__ import annotations

import re
from functools import cache

import pytest
from commands import run
from webpages import PAPERS, InBrowser, Page, no_wider_than, sheets, stands_by_itself

from diagnose import load_rules
from diagnose.lessons.poster import poster_page

FAULTS = tuple(load_rules().faults)
every = pytest.mark.parametrize("fault", FAULTS)


@cache
def made(fault: str) -> str:
    return poster_page(fault, load_rules())


@every
def test_a_page_by_itself_with_what_the_fault_is_and_what_can_hurt(fault: str) -> None:
    text, entry = made(fault), load_rules().faults[fault]
    stands_by_itself(text)
    said = " ".join(Page(text).said.split())
    assert " ".join(entry.what.split()) in said
    assert "Take care" in said
    assert " ".join(entry.lesson.confirm[0].split()) in said


def _row(text: str, name: str) -> list[str]:
    (row,) = re.findall(rf'<th scope="row">{name}</th>(.*?)</tr>', text)
    return re.findall("<td>(.*?)</td>", row)


def test_arrows_are_the_published_signs() -> None:
    """Rossi and Braun 1997, table 1 (tests/reference/README): a starved or a full condenser, orifice and valve apart where
    the valve makes up for it."""
    assert _row(made("low-charge"), "Subcooling")[0] == "↓"
    assert _row(made("low-charge"), "Superheat")[0] == "↑"
    assert _row(made("overcharge"), "Subcooling")[0] == "↑"
    assert _row(made("low-outdoor-airflow"), "Condensing temperature") == ["↑", "↑"]
    assert _row(made("liquid-line-restriction"), "Superheat") == ["↑", "↗"]


def test_heating_is_said_where_the_fault_is_one_of_heating() -> None:
    assert "Which readings move in heating" in Page(made("reversing-valve-leaking")).said
    assert "Which readings move in cooling" in Page(made("low-charge")).said
    assert re.findall("<h2 id=.readings.>(.*?)</h2>", made("nothing-wrong")) == ["Which readings move"]


def test_the_command() -> None:
    done = run("lesson", "overcharge", "--as", "poster", "--units", "si")
    assert done.exit_code == 0, done.stderr
    assert "kPa gauge" in done.stdout
    done = run("five-questions", "--as", "poster")
    assert done.exit_code == 2
    assert "only a fault has a poster" in done.stderr


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("fault", ["weak-compressor", "reversing-valve-leaking", "compressor-not-running"])
def test_one_sheet(fault: str, paper: str, in_browser: InBrowser) -> None:
    assert sheets(made(fault), paper, in_browser) == 1


def test_on_a_phone(in_browser: InBrowser) -> None:
    no_wider_than(320, {fault: made(fault) for fault in FAULTS[:4]}, in_browser)
