"""Kills writers of a store at random moments and looks at what they leave.

A child writes as fast as it can and notes each change in a file once the store has said that it is kept. The parent
kills it (SIGKILL), opens the store and compares. ``python tests/jobs/store_kills.py --kills 200`` runs it at length.
"""

from __future__ import annotations

import argparse
import io
import json
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import alembic.command
import numpy as np
from PIL import Image, JpegImagePlugin
from sqlalchemy import text

from firingend.jobs import tables
from firingend.jobs.backup import make_backup
from firingend.jobs.bundle_in import read_bundle
from firingend.jobs.bundle_out import write_bundle
from firingend.jobs.card import Note, new_key, to_json
from firingend.jobs.check import check
from firingend.jobs.database import Database
from firingend.jobs.location import Location
from firingend.jobs.migrate import VERSIONS, upgrade
from firingend.jobs.store import Store

LONGEST_WAIT = 0.08
"""Seconds from a child's first change to its end, at most."""

LONGEST_MIGRATION = 0.2

FAILURES = ("committed changes lost", "corrupt stores", "faults after mending", "children that failed")
"""What must be counted 0 times."""

PRELOADED = (alembic.command, JpegImagePlugin)
"""Loaded before children are made, so that they are killed at work and not while they load."""

OLD_JOBS = 150


def write_jobs(location: Location, seed: int, notes: Path, bundle: Path | None) -> None:
    """What a child does until it is killed: open jobs, change them, take changes back, add photographs."""
    chance = random.Random(seed)
    log = os.open(notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT)

    def note(job: Any, path: str = "") -> None:
        os.write(log, (json.dumps([job.id, job.revision, path]) + "\n").encode())

    with Store(location, backups=False) as store:
        job = store.new_job({"name": f"job {seed}"}, "ab")
        note(job)
        while True:
            if bundle is not None:
                note(read_bundle(store, _as_new_job(bundle, notes.with_suffix(f".{os.getpid()}.zip"), chance)).job)
                continue
            what = chance.random()
            if what < 0.35:
                key = f"notes/{new_key()}"
                job = store.change(job, {key: to_json("notes/a", Note("x" * chance.randrange(3000)))}, "ab", "note")
                note(job, key)
            elif what < 0.75:
                job, key = store.add_photo(job, _photo(notes.with_suffix(f".{os.getpid()}.jpg"), chance))
                note(job, f"photos/{key}")
            elif what < 0.85 and job.revision > 1:
                job = store.change(job, {"status": chance.choice(("open", "waiting", "fixed"))})
                note(job)
            elif what < 0.92:
                make_backup(store.database, location.backups, store.now())
            else:
                job = store.new_job({"name": f"job {seed}"}, "ab")
                note(job)


def migrate(location: Location, seed: int, notes: Path, bundle: Path | None) -> None:
    """What a child does in the other kind of trial: open a store of an older version."""
    del seed, bundle
    notes.write_text("started\n", encoding="utf-8")
    Store(location, backups=False).close()


class Trials:
    """A series of kills on one store, and what came of them."""

    def __init__(self, location: Location, scratch: Path, seed: int) -> None:
        self.location = location
        self.counts: Counter[str] = Counter()
        self._scratch = scratch
        self._seed = seed
        self._chance = random.Random(seed)
        self._notes = scratch / "notes.jsonl"
        self._bundle = scratch / "job.zip"
        self._processes = multiprocessing.get_context("forkserver")
        self._processes.set_forkserver_preload(["store_kills"])
        Store(location, backups=False).close()
        _make_bundle(scratch, self._bundle)

    def kill_writers(self, kills: int, *, imports: bool = False) -> None:
        """Kill children that write, and check the store after each."""
        seen = 0
        for _ in range(kills):
            self._run_and_kill(write_jobs, self._bundle if imports else None, self._notes)
            lines = self._notes.read_text(encoding="utf-8").splitlines()
            self._check(lines[seen:])
            seen = len(lines)
        self._check(self._notes.read_text(encoding="utf-8").splitlines())

    def kill_migrations(self, kills: int) -> None:
        """Kill children that bring an older database up to date, and check that nothing is half done."""
        ready = self._scratch / "started"
        # Photographs of the other trials would be strays beside another database.
        location = replace(self.location, folder=self._scratch / "old")
        for _ in range(kills):
            location.folder.mkdir(exist_ok=True)
            make_old(location)
            self._run_and_kill(migrate, None, ready, location, LONGEST_MIGRATION)
            database = Database(location.url, location.database)
            with database.read() as connection:
                version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
                names = connection.execute(text("SELECT name FROM jobs ORDER BY number")).scalars().all()
            database.close()
            self.counts[f"killed at version {version}"] += 1
            if version not in VERSIONS or names != [f"old {i}" for i in range(OLD_JOBS)]:
                self.counts["corrupt stores"] += 1
            with Store(location, backups=False) as store:
                if check(store).faults or len(store.list()) == 0:
                    self.counts["corrupt stores"] += 1
            ready.unlink(missing_ok=True)

    def _run_and_kill(
        self,
        work: Callable[..., None],
        bundle: Path | None,
        notes: Path,
        location: Location | None = None,
        longest: float = LONGEST_WAIT,
    ) -> None:
        self._seed += 1
        before = notes.stat().st_size if notes.exists() else 0
        child = self._processes.Process(target=work, args=(location or self.location, self._seed, notes, bundle))
        child.start()
        until = time.monotonic() + 60
        while (notes.stat().st_size if notes.exists() else 0) <= before and child.is_alive():
            if time.monotonic() > until:
                break
            time.sleep(0.001)
        time.sleep(self._chance.uniform(0, longest))
        child.kill()
        child.join()
        if child.exitcode == 1:
            self.counts["children that failed"] += 1
        self.counts["kills"] += child.exitcode == -9

    def _check(self, lines: list[str]) -> None:
        with Store(self.location, backups=False) as store:
            for line in lines:
                job_id, revision, path = json.loads(line)
                history = store.history(job_id)
                kept = len(history) >= revision and (
                    not path or any(edit.path == path for edit in history[revision - 1].edits)
                )
                self.counts["changes noted"] += 1
                self.counts["committed changes lost"] += not kept
            for fault in check(store).faults:
                known = fault.kind in ("stray file", "unfinished file")
                self.counts[f"left behind: {fault.kind}" if known else "corrupt stores"] += 1
            check(store, mend=True)
            self.counts["faults after mending"] += len(check(store).faults)


