"""Polygons of masks."""

from __future__ import annotations

import numpy as np
import pytest

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
