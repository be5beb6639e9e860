"""Spoilt files are taken or refused with a reason, and never harm the store. `hostile_files` runs this at length."""

from __future__ import annotations

import os

import pytest
from hostile_files import Hostile, Watcher


def test_spoilt_files_do_no_harm(tmp_path):
    hostile = Hostile(tmp_path, seed=2)
    hostile.run(900)
    assert hostile.failures == []
    for kind in ("bundle", "card", "case", "picture", "knowledge"):
        assert hostile.counts[f"{kind}: refused"] > 10
    for kind in ("card", "case", "picture"):
        assert hostile.counts[f"{kind}: taken"] > 0
    assert hostile.counts["writes watched"] > 900


def test_a_write_outside_would_be_noticed(tmp_path):
    inside, outside = tmp_path / "in", tmp_path / "out"
    inside.mkdir()
    with Watcher(inside) as watcher:
        (inside / "a").write_text("x", encoding="utf-8")
        (inside / "a").read_bytes()
        (inside / "a").rename(inside / "b")
        assert watcher.outside == []
        (inside / ".." / "out").write_text("x", encoding="utf-8")
        outside.read_bytes()
        (inside / "b").rename(tmp_path / "c")
        os.close(os.open(tmp_path / "d", os.O_CREAT | os.O_WRONLY))
        (tmp_path / "e").mkdir()
        with pytest.raises(FileNotFoundError):
            (tmp_path / "f").unlink()
    outside.write_text("y", encoding="utf-8")
    assert [event.split("/")[-1] for event in watcher.outside] == ["out", "c", "d", "e", "f"]
