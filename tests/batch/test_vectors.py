"""Rows taken together say what the reader of visit files says of each, or are left to it."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from hypothesis import example, given
from hypothesis import strategies as st

from diagnose.batch.headers import Layout, layout_of, visit_of
from diagnose.batch.vectors import vectors_of
from diagnose.rulebook import Rulebook
from diagnose.visit import Visit
from diagnose.visit.reason import Reason

HEADS = (
    "refrigerant", "metering", "mode", "kind", "compressor", "running at", "built for", "nominal capacity [ton]", "SEER",
    "SEER2", "altitude [ft]", "station pressure [inHg]", "factory charge [kg]", "recovered charge [kg]", "minutes running",
    "minutes since defrost [s]", "suction pressure [psi]", "liquid pressure [bar absolute]",
    "standing pressure [inHg vacuum]", "suction line temperature [F]", "outdoor air temperature [C]", "return air wet bulb [K]",
    "return air relative humidity [%]", "gauge subcooling [F]", "external static pressure [Pa]", "compressor current [A]",
    "vapour line temperature [F]", "high pressure cut-out [psig]", "line set: length [ft]", "instruments: gauges [%]",
    "baseline: suction pressure [psig]", "seen: air filter", "seen: indoor coil ice", "airflow [cfm]", "capacitor [uF]",
)  # fmt: skip
WORDS = (
    "R-410A", "r22", "R-999", "TXV", "piston", "cap tube", "cooling", "heat", "split", "rooftop", "warehouse", "two stage",
    "low", "single stage", "60 %", "clean", "Dirty", "none", "present", "outdoors", "=1+1", "é",
)  # fmt: skip
NUMBERS = st.one_of(
    st.floats(-50, 700, allow_nan=False).map(lambda x: f"{x:.3g}"),
    st.sampled_from(
        ["", " ", "-", "n/a", "NaN", "0", "-0", "118", "118.5", "118,5", "1.180", "1,180", "1e2", "1e400", "inf", ".5", "5.",
         "+7", "3/8", "118 psig", "8 bar",
         "75/63", "٣", "1_000", "0x10", "1 2", "118psi", "1e9", "2e9", "-14.6", "-15", "100.125"]
    ),
)  # fmt: skip
CELL = st.one_of(NUMBERS, NUMBERS, st.sampled_from(WORDS), st.none())


def compared(table: pa.Table, layout: Layout, book: Rulebook) -> int:
    """How many rows were taken together; each is the visit that the reader makes of it."""
    found = vectors_of(table, layout, book, np.zeros(table.num_rows, bool))
    rows = list(zip(*(column.to_pylist() for column in table.columns), strict=True))
    for place, index in enumerate(found.rows):
        visit = visit_of(rows[index], layout, 1, "", book)
        assert isinstance(visit, Visit), (rows[index], visit)
        machine, last = visit.machine, visit.last
        values = {name: column[place] for name, column in found.columns.items() if not isinstance(column, tuple)}
        assert {n: v for n, v in values.items() if not np.isnan(v)} == {
            **{name: reading.value for name, reading in last.readings.items()},
            **machine.facts,
            **({"minutes running": last.minutes} if last.minutes is not None else {}),
            **({"minutes since defrost": last.defrosted} if last.defrosted is not None else {}),
            **({"station pressure": machine.station_pressure} if machine.station_from == "measured" else {}),
        }
        for name, reading in last.readings.items():
            assert found.units[name] == reading.unit
            assert (name in found.absolute) == (
                not reading.gauge and name.endswith("pressure") and "static" not in name
            )
        words = {
            name: c[1][c[0][place]] for name, c in found.columns.items() if isinstance(c, tuple) and c[0][place] >= 0
        }
        assert words == {
            **machine.words,
            **({"mode": machine.mode} if machine.mode else {}),
            **({"metering": machine.metering} if machine.metering else {}),
            **({"refrigerant": machine.refrigerant.name} if machine.refrigerant else {}),
            **{f"seen: {name}": word for name, word in visit.seen.items()},
        }
        codes = [note.code for note in visit.notes]
        assert codes == (["taken-as-gauge"] if found.as_gauge[place] else []), visit.notes
        assert all(isinstance(note, Reason) for note in visit.notes)
        assert visit.baseline is None
        assert machine.line_set is None
    return len(found.rows)


@given(st.lists(st.lists(CELL, min_size=len(HEADS), max_size=len(HEADS)), min_size=1, max_size=6))
@example([[None] * len(HEADS)])
def test_any_texts(book: Rulebook, rows: list[list[str | None]]) -> None:
    table = pa.table([pa.array(cells, pa.string()) for cells in zip(*rows, strict=True)], names=list(HEADS))
    compared(table, layout_of(HEADS, book), book)


@given(st.data())
def test_one_cell_at_a_time(book: Rulebook, data: st.DataObject) -> None:
    rows: list[list[str | None]] = []
    for place in range(len(HEADS)):
        row: list[str | None] = [None] * len(HEADS)
        row[place] = data.draw(CELL)
        rows.append(row)
    table = pa.table([pa.array(cells, pa.string()) for cells in zip(*rows, strict=True)], names=list(HEADS))
    compared(table, layout_of(HEADS, book), book)


@given(st.lists(st.one_of(st.none(), st.floats(), st.integers(-(10**10), 10**10).map(float)), min_size=1, max_size=8))
def test_any_numbers_in_every_column(book: Rulebook, cells: list[float | None]) -> None:
    numeric = [head for head in HEADS if "[" in head or head in ("SEER", "minutes running")]
    for head in numeric:
        compared(pa.table([pa.array(cells, pa.float64())], names=[head]), layout_of([head], book), book)
    compared(pa.table([pa.array(cells, pa.float64())], names=["SEER"]), layout_of(["SEER"], book), book)


def test_ordinary_rows_are_all_taken_together(book: Rulebook) -> None:
    columns = {
        "refrigerant": ["R-410A", "R410A", None], "metering": ["TXV", "orifice", "EEV"],
        "suction pressure [psig]": ["118", "120.5", None], "liquid pressure [psig]": [323.0, 310.0, 300.0],
        "outdoor air temperature [F]": [86, 90, 95], "seen: air filter": ["clean", "Dirty", None],
        "minutes running": [15, 20, None], "SEER": ["14", "", "16"],
    }  # fmt: skip
    table = pa.table(columns)
    assert compared(table, layout_of(table.column_names, book), book) == 3


def test_rows_that_need_more_are_left_to_the_reader(book: Rulebook) -> None:
    table = pa.table({"suction pressure [psig]": ["118", "118 psig", "1,180", "1.180", "9e8", "x", "", None]})
    found = vectors_of(table, layout_of(table.column_names, book), book, np.zeros(8, bool))
    assert list(found.rows) == [0, 6, 7]
