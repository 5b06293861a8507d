"""`diagnose batch` as its user runs it: every kind of input, every kind of output, and what goes wrong."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import commands
import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest
from commands import Ran
from shared import DEMO
from tables import HEAD, ROW, many, read, row, write

from diagnose import examine
from diagnose.batch import arrow, sources
from diagnose.batch.parquet import NO_PARTITION


def run(*words: object) -> Ran:
    one = [] if {"--workers", "--columns"} & set(words) else ["--workers", "1"]  # processes take a second to start
    return commands.run("batch", *words, *one)


def answered(*words: object) -> list[dict[str, str]]:
    """The rows of the CSV that is named last."""
    run(*words).fine()
    return read(Path(str(words[-1])))


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """So that a small table has many chunks."""
    monkeypatch.setattr(arrow, "SLICE", 3)
    monkeypatch.setattr(sources, "VISITS", 3)
    whole = sources.pieces
    monkeypatch.setattr(sources, "pieces", lambda *given: whole(*given, 200))


def as_table(path: Path, **more: list[object]) -> pa.Table:
    rows = read(path)
    columns: dict[str, list[object]] = {name: [row[name] for row in rows] for name in HEAD}
    for name in HEAD[4:]:
        columns[name] = [float(str(cell)) if str(cell) != "broken" else None for cell in columns[name]]
    return pa.table({**columns, **more})


def test_all_inputs_give_the_same_answers_in_all_forms(tmp_path: Path, small: None) -> None:
    csv = write(tmp_path / "in.csv", [row(id=str(i)) for i in range(10)])
    pq.write_table(as_table(csv), tmp_path / "in.parquet", row_group_size=4)
    wanted = answered(csv, tmp_path / "a.csv")
    assert [one["id"] for one in wanted] == [str(i) for i in range(10)]
    assert {one["fault"] for one in wanted} == {wanted[0]["fault"]}
    assert answered(tmp_path / "in.parquet", tmp_path / "b.csv") == wanted
    assert run(csv, tmp_path / "c.parquet").exit_code == 0
    assert run(csv, tmp_path / "c.jsonl").exit_code == 0
    lines = [json.loads(line) for line in (tmp_path / "c.jsonl").read_text(encoding="utf-8").splitlines()]
    rows = pq.read_table(tmp_path / "c.parquet").to_pylist()
    assert rows == lines
    assert [{k: "" if v is None else str(v).removesuffix(".0") for k, v in one.items()} for one in rows] == [
        {k: v.removesuffix(".0") for k, v in one.items()} for one in wanted
    ]


def test_a_row_is_what_examine_says(tmp_path: Path) -> None:
    (one,) = answered(write(tmp_path / "in.csv", [ROW]), tmp_path / "out.csv")
    d = examine(
        {
            "machine": {"refrigerant": "R-410A", "metering": "TXV"},
            "readings": {"suction pressure": "118 psig", "suction line temperature": "53 F", "liquid pressure": "323 psig",
                         "liquid line temperature": "99 F", "outdoor air temperature": "86 F"},
        }
    )  # fmt: skip
    assert (one["fault"], one["charge verdict"]) == (d.faults[0].fault, d.charge.verdict)
    assert float(one["superheat [K]"]) == pytest.approx(d.estimates["superheat"].value, abs=1e-4)


def test_a_folder_of_visit_files_a_bad_one_among_them(tmp_path: Path, small: None) -> None:
    folder = tmp_path / "visits"
    folder.mkdir()
    for name in ("low-charge-orifice", "nothing-wrong-txv", "outside-cellar", "danger-own-cut-out"):
        shutil.copy(DEMO / f"{name}.yaml", folder)
    (folder / "bad.yaml").write_text("machine: {refrigerant: R-999}\n")
    (folder / "readme.md").write_text("ours")
    done = run(folder, tmp_path / "out.csv")
    assert done.exit_code == 0
    assert "1 not read" in done.stdout
    assert "1 file of other kinds" in done.stdout
    assert f"{folder / 'bad.yaml'}:1:24: " in done.stderr  # as every command tells it
    rows = {one["file"]: one for one in read(tmp_path / "out.csv")}
    assert list(rows) == sorted(rows)
    assert rows["bad.yaml"]["status"] == "not read"
    assert rows["low-charge-orifice.yaml"]["fault"] == "low-charge"
    assert rows["low-charge-orifice.yaml"]["machine"] == "net loft, upper floor"
    assert rows["outside-cellar.yaml"]["status"] == "outside"
    assert rows["danger-own-cut-out.yaml"]["dangers"]


def test_a_partitioned_data_set_brings_the_columns_of_its_folders(tmp_path: Path, small: None) -> None:
    csv = many(tmp_path / "in.csv", 9)
    regions = ["north side", "a=b/c", None] * 3
    table = as_table(csv, region=regions)
    partitions = ds.partitioning(pa.schema([("region", pa.string())]), flavor="hive")
    ds.write_dataset(table, tmp_path / "set", format="parquet", partitioning=partitions)
    (tmp_path / "set" / "_SUCCESS").write_text("")
    assert any(NO_PARTITION in str(path) for path in (tmp_path / "set").iterdir())
    found = answered(tmp_path / "set", tmp_path / "out.csv")
    assert len(found) == 9
    by_id = {one["id"]: one["region"] for one in found}
    assert by_id == {str(i): regions[i] or "" for i in range(9)}
    assert answered((tmp_path / "set").as_uri(), tmp_path / "again.csv") == found  # as an object store is named


def test_tables_of_one_folder_may_have_other_heads(tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    folder.mkdir()
    write(folder / "a.csv", [ROW])
    write(folder / "b.csv", [(*ROW, "x")], (*HEAD[:4], "low side [psig]", *HEAD[5:], "note"))
    pq.write_table(as_table(folder / "a.csv", note=[7]), folder / "c.parquet")
    found = answered(folder, tmp_path / "out.csv")
    assert [one["note"] for one in found] == ["", "x", "7"]
    assert len({(one["fault"], one["superheat [K]"]) for one in found}) == 1


def test_a_file_that_is_no_table_stops_no_other(tmp_path: Path) -> None:
    folder = tmp_path / "tables"
    folder.mkdir()
    write(folder / "a.csv", [ROW])
    pq.write_table(as_table(folder / "a.csv"), folder / "b.parquet")
    (folder / "c.parquet").write_bytes((folder / "b.parquet").read_bytes()[:-40])
    done = run(folder, tmp_path / "out.csv")
    assert done.exit_code == 2
    assert "c.parquet: this Parquet file cannot be read" in done.stderr
    assert len(read(tmp_path / "out.csv")) == 2


def test_a_column_of_a_parquet_file_that_is_damaged_spoils_no_other(tmp_path: Path, small: None) -> None:
    csv = write(tmp_path / "in.csv", [row(id=f"number {i}") for i in range(6)])
    path = tmp_path / "in.parquet"
    pq.write_table(as_table(csv), path, compression="zstd", row_group_size=3, use_dictionary=False)
    column = pq.ParquetFile(path).metadata.row_group(1).column(0)
    data = bytearray(path.read_bytes())
    start = column.data_page_offset
    data[start + 20 : start + column.total_compressed_size] = bytes(column.total_compressed_size - 20)
    path.write_bytes(bytes(data))
    done = run(path, tmp_path / "out.csv")
    assert done.exit_code == 0
    assert "this column cannot be read" in done.stderr
    found = read(tmp_path / "out.csv")
    assert [one["id"] for one in found] == ["number 0", "number 1", "number 2", "", "", ""]
    assert len({one["fault"] for one in found}) == 1
    assert [("column-not-read" in one["problems"]) for one in found] == [False] * 3 + [True] * 3


def test_cells_that_python_cannot_hold_spoil_no_row(tmp_path: Path) -> None:
    """Bytes that are no UTF-8, as they are in files of other programs, and times of another age."""
    odd = pa.Array.from_buffers(pa.string(), 2, pa.array([b"K\xfcche", b"ok"]).buffers())
    far = pa.array([2**62, 0])
    table = pa.table([[each] * 2 for each in ROW], names=list(HEAD))
    for name, column in {
        "note": odd, "when": far.cast(pa.timestamp("us")), "long": far.cast(pa.duration("s")), "coded": odd.dictionary_encode(),
        "seen: air filter": odd, "list": pa.ListArray.from_arrays(pa.array([0, 1, 2], pa.int32()), odd),
    }.items():  # fmt: skip
        table = table.append_column(name, column)
    pq.write_table(table, tmp_path / "in.parquet")
    for form in ("csv", "jsonl", "parquet"):
        run(tmp_path / "in.parquet", tmp_path / f"out.{form}").fine()
    told = ["note", "coded", "status", "problems"]
    rows = [
        read(tmp_path / "out.csv"),
        [json.loads(line) for line in (tmp_path / "out.jsonl").read_text(encoding="utf-8").splitlines()],
        pq.read_table(tmp_path / "out.parquet", columns=told).to_pylist(),
    ]
    for first, second in rows:
        assert [first[name] for name in told] == ["K\ufffdche"] * 2 + ["not read", "not-read/seen-air-filter"]
        assert (second["note"], second["coded"]) == ("ok", "ok")


def test_texts_that_a_spreadsheet_would_reckon_with_stay_texts(tmp_path: Path) -> None:
    head = (*HEAD, "=1+1", "note")
    notes = ["=cmd()", "+1", "-5.5", "@sum", "'=x", "a=b", "\tx", "-"]
    csv = write(tmp_path / "in.csv", [(*row(machine="=HYPERLINK(1)"), "1", note) for note in notes], head)
    found = answered(csv, tmp_path / "out.csv")
    assert [one["note"] for one in found] == ["'=cmd()", "+1", "-5.5", "'@sum", "''=x", "a=b", "'\tx", "'-"]
    assert found[0]["machine"] == "'=HYPERLINK(1)"
    assert "'=1+1" in found[0]
    assert run(csv, tmp_path / "out.jsonl").exit_code == 0
    first = json.loads((tmp_path / "out.jsonl").read_text(encoding="utf-8").splitlines()[0])
    assert (first["note"], first["machine"]) == ("=cmd()", "=HYPERLINK(1)")  # only a spreadsheet reckons


def test_what_is_wrong_is_told_by_file_row_and_column(tmp_path: Path, small: None) -> None:
    rows = [row() for _ in range(30)]
    rows[16][4] = "abc"
    rows[20] = rows[20][:3]
    rows[22][5] = "1,5"
    rows[23][5] = "52.5"
    done = run(write(tmp_path / "in.csv", rows), tmp_path / "out.csv")
    assert done.exit_code == 0
    assert "in.csv, row 18, column 5: `suction pressure`: `abc` does not begin with a number" in done.stderr
    assert "in.csv, row 22, column 4: this row has 3 cells, and the head has 9" in done.stderr
    assert (
        "`suction line temperature [F]`: decimal points (row 25) and decimal commas (row 24) are mixed" in done.stderr
    )
    assert "30 rows" in done.stdout


def test_rows_are_counted_as_a_spreadsheet_counts_them(tmp_path: Path, small: None) -> None:
    csv = write(tmp_path / "in.csv", [row(), *[row(machine="broken", metering="spring") for _ in range(2)]])
    csv.write_text("sep=,\n\n" + csv.read_text())
    assert "in.csv, row 5, column 4: " in run(csv, tmp_path / "out.csv").stderr


def test_a_point_before_three_figures_is_no_comma(tmp_path: Path) -> None:
    head = ("refrigerant", "liquid pressure [kPa]", "suction pressure [kPa]")
    rows = [["R-410A", cell, "812.5"] for cell in ("2230,5", "2.230", "1.1")] + [["R-410A", "2230", "1,024"]]
    done = run(write(tmp_path / "in.csv", rows, head), tmp_path / "out.csv")
    assert "`2.230 kPa` can be read in two ways" in done.stderr
    assert "`liquid pressure [kPa]`: decimal points (row 3) and decimal commas (row 2) are mixed" in done.stderr
    assert "`suction pressure [kPa]`" not in done.stderr  # 1,024 beside 812.5 is a thousand


def test_a_table_of_which_nothing_is_understood_is_refused(tmp_path: Path) -> None:
    csv = write(tmp_path / "in.csv", [ROW], tuple(f"c{i}" for i in range(9)))
    err = run(csv, tmp_path / "out.csv").refused()
    assert "no column here is a line of a visit" in err
    assert [path.name for path in tmp_path.iterdir()] == ["in.csv"]


def test_what_the_file_of_headers_says_and_nobody_understands_is_told(tmp_path: Path) -> None:
    names = tmp_path / "names.yaml"
    names.write_text("id: liquid pressre [psig]\nnowhere: refrigerant\n")
    done = run(write(tmp_path / "in.csv", [ROW]), tmp_path / "out.csv", "--headers", names)
    assert done.exit_code == 0
    assert (
        "calls `id` `liquid pressre [psig]`, which is no line of a visit. Did you mean `liquid pressure`" in done.stderr
    )
    assert "in no table: `nowhere`" in done.stderr
    assert "left-out/id" in read(tmp_path / "out.csv")[0]["problems"]


def test_columns_shows_the_head_before_anything_runs(tmp_path: Path) -> None:
    head = (
        "suction pressure [psig]",
        "low pressure [bar]",
        "superheat [F]",
        "customer",
        "head pressure [bar]",
        "Kältemittel",
    )
    csv = write(tmp_path / "in.csv", [["1", "2", "3", "4", "21", "R-410A"]], head)
    names = tmp_path / "names.yaml"
    names.write_text("Kältemittel: refrigerant\nDatum: date\n", encoding="utf-8")
    out = run("--columns", csv, "--headers", names).fine()
    for words in ("6 columns, 2 understood, 3 left out, 1 passed on", "liquid pressure [bar]", "R-410A", "can mean 2 things",
                  "are one and the same line", "`customer`", "not in this table: `Datum`"):  # fmt: skip
        assert words in " ".join(out.split())
    without = " ".join(run("--columns", csv).fine().split())
    assert "6 columns, 1 understood, 3 left out, 2 passed on" in without
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.csv", "names.yaml"]


def test_a_log_that_is_not_said_to_be_one_is_judged_row_by_row_and_asked_about(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("Time Stamp,refrigerant,suction pressure [psig]\n09:00,R-410A,118\n09:01,R-410A,119\n")
    done = run(log, tmp_path / "out.csv")
    assert done.exit_code == 0
    assert "column 1, `Time Stamp`: Each row is judged by itself" in done.stderr
    assert "--log" in run("--columns", log).stdout
    for head, more, asked in (("Time, GMT-05:00", "", True), ("Date", "", True), ("Date", ",machine", False)):
        log.write_text(f'"{head}",suction pressure [psig]{more}\n2026-07-14 09:00,118{more and ",net loft"}\n')
        assert ("Each row is judged by itself" in run(log, tmp_path / "out.csv").stderr) is asked


def test_a_plate_in_other_degrees_than_the_readings_is_asked_about_in_a_column_too(tmp_path: Path) -> None:
    """Plates ask for 5 to 15 °F of subcooling (common practice, no source)."""
    table = tmp_path / "in.csv"
    for unit, said in (("K", "`10 K` is 18 F, more than plates ask for"), ("F", "")):
        table.write_text(f"refrigerant,rated subcooling [{unit}],suction pressure [psig]\nR-410A,10,118\n")
        done = run(table, tmp_path / "out.csv")
        assert said in done.stderr
        assert ("not read" in done.stdout) is bool(said)


def test_of_fifty_thousand_columns_a_sentence_is_told(tmp_path: Path) -> None:
    path = tmp_path / "wide.csv"
    path.write_text(",".join(f"c{i}" for i in range(50_000)) + "\n" + "1," * 49_999 + "1\n")
    err = run(path, tmp_path / "out.csv").refused()
    assert "50,000 columns, and 5,000 are the most" in err


def test_a_link_is_written_through(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    link = tmp_path / "out.csv"
    link.symlink_to(other / "real.csv")
    run(write(tmp_path / "in.csv", [ROW]), link).fine()
    assert link.is_symlink()
    assert [path.name for path in other.iterdir()] == ["real.csv"]


def test_zero_rows_are_a_table_too(tmp_path: Path) -> None:
    out = run(write(tmp_path / "in.csv", []), tmp_path / "out.parquet").fine()
    assert "0 rows" in out
    assert pq.read_table(tmp_path / "out.parquet").num_rows == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "batch needs a table to read"), (("in.csv",), "batch needs a table to read"),
        (("nowhere.csv", "out.csv"), "no such file or folder"), (("in.csv", "out.xlsx"), "End it in .parquet"),
        (("in.csv", "in.csv"), "this is the table itself"), (("--columns", "in.csv", "out.csv"), "--columns writes nothing"),
        (("in.csv", "out.csv", "--workers", "0"), "--workers must be 1 or more"),
        (("in.csv", "out.csv", "--workers", "2", "--scheduler", "tcp://x:1"), "exclude each other"),
        (("in.csv", "no/such/out.csv"), "no such folder"), (("folder", "folder/out.csv"), "lies in the folder that is read"),
        (("empty", "out.csv"), "no table and no visit file"), (("--from-store", "x.db"), "needs a file to write"),
        (("in.csv", "out.csv", "--headers", "list.yaml"), "no list of headers"),
        (("visit.yaml", "visit.yaml"), "End it in .parquet"), (("nfs9://x", "out.csv"), "cannot be read"),
        (("pipe.csv", "out.csv"), "a pipe or a device"), (("in.csv", "pipe.csv"), "no ordinary file"),
    ],
)  # fmt: skip
def test_bad_options_are_told_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    write(Path("in.csv"), [ROW])
    for folder in ("folder", "empty"):
        Path(folder).mkdir()
    write(Path("folder/in.csv"), [ROW])
    Path("list.yaml").write_text("- a\n")
    os.mkfifo("pipe.csv")
    before = sorted(tmp_path.rglob("*"))
    err = run(*words).refused()
    assert said in err
    assert sorted(tmp_path.rglob("*")) == before
