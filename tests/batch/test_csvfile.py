"""Tables of text cut into pieces: every row comes out once and whole, whatever its cells hold and however the file is cut.

What a well-made CSV says is Python's own `csv` module's word; what it may look like: RFC 4180.
"""

from __future__ import annotations

import csv
import io
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from tables import HEAD, ROW

from diagnose.batch import csvfile
from diagnose.batch.csvfile import CsvRow, head_of, pieces, rows_in
from diagnose.yamlfile import InputProblems

CELL = st.text(st.sampled_from('ab1 ",;\n\r|\té3/8'), max_size=6)


def cut(path: Path, size: int) -> list[CsvRow]:
    head = head_of(path)
    with path.open("rb") as file:
        end = file.seek(0, 2)
        some = list(pieces(file, head.begin, end, head.separator, size))
    assert [piece.at for piece in some] == [head.begin + sum(p.length for p in some[:i]) for i in range(len(some))]
    assert head.begin + sum(piece.length for piece in some) == end
    return [row for piece in some for row in rows_in(path, piece, head.separator, len(head.headers))]


@given(rows=st.lists(st.lists(CELL, min_size=3, max_size=3), max_size=12), size=st.integers(1, 40))
@example(rows=[["a\n\nb", '"', "x"], ['3/8"', ",", "\n"]], size=1)
def test_a_well_made_table_is_read_as_pythons_own_reader_reads_it(
    rows: list[list[str]], size: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("csv") / "table.csv"
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerows([["first", "second", "third"], *rows])
    path.write_bytes(text.getvalue().encode())
    found = cut(path, size)
    assert [[cell or "" for cell in row.cells] for row in found] == rows
    assert all(row.trouble is None for row in found)


@given(data=st.binary(max_size=300), size=st.integers(1, 50))
@example(data=b'",1,,\n\n,,\n","', size=1)
def test_whatever_stands_below_a_head_no_row_is_lost_and_nothing_raised(
    tmp_path_factory: pytest.TempPathFactory, data: bytes, size: int
) -> None:
    path = tmp_path_factory.mktemp("csv") / "table.csv"
    path.write_bytes(b"a,b\n" + data)
    whole, parts = cut(path, 1 << 20), cut(path, size)
    assert [row.cells for row in whole] == [row.cells for row in parts]
    assert len(whole) <= data.count(b"\n") + 1


def test_a_forgotten_quote_spoils_one_row(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text('a,b\n1,"open\n2,"closed, here"\n3,x\n4,"open again\n5,y\n')
    for size in (1, 10, 1000):
        assert [row.cells for row in cut(path, size)] == [
            ["1", '"open'], ["2", "closed, here"], ["3", "x"], ["4", '"open again'], ["5", "y"],
        ]  # fmt: skip


@pytest.mark.parametrize("more", [b"", b',""', b',"x'])
def test_what_a_forgotten_quote_costs_grows_with_the_table_and_not_with_its_square(
    monkeypatch: pytest.MonkeyPatch, more: bytes
) -> None:
    bytes_handled = 0

    class Line(bytes):
        def __add__(self, other: bytes) -> Line:  # type: ignore[override]
            nonlocal bytes_handled
            bytes_handled += len(self) + len(other)
            return Line(bytes(self) + other)

    class Table(io.BytesIO):
        def readline(self, size: int | None = -1, /) -> bytes:
            return Line(super().readline(size))

    def looking(data: bytes | bytearray, mark: bytes) -> int | None:
        nonlocal bytes_handled
        bytes_handled += len(data)
        return open_quote(data, mark)

    open_quote = csvfile._open_quote
    monkeypatch.setattr(csvfile, "_open_quote", looking)
    table = b'"open' + more + b"\n" + (b"1,2" + more + b"\n") * 4000
    found = list(csvfile.pieces(Table(table), 0, len(table), ",", len(table) // 4))
    assert [each.at for each in found] == [0, *accumulate(each.length for each in found[:-1])]
    assert sum(each.length for each in found) == len(table)
    assert bytes_handled < 20 * len(table)


@pytest.mark.parametrize(
    ("written", "length"),
    [("1\n", 1), ("1,2,3\n", 3), ("1,2,3,,\n", 3), ('"1,2"\n', 1)],
)
def test_a_row_of_another_length_says_so(tmp_path: Path, written: str, length: int) -> None:
    path = tmp_path / "table.csv"
    path.write_text(f"a,b\n5,6\n{written}7,8\n")
    before, row, after = cut(path, 1000)
    assert before.trouble is after.trouble is None
    assert row.trouble.whole
    assert f"{length} cells, and the head has 2" in row.trouble.what


def test_separators_at_the_end_of_a_line_and_blank_lines_are_no_rows(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("a,b\n\n1,2,,\n\n\n3,4\n\n")
    assert [(row.number, row.cells, row.trouble) for row in cut(path, 1000)] == [
        (2, ["1", "2"], None),
        (5, ["3", "4"], None),
    ]


@pytest.mark.parametrize(
    ("above", "row"), [("", 1), ("sep=;\n", 2), ("SEP=;\r\n\n", 3), (" \n;;;\n", 3), ("\ufeff\n", 2)]
)
def test_what_stands_above_the_head_and_separators_behind_it(tmp_path: Path, above: str, row: int) -> None:
    """`sep=;` is a line that spreadsheets write and read: common practice, no source."""
    path = tmp_path / "table.csv"
    path.write_text(f"{above}a; b ;;;\n1,5;2;;\n3;4\n", encoding="utf-8", newline="")
    found = head_of(path)
    assert (found.separator, found.headers, found.row) == (";", ("a", "b"), row)
    assert [(row.cells, row.trouble) for row in cut(path, 1000)] == [(["1,5", "2"], None), (["3", "4"], None)]


@pytest.mark.parametrize(
    ("under", "pressure", "row"),
    [(",psig,[°F]\n", "suction pressure [psig]", 2), ("", "suction pressure", 1), ("x,psig,F\n", "suction pressure", 1),
     ("A,C,F\n", "suction pressure", 1)],
)  # fmt: skip
def test_units_in_a_row_of_their_own(tmp_path: Path, under: str, pressure: str, row: int) -> None:
    path = tmp_path / "table.csv"
    path.write_text(f"shop,suction pressure,air [F]\n{under}net loft,118,75\n", encoding="utf-8")
    found = head_of(path)
    assert (found.headers, found.row) == (("shop", pressure, "air [F]"), row)
    assert [each.cells for each in cut(path, 1000)][1 if under and row == 1 else 0 :] == [["net loft", "118", "75"]]


@pytest.mark.parametrize(("under", "added"), [("", ("", "")), ("min,psig\n", (" [min]", " [psig]"))])
def test_minutes_stand_in_a_table_with_a_unit_and_without(tmp_path: Path, under: str, added: tuple[str, str]) -> None:
    path = tmp_path / "table.csv"
    path.write_text(f"minutes running,suction pressure\n{under}20,118\n", encoding="utf-8")
    assert head_of(path).headers == (f"minutes running{added[0]}", f"suction pressure{added[1]}")


@pytest.mark.parametrize("quote", ["", '"'])
def test_of_a_giant_row_all_but_the_giant_cell_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, quote: str
) -> None:
    monkeypatch.setattr(csvfile, "LONGEST_ROW", 5000)
    monkeypatch.setattr(csvfile, "LONGEST_CELL", 1000)
    monkeypatch.setattr(csvfile, "PIECE", 700)
    path = tmp_path / "table.csv"
    path.write_text(f'a,b,c\n1,2,3\n4,{quote}{"x" * 9000}{quote},"5,6"\n7,8,9\n')
    one, giant, last = cut(path, 700)
    assert (one.cells, last.cells) == (["1", "2", "3"], ["7", "8", "9"])
    assert giant.cells == ["4", None, "5,6"]
    assert (giant.trouble.code, giant.trouble.place, giant.trouble.whole) == ("cell-too-long", 1, False)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_the_one_the_head_has_most_of(tmp_path: Path, separator: str) -> None:
    path = tmp_path / "table.csv"
    path.write_text(separator.join(HEAD) + "\n" + separator.join(ROW) + "\n")
    assert head_of(path).headers == HEAD
    assert cut(path, 1000)[0].cells == list(ROW)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"), (b" \n\n", "empty"), (b";;\n,\n", "no head"), (b"sep=,\n", "no head"),
        (b"PK\x03\x04\x14", "spreadsheet or a zip"), (b"\x1f\x8b\x08", "by gzip"),
        ("a,b\n1,2\n".encode("utf-32-le"), "no text"), ("a,b".encode("utf-16-le"), "no text"),
        ("a,b".encode("utf-16"), "UTF-16"),
        (b"a\0b,c\n1,2\n", "no text"), (b"a,b\r1,2\r", "computers of old"),
        (b"%PDF-1.7\n", "PDF"),
    ],
)  # fmt: skip
def test_what_is_no_table_is_told_for_what_it_is(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(content)
    with pytest.raises(InputProblems, match=words):
        head_of(path)


def test_marks_at_the_beginning_line_ends_and_western_windows(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_bytes(b"\xef\xbb\xbfa,b [\xb0F]\r\nB\xe4cker,2\r\n\xc3\xa9,\x00\r\n")
    assert head_of(path).headers == ("a", "b [°F]")
    assert [row.cells for row in cut(path, 5)] == [["Bäcker", "2"], ["é", "\0"]]
