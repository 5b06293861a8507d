"""Machines and their visits."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """From an empty store."""
    op.create_table(
        "machines",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("key", sa.String(400), nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
    )
    op.create_table(
        "visits",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("id", sa.String(32), nullable=False, unique=True),
        sa.Column(
            "machine", sa.Integer, sa.ForeignKey("machines.number", ondelete="CASCADE"), nullable=False, index=True
        ),
        sa.Column("date", sa.String(25), nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
