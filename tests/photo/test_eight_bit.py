"""Pictures of every pixel kind and colour profile come out as the 8-bit sRGB they mean."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from photo_scene import HEIGHT, WIDTH, assert_scene, png_bytes, saved
from PIL import Image, ImageCms

from firingend.errors import PhotoError
from firingend.photo.load import load_picture


def test_grey_and_bilevel(tmp_path, scene):
    grey = load_picture(saved(scene.convert("L"), tmp_path / "grey.jpg", quality=98)).pixels
    assert grey.shape == (HEIGHT, WIDTH, 3)
    assert np.abs(grey.astype(int) - np.asarray(scene.convert("L"))[..., None]).max() <= 12
    bilevel = load_picture(saved(scene.convert("1"), tmp_path / "bilevel.png")).pixels
    assert set(np.unique(bilevel)) == {0, 255}


@pytest.mark.parametrize("format", ["PNG", "TIFF"])
def test_sixteen_bit_grey_is_scaled_not_cut(tmp_path, format):
    deep = np.linspace(0, 65535, 256).round().astype(np.uint16)[None].repeat(4, axis=0)
    file = saved(Image.fromarray(deep), tmp_path / "deep", format=format)
    ramp = load_picture(file).pixels[0, :, 0]
    assert np.array_equal(ramp, np.arange(256))


def test_sixteen_bit_colour_png(tmp_path):
    rows = b"".join(b"\0" + struct.pack(">6H", 0, 65535, 32896, 257 * 77, 257 * 200, 257 * 3) for _ in range(2))
    file = tmp_path / "deep.png"
    file.write_bytes(png_bytes(2, 2, 16, 2, zlib.compress(rows)))
    pixels = load_picture(file).pixels
    assert pixels[0].tolist() == [[0, 255, 128], [77, 200, 3]]


def test_cmyk_jpeg_keeps_its_colours(tmp_path, scene):
    picture = load_picture(saved(scene.convert("CMYK"), tmp_path / "print.jpg", quality=95))
    assert_scene(picture, 8)


def test_palette_with_and_without_transparency(tmp_path, scene):
    palette = scene.quantize(16)
    assert_scene(load_picture(saved(palette, tmp_path / "palette.png")), 4)
    index = palette.getpixel((2, 2))
    file = saved(palette, tmp_path / "holes.png", transparency=index)
    assert load_picture(file).pixels[2, 2].tolist() == [255, 255, 255]


@pytest.mark.parametrize("format", ["PNG", "WEBP", "TIFF"])
def test_alpha_lies_over_white(tmp_path, format):
    rgba = Image.new("RGBA", (20, 10), (200, 100, 0, 128))
    options = {"lossless": True} if format == "WEBP" else {}
    pixels = load_picture(saved(rgba, tmp_path / "alpha", format=format, **options)).pixels
    assert np.abs(pixels[5, 5].astype(int) - (227, 177, 127)).max() <= 1
    grey = saved(Image.new("LA", (20, 10), (100, 128)), tmp_path / "la.png")
    assert np.abs(load_picture(grey).pixels[5, 5].astype(int) - 177).max() <= 1


def test_cielab_tiff(tmp_path):
    lab = Image.new("LAB", (8, 8), (128, 128, 128))
    pixels = load_picture(saved(lab, tmp_path / "lab.tif")).pixels
    assert np.abs(pixels[4, 4].astype(int) - 119).max() <= 3  # L* about 50 is sRGB 119, CIE 15


def test_floating_point_pixels_are_refused(tmp_path):
    file = saved(Image.fromarray(np.ones((8, 8), np.float32)), tmp_path / "float.tif")
    with pytest.raises(PhotoError, match="32 bits"):
        load_picture(file)


def rgb_profile(primaries):
    """A minimal matrix-shaper ICC profile with gamma 2.2 and the given D50-adapted XYZ columns."""

    def s15(value):
        return struct.pack(">i", round(value * 65536))

    def xyz(values):
        return b"XYZ \0\0\0\0" + b"".join(map(s15, values))

    description = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + bytes(4 + 4 + 2 + 1 + 67)
    tags = {
        b"desc": description + bytes(-len(description) % 4),
        b"wtpt": xyz((0.9642, 1.0, 0.8249)),
        **{name: xyz(column) for name, column in zip((b"rXYZ", b"gXYZ", b"bXYZ"), primaries, strict=True)},
        **{name: b"curv\0\0\0\0" + struct.pack(">IHH", 1, 563, 0) for name in (b"rTRC", b"gTRC", b"bTRC")},
    }
    table, body, offset = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for name, data in tags.items():
        table += name + struct.pack(">II", offset + len(body), len(data))
        body += data
    header = struct.pack(">I4sI4s4s4s", 128 + len(table) + len(body), b"none", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    header += bytes(12) + b"acsp" + bytes(28) + s15(0.9642) + s15(1.0) + s15(0.8249) + bytes(48)
    return header + table + body


def test_wide_gamut_profile_is_converted(tmp_path):
    # D50-adapted Display P3 primaries as XYZ columns (SMPTE RP 431-2 primaries, D65 white; value from memory).
    p3 = rgb_profile(((0.5151, 0.2412, -0.0011), (0.2919, 0.6922, 0.0419), (0.1571, 0.0666, 0.7841)))
    ImageCms.ImageCmsProfile(io.BytesIO(p3))
    image = Image.new("RGB", (16, 16), (200, 100, 100))
    tagged = load_picture(saved(image, tmp_path / "p3.png", icc_profile=p3)).pixels[8, 8].astype(int)
    plain = load_picture(saved(image, tmp_path / "plain.png")).pixels[8, 8].astype(int)
    assert plain.tolist() == [200, 100, 100]
    # The same numbers mean a more colourful red under wider primaries.
    assert tagged[0] > 208 and tagged[1] < 98
    grey = Image.new("RGB", (16, 16), (128, 128, 128))
    neutral = load_picture(saved(grey, tmp_path / "grey.png", icc_profile=p3)).pixels[8, 8].astype(int)
    assert np.ptp(neutral) <= 1


def test_unusable_profiles_are_ignored(tmp_path, scene):
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for name, profile in (("srgb.png", srgb), ("broken.png", b"not a profile" * 20)):
        assert_scene(load_picture(saved(scene, tmp_path / name, icc_profile=profile)), 0)
    grey = saved(scene.convert("L"), tmp_path / "grey.png", icc_profile=srgb)
    assert load_picture(grey).pixels.shape == (HEIGHT, WIDTH, 3)
