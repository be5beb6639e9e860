"""The connection to the database: SQLite in the data folder, or PostgreSQL by URL."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from firingend.jobs.problems import StoreError

BUSY_SECONDS: Final = 30
"""How long a writer waits for another one before it gives up."""

_BUSY_PAUSE: Final = 0.02
"""Seconds between two tries where SQLite does not wait by itself."""

PHOTO_LOCK: Final = 0x66697265
"""Number of the advisory lock between those who add photographs and the one who clears up."""

_SQLITE_DURABLE: Final = (
    # FULL, not NORMAL: what was said to be kept survives a power cut too, not only a killed program.
    "PRAGMA synchronous=FULL",
    "PRAGMA foreign_keys=ON",
)


class Database:
    """One database.

    Parameters
    ----------
    url
        ``postgresql://…``, or None for SQLite.
    file
        The SQLite file; not used with a URL.

    Raises
    ------
    StoreError
        The URL is not one, or its driver is not installed.
    """

    def __init__(self, url: str | None, file: Path) -> None:
        self.file = None if url else file
        self.shown = str(file) if not url else _shown(url)
        try:
            self.engine: Engine = _sqlite(file) if not url else _postgresql(url)
        except ModuleNotFoundError as error:
            raise StoreError(
                f"{self.shown} needs a driver that is not installed", 'pip install "firingend[postgres]"'
            ) from error
        except (ArgumentError, NoSuchModuleError, ValueError) as error:
            raise StoreError(f"{self.shown} is no database URL", "write postgresql://user@host/name") from error

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A transaction that sees one state of the database."""
        with self._translated(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """A transaction that is kept whole or not at all; on SQLite it holds the write lock from its start."""
        with self._translated(), self.engine.connect() as connection:
            connection = connection.execution_options(firingend_writes=True)
            with connection.begin():
                yield connection

    def lock_photos(self, connection: Connection, *, alone: bool = False) -> None:
        """Keep the photo folder and the database in step until the end of a writing transaction.

        On SQLite the write lock does so already.
        """
        if self.file is None:
            function = "pg_advisory_xact_lock" if alone else "pg_advisory_xact_lock_shared"
            connection.execute(text(f"SELECT {function}({PHOTO_LOCK})"))

    def close(self) -> None:
        """Give every connection back."""
        self.engine.dispose()

    @contextmanager
    def _translated(self) -> Iterator[None]:
        try:
            yield
        except DBAPIError as error:
            raise StoreError(f"{self.shown}: {_cause(error)}", _remedy(error)) from error
        except SQLAlchemyError as error:
            raise StoreError(f"{self.shown}: {str(error).splitlines()[0]}", "run firingend store check") from error


def _sqlite(file: Path) -> Engine:
    engine = create_engine(
        URL.create("sqlite", database=str(file)), connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False}
    )

    @event.listens_for(engine, "connect")
    def set_up(connection: sqlite3.Connection, _: object) -> None:
        # The driver would otherwise begin transactions on its own, and not around changes of schema.
        connection.isolation_level = None
        _keep_write_ahead_log(connection)
        for pragma in _SQLITE_DURABLE:
            connection.execute(pragma)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("firingend_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _keep_write_ahead_log(connection: sqlite3.Connection) -> None:
    """Turn the write-ahead log on, waiting for others at the same file.

    A new file changes over once. SQLite refuses that at once, whatever its timeout, while another program holds the
    write lock to do the same.
    """
    give_up = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            return
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > give_up:
                raise
        time.sleep(_BUSY_PAUSE)


def _postgresql(url: str) -> Engine:
    parsed = make_url(url)
    if parsed.get_backend_name() != "postgresql":
        raise ValueError(parsed.drivername)
    # A lost connection is noticed before it is used; a lock that never comes is given up.
    arguments: dict[str, Any] = {"options": f"-c lock_timeout={BUSY_SECONDS}s -c timezone=UTC"}
    engine = create_engine(parsed.set(drivername="postgresql+psycopg"), pool_pre_ping=True, connect_args=arguments)

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if not connection.get_execution_options().get("firingend_writes"):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    return engine


def _shown(url: str) -> str:
    try:
        return make_url(url).render_as_string(hide_password=True)
    except ArgumentError:
        return "the database URL"


def _cause(error: DBAPIError) -> str:
    lines = str(error.orig).strip().splitlines()
    return lines[0] if lines else type(error.orig).__name__


def _remedy(error: DBAPIError) -> str:
    said = str(error.orig).lower()
    if "full" in said or "no space" in said:
        return "free space on the disk and do it again; nothing was changed"
    if "i/o error" in said:
        return "free space on the disk if it is full, else check it; nothing was changed"
    if "locked" in said or "lock timeout" in said or "deadlock" in said:
        return "another program is writing; do it again"
    if "malformed" in said or "not a database" in said:
        return "run firingend store restore with the latest of the backups folder"
    if "readonly" in said or "unable to open" in said or "permission" in said:
        return "check the permissions of the folder"
    if "connect" in said or "could not translate host" in said:
        return "check that the database server runs and the URL is right"
    return "run firingend store check"
