"""Crops come from where the matrix says, upright and without aliasing."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from firingend.reading.crop import crop_matrix, crop_reach, crop_side, upright_crop

sines = st.floats(-1, 1)


def smooth_picture(height=300, width=400):
    """Red rises and blue falls with the column, green rises with the row: a crop shows where it came from."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[..., 0] = np.rint(np.arange(width) * 250 / width)
    pixels[..., 2] = 250 - pixels[..., 0]
    pixels[..., 1] = np.rint(np.arange(height) * 250 / height)[:, None]
    return pixels


@given(st.floats(-50, 300), st.floats(-50, 300), st.floats(1, 200), st.floats(1, 200), sines, sines)
def test_matrix_is_a_turn_and_one_scale_about_the_box_centre(x, y, w, h, dx, dy):
    box, size, margin = (x, y, x + w, y + h), 64, 1.2
    matrix = crop_matrix(box, (dx, dy), size, margin)
    scale = margin * max(w, h, 1 / margin) / size
    assert matrix.dtype == np.float64
    assert np.allclose(matrix[:, :2] @ matrix[:, :2].T, scale**2 * np.eye(2))
    assert np.linalg.det(matrix[:, :2]) > 0  # never a mirror
    middle = matrix @ ((size - 1) / 2, (size - 1) / 2, 1)
    assert np.allclose(middle + 0.5, (x + w / 2, y + h / 2))
    up = matrix[:, :2] @ (0, -1) / scale
    length = np.hypot(dx, dy)
    assert np.allclose(up, (dx / length, dy / length) if length > 0.25 else (0, -1))


def test_untouched_crop_is_the_picture_itself():
    pixels = np.random.default_rng(0).integers(0, 256, (80, 90, 3), dtype=np.uint8)
    assert np.array_equal(upright_crop(pixels, (10, 20, 42, 52), (0, 0), 32, 1.0), pixels[20:52, 10:42])


@pytest.mark.parametrize("axis", [(0, -1), (0.5, -0.6), (-0.9, 0.3)])
@pytest.mark.parametrize("size", [16, 40, 97])
def test_what_lies_beyond_the_reach_plays_no_part(axis, size):
    pixels = np.random.default_rng(2).integers(0, 256, (300, 400, 3), dtype=np.uint8)
    box = (150.3, 120.7, 240.9, 180.2)
    x0, y0, x1, y1 = (int(side) for side in crop_reach(box, axis, size, 1.1))
    within = np.zeros_like(pixels)
    within[max(y0, 0) : y1, max(x0, 0) : x1] = pixels[max(y0, 0) : y1, max(x0, 0) : x1]
    assert np.array_equal(upright_crop(within, box, axis, size, 1.1), upright_crop(pixels, box, axis, size, 1.1))


@pytest.mark.parametrize(("axis", "turns"), [((0, -1), 0), ((1, 0), 1), ((0, 1), 2), ((-1, 0), 3)])
def test_quarter_turns_bring_the_axis_up(axis, turns):
    pixels = np.random.default_rng(1).integers(0, 256, (80, 90, 3), dtype=np.uint8)
    crop = upright_crop(pixels, (10, 20, 42, 52), axis, 32, 1.0)
    assert np.array_equal(crop, np.rot90(pixels[20:52, 10:42], turns))


@pytest.mark.parametrize("axis", [(0, -1), (0.1, 0.1), (0.5, -0.6), (-0.9, 0.3)])
@pytest.mark.parametrize("size", [40, 97, 160])
def test_crop_shows_what_the_matrix_points_at(axis, size):
    pixels = smooth_picture()
    box, margin = (120.3, 90.7, 240.9, 180.2), 1.15
    crop = upright_crop(pixels, box, axis, size, margin).astype(float)
    matrix = crop_matrix(box, axis, size, margin)
    rows, columns = np.mgrid[:size, :size]
    x, y = np.einsum("ij,jrc->irc", matrix, np.stack((columns, rows, np.ones_like(rows))).astype(float))
    red, green = crop[..., 0] - x * 250 / 400, crop[..., 1] - y * 250 / 300
    blue = crop[..., 2] - (250 - x * 250 / 400)
    # Both ramps are in 8-bit steps, rounded three times on the way.
    assert max(np.abs(red).max(), np.abs(green).max(), np.abs(blue).max()) < 3
    # Pillow cuts fractions off, half a level on average; a slip of half a pixel would move red from blue by 0.6.
    assert abs((red - blue).mean()) < 0.3


