"""Figures in words: why a table gives no expected value."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from overlay import FILES, overlay
from strategies import kelvin

from diagnose import examine, load_rules
from diagnose.properties import targets
from diagnose.properties.targets import NoTarget
from diagnose.report import as_text
from diagnose.report.pages import diagnosis_page
from diagnose.report.wording import fill, no_target_text
from diagnose.rulebook import Rulebook, RuleError
from diagnose.visit import System


def superheat(outdoor: float, wet_bulb: float) -> NoTarget:
    return targets.target_superheat(kelvin(outdoor), kelvin(wet_bulb))


@pytest.mark.parametrize(
    ("system", "words"),
    [("us", ("95.0 °F outdoors", "58.0 °F return air wet bulb", "below 5.0 °F")),
     ("si", ("35.0 °C outdoors", "14.4 °C return air wet bulb", "below 2.8 K"))],
)  # fmt: skip
def test_a_blank_says_what_to_do(system: System, words: tuple[str, ...]) -> None:
    text = no_target_text(superheat(95, 58), system)
    assert all(word in text for word in words)
    assert text.endswith("raise the indoor load, or come back in other weather")


@pytest.mark.parametrize(
    ("outdoor", "wet_bulb", "system", "text"),
    [
        (118, 65, "us", "outdoor air 118.0 °F is outside the table (55.0 °F to 115.0 °F)"),
        (118, 65, "si", "outdoor air 47.8 °C is outside the table (12.8 °C to 46.1 °C)"),
        (95, 77, "us", "return air wet bulb 77.0 °F is outside the table (50.0 °F to 76.0 °F)"),
    ],
)
def test_outside_the_table(outdoor: float, wet_bulb: float, system: System, text: str) -> None:
    assert no_target_text(superheat(outdoor, wet_bulb), system) == text


def test_outside_the_table_on_both_sides() -> None:
    text = no_target_text(superheat(54, 49), "us")
    assert text.startswith("outdoor air 54.0 °F is outside the table")
    assert " and return air wet bulb 49.0 °F is outside the table" in text


def test_what_is_missing_is_named() -> None:
    assert no_target_text(targets.target_superheat(None, kelvin(63)), "us") == "no usable outdoor air temperature"
    both = targets.target_temperature_split(math.nan, None)
    assert no_target_text(both, "si") == "no usable return air dry bulb and no usable return air wet bulb"


def test_dry_air_has_no_split_and_that_is_said() -> None:
    dry = targets.target_temperature_split(kelvin(82), kelvin(55))
    assert no_target_text(dry, "us") == (
        "the table has no temperature split for return air as dry as 82.0 °F dry bulb with 55.0 °F wet bulb"
    )
    assert "27.8 °C dry bulb with 12.8 °C wet bulb" in no_target_text(dry, "si")


def test_a_state_in_braces_is_told_by_its_word(book: Rulebook) -> None:
    assert (
        fill("Is {feed}, {superheat}.", {}, book, "us", {"feed": {"fed": 0.2, "starved": 0.8}})
        == "Is starved, (no superheat)."
    )


HOT = {"machine": {"mode": "cooling", "refrigerant": "R-410A"}, "readings": {"discharge line temperature": "230 F"}}


def told(rules: Rulebook, system: System) -> str:
    return " ".join(as_text(diagnosis_page(examine(HOT, rules).told_in(system))).split())


def test_a_sentence_tells_the_limit_that_holds(book: Rulebook, tmp_path: Path) -> None:
    assert "The discharge line is at 230.0 ± 1.4 °F. Above 225 °F the oil breaks down" in told(book, "us")
    assert "Above 107.2 °C the oil breaks down" in told(book, "si")
    change = "changes:\n  - {limits: discharge line, was: [225 F, 250 F], now: [212 F, 240 F], because: us, date: 2026-05-01}\n"
    assert "Above 212 °F the oil breaks down" in told(load_rules(overlay(tmp_path, changes=change)), "us")


@pytest.mark.parametrize(
    ("when", "place", "what"),
    [
        ("discharge line: too hot", "discharge line from too warm", "`too warm` is not a word of `discharge line`"),
        (
            "discharge line: too hot",
            "discharge line from ordinary",
            "`ordinary` is the lowest word of `discharge line`",
        ),
        ("superheat: high", "superheat from high", "`superheat` has no limit that is one figure"),
        ("coil corrosion: present", "coil corrosion from present", "`coil corrosion` has no limit that is one figure"),
        ("discharge line: too hot", "superheat from high", "is not among the findings of this rule's `when`"),
    ],
)
def test_a_limit_that_cannot_be_told(tmp_path: Path, when: str, place: str, what: str) -> None:
    text = (
        FILES["rules.yaml"]
        .replace("{coil corrosion: present}", f"{{{when}}}")
        .replace("{coil corrosion}", f"{{{place}}}")
    )
    with pytest.raises(RuleError) as refused:
        load_rules(overlay(tmp_path, rules=text))
    problem = next(problem for problem in refused.value.problems if what in problem.what)
    assert problem.line == 7
    assert problem.fix
