"""From a file to labels with toy networks in the real runtime."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import threading
import warnings
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

import firingend
from firingend.errors import PhotoError, UserError
from firingend.labels import LABELS, SIGNS
from firingend.photo.load import load_picture
from firingend.reading import reader as reader_module
from firingend.reading.finder import Finder
from firingend.reading.reader import Reader, read_photo
from firingend.reading.reading import FiringEnd


@pytest.fixture(scope="module")
def read(toy_models):
    finder, reader = Finder(toy_models), Reader(toy_models)
    return lambda path: read_photo(path, finder=finder, reader=reader)


def photo_of(tmp_path, pixels, name="plug.png", **options):
    file = tmp_path / name
    Image.fromarray(pixels).save(file, **options)
    return file


def filled(size, colour, grain=20):
    """A frame of one colour with a peak of red in the middle, grain, and a grey strip along the bottom.

    The strip lets the whole photograph pass for one under white light.
    """
    width, height = size
    pixels = np.empty((height, width, 3))
    pixels[:] = colour
    rows, columns = np.mgrid[:height, :width]
    distance = np.hypot(columns - width / 2, rows - height / 2) / max(size)
    pixels[..., 0] = colour[0] - 120 * distance
    pixels[-height // 6 :] = 110
    pixels += np.random.default_rng(0).uniform(-grain, grain, (height, width, 1))
    return np.rint(np.clip(pixels, 0, 255)).astype(np.uint8)


def test_a_pale_plug_reads_lean(read, tmp_path):
    photo = read(photo_of(tmp_path, filled((400, 300), (250, 180, 230))))
    assert (photo.width, photo.height) == (400, 300)
    (reading,) = photo.readings
    assert reading.label == "lean-white" and reading.reasons == ()
    assert list(reading.probabilities) == list(LABELS)
    assert sum(reading.probabilities.values()) == pytest.approx(1)
    assert reading.probabilities["lean-white"] > 0.9
    assert list(reading.signs) == list(SIGNS)
    assert sum(reading.ceramic.values()) == pytest.approx(1)
    assert reading.prior == dict.fromkeys(LABELS, 0.2)
    assert reading.quality is not None and reading.firing_end is not None
    assert [zone.part for zone in reading.zones] == ["nose"]
    lightness, _, _ = reading.zones[0].lab
    assert 60 < lightness < 100


def test_row_of_plugs_in_a_large_photograph_is_read_at_a_finer_scale(read, tmp_path, draw_plugs, monkeypatch):
    scales = []
    monkeypatch.setattr(
        reader_module,
        "load_finer",
        lambda picture, side, within: scales.append(side) or load_finer(picture, side, within),
    )
    load_finer = sys.modules["firingend.photo.load"].load_finer
    spots = [(160 + 232 * i, 480, 80, (255 - 8 * i, 31, 60)) for i in range(4)]
    file = photo_of(tmp_path, draw_plugs((1024, 768), spots), "row.jpg", quality=95, subsampling=0)
    photo = read(file)
    assert len(photo.readings) == 4
    centres = [(r.firing_end.box[0] + r.firing_end.box[2]) / 2 for r in photo.readings]
    assert centres == pytest.approx([160 + 232 * i for i in range(4)], abs=24)
    # Boxes are about 128 px, crops 160 px, the network wants 64: 1/2 is fine enough, full scale is not needed.
    assert len(scales) == 1 and 256 < scales[0] <= 512


@pytest.fixture
def row_photo(tmp_path, draw_plugs):
    """Four firing ends whose crops need 1/2 where the finder does with 1/8."""
    spots = [(160 + 232 * i, 400, 80, (255 - 8 * i, 31, 60)) for i in range(4)]
    return photo_of(tmp_path, draw_plugs((1024, 768), spots), "row.jpg", quality=95, subsampling=0)


def enlarged(box, times):
    """A box about the same centre."""
    x0, y0, x1, y1 = box
    across, down = (x1 - x0) * (times - 1) / 2, (y1 - y0) * (times - 1) / 2
    return x0 - across, y0 - down, x1 + across, y1 + down


@pytest.mark.parametrize(("shown", "decodes"), [(1, 1), (0.7, 1), (0.5, 2), (0.3, 2), (4, 1), (2, 2)])
def test_what_the_glance_shows_hardly_changes_a_reading(toy_models, row_photo, monkeypatch, shown, decodes):
    finder, reader = Finder(toy_models), Reader(toy_models)
    plain = read_photo(row_photo, finder=finder, reader=reader)
    decoded = []
    load_finer = reader_module.load_finer
    monkeypatch.setattr(
        reader_module,
        "load_finer",
        lambda picture, side, within: decoded.append(side) or load_finer(picture, side, within),
    )

    def glance(picture, fitted):
        return [replace(end, box=enlarged(end.box, shown)) for end in finder.look(picture)], False

    monkeypatch.setattr(finder, "glance", glance)
    done = read_photo(row_photo, finder=finder, reader=reader)
    assert len(decoded) == decodes  # shown four times as large, the first decode seems to do
    if shown != 0.7:  # shown so small, the decode begun is a step finer than needed, and serves
        assert done == plain
    for seen, before in zip(done.readings, plain.readings, strict=True):
        assert (seen.firing_end, seen.label) == (before.firing_end, before.label)
        assert seen.probabilities == pytest.approx(before.probabilities, abs=0.02)


@pytest.mark.parametrize(("higher", "decodes"), [(0, 1), (20, 1), (400, 2)])
def test_firing_ends_below_where_the_glance_shows_them_are_decoded(toy_models, row_photo, monkeypatch, higher, decodes):
    finder, reader = Finder(toy_models), Reader(toy_models)
    load_finer = reader_module.load_finer
    monkeypatch.setattr(reader_module, "load_finer", lambda picture, side, _: load_finer(picture, side))
    plain = read_photo(row_photo, finder=finder, reader=reader)
    begun = []
    monkeypatch.setattr(
        reader_module,
        "load_finer",
        lambda picture, side, within: begun.append(within) or load_finer(picture, side, within),
    )

    def glance(picture, fitted):
        boxes = [(end, end.box) for end in finder.look(picture)]
        return [replace(end, box=(x0, y0 - higher, x1, y1 - higher)) for end, (x0, y0, x1, y1) in boxes], False

    monkeypatch.setattr(finder, "glance", glance)
    assert read_photo(row_photo, finder=finder, reader=reader) == plain
    assert len(begun) == decodes
    assert begun[-1][3] < plain.height - 64  # not the whole photograph


def test_weak_finds_of_the_glance_begin_no_finer_decode(toy_models, row_photo, monkeypatch):
    finder, reader = Finder(toy_models), Reader(toy_models)
    plain = read_photo(row_photo, finder=finder, reader=reader)
    begun = []
    load_finer = reader_module.load_finer
    monkeypatch.setattr(
        reader_module,
        "load_finer",
        lambda picture, side, within: begun.append(side) or load_finer(picture, side, within),
    )

    def glance(picture, fitted):
        tiny = [replace(end, box=(*end.box[:2], end.box[0] + 9, end.box[1] + 9)) for end in finder.look(picture)]
        return [replace(end, score=finder.card.keeping.weak_score - 0.01) for end in tiny], False

    monkeypatch.setattr(finder, "glance", glance)
    assert read_photo(row_photo, finder=finder, reader=reader) == plain
    assert len(begun) == 1


def test_a_decode_that_fails_beside_the_look_is_a_photo_error(toy_models, row_photo, monkeypatch):
    finder, reader = Finder(toy_models), Reader(toy_models)
    monkeypatch.setattr(finder, "glance", lambda picture, fitted: (finder.look(picture), False))

    def fails(picture, side, within):
        raise PhotoError("the card was pulled out", "put it in again")

    monkeypatch.setattr(reader_module, "load_finer", fails)
    with pytest.raises(PhotoError, match="pulled out"):
        read_photo(row_photo, finder=finder, reader=reader)


def test_a_speck_in_a_huge_photograph_asks_for_no_huge_decode(read, tmp_path, draw_plugs, monkeypatch):
    monkeypatch.setattr(reader_module, "_FINEST_SIDE", 300)
    asked = []
    monkeypatch.setattr(reader_module, "load_finer", lambda picture, side, within: asked.append(side) or picture)
    spots = [(512, 384, 60, (255, 10, 60))]
    read(photo_of(tmp_path, draw_plugs((1024, 768), spots), "speck.jpg", quality=95))
    assert asked == [300]


def test_a_large_enough_firing_end_is_decoded_once(read, tmp_path, monkeypatch):
    monkeypatch.setattr(reader_module, "load_finer", lambda *_: pytest.fail("decoded twice"))
    file = photo_of(tmp_path, filled((1024, 768), (250, 180, 230)), "close.jpg", quality=92)
    assert read(file).readings[0].label == "lean-white"


def test_doubtful_colours_are_refused_with_both_names(read, tmp_path):
    (reading,) = read(photo_of(tmp_path, filled((400, 300), (230, 90, 80), grain=30))).readings
    assert reading.label == "unreadable"
    assert [reason.code for reason in reading.reasons] == ["unsure"]
    assert sum(reading.probabilities.values()) == pytest.approx(1)


@pytest.mark.parametrize(("colour", "code"), [((200, 120, 255), "unused"), ((200, 255, 120), "not-a-plug")])
def test_unused_and_foreign_things_are_refused(read, tmp_path, colour, code):
    (reading,) = read(photo_of(tmp_path, filled((400, 300), colour))).readings
    assert reading.label == "unreadable"
    assert code in [reason.code for reason in reading.reasons]


def test_something_grey_takes_the_colour_of_the_light_out(toy_models, tmp_path):
    white = filled((400, 300), (150, 110, 120)).astype(float)
    linear = (white / 255) ** 2.2
    warm = np.rint(255 * (linear * (1.0, 0.85, 0.7)) ** (1 / 2.2)).astype(np.uint8)
    strip = (10.0, 262.0, 390.0, 298.0)

    def nose(pixels, name, grey):
        file = photo_of(tmp_path, pixels, name)
        (end,) = read_photo(file, finder=Finder(toy_models), reader=Reader(toy_models), grey=grey).readings
        return next(zone for zone in end.zones if zone.part == "nose")

    in_white, in_warm = nose(white.astype(np.uint8), "white.png", strip), nose(warm, "warm.png", strip)
    assert in_warm.neutral == in_white.neutral == "grey patch" and in_warm.neutral_sure == 0.95
    assert in_warm.lab[1:] == pytest.approx(in_white.lab[1:], abs=2.5)
    assert nose(warm, "warm.png", None).neutral == "estimated from the picture"
    with pytest.raises(PhotoError, match="grey patch is empty"):
        nose(warm, "warm.png", (500.0, 10.0, 510.0, 20.0))


def test_blur_is_refused(read, tmp_path):
    blurred = cv2.GaussianBlur(filled((400, 300), (250, 100, 160), grain=0), (0, 0), 4)
    (reading,) = read(photo_of(tmp_path, blurred)).readings
    assert reading.label == "unreadable"
    assert [reason.code for reason in reading.reasons] == ["out-of-focus"]


def test_small_firing_end_is_refused(read, tmp_path):
    (reading,) = read(photo_of(tmp_path, filled((20, 15), (250, 180, 230), grain=0))).readings
    assert "too-small" in [reason.code for reason in reading.reasons]


def test_empty_scene_says_so(read, tmp_path):
    photo = read(photo_of(tmp_path, np.full((300, 400, 3), 12, np.uint8)))
    assert photo.readings == ()
    assert [reason.code for reason in photo.reasons] == ["no-firing-end", "too-dark", "out-of-focus"]


def test_sideways_photograph_is_read_upright(read, tmp_path, draw_plugs):
    upright = draw_plugs((300, 400), [(150, 100, 60, (255, 40, 60))])
    exif = Image.Exif()
    exif[0x0112] = 6
    stored = np.rot90(upright)
    file = photo_of(tmp_path, np.ascontiguousarray(stored), "phone.jpg", exif=exif.tobytes(), quality=95)
    photo = read(file)
    assert (photo.width, photo.height) == (300, 400)
    box = photo.readings[0].firing_end.box
    assert ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) == pytest.approx((150, 100), abs=12)


def test_more_plugs_than_one_batch(read, tmp_path, draw_plugs):
    spots = [(64 + 128 * x, 64 + 128 * y, 50, (255, 31, 60)) for y in range(3) for x in range(4)]
    photo = read(photo_of(tmp_path, draw_plugs((512, 384), spots)))
    assert len(photo.readings) == 12


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 10])  # of ten, this thread reads four together and one
def test_every_plug_of_a_row_gets_the_reading_of_its_own_crop(toy_models, tmp_path, draw_plugs, monkeypatch, count):
    threads, opened = {}, []
    reader = Reader(toy_models)
    reading_of = reader_module._reading
    network = sys.modules["firingend.reading.networks"].Network

    def noted(end, *rest):
        threads[end] = threading.current_thread()
        return reading_of(end, *rest)

    def counted(path, *rest):
        opened.append(path.name)
        return network(path, *rest)

    monkeypatch.setattr(reader_module, "_reading", noted)
    monkeypatch.setattr(reader_module, "Network", counted)
    spots = [(64 + 128 * (i % 5), 64 + 128 * (i // 5), 50, (255 - 8 * i, 31, 40 + 20 * i)) for i in range(count)]
    photo = read_photo(photo_of(tmp_path, draw_plugs((700, 300), spots)), finder=Finder(toy_models), reader=reader)
    assert len(photo.readings) == count and opened == ["reader.onnx"]
    here = [thread for thread in threads.values() if thread is threading.current_thread()]
    assert len(threads) == count and len(here) == (count + 1) // 2
    picture = load_picture(tmp_path / "plug.png")
    for reading in photo.readings:
        alone = reader.read(reader.crop(picture, reading.firing_end)[None])
        assert list(reading.signs.values()) == pytest.approx(alone.signs[0].tolist())
        assert list(reading.probabilities.values()) == pytest.approx(alone.labels[0].tolist())
        assert reading.quality.cast_degrees == photo.quality.cast_degrees  # what fills a crop has its own colour


def test_the_same_photograph_reads_the_same_twice(read, tmp_path):
    file = photo_of(tmp_path, filled((400, 300), (250, 150, 200)))
    assert read(file) == read(file)


def test_bad_file_is_a_photo_error(read, tmp_path):
    (tmp_path / "empty.jpg").touch()
    with pytest.raises(PhotoError, match="empty"):
        read(tmp_path / "empty.jpg")


def test_missing_networks_say_what_to_do(tmp_path, draw_plugs):
    file = photo_of(tmp_path, draw_plugs((64, 64), []))
    with pytest.raises(UserError, match="install"):
        read_photo(file, finder=Finder(tmp_path), reader=Reader(tmp_path))


def test_scale_for(toy_models):
    reader = Reader(toy_models)
    ends = [FiringEnd((0, 0, w, 10), (0, -1), 1.0) for w in (512, 1024)]
    assert reader.scale_for(ends) == pytest.approx(64 / (1.25 * 512))
    assert reader.scale_for([FiringEnd((0, 0, 8, 8), (0, -1), 1.0)]) == 1.0


def test_public_name_and_light_import(toy_models, tmp_path, monkeypatch):
    monkeypatch.setattr(reader_module, "shipped_finder", lambda: Finder(toy_models))
    monkeypatch.setattr(reader_module, "shipped_reader", lambda: Reader(toy_models))
    file = photo_of(tmp_path, filled((400, 300), (250, 180, 230)))
    assert firingend.read(file) == read_photo(file)
    loaded = subprocess.run(
        [sys.executable, "-c", "import firingend, sys, json; print(json.dumps(sorted(sys.modules)))"],
        capture_output=True,
        check=True,
        text=True,
    )
    assert not {"numpy", "PIL", "onnxruntime", "pydantic"} & set(json.loads(loaded.stdout))


def test_other_parts_are_left_out_and_the_photograph_says_so(toy_models, tmp_path):
    folder = tmp_path / "models"
    shutil.copytree(toy_models, folder)
    card = json.loads((folder / "finder.json").read_text())
    (folder / "finder.json").write_text(json.dumps({**card, "keeping": {"surely_no_plug": 0.5, "sure_score": 1.0}}))
    photo = read_photo(
        photo_of(tmp_path, filled((400, 300), (200, 255, 120))), finder=Finder(folder), reader=Reader(folder)
    )
    assert photo.readings == ()
    assert [reason.code for reason in photo.reasons] == ["not-a-plug"]
    (part,) = photo.left_out
    assert part.not_a_plug > 0.5 and part.firing_end is not None


def test_a_reading_carries_what_it_could_also_be(toy_models, tmp_path):
    settings = json.loads((toy_models / "reader.json").read_text())
    settings["conformal"] = {"0.1": 1.0}
    folder = tmp_path / "models"
    shutil.copytree(toy_models, folder)
    (folder / "reader.json").write_text(json.dumps(settings))
    photo = photo_of(tmp_path, filled((400, 300), (250, 180, 230)))
    (reading,) = read_photo(photo, finder=Finder(folder), reader=Reader(folder)).readings
    assert set(reading.label_set) == set(reading.probabilities)
    assert reading.label_set[0] == max(reading.probabilities, key=reading.probabilities.get)


@pytest.mark.parametrize(
    ("stated", "asked", "limit"),
    [
        ({"0.02": 0.4, "0.1": 0.2}, None, 0.4),
        ({"0.05": 0.3, "0.1": 0.2}, None, 0.3),  # networks of an earlier version
        ({}, None, None),
        ({"0.02": 0.4, "0.1": 0.2}, 0.1, 0.2),
    ],
)
def test_how_often_sets_may_miss_can_be_chosen(toy_models, tmp_path, stated, asked, limit):
    folder = tmp_path / "models"
    shutil.copytree(toy_models, folder)
    settings = json.loads((folder / "reader.json").read_text())
    (folder / "reader.json").write_text(json.dumps({**settings, "conformal": stated}))
    assert Reader(folder, set_miss=asked).set_limit == limit
    with pytest.raises(UserError, match=r"0\.03 miss the right label"):
        _ = Reader(folder, set_miss=0.03).set_limit


def test_a_reading_says_how_far_it_climbs_and_what_is_covered(toy_models, tmp_path):
    photo = photo_of(tmp_path, filled((400, 300), (250, 180, 230)))
    (reading,) = read_photo(photo, finder=Finder(toy_models), reader=Reader(toy_models)).readings
    assert 0 <= reading.severity <= 1
    assert list(reading.cover) == ["nose", "centre-electrode", "strap", "rim", "threads"]
    assert all(0 <= share <= 1 for share in reading.cover.values())


def test_each_thread_that_reads_keeps_one_other_thread(toy_models, row_photo):
    finder, reader = Finder(toy_models), Reader(toy_models)
    reader.open()

    def read_thrice():
        readings = [read_photo(row_photo, finder=finder, reader=reader) for _ in range(3)]
        return reader_module._beside(), readings

    with ThreadPoolExecutor(max_workers=2) as readers:
        (one, first), (other, second) = [each.result() for each in [readers.submit(read_thrice) for _ in range(2)]]
        assert all(readings == first[0] for readings in first + second)
        for beside in (one, other):
            assert len(beside._threads) == 1


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_a_forked_process_has_another_thread_of_its_own():
    reader_module._beside().submit(int).result()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # newer Pythons warn of what is tried here
        child = os.fork()
    if not child:
        answer = 1
        try:
            answer = reader_module._beside().submit(lambda: 7).result(timeout=20)
        finally:
            os._exit(answer)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 7
