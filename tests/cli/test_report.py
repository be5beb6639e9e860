"""``firingend report``."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

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


@pytest.mark.parametrize(("paper", "width"), [("A4", 595), ("Letter", 612)])
def test_the_customers_report_is_one_sheet_of_the_paper_asked_for(typed_case: Path, paper: str, width: int):
    out = typed_case.parent / "page.pdf"
    assert main(["report", str(typed_case), "--out", str(out), "--for", "customer", "--paper", paper]) == 0
    (page,) = PdfReader(out).pages
    assert round(float(page.mediabox.width)) == width
    assert "REPORT ON YOUR ENGINE" in page.extract_text()


def test_each_reader_gets_a_page_of_its_own(typed_case: Path):
    pages = {}
    for reader in ("workshop", "customer"):
        out = typed_case.parent / f"{reader}.html"
        assert main(["report", str(typed_case), "--out", str(out), "--for", reader]) == 0
        pages[reader] = out.read_text("utf-8")
    assert "Likely causes" in pages["workshop"]
    assert "Likely causes" not in pages["customer"]
    assert "What to watch" in pages["customer"]
