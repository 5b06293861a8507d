"""A log examined: what runs when, which stretches are steady, what is said of each, and what was dangerous at any moment.

Logs of simulated machines are told by the true state of the simulator; the variance by Python's own `statistics`.
"""

from __future__ import annotations

import json
import math
import re
import statistics
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import judged
from made_logs import COLUMNS, MACHINE, ROWS, SPELLS, MadeRow, csv_of, day, steady_states
from webpages import drawings_told_in_words, stands_by_itself

from diagnose.batch.logs import steady
from diagnose.batch.logs.chart import day_charts
from diagnose.batch.logs.examining import examine_log
from diagnose.batch.logs.model import ExaminedLog
from diagnose.batch.logs.page import Follower, event_text, log_data, log_page, summary
from diagnose.batch.logs.reading import read_log
from diagnose.batch.logs.steady import RunningSums
from diagnose.properties import saturation_temperature
from diagnose.report import as_markdown, as_text
from diagnose.report.illustrated import figure
from diagnose.report.webpage import web_page
from diagnose.rulebook import Rulebook
from diagnose.visit import VisitError
from diagnose.yamlfile import InputProblems, parse

F = 1 / 1.8


def examined(rows: Sequence[MadeRow] | str, book: Rulebook, machine: str | None = MACHINE) -> ExaminedLog:
    text = rows if isinstance(rows, str) else csv_of(rows)
    log = read_log(text.encode(), "log.csv", book)
    return examine_log(log, book, parse(machine, "machine.yaml") if machine else None)


def kinds(log: ExaminedLog) -> list[str]:
    return [event.kind for event in log.events]


def minutes(log: ExaminedLog, time: float) -> float:
    return (time - log.log.times[0]) / 60


# -- what runs when ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("column", ["switch", "compressor current", "pressures", "air temperature split"])
def test_the_same_runs_by_whatever_shows_them(book: Rulebook, column: str) -> None:
    if column == "switch":
        lines = csv_of(ROWS).splitlines()
        marks = ["running", *("on" if row.runs else "off" for row in ROWS)]
        text = "\n".join(f"{line},{mark}" for line, mark in zip(lines, marks, strict=True))
    else:
        left = {"pressures": ("current",), "air temperature split": ("current", "pressure")}.get(column, ())
        text = csv_of(ROWS, {name: unit for name, unit in COLUMNS.items() if not any(word in name for word in left)})
    log = examined(text, book)
    assert log.by == column
    long = [s for s in log.spells if s.end - s.begin > 30]
    late = 0 if column in ("switch", "compressor current") else 6  # what changes slowly is seen late
    for spell, (begin, end) in zip(long, (SPELLS[0], SPELLS[-1]), strict=True):
        assert begin <= minutes(log, log.log.times[spell.begin]) <= begin + late
        assert end - 1 <= minutes(log, log.log.times[spell.end - 1]) <= end - 1 + late
        assert (spell.started, spell.stopped) == (True, True)
    if column in ("switch", "compressor current"):
        assert [(round(minutes(log, log.log.times[s.begin])), s.end - s.begin) for s in log.spells] == [
            (begin, end - begin) for begin, end in SPELLS
        ]
        assert kinds(log) == ["short cycling"]
        assert log.events[0].figures == {"starts": 4.0, "hour": 4.0, "shortest": 180.0, "longest": 240.0}


def test_a_current_that_shows_nothing_does_not_hide_a_run(book: Rulebook) -> None:
    """A clamp on another wire: the pressures tell."""
    log = examined([replace(row, values={**row.values, "compressor current": 0.1}) for row in ROWS], book)
    assert log.by == "pressures"
    assert log.stretches


def test_ordinary_cycling_is_not_short_cycling(book: Rulebook) -> None:
    """Three cycles an hour of ten minutes each, as thermostats are set for half load (common practice, no source)."""
    rows = list(day([(20 * k, 20 * k + 10) for k in range(12)], 4))
    log = examined(rows, book)
    assert len(log.spells) == 12
    assert "short cycling" not in kinds(log)
    often = list(day([(8 * k, 8 * k + 6) for k in range(12)], 2))  # 7.5 starts an hour
    assert kinds(examined(often, book)) == ["short cycling"]


# -- steady stretches --------------------------------------------------------------------------------------------------


