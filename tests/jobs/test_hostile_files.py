"""Spoilt files are taken or refused with a reason, and never harm the store. `hostile_files` runs this at length."""

from __future__ import annotations

from hostile_files import Hostile


def test_spoilt_files_do_no_harm(tmp_path):
    hostile = Hostile(tmp_path, seed=2)
    hostile.run(900)
    assert hostile.failures == []
    for kind in ("bundle", "card", "case", "picture", "knowledge"):
        assert hostile.counts[f"{kind}: refused"] > 10
    for kind in ("card", "case", "picture"):
        assert hostile.counts[f"{kind}: taken"] > 0
