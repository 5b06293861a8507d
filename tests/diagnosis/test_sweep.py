"""No cliffs: a reading that moves by what can just be read moves no share far, and no charge verdict leaves and comes back."""

from __future__ import annotations

from functools import cache

import pytest
from sweep import Swept, steps_known, sweep
from work import THOROUGH

from diagnose import Visit, load_rules
from diagnose.diagnosis.pipeline import as_visit
from diagnose.shipped import shipped
from diagnose.simulator.population import draw
from diagnose.visit import visit_from, visit_in
from diagnose.workshop.trials import case_paths, read_case

DEMO = {path.stem: path for path in case_paths(shipped("cases") / "demo")}
SIMULATED = {f"simulated {place}": place for place in range(200)}
# Day by day three of the demo cases; in the thorough profile all of them.
NAMES = [*DEMO, *SIMULATED] if THOROUGH else list(DEMO)[::120]


def visit(name: str) -> Visit:
    if name in SIMULATED:
        return visit_from(draw(8, SIMULATED[name]).visit)
    return as_visit(visit_in(read_case(DEMO[name]).document, ("visit",)), load_rules())


@cache
def swept(name: str) -> Swept:
    return sweep(visit(name), load_rules())


@pytest.mark.parametrize("name", NAMES)
def test_no_step_of_a_reading_makes_a_share_jump_or_a_firm_answer_vanish(name: str) -> None:
    found = swept(name)
    assert found.covered > 0 or not any(steps_known(reading) for reading in visit(name).last.readings)
    assert found.jumps == []


def test_no_charge_verdict_is_switched_off_and_on_again() -> None:
    """What is doubted, set aside or outside holds a verdict from one side of a reading only."""
    assert [found for name in NAMES for found in swept(name).returns if found.switched] == []


def test_hardly_any_charge_verdict_leaves_and_comes_back() -> None:
    """In 12 of 443 visits another fault, or none, fits best in the middle of what a reading can be."""
    assert sum(bool(swept(name).returns) for name in NAMES) <= max(1, len(NAMES) // 30)
