"""Figures in words: why a table gives no expected value."""

from __future__ import annotations

import math

import pytest
from strategies import kelvin

from diagnose import targets
from diagnose.report.wording import fill, no_target_text
from diagnose.targets import NoTarget
from diagnose.visit import System


def none(found: targets.Target | NoTarget) -> NoTarget:
    assert isinstance(found, NoTarget)
    return found


def superheat(outdoor: float, wet_bulb: float) -> NoTarget:
    return none(targets.target_superheat(kelvin(outdoor), kelvin(wet_bulb)))


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
    assert no_target_text(none(targets.target_superheat(None, kelvin(63))), "us") == "no usable outdoor air temperature"
    both = none(targets.target_temperature_split(math.nan, None))
    assert no_target_text(both, "si") == "no usable return air dry bulb and no usable return air wet bulb"


def test_dry_air_has_no_split_and_that_is_said() -> None:
    dry = none(targets.target_temperature_split(kelvin(82), kelvin(55)))
    assert no_target_text(dry, "us") == (
        "the table has no temperature split for return air as dry as 82.0 °F dry bulb with 55.0 °F wet bulb"
    )
    assert "27.8 °C dry bulb with 12.8 °C wet bulb" in no_target_text(dry, "si")


def test_a_state_in_braces_is_told_by_its_word() -> None:
    assert (
        fill("Is {feed}, {superheat}.", {}, "us", {"feed": {"fed": 0.2, "starved": 0.8}})
        == "Is starved, (no superheat)."
    )
