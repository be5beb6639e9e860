"""Several writers on the same few jobs at once, and whether each one's changes are all there afterwards.

Every writer counts a number on a card up (read, add one, write; again where somebody else was faster), writes notes
and adds photographs. ``python tests/jobs/busy_writers.py --seconds 120`` runs it at length on PostgreSQL.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from firingend.jobs.card import Note, new_key, to_json
from firingend.jobs.change import replay
from firingend.jobs.check import check
from firingend.jobs.location import Location
from firingend.jobs.problems import ConflictError
from firingend.jobs.store import Store

JOBS = 3


def write(location: Location, seed: int, seconds: float, scratch: Path, results: Any) -> None:
    """What one writer does; hands on how often it did what, and every error it met."""
    chance = random.Random(seed)
    counts: Counter[str] = Counter()
    errors: list[str] = []
    photo = scratch / f"{seed}.jpg"
    with Store(location, backups=False) as store:
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            number = chance.randrange(JOBS) + 1
            try:
                what = chance.random()
                if what < 0.5:
                    counts[f"conflicts {number}"] += _count_up(store, number, f"w{seed}")
                    counts[f"counted {number}"] += 1
                elif what < 0.85:
                    note = {f"notes/{new_key()}": to_json("notes/a", Note(f"by {seed}"))}
                    store.change(store.job(number), note, f"w{seed}", "note")
                    counts[f"notes {number}"] += 1
                else:
                    # Few different ones, so that writers add the same photograph at once.
                    noise = np.random.default_rng(chance.randrange(40)).integers(0, 256, (40, 60, 3), dtype=np.uint8)
                    Image.fromarray(noise).save(photo, "JPEG")
                    store.add_photo(store.job(number), photo, who=f"w{seed}")
                    counts[f"photographs {number}"] += 1
            except Exception as error:
                errors.append(f"{type(error).__name__}: {error}")
    results.put((counts, errors))


def _count_up(store: Store, number: int, who: str) -> int:
    """Add one to the number on a card; how often somebody else was faster."""
    conflicts = 0
    while True:
        seen = store.job(number)
        try:
            # Signed: two who write the very same words want the same, and the store takes that for agreement.
            store.change(seen, {"fixed": f"{_number(seen.fields['fixed']) + 1} {new_key()}"}, who, "counted")
        except ConflictError:
            conflicts += 1
        else:
            return conflicts


def _number(text: str) -> int:
    return int(text.partition(" ")[0])


def run(location: Location, scratch: Path, seconds: float, writers: int = 4) -> tuple[Counter[str], list[str]]:
    """Let writers loose; what was done, and everything that is wrong afterwards."""
    with Store(location, backups=False) as store:
        for _ in range(JOBS):
            store.new_job({"name": "shared", "fixed": "0"})
    processes = multiprocessing.get_context("forkserver")
    results = processes.Queue()
    children = [
        processes.Process(target=write, args=(location, seed, seconds, scratch, results)) for seed in range(writers)
    ]
    for child in children:
        child.start()
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    for _ in children:
        done, errors = results.get(timeout=seconds + 120)
        counts += done
        wrong += errors
    for child in children:
        child.join()
    with Store(location, backups=False) as store:
        for number in range(1, JOBS + 1):
            card, history = store.job(number).card, store.history(number)
            for name, there in (
                ("counted", _number(card.fixed)),
                ("notes", len(card.notes)),
                ("photographs", len(card.photos)),
            ):
                if there != counts[f"{name} {number}"]:
                    wrong.append(f"job {number}: {counts[f'{name} {number}']} {name}, {there} kept")
            if replay(history) != store.job(number).fields:
                wrong.append(f"job {number} differs from its history")
        wrong += [f"{fault.kind}: {fault.what}" for fault in check(store).faults]
    return counts, wrong


def main() -> None:
    """Run at length and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=120)
    parser.add_argument("--writers", type=int, default=4)
    parser.add_argument("--sqlite", action="store_true", help="on SQLite instead of PostgreSQL")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        if args.sqlite:
            counts, wrong = run(Location(scratch / "data"), scratch, args.seconds, args.writers)
        else:
            from postgres_server import fresh_database, running_server

            with running_server(safe=True) as server, fresh_database(server) as url:
                counts, wrong = run(Location(scratch / "data", url), scratch, args.seconds, args.writers)
    for name, count in sorted(counts.items()):
        print(f"{name}: {count}")
    print(f"wrong: {len(wrong)}")
    print("\n".join(wrong[:20]))
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
