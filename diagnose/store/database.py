"""Opening a store: where it lies, its schema brought up to date, its errors in plain words.

A store is a SQLite file (WAL, so that one writes while others read) or a PostgreSQL database, by URL. DIAGNOSE_STORE names one;
else it is a file in the user's data folder.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Engine,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    create_engine,
    event,
    exc,
    inspect,
    text,
)
from sqlalchemy.engine import URL, make_url

from diagnose.yamlfile import printable, reason_of, refusal

REVISIONS = ("0001", "0002", "0003")
"""Every schema there was, oldest first: what a store may say it is without being newer than this program."""

metadata = MetaData()

machines = Table(
    "machines",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("key", String(400), nullable=False, unique=True),  # the name, folded: `Net  Loft` is `net loft`
    Column("name", Text, nullable=False),
)

visits = Table(
    "visits",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("id", String(32), nullable=False, unique=True),  # of its text, so that one visit is kept once
    Column("machine", Integer, ForeignKey("machines.number", ondelete="CASCADE"), nullable=False, index=True),
    Column("date", String(25), nullable=False),  # ISO
    Column("text", Text, nullable=False),  # whole as it was entered
)

results = Table(
    "results",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("visit", Integer, ForeignKey("visits.number", ondelete="CASCADE"), nullable=False),
    Column("book", String(64), nullable=False),  # its digest
    Column("version", String(40), nullable=False),  # of the program
    Column("story", Text, nullable=False),  # JSON: what a machine's history is told from
    Column("result", Text, nullable=False),  # JSON: the whole result
    UniqueConstraint("visit", "book", "version"),
)

sent = Table(
    "sent",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("uuid", String(36), nullable=False),  # by which the phone knows the visit, through all its versions
    Column("digest", String(64), nullable=False),  # of what this version says and of based_on
    Column("based_on", String(64), nullable=False),  # digest of the version it was made from; empty: of none
    Column("visit", Integer, ForeignKey("visits.number", ondelete="CASCADE"), nullable=False, index=True),
    Column("person", Text, nullable=False),  # who sent it; empty where nobody need sign in
    Column("at", String(25), nullable=False),  # ISO, UTC
    UniqueConstraint("uuid", "digest"),
)

people = Table(
    "people",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("salt", String(64), nullable=False),
    Column("hash", String(64), nullable=False),  # of the access code; the code itself is nowhere
    Column("made", String(25), nullable=False),  # ISO, UTC
)

sessions = Table(
    "sessions",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("digest", String(64), nullable=False, unique=True),  # of what the browser holds
    Column("person", Integer, ForeignKey("people.number", ondelete="CASCADE"), nullable=False, index=True),
    Column("until", BigInteger, nullable=False),  # s since 1970, UTC
)


VARIABLE = "DIAGNOSE_STORE"
FILE = "visits.db"
PATIENCE = 20.0  # s to wait for another writer
_LOCK = 7_316_402  # any number of our own: PostgreSQL's lock while the schema is made
_HELD = ("another program holds this store", "Wait until it is done, then give the command again.")
_DAMAGED = (
    "this store is damaged or is no store; nothing was changed",
    "Move it away, make a new store and `diagnose import` your last export.",
)
_MEND_URL = "Give a file, or `postgresql://user@host/name`."


@dataclass(frozen=True, slots=True)
class Store:
    """An open store; `with` closes it. name: how it is called in messages, without a password."""

    engine: Engine
    name: str
    _turn: threading.Lock = field(default_factory=threading.Lock, repr=False, compare=False)

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.engine.dispose()

    @property
    def is_file(self) -> bool:
        """Whether it is a SQLite file."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction: all of it or nothing. Raises InputProblems."""
        # SQLite would try for its lock ten times a second; writers of one process take turns without that.
        if self.is_file and not self._turn.acquire(timeout=PATIENCE):
            raise refusal(*_HELD, self.name)
        try:
            with told(self.name), self.engine.begin() as connection:
                yield connection
        finally:
            if self.is_file:
                self._turn.release()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One transaction that sees one state of the store and keeps no writer waiting. Raises InputProblems."""
        with told(self.name), self.engine.connect().execution_options(reading=True) as connection, connection.begin():
            yield connection

    @contextmanager
    def alone(self) -> Iterator[Connection]:
        """Outside any transaction, for what no transaction may hold. Raises InputProblems."""
        options = {"isolation_level": "AUTOCOMMIT"}
        with told(self.name), self.engine.connect().execution_options(**options) as connection:
            yield connection


def default_file() -> Path:
    """The file in the user's data folder."""
    home = Path.home()
    if sys.platform == "win32":
        root = Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif sys.platform == "darwin":
        root = home / "Library" / "Application Support"
    else:
        given = os.environ.get("XDG_DATA_HOME", "")
        root = Path(given) if os.path.isabs(given) else home / ".local" / "share"
    return root / "diagnose" / FILE


def open_store(place: str | None = None, make: bool = True) -> Store:
    """The store at a path or URL (else DIAGNOSE_STORE, else the user's own), its schema the newest.

    make: an empty one is made where there is none. Raises InputProblems; a store that cannot be used is left as it was.
    """
    given = place or os.environ.get(VARIABLE, "").strip() or str(default_file())
    url = _url(given)
    name = printable(
        url.database or "" if url.drivername == "sqlite" else url.render_as_string(hide_password=True), 200
    )
    if url.drivername == "sqlite":
        _file(Path(str(url.database)), make)
    try:
        engine = create_engine(url, **({} if url.drivername == "sqlite" else {"connect_args": {"connect_timeout": 10}}))
    except ModuleNotFoundError:
        what = "a PostgreSQL store needs psycopg"
        raise refusal(what, "Install it: `pip install 'psycopg[binary]'`.", name) from None
    if url.drivername == "sqlite":
        event.listen(engine, "connect", _set_up)
        event.listen(engine, "begin", _begin)
    store = Store(engine, name)
    try:
        _bring_up_to_date(store)
    except BaseException:
        engine.dispose()
        raise
    return store


