"""What is kept and found again, and what is told of it. Each function is one transaction: all of it or nothing."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, and_, case, delete, exists, func, select, text, true
from sqlalchemy.dialects import postgresql, sqlite

from diagnose.diagnosis.story import Look, Story, as_data
from diagnose.report.history import FAILED, Changed
from diagnose.rulebook import Rulebook, digest_of
from diagnose.store.database import Store, results, sent, visits
from diagnose.store.database import machines as machine_table
from diagnose.store.entry import Entered, VisitEntry, examined, story_of
from diagnose.visit import machine_key
from diagnose.yamlfile import InputProblems, Problem, did_you_mean, printable, refusal

LONGEST_KEY = 300  # characters; of longer names the rest stands as a digest
_ID = re.compile(r"[0-9a-f]{6,32}")


@dataclass(frozen=True, slots=True)
class Kept:
    """What `keep` did with one visit. new: whether it was not there yet."""

    id: str
    machine: str
    date: str
    new: bool


@dataclass(frozen=True, slots=True)
class KeptMachine:
    """A machine in the store, and its visits: how many that no later version replaced, the first and the last date."""

    number: int
    key: str
    name: str
    count: int
    first: str
    last: str


@dataclass(frozen=True, slots=True)
class KeptVisit:
    """A visit in the store. story: what was last said of it; None: nothing that this version can read. replaced: whether
    the phone that sent it sent a later version, which stands beside it.
    """

    number: int
    id: str
    date: str
    text: str
    story: Story | None
    replaced: bool = False


def key_of(name: str) -> str:
    """By which a machine is known here: the same, and no longer than its column."""
    folded = machine_key(name)
    if len(folded) <= LONGEST_KEY:
        return folded
    return f"{folded[:LONGEST_KEY]} {hashlib.sha256(folded.encode()).hexdigest()}"


def keep(store: Store, entries: Sequence[VisitEntry]) -> list[Kept]:
    """Keeps them all, or none. One that is there already stays as it is. Raises InputProblems."""
    found = []
    with store.writing() as connection:
        # Machines in one order whoever writes: two that wait for each other's rows would wait for ever.
        numbers = {key: machine_number(connection, key, name) for key, name in sorted(_names(entries).items())}
        for entry in entries:
            new = put_visit(connection, numbers[key_of(entry.machine)], entry)
            if new is not None:
                _put_result(connection, new, entry)
            found.append(Kept(entry.id, entry.machine, entry.date, new is not None))
    return found


def put_visit(connection: Connection, machine: int, entry: Entered) -> int | None:
    """Its number; None where it is there already, and then it stays as it is."""
    row = {"id": entry.id, "machine": machine, "date": entry.date, "text": entry.text}
    done = connection.execute(
        insert(connection)(visits).values(row).on_conflict_do_nothing().returning(visits.c.number)
    )
    return done.scalar()


def _names(entries: Sequence[VisitEntry]) -> dict[str, str]:
    return {key_of(entry.machine): entry.machine for entry in reversed(entries)}


def insert(connection: Connection):  # type: ignore[no-untyped-def]  # the two share the method, not a type
    """The insert that can leave what is there alone."""
    return postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert


def machine_number(connection: Connection, key: str, name: str) -> int:
    """Its number; held until the end, so that nobody forgets the machine between this and its visit."""
    asked = select(machine_table.c.number).where(machine_table.c.key == key).with_for_update()
    found = None
    while found is None:  # it may have been forgotten between the two
        connection.execute(insert(connection)(machine_table).values(key=key, name=name).on_conflict_do_nothing())
        found = connection.execute(asked).scalar()
    return int(found)


def keep_result(store: Store, number: int, entry: VisitEntry) -> None:
    """What today's book says of a visit that is kept; earlier results of other books stay. Raises InputProblems."""
    with store.writing() as connection:
        there = select(visits.c.number).where(visits.c.number == number).with_for_update()
        if connection.execute(there).scalar() is not None:  # else it was forgotten meanwhile
            _put_result(connection, number, entry)


