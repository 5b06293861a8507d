"""Comma-separated tables: cut into pieces at the ends of rows without reading a row into values, and each piece read by itself.

Cells are separated by commas, semicolons, tabs or bars, whichever the head has most of; units may stand in a row of their own
below it. A quote opens a cell only at the cell's
beginning (`3/8"` is three characters and an inch sign), and only where it is closed again just before the next separator or
line end; else it is a sign like any other, so that one forgotten quote spoils one row and not the rest of the table. A row may
have 16 MB; of longer ones every cell of more than 1 MB is emptied, and the row says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import zip_longest
from pathlib import Path
from typing import BinaryIO

from diagnose.units.spelling import BY_SPELLING, is_unit
from diagnose.visit.fields import ROUND
from diagnose.visit.trade_words import meant
from diagnose.yamlfile import reason_of, refusal

PIECE = 1 << 21  # bytes
LONGEST_ROW = 1 << 24  # bytes
LONGEST_CELL = 1 << 20  # bytes, in a row that is longer than that
LOOKED_AT = 50  # rows at the beginning, for the first cell of each column
SEPARATORS = (",", ";", "\t", "|")
BOM = b"\xef\xbb\xbf"
_OTHERS = (
    (b"PK\x03\x04", "a spreadsheet or a zip archive", "Save the sheet as CSV (UTF-8), or unpack it."),
    (b"\x1f\x8b", "compressed by gzip", "Unpack it: `gunzip FILE`."),
    (b"\x28\xb5\x2f\xfd", "compressed by zstd", "Unpack it: `zstd -d FILE`."),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet of the old kind", "Save the sheet as CSV (UTF-8)."),
    (b"%PDF", "a PDF", "Give the table it was made from."),
    (b"\xff\xfe", "text in UTF-16", "Save it as CSV in UTF-8."),
    (b"\xfe\xff", "text in UTF-16", "Save it as CSV in UTF-8."),
)


@dataclass(frozen=True, slots=True)
class CsvHead:
    """The first row that says anything. row: which one, from 1. begin: of the row below it, bytes from the start. first: by
    place, the first cell that holds anything.
    """

    separator: str
    headers: tuple[str, ...]
    row: int
    begin: int
    first: dict[int, object]


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is wrong with a row as such. place: of the cell, from 0. whole: it is no visit because of this."""

    code: str
    place: int
    what: str
    fix: str
    whole: bool


@dataclass(frozen=True, slots=True)
class CsvRow:
    """One row, as many cells as the head has. number: within the piece, from 1, blank lines counted."""

    number: int
    cells: list[str | None]
    trouble: Trouble | None = None


def head_of(path: Path) -> CsvHead:
    """What a table begins with. Raises InputProblems where it is none."""
    try:
        with path.open("rb") as file:
            start = file.read(4096)
            _refuse_others(path, start)
            file.seek(len(BOM) if start.startswith(BOM) else 0)
            row, begin, line = _first_line(path, file)
            separator = max(SEPARATORS, key=_told(line).count)
            named = _SEPARATOR.fullmatch(line)
            if named:  # a line for spreadsheets, above the head
                separator = named[1].decode()
                file.seek(begin)
                below, begin, line = _first_line(path, file)
                row += below
            found = next(_split(line, separator), [])
            headers = tuple(" ".join(cell.split()) for cell in found)
            file.seek(begin)
            under = file.readline(LONGEST_ROW)
            units = [cell.strip(" []()\r\n") for cell in next(_split(under, separator), [])]
            if _are_units(headers, units):
                row, begin = row + 1, begin + len(under)
                headers = tuple(
                    f"{a} [{b}]" if b and a[-1:] not in "])" else a
                    for a, b in zip_longest(headers, units[: len(headers)])
                )
            while len(headers) > 1 and not headers[-1]:
                headers = headers[:-1]  # separators at the end of a line
            first = _first_cells(path, file, begin, separator, len(headers))
    except OSError as error:
        what = f"this file cannot be read ({reason_of(error)})"
        raise refusal(what, "Check its name and your right to read it.", path) from None
    return CsvHead(separator, headers, row, begin, first)


def _are_units(headers: Sequence[str], cells: Sequence[str]) -> bool:
    """Whether a row below the head holds nothing but units, one of them that of a reading whose name stands above it."""
    known = any(
        is_unit(unit, ROUND[line].kind)
        for name, unit in zip(headers, cells, strict=False)
        for line in meant("readings", name)
    )
    return known and all(not unit or any(is_unit(unit, kind) for kind in BY_SPELLING) for unit in cells[: len(headers)])


