"""Which way is up and when it was taken; nothing else of a photograph's EXIF block is kept."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pillow_heif
import pytest
from photo_scene import assert_scene, saved
from PIL import Image

from firingend.photo.exif import stored_rows, turns_sideways, upright
from firingend.photo.load import load_picture


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
@pytest.mark.parametrize("min_side", [None, 80])
def test_orientation_is_honoured(tmp_path, scene, orientation, format, min_side):
    pillow_heif.register_heif_opener()
    undo = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    as_stored = scene.transpose(undo[orientation]) if orientation in undo else scene
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = saved(as_stored, tmp_path / "plug", format=format, exif=exif.tobytes())
    assert_scene(load_picture(file, min_side=min_side), 14)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_rows_that_hold_a_box(orientation):
    row_of = upright(np.repeat(np.arange(40)[:, None, None], 60, axis=1), orientation)[..., 0]
    size = (40, 60) if turns_sideways(orientation) else (60, 40)
    assert row_of.shape == size[::-1]
    last = row_of[9:23, 5:31].max()
    assert stored_rows((5, 9, 31, 23), size, orientation) == last + 1


@pytest.mark.parametrize("orientation", range(1, 9))
def test_small_and_large_pictures_are_turned_alike(tmp_path, scene, orientation, monkeypatch):
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = saved(scene, tmp_path / "plug.png", exif=exif)
    small = load_picture(file)
    monkeypatch.setattr("firingend.photo.load._SMALL", 0)
    large = load_picture(file)
    assert isinstance(small.decoded, Image.Image) and isinstance(large.decoded, np.ndarray)
    assert small.size == large.size == (small.full_width, small.full_height)
    np.testing.assert_array_equal(small.pixels, large.pixels)


@pytest.mark.parametrize("orientation", [0, 9, 4711])
def test_nonsense_orientation_is_ignored(tmp_path, scene, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert_scene(load_picture(saved(scene, tmp_path / "plug.jpg", exif=exif.tobytes(), quality=95)), 6)


def test_capture_time_is_read_and_position_is_not(tmp_path, scene):
    exif = Image.Exif()
    exif[0x0132] = "2025:01:01 00:00:00"
    exif.get_ifd(0x8769)[0x9003] = "2024:05:17 09:30:00"
    exif.get_ifd(0x8825).update({1: "N", 2: (51.0, 30.0, 12.0), 3: "W", 4: (0.0, 7.0, 39.0)})
    file = saved(scene, tmp_path / "plug.jpg", exif=exif)
    with Image.open(file) as stored:
        assert dict(stored.getexif().get_ifd(0x8825))  # it is in the file
    picture = load_picture(file)
    assert picture.taken == datetime(2024, 5, 17, 9, 30)
    small = load_picture(file, min_side=10)
    assert type(small.decoded) is Image.Image and not small.decoded.info  # not the file's own picture
    kept = {name: value for name, value in vars(picture).items() if name != "decoded"}
    told = repr({name: value for name, value in kept.items() if name != "file"})  # a folder's name may hold any number
    assert "51.0" not in told and "GPS" not in told
    assert set(kept) == {"file", "full_width", "full_height", "scale", "taken", "quality", "orientation"}


@pytest.mark.parametrize("stamp", ["0000:00:00 00:00:00", "yesterday", "    :  :     :  :  ", ""])
def test_unset_clock_is_no_time(tmp_path, scene, stamp):
    exif = Image.Exif()
    exif[0x0132] = stamp
    assert load_picture(saved(scene, tmp_path / "plug.jpg", exif=exif)).taken is None


def test_damaged_exif_does_not_cost_the_picture(tmp_path, scene):
    exif = b"Exif\0\0II*\0\x08\0\0\0" + bytes(range(1, 200))
    assert_scene(load_picture(saved(scene, tmp_path / "plug.jpg", exif=exif, quality=95)), 6)
