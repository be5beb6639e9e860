"""Focus, exposure and cast measures against values computed with other libraries."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skimage.data
from PIL import Image
from scipy import ndimage

from firingend.photo.neutral import balance, gains_for_light
from firingend.photo.quality import (
    BLOWN_OUT,
    OUT_OF_FOCUS,
    STRONG_CAST,
    TOO_DARK,
    QualityLimits,
    angle_to_neutral,
    cast_degrees,
    illuminant,
    laplacian_variance,
    measure,
    most_neutral_light,
    shrink,
)


def as_picture(grey):
    return np.repeat(grey[..., None], 3, axis=-1)


# Values below were computed with OpenCV (Laplacian(..., CV_64F).var()) and scipy (laplace, mode "mirror").


def test_laplacian_of_plain_shapes():
    assert laplacian_variance(np.full((32, 32), 77, np.uint8)) == 0
    impulse = np.zeros((32, 32), np.uint8)
    impulse[16, 16] = 1
    assert laplacian_variance(impulse) == 20 / 1024
    ramp = np.tile(np.arange(100, dtype=np.uint8), (5, 1))
    assert laplacian_variance(ramp) == pytest.approx(ndimage.laplace(ramp.astype(float), mode="mirror").var())


def test_laplacian_of_a_photograph():
    camera = skimage.data.camera()
    assert laplacian_variance(camera) == pytest.approx(1133.1627, abs=1e-4)
    assert measure(as_picture(camera)).focus == pytest.approx(1133.1627, abs=1e-4)


def test_laplacian_falls_with_blur():
    camera = skimage.data.camera().astype(float)
    focus = [
        measure(as_picture(np.rint(ndimage.gaussian_filter(camera, sigma)).astype(np.uint8))).focus
        for sigma in (0.5, 1, 2)
    ]
    assert focus == pytest.approx([414.7, 48.83, 6.030], abs=2.5)  # computed on unrounded values


def test_focus_is_measured_at_one_scale():
    camera = as_picture(skimage.data.camera())
    twice = np.asarray(Image.fromarray(camera).resize((1024, 1024), Image.Resampling.NEAREST))
    assert measure(twice).focus == measure(camera).focus
    assert shrink(twice, 512).shape == (512, 512, 3)
    assert shrink(camera[:50, :90], 512).shape == (50, 90, 3)
    assert shrink(np.zeros((3, 4000, 3), np.uint8), 512).shape == (1, 512, 3)


@pytest.mark.parametrize("shape", [(1, 1, 3), (1, 9, 3), (2, 1, 3)])
def test_tiny_pictures_can_be_measured(shape):
    assert measure(np.full(shape, 128, np.uint8)).focus == 0


def test_clipping():
    assert measure(skimage.data.coffee()).clipped_bright == pytest.approx(0.00365, abs=5e-6)
    assert measure(skimage.data.astronaut()).clipped_bright == pytest.approx(0.01016, abs=5e-6)
    half = np.full((10, 10, 3), 5, np.uint8)
    half[5:] = 250
    quality = measure(half)
    assert (quality.clipped_dark, quality.clipped_bright) == (0.5, 0.5)


def test_luma_is_weighted():
    green = np.zeros((4, 4, 3), np.uint8)
    green[..., 1] = 200
    assert measure(green).mean_luma == pytest.approx(0.587 * 200, abs=0.5)  # ITU-R BT.601


def test_illuminant_of_a_neutral_scene_under_coloured_light():
    rng = np.random.default_rng(0)
    scene = as_picture(rng.integers(20, 240, (80, 80), np.uint8))
    light = np.array([0.9, 0.7, 0.5])
    lit = balance(scene, light)
    unit = light / np.linalg.norm(light)
    assert unit == pytest.approx([0.72290, 0.56225, 0.40161], abs=5e-6)
    for p in (1, 6):
        assert illuminant(lit, p) == pytest.approx(unit, abs=0.004)  # 8-bit rounding of the lit scene
    assert cast_degrees(lit) == pytest.approx(angle_to_neutral(light), abs=0.8)


def test_grey_world_and_minkowski_of_a_brown_scene():
    # Computed elsewhere on all pixels, none of them left out: leave-out of clipped ones is ours.
    coffee = skimage.data.coffee()
    below = coffee[(coffee < 250).all(axis=2)]
    linear = np.where(below / 255 <= 0.04045, below / 255 / 12.92, ((below / 255 + 0.055) / 1.055) ** 2.4)
    for p in (1, 6):
        mean = (linear**p).mean(axis=0) ** (1 / p)
        assert illuminant(coffee, p) == pytest.approx(mean / np.linalg.norm(mean), abs=1e-5)


def test_angle():
    assert angle_to_neutral(np.ones(3)) == pytest.approx(0, abs=1e-6)
    assert angle_to_neutral(np.array([1, 0.8, 0.6])) == pytest.approx(11.53696, abs=5e-6)


def test_brown_things_are_no_cast_but_a_coloured_lamp_is():
    coffee = skimage.data.coffee()
    assert angle_to_neutral(illuminant(coffee, 1)) > 30  # what grey-world alone would claim
    assert STRONG_CAST not in measure(coffee).flags
    red_lamp = balance(skimage.data.astronaut(), gains_for_light(np.array([0.3, 1.0, 3.0])))
    assert STRONG_CAST in measure(red_lamp).flags


def test_a_cast_that_is_known_is_not_measured():
    coffee = skimage.data.coffee()
    known = measure(coffee, cast=20.0)
    assert known.cast_degrees == 20.0 and known.flags == (*measure(coffee).flags, STRONG_CAST)
    assert replace(known, cast_degrees=0.0, flags=()) == replace(measure(coffee), cast_degrees=0.0, flags=())


def test_a_frame_full_of_tan_with_some_bare_metal_is_no_cast():
    rng = np.random.default_rng(4)
    tan = np.clip(rng.normal((172, 140, 104), 12, (200, 200, 3)), 0, 255)
    tan[:40] = np.clip(rng.normal(150, 30, (40, 200, 1)), 0, 255)
    assert measure(tan.astype(np.uint8)).flags == ()


def test_most_neutral_light_is_that_on_bare_metal_whatever_lies_around_it():
    rng = np.random.default_rng(4)
    table = np.clip(rng.normal((190, 140, 90), 12, (200, 200, 3)), 0, 255)
    table[:40] = np.clip(rng.normal(150, 30, (40, 200, 1)), 0, 255)
    plain = table.astype(np.uint8)
    assert angle_to_neutral(illuminant(plain)) > 10  # the table draws the Minkowski mean with it
    assert angle_to_neutral(most_neutral_light(plain)) < 0.5
    light = np.array([1.0, 0.85, 0.7])
    found = most_neutral_light(balance(plain, light))
    assert np.degrees(np.arccos(found @ light / np.linalg.norm(light))) < 1.5


@pytest.mark.parametrize("level", [0, 30, 255])
def test_where_nothing_tells_the_light_is_taken_as_neutral(level):
    pixels = np.full((20, 20, 3), level, np.uint8)
    assert most_neutral_light(pixels) == pytest.approx(np.full(3, 3**-0.5))


def test_flags_follow_their_limits():
    astronaut = skimage.data.astronaut()
    assert measure(astronaut).flags == ()
    assert TOO_DARK in measure(astronaut // 16).flags
    bright = np.clip(astronaut.astype(int) + 180, 0, 255).astype(np.uint8)
    assert BLOWN_OUT in measure(bright).flags
    blurred = ndimage.gaussian_filter(astronaut, (6, 6, 0))
    assert OUT_OF_FOCUS in measure(blurred).flags
    assert OUT_OF_FOCUS not in measure(blurred, QualityLimits(min_focus=0)).flags