def _refuse_others(path: Path, start: bytes) -> None:
    if not start.strip():
        raise refusal(
            "this file is empty", "A table has a head with the names of its columns, and rows below it.", path
        )
    for mark, what, fix in _OTHERS:
        if start.startswith(mark):
            raise refusal(f"this file is {what}, no CSV", fix, path)
    if b"\0" in start.partition(b"\n")[0]:
        raise refusal("this file is no text", "Save the table as CSV in UTF-8.", path)


_SEPARATOR = re.compile(rb"sep=([,;\t|])\s*", re.I)


def _first_line(path: Path, file: BinaryIO) -> tuple[int, int, bytes]:
    """Which row the head is, where the row below it begins, and the head. Raises InputProblems."""
    line, row, at = b"", 0, 0
    while not line.strip(b" \t\r\n,;|"):
        row, at = row + 1, file.tell()
        line = file.readline(LONGEST_ROW)
        if not line:
            raise refusal(
                "this file holds no head", "A table has a head with the names of its columns, and rows below it.", path
            )
    length = next(pieces(file, at, file.seek(0, 2), ",", 1)).length
    if length > LONGEST_ROW:
        raise refusal("its first row has more than 16 MB: this is no table", "Check that this is the right file.", path)
    file.seek(at)
    line = file.read(length)
    if b"\r" in line.rstrip(b"\r\n"):
        fix = "Save it again with ordinary line ends (CSV, UTF-8)."
        raise refusal("the lines of this file end as they did on computers of old", fix, path)
    return row, at + length, line


def _first_cells(path: Path, file: BinaryIO, begin: int, separator: str, count: int) -> dict[int, object]:
    found: dict[int, object] = {}
    end = file.seek(0, 2)
    piece = next(pieces(file, begin, end, separator, 1 << 16), None)
    if piece is not None and not piece.long:
        for row, _ in zip(rows_in(path, piece, separator, count), range(LOOKED_AT), strict=False):
            if row.trouble is None:
                found = {i: cell for i, cell in enumerate(row.cells) if cell and cell.strip()} | found
    return found


def _told(data: bytes) -> str:
    """As UTF-8; what is none stays as it was, as signs of its own (see `_mended`)."""
    return data.decode("utf-8", "surrogateescape")


def _mended(cell: str) -> str:
    """A cell that is no UTF-8 is read as Western Windows wrote it."""
    return cell.encode("utf-8", "surrogateescape").decode("cp1252", "replace") if _ALIEN.search(cell) else cell


_ALIEN = re.compile("[\udc80-\udcff]")

# -- pieces ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Piece:
    """Some whole rows of a file: bytes. long: one row of more than LONGEST_ROW."""

    at: int
    length: int
    long: bool = False


def pieces(file: BinaryIO, begin: int, end: int, separator: str, size: int = PIECE) -> Iterator[Piece]:
    """All rows between two ends of rows, in their order, each piece of about this size."""
    at = begin
    while at < end:
        file.seek(at)
        data = file.read(min(size, end - at))
        if not data:  # it became shorter meanwhile
            return
        data += file.readline(LONGEST_ROW + 1)
        if len(data) - (data.rfind(b"\n", 0, -1) + 1) > LONGEST_ROW:
            last = data.rfind(b"\n", 0, -1) + 1
            if last:
                yield Piece(at, last)
                at += last
            file.seek(at)
            piece = Piece(at, _long_line(file), long=True)
        else:
            piece = Piece(at, _with_open_cell(file, data, separator.encode()))
        yield piece
        at += piece.length


def _long_line(file: BinaryIO) -> int:
    length = 0
    while block := file.readline(PIECE):
        length += len(block)
        if block.endswith(b"\n"):
            break
    return length


def _with_open_cell(file: BinaryIO, data: bytes, mark: bytes) -> int:
    """The length of these rows, with the rest of a quoted cell that goes on over the last line end."""
    length = len(data)
    opened = _open_quote(data, mark)
    if opened is None:
        return length
    rest = bytearray(data[opened:])  # grows in place, and is looked through only where a quote ends something
    while opened + len(rest) <= length + LONGEST_ROW and (line := file.readline(LONGEST_ROW)):
        rest += line
        if b'"' in line and _ENDING.search(line):
            again = _open_quote(rest, mark)
            if again is None:
                return opened + len(rest)
            opened, rest = opened + again, rest[again:]
    return max(length, opened + (rest.find(b"\n") + 1 or len(rest)))  # a sign like any other


_ENDING = re.compile(b'(?<!")"(?:"")*(?!")')  # two are a sign of the cell


