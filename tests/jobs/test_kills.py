"""A program killed at any moment loses nothing it has said to be kept. `store_kills` runs this at length."""

from __future__ import annotations

import json
import os

import pytest
from sqlalchemy import text
from store_kills import FAILURES, Trials

from firingend.jobs.location import Location
from firingend.jobs.store import Store

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills by signal")


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_killed_writers_leave_a_sound_store(tmp_path, kind, request):
    url = request.getfixturevalue("postgres_url") if kind == "postgresql" else None
    trials = Trials(Location(tmp_path / "data", url), tmp_path, seed=11)
    kills = 10 if kind == "sqlite" else 6
    trials.kill_writers(kills)
    trials.kill_writers(kills // 2, imports=True)
    assert trials.counts["kills"] == kills + kills // 2
    assert trials.counts["changes noted"] >= kills
    trials.kill_migrations(kills // 2)
    assert trials.counts["kills"] == kills + 2 * (kills // 2)
    assert sum(count for name, count in trials.counts.items() if name.startswith("killed inside")) >= kills // 2
    assert not {name: count for name, count in trials.counts.items() if name in FAILURES and count}


def test_a_loss_would_be_counted(tmp_path):
    location = Location(tmp_path / "data")
    trials = Trials(location, tmp_path, seed=1)
    with Store(location, backups=False) as store:
        job = store.new_job({"name": "Pump set"})
    note = {"job": job.id, "revision": 1, "path": "name", "value": "Pump set"}
    trials._check([json.dumps(note)])
    assert not trials.counts["committed changes lost"]
    wrong = ({"job": "0" * 32}, {"revision": 2}, {"value": "another"}, {"path": "notes/a", "value": {"text": "x"}})
    trials._check([json.dumps(note | each) for each in wrong])
    assert trials.counts["committed changes lost"] == len(wrong)
    assert not trials.counts["files left after mending"]
    (location.folder / "left").write_bytes(b"x")
    with Store(location, backups=False) as store, store.database.write() as connection:
        connection.execute(text("DELETE FROM changes"))
    trials._check([json.dumps(note)])
    assert trials.counts["corrupt stores"] == 1
    assert trials.counts["faults after mending"] == 1
    assert trials.counts["files left after mending"] == 1
