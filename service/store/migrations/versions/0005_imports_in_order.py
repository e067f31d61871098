"""Imports in the order in which they were kept, also within a second."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

EARLIER = """
UPDATE import_batch SET nth = (
    SELECT count(*) FROM import_batch AS earlier
    WHERE earlier.household_id = import_batch.household_id
    AND (earlier.imported_s, earlier.{tie}) <= (import_batch.imported_s, import_batch.{tie})
)
"""


def upgrade() -> None:
    """Number each household's imports; within a second SQLite still knows which came first, and others do not."""
    op.add_column("import_batch", sa.Column("nth", sa.BigInteger(), nullable=False, server_default="0"))
    op.execute(EARLIER.format(tie="rowid" if op.get_bind().dialect.name == "sqlite" else "id"))
    op.drop_index("ix_import_batch_household", "import_batch")
    op.create_index("uq_import_batch_nth", "import_batch", ["household_id", "nth"], unique=True)
