"""The first schema: households, their log, fits, forecasts and tokens."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

SERIAL = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Create every table."""
    _households()
    _log()
    _production()
    _access()


def _households() -> None:
    """Descriptions, and what a household keeps besides."""
    op.create_table(
        "household",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=False),
        sa.Column("version", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_household")),
        sa.UniqueConstraint("name", name=op.f("uq_household_name")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "document",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_document_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_document")),
        sa.UniqueConstraint("household_id", "kind", "key", name=op.f("uq_document_household_id")),
    )


def _log() -> None:
    """Readings, what stood before each correction, and imports."""
    op.create_table(
        "import_batch",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("imported_s", sa.BigInteger(), nullable=False),
        sa.Column("undone_s", sa.BigInteger(), nullable=True),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_import_batch_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_batch")),
    )
    op.create_index("ix_import_batch_household", "import_batch", ["household_id", "imported_s"], unique=False)
    op.create_table(
        "import_row",
        sa.Column("import_id", sa.Text(), nullable=False),
        sa.Column("n", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("reading_id", sa.Text(), nullable=True),
        sa.Column("pointer", sa.Text(), nullable=True),
        sa.Column("message", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["import_id"], ["import_batch.id"], name=op.f("fk_import_row_import_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("import_id", "n", name=op.f("pk_import_row")),
    )
    op.create_table(
        "reading",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("reading_id", sa.Text(), nullable=False),
        sa.Column("taken_s", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("meal", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("flame_pct", sa.Float(), nullable=True),
        sa.Column("water_l", sa.Float(), nullable=True),
        sa.Column("from_c", sa.Float(), nullable=True),
        sa.Column("recorded_s", sa.BigInteger(), nullable=False),
        sa.Column("import_id", sa.Text(), nullable=True),
        sa.Column("deleted_s", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_reading_household_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["import_id"], ["import_batch.id"], name=op.f("fk_reading_import_id"), ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("household_id", "reading_id", name=op.f("uq_reading_household_id")),
    )
    op.create_index("ix_reading_import", "reading", ["import_id"], unique=False)
    op.create_index("ix_reading_taken", "reading", ["household_id", "taken_s"], unique=False)
    op.create_index(
        "uq_reading_moment",
        "reading",
        ["household_id", "quantity", "taken_s", "item"],
        unique=True,
        sqlite_where=sa.text("deleted_s IS NULL"),
        postgresql_where=sa.text("deleted_s IS NULL"),
    )
    op.create_table(
        "reading_before",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("row_id", SERIAL, nullable=False),
        sa.Column("reading_id", sa.Text(), nullable=False),
        sa.Column("taken_s", sa.BigInteger(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("value", sa.Float(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("meal", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("flame_pct", sa.Float(), nullable=True),
        sa.Column("water_l", sa.Float(), nullable=True),
        sa.Column("from_c", sa.Float(), nullable=True),
        sa.Column("recorded_s", sa.BigInteger(), nullable=False),
        sa.Column("replaced_s", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["row_id"], ["reading.id"], name=op.f("fk_reading_before_row_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_before")),
    )
    op.create_index("ix_reading_before_row", "reading_before", ["row_id"], unique=False)


def _production() -> None:
    """Fits, requests for a fit, and forecasts as issued."""
    op.create_table(
        "fit",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("made_as_of_d", sa.Float(), nullable=False),
        sa.Column("created_s", sa.BigInteger(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_fit_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit")),
    )
    op.create_index("ix_fit_household", "fit", ["household_id", "made_as_of_d", "id"], unique=False)
    op.create_table(
        "fit_request",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("as_of_d", sa.Float(), nullable=True),
        sa.Column("requested_s", sa.BigInteger(), nullable=False),
        sa.Column("finished_s", sa.BigInteger(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=True),
        sa.Column("message", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_fit_request_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_request")),
    )
    op.create_index("ix_fit_request_finished", "fit_request", ["finished_s"], unique=False)
    op.create_table(
        "forecast",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household_id", SERIAL, nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("issued_s", sa.BigInteger(), nullable=False),
        sa.Column("inputs", sa.Text(), nullable=False),
        sa.Column("etag", sa.Text(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["household_id"], ["household.id"], name=op.f("fk_forecast_household_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast")),
        sa.UniqueConstraint("household_id", "key", name=op.f("uq_forecast_household_id")),
    )


def _access() -> None:
    """Access tokens."""
    op.create_table(
        "token",
        sa.Column("id", SERIAL, autoincrement=True, nullable=False),
        sa.Column("household", sa.Text(), nullable=True),
        sa.Column("scope", sa.Text(), nullable=False),
        sa.Column("hash", sa.Text(), nullable=False),
        sa.Column("created_s", sa.BigInteger(), nullable=False),
        sa.Column("revoked_s", sa.BigInteger(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_token")),
        sa.UniqueConstraint("hash", name=op.f("uq_token_hash")),
    )
