"""Readability follows size, nose and blur."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from firingend_training.readable import lit, readable
from firingend_training.truth import PlugTruth, mask_value

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


def _photographed(tone: int) -> tuple[np.ndarray, np.ndarray]:
    """A plug of one tone on a mid-grey ground, and its mask."""
    mask = np.zeros((40, 40), np.uint8)
    mask[10:30, 10:30] = mask_value(0, "threads")
    mask[14:20, 14:20] = mask_value(0, "nose")
    picture = np.full((40, 40, 3), 128, np.uint8)
    picture[mask > 0] = tone
    return picture, mask


@pytest.mark.parametrize(("tone", "expected"), [(130, True), (30, False), (254, False)])
def test_light_must_leave_something_to_see(tone, expected):
    picture, mask = _photographed(tone)
    assert lit(picture, mask, 0) is expected
    assert not lit(picture, mask, 1)  # no such plug
