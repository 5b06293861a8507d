"""One piece of the work, what every piece needs, and what came of one: values that travel between processes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from diagnose.batch import arrow, output
from diagnose.batch.answers import Asked
from diagnose.batch.csvfile import Piece
from diagnose.batch.headers import Layout
from diagnose.diagnosis.story import Look, Story, as_data, story_from
from diagnose.report.history import Changed
from diagnose.rulebook import Rulebook
from diagnose.yamlfile import Problem

if TYPE_CHECKING:
    from diagnose.store import VisitEntry


@dataclass(frozen=True, slots=True)
class ChunkSource:
    """One file, or some visit files. shown: its name in messages. layout: the place of its layout in the set-up. count: cells
    of the head. head: of a CSV, the row of it. constants: what the folders of a partitioned data set say of every row.
    """

    kind: Literal["csv", "parquet", "visits", "stored", "table", "log"]
    place: str
    shown: str
    layout: int
    separator: str = ","
    count: int = 0
    head: int = 1
    constants: tuple[str | None, ...] = ()


@dataclass(frozen=True, slots=True)
class StoredVisit:
    """A visit of a store, and what was last said of it."""

    number: int
    id: str
    machine: str
    date: str
    text: str
    before: Story | None


@dataclass(frozen=True, slots=True)
class Chunk:
    """Some rows of a source. group, start, rows: of a Parquet file, of which first is the first's number; piece: of a CSV;
    files: visit files, and the names they are told by. weight: of the whole work, in the source's own measure.
    """

    number: int
    source: ChunkSource
    weight: int
    group: int = 0
    start: int = 0
    rows: int = 0
    first: int = 1
    piece: Piece | None = None
    files: tuple[tuple[str, str], ...] = ()
    kept: tuple[StoredVisit, ...] = ()


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
    form: output.Form
    digest: str = ""


@dataclass(frozen=True, slots=True)
class ListedPlan:
    """All that is to be done, listed beforehand. mark: by which a run knows itself; ignored: how many files of other kinds."""

    setup: Setup
    listed: tuple[Chunk, ...]
    mark: str
    ignored: int = 0

    @property
    def weight(self) -> int:
        """Of all chunks."""
        return sum(chunk.weight for chunk in self.listed)

    def chunks(self) -> Iterator[Chunk]:
        """In their order."""
        return iter(self.listed)


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a chunk. numbered: rows of a CSV it went over, blank lines among them. statuses: how many rows of each.
    notes: the first few sentences about rows; of a CSV their row counts from the chunk's first. marks: by column, the first row
    with a decimal point and the first with a comma. payload: the answers as they go into the output. entries: results to keep,
    by the number of the visit; changed: of kept visits, those that are answered otherwise.
    """

    statuses: Mapping[str, int]
    numbered: int = 0
    notes: tuple[Problem, ...] = ()
    marks: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    changed: tuple[Changed, ...] = ()
    entries: tuple[tuple[int, VisitEntry], ...] = ()
    payload: bytes = b""

    @property
    def rows(self) -> int:
        """Of the output."""
        return sum(self.statuses.values())

    def head(self) -> str:
        """All that is kept of it but the payload, as one line."""
        notes = [note.to_dict() for note in self.notes]
        changed = [
            [each.machine, each.id, each.date, each.why, _story(each.before), _story(each.now)] for each in self.changed
        ]
        return json.dumps([self.statuses, self.numbered, notes, self.marks, changed], sort_keys=True)


def done_from(head: str, payload: bytes) -> Done:
    """What `head` wrote. Raises ValueError, KeyError, TypeError where it did not."""
    statuses, numbered, notes, marks, changed = json.loads(head)
    return Done(
        statuses,
        numbered,
        tuple(Problem(**note) for note in notes),
        marks,
        tuple(_changed(*each) for each in changed),
        payload=payload,
    )


def _story(look: Look | None) -> dict[str, Any] | None:
    return None if look is None else as_data(look.story)


def _changed(
    machine: str, id: str, date: str, why: str, before: Mapping[str, Any] | None, now: Mapping[str, Any] | None
) -> Changed:
    then, today = (None if story is None else Look(id, date, story_from(story)) for story in (before, now))
    return Changed(then, today, id, date, why, machine)
