"""Who may use the office: people with an access code each, and the browsers that they signed in with.

Of a code only its scrypt hash is kept (RFC 7914; `hashlib`), of a session only a SHA-256: what a browser holds is 256 bits of
chance, and the slow hash is for what a person types.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from dataclasses import dataclass

from sqlalchemy import delete, select
from sqlalchemy.exc import IntegrityError

from diagnose.store.database import Store, sessions
from diagnose.store.database import people as table
from diagnose.yamlfile import did_you_mean, printable, refusal

LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"  # none that is mistaken for another
GROUPS, EACH = 5, 4  # letters of a code: 20 of 31, 99 bits
SESSION_LASTS = 180 * 86400  # s; so long a browser stays signed in
LONGEST = 80  # characters of a name
_CODE = re.compile(r"\s*(\d{1,9})\s*-(.*)", re.DOTALL)
_NOBODY = "00" * 16  # the salt of a person who is not there, so that the answer takes as long


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may use the office. made: ISO, UTC."""

    name: str
    made: str


def add_person(store: Store, name: str, at: str) -> str:
    """A new person's access code: shown once, and kept nowhere. at: now, ISO, UTC. Raises InputProblems."""
    name = " ".join(name.split())
    if not name or len(name) > LONGEST or not name.isprintable():
        raise refusal("a person needs a name that can be printed", f"Give one of at most {LONGEST} characters.")
    code = "-".join("".join(secrets.choice(LETTERS) for _ in range(EACH)) for _ in range(GROUPS))
    salt = secrets.token_hex(16)
    row = {"name": name, "salt": salt, "hash": _hash(code.replace("-", ""), salt), "made": at}
    try:
        with store.writing() as connection:
            number = connection.execute(table.insert().values(row).returning(table.c.number)).scalar_one()
    except IntegrityError:
        fix = "Give another name; or remove this one first, which signs every phone of theirs out."
        raise refusal(f"`{printable(name)}` has an access code already", fix) from None
    return f"{number}-{code}"


def people(store: Store) -> list[Person]:
    """Everybody with an access code, by name. Raises InputProblems."""
    with store.reading() as connection:
        rows = connection.execute(select(table.c.name, table.c.made)).all()
    return sorted((Person(*row) for row in rows), key=lambda person: person.name.casefold())


def remove_person(store: Store, name: str) -> None:
    """The code and every signed-in browser of this person are worth nothing from now on. Raises InputProblems."""
    with store.writing() as connection:
        found = connection.execute(select(table.c.number).where(table.c.name == " ".join(name.split()))).scalar()
        connection.execute(delete(sessions).where(sessions.c.person == found))
        connection.execute(delete(table).where(table.c.number == found))
    if found is None:
        names = [person.name for person in people(store)]
        fix = did_you_mean(name, names) or f"There are: {', '.join(names[:8])}." if names else "Nobody has one."
        raise refusal(f"`{printable(name)}` has no access code", fix)


def sign_in(store: Store, code: str, now: float) -> str | None:
    """A new session for whom this code belongs to: what the browser is to hold. None: it is nobody's. Raises InputProblems."""
    given = _CODE.fullmatch(code[:200].lower())
    number, said = (int(given[1]), re.sub(r"[\s-]+", "", given[2])) if given else (0, "")
    with store.reading() as connection:
        row = connection.execute(select(table.c.salt, table.c.hash).where(table.c.number == number)).one_or_none()
    salt, kept = row if row is not None else (_NOBODY, "")
    if not hmac.compare_digest(_hash(said, salt), kept) or row is None:
        return None
    made = secrets.token_urlsafe(32)
    with store.writing() as connection:
        connection.execute(delete(sessions).where(sessions.c.until < now))
        there = connection.execute(
            select(table.c.number).where(table.c.number == number, table.c.hash == kept)
        ).scalar()
        if there is None:  # removed meanwhile
            return None
        connection.execute(
            sessions.insert().values(digest=_quick(made), person=number, until=round(now + SESSION_LASTS))
        )
    return made


def signed_in(store: Store, session: str, now: float) -> str | None:
    """The name of whom this session belongs to; None: it is nobody's, or no longer. Raises InputProblems."""
    with store.reading() as connection:
        found: str | None = connection.execute(
            select(table.c.name)
            .join(sessions, sessions.c.person == table.c.number)
            .where(sessions.c.digest == _quick(session), sessions.c.until >= now)
        ).scalar()
    return found


def sign_out(store: Store, session: str) -> None:
    """This session is worth nothing from now on. Raises InputProblems."""
    with store.writing() as connection:
        connection.execute(delete(sessions).where(sessions.c.digest == _quick(session)))


def _hash(code: str, salt: str) -> str:
    return hashlib.scrypt(code.encode("utf-8", "replace"), salt=bytes.fromhex(salt), n=2**14, r=8, p=1, dklen=32).hex()


def _quick(session: str) -> str:
    return hashlib.sha256(session.encode("utf-8", "replace")).hexdigest()
