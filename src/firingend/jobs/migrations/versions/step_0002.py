"""Words to search cards by, taken from the cards there are."""

from __future__ import annotations

import json

import sqlalchemy as sa
from alembic import op

from firingend.jobs.search_terms import terms_of

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the index and fill it."""
    terms = op.create_table(
        "terms",
        sa.Column("kind", sa.String(16), primary_key=True),
        # Beginnings of words are looked up as a range, which needs the order of the code points.
        sa.Column("value", sa.String(120).with_variant(sa.String(120, collation="C"), "postgresql"), primary_key=True),
        sa.Column("number", sa.Integer, sa.ForeignKey("jobs.number"), primary_key=True, autoincrement=False),
    )
    op.create_index("terms_by_number", "terms", ["number", "kind", "value"])
    connection = op.get_bind()
    jobs = connection.execute(sa.text("SELECT number, fields FROM jobs ORDER BY number")).all()
    for number, fields in jobs:
        rows = [{"kind": kind, "value": value, "number": number} for kind, value in terms_of(json.loads(fields))]
        if rows:
            op.bulk_insert(terms, rows)
