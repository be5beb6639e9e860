"""One number to order jobs by the time they were opened, in the index of words too: dates are searched by index."""

from __future__ import annotations

from datetime import datetime

import sqlalchemy as sa
from alembic import op

from firingend.jobs.rows import first_sort_key

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Give every job its number, and make the index of words anew with it."""
    # A column that is added needs a default on SQLite; the index without doubles sees to it that none keeps it.
    op.add_column("jobs", sa.Column("sort_key", sa.BigInteger, nullable=False, server_default="0"))
    _number_jobs()
    op.create_index("jobs_by_sort_key", "jobs", ["sort_key"], unique=True)
    op.drop_index("jobs_by_status", "jobs")
    op.create_index("jobs_by_status", "jobs", ["status", "sort_key"])
    _index_anew()


def _number_jobs() -> None:
    connection = op.get_bind()
    taken: set[int] = set()
    for number, opened_at in connection.execute(sa.text("SELECT number, opened_at FROM jobs ORDER BY number")).all():
        key = first_sort_key(datetime.fromisoformat(opened_at))
        while key in taken:
            key += 1
        taken.add(key)
        connection.execute(
            sa.text("UPDATE jobs SET sort_key = :key WHERE number = :number"), {"key": key, "number": number}
        )


def _index_anew() -> None:
    """Fill a new table from the old one; no card is read for it, so a damaged one does not matter."""
    op.execute("CREATE TEMPORARY TABLE old_terms AS SELECT kind, value, number FROM terms")
    op.drop_table("terms")
    op.create_table(
        "terms",
        sa.Column("kind", sa.String(16), primary_key=True),
        sa.Column("value", sa.String(120).with_variant(sa.String(120, collation="C"), "postgresql"), primary_key=True),
        sa.Column("sort_key", sa.BigInteger, sa.ForeignKey("jobs.sort_key"), primary_key=True, autoincrement=False),
    )
    op.execute(
        "INSERT INTO terms (kind, value, sort_key) SELECT old_terms.kind, old_terms.value, jobs.sort_key "
        "FROM old_terms JOIN jobs ON jobs.number = old_terms.number ORDER BY 1, 2, 3"
    )
    op.execute("DROP TABLE old_terms")
    op.create_index("terms_by_job", "terms", ["sort_key", "kind", "value"])
