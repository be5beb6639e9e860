"""Every file a phone, a scanner or bad luck can hand over: the right picture, or an error with a remedy."""

from __future__ import annotations

import io
import threading
import warnings
import zlib

import numpy as np
import pillow_heif
import pytest
from photo_scene import HEIGHT, WIDTH, assert_scene, png_bytes, saved
from PIL import Image

from firingend.errors import PhotoError
from firingend.photo.load import LoadLimits, load_finer, load_picture, reduction_for


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
def test_finer_within_a_box_is_the_same_there(tmp_path, scene, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = saved(scene.resize((1600, 960)), tmp_path / "plug.jpg", quality=95, exif=exif.tobytes())
    coarse = load_picture(file, min_side=200)
    middle = tuple(round(side * share) for share in (0.4, 0.6) for side in (coarse.full_width, coarse.full_height))
    whole, part = load_finer(coarse, 800), load_finer(coarse, 800, middle)
    x0, y0, x1, y1 = (side // 2 for side in middle)
    assert part.pixels.shape == whole.pixels.shape and part.scale == whole.scale
    assert np.array_equal(part.pixels[y0:y1, x0:x1], whole.pixels[y0:y1, x0:x1])
    assert (part.pixels == 0).all(axis=-1).mean() > 0.25  # the rest was not decoded


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
