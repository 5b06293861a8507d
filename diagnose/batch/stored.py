"""Kept visits examined again, all of a store: a row each, and what is answered otherwise than before."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

from diagnose import yamlfile
from diagnose.batch import arrow, output
from diagnose.batch.answers import Asked, answer_columns, is_number
from diagnose.batch.chunk import Chunk, ChunkSource, Done, ListedPlan, Setup, StoredVisit
from diagnose.batch.headers import IDENTITY, Layout, Unread, unread
from diagnose.batch.work import AnsweredChunk, from_visits
from diagnose.diagnosis.findings import seen_problems
from diagnose.diagnosis.story import Look
from diagnose.report.history import Changed
from diagnose.rulebook import Rulebook, digest_of
from diagnose.store import Store, examined, keep_result, machines, visits_of
from diagnose.visit import Visit, visit_from
from diagnose.yamlfile import InputProblems, refusal

VISITS = 20
"""Kept visits that are examined at once: each is kept with its whole result, which takes ten times as long as the answer."""
BEFORE = ("visit", "fault before", "charge verdict before")
"""Columns beside the answer: the visit's id, and what was last said of it."""


def plan_of_store(store: Store, book: Rulebook, asked: Asked, form: output.Form) -> ListedPlan:
    """Every visit of a store, by machine and date; its texts are held in memory. Raises InputProblems where there is none."""
    found = [
        StoredVisit(visit.number, visit.id, machine.name, visit.date, visit.text, visit.story)
        for machine in machines(store)
        for visit in visits_of(store, machine)
        if not visit.replaced
    ]
    if not found:
        raise refusal("no visits are kept here", "Keep one: `diagnose keep VISIT`.", store.name)
    names = [(name, is_number(name)) for name in answer_columns(book, asked)]
    schema = output.schema_of(IDENTITY, [(name, arrow.TEXT) for name in BEFORE], names)
    digest = digest_of(book)
    setup = Setup(book, (Layout((), ()),), BEFORE, schema, asked, form, digest)
    told = [digest, str(schema), form, [visit.id for visit in found], VISITS]
    source = ChunkSource("stored", "", "the store", 0)
    some = [tuple(found[at : at + VISITS]) for at in range(0, len(found), VISITS)]
    listed = tuple(Chunk(number, source, len(each), kept=each) for number, each in enumerate(some))
    return ListedPlan(setup, listed, hashlib.sha256(json.dumps(told).encode()).hexdigest())


def work_stored(chunk: Chunk, setup: Setup) -> AnsweredChunk:
    """Examines some kept visits again. One that this version cannot read is a row that says so."""
    visits: list[Visit | Unread] = []
    entries, changed = [], []
    for kept in chunk.kept:
        try:
            name = f"visit {kept.id[:8]}"
            visit = visit_from(yamlfile.parse(kept.text, name).data, name, setup.book.own)  # type: ignore[arg-type]
            problems = seen_problems(visit, setup.book)
            entry = None if problems else examined(kept.text, kept.id, setup.book, setup.digest)
        except InputProblems as error:
            problems, entry = list(error.problems), None
        visits.append(unread(problems) if problems else visit)
        entries += [(kept.number, entry)] if entry is not None else []
        before, now = (
            None if story is None else Look(kept.id, kept.date, story)
            for story in (kept.before, None if entry is None else entry.story)
        )
        changed.append(
            Changed(before, now, kept.id, kept.date, f"{problems[0].what}." if problems else "", kept.machine)
        )
    columns: dict[str, list[str | None]] = {
        "visit": [kept.id for kept in chunk.kept],
        "fault before": [kept.before.fault if kept.before else None for kept in chunk.kept],
        "charge verdict before": [kept.before.verdict if kept.before else None for kept in chunk.kept],
    }
    called = {"machine": [kept.machine for kept in chunk.kept], "date": [kept.date for kept in chunk.kept]}
    table, done = from_visits(visits, columns, called, setup)
    return table, replace(done, entries=tuple(entries), changed=tuple(each for each in changed if each.differs))


def keep_results(store: Store, done: Done) -> None:
    """What was said of these visits goes into the store, beside what other books said. Raises InputProblems."""
    for number, entry in done.entries:
        keep_result(store, number, entry)