def _open_quote(data: bytes | bytearray, mark: bytes) -> int | None:
    """Where the quoted cell begins that is still open at the end; None where none is. data: whole rows but for that."""
    at = 0
    if b'"' not in data:
        return None
    opening, ends = re.compile(b"(?:^|[\n" + re.escape(mark) + b'])"'), (mark, b"\r", b"\n", b"")
    while match := opening.search(data, at):
        quote = data.find(b'"', match.end())
        while quote >= 0 and data[quote + 1 : quote + 2] == b'"':
            quote = data.find(b'"', quote + 2)
        if quote < 0:
            return match.end() - 1
        at = quote + 1 if data[quote + 1 : quote + 2] in ends else match.end()
    return None


# -- rows --------------------------------------------------------------------------------------------------------------


def rows_in(path: Path, piece: Piece, separator: str, count: int) -> Iterator[CsvRow]:
    """The rows of one piece. count: cells of the head. Raises OSError."""
    with path.open("rb") as file:
        file.seek(piece.at)
        if piece.long:
            yield _long_row(file, piece.length, separator, count)
            return
        data = file.read(piece.length)
    for number, found in enumerate(_split(data, separator), 1):
        if len(found) == 1 and not found[0].strip() and count > 1:
            continue  # a blank line
        yield _row(number, [cell or None for cell in found], count)


def _row(number: int, cells: list[str | None], count: int, trouble: Trouble | None = None) -> CsvRow:
    while len(cells) > count and cells[-1] is None:
        cells.pop()  # separators at the end of a line
    if len(cells) != count:
        what = f"this row has {len(cells)} cells, and the head has {count}"
        fix = "Look for a separator within a cell (put the cell in quotes), or a line that was cut off."
        trouble = Trouble("row-length", min(len(cells), count), what, fix, whole=True)
        cells = [*cells, *[None] * count][:count]
    return CsvRow(number, cells, trouble)


@cache
def _cell(separator: str) -> re.Pattern[str]:
    mark = re.escape(separator)
    return re.compile(rf'(?:"([^"]*+(?:""[^"]*+)*+)"(?=[{mark}\r\n]|\Z)|([^{mark}\n]*+))({mark}|\r?\n|\r\Z|\Z)')


def _split(data: bytes, separator: str) -> Iterator[list[str]]:
    """The cells of each row."""
    text = _told(data)
    if '"' not in text:
        for line in text.removesuffix("\n").split("\n"):
            yield [_mended(cell) for cell in line.removesuffix("\r").split(separator)]
        return
    row: list[str] = []
    for match in _cell(separator).finditer(text):
        if match.start() == len(text) and not row and text.endswith("\n"):
            return
        quoted, bare, end = match.groups()
        row.append(_mended(quoted.replace('""', '"') if quoted is not None else bare.removesuffix("\r")))
        if end != separator:
            yield row
            row = []
            if match.end() == len(text):
                return


def _long_row(file: BinaryIO, length: int, separator: str, count: int) -> CsvRow:
    """A row of more than LONGEST_ROW, read block by block: what a cell holds beyond LONGEST_CELL is not kept."""
    cells: list[str] = []
    mark, cell, long, quoted, left = separator.encode(), bytearray(), -1, False, length
    fresh = True  # at the beginning of a cell
    while left and len(cells) <= 2 * count:
        block = file.read(min(PIECE, left))
        left -= len(block)
        if not block:
            break
        at = 0
        while at < len(block):
            if fresh and block[at : at + 1] == b'"':
                quoted, at = True, at + 1
            fresh = False
            stop = block.find(b'"' if quoted else mark, at)
            end = len(block) if stop < 0 else stop
            if len(cell) <= LONGEST_CELL:
                cell += block[at : min(end, at + LONGEST_CELL + 1)]
            at = end
            if stop >= 0 and quoted:
                at, quoted = at + 1, block[at + 1 : at + 2] not in (mark, b"\r", b"\n", b"")
            elif stop >= 0:
                long = len(cells) if len(cell) > LONGEST_CELL else long
                cells.append("" if len(cell) > LONGEST_CELL else _mended(_told(bytes(cell))))
                cell, at, fresh = bytearray(), at + 1, True
    long = len(cells) if len(cell) > LONGEST_CELL else long
    cells.append("" if len(cell) > LONGEST_CELL else _mended(_told(bytes(cell))).rstrip("\r\n"))
    what = f"a cell of this row, which has {length / 1e6:,.0f} MB, holds more than 1 MB and is not kept"
    trouble = Trouble("cell-too-long", max(long, 0), what, "Check where it comes from.", whole=False)
    return _row(1, [each or None for each in cells], count, trouble)
