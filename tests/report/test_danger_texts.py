"""Dangers in words: at the top of every page, filled in both systems of units, and told in JSON."""

from __future__ import annotations

import re
from typing import Any

import pytest
from heats import SOUND
from strategies import State, visit, with_machine, with_readings

from diagnose import examine, load_rules
from diagnose.report.blocks import Block
from diagnose.report.dangers import SENTENCES, danger_blocks, danger_source, danger_text
from diagnose.report.first_screen import first_screen
from diagnose.report.following import next_page
from diagnose.report.pages import answer, diagnosis_page
from diagnose.report.sentences import said

DAY = visit(State())
TOLD: list[tuple[str, str, dict[str, Any]]] = [
    ("high-side-pressure", "640 psig, over 610 psig, where cut-outs", with_readings(DAY, liquid_pressure="640 psig")),
    ("high-side-pressure", "over 550 psig, the machine’s own",
     with_machine(with_readings(DAY, liquid_pressure="640 psig"), **{"high pressure cut-out": "550 psig"})),
    ("high-side-pressure", "more than any refrigerant",
     with_machine(with_readings(DAY, liquid_pressure="640 psig"), refrigerant=None)),
    ("high-side-near-limit", "close to 610 psig", with_readings(DAY, liquid_pressure="600 psig")),
    ("suction-in-vacuum", "air and moisture are drawn in", with_readings(DAY, suction_pressure="5 inHg vacuum")),
    ("live-parts", "lock out and verify zero voltage", with_readings(DAY, compressor_current="0 A")),
    ("test-gas-burns", "done with oxygen", {**DAY, "start-up": {"pressure test": {"gas": "oxygen"}}}),
    ("test-pressure-too-high", "600 psig, and the plate allows 550 psig",
     {**DAY, "start-up": {"pressure test": {"start pressure": "600 psig", "highest allowed": "550 psig"}}}),
    ("caution/liquid-return", "Superheat at the service valve is 3.5", visit(State(superheat=3.5))),
    ("caution/liquid-reaches-the-compressor", "leave it off until the cause is fixed", visit(State(superheat=1))),
    ("caution/discharge-hot", "at 232.0", with_readings(DAY, discharge_line_temperature="232 F")),
    ("caution/discharge-far-too-hot", "at 300.0", with_readings(DAY, discharge_line_temperature="300 F")),
    ("caution/hot-pipe", "burns skin", with_readings(DAY, discharge_line_temperature="170 F")),
    ("caution/current-too-high", "draws 1.47",
     with_machine(with_readings(DAY, compressor_current="25 A"), rated_current="17 A")),
    ("caution/current-far-too-high", "A clamp round several leads",
     with_machine(with_readings(DAY, compressor_current="50 A"), rated_current="5 A")),
    ("caution/wet-compression", "boils in it", with_readings(SOUND, discharge_line_temperature="102 F")),
    ("caution/house-may-freeze", "shut off and drain the pipes",
     with_readings(SOUND, return_air_dry_bulb="44 F", supply_air_dry_bulb="68 F", outdoor_air_temperature="30 F")),
    ("caution/voltage-imbalance", "out of balance by 8.3",
     {"readings": {"voltage 1 to 2": "441 V", "voltage 2 to 3": "470 V", "voltage 3 to 1": "401 V"}}),
    ("caution/supply-voltage", "has 83.3",
     {"machine": {"rated voltage": "240 V"}, "readings": {"voltage 1 to 2": "200 V"}}),
    ("caution/worn-starting-part", "one day does not start", {"seen": {"contactor": "burnt points"}}),
    ("caution/flammable-a2l", "recovery machine and tools made for it", {"machine": {"refrigerant": "R-32"}}),
    ("caution/built-for-less-pressure", "can burst", {"machine": {"refrigerant": "R-410A", "built for": "R-22"}}),
    ("caution/built-for-another-safety-class", "keep flames and sparks away",
     {"machine": {"refrigerant": "R-290", "built for": "R-22"}}),
    ("caution/suction-side-nearly-empty", "Unless you pump it down on purpose",
     with_readings(DAY, suction_pressure="1.2 psig")),
    ("caution/leak-found", "before any refrigerant is added", {"seen": {"leak": "found"}}),
    ("caution/burning-refrigerant-leaks", "A switch makes sparks",
     {"machine": {"refrigerant": "R-290"}, "seen": {"leak": "found"}}),
    ("caution/flammable-a3", "recovery machine and tools made for it", {"machine": {"refrigerant": "R-290"}}),
]  # fmt: skip


