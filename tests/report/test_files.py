"""A report is written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.errors import UserError
from firingend.report import html
from firingend.report.files import write_whole
from firingend.report.html import write_html
from firingend.report.pdf import write_pdf


def test_new_file_replaces_the_old_one(tmp_path: Path) -> None:
    file = tmp_path / "report.html"
    file.write_bytes(b"old and rather longer")
    write_whole(file, b"new")
    assert file.read_bytes() == b"new"
    assert list(tmp_path.iterdir()) == [file]


def test_full_disk_leaves_the_old_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "report.pdf"
    file.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UserError, match=r"report\.pdf could not be written \(No space left on device\)"):
        write_whole(file, b"new")
    assert file.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [file]


def test_report_that_fails_while_it_is_made_writes_nothing(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "report.html"
    file.write_text("old")

    def fail(*_: object) -> str:
        raise RuntimeError("half way")

    monkeypatch.setattr(html, "render_html", fail)
    with pytest.raises(RuntimeError, match="half way"):
        write_html(result, file, knowledge=knowledge)
    assert file.read_text() == "old"
    assert {entry.name for entry in tmp_path.iterdir()} == {"report.html", "row.jpg"}


@pytest.mark.parametrize("write", [write_html, write_pdf])
def test_report_can_be_read_by_others(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, write: Callable[..., None]
) -> None:
    plain = tmp_path / "plain"
    plain.touch()
    write(result, tmp_path / "report", knowledge=knowledge)
    assert (tmp_path / "report").stat().st_mode == plain.stat().st_mode


def test_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"the folder .*nowhere does not exist: create it"):
        write_whole(tmp_path / "nowhere" / "report.html", b"")


def test_folder_in_the_place_of_the_file(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="is a folder: give the name of a file"):
        write_whole(tmp_path, b"")


def test_very_long_name_is_written_all_the_same(tmp_path: Path) -> None:
    file = tmp_path / ("r" * 240 + ".html")
    write_whole(file, b"x")
    assert file.read_bytes() == b"x"
