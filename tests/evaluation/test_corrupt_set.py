from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from firingend.evaluation.corrupt_set import by_severity, draw, try_spoilt
from firingend.evaluation.corruptions import KINDS, SEVERITIES
from firingend.evaluation.photo_set import PhotoSet, TruePicture, TruePlug
from firingend.photo.load import load_picture
from firingend.reading.reading import PhotoReading


def _picture(name, *labels):
    return TruePicture(Path(name), name, tuple(TruePlug(label) for label in labels))


def test_the_draw_is_even_over_the_labels_and_takes_no_unlabelled():
    pictures = [_picture(f"w{i}", "wet") for i in range(50)] + [_picture(f"t{i}", "normal-tan") for i in range(4)]
    pictures += [_picture("u", "unused"), _picture("n")]
    chosen = draw(pictures, 10, 0)
    labels = [picture.plugs[0].label for picture in chosen]
    assert (labels.count("wet"), labels.count("normal-tan")) == (6, 4)
    assert chosen == draw(pictures, 10, 0)
    assert len(draw(pictures, 1000, 0)) == 54


@pytest.fixture
def brightness_reader(make_reading):
    """Says lean of a bright photograph, rich of a dark one; its box is the middle of whatever it is shown."""

    def read(path):
        picture = load_picture(path)
        mean = picture.pixels.mean()
        w, h = picture.full_width, picture.full_height
        box = (w * 0.25, h * 0.25, w * 0.75, h * 0.75)
        reading = make_reading("lean-white" if mean > 128 else "rich-carbon", box=box)
        return PhotoReading(Path(path), w, h, picture.quality, (reading,))

    return read


def test_lines_for_every_kind_and_severity(tmp_path, write_photo, brightness_reader):
    pictures = []
    for i, (label, grey) in enumerate([("lean-white", 170), ("rich-carbon", 80)] * 5):
        file = write_photo(tmp_path / f"{i}.png", (grey,) * 3)
        pictures.append(TruePicture(file, str(i), (TruePlug(label, (24.0, 18.0, 72.0, 54.0)),)))
    lines = try_spoilt(PhotoSet("s", "csv", tuple(pictures)), brightness_reader)
    assert [(line.kind, line.severity) for line in lines] == [
        ("none", 0),
        *((kind, severity) for kind in KINDS for severity in SEVERITIES),
    ]
    assert {line.plugs for line in lines} == {10}
    of = {(line.kind, line.severity): line for line in lines}
    assert of["none", 0].balanced_accuracy == 1
    # Boxes follow the stretched picture, or the plug would count as missed.
    assert of["aspect", 5].balanced_accuracy == 1
    assert of["exposure", 5].balanced_accuracy < 1
    means = by_severity(lines)
    assert means[0] == 1
    assert means[5] == pytest.approx(np.mean([of[kind, 5].balanced_accuracy for kind in KINDS]))