def _put_result(connection: Connection, number: int, entry: VisitEntry) -> None:
    same = (results.c.visit == number) & (results.c.book == entry.book) & (results.c.version == entry.version)
    connection.execute(delete(results).where(same))  # and not updated: the last number is what was said last
    connection.execute(
        results.insert().values(
            visit=number,
            book=entry.book,
            version=entry.version,
            story=json.dumps(as_data(entry.story), allow_nan=False),
            result=json.dumps(entry.result, allow_nan=False),
        )
    )


# -- found again -------------------------------------------------------------------------------------------------------


def machines(store: Store, which: ColumnElement[bool] | None = None) -> list[KeptMachine]:
    """Every machine, by name; or those of which this holds. Raises InputProblems."""
    m = machine_table.c
    each = select(visits.c.machine, visits.c.date, case((replaced(), 0), else_=1).label("stands")).subquery().c
    asked = (
        select(m.number, m.key, m.name, func.sum(each.stands), func.min(each.date), func.max(each.date))
        .join(each.machine.table, each.machine == m.number)
        .where(true() if which is None else which)
        .group_by(m.number, m.key, m.name)
    )
    with store.reading() as connection:
        return sorted((KeptMachine(*row) for row in connection.execute(asked)), key=lambda machine: machine.key)


def machines_found(store: Store, words: Sequence[str], most: int) -> tuple[int, list[KeptMachine]]:
    """How many machines with a visit that stands hold all these words in their names, and the first of them, by name.

    Raises InputProblems.
    """
    m = machine_table.c
    there = exists().where(visits.c.machine == m.number, ~replaced()).correlate(machine_table)
    which = and_(there, *(m.key.contains(machine_key(word), autoescape=True) for word in words))
    with store.reading() as connection:
        count = connection.execute(select(func.count()).where(which).select_from(machine_table)).scalar()
        first = connection.execute(select(m.number).where(which).order_by(m.key).limit(most)).scalars().all()
    return int(count or 0), machines(store, m.number.in_(first))


def machine_named(store: Store, name: str) -> KeptMachine:
    """The machine of this name. Raises InputProblems."""
    for machine in machines(store, machine_table.c.key == key_of(name)):
        return machine
    raise _unknown(store, name, machines(store), "is no machine here")


def machine_numbered(store: Store, number: int) -> KeptMachine | None:
    """The machine of this number. Raises InputProblems."""
    return next(iter(machines(store, machine_table.c.number == number)), None)


def _unknown(store: Store, name: str, known: Sequence[KeptMachine], what: str) -> InputProblems:
    fix = did_you_mean(name, [machine.name for machine in known])
    names = ", ".join(printable(machine.name, 40) for machine in known[:8])
    fix = fix or (
        f"Kept: {names}{' …' if len(known) > 8 else ''}." if known else "None is kept: `diagnose keep VISIT`."
    )
    return refusal(f"`{printable(name, 60)}` {what}", fix, store.name)


def visits_of(store: Store, machine: KeptMachine) -> list[KeptVisit]:
    """Its visits, in the order of their dates, and on one day as they were kept; replaced ones too. Raises InputProblems."""
    with store.reading() as connection:
        rows = connection.execute(
            select(visits.c.number, visits.c.id, visits.c.date, visits.c.text, replaced())
            .where(visits.c.machine == machine.number)
            .order_by(visits.c.date, visits.c.number)
        ).all()
        said = connection.execute(
            select(results.c.visit, results.c.story)
            .join(visits, visits.c.number == results.c.visit)
            .where(visits.c.machine == machine.number)
            .order_by(results.c.number)
        ).all()
    last: dict[int, str] = {row[0]: row[1] for row in said}
    return [
        KeptVisit(number, id, date, text, story_of(last.get(number)), bool(gone))
        for number, id, date, text, gone in rows
    ]


def replaced() -> ColumnElement[bool]:
    """Whether a visit of the query came from phones alone, and each that sent it has sent a version made from it since."""
    later = sent.alias()
    stands = ~exists().where(later.c.uuid == sent.c.uuid, later.c.based_on == sent.c.digest)
    own = sent.c.visit == visits.c.number
    return exists().where(own).correlate(visits) & ~exists().where(own, stands).correlate(visits)


