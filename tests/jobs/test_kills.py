"""A program killed at any moment loses nothing it has said to be kept. `store_kills` runs this at length."""

from __future__ import annotations

import os

import pytest
from store_kills import FAILURES, Trials

from firingend.jobs.location import Location

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
    assert not {name: count for name, count in trials.counts.items() if name in FAILURES and count}
