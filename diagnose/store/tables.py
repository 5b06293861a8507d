"""The tables as the newest migration leaves them."""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, MetaData, String, Table, Text, UniqueConstraint

REVISIONS = ("0001", "0002")
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
