"""Readability follows size, nose and blur."""

from __future__ import annotations

from dataclasses import replace

import pytest
from firingend_training.readable import readable
from firingend_training.truth import PlugTruth

PLUG = PlugTruth(0, "wet", "tan", "film", (50.0, 50.0, 170.0, 150.0), (0.0, 0.0), 10.0, 900, 0.8)


def test_a_plug_in_plain_sight_is_readable():
    assert readable(PLUG, 288, {"shrink_to": 0, "defocus": 0.4, "motion": 0.0})


@pytest.mark.parametrize(
    "nuisance",
    [{"defocus": 4.0}, {"motion": 12.0}, {"shrink_to": 120}],
    ids=["out of focus", "moved", "enlarged from a small picture"],
)
def test_spoilt_pictures_are_not(nuisance):
    assert not readable(PLUG, 288, nuisance)


def test_neither_is_a_plug_whose_nose_hides_nor_one_too_small():
    assert not readable(replace(PLUG, nose_pixels=60), 288, {})
    assert not readable(replace(PLUG, box=(50.0, 50.0, 100.0, 90.0)), 288, {})
