"""Dated copies of the database, kept for a stated time, and the way back."""

from __future__ import annotations

import contextlib
import os
import secrets
import sqlite3
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, MetaData, insert, select
from sqlalchemy.schema import Table

from firingend.jobs import tables
from firingend.jobs.database import Database
from firingend.jobs.migrate import bring_up_to_date, refuse_newer, upgrade, version_of
from firingend.jobs.photo_folder import sync_folder
from firingend.jobs.problems import StoreError
from firingend.jobs.unfinished import PART, beside, left_behind, writer_mark

RECENT: Final = timedelta(days=2)
"""Every backup younger than this is kept."""

DAILY, WEEKLY, MONTHLY = 7, 5, 12
"""Of the older ones, the newest of each of the last days, weeks and months there is one of."""

DUE: Final = timedelta(hours=24)

_STAMP: Final = "%Y-%m-%dT%H%M%SZ"
_ROWS: Final = 500
_RESTORING: Final = ".restore-"


def make_backup(database: Database, folder: Path, now: datetime, before: str = "") -> Path:
    """Copy the database into a dated file and drop the backups that have had their time.

    Parameters
    ----------
    database
        SQLite or PostgreSQL; the copy is an SQLite file in either case.
    folder
        Of the backups.
    now
        The time in UTC.
    before
        What is about to be done to the database, such as ``restore``, or the version it is brought up to date from:
        such a copy is kept until somebody deletes it.

    Raises
    ------
    StoreError
        The copy cannot be written, as on a full disk; no half copy is left behind.
    """
    name = f"firingend-{now.strftime(_STAMP)}{f'-before-{before}' if before else ''}.db"
    file = folder / name
    if file.exists():
        file = folder / name.replace(".db", f"-{secrets.token_hex(2)}.db")
    copy_database(database, file)
    if not before:
        for old in had_their_time(dated(folder), now):
            with contextlib.suppress(OSError):
                old.unlink()
    return file


def copy_database(database: Database, file: Path) -> None:
    """Copy a database into a new SQLite file: whole, checked, or not at all."""
    unfinished = beside(file)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        if database.file is not None:
            _copy_pages(database.file, unfinished)
        else:
            _copy_rows_out(database, unfinished)
        with unfinished.open("rb+") as stream:
            os.fsync(stream.fileno())
        unfinished.replace(file)
        sync_folder(file.parent)
    except (OSError, sqlite3.Error) as error:
        cause = error.strerror if isinstance(error, OSError) else str(error)
        raise StoreError(f"the backup {file} could not be written ({cause})", "free space on the disk") from error
    finally:
        for left in (unfinished, *unfinished.parent.glob(f"{unfinished.name}-*")):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def backup_due(folder: Path, now: datetime) -> bool:
    """Whether the newest backup is more than a day old."""
    newest = max((when for when, _ in dated(folder)), default=None)
    return newest is None or now - newest >= DUE


def dated(folder: Path) -> tuple[tuple[datetime, Path], ...]:
    """The ordinary backups of a folder with their dates, oldest first."""
    found = []
    for file in folder.glob("firingend-*.db"):
        with contextlib.suppress(ValueError):
            stamp = file.stem.removeprefix("firingend-")[:18]
            when = datetime.strptime(stamp, _STAMP).replace(tzinfo=UTC)
            if "-before-" not in file.stem:
                found.append((when, file))
    return tuple(sorted(found))


def unfinished_backups(folder: Path) -> Iterator[Path]:
    """Copies that were begun by a program that is gone."""
    for path in left_behind(folder):
        if path.name.startswith(".") and (PART in path.name or path.name.startswith(_RESTORING)):
            yield path


def had_their_time(backups: Iterable[tuple[datetime, Path]], now: datetime) -> tuple[Path, ...]:
    """Backups that are neither recent nor the newest of one of the days, weeks and months kept."""
    newest_first = sorted((each for each in backups if each[0] <= now), reverse=True)
    kept = {file for when, file in newest_first if now - when < RECENT}
    for count, form in ((DAILY, "%Y-%m-%d"), (WEEKLY, "%G-W%V"), (MONTHLY, "%Y-%m")):
        newest_of: dict[str, Path] = {}
        for when, file in newest_first:
            newest_of.setdefault(when.strftime(form), file)
        kept.update(list(newest_of.values())[:count])
    return tuple(file for _, file in newest_first if file not in kept)


def restore(database: Database, backup: Path, scratch: Path) -> None:
    """Make the database hold what a backup holds, in one transaction.

    Parameters
    ----------
    database
        Up to date; whoever has it open sees either the old or the new state.
    backup
        An SQLite file of this or an older version.
    scratch
        A folder for a copy of the backup, which is brought up to date there.

    Raises
    ------
    StoreError
        The backup is missing, damaged, no store or of a newer version; the database was not changed.
    """
    if not backup.is_file():
        raise StoreError(f"there is no backup {backup}", "name one of the files in the backups folder")
    scratch.mkdir(parents=True, exist_ok=True)
    copy = scratch / f"{_RESTORING}{writer_mark()}.db"
    source = None
    try:
        _copy_pages(backup, copy)
        source = Database(None, copy)
        with source.read() as connection:
            version = version_of(connection)
            refuse_newer(version, str(backup))
            if version is None:
                raise StoreError(f"{backup} is empty", "name another backup")
        bring_up_to_date(source)
        with source.read() as origin, database.write() as target:
            database.lock_photos(target, alone=True)
            for table in reversed(tables.metadata.sorted_tables):
                target.execute(table.delete())
            copy_rows(origin, target, tables.metadata)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(f"{backup} cannot be restored ({error})", "name another backup") from error
    finally:
        if source is not None:
            source.close()
        for left in (copy, *scratch.glob(f"{copy.name}-*")):
            with contextlib.suppress(OSError):
                left.unlink(missing_ok=True)


def copy_rows(source: Connection, target: Connection, metadata: MetaData) -> None:
    """Copy every row of some tables, parents before children."""
    for table in metadata.sorted_tables:
        for rows in source.execution_options(yield_per=_ROWS).execute(select(table)).partitions():
            _insert(target, table, [row._asdict() for row in rows])


def _insert(target: Connection, table: Table, rows: list[dict[str, object]]) -> None:
    if rows:
        target.execute(insert(table), rows)


def _copy_pages(source: Path, target: Path) -> None:
    """Copy an SQLite file as it is at one moment, and check the copy."""
    origin = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True, timeout=30)
    copy = sqlite3.connect(target)
    try:
        origin.backup(copy)
        # A backup is one file: no log beside it that could get lost.
        copy.execute("PRAGMA journal_mode=DELETE")
        found = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    finally:
        copy.close()
        origin.close()
    if found != "ok":
        raise StoreError(f"{source} is damaged ({found})", "name an older backup")


def _copy_rows_out(database: Database, file: Path) -> None:
    copy = Database(None, file)
    try:
        with database.read() as source:
            version = version_of(source)
            with copy.write() as target:
                upgrade(target, version or "head")
                metadata = MetaData()
                metadata.reflect(target)
                metadata.remove(metadata.tables["alembic_version"])
                for table in reversed(metadata.sorted_tables):
                    target.execute(table.delete())
                copy_rows(source, target, metadata)
    finally:
        copy.close()
    with contextlib.closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
