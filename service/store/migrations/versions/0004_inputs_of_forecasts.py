"""What forecasts were made of, and of which kind they are."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Add the tables and columns; of forecasts issued so far nobody can tell what they were made of: they go."""
    op.create_table(
        "forecast_input",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("used_s", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_forecast_input_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast_input")),
        sa.UniqueConstraint("household_id", "hash", name=op.f("uq_forecast_input_household_id")),
    )
    op.add_column("forecast", sa.Column("kind", sa.Text(), nullable=True))
    op.create_index("ix_forecast_kind", "forecast", ["household_id", "kind", "id"], unique=False)
    op.execute("DELETE FROM forecast WHERE key NOT LIKE 'skill?%'")
    op.add_column("reading_before", sa.Column("deleted_s", sa.BigInteger(), nullable=True))
