"""What is done with one chunk: rows in, answers out. It shares nothing with any other, so it runs anywhere, in any order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from diagnose.batch import arrow, output, parquet
from diagnose.batch.answers import OutcomePart, SaidOfRows, answers, quantity_kinds
from diagnose.batch.chunk import Chunk, Done, Setup
from diagnose.batch.csvfile import Trouble, rows_in
from diagnose.batch.evaluator import examine_columns, examine_vectors
from diagnose.batch.headers import IDENTITY, Layout, Unread, unread, visit_of
from diagnose.batch.vectors import Vectors, vectors_of
from diagnose.diagnosis.findings import seen_problems
from diagnose.visit import Machine, Visit, VisitError, read_visit
from diagnose.yamlfile import Problem, reason_of, refusal

TOLD = 5
"""Sentences that a chunk brings back; the codes stand in every row."""
FILE = "file"
"""The column that says which visit file a row comes from."""
AnsweredChunk = tuple[arrow.ArrowTable, Done]
_MARKS = {".": r"^\s*[+-]?[0-9]+\.[0-9]+\s*$", ",": r"^\s*[+-]?[0-9]+,[0-9]{1,2}\s*$"}


def work(chunk: Chunk, setup: Setup) -> Done:
    """Reads the rows of a chunk and examines them. Whatever is wrong with a row is said of that row. Raises InputProblems where
    a file has gone.
    """
    kinds: Mapping[str, Callable[[Chunk, Setup], AnsweredChunk]] = {
        "csv": _csv, "parquet": _parquet, "visits": _visit_files, "stored": _stored, "log": _log
    }  # fmt: skip
    try:
        table, done = kinds[chunk.source.kind](chunk, setup)
    except OSError as error:
        what = f"this file cannot be read any more ({reason_of(error)})"
        fix = "What was done is kept: --resume goes on with it."
        raise refusal(what, fix, chunk.source.shown) from None
    return replace(done, payload=output.encoded(table, setup.form))


def _csv(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    source = chunk.source
    assert chunk.piece is not None
    found = list(rows_in(Path(source.place), chunk.piece, source.separator, source.count))
    columns = [list(each) for each in zip(*(row.cells for row in found), strict=True)] or [[]] * source.count
    table = arrow.with_constants(arrow.text_table(columns), source.constants)
    troubles = {index: row.trouble for index, row in enumerate(found) if row.trouble is not None}
    return examined(table, chunk, setup, [row.number for row in found], troubles)


def _parquet(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    source = chunk.source
    table, failed = parquet.read_slice(source.place, chunk.group, chunk.start, chunk.rows)
    table = arrow.with_constants(table, source.constants)
    understood = {column.place for column in setup.layouts[source.layout].columns}
    troubles: dict[int, Trouble] = {}
    for place, why in sorted(failed.items(), key=lambda each: each[0] in understood):
        what, fix = f"this column cannot be read here ({why})", "Write the file again."
        trouble = Trouble("column-not-read", place, what, fix, whole=place in understood)
        troubles.update(dict.fromkeys(range(chunk.rows), trouble))
    for place in range(source.count):
        table, rows = arrow.too_long(table, place)
        what = "this cell holds more than 16 MB and is not kept"
        trouble = Trouble("cell-too-long", place, what, "Check where it comes from.", whole=place in understood)
        troubles.update(dict.fromkeys(rows, trouble))
    return examined(table, chunk, setup, range(chunk.first, chunk.first + chunk.rows), troubles)


def examined(
    table: arrow.ArrowTable, chunk: Chunk, setup: Setup, numbers: Sequence[int], troubles: Mapping[int, Trouble]
) -> AnsweredChunk:
    """The answers for the rows of a table. numbers: of each row, as messages call it; troubles: by index, what was found
    while it was read.
    """
    table = arrow.without_views(table)
    n, layout, shown = table.num_rows, setup.layouts[chunk.source.layout], chunk.source.shown
    apart = np.zeros(n, bool)
    apart[[index for index, trouble in troubles.items() if trouble.whole]] = True
    together = vectors_of(table, layout, setup.book, apart)
    left = np.setdiff1d(np.flatnonzero(~apart), together.rows, assume_unique=True)
    visits, bad = _one_by_one(table, left, layout, numbers, shown, setup)
    parts = [*_together(together, setup), *_of_visits(visits, setup)]
    said = [(np.array([index]), code) for index, row in bad.items() for code in row.codes]
    said += [(np.array([index]), trouble.code) for index, trouble in troubles.items()]
    said += [(np.arange(n), code) for code in layout.codes]
    passed = {name: place for place, name in layout.passed}
    beside = [table.column(passed[name]) if name in passed else [None] * n for name in setup.passed]
    notes = [problem for row in bad.values() for problem in row.problems]
    notes += [Problem(shown, numbers[i], t.place + 1, t.what, t.fix) for i, t in troubles.items()]
    marks = _marks(table, layout, numbers)
    names = _names(table, layout, together, visits)
    return _done(
        n, parts, said, names, beside, setup, sorted(notes, key=lambda one: one.line), marks, max(numbers, default=0)
    )


def _one_by_one(
    table: arrow.ArrowTable, left: np.ndarray, layout: Layout, numbers: Sequence[int], shown: str, setup: Setup
) -> tuple[dict[int, Visit], dict[int, Unread]]:
    """What the reader of visit files makes of these rows, by their place in the table."""
    cells = arrow.some_cells(table, left, [column.place for column in layout.columns])
    visits: dict[int, Visit] = {}
    bad: dict[int, Unread] = {}
    for index, row in zip(left.tolist(), cells, strict=True):
        found = visit_of(row, layout, numbers[index], shown, setup.book)
        if isinstance(found, Unread):
            bad[index] = found
        else:
            visits[index] = found
    return visits, bad


def _together(vectors: Vectors, setup: Setup) -> list[OutcomePart]:
    """Rows of plain figures; those with a pressure whose mark was left out say so."""
    parts = []
    for which, notes in ((~vectors.as_gauge, ()), (vectors.as_gauge, ("taken-as-gauge",))):
        some = np.flatnonzero(which)
        if some.size:
            columns = {
                name: (column[0][some], column[1]) if isinstance(column, tuple) else column[some]
                for name, column in vectors.columns.items()
            }
            outcome = examine_vectors(
                columns,
                setup.book,
                units=vectors.units,
                absolute=vectors.absolute,
                notes=notes,
                quantities=quantity_kinds(setup.book),
            )
            parts.append((vectors.rows[some], outcome))
    return parts


def _of_visits(visits: Mapping[int, Visit], setup: Setup) -> list[OutcomePart]:
    return [(np.array(list(visits)), examine_columns(list(visits.values()), setup.book))] if visits else []


def _names(
    table: arrow.ArrowTable, layout: Layout, together: Vectors, visits: Mapping[int, Visit]
) -> dict[str, np.ndarray]:
    """What each row is called by; words that the trade writes in many ways as they are used here."""
    found = {name: arrow.texts_of(table, layout.place_of(name)) for name in IDENTITY}
    for name in IDENTITY[2:]:
        known = together.columns.get(name)
        if isinstance(known, tuple):
            said = known[0] >= 0
            found[name][together.rows[said]] = np.array(known[1], object)[known[0][said]]
    for index, visit in visits.items():
        _called(found, index, visit.machine)
    return found


def _called(names: Mapping[str, np.ndarray], index: int, machine: Machine) -> None:
    gas = machine.refrigerant.name if machine.refrigerant else None
    for name, word in (("kind", machine.words.get("kind")), ("refrigerant", gas), ("metering", machine.metering)):
        names[name][index] = word or names[name][index]


def _marks(table: arrow.ArrowTable, layout: Layout, numbers: Sequence[int]) -> dict[str, dict[str, int]]:
    """By column, the first row with a decimal point and the first with a decimal comma."""
    found: dict[str, dict[str, int]] = {}
    for column in layout.columns if table.num_rows else ():
        for mark, pattern in _MARKS.items():
            row = arrow.first_match(table, column.place, pattern) if column.field is not None else None
            if row is not None:
                found.setdefault(column.header, {})[mark] = numbers[row]
    return found


def _stored(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    from diagnose.batch.stored import work_stored  # SQLAlchemy, which no table needs

    return work_stored(chunk, setup)


def _log(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    from diagnose.batch.logs.tabling import work_log

    return work_log(chunk, setup)


def _visit_files(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    rows: list[Visit | Unread] = []
    for place, _ in chunk.files:
        try:
            visit = read_visit(place, setup.book.own)
            problems = seen_problems(visit, setup.book)
        except VisitError as error:
            problems = list(error.problems)
        rows.append(unread(problems) if problems else visit)
    return from_visits(rows, {FILE: [name for _, name in chunk.files]}, {}, setup)


def from_visits(
    rows: Sequence[Visit | Unread],
    beside: Mapping[str, Sequence[str | None]],
    called: Mapping[str, Sequence[str | None]],
    setup: Setup,
) -> AnsweredChunk:
    """The same for visits that stand in no table. beside: columns that are passed on; called: what is known of each already."""
    n = len(rows)
    visits = {index: row for index, row in enumerate(rows) if isinstance(row, Visit)}
    bad = {index: row for index, row in enumerate(rows) if isinstance(row, Unread)}
    names = {name: np.array(called.get(name, [None] * n), object) for name in IDENTITY}
    for index, visit in visits.items():
        machine = visit.machine
        own = machine.name if machine.name != Machine().name else None
        for name, word in (("machine", own), ("date", next(iter(visit.remarks.get("date", ())), None))):
            names[name][index] = names[name][index] or word
        _called(names, index, machine)
    said = [(np.array([index]), code) for index, row in bad.items() for code in row.codes]
    notes = [problem for row in bad.values() for problem in row.problems]
    others = [beside.get(name, [None] * n) for name in setup.passed]
    return _done(n, _of_visits(visits, setup), said, names, others, setup, notes)


def _done(
    n: int,
    parts: Sequence[OutcomePart],
    said: Sequence[SaidOfRows],
    names: Mapping[str, np.ndarray],
    beside: Sequence[Any],
    setup: Setup,
    notes: Sequence[Problem],
    marks: Mapping[str, Mapping[str, int]] | None = None,
    numbered: int = 0,
) -> AnsweredChunk:
    found = answers(n, parts, said, setup.book, setup.asked)
    table = output.assembled(setup.schema, [*(names[name] for name in IDENTITY), *beside, *found.values()])
    return table, Done(Counter(found["status"].to_pylist()), numbered, tuple(notes[:TOLD]), marks or {})
