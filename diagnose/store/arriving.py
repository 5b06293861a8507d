"""Visits that phones sent: each version once, whatever is sent again; a later one stands beside what it was made from."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, select

from diagnose.store.database import Store, results, sent, visits
from diagnose.store.database import machines as machine_table
from diagnose.store.entry import Entered, story_of
from diagnose.store.keeping import KeptVisit, insert, key_of, machine_number, put_visit, replaced


@dataclass(frozen=True, slots=True)
class Version:
    """One version of a visit, as a phone sent it. uuid: by which the phone knows the visit; digest: of what it says
    and of `based_on`, that of the version it was made from (empty: of none), so that one that goes back to what was said
    before is a new one all the same; person: who sent it; at: when, ISO, UTC.
    """

    uuid: str
    digest: str
    based_on: str
    person: str
    at: str


@dataclass(frozen=True, slots=True)
class Arrived:
    """A visit in the store and how it came. machine, name: its number and name. dangers: their titles in the newest result,
    those that stop a machine first. versions: how many visits there are of it, itself among them. rivals: ids of versions
    that were made from the same one as this. later: ids of versions made from this one.
    """

    visit: KeptVisit
    machine: int
    name: str
    dangers: tuple[str, ...]
    sent: tuple[Version, ...]
    versions: int
    rivals: tuple[str, ...]
    later: tuple[str, ...]


def already_here(store: Store, version: Version) -> str | None:
    """The id of the visit that this version became; None where it never arrived. Raises InputProblems."""
    with store.reading() as connection:
        return _found(connection, version)


def take(store: Store, version: Version, visit: Entered) -> tuple[str, bool]:
    """Keeps one version, or finds that it is kept. Gives the visit's id, and whether it is new. Raises InputProblems."""
    row = {name: getattr(version, name) for name in ("uuid", "digest", "based_on", "person", "at")}
    with store.writing() as connection:
        if (there := _found(connection, version)) is not None:
            return there, False
        number = put_visit(connection, machine_number(connection, key_of(visit.machine), visit.machine), visit)
        if number is None:
            number = connection.execute(select(visits.c.number).where(visits.c.id == visit.id)).scalar()
        added = insert(connection)(sent).values(visit=number, **row).on_conflict_do_nothing().returning(sent.c.number)
        return visit.id, connection.execute(added).scalar() is not None


def _found(connection: Connection, version: Version) -> str | None:
    same = (sent.c.uuid == version.uuid) & (sent.c.digest == version.digest)
    found: str | None = connection.execute(
        select(visits.c.id).join(sent, sent.c.visit == visits.c.number).where(same)
    ).scalar()
    return found


def latest(store: Store, count: int) -> list[Arrived]:
    """The newest visits by their dates, without those that a later version replaced. Raises InputProblems."""
    with store.reading() as connection:
        return _arrived(connection, ~replaced(), count)


def arrived(store: Store, id: str) -> Arrived | None:
    """One visit by its id. Raises InputProblems."""
    with store.reading() as connection:
        return next(iter(_arrived(connection, visits.c.id == id, 1)), None)


def _arrived(connection: Connection, which: ColumnElement[bool], count: int) -> list[Arrived]:
    v, m = visits.c, machine_table.c
    rows = connection.execute(
        select(v.number, v.id, v.date, m.number, m.name, v.text, replaced())
        .join(machine_table, v.machine == m.number)
        .where(which)
        .order_by(v.date.desc(), v.number.desc())
        .limit(count)
    ).all()
    numbers = [row[0] for row in rows]
    said = connection.execute(
        select(results.c.visit, results.c.story, results.c.result)
        .where(results.c.visit.in_(numbers))
        .order_by(results.c.number)
    )
    newest = {row[0]: (row[1], row[2]) for row in said}
    uuids = select(sent.c.uuid).where(sent.c.visit.in_(numbers))
    family: dict[str, list[tuple[int, str, Version]]] = {}
    for uuid, digest, based_on, person, at, number, id in connection.execute(
        select(sent.c.uuid, sent.c.digest, sent.c.based_on, sent.c.person, sent.c.at, v.number, v.id)
        .join(visits, sent.c.visit == v.number)
        .where(sent.c.uuid.in_(uuids))
        .order_by(sent.c.number)
    ):
        family.setdefault(uuid, []).append((number, id, Version(uuid, digest, based_on, person, at)))
    found = []
    for number, id, date, machine, name, text, gone in rows:
        kin = [each for listed in family.values() if any(n == number for n, _, _ in listed) for each in listed]
        own = tuple(version for n, _, version in kin if n == number)
        bases, digests = {version.based_on for version in own}, {version.digest for version in own}
        story, result = newest.get(number, (None, None))
        found.append(
            Arrived(
                KeptVisit(number, id, date, text, story_of(story), bool(gone)),
                machine,
                name,
                dangers=_dangers(result),
                sent=own,
                versions=len({n for n, _, _ in kin}) or 1,
                rivals=tuple(dict.fromkeys(i for n, i, each in kin if n != number and each.based_on in bases)),
                later=tuple(dict.fromkeys(i for n, i, each in kin if n != number and each.based_on in digests)),
            )
        )
    return found


def _dangers(result: str | None) -> tuple[str, ...]:
    try:
        told: list[Mapping[str, Any]] = json.loads(result or "{}").get("dangers", [])
        return tuple(str(each["title"]) for each in sorted(told, key=lambda each: each["level"] != "stop"))
    except (ValueError, TypeError, KeyError, AttributeError):  # of another version
        return ()
