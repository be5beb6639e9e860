"""The PDF report says what it must on the right paper and survives whatever people type."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import Destination

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.report.gather import gather
from firingend.report.pdf import render_pdf, write_pdf
from firingend.report.sheet import Paper

DAY = date(2024, 3, 7)


def text_of(file: Path) -> str:
    text = "\n".join(page.extract_text() for page in PdfReader(file).pages)
    return " ".join(text.replace("\xa0", " ").split())


@pytest.fixture
def written(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> Path:
    file = tmp_path / "report.pdf"
    write_pdf(result, file, made_on=DAY, knowledge=knowledge)
    return file


def test_it_says_what_a_technician_needs(written: Path) -> None:
    text = text_of(written)
    for said in (
        "Blue delivery van",
        "Surging or hunting idle",
        "Before the plugs came out Idled to a stop; 5 min on these plugs; fuel: E10",
        "7 March 2024",
        "Cylinder 2 is white, 1 and 4 are tan; it is alone",
        "Lean, white",
        "stands out",
        "88 %",
        "Next most likely: normal, tan (3 %).",
        "Out of focus. Tap on the plug and take it again.",
        "No photograph: label given by hand",
        "The plugs ran only 5 minutes",
        "Intake leak with smoke – cylinder 2",
        "CAUTION • Flammable spray near a running engine can ignite: use smoke.",
        "1 h 15 min",
        "7.50 EUR",
        "Injector clogged",
        "52 %",
        "alike and within the range",
        "Weak coil – coil A (1 and 4)",
        "0.8 Ω, at 20 °C",
        "service manual, local rules and a licensed technician's judgement come before",
        "The readings are advice",
        "Work approved by",
        "Made on 7 March 2024 by firingend",
    ):
        assert said in text, said


def test_file_tells_its_title_and_language(written: Path) -> None:
    reader = PdfReader(written)
    assert reader.metadata is not None
    assert reader.metadata.title == "Blue delivery van"
    assert reader.metadata.creation_date is not None
    assert reader.metadata.creation_date.date() == DAY
    assert str(reader.trailer["/Root"]["/Lang"]) == "en"  # type: ignore[index]
    assert [entry.title for entry in reader.outline[:2] if isinstance(entry, Destination)] == [
        "What the plugs say together",
        "Plug by plug",
    ]


@pytest.mark.parametrize(("paper", "millimetres"), [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_every_page_has_the_size_of_the_paper(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, paper: Paper, millimetres: tuple[float, float]
) -> None:
    write_pdf(result, tmp_path / "report.pdf", paper, knowledge=knowledge)
    pages = PdfReader(tmp_path / "report.pdf").pages
    assert len(pages) >= 2
    for i, page in enumerate(pages, 1):
        size = (float(page.mediabox.width) / 72 * 25.4, float(page.mediabox.height) / 72 * 25.4)
        assert size == pytest.approx(millimetres, abs=0.1)
        assert f"Page {i} of {len(pages)}" in page.extract_text()


def test_type_is_embedded_and_pictures_are_clean(written: Path) -> None:
    reader = PdfReader(written)
    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            descendant = font.get_object()["/DescendantFonts"][0].get_object()
            assert "/FontFile2" in descendant["/FontDescriptor"]
    assert sum(len(page.images) for page in reader.pages) == 3
    raw = written.read_bytes()
    assert b"Exif" not in raw
    assert b"Owner-of-the-camera" not in raw
    assert len(raw) < 1_500_000


def test_a_step_and_its_cautions_are_on_one_page(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    step = result.diagnosis.next[0]
    steps = tuple(
        replace(step, name=f"Step number {i}", cautions=(f"Caution of step {i}.",), how=("Look.",) * (2 + i % 3))
        for i in range(1, 7)
    )
    many = replace(result, diagnosis=replace(result.diagnosis, next=steps))
    write_pdf(many, tmp_path / "report.pdf", knowledge=knowledge)
    pages = [page.extract_text() for page in PdfReader(tmp_path / "report.pdf").pages]
    for i in range(1, 7):
        page = next(text for text in pages if f"Step number {i}" in text)
        assert f"Caution of step {i}." in page


HOSTILE = {
    "markup": "<b>bold</b> **stars** __lines__ {nb} {number-of-pages} \\ % & </script>",
    "emoji and other scripts": "\U0001f527\U0001f468\u200d\U0001f527 点火プラグ שלום مرحبا ไทย e\u0301 \u202e",
    "endless word": "x" * 5000,
    "endless field": "plug " * 20000,
    "many lines": "line\n" * 3000,
    "nothing": "",
    "only spaces": " \n\t ",
    "broken": "a\x00b\ud800c\ufffe\x1b[31m",
}


def with_text(value: Any, text: str) -> Any:
    """The same content with ``text`` in the place of every string."""
    if isinstance(value, str):
        return text
    if isinstance(value, tuple):
        return tuple(with_text(item, text) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: with_text(getattr(value, f.name), text) for f in fields(value)})
    return value


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_any_text_in_a_case_gives_a_readable_file(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, text: str, caplog: pytest.LogCaptureFixture
) -> None:
    case = replace(result.case, name=text, complaint=text, engine=replace(result.case.engine, name=text))
    hostile = replace(
        result,
        case=case,
        comparison=replace(result.comparison, sentence=text),
        diagnosis=with_text(replace(result.diagnosis), text),
    )
    with caplog.at_level(logging.WARNING):
        write_pdf(hostile, tmp_path / "report.pdf", knowledge=knowledge)
    assert not [record for record in caplog.records if record.name.startswith("fpdf")]
    assert "How far to trust this report" in text_of(tmp_path / "report.pdf")


@pytest.mark.parametrize("text", ["y" * 2000, "word " * 400, "<i>" + "\U0001f525" * 50], ids=["word", "words", "emoji"])
def test_any_text_in_every_field_of_a_report_can_be_laid_out(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, text: str
) -> None:
    content = with_text(gather(result, DAY, knowledge), text)
    (tmp_path / "report.pdf").write_bytes(render_pdf(content))
    assert len(PdfReader(tmp_path / "report.pdf").pages) >= 2


def test_characters_without_a_shape_are_owned_up_to(
    result: CaseResult, knowledge: Knowledge, tmp_path: Path, written: Path
) -> None:
    assert "have no shape" not in text_of(written)
    case = replace(result.case, complaint="点火")
    write_pdf(replace(result, case=case), tmp_path / "other.pdf", knowledge=knowledge)
    assert "have no shape" in text_of(tmp_path / "other.pdf")


def test_european_letters_and_signs_are_printed(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    letters = "Zündkerze façade Łódź Ångström Český Ελλάδα Київ 2 × 4 ° Ω – − ≤ ≥ ± µ → ½ €"
    case = replace(result.case, complaint=letters)
    write_pdf(replace(result, case=case), tmp_path / "report.pdf", knowledge=knowledge)
    text = text_of(tmp_path / "report.pdf")
    assert letters.replace("µ", "μ") in text.replace("µ", "μ")
    assert "have no shape" not in text


@pytest.mark.parametrize("count", [1, 2, 3, 5, 6, 8, 12, 16])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_cylinder_is_there(
    engine_of: Callable[[int], CaseResult], knowledge: Knowledge, tmp_path: Path, count: int, paper: Paper
) -> None:
    write_pdf(engine_of(count), tmp_path / "report.pdf", paper, knowledge=knowledge)
    text = text_of(tmp_path / "report.pdf")
    for cylinder in range(1, count + 1):
        assert f"Cylinder {cylinder} " in text
    assert sum(len(page.images) for page in PdfReader(tmp_path / "report.pdf").pages) == count


def test_missing_photograph_is_said(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    result.case.photos[0].file.unlink()
    write_pdf(result, tmp_path / "report.pdf", knowledge=knowledge)
    assert "Photograph cannot be opened any more: row.jpg" in text_of(tmp_path / "report.pdf")


def test_a_long_table_names_its_columns_on_every_page(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    measurements = tuple(
        replace(result.case.measurements[0], where=f"cylinder {i}", value=float(i)) for i in range(1, 90)
    )
    long = replace(result, case=replace(result.case, measurements=measurements))
    write_pdf(long, tmp_path / "report.pdf", knowledge=knowledge)
    pages = [page.extract_text() for page in PdfReader(tmp_path / "report.pdf").pages]
    with_values = [text for text in pages if "Coil primary resistance" in text]
    assert len(with_values) >= 3
    assert all("What Where Value" in " ".join(text.split()) for text in with_values)


def test_nobody_signs_a_page_with_nothing_on_it(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    for count in range(1, 40, 3):  # three rows are less than what has to stay together
        measurements = result.case.measurements * count
        longer = replace(result, case=replace(result.case, measurements=measurements))
        write_pdf(longer, tmp_path / "report.pdf", knowledge=knowledge)
        last = PdfReader(tmp_path / "report.pdf").pages[-1].extract_text()
        assert "How far to trust this report" in last
        assert "Technician" in last
