"""Columns that a company's own rules add, in tables and logs: each row is answered as `examine` answers the visit."""

from __future__ import annotations

import math
import random
import statistics
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest
from commands import run
from gaps import spoiled
from hypothesis import given
from hypothesis import strategies as st
from made_logs import COLUMNS, ROWS, csv_of
from made_logs import MACHINE as LOGGED
from own_lines import MACHINE, OWN, READINGS, folder
from same_outcome import check_alike
from shared import machines
from tables import read
from test_vectors import CELL, compared

from diagnose import Rulebook, examine, load_rules
from diagnose.batch import examine_table
from diagnose.batch.evaluator import examine_vectors
from diagnose.batch.headers import layout_of
from diagnose.batch.logs.examining import examine_log
from diagnose.batch.logs.reading import read_log
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.rulebook import digest_of
from diagnose.store import entry_of, keep, open_store
from diagnose.yamlfile import parse

ODD = """\
  - quantity: head over suction
    what: of built-in readings alone
    formula: liquid pressure / suction pressure
    source: common-practice
  - quantity: status
    what: by a name that a column of every table has already
    formula: shaking / shaking
    source: common-practice
  - quantity: oil over suction
    what: one pressure against another
    formula: oil pressure / suction pressure
    source: common-practice
  - quantity: how long
    what: a reading under another name
    formula: oil return
    source: common-practice
"""
MORE = """\
  - reading: oil pressure
    where: at the pump
    kind: pressure
    example: [160 psig, 11 bar]
    between: [0 psig, 400 psig]
    instrument: gauges
  - reading: oil return
    where: at the sight glass
    kind: time
    example: [3 min, 180 s]
    between: [0 min, 60 min]
    instrument: stop watch
    error: 5 s
  - reading: moisture
    where: at the sight glass
    kind: percent
    example: 5 %
    between: [0 %, 100 %]
    instrument: card
    error: 2 %
  - reading: deep vacuum
    where: at the pump
    kind: vacuum
    example: [400 micron, 50 Pa]
    between: [0 micron, 5000 micron]
    instrument: vacuum gauge
  - reading: o'clock-side pitch
    where: at the fan
    kind: number
    example: 3
    between: [-10, 10]
    instrument: eye
    error: 1
quantities:
"""
HEADS = (
    "duct run", "rated shell rise [F]", "shell temperature [C]", "shaking", "oil pressure [psi]", "oil return [s]",
    "moisture [%]", "deep vacuum [micron]", "O'Clock-Side  Pitch", "suction pressure [bar]", "mode", "metering",
)  # fmt: skip


