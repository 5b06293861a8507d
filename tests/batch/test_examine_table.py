"""A table in memory: the answer of each row is that of `examine` on the same visit, whatever stands beside it."""

from __future__ import annotations

import subprocess
import sys

import pyarrow as pa
import pytest
from tables import HEAD, ROW, columns_of, row, shipped_rows
from work import THOROUGH

from diagnose import examine
from diagnose.batch import examine_table
from diagnose.quantities.uncertainty import COVERAGE
from diagnose.report.sentences import problems
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import InputProblems


def table(*rows: list[object] | tuple[object, ...], head: tuple[str, ...] = HEAD) -> pa.Table:
    return pa.table([pa.array(list(cells)) for cells in zip(*rows, strict=True)], names=list(head))


def test_every_shipped_visit_that_a_row_can_hold_is_answered_as_examine_answers_it(book: Rulebook) -> None:
    every = shipped_rows()
    assert len(every) > 150
    named = {name: every[name] for name in list(every)[:: 1 if THOROUGH else 8]}
    columns = columns_of([row for row, _ in named.values()])
    texts = {name: [None if cell is None else str(cell) for cell in cells] for name, cells in columns.items()}
    found = examine_table(pa.table(texts), book, shares=True).to_pylist()
    for (name, (_, visit)), got in zip(named.items(), found, strict=True):
        d = examine({part: value for part, value in visit.items() if part != "notes"}, book)
        first = d.faults[0] if d.faults else None
        assert got["status"] == d.status, name
        assert got["fault"] == (first.fault if first else None), name
        assert got["share"] == (round(first.share, 4) if first else None), name
        assert got["charge verdict"] == d.charge.verdict, name
        assert got["dangers"] == ",".join(dict.fromkeys(danger.code for danger in d.dangers)), name
        codes = [*(one.code for one in d.held), *(one.code for one, _ in problems(d))]
        assert got["problems"] == ",".join(dict.fromkeys(codes)), name
        assert [got[f"share: {f.fault}"] for f in d.faults] == [round(f.share, 4) for f in d.faults], name
        for quantity in ("superheat", "subcooling", "condensing over ambient"):
            estimate = d.estimates.get(quantity)
            assert got[f"{quantity} [K]"] == (None if estimate is None else pytest.approx(estimate.value, abs=1e-4)), (
                name
            )
            limit = None if estimate is None else pytest.approx(COVERAGE * estimate.sigma, abs=1e-4)
            assert got[f"{quantity} ± [K]"] == limit, name


def test_the_order_of_the_columns_is_a_contract(book: Rulebook) -> None:
    found = examine_table(table(ROW), book, shares=True).column_names
    assert found[:6] == ["machine", "date", "kind", "refrigerant", "metering", "id"]
    assert found[6:15] == [
        "status", "fault", "share", "second", "charge verdict", "charge estimate low [%]", "charge estimate high [%]",
        "dangers", "problems",
    ]  # fmt: skip
    assert found[15:19] == ["superheat [K]", "superheat ± [K]", "subcooling [K]", "subcooling ± [K]"]
    assert found[-len(book.faults) - 1] == "charge check"
    assert found[-len(book.faults) :] == [f"share: {fault}" for fault in book.faults]


def test_units_of_the_quantities_are_chosen(book: Rulebook) -> None:
    si, us = (examine_table(table(ROW), book, units=units).to_pylist()[0] for units in ("si", "us"))
    assert us["superheat [F]"] == pytest.approx(si["superheat [K]"] * 1.8, abs=2e-4)
    assert us["superheat ± [F]"] == pytest.approx(si["superheat ± [K]"] * 1.8, abs=2e-4)
    assert us["evaporating temperature [F]"] == pytest.approx(si["evaporating temperature [C]"] * 1.8 + 32, abs=2e-4)
    assert us["evaporating temperature ± [F]"] == pytest.approx(si["evaporating temperature ± [C]"] * 1.8, abs=2e-4)


def test_numbers_texts_and_cells_with_their_own_unit_say_the_same(book: Rulebook) -> None:
    texts = table(ROW)
    numbers = table((*ROW[:4], 118.0, 53, 323.0, 99, 86.0))
    own = table((*ROW[:4], "118 psig", "53 °F", "323", "37.222222222 C", "86"))
    comma = table((*ROW[:4], "118,0", "53,0", "323", "99", "86"))
    found = [examine_table(one, book).drop_columns("machine").to_pylist() for one in (texts, numbers, own, comma)]
    assert found[1:] == found[:1] * 3