@given(st.lists(st.floats(-1e3, 1e3) | st.just(math.nan), min_size=1, max_size=40), st.data())
def test_a_window_has_the_mean_and_deviation_that_python_says(values: list[float], data: st.DataObject) -> None:
    begin = data.draw(st.integers(0, len(values) - 1))
    end = data.draw(st.integers(begin + 1, len(values)))
    known = [each for each in values[begin:end] if math.isfinite(each)]
    count, mean, spread = RunningSums(values).of(begin, end)
    assert count == len(known)
    if known:
        assert mean == pytest.approx(statistics.fmean(known), abs=1e-6)
    if len(known) > 1:
        assert spread == pytest.approx(statistics.stdev(known), abs=2e-4)


def test_the_limits_are_those_of_the_rule_book(book: Rulebook) -> None:
    def limit(finding: str) -> float:
        return max(abs(each) for scale in book.findings[finding].scales for each in scale.limits)

    assert limit("superheat drift") == pytest.approx(steady.DRIFT)
    assert limit("suction pressure drift") == pytest.approx(steady.DRIFT_SHARE)
    assert limit("superheat swing") == pytest.approx(steady.HUNTS)


@pytest.mark.parametrize(("per_five_minutes", "found"), [(0.8, True), (1.25, False)])
def test_a_straight_drift_is_steady_up_to_the_limit(book: Rulebook, per_five_minutes: float, found: bool) -> None:
    """The suction line drifts straight by so many °F in five minutes, for two hours; with little noise."""
    rows = list(day([(0, 120)], 2, noise=0.3))
    slope = per_five_minutes * F / 5
    drifting = [
        replace(row, values={**row.values, "suction line temperature": 285.0 + slope * i}) for i, row in enumerate(rows)
    ]
    assert bool(examined(drifting, book).stretches) is found


def test_a_stretch_is_what_the_simulator_says(book: Rulebook) -> None:
    """The mean of a stretch is the simulator's steady state; its scatter widens the error by the noise that was put in."""
    rows = list(day([(5, 120)], 2, charge=0.75, outdoor=lambda hour: 85.0))
    (stretch,) = [each for each in examined(rows, book).stretches if each.stretch.begin < 60]
    true = steady_states(0.75, "TXV")[1]
    assert 15 <= minutes(examined(rows, book), stretch.begin) - 5 <= 30  # not before the quarter of an hour
    taken = stretch.diagnosis.visit.last.readings
    for name in COLUMNS:
        limit = 0.004 * true[name] if "pressure" in name else 0.15
        assert taken[name].value == pytest.approx(true[name], abs=limit), name
    boiling = saturation_temperature("R-410A", "dew", true["suction pressure"] + 101325.0)
    assert stretch.diagnosis.estimates["superheat"].value == pytest.approx(
        true["suction line temperature"] - boiling, abs=0.4
    )
    plain, found = (
        1.4 * F,
        taken["suction line temperature"].error,
    )  # the clamp's limit of error, where nothing else is said
    assert math.sqrt(found**2 - plain**2) / 2 == pytest.approx(0.06, rel=0.4)


def test_each_stretch_is_examined_and_the_answers_agree(book: Rulebook) -> None:
    log = examined(ROWS, book)
    assert [each.stretch.kind for each in log.stretches] == ["steady", "steady"]
    assert {each.diagnosis.faults[0].fault for each in log.stretches} == {"low-charge"}
    assert {each.diagnosis.charge.verdict for each in log.stretches} == {"low"}
    assert summary(log).startswith("Most likely in all 2 stretches: low refrigerant charge")
    healthy = examined(list(day([(10, 100)], 2)), book)
    assert healthy.stretches[0].diagnosis.charge.verdict == "right"
    both = examined(
        [*ROWS[:115], *(replace(row, time=row.time + timedelta(minutes=115)) for row in day([(0, 90)], 2, charge=1.0))],
        book,
    )
    assert summary(both).startswith("The stretches differ: ")


def test_coarse_and_fine_logs_tell_the_same(book: Rulebook) -> None:
    for step in (10.0, 120.0, 300.0):
        log = examined(list(day([(10, 130)], 2.5, charge=0.75, step=step)), book)
        assert log.stretches, step
        assert {each.diagnosis.faults[0].fault for each in log.stretches} == {"low-charge"}, step
    coarse = examined(list(day([(10, 130)], 2.5, charge=0.75, step=900.0)), book)
    assert not coarse.stretches
    assert "log-too-coarse" in [note.code for note in coarse.notes]


def test_no_stretch_crosses_a_gap_and_running_time_begins_anew(book: Rulebook) -> None:
    rows = list(day([(0, 180)], 3, charge=0.75))
    log = examined(rows[:60] + rows[80:], book)
    for each in log.stretches:
        assert log.log.piece_of(each.stretch.begin) == log.log.piece_of(each.stretch.end - 1)
    after = [each for each in log.stretches if each.stretch.begin >= 60]
    assert after
    assert after[0].stretch.at_least
    assert log.log.times[after[0].stretch.begin] - log.log.times[60] >= steady.SETTLING


