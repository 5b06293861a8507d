"""One chunk of the work: rows in, their answers out. It shares nothing with any other, so it runs anywhere, in any order."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from diagnose.batch import arrow
from diagnose.batch.columns import IDENTITY, Layout
from diagnose.batch.csvfile import Piece, Row, Trouble, rows_in
from diagnose.batch.rows import ANSWER, Asked, Cell, Unread, answers, identity, unread, visit_of
from diagnose.diagnosis.findings import seen_problems
from diagnose.diagnosis.story import Look, Story, as_data, story_from
from diagnose.report.history import Changed
from diagnose.rulebook import Rulebook
from diagnose.visit import Machine, Visit, VisitError, read_visit
from diagnose.yamlfile import InputProblems, Problem

if TYPE_CHECKING:
    from diagnose.store import Entry

TOLD = 5
"""Sentences that a chunk brings back; the codes stand in every row."""
FILE = "file"
"""The column that says which visit file a row comes from."""


@dataclass(frozen=True, slots=True)
class Source:
    """One file, or some visit files. shown: its name in messages. layout: the place of its layout in the set-up. count: cells
    of the head. constants: what the folders of a partitioned data set say of every row.
    """

    kind: Literal["csv", "parquet", "visits", "stored", "table", "log"]
    place: str
    shown: str
    layout: int
    separator: str = ","
    count: int = 0
    constants: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """A visit of a store, and what was last said of it."""

    number: int
    id: str
    machine: str
    date: str
    text: str
    before: Story | None


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of a source. group, start, rows: of a Parquet file; piece: of a CSV; files: visit files, by the name they are
    told by. weight: of the whole work, in the source's own measure.
    """

    number: int
    source: Source
    weight: int
    group: int = 0
    start: int = 0
    rows: int = 0
    first: int = 1
    piece: Piece | None = None
    files: tuple[tuple[str, str], ...] = ()
    kept: tuple[Kept, ...] = ()


