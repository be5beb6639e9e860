"""Polygons of masks."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import ndimage

from firingend.reading import outlines as outlines_module
from firingend.reading.outlines import area, outlines


def test_a_disc_keeps_its_area_with_few_points():
    y, x = np.indices((48, 48)) + 0.5
    disc = np.hypot(x - 24, y - 24) < 15
    (polygon,) = outlines(disc)
    assert len(polygon) <= 24
    assert area(polygon) == pytest.approx(disc.sum(), rel=0.06)


def test_patches_come_largest_first_without_specks_and_holes():
    mask = np.zeros((20, 20), bool)
    mask[1:3, 1:4] = True
    mask[8:18, 8:18] = True
    mask[11:14, 11:14] = False
    mask[0, 19] = True
    assert [area(polygon) for polygon in outlines(mask)] == [100, 6]


def test_an_empty_mask_has_no_outline():
    assert outlines(np.zeros((4, 4), bool)) == []


@pytest.mark.parametrize("seed", range(20))
def test_loops_enclose_the_mask_cell_for_cell(seed):
    rng = np.random.default_rng(seed)
    height, width = rng.integers(1, 40, 2)
    mask = ndimage.gaussian_filter(rng.normal(size=(height, width)), rng.uniform(0, 3)) > 0
    loops = outlines_module._loops(mask)
    assert sum(area(loop) for loop in loops) == mask.sum()  # outer ones count up, holes down
    for loop in loops:
        steps = np.diff(np.concatenate((loop, loop[:1])), axis=0)
        assert ((steps != 0).sum(axis=1) == 1).all()  # along the cells' edges
        assert (np.sign(steps) != np.sign(np.roll(steps, 1, axis=0))).any(axis=1).all()  # only corners are kept


def test_no_corner_lies_farther_from_the_polygon_than_the_tolerance():
    y, x = np.indices((48, 48)) + 0.5
    petals = np.hypot(x - 24, y - 24) < 14 + 6 * np.sin(5 * np.arctan2(y - 24, x - 24))
    (fine,), (coarse,) = outlines(petals, tolerance=0), outlines(petals)
    assert len(coarse) < len(fine)
    steps = np.linspace(0, 1, 200)[:, None]
    dense = np.concatenate([a + steps * (b - a) for a, b in itertools.pairwise([*coarse, coarse[0]])])
    nearest = np.hypot(*(fine[:, None] - dense).transpose(2, 0, 1)).min(axis=1)
    assert nearest.max() <= 1.05