def _url(given: str) -> URL:
    if "://" not in given:
        return URL.create("sqlite", database=os.path.abspath(os.path.expanduser(given)))
    try:
        url = make_url(given)
        dialect = url.get_backend_name()
    except (exc.ArgumentError, ValueError):
        raise refusal("the store cannot be understood as a URL", _MEND_URL) from None
    if dialect in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if dialect == "sqlite" and url.database and url.database != ":memory:":
        return URL.create("sqlite", database=os.path.abspath(url.database))
    raise refusal(f"`{printable(dialect, 20)}` is not a kind of store known here", _MEND_URL)


def _file(path: Path, make: bool) -> None:
    """Makes the file, for its owner alone: what stands in it is about customers. Raises InputProblems."""
    name = printable(str(path), 200)
    if not make and not path.exists():
        raise refusal("no visits are kept here yet", "Keep one: `diagnose keep VISIT`.", name)
    if path.is_dir():
        raise refusal("this is a folder", "Name a file for the store.", name)
    try:
        if path.parent == default_file().parent:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
    except (OSError, ValueError) as error:
        what = f"the store cannot be opened ({reason_of(error, 'the name cannot be used')})"
        raise refusal(what, "Check the name and the folder.", name) from None


def _set_up(connection: Any, _: object) -> None:
    """Each connection to a SQLite file. What is forgotten is written over, not only unlinked."""
    connection.isolation_level = None  # BEGIN is ours, see `_begin`
    for setting in (
        f"busy_timeout={round(PATIENCE * 1000)}",
        "journal_mode=WAL",
        "foreign_keys=ON",
        "secure_delete=ON",
    ):
        connection.execute(f"PRAGMA {setting}")


def _begin(connection: Connection) -> None:
    """A writer waits for its turn at the start; a transaction that only finds out when it writes would fail at once."""
    options = connection.get_execution_options()
    if options.get("isolation_level") != "AUTOCOMMIT":
        connection.exec_driver_sql("BEGIN" if options.get("reading") else "BEGIN IMMEDIATE")


# -- the schema --------------------------------------------------------------------------------------------------------


def _bring_up_to_date(store: Store) -> None:
    with store.reading() as connection:
        if _revision(connection) == REVISIONS[-1]:
            return
    with store.writing() as connection:
        if not store.is_file:
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
        found = _revision(connection)
        if found == REVISIONS[-1]:
            return
        if found is not None and found not in REVISIONS:
            what = "this store was written by a newer version of the program; nothing was changed"
            raise refusal(what, "Update the program: `pip install --upgrade 'diagnose[store]'`.", store.name)
        if found is None and (others := set(inspect(connection).get_table_names())):
            if others & set(metadata.tables):
                what = "this database holds tables of our names without saying which version they are"
            else:
                what = "this is a database of something else; nothing was changed"
            raise refusal(what, "Name another store.", store.name)
        if not store.is_file and connection.execute(text("SHOW server_encoding")).scalar() != "UTF8":
            what = "this database does not hold every character that a visit may"
            raise refusal(what, "Make one that does: `createdb -E UTF8 -T template0 NAME`.", store.name)
        _upgrade(connection)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return found


def _upgrade(connection: Connection, to: str = "head") -> None:
    """All steps within the transaction of this connection: a store is never left between two schemas."""
    from alembic import command  # half a second; only where a schema is made
    from alembic.config import Config

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    command.upgrade(config, to)


# -- errors ------------------------------------------------------------------------------------------------------------


@contextmanager
def told(name: str) -> Iterator[None]:
    """What a database says, in words a technician can act on."""
    try:
        yield
    except exc.DBAPIError as error:
        if (words := _in_words(error)) is None:
            raise
        raise refusal(*words, name) from None
    except UnicodeDecodeError:  # SQLite's own sentence holds what it found
        raise refusal(*_DAMAGED, name) from None
    except exc.TimeoutError:  # of the pool of connections
        raise refusal(*_HELD, name) from None


def _in_words(error: exc.DBAPIError) -> tuple[str, str] | None:
    """What is wrong and how to mend it; None for a mistake of the program."""
    said = str(error.orig).lower()
    state = getattr(error.orig, "sqlstate", None) or ""
    if "full" in said or "no space" in said or state == "53100":
        return "there is no room left, and nothing was written", "Make room on the disk, then give the command again."
    if any(words in said for words in ("malformed", "not a database", "could not decode")) or state == "XX001":
        return _DAMAGED
    if "locked" in said or "busy" in said or state in ("55P03", "40P01"):
        return _HELD
    if "readonly" in said or "unable to open" in said or "permission" in said:
        return "this store may not be written", "Ask for the right to write the file and its folder, or name another."
    if "i/o error" in said:
        return "the disk under this store does not answer as it should", "Look at the disk; give the command again."
    if isinstance(error, exc.OperationalError) or error.connection_invalidated:
        first = printable(str(error.orig).strip().splitlines()[0] if str(error.orig).strip() else "no answer", 160)
        return (
            f"the store does not answer ({first})",
            "Check that the database runs, its name and your right to use it.",
        )
    return None