@pytest.fixture(scope="module")
def quay(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder(tmp_path_factory.mktemp("own"), own=OWN.replace("quantities:\n", MORE) + ODD)


@pytest.fixture(scope="module")
def own_book(quay: Path) -> Rulebook:
    return load_rules(quay)


def table(**but: Any) -> pa.Table:
    """The visit of `own_lines` as rows; but: cells of a column, by its name in letters and underscores."""
    lines = {**MACHINE, **READINGS}
    count = max((len(cells) for cells in but.values()), default=1)
    return pa.table(
        {name: pa.array(but.get(name.replace(" ", "_"), [str(cell)] * count)) for name, cell in lines.items()}
    )


# -- the same as `examine` -----------------------------------------------------------------------------------------------


def test_visits_of_every_kind_in_columns(own_book: Rulebook) -> None:
    """All of them with own lines, and with gaps among these; not one is done alone."""
    rng = random.Random(4)
    written = []
    for each in machines(60):
        visit = {part: dict(lines) if isinstance(lines, dict) else lines for part, lines in each.visit.items()}
        visit["machine"] |= {"duct run": rng.choice(["attic", "indoors"]), "rated shell rise": "40 F"}
        visit["readings"] |= {
            "shell temperature": f"{rng.uniform(100, 200):.1f} F", "shaking": rng.choice([0, 2, 9.9, 30]),
            "oil pressure": f"{rng.uniform(100, 200):.1f} psig", "oil return": "200 s",
        }  # fmt: skip
        written.append(visit)
    visits = [*spoiled(written, 3, own_book, 7), *spoiled(written, 24, own_book, 8, alike=12)]
    found = check_alike([str(i) for i in range(len(visits))], visits, own_book)
    assert found.by_row == 0
    for name in (
        "shell rise",
        "share of the shell rise",
        "head over suction",
        "oil over suction",
        "how long",
        "status",
    ):
        told = [found.quantities[name].value[i] for i in range(found.n)]
        assert 5 < sum(map(math.isfinite, told)) < found.n, name


def test_visits_read_by_another_book_are_left_to_examine(own_book: Rulebook) -> None:
    from diagnose import Visit

    visits = [
        Visit.parse({"machine": MACHINE, "readings": READINGS}, own_book.own),
        Visit.parse({"machine": {"metering": "TXV"}, "readings": {"suction line temperature": "60 F"}}),
    ]
    assert check_alike(["own", "other"], visits, own_book).by_row == 1


@given(st.lists(st.lists(CELL, min_size=len(HEADS), max_size=len(HEADS)), min_size=1, max_size=6))
def test_any_texts(own_book: Rulebook, rows: list[list[str | None]]) -> None:
    layout = layout_of(HEADS, own_book)
    assert len(layout.columns) == len(HEADS)
    texts = pa.table([pa.array(cells, pa.string()) for cells in zip(*rows, strict=True)], names=list(HEADS))
    compared(texts, layout, own_book)


@given(st.lists(st.one_of(st.none(), st.floats(), st.integers(-500, 5000).map(float)), min_size=1, max_size=8))
def test_any_numbers_in_every_column(own_book: Rulebook, cells: list[float | None]) -> None:
    for head in HEADS[1:-2]:
        compared(pa.table([pa.array(cells, pa.float64())], names=[head]), layout_of([head], own_book), own_book)


def test_a_rule_of_ones_own_fires(own_book: Rulebook) -> None:
    found = examine_table(table(shell_temperature=["150 F", "100 F", None]), own_book, units="us").to_pylist()
    for got, text in zip(found, ("150 F", "100 F", None), strict=True):
        d = examine({"machine": MACHINE, "readings": {**READINGS, "shell temperature": text}}, own_book)
        assert got["fault"] == d.faults[0].fault
        assert got["share"] == round(d.faults[0].share, 4)
        rise = d.estimates.get("shell rise")
        assert got["shell rise [F]"] == (None if rise is None else pytest.approx(rise.value * 1.8, abs=1e-4))
    # Two clamps of ±1.4 °F each (95 of 100): the root of the sum of squares, JCGM 100:2008, 5.1.2.
    assert found[0]["shell rise ± [F]"] == pytest.approx((2 * 1.4**2) ** 0.5, abs=1e-4)
    assert found[0]["share of the shell rise [ratio]"] == pytest.approx(84 / 40)
    assert [one["fault"] for one in found] == ["weak-compressor", "nothing-wrong", "nothing-wrong"]
    assert (found[0]["status"], found[0]["status [ratio]"]) == ("diagnosed", 1.0)


# -- what is said of them ------------------------------------------------------------------------------------------------


def test_heads_are_understood_as_any_other(own_book: Rulebook, book: Rulebook) -> None:
    heads = (
        "Shell_Temperature (F)", "machine: Duct Run", "baseline: shell temperature [C]", "readings: shaking",
        "seen: shaking", "machine: shaking", "shel temperature [F]",
    )  # fmt: skip
    layout = layout_of(heads, own_book)
    assert [(one.called, one.part) for one in layout.columns] == [
        ("shell temperature [F]", "readings"), ("duct run", "machine"), ("baseline: shell temperature [C]", "baseline"),
        ("shaking", "readings"),
    ]  # fmt: skip
    assert [place for place, _ in layout.passed] == [4, 5, 6]
    assert layout.hints == {5: "Did you mean `shaking`?", 6: "Did you mean `shell temperature`?"}
    assert not layout_of(heads, book).columns  # whoever has not the rules has none of their lines


@pytest.mark.parametrize(
    ("head", "cell", "what", "fix"),
    [
        ("shell temperature", "150", "says no unit", "Write the unit in brackets: `shell temperature [F]`."),
        ("shell temperature [psig]", "150", "a pressure", ""),
        ("duct run [ft]", "attic", "a word has no unit", "Name the column `duct run`."),
    ],
)
def test_a_head_that_cannot_be_used(own_book: Rulebook, head: str, cell: str, what: str, fix: str) -> None:
    (told,) = layout_of([head], own_book, first={0: cell}).left_out
    assert what in told.what
    assert told.fix
    assert not fix or told.fix == fix


def batch(*words: object) -> Any:
    return run("batch", *words)


def test_the_command_reads_tables_and_visit_files_alike(tmp_path: Path, quay: Path, own_book: Rulebook) -> None:
    lines = {**MACHINE, **READINGS}
    rows = [
        lines,
        {**lines, "duct run": "attic"},
        {**lines, "duct run": "roof"},
        {**lines, "shell temperature": "1500 F"},
    ]
    fleet = tmp_path / "fleet.csv"
    fleet.write_text(
        ",".join(lines) + "\n" + "".join(",".join(map(str, one.values())) + "\n" for one in rows), encoding="utf-8"
    )
    shown = batch("--columns", fleet, "--rules", quay)
    assert "9 columns, 9 understood, 0 left out" in " ".join(shown.stdout.split())
    done = batch(fleet, tmp_path / "rows.csv", "--rules", quay, "--workers", "1")
    assert "row 4, column 4: `duct run`: `roof` is not known. Write one of: attic, crawl space, indoors." in done.stderr
    assert "row 5, column 8: `shell temperature`: `1500 F` cannot be right." in done.stderr
    visits = tmp_path / "visits"
    visits.mkdir()
    for i, one in enumerate(rows):
        parts = [
            (part, [f"{name}: {one[name]}" for name in of])
            for part, of in (("machine", MACHINE), ("readings", READINGS))
        ]
        (visits / f"{i}.yaml").write_text("".join(f"{part}: {{{', '.join(of)}}}\n" for part, of in parts))
    assert batch(visits, tmp_path / "files.csv", "--rules", quay, "--workers", "1").exit_code == 0
    of_rows, of_files = read(tmp_path / "rows.csv"), read(tmp_path / "files.csv")
    for one in of_files:
        one.pop("file")
    assert of_files[:2] == of_rows[:2]
    assert [one["status"] for one in of_files] == ["diagnosed", "diagnosed", "not read", "not read"]
    assert [one["problems"] for one in of_rows[2:]] == ["not-read/duct-run", "not-read/shell-temperature"]


def test_columns_in_memory_say_what_cannot_be_meant(own_book: Rulebook, book: Rulebook) -> None:
    found = examine_vectors({"shell temperature": [330.0, None], "duct run": ["attic", None]}, own_book)
    # A pipe clamp's usual limit of error, 1.4 °F for 95 of 100.
    assert found.quantities["shell temperature"].sigma[0] == pytest.approx(1.4 / 1.8 / COVERAGE)
    with pytest.raises(ValueError, match="`duct run` must be one of attic, crawl space, indoors, not 'roof'"):
        examine_vectors({"duct run": ["roof"]}, own_book)
    with pytest.raises(ValueError, match="`shell temperature` is no line of a visit"):
        examine_vectors({"shell temperature": [330.0]}, book)


# -- logs ----------------------------------------------------------------------------------------------------------------


def logged(shell: list[float], words: str = "attic") -> str:
    head, *rows = csv_of(ROWS, COLUMNS).splitlines()
    head += ",shell temperature [F],duct run,rated shell rise [F]"
    return "\n".join([head, *(f"{row},{one:.1f},{words},40" for row, one in zip(rows, shell, strict=True))])


@pytest.fixture(scope="module")
def shell() -> list[float]:
    chance = random.Random(3)
    return [170 + chance.gauss(0, 0.5) for _ in ROWS]


def test_a_log_with_own_columns(own_book: Rulebook, shell: list[float]) -> None:
    log = examine_log(read_log(logged(shell).encode(), "log.csv", own_book), own_book, parse(LOGGED, "machine.yaml"))
    assert not [note for note in log.notes if note.code in ("log-unused", "log-left-out")]
    assert log.machine.words["duct run"] == "attic"
    assert log.stretches
    for each in log.stretches:
        taken = each.diagnosis.visit.last.readings["shell temperature"]
        some = shell[each.stretch.begin : each.stretch.end]
        assert taken.value == pytest.approx((statistics.fmean(some) + 459.67) / 1.8, abs=0.05)
        assert taken.error == pytest.approx(math.hypot(1.4, COVERAGE * statistics.stdev(some)) / 1.8, abs=0.05)
        d = each.diagnosis
        assert d.findings["shell"].words == examine(d.visit, own_book).findings["shell"].words
        assert d.estimates["share of the shell rise"].value == pytest.approx(d.estimates["shell rise"].value * 1.8 / 40)


def test_a_log_by_the_commands(tmp_path: Path, quay: Path, shell: list[float]) -> None:
    path, beside = tmp_path / "log.csv", tmp_path / "machine.yaml"
    path.write_text(logged(shell))
    beside.write_text(LOGGED)
    batch("--log", path, tmp_path / "out.csv", "--machine", beside, "--rules", quay, "--workers", "1").fine()
    for one in read(tmp_path / "out.csv"):
        assert float(one["shell rise [K]"]) > 40
    told = run("examine", path, "--machine", beside, "--rules", quay, "--full")
    assert told.exit_code == 0, told.stderr
    assert "is not used" not in told.stdout
    changing = logged(shell).replace("attic", "indoors", 5)
    path.write_text(changing)
    told = run("examine", path, "--machine", beside, "--rules", quay)
    assert "`duct run` changes from `indoors` to `attic`" in told.stderr


def test_kept_visits_with_own_lines_are_examined_again(tmp_path: Path, quay: Path, own_book: Rulebook) -> None:
    lines = [f"{part}: {{{', '.join(f'{k}: {v}' for k, v in of.items())}}}\n" for part, of in
             (("machine", MACHINE | {"name": "ice house"}), ("readings", READINGS))]  # fmt: skip
    place = tmp_path / "visits.db"
    with open_store(str(place)) as store:
        keep(
            store,
            [entry_of("".join([*lines, "date: 2026-04-03\n"]).encode(), "visit.yaml", own_book, digest_of(own_book))],
        )
    out = batch("--from-store", place, tmp_path / "out.csv", "--rules", quay, "--workers", "1").fine()
    assert "every answer as it was" in out
    (one,) = read(tmp_path / "out.csv")
    assert (one["fault"], one["share of the shell rise [ratio]"]) == ("weak-compressor", "2.1")


@pytest.mark.parametrize("words", [["--columns"], []])
def test_rules_that_cannot_be_used_are_told(tmp_path: Path, words: list[str]) -> None:
    """Their lines are not known then, so the columns are passed on, and nothing else would say why."""
    made = folder(tmp_path, own=OWN.replace("kind: temperature", "kind: temprature"))
    fleet, out = tmp_path / "fleet.csv", [] if words else [tmp_path / "out.csv"]
    fleet.write_text("metering,shell temperature [F]\nTXV,150\n")
    done = batch(*words, fleet, *out, "--rules", made)
    assert done.exit_code == 0
    assert "The rules of quay cannot be used as they are (1 mistake;" in done.stderr
