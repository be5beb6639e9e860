"""``firingend report``."""

from __future__ import annotations

from pathlib import Path

import pytest

from firingend.cli import main


@pytest.mark.parametrize(("name", "start"), [("sheet.html", b"<!DOCTYPE html>"), ("sheet.PDF", b"%PDF-")])
def test_ending_of_the_name_says_which_kind(
    typed_case: Path, name: str, start: bytes, capsys: pytest.CaptureFixture[str]
):
    out = typed_case.parent / name
    assert main(["report", str(typed_case), "--out", str(out)]) == 0
    assert out.read_bytes()[: len(start)].lower() == start.lower()
    assert capsys.readouterr().out == f"wrote {out}\n"


def test_folder_that_is_not_there_is_refused(typed_case: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["report", str(typed_case), "--out", str(typed_case.parent / "gone" / "a.pdf")]) == 1
    assert "there is no folder" in capsys.readouterr().err
