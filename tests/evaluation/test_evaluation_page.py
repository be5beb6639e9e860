from __future__ import annotations

import base64
from html.parser import HTMLParser

import pytest
from PIL import Image

from firingend.evaluation.evaluation import evaluate
from firingend.evaluation.mistakes import is_wrong, worst
from firingend.evaluation.page import render_page
from firingend.evaluation.photo_set import PhotoSet, TruePicture, TruePlug
from firingend.evaluation.wording import SECTIONS
from firingend.labels import LABELS, UNREADABLE
from firingend.reading.reading import PhotoReading


class _Sound(HTMLParser):
    """Counts tags and keeps what would reach outside the page."""

    void = frozenset(("meta", "img", "br", "path", "polyline", "circle"))

    def __init__(self):
        super().__init__()
        self.open, self.sources, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        if tag not in self.void:
            self.open.append(tag)
        self.sources += [value for name, value in attrs if name in ("src", "href")]

    def handle_endtag(self, tag):
        if tag in self.void:
            return
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture
def evaluation(tmp_path, write_photo, make_reading, quality):
    pictures, said = [], {}
    for i in range(20):
        label = LABELS[i % 5]
        file = write_photo(tmp_path / f"{i:02d}<b>&.jpg")
        pictures.append(TruePicture(file, str(i), (TruePlug(label, (10.0, 10.0, 50.0, 50.0)),), {"light": f"l{i % 2}"}))
        said[file] = ("wet" if i == 3 else UNREADABLE if i == 7 else label, 0.6 + i / 60)
    pictures.append(TruePicture(write_photo(tmp_path / "bolt.jpg"), "bolt", ()))

    def read(path):
        readings = (make_reading(said[path][0], sure=said[path][1]),) if path in said else ()
        return PhotoReading(path, 96, 72, quality, readings)

    return evaluate(PhotoSet("<script>alert(1)</script>", "csv", tuple(pictures)), read)


def test_the_page_is_sound_html_needs_nothing_else_and_escapes(evaluation):
    html = render_page(evaluation)
    page = _Sound()
    page.feed(html)
    assert page.open == []
    assert all(source.startswith("data:image/jpeg;base64,") for source in page.sources)
    assert "<script>" not in html
    text = "".join(page.text)
    assert "03<b>&.jpg" in text
    assert "<script>alert(1)</script>" in text


def test_the_page_shows_measures_curves_and_the_mistake(evaluation):
    html = render_page(evaluation)
    assert f"{evaluation.scores.measures['balanced_accuracy'].value * 100:.1f} %" in html
    assert html.count("<svg") == 2
    assert "Worst mistakes" in html
    assert html.count("<img") == 1


def test_worst_mistakes_are_surest_first_then_missed(tmp_path, write_photo, make_reading, quality):
    file = write_photo(tmp_path / "a.jpg")
    cases = [("wet", "oil-fouled", 0.7), ("wet", "lean-white", 0.95), ("wet", None, 0), ("wet", "wet", 0.9)]
    cases += [("unused", "rich-carbon", 0.8), ("ash", "rich-carbon", 0.99), ("wet", UNREADABLE, 0.9)]
    pictures = tuple(TruePicture(file, str(i), (TruePlug(truth),)) for i, (truth, _, _) in enumerate(cases))
    left = iter(cases)

    def read(path):
        _, said, sure = next(left)
        readings = () if said is None else (make_reading(said, sure=sure),)
        return PhotoReading(path, 96, 72, quality, readings)

    done = evaluate(PhotoSet("s", "csv", pictures), read, workers=1)
    found = worst(done.trial.judged)
    assert [(m.truth, m.said) for m in found] == [
        ("wet", "lean-white"),
        ("unused", "rich-carbon"),
        ("wet", "oil-fouled"),
        ("wet", "not-found"),
    ]
    assert all(m.picture.startswith("data:image/jpeg") for m in found)
    assert len(worst(done.trial.judged, most=2)) == 2
    assert not is_wrong(done.trial.judged[5].answers[0])


def test_every_measure_has_its_words(evaluation):
    worded = {name for section in SECTIONS.values() for name in section}
    assert set(evaluation.scores.measures) <= worded


def test_a_thumbnail_carries_no_notes_of_the_camera(tmp_path, write_photo, make_reading, quality):
    file = write_photo(tmp_path / "a.jpg")
    image = Image.open(file)
    exif = Image.Exif()
    exif[0x010F] = "CAMERA"
    image.save(file, exif=exif)
    picture = TruePicture(file, "a", (TruePlug("wet"),))
    read = PhotoReading(file, 96, 72, quality, (make_reading("oil-fouled"),))
    done = evaluate(PhotoSet("s", "csv", (picture,)), lambda path: read)
    (mistake,) = worst(done.trial.judged)
    assert b"CAMERA" not in base64.b64decode(mistake.picture.split(",")[1])
