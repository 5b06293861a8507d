"""A visit on its way into a store: read, examined, and named by what it holds."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from diagnose import yamlfile
from diagnose.diagnosis.findings import seen_problems
from diagnose.diagnosis.pipeline import examine
from diagnose.diagnosis.story import Story, story_from, tell
from diagnose.rulebook import Rulebook
from diagnose.shipped import VERSION
from diagnose.visit import Machine, Visit, VisitError, visit_in
from diagnose.visit.own import NOTHING_OWN, Own
from diagnose.visit.reading import place_of
from diagnose.visit.sheet import At
from diagnose.yamlfile import Document, InputProblems, Problem
from diagnose.yamlfile.events import written

_DATE = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[ T](\d{1,2}:\d{2}))?(?![\d:])")
_ALONE = re.compile(r"\s*baseline\s*:\s*[^#{\[|>&*]+")  # nothing else in that line


@dataclass(frozen=True, slots=True)
class Entered:
    """One visit, not yet examined. id: of its text; date: ISO; text: as it was entered."""

    id: str
    machine: str
    date: str
    text: str


@dataclass(frozen=True, slots=True)
class VisitEntry(Entered):
    """One visit and what was said of it. book: its digest."""

    book: str
    version: str
    story: Story
    result: Mapping[str, Any]


def entry_of(content: bytes, name: str, book: Rulebook, digest: str) -> VisitEntry:
    """The visit in these bytes of a file. digest: `digest_of(book)`. Raises InputProblems where it is no visit, or cannot be
    found again later: without a machine's name or a date. The file that a baseline names is taken in.
    """
    found, visit = _entered(content, name, book.own, book)
    d = examine(visit, book)
    return VisitEntry(found.id, found.machine, found.date, found.text, digest, VERSION, tell(d), d.to_dict())


def entered(visit: Mapping[str, Any], own: Own = NOTHING_OWN) -> Entered:
    """A visit that came as a mapping, from elsewhere: no file that it names is opened. Raises InputProblems as `entry_of`.

    own: lines that the rule book adds.
    """
    return _entered(written(visit).encode("utf-8"), "", own)[0]


def _entered(content: bytes, name: str, own: Own, book: Rulebook | None = None) -> tuple[Entered, Visit]:
    document = yamlfile.parse(content, name)
    text = content.decode("utf-8")  # `parse` has made sure
    document, text = _by_itself(document, text, own)
    visit, date = _checked(document, own, book)
    id = hashlib.sha256(text.encode("utf-8")).hexdigest()[:32]
    return Entered(id, visit.machine.name, date, text), visit


def examined(text: str, id: str, book: Rulebook, digest: str) -> VisitEntry:
    """A visit that is kept, examined again. Raises InputProblems where this version of the program cannot read it."""
    return entry_of(text.encode("utf-8"), f"visit {id[:8]}", book, digest)


def as_kept(text: str, id: str, own: Own) -> Visit:
    """A visit as it is kept. Raises InputProblems where this version of the program cannot read it."""
    document = yamlfile.parse(text, f"visit {id[:8]}")
    return visit_in(document, place_of(document), own)


def _by_itself(document: Document, text: str, own: Own) -> tuple[Document, str]:
    """A visit whose baseline stands in another file takes that file in, since no other file is kept. Raises InputProblems."""
    at = place_of(document)
    inner = document.data["visit"] if at and isinstance(document.data, Mapping) else document.data
    if not isinstance(inner, Mapping) or not isinstance(inner.get("baseline"), str):
        return document, text
    whole = visit_in(document, at, own)  # reads that file, or says what is wrong with it
    mark = document.keys[(*at, "baseline")]
    lines = text.splitlines(keepends=True)
    indent, line = " " * (mark.column - 1), lines[mark.line - 1]
    if _ALONE.fullmatch(line.rstrip()) and whole.baseline is not None:
        before = yamlfile.content_of(whole.baseline.document).decode("utf-8-sig")
        lines[mark.line - 1] = f"{indent}baseline:\n" + "".join(f"{indent}  {row}\n" for row in before.splitlines())
        with suppress(InputProblems):
            made = yamlfile.parse("".join(lines), document.name)
            if _alike(visit_in(made, at, own).baseline, whole.baseline):
                return made, "".join(lines)
    what = "`baseline` names a file, which cannot be taken into the kept visit as it stands"
    raise InputProblems(
        [document.problem((*at, "baseline"), what, "Write its readings here: `baseline: {readings: {...}}`.")]
    )


def _alike(one: Visit | None, other: Visit) -> bool:
    """Whether they say the same, wherever it is written."""
    places: dict[str, Any] = {"document": "", "seen_at": {}, "notes": ()}
    return one is not None and replace(one, **places) == replace(other, **places)


def _checked(document: Document, own: Own, book: Rulebook | None) -> tuple[Visit, str]:
    """The visit and its date. Raises InputProblems, with all that is wrong, where it could not be read or found again."""
    at = place_of(document)
    problems: list[Problem] = []
    try:
        visit = visit_in(document, at, own)
    except VisitError as error:
        if error.rest is None:
            raise
        visit, problems = error.rest, [*error.problems]
    if visit.machine.name.strip() in ("", Machine().name):
        fix = "Write one, by which its visits are found: `machine: {name: net loft}`."
        problems.append(document.problem((*at, "machine"), "the machine has no name", fix))
    date = _date(document, at, visit)
    if problems or isinstance(date, Problem):
        problems += [date] if isinstance(date, Problem) else []
        raise InputProblems([*problems, *(seen_problems(visit, book) if book is not None else [])])
    return visit, date


def _date(document: Document, at: At, visit: Visit) -> str | Problem:
    """`2026-07-14`, or `2026-07-14T15:30`."""
    said = visit.remarks.get("date", ("",))[0]
    fix = "Write year, month and day, and the hour if you like: `date: 2026-07-14 15:30`."
    if not said:
        return document.problem(at, "the visit has no date", fix)
    match = _DATE.match(said)
    try:
        if match is None:
            raise ValueError
        found = datetime.fromisoformat(f"{match[1]}T{(match[2] or '0:00').zfill(5)}")
    except ValueError:
        return document.problem((*at, "date"), f"`date`: `{said[:40]}` cannot be put in order", fix)
    return found.isoformat(timespec="minutes") if match[2] else match[1]


def digest_as_json(data: Any) -> str:
    """Of what it says as JSON, in whatever order its keys stand."""
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


def story_of(text: str | None) -> Story | None:
    """A story as it was kept; None where there is none that this version can read."""
    try:
        return story_from(json.loads(text)) if text else None
    except (ValueError, TypeError, KeyError, AttributeError):
        return None
