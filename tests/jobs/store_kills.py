"""Kills writers of a store at random moments and looks at what they leave.

A child writes as fast as it can and notes in a file what it is about to do, and again once the store has said that it
is kept. The parent kills it (SIGKILL), opens the store and compares: what was said to be kept must be there, as it was
written; the kills that fell inside a change are counted by what it was. ``python tests/jobs/store_kills.py --kills
210`` runs it at length.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import multiprocessing
import os
import random
import re
import shutil
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
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
from firingend.jobs.change import replay
from firingend.jobs.check import Fault, check
from firingend.jobs.database import Database
from firingend.jobs.job import Job
from firingend.jobs.location import Location
from firingend.jobs.migrate import VERSIONS, upgrade
from firingend.jobs.photo_folder import SET_ASIDE
from firingend.jobs.problems import StoreError
from firingend.jobs.store import Store

LONGEST_WAIT = 0.25
"""Seconds from a child's first change to its end, at most."""

LONGEST_MIGRATION = 0.15
LONGEST_MIGRATION_ON_A_SERVER = 0.5

FAILURES = (
    "committed changes lost",
    "corrupt stores",
    "faults after mending",
    "files left after mending",
    "children that failed",
)
"""What must be counted 0 times."""

PRELOADED = (alembic.command, JpegImagePlugin)
"""Loaded before children are made, so that they are killed at work and not while they load."""

OLD_JOBS = 150


class Notes:
    """What a child tells its parent; each line is in the file before the child goes on."""

    def __init__(self, file: Path) -> None:
        self._file = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT)

    def begin(self, what: str) -> None:
        """About to do something."""
        self._write({"begun": what})

    def kept(self, job: Any, path: str = "") -> None:
        """The store has said that a job stands at a revision, with this value at a path."""
        self._write({"job": job.id, "revision": job.revision, "path": path, "value": job.fields.get(path)})

    def done(self) -> None:
        """Done with something that leaves no change behind."""
        self._write({"done": True})

    def _write(self, note: dict[str, object]) -> None:
        os.write(self._file, (json.dumps(note) + "\n").encode())


def write_jobs(location: Location, seed: int, notes_file: Path, bundle: Path | None) -> None:
    """What a child does until it is killed: open jobs, change them, take changes back, add photographs."""
    chance = random.Random(seed)
    notes = Notes(notes_file)
    scratch = notes_file.with_suffix(f".{os.getpid()}")
    with Store(location, backups=False) as store:
        notes.begin("new job")
        job = store.new_job({"name": f"job {seed}"}, "ab")
        notes.kept(job, "name")
        while True:
            if bundle is not None:
                fresh = _as_new_job(bundle, scratch.with_suffix(".zip"), chance)
                notes.begin("import")
                notes.kept(read_bundle(store, fresh).job, "name")
            else:
                job = _one_change(store, job, notes, chance, scratch.with_suffix(".jpg"))


def _one_change(store: Store, job: Job, notes: Notes, chance: random.Random, photo: Path) -> Job:
    what = chance.random()
    if what < 0.30:
        key = f"notes/{new_key()}"
        notes.begin("note")
        job = store.change(job, {key: to_json("notes/a", Note("x" * chance.randrange(3000)))}, "ab", "note")
        notes.kept(job, key)
    elif what < 0.70:
        _photo(photo, chance)
        notes.begin("photograph")
        job, key = store.add_photo(job, photo)
        notes.kept(job, f"photos/{key}")
    elif what < 0.78:
        notes.begin("status")
        job = store.change(job, {"status": chance.choice(("open", "waiting", "fixed"))})
        notes.kept(job, "status")
    elif what < 0.86 and job.revision > 1:
        notes.begin("undo")
        with contextlib.suppress(StoreError):
            job = store.undo(job.id)
        notes.kept(job)
    elif what < 0.93:
        notes.begin("backup")
        make_backup(store.database, store.location.backups, store.now())
        notes.done()
    else:
        notes.begin("new job")
        job = store.new_job({"name": f"job {chance.random()}"}, "ab")
        notes.kept(job, "name")
    return job


def migrate(location: Location, seed: int, notes_file: Path, bundle: Path | None) -> None:
    """What a child does in the other kind of trial: open a store of an older version."""
    del seed, bundle
    notes = Notes(notes_file)
    notes.begin("migration")
    Store(location, backups=False).close()
    notes.done()


