"""The three functions at the top of the package."""

from __future__ import annotations

from pathlib import Path

import pytest

import firingend
from firingend.cases.load import parse_case
from firingend.errors import UserError
from firingend.photo.picture import Quality
from firingend.reading import reader
from firingend.reading.reading import PhotoReading

CASE = '[engine]\ncylinders = 3\n[plugs]\n1 = "normal-tan"\n2 = "wet"\n3 = "normal-tan"\n'


def test_diagnose_takes_a_case_or_the_name_of_its_file(tmp_path: Path):
    file = tmp_path / "case.toml"
    file.write_text(CASE)
    by_name = firingend.diagnose(str(file))
    assert by_name.comparison.cylinders == (2,)
    assert firingend.diagnose(parse_case(CASE)).diagnosis == by_name.diagnosis
    with pytest.raises(UserError):
        firingend.diagnose(tmp_path / "gone.toml")


def test_compare_gives_the_comparison_of_a_case():
    result = firingend.diagnose(parse_case(CASE))
    assert firingend.compare(result.case.engine, result.readings) == result.comparison


def test_read_hands_the_path_to_the_reader(monkeypatch: pytest.MonkeyPatch):
    """The networks are stood in for: only the way there is tried."""
    quality = Quality(1.0, 0.0, 0.0, 100.0, 0.0)
    monkeypatch.setattr(reader, "read_photo", lambda file: PhotoReading(file, 1, 1, quality, ()))
    assert firingend.read("plug.jpg").file == Path("plug.jpg")
