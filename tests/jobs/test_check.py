"""A check finds whatever is not as it should be, and mending loses nothing."""

from __future__ import annotations

import os

import pytest
from sqlalchemy import text

from firingend.jobs.check import check
from firingend.jobs.job import Query
from firingend.jobs.unfinished import beside, writer_mark


@pytest.fixture
def job_with_photo(store, make_photo):
    return store.add_photo(store.new_job({"name": "Pump set", "customer": "yard"}), make_photo(5))


def kinds(result):
    return sorted(fault.kind for fault in result.faults)


def run(store, statement):
    with store.database.write() as connection:
        connection.execute(text(statement))


def test_a_sound_store_has_no_faults(store, job_with_photo):
    result = check(store)
    assert (result.faults, result.jobs, result.changes, result.photos, result.sound) == ((), 1, 2, 1, True)


@pytest.mark.parametrize("spoil", ["UPDATE jobs SET fields = '{}'", "UPDATE jobs SET status = 'closed'"])
def test_a_card_is_made_again_from_its_history(store, job_with_photo, spoil):
    job, _ = job_with_photo
    run(store, spoil)
    assert kinds(check(store)) == ["card"]
    assert check(store, mend=True).sound
    assert check(store).faults == ()
    assert store.job(job.number) == job
    assert [line.status for line in store.list()] == ["open"]


def test_the_index_is_made_again_from_the_cards(store, job_with_photo):
    run(store, "DELETE FROM terms")
    run(store, "DELETE FROM job_photos")
    assert kinds(check(store)) == ["index"]
    assert store.list(Query(words="pump")) == ()
    assert check(store, mend=True).sound
    assert len(store.list(Query(words="pump"))) == 1
    assert check(store).faults == ()


def test_a_damaged_history_is_told_and_left_alone(store, job_with_photo):
    run(store, "DELETE FROM changes WHERE revision = 1")
    for result in (check(store), check(store, mend=True), check(store)):
        assert kinds(result) == ["card"]
        assert not result.sound
    assert store.job(1).card.name == "Pump set"


def test_missing_and_damaged_photographs_are_told(store, job_with_photo, make_photo):
    job, key = job_with_photo
    kept = store.photos_of(job)[key]
    original = kept.file.read_bytes()
    kept.file.write_bytes(original[:-1] + b"x")
    assert kinds(check(store)) == ["damaged photograph"]
    kept.file.unlink()
    assert kinds(check(store)) == ["missing photograph"]
    assert kinds(check(store, mend=True)) == ["missing photograph"]
    store.add_photo(job, make_photo(5, "again.jpg"))
    assert check(store).faults == ()


def test_stray_files_are_set_aside_and_come_back_when_needed(store, job_with_photo, monkeypatch):
    job, key = job_with_photo
    kept = store.photos_of(job)[key]
    stray = kept.file.parent / "notes.txt"
    stray.write_text("hello", encoding="utf-8")
    with monkeypatch.context() as killed:
        killed.setattr(os, "getpid", lambda: 999_999_999)
        (store.location.photos / "incoming" / writer_mark()).write_bytes(b"half")
        beside(store.location.backups / "firingend.db").parent.mkdir(exist_ok=True)
        beside(store.location.backups / "firingend.db").write_bytes(b"half")
    assert kinds(check(store)) == ["stray file", "unfinished file", "unfinished file"]
    result = check(store, mend=True)
    assert result.sound
    assert len(result.faults) == 3
    assert (store.location.folder / "set-aside" / "notes.txt").read_text(encoding="utf-8") == "hello"
    assert check(store).faults == ()
    kept.file.rename(store.location.folder / "set-aside" / kept.file.name)
    assert kinds(check(store, mend=True)) == ["missing photograph"]
    assert check(store).faults == ()


def test_a_file_that_another_program_is_writing_is_left_alone(store, make_photo):
    with store.photo_folder.take_in(make_photo(5)) as incoming:
        assert check(store, mend=True).faults == ()
        assert incoming.file.exists()
    assert not incoming.file.exists()


def test_a_damaged_database_file_is_told(sqlite_store, make_photo):
    for i in range(40):
        sqlite_store.new_job({"name": f"job {i}", "complaint": "shakes " * 500})
    sqlite_store.close()
    with sqlite_store.database.write() as connection:
        connection.execute(text("SELECT 1"))
    sqlite_store.close()
    file = sqlite_store.location.database
    data = bytearray(file.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 40] = b"\xff" * 40
    file.write_bytes(bytes(data))
    try:
        found = [fault.kind for fault in check(sqlite_store).faults]
    except Exception as error:  # a page the check itself must read
        found = [str(error)]
    assert any("database" in each or "malformed" in each for each in found)
