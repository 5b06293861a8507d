"""A visit on its way into a store: read, examined, and named by what it holds."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from diagnose import yamlfile
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.record import Diagnosis
from diagnose.diagnosis.story import Story, story_from, tell
from diagnose.rulebook import Rulebook, to_data
from diagnose.shipped import VERSION
from diagnose.visit import Machine, Visit, visit_in
from diagnose.yamlfile import Document, InputProblems, Problem

_DATE = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[ T](\d{1,2}:\d{2}))?(?![\d:])")


@dataclass(frozen=True, slots=True)
class Entry:
    """One visit and what was said of it. id: of its text; date: ISO; text: as it was entered; book: its digest."""

    id: str
    machine: str
    date: str
    text: str
    book: str
    version: str
    story: Story
    result: Mapping[str, Any]


def entry_of(content: bytes | str, name: str, book: Rulebook, digest: str) -> Entry:
    """The visit in these bytes of a file. digest: `digest_of(book)`. Raises InputProblems where it is no visit, or cannot be
    found again later: without a machine's name, without a date, or with readings that stand in another file.
    """
    document = yamlfile.parse(content, name)
    visit, date = _checked(document)
    text = content.decode("utf-8") if isinstance(content, bytes) else content  # `parse` has made sure
    d = examine(visit, book)
    return _entry(d, text, date, digest)


def examined(text: str, id: str, book: Rulebook, digest: str) -> Entry:
    """A visit that is kept, examined again. Raises InputProblems where this version of the program cannot read it."""
    return entry_of(text.encode("utf-8"), f"visit {id[:8]}", book, digest)


def _entry(d: Diagnosis, text: str, date: str, digest: str) -> Entry:
    own = hashlib.sha256(text.encode("utf-8")).hexdigest()[:32]
    return Entry(own, d.visit.machine.name, date, text, digest, VERSION, tell(d), d.to_dict())


def _checked(document: Document) -> tuple[Visit, str]:
    data = document.data
    at: tuple[str, ...] = ("visit",) if isinstance(data, Mapping) and {"case", "visit"} <= data.keys() else ()
    inner = data.get("visit") if at and isinstance(data, Mapping) else data
    problems = []
    if isinstance(inner, Mapping) and isinstance(inner.get("baseline"), str):
        what = "`baseline` names a file, and a kept visit stands by itself"
        fix = "Write the readings of that file here: `baseline: {readings: {...}}`."
        raise InputProblems([document.problem((*at, "baseline"), what, fix)])
    visit = visit_in(document, at)
    if visit.machine.name == Machine().name:
        fix = "Write one, by which its visits are found: `machine: {name: net loft}`."
        problems.append(document.problem((*at, "machine"), "the machine has no name", fix))
    date = _date(document, at, visit)
    if isinstance(date, Problem):
        problems.append(date)
    if problems or isinstance(date, Problem):
        raise InputProblems(problems)
    return visit, date


def _date(document: Document, at: tuple[str, ...], visit: Visit) -> str | Problem:
    """`2026-07-14`, or `2026-07-14T15:30`."""
    written = visit.remarks.get("date", ("",))[0]
    fix = "Write year, month and day, and the hour if you like: `date: 2026-07-14 15:30`."
    if not written:
        return document.problem(at, "the visit has no date", fix)
    match = _DATE.match(written)
    try:
        if match is None:
            raise ValueError
        found = datetime.fromisoformat(f"{match[1]}T{(match[2] or '0:00').zfill(5)}")
    except ValueError:
        return document.problem((*at, "date"), f"`date`: `{written[:40]}` cannot be put in order", fix)
    return found.isoformat(timespec="minutes") if match[2] else match[1]


def digest_of(book: Rulebook) -> str:
    """What a book says, in 64 characters: two books with one digest judge alike."""
    return hashlib.sha256(json.dumps(to_data(book), sort_keys=True).encode()).hexdigest()


def story_of(text: str | None) -> Story | None:
    """A story as it was kept; None where there is none that this version can read."""
    try:
        return story_from(json.loads(text)) if text else None
    except (ValueError, TypeError, KeyError, AttributeError):
        return None
