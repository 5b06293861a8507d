"""No cliffs: a reading that moves by what can just be read moves no share far, and no charge verdict leaves and comes back."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import settings
from sweep import MOST, STEEP, Jump, Return, sweep

from diagnose import load_rules
from diagnose.diagnosis.pipeline import as_visit
from diagnose.shipped import shipped
from diagnose.visit import visit_in
from diagnose.workshop.trials import case_paths, read_case

THOROUGH = settings().max_examples >= settings.get_profile("thorough").max_examples
# One in five day by day, all of them in the thorough profile.
PATHS = case_paths(shipped("cases") / "demo")[:: 1 if THOROUGH else 5]


@cache
def swept(path: Path) -> tuple[list[Jump], list[Return], int]:
    rules = load_rules()
    return sweep(as_visit(visit_in(read_case(path).document, ("visit",)), rules), rules)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_no_step_of_a_reading_makes_a_share_jump(path: Path) -> None:
    assert [jump for jump in swept(path)[0] if abs(jump.by) > STEEP] == []


def test_hardly_any_step_moves_a_share_by_more_than_a_tenth() -> None:
    """Where two limits lie side by side a share may fall by a little more than that; it was 15 steps in 10,000."""
    steps = sum(swept(path)[2] for path in PATHS)
    assert steps > 10_000
    assert sum(abs(jump.by) > MOST for path in PATHS for jump in swept(path)[0]) < 10 * steps / 10_000


def test_hardly_any_charge_verdict_leaves_and_comes_back() -> None:
    lanes = sum(swept(path)[2] > 0 for path in PATHS)
    assert sum(bool(swept(path)[1]) for path in PATHS) <= lanes / 10