def test_a_figure_may_be_of_any_type(book: Rulebook) -> None:
    wanted = examine_table(table(ROW), book).select(["fault", "superheat [K]"])
    place = HEAD.index("suction pressure [psig]")
    texts = [pa.array(["118"]).cast(kind) for kind in (pa.large_string(), pa.string_view(), pa.binary())]
    numbers = [pa.array([118], kind) for kind in (pa.int8(), pa.uint64(), pa.float32(), pa.decimal128(30, 3))]
    for value in (*texts, *numbers):
        given = table(ROW).set_column(place, HEAD[place], value)
        assert examine_table(given, book).select(["fault", "superheat [K]"]) == wanted, value.type
    for beyond in (pa.array([2**53 + 1]), pa.array([2**64 - 1], pa.uint64()), pa.array([float("inf")])):
        (one,) = examine_table(table(ROW).set_column(place, HEAD[place], beyond), book).to_pylist()
        assert one["problems"] == "not-read/suction-pressure"


def test_a_figure_with_three_decimals_is_no_thousand(book: Rulebook) -> None:
    """`1.234 kg` in a text may be read in two ways and is asked about; a number may not."""
    head = (*HEAD, "factory charge [kg]")
    (one,) = examine_table(table((*ROW, 2.125), head=head), book).to_pylist()
    assert one["status"] == "diagnosed"


@pytest.mark.parametrize("empty", ["", "  ", "-", "n/a", "NaN", None])
def test_an_empty_cell_is_a_reading_not_taken(book: Rulebook, empty: str | None) -> None:
    (one,) = examine_table(table((*ROW[:5], empty, *ROW[6:])), book).to_pylist()
    assert one["status"] == "diagnosed"
    assert one["superheat [K]"] is None
    assert one["subcooling [K]"] is not None


def test_a_bad_row_stays_a_row_and_spoils_no_other(book: Rulebook) -> None:
    rows = [ROW, row(id="2", metering="spring"), row(id="3", refrigerant="R-999"), ROW]
    rows[2][4] = "high"
    found = examine_table(table(*rows), book).to_pylist()
    assert [one["status"] for one in found] == ["diagnosed", "not read", "not read", "diagnosed"]
    assert [one["problems"] for one in found[1:3]] == [
        "not-read/metering",
        "not-read/refrigerant,not-read/suction-pressure",
    ]
    assert [one["id"] for one in found] == ["1", "2", "3", "1"]
    assert found[1]["metering"] == "spring"
    assert found[1]["dangers"] is None  # nobody looked
    assert found[0]["dangers"] == ""
    assert found[0] == found[3]
    (called,) = examine_table(table(row(machine="  net loft ", metering=" txv")), book).to_pylist()
    assert (called["machine"], called["metering"]) == ("net loft", "TXV")


def test_columns_not_understood_are_passed_on_as_they_are(book: Rulebook) -> None:
    given = table((*ROW, [1, 2], 7, "ours", "x", "y"), head=(*HEAD, "a list", "count", "fault", "note", "note"))
    found = examine_table(given, book)
    assert found.column_names[5:11] == ["id", "a list", "count", "input: fault", "note", "note (2)"]
    assert found.select(["a list", "count", "input: fault", "note", "note (2)"]).to_pylist() == [
        {"a list": [1, 2], "count": 7, "input: fault": "ours", "note": "x", "note (2)": "y"}
    ]
    assert found.schema.field("count").type == pa.int64()


def test_pandas_in_pandas_out(book: Rulebook) -> None:
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame([ROW, ROW], columns=list(HEAD), index=[7, 9])
    frame["mixed"] = [3, "three"]
    found = examine_table(frame, book)
    assert isinstance(found, pandas.DataFrame)
    assert list(found["fault"]) == [examine_table(table(ROW), book).to_pylist()[0]["fault"]] * 2
    assert list(found["mixed"]) == ["3", "three"]


@pytest.mark.parametrize("given", [3, None, {"a": [1]}, "fleet.csv", [ROW]])
def test_what_is_no_table_is_refused_in_words(given: object) -> None:
    with pytest.raises(InputProblems, match="is no table"):
        examine_table(given)


def test_zero_rows_and_fifty_thousand_columns(book: Rulebook) -> None:
    assert examine_table(table(ROW).slice(0, 0), book).num_rows == 0
    wide = pa.table([pa.array([1])] * 50_000, names=[f"c{i}" for i in range(50_000)])
    with pytest.raises(InputProblems, match="50,000 columns"):
        examine_table(wide, book)


LAZY = """
import sys
import diagnose
from diagnose.batch import examine_table
print(*({"pyarrow", "pandas", "numpy", "distributed"} & set(sys.modules)))
sys.modules["pyarrow"] = None
try:
    examine_table(3)
except Exception as error:
    print(error)
"""


def test_pyarrow_is_imported_when_it_is_used_and_asked_for_in_words() -> None:
    done = subprocess.run([sys.executable, "-c", LAZY], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[0] == ""
    assert "pip install 'diagnose[batch]'" in done.stdout
