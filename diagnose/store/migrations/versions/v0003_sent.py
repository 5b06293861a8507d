"""What phones sent, and who may use the office."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """From visits that were kept at the desk alone."""
    op.create_table(
        "sent",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("uuid", sa.String(36), nullable=False),
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("based_on", sa.String(64), nullable=False),
        sa.Column("visit", sa.Integer, sa.ForeignKey("visits.number", ondelete="CASCADE"), nullable=False, index=True),
        sa.Column("person", sa.Text, nullable=False),
        sa.Column("at", sa.String(25), nullable=False),
        sa.UniqueConstraint("uuid", "digest"),
    )
    op.create_table(
        "people",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("name", sa.String(80), nullable=False, unique=True),
        sa.Column("salt", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("made", sa.String(25), nullable=False),
    )
    op.create_table(
        "sessions",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("digest", sa.String(64), nullable=False, unique=True),
        sa.Column("person", sa.Integer, sa.ForeignKey("people.number", ondelete="CASCADE"), nullable=False, index=True),
        sa.Column("until", sa.BigInteger, nullable=False),
    )
