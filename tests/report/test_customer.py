"""The customer's page: plain words, one sheet of paper, nothing of the program's inside."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.labels import LABELS, UNREADABLE
from firingend.report import customer_words
from firingend.report.customer import CustomerContent, gather_customer
from firingend.report.customer_pdf import render_customer_pdf, write_customer_pdf
from firingend.report.html import render_customer_html, write_customer_html
from firingend.report.job_facts import JobFacts, Look, Named, Used, Worked
from firingend.report.sheet import Paper

DAY = date(2024, 3, 7)
GOLD = Path(__file__).with_name("gold") / "customer.html"
JOB = JobFacts(
    number=7,
    status="fixed",
    opened=date(2024, 3, 1),
    customer="fleet 12",
    mark="truck 3",
    found=(Named("injector-clogged", "cylinder 2"),),
    fixed="Injector of cylinder 2 cleaned, fresh plugs fitted.",
    work=(Worked("Finding the fault", 40), Worked("Cleaning and trial run", 55)),
    parts=(Used("seal kit", 1, 12.5), Used("spark plug", 4, 35.6)),
    rate=60,
    spent=143.1,
    currency="EUR",
)


def after(result: CaseResult, label: str = "normal-tan", cylinder: int = 2) -> JobFacts:
    """The job with a second look at the plugs."""
    changed = replace(result.readings[cylinder], label=label, probabilities=dict.fromkeys(LABELS, 0.2))
    return replace(
        JOB, later=(Look("after the repair", replace(result, readings={**result.readings, cylinder: changed})),)
    )


def words_of(content: CustomerContent) -> str:
    return re.sub(r"data:[^\"]*|<style>.*</style>", "", render_customer_html(content), flags=re.S)


def scrub(page: str) -> str:
    page = re.sub(r"data:image/jpeg;base64,[A-Za-z0-9+/=]+", "data:image/jpeg;base64,PICTURE", page)
    return re.sub(r"by firingend [^<]+\.<", "by firingend VERSION.<", page)


def test_every_label_has_plain_words() -> None:
    for spoken in (customer_words.SHORT, customer_words.SEEN):
        assert set(spoken) == {*LABELS, UNREADABLE}
    assert set(customer_words.WATCH) == set(LABELS) - {"normal-tan"}


def test_page_is_the_gold_file(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    write_customer_html(result, tmp_path / "page.html", made_on=DAY, knowledge=knowledge, job=after(result))
    page = scrub((tmp_path / "page.html").read_text("utf-8"))
    if os.environ.get("FIRINGEND_REWRITE_GOLD"):
        GOLD.write_text(page, "utf-8")
    assert page == GOLD.read_text("utf-8")


def test_it_says_what_was_found_done_and_paid(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather_customer(result, DAY, knowledge, after(result))
    assert content.found[0] == "The cause: injector clogged (cylinder 2)."
    assert content.found[1].startswith("Before the repair spark plug 2 was burnt pale")
    assert content.found[2] == "After the repair all plugs that could be read look healthy."
    assert content.done[0] == JOB.fixed
    assert [(c.what, c.how_much, c.amount.replace("\xa0", " ")) for c in content.costs] == [
        ("Finding the fault", "40\xa0min", "40.00 EUR"),
        ("Cleaning and trial run", "55\xa0min", "55.00 EUR"),
        ("seal kit", "", "12.50 EUR"),
        ("spark plug", "4 pieces", "35.60 EUR"),
    ]
    assert content.total == "143.10\xa0EUR"
    assert [shot.when for shot in content.plugs[1].shots] == ["Before", "After"]


def test_a_cure_is_not_claimed_of_a_plug_nobody_saw(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather_customer(result, DAY, knowledge, after(result, UNREADABLE))
    assert content.found[2] == "After the repair spark plug 2 has yet to be looked at: only that shows the cure."


def test_a_repair_that_failed_is_told(result: CaseResult, knowledge: Knowledge) -> None:
    said = gather_customer(result, DAY, knowledge, after(result, "wet")).found[2]
    assert said.startswith("After the repair: Spark plug 2 is wet with fuel")


def test_without_a_job_it_says_what_comes_next(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather_customer(result, DAY, knowledge)
    assert content.done_title == "What comes next"
    assert content.done[0] == "Intake leak with smoke (cylinder 2): about 20\xa0min."
    assert content.found[0] == "Not proven yet; most likely: injector clogged (cylinder 2)."
    assert "about 146\xa0EUR" in content.costs_note


@pytest.mark.parametrize("with_job", [False, True])
def test_no_probability_and_no_inner_word_reaches_the_customer(
    result: CaseResult, knowledge: Knowledge, with_job: bool
) -> None:
    said = words_of(gather_customer(result, DAY, knowledge, after(result) if with_job else None))
    for inner in ("%", "probab", "CIEDE", "L*", "lean-white", "normal-tan", "networks", "calibrat", "posterior"):
        assert inner not in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("count", [1, 4, 8, 12])
def test_it_is_one_sheet(
    engine_of: Callable[[int], CaseResult], knowledge: Knowledge, tmp_path: Path, count: int, paper: Paper
) -> None:
    result = engine_of(count)
    long = replace(
        JOB,
        fixed="Coil pack renewed and every lead measured. " * 30,
        work=tuple(Worked(f"Work number {i} with a long description of what was done", 10) for i in range(12)),
        later=(Look("after the repair", result),),
    )
    told = replace(result, case=replace(result.case, complaint="It shakes and bangs when it is cold. " * 60))
    for each, job in ((result, None), (told, long)):
        file = tmp_path / "page.pdf"
        write_customer_pdf(each, file, paper, made_on=DAY, knowledge=knowledge, job=job)
        (page,) = PdfReader(file).pages
        text = page.extract_text()
        assert "For the workshop" in text
        assert "service manual" in " ".join(text.split())
        assert file.stat().st_size < 400_000
        width = {"A4": 595.28, "Letter": 612.0}[paper]
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.5)


def test_pictures_carry_no_place(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather_customer(result, DAY, knowledge, after(result))
    pictures = [shot.picture for pair in content.plugs for shot in pair.shots if shot.picture]
    assert pictures
    for picture in pictures:
        assert not Image.open(io.BytesIO(picture)).getexif()
    for image in PdfReader(io.BytesIO(render_customer_pdf(content))).pages[0].images:
        assert b"Owner-of-the-camera" not in image.data


def test_hostile_text_stays_text(result: CaseResult, knowledge: Knowledge) -> None:
    hostile = "<script>alert(1)</script>\"'{{7*7}}\u202e\x00"
    named = replace(result, case=replace(result.case, name=hostile, complaint=hostile))
    job = replace(
        JOB, fixed=hostile, customer=hostile, mark=hostile, work=(Worked(hostile, 1),), parts=(Used(hostile, 2, 1),)
    )
    content = gather_customer(named, DAY, knowledge, job)
    page = render_customer_html(content)
    assert "<script" not in page
    assert "49" not in page.split("</style>")[1].split("Made on")[0].replace("data:", "")[:400]
    assert len(PdfReader(io.BytesIO(render_customer_pdf(content))).pages) == 1


def test_aircraft_come_first_among_cautions(result: CaseResult, knowledge: Knowledge) -> None:
    flying = replace(result, case=replace(result.case, engine=replace(result.case.engine, aircraft=True)))
    assert gather_customer(flying, DAY, knowledge).cautions[0].startswith("Aircraft engine")
