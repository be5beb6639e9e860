"""Cards, their changes and their photographs."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(32), primary_key=True),
        sa.Column("number", sa.Integer, nullable=False, unique=True),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("opened_at", sa.String(32), nullable=False),
        sa.Column("changed_at", sa.String(32), nullable=False),
        sa.Column("status", sa.String(16), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("customer", sa.Text, nullable=False),
        sa.Column("engine", sa.Text, nullable=False),
        sa.Column("photos", sa.Integer, nullable=False),
        sa.Column("fields", sa.Text, nullable=False),
    )
    op.create_index("jobs_by_status", "jobs", ["status", "number"])
    op.create_table(
        "changes",
        sa.Column("job_id", sa.String(32), sa.ForeignKey("jobs.id"), primary_key=True),
        sa.Column("revision", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(32), nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("undoes", sa.Integer),
        sa.Column("edits", sa.Text, nullable=False),
    )
    op.create_table(
        "photos",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("suffix", sa.String(8), nullable=False),
        sa.Column("bytes", sa.BigInteger, nullable=False),
        sa.Column("added_at", sa.String(32), nullable=False),
        sa.Column("copy_of", sa.String(64)),
        sa.Column("absent", sa.Boolean, nullable=False),
    )
    op.create_table(
        "job_photos",
        sa.Column("job_id", sa.String(32), sa.ForeignKey("jobs.id"), primary_key=True),
        sa.Column("key", sa.String(80), primary_key=True),
        sa.Column("sha256", sa.String(64), sa.ForeignKey("photos.sha256"), nullable=False, index=True),
    )
    counters = op.create_table(
        "counters",
        sa.Column("name", sa.String(32), primary_key=True),
        sa.Column("value", sa.BigInteger, nullable=False),
    )
    op.bulk_insert(counters, [{"name": "job", "value": 0}])
