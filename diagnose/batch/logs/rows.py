"""The rows of a log file: its bytes as text, what stands between the cells, and every row that holds any."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.batch.logs.heads import head_of
from diagnose.rulebook import Rulebook
from diagnose.visit.reason import Reason
from diagnose.yamlfile import InputProblems, Problem
from diagnose.yamlfile.content import bytes_of, name_of
from diagnose.yamlfile.files import YAML_ENDINGS

LARGEST = 64_000_000  # bytes: a week of records each second; 25 times as much is needed in memory
MOST_COLUMNS = 2000
LONGEST_ROW = 100_000  # characters
PREAMBLE = 60  # lines of a logger's own before the head


def content_of(path: str) -> tuple[bytes, str]:
    """The bytes of a log file (`-`: standard input), and its name in messages. Raises InputProblems."""
    return bytes_of(path, LARGEST), name_of(path)


def machine_beside(path: str) -> str | None:
    """The visit file that says what the machine of a log is: of the same name, beside it."""
    found = (Path(path).with_suffix(ending) for ending in YAML_ENDINGS)
    return next((str(each) for each in found if each.is_file()), None)


def decoded(content: bytes, name: str) -> tuple[str, list[Reason]]:
    """The text, and what is odd about it. Raises InputProblems."""
    if len(content) > LARGEST:
        raise bad(name, 0, f"the log is larger than {LARGEST // 1_000_000} MB", "Split it by days.")
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return content.decode("utf-16", "replace"), []
    if b"\0" in content[:4096]:
        raise bad(name, 0, "this is no text: it holds bytes that no log has", "Export the log as CSV, in UTF-8.")
    try:
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace"), [Reason("log-not-utf-8")]


def bad(name: str, line: int, what: str, fix: str) -> InputProblems:
    """One problem with the log."""
    return InputProblems([Problem(name, line, 0, what, fix)])


def delimiter_of(text: str, name: str, book: Rulebook) -> str:
    """The sign between the cells: the one by which a line at the beginning names most columns."""
    beginning = [line for line in text[:200_000].splitlines()[: PREAMBLE + 5] if len(line) <= LONGEST_ROW]

    def named(sign: str) -> int:
        tried = (cells for line in beginning if len(cells := cells_of(line, sign)) > 1 and not has_figures(cells))
        return max((len(head_of(cells[:MOST_COLUMNS], name, 0, book).columns) for cells in tried), default=0)

    return max(",;\t|", key=named)


def rows_of(text: str, name: str, delimiter: str, notes: list[Reason]) -> Iterator[tuple[int, list[str]]]:
    """Every row that is not empty, with its line."""
    for number, line in enumerate(io.StringIO(text, None), 1):
        if len(line) > LONGEST_ROW:
            notes.append(Reason("log-long-row", {"line": number}))
            continue
        cells = cells_of(line.rstrip("\r\n"), delimiter)
        if len(cells) > MOST_COLUMNS:
            what = f"this row has {len(cells):,} columns, more than {MOST_COLUMNS:,}"
            raise bad(name, number, what, "Export only the columns of one machine.")
        if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
            yield number, cells


def cells_of(line: str, delimiter: str) -> list[str]:
    """A row's cells; each row by itself, so that a quotation mark that is never closed spoils one row and not the log."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def has_figures(cells: Sequence[str]) -> bool:
    """Whether a row holds figures: a head does not."""
    return any(cell.strip()[:1] in "+-.0123456789" for cell in cells[1:] if cell.strip())
