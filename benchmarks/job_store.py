"""How long a shop waits for its list, a search and a card, with few jobs and with many.

``python benchmarks/job_store.py`` makes a store of 1,000 jobs and one of 10,000 with 60,000 photographs in the index
(rows only, no files), and measures both by turns in one run: median and 95th percentile of ``--rounds`` calls each.
``--worst`` adds the searches known to grow with the store. It ends with 1 where anything measured is over the bar.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from firingend.engine.build import build_engine
from firingend.jobs import tables
from firingend.jobs.card import JobReading, Status, to_json
from firingend.jobs.job import Job, Query
from firingend.jobs.location import Location
from firingend.jobs.rows import dump, insert_job, stamp
from firingend.jobs.store import Store
from firingend.labels import LABELS, PARTS, SIGNS
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Zone

PHOTOS = 6
NAMES = ("pump", "saw", "tractor", "boat", "quad", "mower", "generator", "kart", "van", "press")
COMPLAINTS = ("shakes at idle", "hard to start when cold", "smokes under load", "stalls at lights", "misses uphill")
STATUSES: tuple[Status, ...] = ("open", "waiting", "fixed", "proved", "closed")
END = FiringEnd((0.0, 0.0, 900.0, 900.0), (0.0, -1.0), 0.9)
QUALITY = Quality(300.0, 0.01, 0.02, 118.0, 3.5)
ZONES = tuple(Zone(part, (), 0.15, (60.0, 8.0, 12.0), "rag", 0.8) for part in PARTS[1:])


def _reading(label: str) -> object:
    probabilities = {each: 0.84 if each == label else 0.04 for each in LABELS}
    signs = dict.fromkeys(SIGNS, 0.02)
    reading = Reading(END, label, probabilities, signs=signs, quality=QUALITY, zones=ZONES, severity=0.4)
    return to_json("readings/a", JobReading(PhotoReading(Path("plug.jpg"), 4000, 3000, QUALITY, (reading,)), "1"))


_READINGS = {label: _reading(label) for label in LABELS}
BEGAN = datetime(2020, 1, 1, tzinfo=UTC)
BAR_MS = 60.0
BAR_RATIO = 2.0


def fill(store: Store, jobs: int) -> None:
    """Write jobs with a history, photographs, readings, labels and causes, as a shop's years would leave them."""
    chance = random.Random(1)
    with store.database.write() as connection:
        for number in range(1, jobs + 1):
            opened = BEGAN + timedelta(hours=6 * number)
            fields = _fields(chance, number)
            photos = [value["sha256"] for path, value in fields.items() if path.startswith("photos/")]
            rows = [
                {"sha256": each, "suffix": ".jpg", "bytes": 3_000_000, "added_at": stamp(opened), "absent": False}
                for each in photos
            ]
            connection.execute(insert(tables.photos), rows)
            insert_job(connection, Job(f"{number:032x}", store.next_number(connection), 8, opened, opened, fields))
            changes = [
                {
                    "job_id": f"{number:032x}",
                    "revision": revision,
                    "at": stamp(opened),
                    "who": "ab",
                    "what": "changed",
                    "edits": dump([["status", None, "open"]]),
                }
                for revision in range(1, 9)
            ]
            connection.execute(insert(tables.changes), changes)


def _fields(chance: random.Random, number: int) -> dict[str, Any]:
    name = f"{chance.choice(NAMES)} engine {chance.randrange(400)}"
    fields: dict[str, Any] = {
        "name": f"job for {name}",
        "customer": f"yard {number % 997}",
        "engine": to_json("engine", build_engine(4, name=name)),
        "mark": f"INV-{number}",
        "complaint": chance.choice(COMPLAINTS),
        "status": STATUSES[number % 5],
        "found/a": {"cause": f"cause-{chance.randrange(60)}", "where": "cylinder 1"},
    }
    for i in range(PHOTOS):
        key = f"{i:014x}-{number:08x}"
        fields[f"photos/{key}"] = {
            "sha256": f"{number * 16 + i:064x}",
            "name": f"plug-{i}.jpg",
            "cylinders": [i % 4 + 1],
            "across": True,
            "stage": "before" if i < 4 else "after",
            "taken": None,
        }
        fields[f"readings/{key}"] = _READINGS[chance.choice(LABELS)]
    return fields


