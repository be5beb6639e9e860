"""The straight way from a JPEG to pixels gives what Pillow gives, or nothing."""

from __future__ import annotations

import io
import sys

import numpy as np
import pytest
from photo_scene import saved
from PIL import Image

from firingend.photo.jpeg import rgb_pixels
from firingend.photo.load import load_picture


def jpeg_of(size, mode="RGB", **options):
    pixels = np.random.default_rng(5).integers(0, 256, (size[1] // 4 + 1, size[0] // 4 + 1, 3), np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).resize(size, Image.Resampling.BICUBIC).convert(mode).save(stream, "JPEG", **options)
    return stream.getvalue()


def by_pillow(data, reduction):
    with Image.open(io.BytesIO(data)) as image:
        image.draft(None, (image.width // reduction, image.height // reduction))
        return np.asarray(image.convert("RGB"))


@pytest.mark.parametrize("reduction", [1, 2, 4, 8])
@pytest.mark.parametrize("size", [(160, 96), (161, 97), (167, 103), (9, 400)])
@pytest.mark.parametrize(
    "options",
    [{"subsampling": 0}, {"subsampling": 1}, {"subsampling": 2}, {"progressive": True}, {"restart_marker_rows": 1}],
    ids=str,
)
def test_same_pixels_as_pillow(reduction, size, options):
    data = jpeg_of(size, quality=88, **options)
    pixels = rgb_pixels(data, size, reduction)
    expected = by_pillow(data, reduction)
    assert pixels.shape == expected.shape
    assert np.abs(pixels.astype(int) - expected).max() <= 1  # two builds of one library


@pytest.mark.parametrize("reduction", [1, 2, 4])
@pytest.mark.parametrize("rows", [1, 100, 131, 367])
@pytest.mark.parametrize(
    "options",
    [{"subsampling": 0}, {"subsampling": 1}, {"subsampling": 2}, {"progressive": True}, {"restart_marker_rows": 1}],
    ids=str,
)
def test_upper_rows_are_those_of_the_whole(reduction, rows, options):
    data = jpeg_of((167, 403), quality=88, **options)
    whole, upper = (rgb_pixels(data, (167, 403), reduction, asked) for asked in (None, rows))
    assert upper.shape == whole.shape
    wanted = -(-rows // reduction)
    assert np.array_equal(upper[:wanted], whole[:wanted])
    assert not upper[-(-(rows + 33) // reduction) :].any()


def test_a_thumbnail_before_the_photograph_is_stepped_over():
    thumbnail = jpeg_of((167, 403), quality=40)
    exif = b"Exif\0\0II*\0\x08\0\0\0\0\0" + thumbnail  # an empty directory, then what no directory points to
    data = jpeg_of((167, 403), quality=88, exif=exif)
    assert thumbnail in data
    assert np.array_equal(rgb_pixels(data, (167, 403), 1, 100)[:100], rgb_pixels(data, (167, 403), 1)[:100])


@pytest.mark.parametrize("cut", [1, 4, 200])
def test_a_file_cut_short_in_its_headers_has_no_upper_rows(cut):
    assert rgb_pixels(jpeg_of((160, 96))[:cut], (160, 96), 1, 8) is None


def test_upper_rows_of_another_size_than_stated_are_left_to_pillow():
    assert rgb_pixels(jpeg_of((160, 96)), (160, 97), 1, 8) is None


def test_a_jpeg_stored_as_rgb(tmp_path):
    data = jpeg_of((160, 96), quality=95, keep_rgb=True)
    assert np.array_equal(rgb_pixels(data, (160, 96), 1), by_pillow(data, 1))


@pytest.mark.parametrize("cut", [200, -300])
def test_a_damaged_file_is_left_to_pillow(cut):
    assert rgb_pixels(jpeg_of((160, 96))[:cut], (160, 96), 1) is None


def test_another_size_than_stated_is_left_to_pillow():
    assert rgb_pixels(jpeg_of((160, 96)), (160, 97), 1) is None


def test_without_the_decoder_pillow_does(tmp_path, scene, monkeypatch):
    file = saved(scene, tmp_path / "plug.jpg", quality=95)
    straight = load_picture(file).pixels
    monkeypatch.setitem(sys.modules, "simplejpeg", None)
    assert np.abs(load_picture(file).pixels.astype(int) - straight).max() <= 1


@pytest.mark.parametrize("mode", ["L", "CMYK"])
def test_grey_and_cmyk_still_load(tmp_path, mode):
    file = tmp_path / "plug.jpg"
    file.write_bytes(jpeg_of((160, 96), mode, quality=95))
    expected = by_pillow(file.read_bytes(), 2)
    assert np.abs(load_picture(file, min_side=80).pixels.astype(int) - expected).max() <= 1
