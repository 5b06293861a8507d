"""Logs as a table: a row for each stretch that was examined, one for a log without any; each log is a chunk of the work."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose import yamlfile
from diagnose.batch import arrow
from diagnose.batch.columns import IDENTITY, Layout
from diagnose.batch.logs.examining import examine_log
from diagnose.batch.logs.model import ExaminedStretch
from diagnose.batch.logs.reading import content_of, machine_beside, read_log
from diagnose.batch.logs.stamps import day_of
from diagnose.batch.logs.stamps import shown as stamp
from diagnose.batch.rows import Asked, Cell, Unread, answer_columns, answer_of, is_number, joined, not_read, unread
from diagnose.batch.work import FILE, Chunk, Done, Note, Setup, Source, from_answers
from diagnose.files import YAML_ENDINGS
from diagnose.rulebook import Rulebook, digest_of
from diagnose.shipped import VERSION
from diagnose.visit import Machine, Visit
from diagnose.yamlfile import InputProblems, Problem, printable

ENDINGS = (".csv", ".tsv")
PASSED = (FILE, "until", "stretch")
"""Columns beside the answer: the log, when the stretch ends (it begins at `date`), and whether it is steady or hunts."""


@dataclass(frozen=True, slots=True)
class LogsPlan:
    """Every log, each with the visit file that says what its machine is."""

    setup: Setup
    logs: tuple[tuple[str, str, str], ...]  # path, shown, visit file or nothing
    mark: str
    ignored: int

    @property
    def weight(self) -> int:
        """Logs."""
        return len(self.logs)

    def chunks(self) -> Iterator[Chunk]:
        """In their order."""
        for number, (path, shown, machine) in enumerate(self.logs):
            yield Chunk(number, Source("log", path, shown, 0), 1, files=((path, shown), (machine, machine)))


def plan_of_logs(place: str, machine: str | None, book: Rulebook, asked: Asked, form: arrow.Form) -> LogsPlan:
    """A log, or all logs of a folder. machine: a visit file for all of them. Raises InputProblems where there is none."""
    path = Path(place)
    if not path.exists():
        raise InputProblems(
            [Problem(printable(place, 200), 0, 0, "there is no such file or folder", "Check the name.")]
        )
    every = sorted(each for each in path.rglob("*") if each.is_file()) if path.is_dir() else [path]
    logs = [each for each in every if each is path or each.suffix.lower() in ENDINGS]
    if not logs:
        raise InputProblems(
            [Problem(printable(place, 200), 0, 0, "no log lies in this folder", "Logs end in .csv or .tsv.")]
        )
    named = [(str(each), each.relative_to(path).as_posix() if path.is_dir() else each.name) for each in logs]
    found = tuple((log, shown, machine or machine_beside(log) or "") for log, shown in named)
    names = [(name, is_number(name)) for name in answer_columns(book, asked)]
    schema = arrow.schema_of(IDENTITY, [(name, arrow.TEXT) for name in PASSED], names)
    files = sorted({each for log, _, beside in found for each in (log, beside) if each})
    stats = [(each, stat.st_size, stat.st_mtime_ns) for each in files for stat in (Path(each).stat(),)]
    told = [VERSION, digest_of(book), str(schema), form, found, stats]
    mark = hashlib.sha256(json.dumps(told).encode()).hexdigest()
    ignored = sum(each.suffix.lower() not in (*ENDINGS, *YAML_ENDINGS) for each in every if each is not path)
    return LogsPlan(Setup(book, (Layout((), ()),), PASSED, schema, asked, form), found, mark, ignored)


def work_log(chunk: Chunk, setup: Setup) -> Done:
    """Reads one log and examines its stretches. One that cannot be read, or has none, is a row that says so."""
    (path, shown), (machine, _) = chunk.files
    who: dict[str, str] = {}
    notes: list[Note] = []
    try:
        document = yamlfile.read(machine) if machine else None
        log = examine_log(read_log(*content_of(path), setup.book), setup.book, document)
    except InputProblems as error:
        row = unread(error.problems)
        notes = [Note(0, 0, row.codes[0], f"{one.file}: {one.what}", one.fix) for one in row.problems]
        rows: list[_Row] = [(row, not_read(row, ()), (shown, None, None))]
    else:
        codes = tuple(dict.fromkeys(note.code for note in log.notes))
        who = {"machine": log.machine.name} if log.machine.name != Machine().name else {}
        dangers = joined(danger.danger.code for danger in log.dangers)  # of every moment, whatever a stretch shows
        rows = [_row(each, shown, setup.asked, codes) for each in log.stretches]
        if not rows:
            rows = [(Unread(codes, ()), not_read(Unread(codes, ()), ()), (shown, None, None))]
        rows = [(visit, {**cells, "dangers": dangers}, told) for visit, cells, told in rows]
    found = {name: [cells.get(name) for _, cells, _ in rows] for name in answer_columns(setup.book, setup.asked)}
    beside = {name: [told[place] for _, _, told in rows] for place, name in enumerate(PASSED)}
    return from_answers([visit for visit, _, _ in rows], found, beside, setup, [who] * len(rows), notes)


_Row = tuple[Visit | Unread, dict[str, Cell], tuple[str | None, ...]]


def _row(each: ExaminedStretch, shown: str, asked: Asked, codes: Sequence[str]) -> _Row:
    until = stamp(each.end, date=bool(day_of(each.end)))
    return each.diagnosis.visit, answer_of(each.diagnosis, asked, codes), (shown, until, each.stretch.kind)
