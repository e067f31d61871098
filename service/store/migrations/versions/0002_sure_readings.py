"""Readings that whoever took them stands by."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column, also to what stood before corrections; no reading so far is sure."""
    for table in ("reading", "reading_before"):
        op.add_column(table, sa.Column("sure", sa.Boolean(), nullable=False, server_default=sa.false()))