@pytest.mark.parametrize(("code", "words", "data"), TOLD)
def test_every_danger_is_told_in_both_systems_of_units_with_its_source(
    code: str, words: str, data: dict[str, Any]
) -> None:
    d = examine(data)
    (danger,) = [danger for danger in d.dangers if danger.code == code]
    title, text = danger_text(d.told_in("us"), danger)
    assert words in text
    assert re.match(r"[A-Z].*[^.]$", title)
    for told in (text, danger_text(d.told_in("si"), danger)[1]):
        assert re.match(r"[A-Z].*[.]$", told)
        assert not re.search(r"[{}]|\(no |\bNone\b|\bnan\b", told)
    assert danger_source(d, danger)


def test_every_danger_has_a_visit_here() -> None:
    ruled = {rule.id for rule in load_rules().rules if rule.level}
    assert {code for code, _, _ in TOLD} == {*SENTENCES, *ruled}


def test_a_stop_says_one_thing_to_do() -> None:
    """One instruction on every page: switch off, and leave off until the cause is fixed."""
    for _, _, data in TOLD:
        d = examine(data)
        for danger in d.dangers:
            if danger.level == "stop":
                assert "Switch the machine off, and leave it off until the cause is fixed" in danger_text(d, danger)[1]


EARLY = with_readings(visit(State(minutes=8)), liquid_pressure="615 psig", discharge_line_temperature="232 F")


@pytest.mark.parametrize("page", [diagnosis_page, next_page])
def test_dangers_are_told_in_full_right_below_the_opening(page: Any) -> None:
    d = examine(EARLY)
    blocks: list[Block] = page(d)
    assert [block.lead for block in blocks[:3]] == ["STOP:", "", "Danger:"]
    assert blocks[1].kind == "answer"
    assert blocks[3].text == "Danger: stop the machine"
    assert [block.mark for block in blocks[4:7]] == ["STOP", "Care", "Care"]


def test_several_stops_are_one_instruction_and_what_was_seen_follows() -> None:
    blocks = first_screen(examine(with_readings(EARLY, suction_pressure="5 inHg vacuum")))
    assert blocks[0].said == (
        "STOP: Switch the machine off, and leave it off until the cause is fixed. "
        "Why: the high side pressure is over its limit; a gauge stands in vacuum."
    )
    (seen,) = [block.text for block in blocks if block.lead == "Seen:"]
    assert "615 psig, over 610 psig" in seen
    assert "5.0 inHg vacuum, below that of the air" in seen


def test_beside_a_machine_that_must_be_stopped_nobody_is_told_to_wait() -> None:
    d = examine(EARLY)
    assert answer(d) == "Not ready to judge. The machine has not run for 15 minutes."
    whole = " ".join(block.text for block in diagnosis_page(d))
    assert not re.search(r"\b[Ww]ait until|Let the machine run", whole)
    assert "Wait until" in said(examine(visit(State(minutes=8))), d.not_ready[0])


def test_without_dangers_there_is_no_heading() -> None:
    assert list(danger_blocks(examine(DAY))) == []


def test_json_and_the_row_have_the_dangers() -> None:
    d = examine(EARLY)
    told = d.to_dict()["dangers"]
    assert [(one["code"], one["level"]) for one in told][:2] == [
        ("high-side-pressure", "stop"), ("caution/discharge-hot", "care"),
    ]  # fmt: skip
    assert all(set(one) == {"code", "level", "title", "text", "source"} and all(one.values()) for one in told)
    assert d.row()["dangers"] == "high-side-pressure; caution/discharge-hot; caution/hot-pipe"