def test_weather_that_moves_makes_several_visits(book: Rulebook) -> None:
    log = examined(list(day([(0, 300)], 5, outdoor=lambda hour: 78.0 + 3 * hour)), book)
    assert 4 <= len(log.stretches) <= 6
    for each in log.stretches:
        assert each.end - each.begin <= 1.3 * book.judgement.logs.longest
    outdoor = [each.diagnosis.estimates["outdoor air temperature"].value for each in log.stretches]
    assert outdoor == sorted(outdoor)


# -- hunting, unsettled, defrosts, dangers -----------------------------------------------------------------------------


def hunting(by: float) -> list[MadeRow]:
    return [
        replace(row, values={**row.values, "suction line temperature": row.values["suction line temperature"]
                             + by * F * math.sin(2 * math.pi * i / 4.3)})
        for i, row in enumerate(day([(0, 90)], 1.5, outdoor=lambda hour: 85.0))
    ]  # fmt: skip


def test_a_valve_that_hunts_is_told_and_its_rounds_are_examined(book: Rulebook) -> None:
    log = examined(hunting(5.0), book)
    assert kinds(log) == ["hunting"]
    assert log.events[0].figures["swing"] == pytest.approx(10 * F, rel=0.25)
    (stretch,) = log.stretches
    assert stretch.stretch.kind == "hunting"
    assert "ready/hunting" in [reason.code for reason in stretch.diagnosis.not_ready]
    assert "Hunting" in as_text(log_page(log))
    assert "hunting" not in kinds(examined(hunting(0.3), book))


def test_readings_that_never_settle_are_told_and_not_judged(book: Rulebook) -> None:
    rows = [
        replace(row, values={**row.values, "liquid pressure": row.values["liquid pressure"] * (0.7 + i / 200)})
        for i, row in enumerate(day([(0, 90)], 1.5))
    ]
    log = examined(rows, book)
    assert kinds(log) == ["unsettled"]
    assert not log.stretches
    assert summary(log) == "Nothing could be judged: the log has no steady stretch."
    assert "log-never-steady" in [note.code for note in log.notes]


def heating(rows: Sequence[MadeRow], defrosts: Sequence[tuple[int, int]]) -> list[MadeRow]:
    """The same machine said to heat: the supply air is warm, but cold while it defrosts."""
    found = []
    for i, row in enumerate(rows):
        inside = row.values["return air dry bulb"]
        cold = any(a <= i < b for a, b in defrosts)
        found.append(
            replace(
                row,
                values={**row.values, "supply air dry bulb": inside + (-8.0 if cold else 15.0 if row.runs else 0.0)},
            )
        )
    return found


def test_defrosts_are_seen_and_nothing_is_judged_for_a_quarter_of_an_hour(book: Rulebook) -> None:
    machine = MACHINE.replace("mode: cooling", "mode: heating")
    rows = heating(list(day([(0, 240)], 4, outdoor=lambda hour: 80.0)), [(60, 66), (150, 157)])
    log = examined(rows, book, machine)
    assert [(minutes(log, each.begin), minutes(log, each.end)) for each in log.events if each.kind == "defrost"] == [
        (60, 66), (150, 157)
    ]  # fmt: skip
    assert log.stretches
    for each in log.stretches:
        since = [minutes(log, each.begin) - end for end in (66, 157) if end <= minutes(log, each.begin)]
        assert all(gap >= 15 for gap in since)
    assert log.stretches[-1].stretch.defrosted == pytest.approx(239 - 157)
    text = csv_of(rows, {name: unit for name, unit in COLUMNS.items() if "supply" not in name})
    assert "log-defrosts-unseen" in [note.code for note in examined(text, book, machine).notes]
    lines = text.splitlines()
    marks = ["defrost", *("1" if 60 <= i < 66 else "0" for i in range(len(rows)))]
    switched = examined("\n".join(f"{a},{b}" for a, b in zip(lines, marks, strict=True)), book, machine)
    assert [minutes(switched, each.begin) for each in switched.events if each.kind == "defrost"] == [60]


def test_a_danger_of_a_single_moment_is_told_first(book: Rulebook) -> None:
    """700 psig for two minutes, far from any steady stretch: R-410A's cut-outs open at some 610 to 650 psig."""
    rows = [
        replace(row, values={**row.values, "liquid pressure": 700 * 6894.757}) if i in (122, 123) else row
        for i, row in enumerate(ROWS)
    ]
    log = examined(rows, book)
    assert log.dangers[0].danger.code == "high-side-pressure"
    assert minutes(log, log.dangers[0].at) in (122, 123)
    assert as_text(log_page(log)).startswith(
        "STOP: Switch the machine off, and leave it off until the cause is fixed. Why:\n"
        "  the high side pressure is over its limit, at 11:0"
    )
    assert log_data(log)["dangers"][0]["level"] == "stop"


