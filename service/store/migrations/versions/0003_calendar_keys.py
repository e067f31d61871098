"""Keys that open a household's calendar and nothing else."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Create the table; no household has a key so far."""
    op.create_table(
        "calendar_key",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("created_s", sa.BigInteger(), nullable=False),
        sa.Column("revoked_s", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"],
            ["household.id"],
            name=op.f("fk_calendar_key_household_id_household"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_key")),
        sa.UniqueConstraint("hash", name=op.f("uq_calendar_key_hash")),
    )