@dataclass(frozen=True, slots=True)
class Setup:
    """What every chunk needs, sent to each worker once. passed: name of each column that is passed on, in the order of the
    output; schema: of the output. digest: of the book, where results are kept.
    """

    book: Rulebook
    layouts: tuple[Layout, ...]
    passed: tuple[str, ...]
    schema: arrow.ArrowSchema
    asked: Asked
    form: arrow.Form
    digest: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """A sentence about a row: where it stands, what is wrong, how to mend it. Of a CSV the row counts from
    the chunk's first.
    """

    row: int
    column: int
    code: str
    what: str
    fix: str


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a chunk. numbered: rows of the source it went over, blank lines among them. statuses: how many rows of each;
    notes: the first few. marks: by column, the first row with a decimal point and the first with a comma. table: what was
    found; payload: the same as it goes into the output. entries: results to keep, by the number of the visit; changed: of kept
    visits, those that are answered otherwise.
    """

    rows: int
    numbered: int
    statuses: Mapping[str, int]
    unread: int = 0
    notes: tuple[Note, ...] = ()
    marks: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    payload: bytes = b""
    table: arrow.ArrowTable | None = None
    entries: tuple[tuple[int, Entry], ...] = ()
    changed: tuple[Changed, ...] = ()

    def head(self) -> str:
        """All but the payload, as one line."""
        return json.dumps(
            {
                "rows": self.rows,
                "numbered": self.numbered,
                "statuses": dict(sorted(self.statuses.items())),
                "unread": self.unread,
                "notes": [[n.row, n.column, n.code, n.what, n.fix] for n in self.notes],
                "marks": {name: dict(sorted(rows.items())) for name, rows in sorted(self.marks.items())},
                "changed": [
                    [each.machine, each.id, each.date, each.why, *map(_story, (each.before, each.now))]
                    for each in self.changed
                ],
            }
        )


def done_from(head: str) -> Done:
    """What `head` wrote. Raises ValueError, KeyError, TypeError where it did not."""
    data = json.loads(head)
    return Done(
        data["rows"],
        data["numbered"],
        data["statuses"],
        data["unread"],
        tuple(Note(*note) for note in data["notes"]),
        data["marks"],
        changed=tuple(_changed(*each) for each in data["changed"]),
    )


def _story(look: Look | None) -> dict[str, Any] | None:
    return None if look is None else as_data(look.story)


def _changed(
    machine: str, id: str, date: str, why: str, before: Mapping[str, Any] | None, now: Mapping[str, Any] | None
) -> Changed:
    then, today = (None if story is None else Look(id, date, story_from(story)) for story in (before, now))
    return Changed(then, today, id, date, why, machine)


def work(chunk: Chunk, setup: Setup) -> Done:
    """Reads the rows of a chunk and examines them. Whatever is wrong with a row is said of that row. Raises InputProblems where
    a file has gone.
    """
    kinds = {"csv": _csv, "parquet": _parquet, "visits": _visit_files, "stored": _stored, "log": _log}
    try:
        done = kinds[chunk.source.kind](chunk, setup)
    except OSError as error:
        what = f"this file cannot be read any more ({(error.strerror or 'no reason given').lower()})"
        fix = "What was done is kept: --resume goes on with it."
        raise InputProblems([Problem(chunk.source.shown, 0, 0, what, fix)]) from None
    return replace(done, payload=arrow.encoded(done.table, setup.form), table=None)


def _csv(chunk: Chunk, setup: Setup) -> Done:
    source = chunk.source
    assert chunk.piece is not None
    found: list[Row] = list(rows_in(Path(source.place), chunk.piece, source.separator, source.count))
    cells = [row.cells for row in found]
    columns = [list(each) for each in zip(*cells, strict=True)] or [[] for _ in range(source.count)]
    table = arrow.text_table([str(i) for i in range(source.count)], columns)
    troubles = {index: row.trouble for index, row in enumerate(found) if row.trouble is not None}
    numbered = max((row.number for row in found), default=0)
    return examined(
        arrow.with_constants(table, source.constants), chunk, setup, [row.number for row in found], troubles, numbered
    )


def _parquet(chunk: Chunk, setup: Setup) -> Done:
    source = chunk.source
    numbers = range(chunk.first, chunk.first + chunk.rows)
    try:
        table, failed = arrow.read_slice(source.place, chunk.group, chunk.start, chunk.rows)
    except InputProblems as error:  # it was readable when the run began
        first = error.problems[0]
        trouble = Trouble("file-not-read", 0, first.what, first.fix, whole=True)
        table, failed = (
            arrow.text_table([str(i) for i in range(source.count)], [[None] * chunk.rows] * source.count),
            {},
        )
        return examined(table, chunk, setup, numbers, dict.fromkeys(range(chunk.rows), trouble), chunk.rows)
    table = arrow.with_constants(table, source.constants)
    troubles: dict[int, Trouble] = {}
    understood = {column.place for column in setup.layouts[source.layout].columns}
    for place, why in sorted(failed.items(), key=lambda each: each[0] in understood):
        what, fix = f"this column cannot be read here ({why})", "Write the file again."
        trouble = Trouble("column-not-read", place, what, fix, whole=place in understood)
        troubles.update(dict.fromkeys(range(chunk.rows), trouble))
    for place in range(source.count):
        table, rows = arrow.too_long(table, place)
        what = "this cell holds more than 16 MB and is not kept"
        trouble = Trouble("cell-too-long", place, what, "Check where it comes from.", whole=place in understood)
        troubles.update(dict.fromkeys(rows, trouble))
    return examined(table, chunk, setup, numbers, troubles, chunk.rows)


def examined(
    table: arrow.ArrowTable,
    chunk: Chunk,
    setup: Setup,
    numbers: Sequence[int],
    troubles: Mapping[int, Trouble],
    numbered: int,
) -> Done:
    """The answers for the rows of a table. numbers: of each row, as messages call it; troubles: by index, what was found
    while it was read.
    """
    layout, shown = setup.layouts[chunk.source.layout], chunk.source.shown
    cells = {column.place: arrow.cells_of(table, column.place) for column in layout.columns}
    width = table.num_columns
    visits: list[Visit | Unread] = []
    for index in range(table.num_rows):
        trouble = troubles.get(index)
        if trouble is not None and trouble.whole:
            visits.append(Unread((trouble.code,), (_problem(shown, numbers[index], trouble),)))
            continue
        row: list[object] = [None] * width
        for place, column_cells in cells.items():
            row[place] = column_cells[index]
        visits.append(visit_of(row, layout, numbers[index], shown, setup.book))
    notes = [note for visit in visits if isinstance(visit, Unread) for note in _notes(visit)]
    notes += [_note(t.code, _problem(shown, numbers[index], t)) for index, t in troubles.items() if not t.whole]
    found = answers(visits, setup.book, setup.asked, layout.codes)
    for index, trouble in troubles.items():
        if not trouble.whole:
            found["problems"][index] = ",".join(filter(None, (str(found["problems"][index] or ""), trouble.code)))
    said = {name: layout.place_of(name) for name in IDENTITY}
    told = {name: [None] * table.num_rows if p is None else arrow.cells_of(table, p) for name, p in said.items()}
    names = [identity(visit, {name: told[name][i] for name in IDENTITY}) for i, visit in enumerate(visits)]
    passed = {name: place for place, name in layout.passed}
    columns: list[Any] = [[row[name] for row in names] for name in IDENTITY]
    columns += [table.column(passed[name]) if name in passed else [None] * table.num_rows for name in setup.passed]
    columns += [found[name] for name in found]
    out = arrow.assembled(setup.schema, columns)
    return _done(out, found, visits, notes, numbered, _marks(cells, layout, numbers))


def _stored(chunk: Chunk, setup: Setup) -> Done:
    from diagnose.batch.stored import work_stored  # SQLAlchemy, which no table needs

    return work_stored(chunk, setup)


def _log(chunk: Chunk, setup: Setup) -> Done:
    from diagnose.batch.logs.tabling import work_log

    return work_log(chunk, setup)


def _visit_files(chunk: Chunk, setup: Setup) -> Done:
    visits: list[Visit | Unread] = []
    notes: list[Note] = []
    for place, _ in chunk.files:
        try:
            visit = read_visit(place)
            problems = seen_problems(visit, setup.book)
        except VisitError as error:
            problems = list(error.problems)
        if problems:
            row = unread(problems)
            visits.append(row)
            notes += [
                Note(one.line, one.column, "not-read", f"{one.file}: {one.what}", one.fix) for one in row.problems
            ]
        else:
            visits.append(visit)
    return from_visits(visits, {FILE: [name for _, name in chunk.files]}, setup, [{}] * len(visits), notes)


def from_visits(
    visits: Sequence[Visit | Unread],
    beside: Mapping[str, Sequence[str | None]],
    setup: Setup,
    who: Sequence[Mapping[str, str]],
    notes: Sequence[Note] = (),
) -> Done:
    """The same for visits that stand in no table. beside: columns that are passed on; who: what is known of each already."""
    return from_answers(visits, answers(visits, setup.book, setup.asked), beside, setup, who, notes)


def from_answers(
    visits: Sequence[Visit | Unread],
    found: Mapping[str, Sequence[Cell]],
    beside: Mapping[str, Sequence[str | None]],
    setup: Setup,
    who: Sequence[Mapping[str, str]],
    notes: Sequence[Note] = (),
) -> Done:
    """The same where their answers are there already, by column."""
    named = [identity(visit, {**_identity(visit), **said}) for visit, said in zip(visits, who, strict=True)]
    columns: list[Any] = [[row[name] for row in named] for name in IDENTITY]
    columns += [beside.get(name, [None] * len(visits)) for name in setup.passed]
    columns += [found[name] for name in found]
    return _done(arrow.assembled(setup.schema, columns), found, visits, notes, 0, {})


def _identity(visit: Visit | Unread) -> dict[str, object]:
    if isinstance(visit, Unread):
        return dict.fromkeys(IDENTITY)
    named = visit.machine.name if visit.machine.name != Machine().name else None
    return {**dict.fromkeys(IDENTITY), "machine": named, "date": next(iter(visit.remarks.get("date", ())), None)}


def _marks(cells: Mapping[int, Sequence[object]], layout: Layout, numbers: Sequence[int]) -> dict[str, dict[str, int]]:
    """By column, the first row with a decimal point and the first with a decimal comma."""
    found: dict[str, dict[str, int]] = {}
    for column in layout.columns:
        if column.field is None:
            continue
        for number, cell in zip(numbers, cells[column.place], strict=True):
            if isinstance(cell, str) and (match := _DECIMAL.match(cell)):
                found.setdefault(column.header, {}).setdefault(match[1], number)
    return found


_DECIMAL = re.compile(r"\s*[+-]?[0-9]+([.,])[0-9]{1,2}(?![0-9.,])")


def _done(
    out: arrow.ArrowTable,
    found: Mapping[str, Sequence[object]],
    visits: Sequence[Visit | Unread],
    notes: Sequence[Note],
    numbered: int,
    marks: Mapping[str, Mapping[str, int]],
) -> Done:
    return Done(
        rows=len(visits),
        numbered=numbered,
        statuses=Counter(str(status) for status in found[ANSWER[0]]),
        unread=sum(isinstance(visit, Unread) for visit in visits),
        notes=tuple(notes[:TOLD]),
        marks=marks,
        table=out,
    )


def _problem(shown: str, number: int, trouble: Trouble) -> Problem:
    return Problem(shown, number, trouble.place + 1, trouble.what, trouble.fix)


def _notes(row: Unread) -> list[Note]:
    return [_note(row.codes[0], problem) for problem in row.problems]


def _note(code: str, problem: Problem) -> Note:
    return Note(problem.line, problem.column, code, problem.what, problem.fix)
