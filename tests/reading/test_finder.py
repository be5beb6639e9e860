"""Peaks of real network output become boxes in full-scale pixels."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from firingend.photo.picture import Picture
from firingend.photo.quality import measure
from firingend.reading.finder import Finder, _decode, _Frame, overlap
from firingend.reading.reading import FiringEnd


def picture_of(pixels, factor=1):
    """A picture decoded at 1/factor of its full scale."""
    height, width = pixels.shape[:2]
    return Picture(Path("plugs.jpg"), pixels, width * factor, height * factor, 1 / factor, None, measure(pixels))


@pytest.fixture(scope="module")
def finder(toy_models):
    return Finder(toy_models)


# The toy finder's box reaches 32 * (1 + (green - 127) / 128) network pixels to each side, so green 0 means 0.25
# and green 31 means 8; its input is 128 px long. Its peaks lie within half a cell (2 px) of the centre.


@pytest.mark.parametrize("enlarged", [1, 2, 5])
@pytest.mark.parametrize("factor", [1, 4])
def test_box_and_axis_at_every_scale(finder, draw_plugs, enlarged, factor):
    spots = [(60 * enlarged, 40 * enlarged, 12 * enlarged, (255, 31, 191))]
    ends = finder.find(picture_of(draw_plugs((128 * enlarged, 96 * enlarged), spots), factor))
    assert len(ends) == 1
    scale = enlarged * factor
    assert ends[0].box == pytest.approx([v * scale for v in (52, 32, 68, 48)], abs=4 * scale)
    assert ends[0].box[2] - ends[0].box[0] == pytest.approx(16 * scale, abs=2.5 * scale)
    assert ends[0].axis == pytest.approx((0.5, -0.5), abs=0.06)
    assert 0.8 < ends[0].score <= 1


def test_small_pictures_are_enlarged_for_the_network(finder, draw_plugs):
    ends = finder.find(picture_of(draw_plugs((64, 48), [(30, 20, 6, (255, 31, 127))])))
    assert len(ends) == 1
    assert ends[0].box == pytest.approx((26, 16, 34, 24), abs=2)


def test_row_comes_in_order(finder, draw_plugs):
    spots = [(20 + 29 * i, 60, 9, (255 - 10 * i, 31, 127)) for i in range(4)]
    ends = finder.find(picture_of(draw_plugs((128, 96), spots[::-1])))
    centres = [(end.box[0] + end.box[2]) / 2 for end in ends]
    assert centres == pytest.approx([20, 49, 78, 107], abs=3)


def test_nothing_in_the_dark(finder):
    assert finder.find(picture_of(np.zeros((96, 128, 3), np.uint8))) == []


@pytest.mark.parametrize("size", [(1, 1), (1, 300), (300, 1), (33, 31)])
def test_odd_sizes_pass_through(finder, size):
    for end in finder.find(picture_of(np.full((*size, 3), 200, np.uint8))):
        assert 0 <= end.box[0] < end.box[2] <= size[1]
        assert 0 <= end.box[1] < end.box[3] <= size[0]


def test_boxes_stay_in_the_picture(finder, draw_plugs):
    ends = finder.find(picture_of(draw_plugs((128, 96), [(3, 3, 12, (255, 100, 127))])))
    assert [end.box[:2] for end in ends] == [(0.0, 0.0)]


def maps(heat, reach=10.0, axis=(0.0, -1.0)):
    heat = np.asarray(heat, np.float32)
    box = np.full((4, *heat.shape), reach, np.float32)
    return heat, box, np.broadcast_to(np.float32(axis)[:, None, None], (2, *heat.shape))


def test_cells_become_pixels():
    heat = np.zeros((4, 6))
    heat[1, 2] = 0.9
    (end,) = _decode(*maps(heat), 0.5, _Frame(24, 16, 2.0, 3.0))
    assert end.box == ((10 - 10) * 2, (6 - 10) * 3, (10 + 10) * 2, (6 + 10) * 3)
    assert end.score == pytest.approx(0.9)


def test_padding_noughts_and_nonsense_are_no_firing_ends():
    heat = np.zeros((4, 6))
    heat[0, 5] = heat[3, 0] = 0.9  # beyond a frame of 18 x 10 px
    heat[0, 0] = np.nan
    heat[1, 1] = 0.4
    assert _decode(*maps(heat), 0.5, _Frame(18, 10, 1.0, 1.0)) == []
    heat[2, 2] = 0.9
    assert _decode(*maps(heat, reach=np.inf), 0.5, _Frame(18, 10, 1.0, 1.0)) == []


def test_axis_is_never_longer_than_a_sine():
    heat = np.ones((1, 1))
    (end,) = _decode(*maps(heat, axis=(3.0, -4.0)), 0.5, _Frame(4, 4, 1.0, 1.0))
    assert end.axis == pytest.approx((0.6, -0.8))


def test_a_wall_of_peaks_is_bounded():
    assert len(_decode(*maps(np.ones((60, 60))), 0.5, _Frame(240, 240, 1.0, 1.0))) == 100


def test_overlap():
    assert overlap((0, 0, 2, 2), (0, 0, 2, 2)) == 1
    assert overlap((0, 0, 2, 2), (2, 0, 4, 2)) == 0
    assert overlap((0, 0, 4, 4), (1, 1, 3, 3)) == 0.25


def test_weak_finds_are_not_firm(own_models):
    finder = Finder(own_models)
    weak = finder.card.keeping.weak_score
    ends = [FiringEnd((0, 0, 9, 9), (0, 1), score) for score in (weak - 0.01, weak, 0.9)]
    assert finder.firm(ends) == ends[1:]


@pytest.fixture
def glancing(own_models):
    card = json.loads((own_models / "finder.json").read_text(encoding="utf-8"))
    card |= {"glance_side": 64, "glance_score": 0.8, "glance_share": 0.35}
    (own_models / "finder.json").write_text(json.dumps(card), encoding="utf-8")
    return Finder(own_models)


def looks(finder, monkeypatch):
    """The sides at which the picture is looked at, filled in as it happens."""
    sides, fit = [], finder._fit
    monkeypatch.setattr(finder, "_fit", lambda picture, side: sides.append(side) or fit(picture, side))
    return sides


def test_one_large_firing_end_needs_only_a_glance(glancing, draw_plugs, monkeypatch):
    sides = looks(glancing, monkeypatch)
    (end,) = glancing.find(picture_of(draw_plugs((256, 192), [(128, 96, 70, (255, 80, 127))])))
    assert sides == [64]
    # The toy's box has a fixed reach in network pixels: 20 of 64, on a picture four times as long.
    assert end.box == pytest.approx((128 - 81, 96 - 81, 128 + 81, 96 + 81), abs=12)


@pytest.mark.parametrize(
    "spots",
    [
        [(60, 96, 30, (255, 31, 127)), (180, 96, 30, (255, 31, 127))],  # more than one
        [(128, 96, 30, (255, 10, 127))],  # small
        [(128, 96, 70, (180, 80, 127))],  # faint
        [],
    ],
)
def test_anything_else_is_looked_at_properly(glancing, draw_plugs, monkeypatch, spots):
    sides = looks(glancing, monkeypatch)
    glancing.find(picture_of(draw_plugs((256, 192), spots)))
    assert sides == [64, 128]
