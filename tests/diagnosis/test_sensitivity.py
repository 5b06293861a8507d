"""What would change the answer: the change really turns it, a smaller one does not."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judged import JUDGEMENT
from strategies import State, states, visit, with_readings

from diagnose import Diagnosis, VisitError, examine
from diagnose.diagnosis.findings import blended, find
from diagnose.diagnosis.next_checks import next_checks
from diagnose.diagnosis.ranking import rank
from diagnose.diagnosis.sensitivity import Leading, TurningPoint, moved, sensitivity, turning_points, would_change
from diagnose.quantities.baseline import project
from diagnose.quantities.plausibility import Doubt, doubts, layers
from diagnose.quantities.uncertainty import estimate
from diagnose.shipped import shipped
from diagnose.visit import READINGS, Visit, visit_in
from diagnose.workshop.trials import case_paths, read_case

REACH, CLOSE, SAFE = 3.0, 2.0, 0.95

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


def test_a_machine_that_is_more_likely_not_ready_than_ready_turns_nothing():
    d = examine(visit(State()))
    told = Leading(d.visit, d.rules, d.applying)._book
    none = [0.0] * len(d.applying.patterns)
    place = next(i for i, pattern in enumerate(d.applying.patterns) if pattern.id == "ready/superheat-settled")
    for sure, held in ((0.5, False), (0.51, True)):
        assert told.held([*none[:place], sure, *none[place + 1 :]]) is held


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


def slowly(d: Diagnosis, reach: float) -> tuple[TurningPoint, ...]:
    """Every reading tried, everything worked out anew each time, by the functions that work out the visit itself."""
    good = d.good_day if d.good_day and d.good_day.used else None

    figures = JUDGEMENT

    def firm(found):
        return [doubt for doubt in found if doubt.firm]

    def worked_out(v: Visit, aside=()):
        return estimate(v, aside, figures.steadiness)

    def doubted(v: Visit):
        return doubts(v, worked_out(v), figures.plausibility)

    here = doubted(d.visit)
    doubtful = len(firm(here))
    holding = {rule.id for rule in d.applying.rules if rule.kind == "readiness" and rule.holds == "visit"}

    def leading(v: Visit, reading: str) -> str | None:
        found = doubted(v)
        if not here and (first := ranked(v, ())) == d.ranked[0].fault:
            return first  # what only a doubt of the moved reading would turn is no change of the answer
        return ranked(v, found)

    def ranked(v: Visit, found: tuple[Doubt, ...]) -> str | None:
        parts = []
        for layer in layers(found):
            estimates = {n: e for n, e in worked_out(v, layer.set_aside).items() if n not in layer.spoilt}
            if good is not None:
                estimates = dict(project(v, estimates, good.before.estimates, good.odd, figures.good_day).estimates)
            parts.append((layer.share, find(v, estimates, d.rules)))
        firings = d.applying.plain.run({n: f.words for n, f in blended(parts).items()}).firings
        held = any(f.sure > 0.5 and f.rule in holding for f in firings)
        if held or len(firm(found)) > doubtful or any(doubt.holds_visit for doubt in firm(found)):
            return None
        return rank(d.rules, firings)[0].fault

    return turning_points(d.visit, d.ranked[0].fault, leading, reach, CLOSE)


# With a believed baseline, several rounds, doubts about readings that set some aside, and without any of these.
COMPARED = (
    "low-charge-txv", "suction-clamp-in-the-air", "baseline-own-subcooling-txv", "non-condensables-eight-readings",
    "only-two-readings",
)  # fmt: skip


@pytest.mark.parametrize("name", COMPARED)
def test_working_out_only_what_follows_gives_the_same_as_working_out_everything(name):
    found, wanted = points(name), slowly(demo(name), REACH)
    assert [(t.reading.name, t.fault, t.times_error) for t in found] == [
        (t.reading.name, t.fault, t.times_error) for t in wanted
    ]
    assert [t.value for t in found] == pytest.approx([t.value for t in wanted], rel=1e-12)


@settings(max_examples=2, derandomize=True, deadline=None)
@given(states(), st.booleans(), st.sampled_from([0.0, 3.0, 12.0]))
def test_the_same_on_any_machine_with_and_without_doubts(book, state, extra, off):
    """`off`: °F by which the liquid line clamp is off, which may make it impossible."""
    data = visit(state, extra=extra)
    colder = f"{float(str(data['readings']['liquid line temperature']).split()[0]) - off:.1f} F"
    d = examine(with_readings(data, liquid_line_temperature=colder), book)
    assert [(t.reading.name, t.fault, t.times_error) for t in sensitivity(d, CLOSE)] == (
        [(t.reading.name, t.fault, t.times_error) for t in slowly(d, CLOSE)] if d.status == "diagnosed" else []
    )


@pytest.mark.parametrize("absolute", [False, True])
def test_only_readings_that_can_be_are_tried(absolute):
    """Limits of error that take every reading beyond what its field can hold, and temperatures below absolute zero."""
    visited = examine(visit(State(), absolute=absolute)).visit
    wild = {name: r._replace(error=100.0 * abs(r.value)) for name, r in visited.last.readings.items()}
    asked: list[float] = []

    def leading(v: Visit, reading: str) -> str:
        asked.append(v.last.readings[reading].value)
        return "another"

    visited = replace(visited, rounds=(visited.last._replace(readings=wild),))
    assert turning_points(visited, "here", leading, REACH, CLOSE) == ()
    assert asked == []
    mild = {name: r._replace(error=0.05 * abs(r.value)) for name, r in visited.last.readings.items()}
    turned = turning_points(
        replace(visited, rounds=(visited.last._replace(readings=mild),)), "here", leading, REACH, CLOSE
    )
    assert {t.reading.name for t in turned} >= {"suction pressure", "liquid pressure"}
    for t in turned:
        spec = READINGS[t.reading.name]
        zero = visited.machine.station_pressure if spec.kind == "pressure" and absolute else 0.0
        assert spec.low <= t.value - zero <= spec.high


WILD = {
    "gauges": ["1 %", "99 %", "300 %", "0.01 psi", "1000 psi", "5e7 kPa"],
    "pipe clamps": ["244 C", "61 F", "0.001 F", "9999 K", "1 %"],
    "air thermometers": ["244 C", "90 F", "0.001 F", "9999 K"],
    "humidity meter": ["3 %", "99 %", "300 %"],
    "airflow meter": ["1 %", "500 %", "500 cfm"],
    "manometer": ["1 %", "5 inH2O"],
    "power meter": ["1 %", "900 W", "9 MW"],
    "current clamp": ["0.1 A", "1e6 A", "lots"],
}
FAR = {
    "temperature": ["-39 F", "-40 C", "139.9 F", "32 F", "0 C"],
    "pressure": ["0 psig", "-14 psig", "860 psig", "1 psia", "870 psia"],
    "percent": ["0 %", "100 %"],
    "airflow": ["0 cfm", "1 cfm", "127000 cfm"],
    "small pressure": ["-0.4 inH2O", "5.9 inH2O"],
    "current": ["0 A", "499 A"],
    "difference": ["0 F", "-9 F", "99 F"],
    "capacity": ["0 W", "999 kW"],
    "voltage": ["0 V", "299 V"],
    "capacitance": ["0 uF", "199 uF"],
}
LIMITS = st.fixed_dictionaries({}, optional={name: st.sampled_from(ways) for name, ways in WILD.items()})
READ = st.dictionaries(st.sampled_from(list(READINGS)), st.integers(0, 9), max_size=3)


@settings(max_examples=5, derandomize=True, deadline=None)
@given(LIMITS, READ, st.booleans(), st.sampled_from(["us", "si"]))
def test_no_limit_of_error_and_no_reading_raises_anything_but_a_visit_error(book, limits, read, with_baseline, system):
    data = visit(State(), system=system, extra=True)
    far = {name: FAR[READINGS[name].kind][i % len(FAR[READINGS[name].kind])] for name, i in read.items()}
    data = {**data, "instruments": limits, "readings": {**data["readings"], **far}}
    if with_baseline:
        data["baseline"] = {"readings": visit(State(outdoor=90.0), extra=True)["readings"]}
    with suppress(VisitError):
        d = examine(data, book)
        assert isinstance(d.to_dict()["would_change"], list)
        assert len(sensitivity(d)) <= len(READINGS)
        assert len(next_checks(d)) <= len(book.checks)


@pytest.mark.parametrize("limits", [{"pipe clamps": "244 C"}, {"air thermometers": "90 F"}, {"gauges": "90 %"}])
def test_a_wild_limit_of_error_alone(book, limits):
    """What once ended in a UnitError: the moved reading was printed below absolute zero, and the print was read."""
    data = visit(State(superheat=30, subcooling=18, evaporating=34, split=14))
    with suppress(VisitError):  # refused at the door is as good
        for t in sensitivity(examine({**data, "instruments": limits}, book)):
            assert READINGS[t.reading.name].low <= t.value <= READINGS[t.reading.name].high


def test_the_smaller_of_two_ways_is_told():
    """By hand: the answer turns 1.2 limits up or 0.6 down."""
    visited = examine(visit(State())).visit
    name = "suction pressure"
    was = visited.last.readings[name]

    def leading(v, _) -> str:
        by = (v.last.readings[name].value - was.value) / was.error
        return "up" if by > 1.2 else "down" if by < -0.6 else "here"

    (found,) = turning_points(visited, "here", leading, REACH, CLOSE)
    assert (found.fault, found.reading.name) == ("down", name)
    assert found.times_error == pytest.approx(0.625)


def test_what_cannot_be_judged_turns_nothing():
    visited = examine(visit(State())).visit
    assert turning_points(visited, "here", lambda v, _: None if v is not visited else "here", REACH, CLOSE) == ()


def test_a_visit_that_is_not_ready_has_no_turning_point():
    d = examine(with_readings(visit(State()), minutes_running=5))
    assert d.status == "not ready"
    assert sensitivity(d) == ()
    assert would_change(d) == ()
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
