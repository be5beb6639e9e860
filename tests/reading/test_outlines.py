"""Polygons of masks."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import ndimage

from firingend.reading import outlines as outlines_module
from firingend.reading.outlines import area


def outlines(mask, **how):
    """Of one mask."""
    return outlines_module.outlines([mask], **how)[0]


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
    assert outlines_module.outlines([]) == []


@pytest.mark.parametrize("seed", range(5))
def test_masks_outlined_together_come_out_as_each_alone(seed):
    rng = np.random.default_rng(seed)
    noise = ndimage.gaussian_filter(rng.normal(size=(6, 40, 30)), (0, 1, 1))
    masks = [*(noise > 0), np.ones((40, 30), bool), np.zeros((40, 30), bool)]  # up to the last row and column
    together = outlines_module.outlines(masks)
    assert len(together[-1]) == 0 and len(together[-2]) == 1
    for mask, found in zip(masks, together, strict=True):
        assert [loop.tolist() for loop in found] == [loop.tolist() for loop in outlines(mask)]


def test_patches_that_touch_at_a_corner_are_outlined_each():
    chequered = np.kron([[1, 0], [0, 1]], np.ones((3, 3))).astype(bool)
    both = [sorted(map(tuple, loop)) for loop in outlines(chequered)]
    assert both == [[(0, 0), (0, 3), (3, 0), (3, 3)], [(3, 3), (3, 6), (6, 3), (6, 6)]]


@pytest.mark.parametrize("seed", range(20))
def test_loops_enclose_the_mask_cell_for_cell(seed):
    rng = np.random.default_rng(seed)
    height, width = rng.integers(1, 40, 2)
    mask = ndimage.gaussian_filter(rng.normal(size=(height, width)), rng.uniform(0, 3)) > 0
    (loops,) = outlines_module._loops([mask])
    assert sum(area(loop) for loop in loops) == mask.sum()  # outer ones count up, holes down
    for loop in loops:
        steps = np.diff([*loop, loop[0]], axis=0)
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