# -- forgotten ---------------------------------------------------------------------------------------------------------


def meant(store: Store, what: str) -> tuple[KeptMachine, list[KeptVisit]]:
    """The machine of this name with all its visits, or the one visit whose id begins so. Raises InputProblems."""
    whole = machines(store, machine_table.c.key == key_of(what))
    begin = what.strip().lower()
    ids: list[tuple[str, int]] = []
    if _ID.fullmatch(begin):
        asked = select(visits.c.id, visits.c.machine).where(visits.c.id.startswith(begin, autoescape=True))
        with store.reading() as connection:
            ids = [(row[0], row[1]) for row in connection.execute(asked)]
    if len(whole) + len(ids) > 1:
        fix = "Give more of the visit's id, as `diagnose history MACHINE --as json` shows it."
        raise refusal(f"`{begin}` can mean {len(whole) + len(ids)} things", fix, store.name)
    if ids:
        owner = next(iter(machines(store, machine_table.c.number == ids[0][1])))
        return owner, [visit for visit in visits_of(store, owner) if visit.id == ids[0][0]]
    if whole:
        return whole[0], visits_of(store, whole[0])
    raise _unknown(store, what, machines(store), "is neither a machine nor a visit here")


def forget(store: Store, machine: KeptMachine, which: Sequence[KeptVisit]) -> None:
    """Takes these visits out, with all that was said of them, and the machine with its last one; then the room they took is
    made anew, so that no file of the store holds a trace of them. Raises InputProblems.
    """
    numbers = [visit.number for visit in which]
    with store.writing() as connection:
        connection.execute(
            select(machine_table.c.number).where(machine_table.c.number == machine.number).with_for_update()
        )
        for number in numbers:
            for said in (results, sent):
                connection.execute(delete(said).where(said.c.visit == number))
            connection.execute(delete(visits).where(visits.c.number == number))
        left = exists().where(visits.c.machine == machine_table.c.number)
        connection.execute(delete(machine_table).where(machine_table.c.number == machine.number, ~left))
    try:
        with store.alone() as connection:
            for words in _AFTERWARDS[connection.dialect.name]:
                connection.execute(text(words))
    except InputProblems as error:
        what = "it is forgotten, but its room in the store could not be made anew"
        problem = Problem(store.name, 0, 0, what, "Give `forget` for anything once more.")
        raise InputProblems([problem, *error.problems]) from None


_AFTERWARDS = {
    "sqlite": ("VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"),
    "postgresql": ("VACUUM FULL sent", "VACUUM FULL results", "VACUUM FULL visits", "VACUUM FULL machines"),
}


# -- what is told of it ------------------------------------------------------------------------------------------------


def looks_of(
    store: Store, visits: Sequence[KeptVisit], book_of: Callable[[], Rulebook], again: bool = False
) -> tuple[list[Look], list[Changed], list[Changed]]:
    """What is told of each visit; with `again`, or where nothing was, by today's book, which is then kept. Also what differs,
    and the visits that this version cannot read. book_of: called where a visit must be examined. Raises InputProblems.
    """
    looks, changed, untold = [], [], []
    book, digest = None, ""
    for visit in visits:
        before = Look(visit.id, visit.date, visit.story) if visit.story else None
        if before is not None and not again:
            looks.append(before)
            continue
        if book is None:
            book = book_of()
            digest = digest_of(book)
        try:
            entry = examined(visit.text, visit.id, book, digest)
        except Exception as error:  # one visit on which the program itself fails must not hide all others
            why = f"{error.problems[0].what}." if isinstance(error, InputProblems) else FAILED
            each = Changed(before, None, visit.id, visit.date, why)
            if before is not None:
                looks.append(before)
            else:
                untold.append(each)
        else:
            keep_result(store, visit.number, entry)
            now = Look(visit.id, visit.date, entry.story)
            looks.append(now)
            each = Changed(before, now, visit.id, visit.date)
        changed.append(each)
    return looks, changed, untold
