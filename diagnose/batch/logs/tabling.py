"""Logs as a table: a row for each stretch that was examined, one for a log without any; each log is a chunk of the work."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from diagnose import yamlfile
from diagnose.batch import arrow, output
from diagnose.batch.answers import Asked, answer_columns, is_number
from diagnose.batch.chunk import Chunk, ChunkSource, ListedPlan, Setup
from diagnose.batch.headers import IDENTITY, Layout, Unread, unread
from diagnose.batch.logs.examining import examine_log
from diagnose.batch.logs.heads import content_of, machine_beside
from diagnose.batch.logs.reading import read_log
from diagnose.batch.logs.stamps import day_of
from diagnose.batch.logs.stamps import shown as stamp
from diagnose.batch.work import FILE, AnsweredChunk, from_visits
from diagnose.rulebook import Rulebook, digest_of
from diagnose.shipped import VERSION
from diagnose.visit import Machine, Visit
from diagnose.yamlfile import InputProblems, refusal
from diagnose.yamlfile.files import YAML_ENDINGS

ENDINGS = (".csv", ".tsv")
OF_THE_LOG, ABOUT = "dangers of the log", "about the log"
PASSED = (FILE, "until", "stretch", OF_THE_LOG, ABOUT)
"""Columns beside the answer: the log, when the stretch ends (it begins at `date`), whether it is steady or hunts, what was
dangerous at any moment of the log, and what is odd about it.
"""


def plan_of_logs(place: str, machine: str | None, book: Rulebook, asked: Asked, form: output.Form) -> ListedPlan:
    """A log, or all logs of a folder. machine: a visit file for all of them. Raises InputProblems where there is none."""
    path = Path(place)
    if machine:
        yamlfile.read(machine)  # raises
    if not path.exists():
        raise refusal("there is no such file or folder", "Check the name.", place)
    every = sorted(each for each in path.rglob("*") if each.is_file()) if path.is_dir() else [path]
    logs = [each for each in every if each is path or each.suffix.lower() in ENDINGS]
    if not logs:
        raise refusal("no log lies in this folder", "Logs end in .csv or .tsv.", place)
    named = [(str(each), each.relative_to(path).as_posix() if path.is_dir() else each.name) for each in logs]
    found = tuple((log, shown, machine or machine_beside(log) or "") for log, shown in named)
    names = [(name, is_number(name)) for name in answer_columns(book, asked)]
    schema = output.schema_of(IDENTITY, [(name, arrow.TEXT) for name in PASSED], names)
    files = sorted({each for log, _, beside in found for each in (log, beside) if each})
    stats = [(each, stat.st_size, stat.st_mtime_ns) for each in files for stat in (Path(each).stat(),)]
    told = [VERSION, digest_of(book), str(schema), form, found, stats]
    mark = hashlib.sha256(json.dumps(told).encode()).hexdigest()
    ignored = sum(each.suffix.lower() not in (*ENDINGS, *YAML_ENDINGS) for each in every if each is not path)
    listed = tuple(
        Chunk(number, ChunkSource("log", log, shown, 0), 1, files=((log, shown), (beside, beside)))
        for number, (log, shown, beside) in enumerate(found)
    )
    return ListedPlan(Setup(book, (Layout((), ()),), PASSED, schema, asked, form), listed, mark, ignored)


def work_log(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    """Reads one log and examines its stretches. One that cannot be read, or has none, is a row that says so."""
    (path, shown), (machine, _) = chunk.files
    name, dangers, notes = None, "", ""
    rows: list[Visit | Unread] = []
    told: list[tuple[str | None, str | None]] = []
    try:
        document = yamlfile.read(machine) if machine else None
        log = examine_log(read_log(*content_of(path), setup.book), setup.book, document)
    except InputProblems as error:
        rows.append(unread(error.problems))
    else:
        name = log.machine.name if log.machine.name != Machine().name else None
        dangers = ",".join(dict.fromkeys(danger.danger.code for danger in log.dangers))
        codes = tuple(dict.fromkeys(note.code for note in log.notes))
        notes = ",".join(codes)
        rows += [each.diagnosis.visit for each in log.stretches] or [Unread(codes, ())]
        told = [(stamp(each.end, date=bool(day_of(each.end))), each.stretch.kind) for each in log.stretches]
    until, kinds = zip(*(told or [(None, None)]), strict=True)
    n = len(rows)
    beside = {FILE: [shown] * n, "until": until, "stretch": kinds}
    beside |= {OF_THE_LOG: [dangers or None] * n, ABOUT: [notes or None] * n}
    return from_visits(rows, beside, {"machine": [name] * n}, setup)
