"""A start-up before a class: its sums add up, in both systems of units, and every step that was done is there."""

from __future__ import annotations

import re

import pytest
import shared
from start_ups import MACHINE, READINGS, SHOWN

from diagnose import examine
from diagnose.lessons import lesson_page
from diagnose.report import as_text


@pytest.mark.parametrize("name", shared.STARTS)
def test_its_sums_add_up(name: str) -> None:
    d = shared.examined(f"demo/{name}")
    begin = as_text(lesson_page(d)).partition("The machine and the day")[0]
    assert "Start-up: " in begin
    assert ("No verdict" in begin) is (bool(d.held) and bool(d.visit.last.readings))
    sums = [block for block in lesson_page(d) if block.kind == "sum"]
    for block in sums:
        if " expected − " in block.text:
            expected, read, lost = (
                float(one.replace("−", "-")) for one in re.findall(r"(−?[0-9.]+) (?:psi|kPa)", block.text)[:3]
            )
            assert expected - read == pytest.approx(lost, abs=0.051 if "psi" in block.text else 0.51)
    test = next(item for item in d.start_up.items if item.item == "pressure test")  # type: ignore[union-attr]
    assert any(" expected − " in block.text for block in sums) is ("expected" in test.figures)


def test_every_item_but_those_left_out_stands_in_it() -> None:
    for shown in SHOWN:
        text = as_text(lesson_page(examine(shown.visit)))
        assert "The start-up, worked out" in text
        if shown.status != "left out" and shown.item != "running readings":
            name = "The customer" if shown.item == "customer" else shown.item.capitalize()
            assert f"\n  {name}\n" in text
    assert "The start-up" not in as_text(lesson_page(examine({"machine": MACHINE, "readings": READINGS})))
