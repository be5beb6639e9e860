"""On a full disk whatever does not fit is refused with the reason, and the store stays as it was."""

from __future__ import annotations

import contextlib
import io
import os
import sqlite3
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from store_kills import OLD_JOBS, make_old

from firingend.cli import main
from firingend.engine.build import build_engine
from firingend.errors import UserError
from firingend.jobs.as_case import assess_job
from firingend.jobs.backup import make_backup, restore
from firingend.jobs.bundle_in import read_bundle
from firingend.jobs.bundle_out import write_bundle
from firingend.jobs.card import Note, TypedLabel, to_json
from firingend.jobs.check import check
from firingend.jobs.job import Query
from firingend.jobs.location import Location
from firingend.jobs.move import copy_store
from firingend.jobs.problems import StoreError
from firingend.jobs.store import Store
from firingend.report.html import write_html
from firingend.report.pdf import write_pdf

SIZE = 4_000_000

NEVER_ENOUGH = {"html": 4096, "pdf": 4096, "command": 4096, "thumbnail": 0}
"""Free bytes with which it cannot have worked; 40,000 where not listed."""


@pytest.fixture
def small_disk(tmp_path):
    """A file system of four megabytes."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a small file system cannot be mounted here (needs root)")
    yield disk
    subprocess.run(["umount", "-l", str(disk)], check=True)


def large_photo(folder, seed=1):
    file = folder / f"large-{seed}.jpg"
    noise = np.random.default_rng(seed).integers(0, 256, (500, 600, 3), dtype=np.uint8)
    Image.fromarray(noise).save(file, "JPEG", quality=95)
    return file


def fill(disk, free):
    """Fill the disk up to ``free`` bytes."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as stream, contextlib.suppress(OSError):
        while stream.write(bytes(4096)):
            pass
    os.truncate(filler, max(0, filler.stat().st_size - free))
    return filler


def command(*arguments):
    """What is typed on the command line, where an error is a status and a line."""
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
        status = main([*map(str, arguments)])
    if status:
        assert status == 1
        assert "Traceback" not in said.getvalue()
        raise UserError(said.getvalue(), "as it said")


def snapshot(store):
    rows = [(store.job(line.id), store.history(line.id)) for line in store.list()]
    kept = sorted(str(p) for p in store.location.folder.rglob("*") if p.is_file() and "firingend.db" not in p.name)
    return rows, kept


@pytest.mark.parametrize("free", [0, 4096, 40_000, 120_000, 250_000])
@pytest.mark.parametrize(
    "what", ["photo", "import", "backup", "restore", "note", "thumbnail", "html", "pdf", "command", "export"]
)
def test_a_full_disk_changes_nothing(small_disk, tmp_path, what, free):
    with Store(Location(tmp_path / "source")) as source:
        other = source.new_job({"name": "from elsewhere"})
        for seed in (2, 3):
            other, _ = source.add_photo(other, large_photo(tmp_path, seed))
        write_bundle(source, other, tmp_path / "job.zip")
    with Store(Location(small_disk / "data")) as store:
        engine = to_json("engine", build_engine(2, name="pump engine"))
        label = to_json("typed/a", TypedLabel(1, "wet"))
        job = store.new_job({"name": "Pump set", "engine": engine, "typed/a": label})
        job, key = store.add_photo(job, large_photo(tmp_path))
        photo = store.photos_of(job)[key]
        older = make_backup(store.database, tmp_path / "backups", store.now())
        store.change(job, {"status": "waiting"})
        outcome = assess_job(store, job)
        acts = {
            "photo": lambda: store.add_photo(job, large_photo(tmp_path, 4)),
            "import": lambda: read_bundle(store, tmp_path / "job.zip"),
            "backup": lambda: make_backup(store.database, store.location.backups, store.now()),
            "note": lambda: store.change(
                job, {f"notes/{i}": to_json("notes/a", Note("x" * 20_000)) for i in range(20)}
            ),
            "restore": lambda: restore(store.database, older, store.location.backups),
            "thumbnail": lambda: store.photo_folder.thumbnail(photo.sha256, photo.suffix),
            "html": lambda: write_html(outcome, small_disk / "report.html"),
            "pdf": lambda: write_pdf(outcome, small_disk / "report.pdf"),
            "command": lambda: command("job", "export", 1, small_disk / "report.html", "--data", small_disk / "data"),
            "export": lambda: write_bundle(store, job, small_disk / "job.zip"),
        }
        filler = fill(small_disk, free)
        before = snapshot(store)
        try:
            acts[what]()
        except UserError as error:
            assert error.remedy
            assert any(word in str(error).lower() for word in ("full", "space", "i/o"))
            assert snapshot(store) == before
            assert sorted(path.name for path in small_disk.iterdir()) == ["data", "filler"]
        else:
            assert free > NEVER_ENOUGH.get(what, 40_000)
        filler.unlink()
        assert check(store).faults == ()
        acts[what]()
        assert check(store).faults == ()


@pytest.mark.parametrize("free", [0, 4096, 40_000, 120_000])
def test_a_full_disk_keeps_the_old_version_where_it_cannot_be_migrated(small_disk, free):
    location = Location(small_disk / "data")
    location.folder.mkdir()
    make_old(location)
    before = read_old(location)
    filler = fill(small_disk, free)
    with pytest.raises(StoreError, match=r"full|space|I/O"):
        Store(location)
    filler.unlink()
    assert read_old(location) == before
    with Store(location) as store:
        assert len(store.list(Query(most=1000))) == OLD_JOBS
        assert check(store).faults == ()


@pytest.mark.parametrize("free", [0, 40_000, 300_000])
def test_a_store_does_not_move_onto_a_full_disk(small_disk, tmp_path, free):
    with Store(Location(tmp_path / "data"), backups=False) as store:
        job = store.new_job({"name": "Pump set"})
        for seed in (1, 2, 3):
            job, _ = store.add_photo(job, large_photo(tmp_path, seed))
        before = snapshot(store)
        fill(small_disk, free)
        with pytest.raises(StoreError, match=r"full|space|I/O"):
            copy_store(store, Location(small_disk / "data"))
        assert snapshot(store) == before
        assert check(store).faults == ()


def read_old(location):
    with contextlib.closing(sqlite3.connect(location.database)) as connection:
        return [connection.execute(f"SELECT * FROM {name}").fetchall() for name in ("alembic_version", "jobs")]


def test_a_full_disk_does_not_keep_anybody_from_looking(small_disk, tmp_path):
    location = Location(small_disk / "data")
    with Store(location, backups=False) as store:
        store.new_job({"name": "Pump set"})
    fill(small_disk, 65_536)
    with Store(location) as store:
        assert store.job(1).card.name == "Pump set"
    fill(small_disk, 0)
    with pytest.raises(StoreError, match="free space"):
        Store(location)


def test_the_filler_fills(small_disk):
    fill(small_disk, 0)
    with pytest.raises(OSError, match="No space"):
        Path(small_disk / "more").write_bytes(bytes(8192))