def acts(store: Store, jobs: int) -> dict[str, Callable[[int], object]]:
    """What is measured, by name; the number makes every call another one."""

    def show(i: int) -> object:
        job = store.job(1 + i * 7919 % jobs)
        return job.card, store.photos_of(job), store.history(job.id)

    def open_store(_: int) -> object:
        with Store(store.location, backups=False) as opened:
            return opened.list()

    return {
        "open store and list": open_store,
        "open list": lambda i: store.list(),
        "list, one status": lambda i: store.list(Query(status=STATUSES[i % 5])),
        "search, common word": lambda i: store.list(Query(words=NAMES[i % 10])),
        "search, two beginnings": lambda i: store.list(Query(words=f"{NAMES[i % 10][:3]} sha")),
        "search, customer": lambda i: store.list(Query(customer=f"yard {i % 997}")),
        "search, mark": lambda i: store.list(Query(mark=f"inv-{1 + i * 7919 % jobs}")),
        "search, label and cause": lambda i: store.list(Query(label=LABELS[i % 5], cause=f"cause-{i % 60}")),
        "search, label and state": lambda i: store.list(Query(label=LABELS[i % 5], status=STATUSES[i % 4])),
        "search, one letter": lambda i: store.list(Query(words="psthbymgkv"[i % 10])),
        "search, before a date": lambda i: store.list(Query(opened_before=_day(3 + i % 10))),
        "between two dates": lambda i: store.list(Query(opened_from=_day(3 + i % 10), opened_before=_day(20 + i % 10))),
        "two dates and label": lambda i: store.list(
            Query(opened_from=_day(3 + i % 10), opened_before=_day(20 + i % 10), label=LABELS[i % 5])
        ),
        "before a date, state": lambda i: store.list(Query(opened_before=_day(20 + i % 10), status=STATUSES[i % 5])),
        "before a date, word": lambda i: store.list(Query(opened_before=_day(20 + i % 10), words=NAMES[i % 10])),
        "search, nothing found": lambda i: store.list(Query(words="zzz")),
        "show a job": show,
    }


def worst_acts(store: Store) -> dict[str, Callable[[int], object]]:
    """Searches that have to look at every entry of a word that a fixed share of all jobs has."""
    never = ("pump saw", "shakes hard", "kart van", "stalls smokes")
    return {
        "two words, never both": lambda i: store.list(Query(words=never[i % 4])),
        "a word of every job": lambda i: store.list(Query(words="engine"[: 3 + i % 4])),
        "two single letters": lambda i: store.list(Query(words=f"{'psthbymgk'[i % 9]} {'shm'[i % 3]}")),
    }


def _day(days: int) -> datetime:
    return BEGAN + timedelta(days=days)


def main() -> None:
    """Measure and print; ends with 1 where something is over the bar."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--jobs", type=int, nargs=2, default=(1_000, 10_000))
    parser.add_argument("--worst", action="store_true", help="also searches known to grow with the store")
    parser.add_argument("--json", type=Path, help="also write the figures into this file")
    args = parser.parse_args()
    scratch = Path(tempfile.mkdtemp(prefix="firingend-bench-"))
    stores = [Store(Location(scratch / str(jobs)), backups=False) for jobs in args.jobs]
    for store, jobs in zip(stores, args.jobs, strict=True):
        began = time.perf_counter()
        fill(store, jobs)
        print(f"{jobs} jobs, {jobs * PHOTOS} photographs: written in {time.perf_counter() - began:.0f} s")
    tasks = [acts(store, jobs) for store, jobs in zip(stores, args.jobs, strict=True)]
    if args.worst:
        tasks = [{**each, **worst_acts(store)} for store, each in zip(stores, tasks, strict=True)]
    figures, met = {}, True
    print(f"{'':24}  few: median, p95 ms   many: median, p95 ms   ratio")
    for name in tasks[0]:
        times: tuple[list[float], list[float]] = ([], [])
        for i in range(args.rounds):
            for task, taken in zip(tasks, times, strict=True):
                began = time.perf_counter()
                task[name](i)
                taken.append((time.perf_counter() - began) * 1000)
        few, many = (statistics.median(taken) for taken in times)
        slow = [statistics.quantiles(taken, n=20)[-1] for taken in times]
        figures[name] = {"few_ms": few, "many_ms": many, "few_p95_ms": slow[0], "many_p95_ms": slow[1]}
        within = many <= BAR_MS and many <= BAR_RATIO * few
        met &= within
        verdict = "" if within else "  over the bar"
        print(f"{name:24}  {few:8.2f} {slow[0]:8.2f}     {many:8.2f} {slow[1]:8.2f}     {many / few:5.2f}{verdict}")
    for store in stores:
        store.close()
    shutil.rmtree(scratch)
    if args.json:
        args.json.write_text(json.dumps({"jobs": args.jobs, "rounds": args.rounds, **figures}, indent=2) + "\n")
    sys.exit(not met)


if __name__ == "__main__":
    main()
