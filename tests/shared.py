"""What many tests look at and none may change: the shipped cases and simulated machines, each worked out once a process.

All of it is frozen, or JSON that is only read. A test that wants to know whether two runs agree calls `examine` itself.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from work import THOROUGH

from diagnose import Diagnosis, examine, load_rules
from diagnose.practice.exercise import Exercise, new
from diagnose.report import Block, as_text
from diagnose.report.pages import diagnosis_page
from diagnose.simulator import Practice, draw
from diagnose.units import System
from diagnose.visit import Visit, visit_in
from diagnose.workshop.trials import Case, CaseResult, case_paths, read_case, run_case

PATHS = {f"{path.parent.name}/{path.stem}": path for path in case_paths()}
DEMOS = [name.removeprefix("demo/") for name in PATHS if name.startswith("demo/")]
# Their screen is a list, held by tests/report/test_start_up_pages.py.
STARTS = [name for name in DEMOS if name.startswith("start-up-")]
DEMO = PATHS["demo/settled"].parent
# What holds for every visit is asked of a ninth of the demos and of those that show what few of them do, so of every kind of
# result (test_coverage.py makes sure); the files that ask take different parts, and `thorough` takes all.
RARE = (
    "baseline-overcharge-orifice", "cold-day-fan-cycles", "danger-although-swapped", "danger-high-side-630-psig",
    "metering-overfeeding-eev", "no-known-pattern", "si-low-charge", "two-faults-little-air-on-both-sides",
)  # fmt: skip
_OTHERS = [name for name in DEMOS if name not in STARTS]
PARTS = [_OTHERS if THOROUGH else sorted({*_OTHERS[start::9], *RARE}) for start in range(3)]


@cache
def case(name: str) -> Case:
    """A shipped case by its name, as `demo/settled`."""
    return read_case(PATHS[name])


@cache
def visit_of(name: str) -> Visit:
    """Its visit, read."""
    return visit_in(case(name).document, ("visit",))


def result(name: str) -> CaseResult:
    """The case run against the shipped book: once a process (conftest.py)."""
    return run_case(case(name))


def examined(name: str, units: System | None = None) -> Diagnosis:
    """What its visit says, in the units it is written in unless others are named."""
    return _examined(name, units or visit_of(name).system)


@cache
def _examined(name: str, units: System) -> Diagnosis:
    own = result(name).diagnosis
    return (own or examine(visit_of(name), load_rules())).told_in(units)


@cache
def told(name: str) -> dict[str, Any]:
    """The result as JSON has it."""
    return examined(name).to_dict()


@cache
def blocks(name: str, units: System | None = None) -> tuple[Block, ...]:
    """The whole page of it."""
    return tuple(diagnosis_page(examined(name, units)))


@cache
def page(name: str, units: System | None = None) -> str:
    """What the terminal shows of it, 80 columns wide."""
    return as_text(blocks(name, units))


def machines(count: int) -> tuple[Practice, ...]:
    """The first so many of one population with every fault in turn and all readings; nothing was set on its seed."""
    return tuple(map(_machine, range(count)))


@cache
def _machine(place: int) -> Practice:
    return draw(8514, place)


@cache
def exercise(seed: int, fault: str | None = None, hard: bool = False) -> Exercise:
    """A practice visit."""
    return new(seed, load_rules(), fault, hard)