def make_old(location: Location) -> None:
    """Put a database of the first version with some jobs in the place of the one there is."""
    if location.url is None:
        for file in location.folder.glob("firingend.db*"):
            file.unlink()
    database = Database(location.url, location.database)
    with database.write() as connection:
        if location.url is not None:
            connection.execute(text("DROP SCHEMA public CASCADE"))
            connection.execute(text("CREATE SCHEMA public"))
        upgrade(connection, "0001")
        time_ = "2026-01-02T03:04:05.000000+00:00"
        for i in range(OLD_JOBS):
            fields = {"name": f"old {i}", "complaint": " ".join(f"word{j}" for j in range(i, i + 30)), "status": "open"}
            edits = [[path, None, value] for path, value in sorted(fields.items())]
            row = {"id": f"{i:032x}", "number": i + 1, "revision": 1, "opened_at": time_, "changed_at": time_}
            row |= {"status": "open", "name": f"old {i}", "customer": "", "engine": "", "photos": 0}
            connection.execute(tables.jobs.insert(), [{**row, "fields": json.dumps(fields)}])
            change = {"job_id": f"{i:032x}", "revision": 1, "at": time_, "who": "", "what": "job opened"}
            connection.execute(tables.changes.insert(), [{**change, "edits": json.dumps(edits)}])
    database.close()


def _photo(file: Path, chance: random.Random) -> Path:
    noise = np.random.default_rng(chance.getrandbits(32)).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    Image.fromarray(noise).save(file, "JPEG")
    return file


def _make_bundle(scratch: Path, file: Path) -> None:
    chance = random.Random(1)
    with Store(Location(scratch / "source"), backups=False) as store:
        job = store.new_job({"name": "Pump set"})
        for _ in range(3):
            job, _ = store.add_photo(job, _photo(scratch / "photo.jpg", chance))
        write_bundle(store, job, file)


def _as_new_job(bundle: Path, file: Path, chance: random.Random) -> Path:
    """The bundle as that of another job."""
    stream = io.BytesIO()
    with zipfile.ZipFile(bundle) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "job.json":
                card = json.loads(data)
                card["job"]["id"] = f"{chance.getrandbits(128):032x}"
                data = json.dumps(card).encode()
            new.writestr(name, data)
    file.write_bytes(stream.getvalue())
    return file


def main() -> None:
    """Run at length and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200, help="half of them of writers, a quarter each of the others")
    parser.add_argument("--postgresql", action="store_true", help="on a PostgreSQL server started for it")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    if not args.postgresql:
        counts = run_all(None, args.kills, args.seed)
    else:
        from postgres_server import fresh_database, running_server

        with running_server(safe=True) as server, fresh_database(server) as url:
            counts = run_all(url, args.kills, args.seed)
    for name, count in sorted(counts.items()):
        print(f"{name}: {count}")
    sys.exit(any(counts[name] for name in FAILURES))


def run_all(url: str | None, kills: int, seed: int) -> Counter[str]:
    """Every kind of trial on a store of its own."""
    scratch = Path(tempfile.mkdtemp(prefix="firingend-kills-"))
    began = time.monotonic()
    try:
        trials = Trials(Location(scratch / "data", url), scratch, seed)
        trials.kill_writers(kills // 2)
        trials.kill_writers(kills // 4, imports=True)
        trials.kill_migrations(kills - kills // 2 - kills // 4)
    finally:
        shutil.rmtree(scratch)
    trials.counts["seconds"] = round(time.monotonic() - began)
    return trials.counts


if __name__ == "__main__":
    main()
