"""Whoever finds a half written file can tell whether its writer is gone."""

from __future__ import annotations

import os
import time

import pytest

from firingend.jobs import unfinished
from firingend.jobs.unfinished import LEFT_BEHIND_SECONDS, beside, left_behind, writer_mark

GONE = 999_999_999


def test_a_file_of_this_process_is_not_left_behind(tmp_path):
    (tmp_path / writer_mark()).write_bytes(b"half")
    beside(tmp_path / "firingend.db").write_bytes(b"half")
    assert list(left_behind(tmp_path)) == []


@pytest.mark.skipif(os.name != "posix", reason="processes cannot be asked here")
@pytest.mark.parametrize("form", ["{}", ".firingend.db.{}.part", ".restore-{}.db", ".firingend.db.{}.part-journal"])
def test_a_file_whose_writer_is_gone_is_left_behind(tmp_path, monkeypatch, form):
    monkeypatch.setattr(os, "getpid", lambda: GONE)
    file = tmp_path / form.format(writer_mark())
    file.write_bytes(b"half")
    assert list(left_behind(tmp_path)) == [file]


def test_a_file_from_another_machine_is_left_behind_after_a_day(tmp_path, monkeypatch):
    with monkeypatch.context() as elsewhere:
        elsewhere.setattr(os, "getpid", lambda: GONE)
        elsewhere.setattr(unfinished.platform, "node", lambda: "bay-2")
        file = tmp_path / writer_mark()
    file.write_bytes(b"half")
    assert list(left_behind(tmp_path)) == []
    old = time.time() - LEFT_BEHIND_SECONDS - 60
    os.utime(file, (old, old))
    assert list(left_behind(tmp_path)) == [file]
