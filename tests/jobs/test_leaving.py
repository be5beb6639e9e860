"""What leaves carries no place, and the same pixels."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from firingend.errors import PhotoError
from firingend.jobs.leaving import without_location
from firingend.photo.load import load_picture

SECRET = b"65.4321 secret place"


def exif_with_place(orientation=6):
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010E] = SECRET.decode()
    exif.get_ifd(0x8769)[0x9003] = "2026:03:04 05:06:07"
    exif.get_ifd(0x8825).update({1: "N", 2: (12.0, 34.0, 56.0), 3: "E", 4: (65.0, 43.0, 21.0)})
    return exif


def picture():
    return Image.effect_noise((80, 60), 60).convert("RGB")


def make(kind):
    stream = io.BytesIO()
    if kind == "png":
        info = PngImagePlugin.PngInfo()
        info.add_text("Location", SECRET.decode())
        picture().save(stream, "PNG", exif=exif_with_place(), pnginfo=info)
    elif kind in ("jpg", "progressive"):
        comment = SECRET + b" in a comment"
        picture().save(
            stream, "JPEG", exif=exif_with_place(), comment=comment, progressive=kind == "progressive", quality=90
        )
        # A second picture or a film behind the first, as phones write them.
        stream.seek(0, io.SEEK_END)
        stream.write(SECRET)
    else:
        picture().save(stream, kind, exif=exif_with_place())
    return stream.getvalue()


@pytest.mark.parametrize("kind", ["jpg", "progressive", "png", "webp", "tiff"])
def test_no_place_leaves(tmp_path, kind):
    file = tmp_path / "photo"
    file.write_bytes(make(kind))
    data, suffix = without_location(file)
    left = tmp_path / f"left{suffix}"
    left.write_bytes(data)
    assert SECRET not in data
    with Image.open(left) as image:
        exif = image.getexif()
        assert not exif.get_ifd(0x8825)
        assert set(exif) <= {0x0112, 0x8769}
        assert set(exif.get_ifd(0x8769)) <= {0x9003}
    before, after = load_picture(file), load_picture(left)
    assert after.taken == before.taken
    assert after.pixels.shape == before.pixels.shape
    if kind in ("jpg", "progressive", "png"):
        assert np.array_equal(before.pixels, after.pixels)
    else:
        assert np.abs(before.pixels.astype(int) - after.pixels).mean() < 4


@pytest.mark.parametrize("kind", ["jpg", "png", "webp"])
def test_doing_it_twice_changes_nothing_more(tmp_path, kind):
    file = tmp_path / "photo"
    file.write_bytes(make(kind))
    once, suffix = without_location(file)
    file.write_bytes(once)
    assert without_location(file) == (once, suffix)


def test_colour_profiles_stay(tmp_path):
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    file = tmp_path / "photo.jpg"
    picture().save(file, "JPEG", icc_profile=profile)
    data, _ = without_location(file)
    with Image.open(io.BytesIO(data)) as image:
        assert image.info["icc_profile"] == profile


def test_a_damaged_photograph_does_not_leave(tmp_path):
    file = tmp_path / "photo.jpg"
    file.write_bytes(b"\xff\xd8\xff" + bytes(40))
    with pytest.raises(PhotoError):
        without_location(file)
