"""What would change the answer: the change really turns it, a smaller one does not."""

from __future__ import annotations

from functools import cache

import pytest
from strategies import State, visit, with_readings

from diagnose import Diagnosis, examine
from diagnose.diagnosis.pipeline import SAFE
from diagnose.diagnosis.sensitivity import CLOSE, REACH, TurningPoint, moved, sensitivity, turning_points
from diagnose.shipped import shipped
from diagnose.visit import visit_in
from diagnose.workshop.trials import case_paths, read_case

DEMOS = {path.stem: path for path in case_paths(shipped("cases") / "demo")}
TRIED = (
    "low-charge-txv", "overcharge-txv", "r134a-overcharge", "metering-underfeeding-orifice", "suction-clamp-in-the-air",
    "settled",
)  # fmt: skip


@cache
def demo(name: str) -> Diagnosis:
    return examine(visit_in(read_case(DEMOS[name]).document, ("visit",)))  # type: ignore[arg-type]


@cache
def points(name: str) -> tuple[TurningPoint, ...]:
    return sensitivity(demo(name))


def first_with(d: Diagnosis, reading: str, by: float) -> str | None:
    found = examine(moved(d.visit, reading, by), d.rules)
    return found.faults[0].fault if found.faults else None


def test_there_is_something_to_try():
    assert sum(len(points(name)) for name in TRIED) >= 5


@pytest.mark.parametrize("name", TRIED)
def test_the_change_turns_the_answer_and_a_smaller_one_does_not(name):
    d = demo(name)
    for t in points(name):
        by = t.value - t.reading.value
        assert t.fault != d.faults[0].fault
        assert first_with(d, t.reading.name, by) == t.fault
        less = (t.times_error - 0.125) * t.reading.error  # it is found to an eighth of the limit of error
        smaller = first_with(d, t.reading.name, less if by > 0 else -less)
        assert smaller in (d.faults[0].fault, None)


@pytest.mark.parametrize("name", TRIED)
def test_nearest_first_each_reading_once_and_none_too_far(name):
    found = points(name)
    times = [t.times_error for t in found]
    assert times == sorted(times)
    assert len({t.reading.name for t in found}) == len(found)
    assert all(0 < x <= REACH for x in times)
    for t in found:
        # The value is rounded on to what is written down: 0.1 °F, or 1 psi.
        on = abs(t.value - t.reading.value) / t.reading.error - t.times_error
        assert -1e-6 <= on <= (1.0 if "pressure" in t.reading.name else 0.25)


def test_the_smaller_of_two_ways_is_told():
    """By hand: the answer turns 1.2 limits up or 0.6 down."""
    visited = examine(visit(State())).visit
    name = "suction pressure"
    was = visited.last.readings[name]

    def leading(v, _) -> str:
        by = (v.last.readings[name].value - was.value) / was.error
        return "up" if by > 1.2 else "down" if by < -0.6 else "here"

    (found,) = turning_points(visited, "here", leading)
    assert (found.fault, found.reading.name) == ("down", name)
    assert found.times_error == pytest.approx(0.625)


def test_what_cannot_be_judged_turns_nothing():
    visited = examine(visit(State())).visit
    assert turning_points(visited, "here", lambda v, _: None if v is not visited else "here") == ()


def test_a_visit_that_is_not_ready_has_no_turning_point():
    d = examine(with_readings(visit(State()), minutes_running=5))
    assert d.status == "not ready"
    assert sensitivity(d) == ()
    assert d.would_change == ()
    assert d.to_dict()["would_change"] == []


def test_moving_a_reading_moves_it_in_every_round_and_nothing_else():
    d = demo("settled")
    after = moved(d.visit, "suction pressure", 1000.0)
    assert len(after.rounds) > 1
    for old, new in zip(d.visit.rounds, after.rounds, strict=True):
        change = {n: r.value - old.readings[n].value for n, r in new.readings.items()}
        assert {n: x for n, x in change.items() if x} == pytest.approx({"suction pressure": 1000.0})


@pytest.mark.parametrize("name", TRIED)
def test_only_close_ones_are_in_the_result_and_none_where_the_answer_is_safe(name):
    d = demo(name)
    told = d.to_dict()["would_change"]
    assert all(0 < t["times_error"] <= CLOSE for t in told)
    if d.faults[0].share >= SAFE:
        assert told == []
    else:
        assert {t["reading"] for t in told} == {t.reading.name for t in points(name) if t.times_error <= CLOSE}
    for t in told:
        assert set(t) == {"reading", "value", "instead_of", "unit", "fault", "times_error"}
        assert t["unit"] in ("K", "Pa", "m3/s", "A", "1")
        assert t["fault"] in d.rules.faults