class Trials:
    """A series of kills on one store, and what came of them."""

    def __init__(self, location: Location, scratch: Path, seed: int) -> None:
        self.location = location
        self.counts: Counter[str] = Counter()
        self.faults: list[Fault] = []
        self.strangers: list[Path] = []
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
        seen = len(self._lines())
        for _ in self._until_killed(kills):
            self._run_and_kill(write_jobs, self._bundle if imports else None, self._notes)
            lines = self._lines()
            self._check(lines[seen:])
            seen = len(lines)
        self._check(self._lines(), again=True)

    def kill_the_server(self, kills: int) -> None:
        """Kill PostgreSQL itself under a child that writes, start it again, and check the store."""
        from postgres_server import kill, start_again

        url = self.location.url
        assert url is not None
        seen = len(self._lines())
        for _ in range(kills):
            self._run_and_kill(write_jobs, None, self._notes, before_the_end=lambda: kill(url))
            self.counts["kills of the server"] += 1
            start_again(url)
            lines = self._lines()
            self._check(lines[seen:])
            seen = len(lines)

    def _lines(self) -> list[str]:
        return self._notes.read_text(encoding="utf-8").splitlines() if self._notes.exists() else []

    def kill_migrations(self, kills: int) -> None:
        """Kill children that bring an older database up to date, and check that nothing is half done."""
        ready = self._scratch / "started"
        # Photographs of the other trials would be strays beside another database.
        location = replace(self.location, folder=self._scratch / "old")
        for _ in self._until_killed(kills):
            location.folder.mkdir(exist_ok=True)
            make_old(location)
            longest = LONGEST_MIGRATION_ON_A_SERVER if location.url else LONGEST_MIGRATION
            self._run_and_kill(migrate, None, ready, location, longest)
            self._count_begun(ready.read_text(encoding="utf-8").splitlines())
            database = Database(location.url, location.database)
            with database.read() as connection:
                version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
                names = connection.execute(text("SELECT name FROM jobs ORDER BY number")).scalars().all()
            database.close()
            self.counts[f"killed at version {version}"] += 1
            if version not in VERSIONS or names != [f"old {i}" for i in range(OLD_JOBS)]:
                self.counts["corrupt stores"] += 1
            with Store(location, backups=False) as store:
                check(store, mend=True)
                if (faults := check(store).faults) or len(store.list()) == 0:
                    self.counts["corrupt stores"] += 1
                    self.faults += faults
            self._leftovers(location)
            ready.unlink(missing_ok=True)

    def _until_killed(self, kills: int) -> Iterator[int]:
        """Trials until so many children were killed; one that had ended by itself does not count."""
        goal = self.counts["kills"] + kills
        for trial in range(3 * kills + 10):
            if self.counts["kills"] == goal:
                return
            yield trial
        raise AssertionError("children end by themselves too often")

    def _run_and_kill(
        self,
        work: Callable[..., None],
        bundle: Path | None,
        notes: Path,
        location: Location | None = None,
        longest: float = LONGEST_WAIT,
        before_the_end: Callable[[], None] | None = None,
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
        if before_the_end is not None:
            before_the_end()
        child.kill()
        child.join()
        if before_the_end is not None:
            return  # it may have noticed that the server is gone
        if child.exitcode == 1:
            self.counts["children that failed"] += 1
        self.counts["kills"] += child.exitcode == -9

    def _check(self, lines: list[str], *, again: bool = False) -> None:
        with Store(self.location, backups=False) as store:
            for note in map(json.loads, lines):
                if "job" in note:
                    self.counts["changes compared at the end" if again else "changes noted"] += 1
                    self.counts["committed changes lost"] += not _is_kept(store, note)
            if not again:
                self._count_begun(lines)
            for fault in check(store).faults:
                known = fault.kind in ("stray file", "unfinished file")
                self.counts[f"left behind: {fault.kind}" if known else "corrupt stores"] += 1
                self.faults += () if known else (fault,)
            check(store, mend=True)
            left = check(store).faults
            self.counts["faults after mending"] += len(left)
            self.faults += left
        self._leftovers(self.location)

    def _count_begun(self, lines: list[str]) -> None:
        """Whether the child was killed inside a change, and what it was."""
        last = json.loads(lines[-1])
        self.counts[f"killed inside: {last['begun']}" if "begun" in last else "killed between changes"] += 1

    def _leftovers(self, location: Location) -> None:
        """Look for what a mended store must not hold, without asking the store."""
        files = [path for path in location.folder.rglob("*") if path.is_file() and SET_ASIDE not in path.parts]
        known = re.compile(
            r"firingend\.db(-wal|-shm)?|photos/([0-9a-f]{2})/\2[0-9a-f]{62}\.jpg|backups/firingend-[^/]*\.db"
        )
        strangers = [path for path in files if not known.fullmatch(path.relative_to(location.folder).as_posix())]
        self.counts["files left after mending"] += len(strangers)
        self.strangers += strangers


def _is_kept(store: Store, note: dict[str, Any]) -> bool:
    """Whether a change that was said to be kept is in the history, with the value it wrote."""
    try:
        history = store.history(note["job"])
    except StoreError:
        return False
    if len(history) < note["revision"]:
        return False
    if not note["path"]:
        return True
    value = replay(history[: note["revision"]]).get(note["path"])
    return bool(value == note["value"])


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
    parser.add_argument("--kills", type=int, default=210, help="half of them of writers, a quarter each of the others")
    parser.add_argument("--postgresql", action="store_true", help="on a PostgreSQL server started for it")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    if not args.postgresql:
        trials = run_all(None, args.kills, args.seed)
    else:
        from postgres_server import fresh_database, running_server

        with running_server(safe=True) as server, fresh_database(server) as url:
            trials = run_all(url, args.kills, args.seed)
    for name in (*FAILURES, *sorted(set(trials.counts) - set(FAILURES))):
        print(f"{name}: {trials.counts[name]}")
    for wrong in (*trials.faults, *trials.strangers):
        print(wrong)
    sys.exit(any(trials.counts[name] for name in FAILURES))


def run_all(url: str | None, kills: int, seed: int) -> Trials:
    """Every kind of trial on a store of its own."""
    scratch = Path(tempfile.mkdtemp(prefix="firingend-kills-"))
    began = time.monotonic()
    try:
        trials = Trials(Location(scratch / "data", url), scratch, seed)
        trials.kill_writers(kills // 2)
        trials.kill_writers(kills // 4, imports=True)
        if url is not None:
            trials.kill_the_server(kills // 4)
        trials.kill_migrations(kills - kills // 2 - kills // 4)
    finally:
        shutil.rmtree(scratch)
    trials.counts["seconds"] = round(time.monotonic() - began)
    return trials


if __name__ == "__main__":
    main()
