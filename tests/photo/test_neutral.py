"""Neutral balance undoes a coloured light and touches nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from firingend.errors import PhotoError
from firingend.photo.colour import srgb_to_lab
from firingend.photo.neutral import balance, gains_for_light, gains_for_patch


@pytest.fixture
def scene():
    pixels = np.random.default_rng(0).integers(30, 180, (60, 80, 3), dtype=np.uint8)
    pixels[10:20, 10:30] = 118
    return pixels


def test_unit_gains_change_nothing(scene):
    assert np.array_equal(balance(scene, np.ones(3)), scene)


def test_balance_undoes_a_light(scene):
    light = np.array([1.2, 1.0, 0.6])
    lit = balance(scene, light)
    restored = balance(lit, gains_for_light(light))
    assert np.abs(restored.astype(int) - scene).max() <= 2


def test_grey_patch_becomes_grey(scene):
    lit = balance(scene, np.array([1.3, 1.0, 0.5]))
    balanced = balance(lit, gains_for_patch(lit, (10, 10, 30, 20)))
    assert np.abs(srgb_to_lab(balanced[10:20, 10:30])[..., 1:]).max() < 1
    assert np.abs(balanced.astype(int) - scene).max() <= 3


@pytest.mark.parametrize("box", [(5, 5, 5, 9), (200, 200, 210, 210), (-20, -20, -5, -5)])
def test_patch_outside_the_picture(scene, box):
    with pytest.raises(PhotoError, match="grey"):
        gains_for_patch(scene, box)


@pytest.mark.parametrize("value", [0, 255])
def test_patch_without_colour_left(value):
    with pytest.raises(PhotoError, match="blown out"):
        gains_for_patch(np.full((9, 9, 3), value, np.uint8), (0, 0, 9, 9))
