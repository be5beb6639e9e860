"""Cut-outs of firing ends: the right part of the picture, small, and with nothing of the camera in it."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image

from firingend.report.pictures import MARGIN, PADDING, cut_out, square_around, whole

PLENTY = 1_000_000


def pixels_of(jpeg: bytes) -> NDArray[np.uint8]:
    with Image.open(io.BytesIO(jpeg)) as picture:
        assert picture.format == "JPEG"
        return np.asarray(picture.convert("RGB"))


def field(height: int, width: int, box: tuple[int, int, int, int]) -> NDArray[np.uint8]:
    """A green field with a red box on it."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[..., 1] = 160
    x0, y0, x1, y1 = box
    pixels[y0:y1, x0:x1] = (200, 20, 20)
    return pixels


@pytest.mark.parametrize("scale", [1.0, 0.5, 0.25])
def test_box_comes_out_in_the_middle_with_its_margin(scale: float) -> None:
    full = field(800, 1600, (600, 300, 800, 500))
    step = round(1 / scale)
    shown = pixels_of(cut_out(full[::step, ::step], scale, (600, 300, 800, 500), 640, PLENTY))
    red = shown[..., 0] > 110
    rows, columns = np.flatnonzero(red.any(axis=1)), np.flatnonzero(red.any(axis=0))
    side = shown.shape[0]
    edge = side * MARGIN / (1 + 2 * MARGIN)
    assert shown.shape[0] == shown.shape[1]
    assert [rows[0], columns[0]] == pytest.approx([edge, edge], abs=2)
    assert [side - rows[-1], side - columns[-1]] == pytest.approx([edge, edge], abs=2)


def test_box_at_the_edge_is_not_padded() -> None:
    shown = pixels_of(cut_out(field(400, 400, (0, 0, 100, 60)), 1.0, (0, 0, 100, 60), 640, PLENTY))
    grey = (np.abs(shown.astype(int) - PADDING) < 12).all(axis=-1)
    assert not grey.any()


def test_box_larger_than_the_picture_is_padded_with_grey() -> None:
    shown = pixels_of(cut_out(field(100, 300, (0, 0, 300, 100)), 1.0, (0, 0, 300, 100), 640, PLENTY))
    assert shown.shape[0] == shown.shape[1]
    assert np.abs(shown[2, 2].astype(int) - PADDING).max() < 8
    assert shown[shown.shape[0] // 2, shown.shape[1] // 2, 0] > 150


def test_large_cut_outs_are_shrunk_and_small_ones_left_alone() -> None:
    large = pixels_of(cut_out(field(2000, 2000, (200, 200, 1800, 1800)), 1.0, (200, 200, 1800, 1800), 640, PLENTY))
    small = pixels_of(cut_out(field(200, 200, (50, 50, 150, 150)), 1.0, (50, 50, 150, 150), 640, PLENTY))
    assert large.shape == (640, 640, 3)
    assert small.shape == (124, 124, 3)


@pytest.mark.parametrize("most_bytes", [250_000, 60_000, 9_000])
def test_even_noise_fits_its_allowance(most_bytes: int) -> None:
    noise = np.random.default_rng(0).integers(0, 256, (700, 700, 3), dtype=np.uint8)
    jpeg = cut_out(noise, 1.0, (60, 60, 640, 640), 640, most_bytes)
    assert len(jpeg) <= most_bytes
    assert pixels_of(jpeg).shape[0] >= 80


def test_whole_photograph_is_shown_where_nothing_was_found() -> None:
    shown = pixels_of(whole(field(300, 600, (0, 0, 600, 300)), 400, PLENTY))
    red = (shown[..., 0] > 110) & (shown[..., 1] < 80)
    assert shown.shape[0] == shown.shape[1] == 400
    assert red.any(axis=0).sum() == pytest.approx(400, abs=2)
    assert red.any(axis=1).sum() == pytest.approx(200, abs=2)


coordinates = st.floats(-500, 1500, allow_nan=False)


@settings(max_examples=60)
@given(st.tuples(coordinates, coordinates, coordinates, coordinates), st.sampled_from([1.0, 0.5, 0.125]))
def test_any_box_gives_a_square_picture(box: tuple[float, float, float, float], scale: float) -> None:
    shown = pixels_of(cut_out(field(90, 120, (10, 10, 50, 50)), scale, box, 200, PLENTY))
    assert shown.shape[0] == shown.shape[1] <= 200


@given(st.floats(0, 900), st.floats(0, 500), st.floats(1, 100), st.floats(1, 100))
def test_square_holds_its_box(x: float, y: float, width: float, height: float) -> None:
    left, top, side = square_around((x, y, x + width, y + height), 1000, 600)
    assert left <= x + 1e-6 and x + width <= left + side + 1e-6
    assert top <= y + 1e-6 and y + height <= top + side + 1e-6
    assert left >= 0 and top >= 0 and left + side <= 1000 + 1e-6 and top + side <= 600 + 1e-6