@pytest.mark.parametrize("rows", [ROWS, ROWS[:3]])
def test_what_a_machine_is_filled_with_is_told_at_the_top_of_any_log(book: Rulebook, rows: list[MadeRow]) -> None:
    """Also of one that never ran steadily, and without a moment: it always burns."""
    burns = MACHINE.replace("R-410A", "R-290")
    told = as_text(log_page(examined(rows, book, burns))).splitlines()[:6]
    assert re.search(r"Danger: .*this refrigerant is flammable[;.]", " ".join(" ".join(told).split()))


def test_starting_is_no_danger(book: Rulebook) -> None:
    """In the first minutes the suction pressure may fall low and the current is large."""
    rows = [
        replace(row, values={**row.values, "suction pressure": -2e4, "compressor current": 60.0}) if i == 11 else row
        for i, row in enumerate(ROWS)
    ]
    assert {each.danger.code for each in examined(rows, book).dangers} <= {"caution/hot-pipe"}


# -- what the log and the file beside it say ---------------------------------------------------------------------------


def test_the_machine_may_stand_in_the_logs_own_columns(book: Rulebook) -> None:
    lines = csv_of(ROWS).splitlines()
    facts = "machine,refrigerant,metering,nominal capacity [ton],rated subcooling [F]"
    text = "\n".join([f"{facts},{lines[0]}", *(f"shop 2,R-410A,TXV,3,10,{line}" for line in lines[1:])])
    log = examined(text, book, None)
    visit = log.stretches[0].diagnosis.visit
    assert (visit.machine.name, visit.machine.metering) == ("shop 2", "TXV")
    assert visit.machine.fact("nominal capacity") == pytest.approx(3 * 3516.85, rel=1e-4)
    assert log.stretches[0].diagnosis.faults[0].fault == "low-charge"
    beside = examined(text, book, "machine: {refrigerant: R-22}\nreadings: {suction pressure: 1 psig}")
    assert [note.code for note in beside.notes] == ["log-fact-twice", "log-readings-unused"]
    gas = beside.stretches[0].diagnosis.visit.machine.refrigerant
    assert gas.name == "R-22"


@pytest.mark.parametrize("gap", ["", "part load"])
def test_no_stretch_crosses_a_change_of_stage(book: Rulebook, gap: str) -> None:
    """It has to settle anew after the change; a cell with nothing in it changes nothing."""
    lines = csv_of(list(day([(5, 120)], 2, outdoor=lambda hour: 85.0))).splitlines()
    stages = ["full"] * 60 + [gap] * (len(lines) - 61)
    text = "\n".join([f"running at,{lines[0]}", *(f"{s},{line}" for s, line in zip(stages, lines[1:], strict=True))])
    found = examined(text, book, MACHINE.replace("}", ", compressor: two-stage}"))
    ends = [(minutes(found, each.begin), minutes(found, each.end)) for each in found.stretches]
    assert all(end <= 60 or begin >= 75 for begin, end in ends) == bool(gap)
    assert ends


def test_a_case_file_beside_it_and_mistakes_in_it(book: Rulebook) -> None:
    case = f"case: demo/x\ntruth: low-charge\nvisit:\n  {MACHINE}\n"
    assert examined(ROWS, book, case).stretches
    with pytest.raises(VisitError, match="R-999"):
        examined(ROWS, book, "machine: {refrigerant: R-999}")
    with pytest.raises(InputProblems, match=re.escape("machine.yaml:1:11")):
        examined(ROWS, book, "machine: {colour: red}")


# -- the page ----------------------------------------------------------------------------------------------------------


def test_every_form_of_the_page_holds_every_answer(book: Rulebook) -> None:
    log = examined(ROWS, book)
    drawn = [figure(chart) for chart in day_charts(log, "us")]
    blocks = log_page(log, full=True, drawn=drawn)
    page = web_page(blocks)
    assert drawings_told_in_words(page) == 1
    stands_by_itself(page)
    for text in (page, as_markdown(blocks), as_text(log_page(log, full=True))):
        for said in ("low refrigerant charge, fair", "09:27", "Short cycling", "11:50", "Stretch 2"):
            assert said in text
    data = json.loads(json.dumps(log_data(log), allow_nan=False))
    assert data["stretches"][0]["result"]["faults"][0]["fault"] == "low-charge"
    assert data["stretches"][0]["from"].startswith("2026-07-14T09:2")
    assert [start[11:16] for start, _ in data["runs"]][:2] == ["09:10", "11:00"]
    assert data["events"][0]["text"] == event_text(log, log.events[0])
    assert max(len(line) for line in as_text(log_page(log)).splitlines()) <= 80


