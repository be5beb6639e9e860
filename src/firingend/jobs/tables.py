"""The tables of the store. What each version of the schema changed stands in ``migrations/versions``.

Everything a card holds is in ``jobs.fields`` (its present state) and ``changes`` (how it came about), as JSON in plain
text columns: SQLite and PostgreSQL store those alike. The other columns and tables are an index over it, which can be
made again from the cards at any time.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

metadata = MetaData()

jobs = Table(
    "jobs",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("number", Integer, nullable=False, unique=True),
    Column("revision", Integer, nullable=False),
    Column("opened_at", String(32), nullable=False),
    Column("changed_at", String(32), nullable=False),
    Column("status", String(16), nullable=False),
    Column("name", Text, nullable=False),
    Column("customer", Text, nullable=False),
    Column("engine", Text, nullable=False),
    Column("photos", Integer, nullable=False),
    Column("fields", Text, nullable=False),
    # Orders jobs by the time they were opened, each its own; never changes, and is made by `rows.insert_job`.
    Column("sort_key", BigInteger, nullable=False, server_default="0"),
)

changes = Table(
    "changes",
    metadata,
    Column("job_id", String(32), ForeignKey("jobs.id"), primary_key=True),
    Column("revision", Integer, primary_key=True, autoincrement=False),
    Column("at", String(32), nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("undoes", Integer),
    Column("edits", Text, nullable=False),
)

photos = Table(
    "photos",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("suffix", String(8), nullable=False),
    Column("bytes", BigInteger, nullable=False),
    Column("added_at", String(32), nullable=False),
    # Hash of the photograph this one is a copy of without its location; copies come in with bundles.
    Column("copy_of", String(64)),
    # True where a bundle could not bring the photograph along.
    Column("absent", Boolean, nullable=False),
)

job_photos = Table(
    "job_photos",
    metadata,
    Column("job_id", String(32), ForeignKey("jobs.id"), primary_key=True),
    Column("key", String(80), primary_key=True),
    Column("sha256", String(64), ForeignKey("photos.sha256"), nullable=False, index=True),
)

terms = Table(
    "terms",
    metadata,
    Column("kind", String(16), primary_key=True),
    # Beginnings of words are looked up as a range, which needs the order of the code points.
    Column("value", String(120).with_variant(String(120, collation="C"), "postgresql"), primary_key=True),
    Column("sort_key", BigInteger, ForeignKey("jobs.sort_key"), primary_key=True, autoincrement=False),
)

counters = Table(
    "counters",
    metadata,
    Column("name", String(32), primary_key=True),
    Column("value", BigInteger, nullable=False),
)

Index("jobs_by_sort_key", jobs.c.sort_key, unique=True)
Index("jobs_by_status", jobs.c.status, jobs.c.sort_key)
Index("terms_by_job", terms.c.sort_key, terms.c.kind, terms.c.value)
