"""Every file a phone, a scanner or bad luck can hand over: the right picture, or an error with a remedy."""

from __future__ import annotations

import io
import struct
import threading
import warnings
import zlib
from datetime import datetime

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageCms

from firingend.errors import PhotoError
from firingend.photo.load import LoadLimits, load_finer, load_picture, reduction_for

WIDTH, HEIGHT = 160, 96
QUADRANTS = ((200, 40, 40), (40, 180, 60), (50, 60, 190), (210, 200, 80))  # top left, top right, bottom left, …


@pytest.fixture
def scene():
    """A picture whose four quarters tell every orientation apart."""
    pixels = np.empty((HEIGHT, WIDTH, 3), np.uint8)
    half_y, half_x = HEIGHT // 2, WIDTH // 2
    pixels[:half_y, :half_x], pixels[:half_y, half_x:] = QUADRANTS[0], QUADRANTS[1]
    pixels[half_y:, :half_x], pixels[half_y:, half_x:] = QUADRANTS[2], QUADRANTS[3]
    return Image.fromarray(pixels)


def quarters(pixels):
    height, width = pixels.shape[:2]
    return [pixels[y, x].astype(int) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]


def assert_scene(picture, tolerance):
    assert (picture.full_width, picture.full_height) == (WIDTH, HEIGHT)
    for seen, meant in zip(quarters(picture.pixels), QUADRANTS, strict=True):
        assert np.abs(seen - meant).max() <= tolerance, (seen, meant)


def saved(image, path, **options):
    image.save(path, **options)
    return path


@pytest.mark.parametrize(
    ("format", "options", "tolerance"),
    [
        ("JPEG", {"quality": 95}, 6),
        ("JPEG", {"quality": 95, "progressive": True}, 6),
        ("PNG", {}, 0),
        ("WEBP", {"lossless": True}, 0),
        ("TIFF", {"compression": "tiff_lzw"}, 0),
        ("TIFF", {"compression": "jpeg", "quality": 95}, 6),
        ("HEIF", {"quality": 90}, 8),
        ("BMP", {}, 0),
        ("GIF", {}, 2),
    ],
)
@pytest.mark.parametrize("suffix", ["right", ".jpg", ".png", ".heic", ""])
def test_every_format_is_told_by_content(tmp_path, scene, format, options, tolerance, suffix):
    pillow_heif.register_heif_opener()
    file = tmp_path / f"plug{'.' + format.lower() if suffix == 'right' else suffix}"
    scene.save(file, format=format, **options)
    picture = load_picture(file)
    assert_scene(picture, tolerance)
    assert picture.scale == 1.0
    assert picture.pixels.dtype == np.uint8
    assert not picture.pixels.flags.writeable


def test_reduction_keeps_the_asked_size(tmp_path):
    rng = np.random.default_rng(1)
    image = Image.fromarray(rng.integers(0, 256, (300, 403, 3), np.uint8)).resize((1612, 1201))
    for format in ("JPEG", "PNG"):
        options = {"quality": 95, "subsampling": 0} if format == "JPEG" else {}
        file = saved(image, tmp_path / f"plug.{format}", format=format, **options)
        for min_side, long_side in ((1613, 1612), (1612, 1612), (800, 806), (403, 403), (200, 202), (10, 202)):
            picture = load_picture(file, min_side=min_side)
            assert picture.pixels.shape[1] == long_side
            assert (picture.full_width, picture.full_height) == (1612, 1201)
            assert picture.scale == pytest.approx(long_side / 1612)
        reduced = load_picture(file, min_side=403).pixels.astype(float)
        full = np.asarray(image.reduce(4)).astype(float)
        assert np.abs(reduced - full).mean() < 4


def test_reduction_never_goes_below_what_exists():
    assert reduction_for((5, 1), 512) == 1
    assert reduction_for((4096, 1), 512) == 8


def test_finer_reads_the_same_picture_at_more_pixels(tmp_path, scene):
    file = saved(scene.resize((1600, 960), Image.Resampling.NEAREST), tmp_path / "plug.jpg", quality=95)
    coarse = load_picture(file, min_side=200)
    fine = load_finer(coarse, 800)
    assert (coarse.pixels.shape[1], fine.pixels.shape[1]) == (200, 800)
    assert fine.quality is coarse.quality
    assert fine.scale == 0.5


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
    kept = {name: getattr(picture, name) for name in picture.__slots__ if name != "pixels"}
    assert "51" not in repr(kept) and "GPS" not in repr(kept)
    assert set(kept) == {"file", "full_width", "full_height", "scale", "taken", "quality"}


@pytest.mark.parametrize("stamp", ["0000:00:00 00:00:00", "yesterday", "    :  :     :  :  ", ""])
def test_unset_clock_is_no_time(tmp_path, scene, stamp):
    exif = Image.Exif()
    exif[0x0132] = stamp
    assert load_picture(saved(scene, tmp_path / "plug.jpg", exif=exif)).taken is None


def test_damaged_exif_does_not_cost_the_picture(tmp_path, scene):
    exif = b"Exif\0\0II*\0\x08\0\0\0" + bytes(range(1, 200))
    assert_scene(load_picture(saved(scene, tmp_path / "plug.jpg", exif=exif, quality=95)), 6)


# --- pixel kinds -----------------------------------------------------------------------------------------------


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


