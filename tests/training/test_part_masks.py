from __future__ import annotations

import numpy as np
import pytest
from firingend_training.part_masks import UNKNOWN, mask_crop, overlap_of, part_overlap
from firingend_training.truth import PlugTruth, mask_value
from sklearn.metrics import jaccard_score
from toy_networks import write_toy_networks

from firingend.labels import PARTS


@pytest.fixture(scope="module")
def toy_models(tmp_path_factory):
    """The reading room's toy networks: a cell is nose when it is bright enough, background when not."""
    return write_toy_networks(tmp_path_factory.mktemp("models"))


def _plug(box, axis=(0.0, -1.0)):
    return PlugTruth(1, "wet", "tan", "film", box, axis, 90.0, 500, 0.5)


def test_overlap_is_sklearns_jaccard_score():
    rng = np.random.default_rng(0)
    true, seen = rng.integers(0, 7, 500), rng.integers(0, 7, 500)
    table = np.zeros((7, 7), int)
    np.add.at(table, (true, seen), 1)
    assert overlap_of(table) == pytest.approx(jaccard_score(true, seen, average=None))


def test_a_part_that_never_occurs_has_no_overlap():
    assert np.isnan(overlap_of(np.array([[3, 0], [0, 0]]))[1])


def test_the_mask_is_cut_like_the_crop_and_keeps_one_plug():
    mask = np.zeros((40, 40), np.uint8)
    mask[10:20, 10:30] = mask_value(0, "nose")
    mask[20:30, 10:30] = mask_value(0, "threads")
    mask[10:30, 25:30] = mask_value(1, "nose")
    crop = mask_crop(mask, 0, _plug((10.0, 10.0, 30.0, 30.0)), 20, 1.0)
    assert crop.shape == (20, 20)
    assert (crop[:10, :15] == PARTS.index("nose")).all()
    assert (crop[10:, :15] == PARTS.index("threads")).all()
    assert (crop[:, 15:] == 0).all()


def test_a_plug_that_points_down_is_turned_upright():
    mask = np.zeros((40, 40), np.uint8)
    mask[10:20, 10:30] = mask_value(0, "threads")
    mask[20:30, 10:30] = mask_value(0, "nose")
    crop = mask_crop(mask, 0, _plug((10.0, 10.0, 30.0, 30.0), (0.0, 1.0)), 20, 1.0)
    assert (crop[:10] == PARTS.index("nose")).all()
    assert (crop[10:] == PARTS.index("threads")).all()


def test_outside_the_picture_is_unknown():
    crop = mask_crop(np.zeros((40, 40), np.uint8), 0, _plug((0.0, 0.0, 20.0, 20.0)), 20, 2.0)
    assert (crop[:10] == UNKNOWN).any()
    assert (crop[10:, 10:] == 0).all()


def test_toy_networks_on_the_toy_set(toy_set, toy_models):
    found = part_overlap(toy_set, toy_models)
    assert found.plugs == 60
    assert set(found.of_part) == set(PARTS)
    # The toy reader takes everything that is not black for nose, and never sees a rim.
    assert 0.05 < found.of_part["nose"] < 0.9
    assert found.of_part["rim"] == 0
    assert found.mean == pytest.approx((found.of_part["nose"] + 0) / 2)
