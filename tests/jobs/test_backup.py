"""Backups are whole, kept for the stated time, and lead back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from firingend.jobs.backup import DAILY, MONTHLY, WEEKLY, dated, had_their_time, make_backup, restore
from firingend.jobs.location import Location
from firingend.jobs.problems import NewerStoreError, StoreError
from firingend.jobs.store import Store

NOW = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)


def test_a_backup_leads_back(store, clock, make_photo):
    job, _ = store.add_photo(store.new_job({"name": "Pump set"}), make_photo(3))
    backup = make_backup(store.database, store.location.backups, clock())
    job_later = store.change(job, {"status": "closed"})
    store.new_job({"name": "second"})
    restore(store.database, backup, store.location.backups)
    assert [line.number for line in store.list()] == [1]
    assert store.job(1) == job != job_later
    assert store.new_job({"name": "second again"}).number == 2
    assert not list(store.location.backups.glob(".*"))


def test_a_backup_of_an_older_version_leads_back(store, tmp_path):
    from sqlalchemy import text

    from firingend.jobs.database import Database
    from firingend.jobs.migrate import upgrade

    old = Database(None, tmp_path / "old.db")
    with old.write() as connection:
        upgrade(connection, "0001")
        connection.execute(text("UPDATE counters SET value = 41"))
    old.close()
    before = (tmp_path / "old.db").read_bytes()
    store.new_job({"name": "goes"})
    restore(store.database, tmp_path / "old.db", tmp_path / "scratch")
    assert store.list() == ()
    assert store.new_job({"name": "next"}).number == 42
    assert (tmp_path / "old.db").read_bytes() == before


def test_a_backup_that_cannot_be_used_changes_nothing(store, tmp_path):
    from sqlalchemy import text

    job = store.new_job({"name": "Pump set"})
    damaged = tmp_path / "damaged.db"
    damaged.write_bytes(b"SQLite format 3\0" + bytes(5000))
    newer = tmp_path / "newer"
    with Store(Location(newer)) as other, other.database.write() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0999'"))
    for backup, kind in (
        (damaged, StoreError),
        (tmp_path / "none.db", StoreError),
        (newer / "firingend.db", NewerStoreError),
    ):
        with pytest.raises(kind):
            restore(store.database, backup, tmp_path)
    assert store.job(1) == job
    assert not list(tmp_path.glob(".*"))


def test_a_backup_is_made_on_opening_once_a_day(tmp_path):
    location, now = Location(tmp_path), NOW
    for hours, expected in ((0, 1), (23, 1), (25, 2), (49.5, 3)):
        moment = now + timedelta(hours=hours)
        Store(location, clock=lambda moment=moment: moment).close()
        assert len(dated(location.backups)) == expected


def test_retention_keeps_the_newest_of_days_weeks_and_months():
    daily = [(NOW - timedelta(days=i), Path(f"{i}.db")) for i in range(800)]
    gone = set(had_their_time(daily, NOW))
    kept = [int(file.stem) for _, file in daily if file not in gone]
    assert kept[:DAILY] == list(range(DAILY))
    assert DAILY < len(kept) <= DAILY + WEEKLY + MONTHLY
    assert 300 <= max(kept) <= 366
    assert had_their_time([(when, file) for when, file in daily if file not in gone], NOW) == ()


def test_retention_keeps_whatever_is_recent():
    backups = [(NOW - timedelta(hours=hours), Path(f"{hours}.db")) for hours in (0, 1, 47, 49, 50)]
    assert had_their_time(backups, NOW) == (Path("49.db"), Path("50.db"))


def test_a_backup_before_something_is_kept(sqlite_store):
    folder = sqlite_store.location.backups
    old = make_backup(sqlite_store.database, folder, NOW - timedelta(days=900), "restore")
    make_backup(sqlite_store.database, folder, NOW)
    assert old.exists()
