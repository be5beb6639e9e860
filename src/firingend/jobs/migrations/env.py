"""Runs the steps on the connection that the store hands over."""

from __future__ import annotations

from alembic import context

from firingend.jobs.tables import metadata


def run() -> None:
    """Run the steps in the transaction the connection is in."""
    # SQLite can take back a change of schema too, once its driver leaves transactions to us.
    connection = context.config.attributes["connection"]
    context.configure(connection=connection, target_metadata=metadata, transactional_ddl=True)
    context.run_migrations()


if hasattr(context, "config"):  # not while tests only look for examples in here
    run()
