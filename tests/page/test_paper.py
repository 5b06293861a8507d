"""The blank form for a clipboard: one sheet, front and back, with every name as a visit file has it and every unit."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from commands import run
from webpages import PAPERS, InBrowser, Page, no_wider_than, sheets, stands_by_itself

from diagnose import load_rules
from diagnose.page.paper import paper_form
from diagnose.visit import System
from diagnose.visit.fields import READINGS

MADE: dict[tuple[System, str], str] = {
    (system, mode): paper_form(load_rules(), system, mode) for system in ("us", "si") for mode in ("cooling", "heating")
}
every = pytest.mark.parametrize("made", MADE.values(), ids=[" ".join(key) for key in MADE])


def units_of(text: str) -> dict[str, str]:
    """Name → unit on its line."""
    return {name: unit for unit, name in re.findall(r'<li class="blank" data-unit="([^"]*)">([^<]+)</li>', text)}


@every
def test_a_page_by_itself(made: str) -> None:
    stands_by_itself(made)


def test_every_reading_that_is_asked_for_has_its_line() -> None:
    for (_, mode), text in MADE.items():
        names = {name.lower() for name in units_of(text)}
        asked = {name for name, field in READINGS.items() if field.asked}
        assert asked <= names
        assert ("vapor line temperature" in names) == (mode == "heating")
        assert ("coil outlet temperature" in names) == (mode == "cooling")


def test_units_are_those_of_the_trade() -> None:
    """Gauges in psig beside °F; bar gauge beside °C and K for differences (common practice, no source)."""
    us, si = units_of(MADE["us", "cooling"]), units_of(MADE["si", "cooling"])
    assert (us["Suction pressure"], si["Suction pressure"]) == ("psig", "bar gauge")
    assert (us["Rated subcooling"], si["Rated subcooling"]) == ("°F", "K")
    assert (us["Factory charge"], si["Factory charge"]) == ("lb oz", "kg")
    assert (us["Line set: liquid line"], si["Line set: liquid line"]) == ("in", "mm")
    assert units_of(MADE["si", "heating"])["Electric power"] == "kW"
    for text in MADE.values():
        assert not [name for name, unit in units_of(text).items() if re.search(r"\b\d", unit)]


@every
def test_every_word_of_what_is_seen_can_be_ticked(made: str) -> None:
    said = " ".join(Page(made).said.split())
    for name, entry in load_rules().seen.items():
        if name.capitalize() in said:
            assert all(f"<span>{word}</span>" in made for word in entry.words)
    assert "lock out the power" in said


def test_the_command(tmp_path: Path) -> None:
    out = tmp_path / "form.html"
    run("page", "form", "--units", "si", "--mode", "heating", "-o", str(out)).fine()
    assert out.read_text(encoding="utf-8") == MADE["si", "heating"]


@pytest.mark.parametrize("paper", PAPERS)
def test_front_and_back_of_one_sheet(paper: str, in_browser: InBrowser) -> None:
    keys: tuple[tuple[System, str], ...] = (("us", "cooling"), ("si", "heating"))
    for key in keys:
        assert sheets(MADE[key], paper, in_browser) == 2


def test_on_a_phone(in_browser: InBrowser) -> None:
    no_wider_than(320, {" ".join(key): text for key, text in MADE.items()}, in_browser)
