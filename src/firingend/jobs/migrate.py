"""The schema's version: refuse what is newer, bring what is older up to date."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from sqlalchemy import Connection, inspect, text

from firingend.jobs.database import Database
from firingend.jobs.problems import NewerStoreError, StoreError

VERSIONS: Final = ("0001", "0002", "0003")
"""Every version of the schema there was, oldest first; the last one is what this program writes."""


def version_of(connection: Connection) -> str | None:
    """Version of a database's schema; None for an empty database.

    Raises
    ------
    StoreError
        The database holds something else.
    """
    names = set(inspect(connection).get_table_names())
    if "alembic_version" in names:
        version: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        if version is not None:
            return version
    if names - {"alembic_version"}:
        raise StoreError("the database holds tables of another program", "name another data folder or database")
    return None


def bring_up_to_date(database: Database, before: Callable[[str], object] = lambda version: None) -> None:
    """Make the tables in an empty database, or run the steps that an older one lacks, all or none of them.

    Parameters
    ----------
    database
        The database.
    before
        Called with the old version once the write lock is held, to make a backup; not called for an empty one.

    Raises
    ------
    NewerStoreError
        A newer version of the program wrote it.
    """
    with database.read() as connection:
        if version_of(connection) == VERSIONS[-1]:
            return
    with database.write() as connection:
        _wait_for_others(database, connection)
        version = version_of(connection)
        refuse_newer(version, database.shown)
        if version == VERSIONS[-1]:
            return
        if version is not None:
            before(version)
        upgrade(connection)


def refuse_newer(version: str | None, shown: str) -> None:
    """Raise where this program does not know a version."""
    if version is not None and version not in VERSIONS:
        raise NewerStoreError(
            f"{shown} has version {version}, written by a newer firingend; this one knows up to {VERSIONS[-1]}",
            "update firingend; the database was left as it is",
        )


def upgrade(connection: Connection, to: str = VERSIONS[-1]) -> None:
    """Run the steps on a connection whose transaction the caller ends."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "firingend.jobs:migrations")
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, to)
    except (ValueError, LookupError, TypeError, AttributeError) as error:
        raise StoreError(
            f"the database cannot be brought up to date, a card in it is damaged ({error})",
            "restore an older backup; the database was left as it is",
        ) from error


def _wait_for_others(database: Database, connection: Connection) -> None:
    """Let one program at a time migrate; on SQLite the write lock does so already."""
    if database.file is None:
        connection.execute(text("SELECT pg_advisory_xact_lock(1718186597)"))
