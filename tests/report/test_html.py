"""The HTML report says what it must, lets nothing in unescaped, and is one light file."""

from __future__ import annotations

import base64
import io
import os
import re
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from firingend.cases.case import CaseResult
from firingend.diagnosis.knowledge import Knowledge
from firingend.reading.reading import FiringEnd
from firingend.report.content import Content
from firingend.report.gather import gather
from firingend.report.html import render_html, write_html

GOLD = Path(__file__).with_name("gold") / "report.html"
DAY = date(2024, 3, 7)
HOSTILE = """</script><script>alert(1)</script><img src=x onerror=alert(1)>"'`{{7*7}}{% raw %}&lt;\u202e\x00"""


class Page(HTMLParser):
    """Tags with their attributes, and the text, of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data

    def all(self, *names: str) -> list[tuple[str, dict[str, str | None]]]:
        return [tag for tag in self.tags if tag[0] in names]


def scrub(page: str) -> str:
    page = re.sub(r"data:image/jpeg;base64,[A-Za-z0-9+/=]+", "data:image/jpeg;base64,PICTURE", page)
    return re.sub(r"by firingend [^;]+; [^.]+\.", "by firingend VERSION; NETWORKS.", page)


def test_report_is_the_gold_file(result: CaseResult, knowledge: Knowledge, tmp_path: Path) -> None:
    write_html(result, tmp_path / "report.html", made_on=DAY, knowledge=knowledge)
    page = scrub((tmp_path / "report.html").read_text("utf-8"))
    if os.environ.get("FIRINGEND_REWRITE_GOLD"):
        GOLD.write_text(page, "utf-8")
    assert page == GOLD.read_text("utf-8")


def test_it_says_what_a_technician_needs(result: CaseResult, knowledge: Knowledge) -> None:
    text = Page(render_html(gather(result, DAY, knowledge))).text
    for said in (
        "Blue delivery van",
        "Surging or hunting idle",
        "Hunts at idle.",
        "7 March 2024",
        "Cylinder 2 is white",
        "Lean, white",
        "88\xa0%",
        "Out of focus.",
        "Tap on the plug and take it again.",
        "Flammable spray near a running engine can ignite",
        "Release fuel pressure before opening a line.",
        "146\xa0EUR",
        "Injector clogged",
        "alike and within the range",
        "Weak coil",
        "0.8\xa0Ω, at 20 °C",
        "service manual, local rules and a licensed technician",
        "The readings are advice",
        "Technician",
    ):
        assert said in text, said


def test_cautions_stand_inside_their_step(result: CaseResult, knowledge: Knowledge) -> None:
    page = render_html(gather(result, DAY, knowledge))
    first, second = re.findall(r"<article.*?</article>", page, re.DOTALL)
    assert "Flammable spray" in first
    assert "Flammable spray" not in second
    assert "Eye protection on." in second


def test_page_can_be_heard_as_well_as_seen(result: CaseResult, knowledge: Knowledge) -> None:
    page = Page(render_html(gather(result, DAY, knowledge)))
    assert page.all("html")[0][1]["lang"] == "en"
    assert len(page.all("h1")) == 1
    assert [attrs["alt"] for _, attrs in page.all("img")] == [
        "Firing end of cylinder 1, read as: Normal, tan",
        "Firing end of cylinder 2, read as: Lean, white",
        "Firing end of cylinder 3, read as: Cannot be read",
    ]
    assert page.all("th")
    assert all(attrs.get("scope") in ("col", "row") for _, attrs in page.all("th"))
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert {attrs["aria-labelledby"] for _, attrs in page.tags if "aria-labelledby" in attrs} <= set(ids)


def test_nothing_is_fetched_from_outside(result: CaseResult, knowledge: Knowledge) -> None:
    page = Page(render_html(gather(result, DAY, knowledge)))
    assert not page.all("script", "link", "iframe", "object", "embed", "video", "audio", "base", "form")
    sources = [attrs[key] for _, attrs in page.tags for key in ("src", "href", "srcset") if key in attrs]
    assert sources
    assert all(source is not None and source.startswith("data:image/jpeg;base64,") for source in sources)
    assert "url(" not in page.text
    assert "@import" not in page.text


def test_pictures_carry_neither_place_nor_owner(result: CaseResult, knowledge: Knowledge) -> None:
    page = Page(render_html(gather(result, DAY, knowledge)))
    pictures = [base64.b64decode(str(attrs["src"]).partition(",")[2]) for _, attrs in page.all("img")]
    assert len(pictures) == 3
    for jpeg in pictures:
        with Image.open(io.BytesIO(jpeg)) as picture:
            assert picture.format == "JPEG"
            assert not picture.getexif()
            assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
        assert b"Exif" not in jpeg
        assert b"Owner" not in jpeg


def poisoned(value: Any) -> Any:
    """The same content with a hostile string in the place of every string."""
    if isinstance(value, str):
        return HOSTILE
    if isinstance(value, tuple):
        return tuple(poisoned(item) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: poisoned(getattr(value, f.name)) for f in fields(value)})
    return value


def test_hostile_text_stays_text_in_every_field(result: CaseResult, knowledge: Knowledge) -> None:
    content = gather(result, DAY, knowledge)
    hostile: Content = poisoned(content)
    page = render_html(hostile)
    harmless = Page(render_html(content))
    shown = Page(page)
    assert "<script" not in page.lower()
    assert "onerror" in shown.text
    assert "{{7*7}}" in shown.text
    assert {tag for tag, _ in shown.tags} == {tag for tag, _ in harmless.tags}
    assert {key for _, attrs in shown.tags for key in attrs} == {key for _, attrs in harmless.tags for key in attrs}


def test_hostile_case_is_cleaned_before_it_is_escaped(result: CaseResult, knowledge: Knowledge) -> None:
    case = replace(result.case, name=HOSTILE + "\ud800", complaint=HOSTILE)
    page = render_html(gather(replace(result, case=case), DAY, knowledge))
    page.encode("utf-8")
    assert "\u202e" not in page
    assert "\x00" not in page
    assert "<script" not in page.lower()


@pytest.mark.parametrize("count", [1, 2, 5, 8, 16])
def test_every_cylinder_is_there(engine_of: Callable[[int], CaseResult], knowledge: Knowledge, count: int) -> None:
    page = Page(render_html(gather(engine_of(count), DAY, knowledge)))
    assert len(page.all("img")) == count
    assert f"Cylinder\xa0{count}" in page.text


def test_four_noisy_photographs_are_light_enough_to_mail(
    result: CaseResult, engine_of: Callable[[int], CaseResult], knowledge: Knowledge, tmp_path: Path
) -> None:
    four = engine_of(4)
    noise = np.random.default_rng(1).integers(0, 256, (1500, 6000, 3), dtype=np.uint8)
    Image.fromarray(noise).save(four.case.photos[0].file, quality=95)
    boxes = [(1500.0 * i + 100, 100.0, 1500.0 * i + 1400, 1400.0) for i in range(4)]
    readings = tuple(
        replace(reading, firing_end=FiringEnd(box, (0.0, -1.0), 0.9))
        for reading, box in zip(four.photo_readings[0].readings, boxes, strict=True)
    )
    photo = replace(four.photo_readings[0], width=6000, height=1500, readings=readings)
    by_cylinder = dict(enumerate(readings, 1))
    write_html(
        replace(four, photo_readings=(photo,), readings=by_cylinder), tmp_path / "heavy.html", knowledge=knowledge
    )
    assert 200_000 < (tmp_path / "heavy.html").stat().st_size < 1_500_000
