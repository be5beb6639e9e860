"""Readability follows size, nose and blur."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from firingend_training.readable import film_shows, lit, readable, told, tone_tells
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


def _nose(tones: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A grey picture whose nose has these tones."""
    mask = np.zeros((60, 60), np.uint8)
    mask[10:50, 10:50] = mask_value(0, "threads")
    mask[20:40, 20:40] = mask_value(0, "nose")
    picture = np.full((60, 60, 3), 128, np.uint8)
    picture[20:40, 20:40] = tones[..., None]
    return picture, mask


def test_an_even_nose_shows_no_film():
    slope = np.linspace(90, 150, 20).astype(np.uint8)[None].repeat(20, 0)
    assert not film_shows(*_nose(slope), 0, 40.0)


def test_glints_on_a_nose_show_a_film():
    tones = np.full((20, 20), 60, np.uint8)
    tones[::7, ::7] = 230
    assert film_shows(*_nose(tones), 0, 40.0)
    assert not film_shows(*_nose(tones), 1, 40.0)  # no such plug


def test_noise_on_a_black_nose_is_no_glint():
    tones = np.random.default_rng(5).integers(0, 8, (20, 20)).astype(np.uint8)
    assert not film_shows(*_nose(tones), 0, 40.0)


def test_drops_on_rim_and_strap_show_where_they_are_known_to_stand():
    picture, mask = _nose(np.full((20, 20), 120, np.uint8))
    mask[10:20, 10:50] = mask_value(0, "rim")
    picture[12:18:3, 12:48:6] = 250
    assert not film_shows(picture, mask, 0, 40.0)
    assert film_shows(picture, mask, 0, 40.0, drops=True)


def _coloured(rgb: tuple[int, int, int]) -> tuple[np.ndarray, np.ndarray]:
    picture, mask = _nose(np.zeros((20, 20), np.uint8))
    picture[20:40, 20:40] = rgb
    return picture, mask


@pytest.mark.parametrize(
    ("ceramic", "rgb", "expected"),
    [
        ("black", (30, 29, 28), True),
        ("black", (110, 108, 105), True),  # L* 46, the grey that soot is under a lamp
        ("black", (190, 180, 168), False),  # a cream nose to anybody who looks
        ("pale", (235, 235, 230), True),
        ("pale", (60, 60, 60), False),
        ("pale", (222, 214, 200), True),  # off-white
        ("pale", (222, 198, 160), False),  # cream under a warm lamp
        ("tan", (176, 140, 104), True),
        ("tan", (20, 16, 12), False),
        ("tan", (252, 248, 245), False),
        ("tan", (214, 212, 208), False),
        ("tan", (120, 118, 115), True),  # grey, but not light
        ("tan", (252, 240, 215), True),  # light, but warm
    ],
)
def test_a_nose_must_look_like_what_it_carries(ceramic, rgb, expected):
    picture, mask = _coloured(rgb)
    assert tone_tells(picture, mask, 0, ceramic) is expected
    assert tone_tells(picture, mask, 1, ceramic)  # no such nose: others judge that


def test_some_clean_ceramic_on_a_sooty_nose_is_no_contradiction():
    picture, mask = _coloured((30, 29, 28))
    picture[20:24, 20:40] = 220
    assert tone_tells(picture, mask, 0, "black")


def test_what_a_picture_must_show_depends_on_the_label():
    black = _coloured((30, 29, 28))
    black[0][10:20] = 150  # the rest of the plug is lit
    cream = _coloured((190, 180, 168))
    soot = replace(PLUG, label="rich-carbon", ceramic="black", surface="dry")
    assert told(soot, *black, 0)
    assert not told(soot, *cream, 0)
    assert told(replace(soot, label="unused", ceramic="pale"), *black, 0)
    # Wet ones are told by their film, whatever lies beneath.
    assert not told(replace(PLUG, ceramic="black"), *cream, 0)
