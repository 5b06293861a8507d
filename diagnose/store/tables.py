"""The tables as the newest migration leaves them."""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Integer, MetaData, String, Table, Text, UniqueConstraint

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