def test_agrees_with_opencv_where_it_does_not_shrink():
    pixels = cv2.GaussianBlur(np.random.default_rng(2).integers(0, 256, (200, 220, 3), dtype=np.uint8), (0, 0), 3)
    box, axis = (60, 50, 130, 140), (0.4, -0.8)
    matrix = crop_matrix(box, axis, 96, 1.0)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    expected = cv2.warpAffine(pixels, matrix, (96, 96), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    assert np.abs(upright_crop(pixels, box, axis, 96, 1.0).astype(int) - expected).max() <= 2


@pytest.mark.parametrize("size", [160, 96, 69])  # blocks of 3, of 5 and of 7 pixels: odd ones, with a middle
@pytest.mark.parametrize("box", [(210, 180, 690, 660), (-150, 300, 330, 780)])
def test_agrees_with_opencv_where_it_shrinks(size, box):
    pixels = cv2.GaussianBlur(np.random.default_rng(3).integers(0, 256, (900, 900, 3), dtype=np.uint8), (0, 0), 9)
    pixels = cv2.normalize(pixels, None, 0, 255, cv2.NORM_MINMAX)
    axis = (0.4, -0.8)
    matrix = crop_matrix(box, axis, size, 1.0)
    block = round(480 / size)
    averaged = cv2.blur(pixels, (block, block), borderType=cv2.BORDER_REPLICATE)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    expected = cv2.warpAffine(averaged, matrix, (size, size), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    off = np.abs(upright_crop(pixels, box, axis, size, 1.0).astype(int) - expected)
    assert expected.std() > 25
    assert off.mean() < 2 and np.quantile(off, 0.99) < 10


@pytest.mark.parametrize("axis", [(0, -1), (0.7, -0.7)])
def test_fine_stripes_average_to_grey(axis):
    stripes = np.zeros((600, 600, 3), np.uint8)
    stripes[:, ::2] = 255
    crop = upright_crop(stripes, (100, 100, 500, 500), axis, 64, 1.0)
    assert np.abs(crop.astype(int) - 127).max() <= 12


@pytest.mark.parametrize("axis", [(0, -1), (0.7, -0.7)])
def test_edge_is_repeated_beyond_the_picture(axis):
    pixels = np.full((50, 50, 3), (200, 20, 90), np.uint8)
    for box in ((-20, -20, 30, 30), (40, 40, 90, 90), (-10, -10, 60, 60), (49, 0, 50, 1)):
        crop = upright_crop(pixels, box, axis, 48, 1.5)
        assert crop.shape == (48, 48, 3)
        assert np.abs(crop.astype(int) - (200, 20, 90)).max() == 0


@pytest.mark.parametrize("size", [240, 80, 48])
def test_what_is_beyond_the_edge_continues_where_the_edge_is(size):
    """Left of the picture its first column goes on, at whatever scale the crop is: no block straddles the edge."""
    pixels = np.zeros((400, 400, 3), np.uint8)
    pixels[:, :40] = 240
    crop = upright_crop(pixels, (-120, 100, 120, 340), (0, -1), size, 1.0)
    edge = 160 / 240 * size  # where column 40 of the picture lies
    assert (crop[:, : int(edge) - 2] == 240).all()
    assert (crop[:, int(edge) + 3 :] == 0).all()


def test_small_boxes_are_enlarged_and_empty_ones_survive():
    pixels = smooth_picture()
    assert upright_crop(pixels, (100, 100, 110, 110), (0, -1), 96, 1.2).shape == (96, 96, 3)
    assert upright_crop(pixels, (100, 100, 100, 100), (0, -1), 96, 1.2).shape == (96, 96, 3)
    assert crop_side((0, 0, 10, 40), 1.5) == 60


@pytest.mark.parametrize("box", [(60, 40, 90, 80), (-20, -10, 60, 50), (100, 60, 260, 190), (0, 0, 240, 180)])
def test_the_same_is_cut_from_pillows_picture_as_from_an_array(box):
    pixels = np.random.default_rng(5).integers(0, 256, (180, 240, 3), dtype=np.uint8)
    ways = [upright_crop(way, box, (0.6, -0.8), 48, 1.2) for way in (pixels, Image.fromarray(pixels))]
    np.testing.assert_array_equal(*ways)