def test_first_picture_of_an_animation(tmp_path, scene):
    other = Image.new("RGB", scene.size, (0, 0, 0))
    for name, options in (
        ("moving.webp", {"lossless": True}),
        ("moving.png", {}),
        ("moving.gif", {}),
        ("pages.tif", {}),
    ):
        file = saved(scene, tmp_path / name, save_all=True, append_images=[other, other], **options)
        assert_scene(load_picture(file), 2)


def test_multi_picture_jpeg(tmp_path, scene):
    file = saved(
        scene, tmp_path / "burst.jpg", format="MPO", save_all=True, append_images=[scene.rotate(180)], quality=95
    )
    assert_scene(load_picture(file), 6)
    assert load_picture(file, min_side=40).pixels.shape == (24, 40, 3)


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
    header = struct.pack(
        ">I4sI4s4s4s", 128 + len(table) + len(body), b"none", 0x02400000, b"mntr", b"RGB ", b"XYZ "
    )
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


# --- files that cannot be read -----------------------------------------------------------------------------------


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bytes(width, height, depth, colour, packed):
    header = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def assert_refused(file, *words, **options):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(PhotoError) as caught:
            load_picture(file, **options)
    message = str(caught.value)
    assert file.name in message
    assert caught.value.remedy
    assert "\n" not in message
    for word in words:
        assert word in message


def test_missing_folder_and_empty(tmp_path):
    assert_refused(tmp_path / "nowhere.jpg", "does not exist")
    (tmp_path / "plugs").mkdir()
    assert_refused(tmp_path / "plugs", "folder")
    (tmp_path / "empty.jpg").touch()
    assert_refused(tmp_path / "empty.jpg", "empty")


def test_not_a_photograph(tmp_path):
    for name, content in (
        ("letter.jpg", b"Dear customer, " * 50),
        ("page.heic", b"%PDF-1.7\n" + bytes(400)),
        ("tiny.png", b"\x89"),
        ("av1.heic", b"\0\0\0\x1cftypavif\0\0\0\0avifmif1miaf" + bytes(200)),
        ("film.heic", b"\0\0\0\x18ftypisom\0\0\0\0isommp42" + bytes(200)),
    ):
        (tmp_path / name).write_bytes(content)
        assert_refused(tmp_path / name, "not a photograph")


def test_device_files_are_refused():
    with pytest.raises(PhotoError, match="not an ordinary file"):
        load_picture("/dev/null")


def test_name_no_system_can_open():
    with pytest.raises(PhotoError, match=r"cannot be opened|does not exist"):
        load_picture("plug\0.jpg")
    with pytest.raises(PhotoError, match="cannot be opened"):
        load_picture("x" * 5000)


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "GIF", "BMP"])
@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9])
def test_cut_short(tmp_path, format, share, capfd):
    pillow_heif.register_heif_opener()
    noise = Image.fromarray(np.random.default_rng(2).integers(0, 256, (200, 300, 3), np.uint8))
    whole = io.BytesIO()
    noise.save(whole, format=format)
    file = tmp_path / "cut"
    file.write_bytes(whole.getvalue()[: max(20, int(len(whole.getvalue()) * share))])
    for min_side in (None, 100):
        assert_refused(file, min_side=min_side)
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF", "GIF", "BMP"])
def test_scrambled_bytes_never_escape_as_anything_else(tmp_path, scene, format, capfd):
    pillow_heif.register_heif_opener()
    whole = io.BytesIO()
    scene.save(whole, format=format)
    rng = np.random.default_rng(3)
    for trial in range(60):
        data = bytearray(whole.getvalue())
        for place in rng.integers(8, min(len(data), 400), 1 + trial % 6):
            data[place] = rng.integers(256)
        file = tmp_path / f"scrambled{trial}"
        file.write_bytes(bytes(data))
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                picture = load_picture(file, limits=LoadLimits(max_pixels=4_000_000))
            except PhotoError as error:
                assert file.name in str(error)
            else:
                assert picture.pixels.ndim == 3
    assert capfd.readouterr() == ("", "")


def test_decompression_bomb_is_refused_before_decoding(tmp_path):
    file = tmp_path / "bomb.png"
    file.write_bytes(png_bytes(60_000, 60_000, 8, 2, zlib.compress(bytes(1000))))
    assert_refused(file, "60000 x 60000", "200 million")


def test_more_pixels_than_pillow_likes_are_fine_up_to_our_limit(tmp_path):
    file = saved(Image.new("L", (14_000, 13_500), 90), tmp_path / "large.jpg")  # 189 million
    picture = load_picture(file, min_side=500)
    assert picture.pixels.shape == (1688, 1750, 3)
    assert (picture.full_width, picture.full_height) == (14_000, 13_500)


def test_limits_are_settings(tmp_path, scene):
    file = saved(scene, tmp_path / "plug.png")
    assert_refused(file, "MB", limits=LoadLimits(max_bytes=100))
    assert_refused(file, "160 x 96", limits=LoadLimits(max_pixels=WIDTH * HEIGHT - 1))
    assert load_picture(file, limits=LoadLimits(max_pixels=WIDTH * HEIGHT)).full_width == WIDTH


def test_threads_leave_the_warning_filters_alone(tmp_path, scene):
    exif = b"Exif\0\0II*\0\x08\0\0\0" + bytes(range(1, 200))
    file = saved(scene, tmp_path / "plug.jpg", exif=exif)
    before = list(warnings.filters)
    threads = [threading.Thread(target=lambda: [load_picture(file) for _ in range(20)]) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert warnings.filters == before
