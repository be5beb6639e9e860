"""What the command tests share: case files, and a reader that stands in for the networks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from firingend.errors import PhotoError
from firingend.labels import LABELS, UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading import reader
from firingend.reading.reading import FiringEnd, PhotoReading, Reading, Reason

QUALITY = Quality(310.5, 0.01, 0.02, 118.0, 3.5)

TYPED_CASE = """\
name = "Pump [set]"
complaint = "Shakes at idle"

[engine]
name = "pump engine"
cylinders = 4
ignition = "wasted-spark"

[plugs]
1 = "wet"
2 = "normal-tan"
3 = { label = "normal-tan", sure = 0.75 }
4 = "wet"

[costs]
rate_per_hour = 66.0
currency = "SEK"
"""


@pytest.fixture
def typed_case(tmp_path: Path) -> Path:
    """A case file that needs no photograph."""
    file = tmp_path / "case.toml"
    file.write_text(TYPED_CASE, encoding="utf-8")
    return file


@pytest.fixture
def stand_in_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stands in for the networks: the name of a file says which labels it shows, ``broken`` is refused."""

    def read_photo(file: Path, **_: object) -> PhotoReading:
        if "broken" in file.name:
            raise PhotoError(f"{file} is empty (0 bytes)", "copy it from the phone again")
        labels = [part for part in (*LABELS, UNREADABLE) if part in file.stem]
        readings = tuple(_reading(i, label) for i, label in enumerate(labels))
        left_out = tuple(replace(_reading(i, UNREADABLE), not_a_plug=0.97) for i in range(file.stem.count("coil")))
        return PhotoReading(file, 4000, 3000, QUALITY, readings, left_out=left_out)

    monkeypatch.setattr(reader, "read_photo", read_photo)


def _reading(index: int, label: str) -> Reading:
    end = FiringEnd((500.0 * index, 10.0, 500.0 * index + 400, 420.5), (0.6, -0.8), 0.97)
    probabilities = {each: 0.84 if each == label else 0.04 for each in LABELS}
    reasons = ()
    if label == UNREADABLE:
        probabilities = dict.fromkeys(LABELS, 0.2)
        reasons = (Reason("out-of-focus", "the firing end is out of focus", "take it again"),)
    return Reading(
        end,
        label,
        probabilities,
        reasons,
        ceramic={"pale": 0.9, "tan": 0.06, "black": 0.04},
        surface={"dry": 0.1, "gloss": 0.1, "film": 0.8},
        signs={"ash": 0.7, "worn": 0.1},
        quality=QUALITY,
    )