def test_a_chart_breaks_where_the_log_does(book: Rulebook) -> None:
    whole = day_charts(examined(ROWS, book), "us")[0].svg
    broken = day_charts(examined(ROWS[:50] + ROWS[80:], book), "us")[0].svg
    assert len(re.findall(r'fill="none"', broken)) > len(re.findall(r'fill="none"', whole))
    days = day_charts(examined(list(day([(0, 60)], 30, step=300.0)), book), "si")
    assert [chart.title[:10] for chart in days] == ["2026-07-14", "2026-07-15"]
    assert "kPa gauge" in days[0].svg


# -- a log that grows --------------------------------------------------------------------------------------------------


def test_a_growing_log_tells_a_change_once_it_has_stayed(book: Rulebook) -> None:
    """Right for an hour and a half, then a sudden loss of charge; a look every five minutes."""
    rows = list(day([(0, 90)], 1.5))
    rows += [replace(row, time=row.time + timedelta(minutes=90)) for row in day([(-60, 90)], 1.5, charge=0.75, seed=2)]
    follower = Follower(book.judgement.logs.stays)
    told: list[tuple[int, str]] = []
    for end in range(10, len(rows) + 1, 5):
        told += [(end, text) for text in follower.look(examined(rows[:end], book))]
    answers = [(end, text) for end, text in told if "nswer" in text]
    assert "Answer: Nothing wrong" in answers[0][1]
    assert 20 <= answers[0][0] <= 40
    changed = [(end, text) for end, text in answers if "changed" in text]
    assert len(changed) == 1
    assert "Low refrigerant charge, fair; charge low, but first read subcooling again." in changed[0][1]
    assert changed[0][0] >= 90 + 10  # not before it has stayed so
    assert len({text for _, text in told}) == len(told)


def test_a_danger_is_told_at_once(book: Rulebook) -> None:
    rows = [
        replace(row, values={**row.values, "liquid pressure": 700 * 6894.757}) if i == 40 else row
        for i, row in enumerate(ROWS)
    ]
    follower = Follower(book.judgement.logs.stays)
    before = list(follower.look(examined(rows[:40], book)))
    assert not any("STOP" in text for text in before)
    assert sum("STOP" in text for text in follower.look(examined(rows[:41], book))) == 1
    assert not any("STOP" in text for text in follower.look(examined(rows[:42], book)))


# -- the figures of judgement.yaml, just inside and just outside -------------------------------------------------------


def test_each_figure_of_a_log_decides(book: Rulebook) -> None:
    usual = book.judgement.logs
    assert (usual.gap, usual.short_run, usual.short_runs, usual.starts) == (120.0, 300.0, 3, 6)
    assert (usual.shortest, usual.longest, usual.stays, usual.still, usual.still_air) == (
        300.0,
        3600.0,
        600.0,
        1800.0,
        7200.0,
    )
    # four runs of 3 and 4 minutes, every ten minutes
    for short_runs, found in ((4, ["short cycling"]), (5, [])):
        assert kinds(examined(ROWS, judged(logs__short_runs=short_runs))) == found
    for short_run, found in (("4.1 min", ["short cycling"]), ("3.5 min", [])):
        assert kinds(examined(ROWS, judged(logs__short_run=short_run))) == found
    for starts, found in ((4, []), (3, ["short cycling"])):
        assert kinds(examined(ROWS, judged(logs__short_run="1 min", logs__starts=starts))) == found
    for gap, pieces in (("5.1 min", 1), ("4.9 min", 2)):  # 5 minutes from record to record
        assert len(examined(ROWS[:60] + ROWS[64:], judged(logs__gap=gap)).log.pieces) == pieces
    first = examined(ROWS, book).stretches[0]
    lasts = (first.end - first.begin) / 60
    half = len([each for each in examined(ROWS, book).stretches if each.stretch.begin < 110])
    assert (half, lasts > 60) == (1, True)
    for longest, count in ((f"{lasts / 1.2} min", 1), (f"{lasts / 2} min", 2)):
        assert len(examined(ROWS[:110], judged(logs__longest=longest)).stretches) == count
    short = ROWS[:45]  # it has run for 35 minutes
    for shortest, found in (("15 min", True), ("25 min", False)):
        assert bool(examined(short, judged(logs__shortest=shortest)).stretches) is found
