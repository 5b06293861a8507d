"""Log files as loggers, controllers and spreadsheets write them: their clocks, units, gaps and broken sensors."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import judged
from made_logs import BEGIN, COLUMNS, MadeRow, csv_of, day

from diagnose.batch.logs.model import Log
from diagnose.batch.logs.notes import note_texts
from diagnose.batch.logs.reading import read_log
from diagnose.batch.logs.stamps import clock_of, day_of, shown
from diagnose.rulebook import load_rules
from diagnose.units import parse
from diagnose.yamlfile import InputProblems

BOOK = load_rules()
ROWS = list(day([(10, 100), (120, 230)], 4, charge=0.75))
TEXT = csv_of(ROWS)
LINES = TEXT.splitlines()
SI = {name: {"psig": "kPa gauge", "F": "C"}.get(unit, unit) for name, unit in COLUMNS.items()}
CHICAGO = ZoneInfo("America/Chicago")  # the tz database: clocks go back on 2026-11-01, forward on 2026-03-08, at 2:00


def read(text: str, encoding: str = "utf-8") -> Log:
    return read_log(text.encode(encoding), "log.csv", BOOK)


def codes(log: Log) -> list[str]:
    assert all(text.endswith(".") and text[0] != " " for _, text in note_texts(log, log.notes))
    return [note.code for note in log.notes]


def written(stamp: Callable[[datetime], str], every: int = 1) -> str:
    return csv_of(ROWS[::every], stamp=stamp)


def at_place(begin: datetime) -> Callable[[datetime], datetime]:
    """The wall clock in a place, from a moment in UTC."""
    return lambda t: (begin + (t - BEGIN)).astimezone(CHICAGO)


# -- the ways of writing a moment --------------------------------------------------------------------------------------

WAYS: dict[str, Callable[[datetime], str]] = {
    "iso": lambda t: t.isoformat(),
    "iso with zone": lambda t: t.isoformat() + "+02:00",
    "utc": lambda t: t.isoformat() + "Z",
    "month first": lambda t: t.strftime("%m/%d/%Y %I:%M:%S %p"),
    "am, dotted": lambda t: t.strftime("%m/%d/%y %I:%M ") + ("a.m." if t.hour < 12 else "p.m."),
    "day first": lambda t: t.strftime("%d/%m/%Y %H:%M"),
    "dots": lambda t: t.strftime("%d.%m.%Y %H:%M:%S"),
    "month in words": lambda t: t.strftime("%d %b %Y %H:%M"),
    "milliseconds": lambda t: t.strftime("%Y-%m-%d %H:%M:%S.000"),
    "epoch": lambda t: f"{t.replace(tzinfo=UTC).timestamp():.0f}",
    "epoch, ms": lambda t: f"{1000 * t.replace(tzinfo=UTC).timestamp():.0f}",
    "spreadsheet": lambda t: f"{(t - datetime(1899, 12, 30)).total_seconds() / 86400:.7f}",
}


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_writing_a_moment_is_the_same_moment(way: str) -> None:
    log = read(written(WAYS[way], every=4))
    assert shown(log.times[0], date=True) == "2026-07-14 09:00"
    assert [round(b - a) for a, b in zip(log.times, log.times[1:], strict=False)] == [240] * (len(ROWS) // 4 - 1)
    assert codes(log) == []


@given(st.datetimes(datetime(1990, 1, 1), datetime(2080, 1, 1)))
def test_a_stamp_is_read_as_python_reads_it(moment: datetime) -> None:
    moment = moment.replace(microsecond=0)
    clock = clock_of([moment.isoformat()])
    assert clock.read(moment.isoformat(" ")) == (moment - datetime(1970, 1, 1)).total_seconds()
    found = clock.read(moment.isoformat())
    assert found is not None
    assert day_of(found) == moment.date().isoformat()


def test_day_and_month_are_told_apart_or_it_is_said() -> None:
    log = read(written(lambda t: t.replace(day=5, month=7).strftime("%m/%d/%Y %H:%M"), every=4))
    assert codes(log) == ["log-day-or-month"]
    across = [MadeRow(datetime(2026, 7, 5, 23, 0) + timedelta(minutes=i), r.runs, r.values) for i, r in enumerate(ROWS)]
    log = read(
        csv_of(across, stamp=lambda t: t.strftime("%d/%m/%Y %H:%M"))
    )  # from the 5th to the 6th of July in four hours
    assert day_of(log.times[0]) == "2026-07-05"
    assert codes(log) == []


def test_time_of_day_alone_goes_over_midnight() -> None:
    log = read(written(lambda t: (t + timedelta(hours=13)).strftime("%H:%M:%S"), every=4))
    assert codes(log) == ["log-midnight"]
    assert log.times[-1] - log.times[0] == 236 * 60
    assert len(log.pieces) == 1


def test_elapsed_minutes_and_two_columns() -> None:
    log = read(written(lambda t: f"{(t - BEGIN).total_seconds() / 60:g}").replace("time,", "elapsed [min],", 1))
    assert (log.times[0], log.times[-1], log.step) == (0.0, 239 * 60.0, 60.0)
    log = read(written(lambda t: t.strftime("%Y-%m-%d,%H:%M")).replace("time,", "date,time,", 1))
    assert shown(log.times[-1], date=True) == "2026-07-14 12:59"


# -- clocks that jump --------------------------------------------------------------------------------------------------


def test_the_end_of_daylight_saving_time_breaks_the_log_and_is_said() -> None:
    wall = at_place(datetime(2026, 11, 1, 4, 30, tzinfo=UTC))
    log = read(written(lambda t: wall(t).strftime("%Y-%m-%d %H:%M:%S")))
    assert codes(log) == ["log-clock-back"]
    assert len(log.times) == len(ROWS)
    assert [shown(log.times[begin], date=True) for begin, _ in log.pieces] == ["2026-10-31 23:30", "2026-11-01 02:00"]
    assert {round(b - a) for a, b in zip(log.times, log.times[1:], strict=False)} == {60}  # nothing was lost meanwhile


def test_the_begin_of_daylight_saving_time_is_said_and_not_bridged() -> None:
    wall = at_place(datetime(2026, 3, 8, 6, 30, tzinfo=UTC))
    log = read(written(lambda t: wall(t).strftime("%Y-%m-%d %H:%M:%S")))
    assert codes(log) == ["log-clock-forward"]
    assert len(log.pieces) == 2


def test_stamps_with_their_zone_do_not_jump() -> None:
    wall = at_place(datetime(2026, 11, 1, 4, 30, tzinfo=UTC))
    log = read(written(lambda t: wall(t).isoformat()))
    assert codes(log) == []
    assert len(log.pieces) == 1
    assert log.times[-1] - log.times[0] == 239 * 60


def test_gaps_repeats_and_disorder_are_said() -> None:
    log = read(csv_of(ROWS[:50] + ROWS[80:]))
    assert codes(log) == ["log-gap"]
    assert log.pieces == ((0, 50), (50, 210))
    assert "09:49 to 10:20 (31 minutes)" in next(text for _, text in note_texts(log, log.notes))
    assert codes(read(csv_of([row for row in ROWS for _ in range(2)]))) == ["log-repeated"]
    assert codes(read(csv_of(ROWS[:60] + ROWS[50:55] + ROWS[60:]))) == ["log-repeated"]
    late = [replace(row, time=row.time + timedelta(seconds=20)) for row in ROWS[50:55]]
    assert codes(read(csv_of(ROWS[:60] + late + ROWS[60:]))) == ["log-out-of-order"]
    assert codes(read(csv_of(ROWS[:60] + ROWS[62:]))) == ["log-short-gaps"]
    turned = read("\n".join([LINES[0], *reversed(LINES[1:])]))
    assert codes(turned) == ["log-newest-first"]
    assert turned.values == read(TEXT).values
    many = read(csv_of([row for i, row in enumerate(ROWS) if i % 20 < 15]))
    assert codes(many).count("log-gap") == 11
    assert [text for _, text in note_texts(many, many.notes)][-1].startswith(
        "7 more of this kind, the last: Nothing was"
    )


# -- cells -------------------------------------------------------------------------------------------------------------


def test_the_same_log_in_other_clothes() -> None:
    plain = read(TEXT)
    assert codes(plain) == []
    suction = [parse(f"{line.split(',')[1]} psig", "pressure").value for line in LINES[1:]]
    assert list(plain.values["suction pressure"]) == pytest.approx(suction)
    for text in (
        csv_of(ROWS, delimiter=";").replace(".", ","),
        csv_of(ROWS, delimiter="\t"),
        TEXT.replace(",", " , "),
        TEXT.replace("\n", "\r\n"),
        TEXT.replace("\n", "\r"),
        "\ufeff" + TEXT,
        TEXT.replace("[F]", "[℉]").replace("time", " Time: ", 1),
        "\n".join(["time," + ",".join(COLUMNS), "," + ",".join(COLUMNS.values()), *LINES[1:]]),
        TEXT.replace("suction pressure [psig]", "Low Side Press (psig)"),
        TEXT.replace("suction pressure [psig]", '"suction_pressure [ PSIG ]"'),
    ):
        assert read(text).values == plain.values, text[:200]
    assert read(TEXT, "utf-16").values == plain.values


def test_a_clock_that_is_set_back_for_good_goes_on() -> None:
    """A battery that was empty; a clock of twelve hours without am and pm."""
    battery = [*ROWS[:70], *(replace(row, time=row.time - timedelta(days=9700)) for row in ROWS[70:])]
    for text in (csv_of(battery), written(lambda t: (t + timedelta(hours=2)).strftime("%Y-%m-%d %I:%M"))):
        log = read(text)
        assert codes(log) == ["log-clock-set-back"]
        assert {round(b - a) for a, b in zip(log.times, log.times[1:], strict=False)} == {60}
        assert len(log.pieces) == 2
    assert codes(read(csv_of([*ROWS, *ROWS[40:]]))) == ["log-repeated"]  # exported twice


def test_loggers_that_write_in_turn_are_one_log() -> None:
    """Each row has a third of the columns. A figure holds until its next, but over no gap."""
    cells = [line.split(",") for line in LINES]
    rows = [[c if j == 0 or i == 0 or j % 3 == i % 3 else "" for j, c in enumerate(row)] for i, row in enumerate(cells)]
    log = read("\n".join(",".join(row) for row in rows))
    assert codes(log) == ["log-in-turn"]
    for name, values in log.values.items():
        known = [(a, b) for a, b in zip(values, read(TEXT).values[name], strict=True) if math.isfinite(a)]
        assert len(known) >= len(values) - 4
        assert sum(a == b for a, b in known) >= len(known) / 3
    dead = read("\n".join([*LINES[:100], *(",".join(line.split(",")[:-1]) + "," for line in LINES[100:])]))
    assert sum(map(math.isfinite, dead.values["compressor current"])) == 99
    assert codes(dead) == []


def test_lines_above_the_head_are_passed_over_and_an_old_encoding_is_said() -> None:
    assert codes(read(f"Logger 7, back yard\nserial;12\n\n{TEXT}")) == []
    assert codes(read(TEXT.replace("[F]", "[°F]"), "cp1252")) == ["log-not-utf-8"]


def test_what_is_no_figure_is_missing_and_counted() -> None:
    log = read(TEXT.replace(",251.", ",OL ").replace(",84.0,", ",-999,"))
    told = {note.figures["reading"]: note for note in log.notes if note.code in ("log-no-figures", "log-impossible")}
    assert told["suction pressure"].figures["text"].startswith("OL")
    assert told["liquid line temperature"].code == "log-impossible"
    assert any(math.isnan(each) for each in log.values["suction pressure"])


def test_a_spoilt_row_spoils_no_other() -> None:
    whole = read(TEXT)
    for text, code in (
        (TEXT.replace(LINES[30], '"' + LINES[30]), "log-bad-stamps"),
        (TEXT.replace(LINES[30], "x" * 2_000_000), "log-long-row"),
        (TEXT.replace(LINES[30], LINES[30].replace(".", ",")), "log-wide-rows"),
        (TEXT.replace(LINES[30], "," + LINES[30].split(",", 1)[1]), "log-no-stamps"),
        (TEXT.replace(LINES[30], LINES[30].replace(LINES[30].split(",")[3] + ",", "", 1)), "log-narrow-rows"),
        (TEXT.replace(LINES[30], LINES[30].replace("2026", "2036")), "log-out-of-order"),
    ):
        log = read(text)
        assert code in codes(log)
        for name, values in log.values.items():
            assert values == whole.values[name][:29] + whole.values[name][30:]


def test_rows_that_all_end_early_are_read() -> None:
    """A logger that leaves out what is empty at the end of a row."""
    short = read("\n".join([LINES[0], *(line.rpartition(",")[0] for line in LINES[1:])]))
    assert codes(short) == ["log-empty-columns"]
    assert short.values == {n: each for n, each in read(TEXT).values.items() if n != "compressor current"}


# -- units that change, sensors that stick -----------------------------------------------------------------------------


def test_units_that_change_with_a_new_head_are_read_and_said() -> None:
    log = read(csv_of(ROWS[:70]) + csv_of(ROWS[70:], SI))
    assert codes(log) == ["log-new-units"]
    assert log.pieces == ((0, 70), (70, 240))
    assert [units["suction pressure"].name for units in log.units] == ["psig", "kPa gauge"]
    whole = read(TEXT).values["suction line temperature"]
    assert list(log.values["suction line temperature"]) == pytest.approx(
        list(whole), abs=0.08
    )  # tenths of °C against tenths of °F
    again = read(csv_of(ROWS[:70]) + csv_of(ROWS[70:]))
    assert codes(again) == ["log-new-head"]


def test_units_that_change_without_a_word_are_noticed_and_left_out() -> None:
    log = read(csv_of(ROWS[:70]) + csv_of(ROWS[70:], SI, head=False))
    jumped = {note.figures["reading"] for note in log.notes if note.code == "log-unit-jumps"}
    assert {
        "suction pressure",
        "suction line temperature",
        "liquid line temperature",
        "outdoor air temperature",
    } <= jumped
    for name in jumped:
        assert all(math.isnan(each) for each in log.values[name][70:])
        assert not any(math.isnan(each) for each in log.values[name][:70])
    assert codes(read(TEXT)) == []  # starts and stops are no change of units


def test_a_line_that_freezes_at_a_start_has_no_other_unit() -> None:
    """From 82.4 °F to 28 °F within a record, which would be the same in °C, and from there on."""
    rows = [
        replace(row, values={**row.values, "suction line temperature": 270.928 if 15 <= i < 100 else 301.15})
        for i, row in enumerate(ROWS)
    ]
    assert "log-unit-jumps" not in codes(read(csv_of(rows)))
    later = [replace(row, values={**row.values, "suction line temperature": 270.928 if i >= 60 else 301.15})
             for i, row in enumerate(ROWS[:100])]  # fmt: skip
    assert "log-unit-jumps" in codes(read(csv_of(later)))  # in the middle of a run


def stuck(column: int, begin: int, end: int) -> str:
    lines = [line.split(",") for line in LINES]
    for cells in lines[1 + begin : 1 + end]:
        cells[column] = lines[1 + begin][column]
    return "\n".join(",".join(cells) for cells in lines) + "\n"


@pytest.mark.parametrize(
    ("column", "name", "begin", "end"),
    [(4, "liquid line temperature", 40, 200), (1, "suction pressure", 20, 95), (6, "outdoor air temperature", 0, 240)],
)
def test_a_sensor_that_is_stuck_is_said_and_left_out(column: int, name: str, begin: int, end: int) -> None:
    log = read(stuck(column, begin, end))
    assert codes(log) == ["log-stuck"]
    assert log.notes[0].figures["reading"] == name
    assert name not in log.values or all(math.isnan(each) for each in log.values[name][begin:end])


# -- what stops it -----------------------------------------------------------------------------------------------------


TWO_SHOPS = "\n".join(["machine," + LINES[0], *(f"shop {1 + (i > 150)},{line}" for i, line in enumerate(LINES[1:]))])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "this log is empty"),
        (LINES[0], "a head and no records"),
        (TEXT.replace("time,", "foo,", 1), "no row names the columns"),
        ("time,foo [x]\n2026-01-01 00:00,1\n", "no row names the columns"),
        ("time,suction pressure [blorb]\n2026-01-01 00:00,1\n", "column 2: `suction pressure [blorb]`: `blorb` is not a unit"),
        ("\n".join(LINES[:60]).replace("2026-07-14 ", "some day "), "is not understood as a time stamp"),
        ("\n".join([*LINES[:4], "stopped here"]), "log.csv:5:0: `stopped here` is not understood as a time stamp"),
        (csv_of(ROWS, delimiter=",").replace(".", ","), "more cells than the 11 columns"),
        ("time,\0suction pressure [psig]\n", "no text"),
        (TWO_SHOPS,
         "a log is of one machine"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_said_with_how_to_mend_it(text: str, said: str) -> None:
    with pytest.raises(InputProblems) as error:
        read(text)
    assert said in str(error.value)
    assert all(problem.fix and problem.file == "log.csv" for problem in error.value.problems)


@pytest.mark.parametrize(
    ("was", "now", "said"),
    [
        (
            "suction pressure [psig]",
            "suction pressure [blorb]",
            "Column 2: `suction pressure [blorb]`: `blorb` is not a unit",
        ),
        ("liquid pressure [", "low side pressure [", "are one and the same line"),
        ("suction line temperature [F]", "line temp [F]", "can mean 2 things"),
        ("suction pressure [psig]", "suction pressure [inHg]", "can mean two pressures"),
        ("suction pressure [psig]", "suction pressure", "suction pressure: no unit stands in the head"),
        ("compressor current [A]", "time", "there are two columns `time`"),
    ],
)
def test_a_column_that_cannot_be_used_is_left_out_and_said(was: str, now: str, said: str) -> None:
    log = read(TEXT.replace(was, now, 1))
    assert said in " ".join(text for _, text in note_texts(log, log.notes))
    assert "liquid line temperature" in log.values
    assert len(log.values) < len(COLUMNS)


@given(st.binary(max_size=400))
def test_no_bytes_break_it(content: bytes) -> None:
    with suppress(InputProblems):
        read_log(content, "log.csv", BOOK)


@given(st.data())
def test_no_damage_to_a_log_breaks_it(data: st.DataObject) -> None:
    """A few lines of a log, with cells swapped for whatever a logger, or somebody's hand, may leave there."""
    odd = st.sampled_from(
        ["", "nan", "-999", "1e999", "0", '"', "118 psig", "12,5", "x", "2026-07-14", "\u2212 5", "#", "OL", ";"]
    )
    lines = [line.split(",") for line in [LINES[0], *LINES[1 : data.draw(st.integers(2, 40))]]]
    for _ in range(data.draw(st.integers(1, 6))):
        row = data.draw(st.integers(0, len(lines) - 1))
        lines[row][data.draw(st.integers(0, len(lines[row]) - 1))] = data.draw(odd)
    with suppress(InputProblems):
        log = read("\n".join(",".join(cells) for cells in lines))
        assert list(log.times) == sorted(set(log.times))
        assert log.pieces[0][0] == 0
        assert log.pieces[-1][1] == len(log.times)
        codes(log)


def test_whole_degrees_may_stand_still_for_hours() -> None:
    """A room that is kept at 76 °F, shown in whole degrees."""
    column = list(COLUMNS).index("return air dry bulb") + 1
    for figure, found in (("76", []), ("76.2", ["log-stuck"])):
        cells = [line.split(",") for line in LINES[1:]]
        lines = [",".join([*row[:column], figure, *row[column + 1 :]]) for row in cells]
        assert codes(read("\n".join([LINES[0], *lines]))) == found


@pytest.mark.parametrize(
    ("column", "begin", "end", "figures"),
    [(4, 30, 70, {"logs__still": "39 min"}), (4, 30, 70, {"logs__still": "40 min"}),
     (6, 10, 140, {"logs__still_air": "129 min"}), (6, 10, 140, {"logs__still_air": "130 min"})],
)  # fmt: skip
def test_how_long_a_figure_may_stand_still(column: int, begin: int, end: int, figures: dict[str, str]) -> None:
    """From the first of the equal records to the last."""
    log = read_log(stuck(column, begin, end).encode(), "log.csv", judged(**figures))
    assert codes(log) == (["log-stuck"] if int(next(iter(figures.values()))[:-4]) <= end - begin - 1 else [])
