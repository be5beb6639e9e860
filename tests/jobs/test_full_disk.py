"""On a full disk whatever does not fit is refused with the reason, and the store stays as it was."""

from __future__ import annotations

import contextlib
import os
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from firingend.errors import UserError
from firingend.jobs.backup import make_backup
from firingend.jobs.bundle_in import read_bundle
from firingend.jobs.bundle_out import write_bundle
from firingend.jobs.card import Note, to_json
from firingend.jobs.check import check
from firingend.jobs.location import Location
from firingend.jobs.problems import StoreError
from firingend.jobs.store import Store
from firingend.report.files import write_whole

SIZE = 4_000_000
NEVER_ENOUGH = 40_000


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


def snapshot(store):
    rows = [(store.job(line.id), store.history(line.id)) for line in store.list()]
    kept = sorted(str(p) for p in store.location.folder.rglob("*") if p.is_file() and "firingend.db" not in p.name)
    return rows, kept


@pytest.mark.parametrize("free", [0, 4096, 40_000, 120_000, 250_000])
@pytest.mark.parametrize("what", ["photo", "import", "backup", "note", "report", "export"])
def test_a_full_disk_changes_nothing(small_disk, tmp_path, what, free):
    with Store(Location(tmp_path / "source")) as source:
        other = source.new_job({"name": "from elsewhere"})
        for seed in (2, 3):
            other, _ = source.add_photo(other, large_photo(tmp_path, seed))
        write_bundle(source, other, tmp_path / "job.zip")
    with Store(Location(small_disk / "data")) as store:
        job, _ = store.add_photo(store.new_job({"name": "Pump set"}), large_photo(tmp_path))
        acts = {
            "photo": lambda: store.add_photo(job, large_photo(tmp_path, 4)),
            "import": lambda: read_bundle(store, tmp_path / "job.zip"),
            "backup": lambda: make_backup(store.database, store.location.backups, store.now()),
            "note": lambda: store.change(
                job, {f"notes/{i}": to_json("notes/a", Note("x" * 20_000)) for i in range(20)}
            ),
            "report": lambda: write_whole(small_disk / "report.html", bytes(300_000)),
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
            assert free > NEVER_ENOUGH
        filler.unlink()
        assert check(store).faults == ()
        acts[what]()
        assert check(store).faults == ()


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
