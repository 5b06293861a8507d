"""What was said of each visit, by which book and which version of the program."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """From machines and visits alone; a visit without a result is examined when its machine's history is asked for."""
    op.create_table(
        "results",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("visit", sa.Integer, sa.ForeignKey("visits.number", ondelete="CASCADE"), nullable=False),
        sa.Column("book", sa.String(64), nullable=False),
        sa.Column("version", sa.String(40), nullable=False),
        sa.Column("story", sa.Text, nullable=False),
        sa.Column("result", sa.Text, nullable=False),
        sa.UniqueConstraint("visit", "book", "version"),
    )
