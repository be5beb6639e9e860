"""Four writers at once on the same jobs lose nothing. `busy_writers` runs this at length."""

from __future__ import annotations

from busy_writers import JOBS, run


def test_four_writers_at_once_lose_no_update(location, tmp_path):
    counts, wrong = run(location, tmp_path, seconds=1.5)
    assert wrong == []
    assert all(counts[f"counted {number}"] > 0 for number in range(1, JOBS + 1))
