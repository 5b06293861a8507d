"""examine LOG.csv, --follow and fleet as they are typed."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from commands import run
from made_fleet import MANY, text_of
from made_logs import MACHINE, ROWS, csv_of, day

from diagnose.shipped import shipped

DAY = shipped("cases") / "logs" / "harbor-street-shop-2.csv"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "log.csv").write_text(csv_of(ROWS), encoding="utf-8")
    (tmp_path / "machine.yaml").write_text(MACHINE, encoding="utf-8")
    (tmp_path / "out.csv").write_text(text_of(MANY), encoding="utf-8")
    return tmp_path


@pytest.mark.usefixtures("folder")
def test_a_log_is_examined_in_every_form() -> None:
    code, out, _ = run("examine", "log.csv", "--machine", "machine.yaml")
    assert (code, out.splitlines()[0]) == (
        0,
        "Most likely in all 2 stretches: low refrigerant charge (fair evidence).",
    )
    assert "`diagnose examine log.csv --full` shows" in " ".join(out.split())
    assert "SC subcooling, in °C and K" in " ".join(run("examine", "log.csv", "--units", "si")[1].split())
    data = json.loads(run("examine", "log.csv", "--machine", "machine.yaml", "--as", "json")[1])
    assert [each["result"]["charge"]["verdict"] for each in data["stretches"]] == ["low", "low"]
    assert run("examine", "log.csv", "--machine", "machine.yaml", "-o", "day.html")[0] == 0
    page = Path("day.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 1
    assert "numbered bands were examined" in page
    text = Path("log.csv").read_text(encoding="utf-8")
    assert run("examine", "-", "--machine", "machine.yaml", stdin=text)[1].splitlines()[0] == out.splitlines()[0]
    plain = " ".join(run("examine", "log.csv")[1].split())
    assert "Neither the log nor a file beside it names the refrigerant" in plain


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("examine", "none.csv"), "there is no such file"),
        (("examine", "log.csv", "--machine", "none.yaml"), "none.yaml: there is no such file"),
        (("examine", "machine.yaml", "--machine", "machine.yaml"), "no row names the columns of a log"),
        (("examine", "log.csv", "-o", "log.csv"), "it would be lost"),
        (("examine", "log.csv", "--follow", "--full"), "makes no page"),
        (("examine", "-", "--follow"), "needs a file that grows"),
        (("batch", "--log", "none", "out.csv"), "no such file or folder"),
        (("batch", "--log", "log.csv"), "batch needs a table"),
        (("batch", "--log", "log.csv", "x.csv", "--machine", "none.yaml"), "none.yaml: there is no such file"),
        (("batch", "--log", "log.csv", "--headers", "machine.yaml", "x.csv"), "neither --columns nor --headers"),
        (("batch", "--log", "log.csv", "log.csv"), "this is the table itself"),
        (("fleet", "log.csv"), "no table of examined visits"),
        (("fleet", "out.csv", "-o", "out.csv"), "the table itself"),
        (("fleet", "out.csv", "--hours", "0"), "no length of a visit"),
        (("fleet", "."), "this is a folder"),
    ],
)
def test_what_cannot_be_done_is_said(words: tuple[str, ...], said: str) -> None:
    before = {path.name: path.read_bytes() for path in Path().iterdir()}
    err = run(*words).refused()
    assert said in err
    assert {path.name: path.read_bytes() for path in Path().iterdir()} == before


@pytest.mark.usefixtures("folder")
def test_a_fleet_in_every_form() -> None:
    code, out, _ = run("fleet", "out.csv")
    assert (code, out.splitlines()[0][:21]) == (0, "70 machines, 70 visit")
    assert json.loads(run("fleet", "out.csv", "--as", "json")[1])["blocks"][0]["text"].startswith("70 machines")
    assert run("fleet", "out.csv", "-o", "fleet.html")[1].startswith("Written: fleet.html")
    assert Path("fleet.html").read_text(encoding="utf-8").count("<svg") == 5
    assert "shop 69" in run("fleet", "out.csv", "--full")[1]


@pytest.mark.usefixtures("folder")
def test_a_growing_log_is_followed_until_ctrl_c() -> None:
    """What is waited for is a line, never a time."""
    growing = Path("growing.csv")
    growing.write_text(csv_of(ROWS[:1]), encoding="utf-8")
    command = [
        sys.executable,
        "-u",
        "-m",
        "diagnose",
        "examine",
        "growing.csv",
        "--machine",
        "machine.yaml",
        "--follow",
    ]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as following:
        assert following.stdout is not None

        def grow(rows: object) -> None:
            with growing.open("a", encoding="utf-8") as file:
                file.write(csv_of(rows, head=False))  # type: ignore[arg-type]

        def wait_for(words: str) -> str:
            assert following.stdout is not None
            said = ""
            while words not in said:
                text = following.stdout.readline()
                assert text, f"{words}: never said after {said}"
                said += f"{text.strip()} "
            return said

        try:
            grow(ROWS[1:80])
            told = "Answer: Low refrigerant charge, fair; charge low, but first read subcooling again."
            assert told in wait_for("subcooling again.")
            later = [replace(row, time=row.time + timedelta(minutes=180)) for row in day([(5, 65)], 1.5)]
            grow(later)
            assert "The answer has changed, and stayed so since 12:" in wait_for("charge right.")
        finally:
            following.send_signal(signal.SIGINT)
        assert following.wait() == 130 or following.returncode == 0


@pytest.mark.usefixtures("folder")
def test_a_row_that_is_half_written_is_not_read_yet() -> None:
    """`1` of 125 psig would be a suction pressure near nothing."""
    from diagnose.cli.logs import _examined

    growing = Path("growing.csv")
    growing.write_text(csv_of(ROWS[:40]) + "2026-07-14 09:40:00,1", encoding="utf-8")
    log = _examined("growing.csv", "machine.yaml", None, grows=True)[0]().log
    assert (len(log.times), log.notes) == (40, ())


def test_the_shipped_day_is_what_it_is_said_to_be() -> None:
    """A simulated day, invented: low on charge, with short cycling before noon and a gap after it."""
    out = run("examine", str(DAY)).fine()
    assert "low refrigerant charge" in out.splitlines()[0]
    for said in ("Short cycling", "Nothing was logged", "(made up)"):
        assert said in " ".join(out.split())
    assert DAY.stat().st_size < 100_000


@pytest.mark.usefixtures("folder")
def test_logs_become_a_table_and_a_fleet() -> None:
    """A row for each stretch, the same answer as of the log alone; one for a log that never runs, and for what is no log."""
    logs = Path("logs")
    logs.mkdir()
    hot = [
        replace(row, values={**row.values, "liquid pressure": 4.9e6}) if i == 122 else row for i, row in enumerate(ROWS)
    ]
    for name, text in (
        ("a", csv_of(hot)),
        ("b", csv_of([replace(row, values={**row.values, "liquid pressure": 4.9e6}) for row in ROWS[:8]])),
        ("c", "foo\n"),
    ):
        (logs / f"{name}.csv").write_text(text, encoding="utf-8")
        (logs / f"{name}.yaml").write_text(MACHINE.replace("shop 2", f"shop {name}"), encoding="utf-8")
    code, out, err = run("batch", "--log", "logs", "out.parquet", "--shares", "--workers", "1")
    assert (code, out.splitlines()[0]) == (0, "Written: out.parquet, 4 rows: 2 diagnosed, 2 not read.")
    assert "c.csv:1:0: no row names the columns" in err
    assert run("batch", "--log", "logs", "out.jsonl", "--shares", "--workers", "1")[0] == 0
    rows = [json.loads(line) for line in Path("out.jsonl").read_text(encoding="utf-8").splitlines()]
    alone = json.loads(run("examine", "logs/a.csv", "--as", "json")[1])
    assert [row["date"][11:] for row in rows[:2]] == [each["from"][11:16] for each in alone["stretches"]]
    for row, each in zip(rows, alone["stretches"], strict=False):
        assert (row["machine"], row["stretch"]) == ("harbor street, shop a", "steady")
        assert row["share"] == pytest.approx(each["result"]["faults"][0]["share"], abs=1e-4)
        assert row["charge verdict"] == each["result"]["charge"]["verdict"]
        assert "high-side-pressure" in row["dangers of the log"]  # of one moment far from either stretch
    assert [(row["status"], row["problems"].split(",")[0]) for row in rows[2:]] == [
        ("not read", "log-never-steady"), ("not read", "not-read")
    ]  # fmt: skip
    assert rows[2]["dangers of the log"] == "high-side-pressure"  # it never ran, and is told all the same
    told = " ".join(run("fleet", "out.parquet")[1].split())
    assert told.startswith("STOP: 2 machines, on the last visit: harbor street, shop a; harbor street, shop b.")
    assert "3 machines, 4 visits" in told
    assert "1 harbor street, shop a 2026-07-14" in told
    assert "STOP: the high side pressure is over its limit." in told
