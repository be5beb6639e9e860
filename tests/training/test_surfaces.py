from __future__ import annotations

import numpy as np
import pytest
from firingend_training.scenes.surfaces import GROUND_KINDS, draw_ground, linear

EVERY_KIND = [(split, kind) for split, kinds in GROUND_KINDS.items() for kind in kinds]


def test_no_surface_belongs_to_both_splits():
    train, test = set(GROUND_KINDS["train"]), set(GROUND_KINDS["test"])
    assert not train & test
    assert 0.2 <= len(test) / len(train | test) <= 0.3


@pytest.mark.parametrize("split", ["train", "test"])
def test_a_split_draws_all_its_kinds_and_no_other(split):
    drawn = {draw_ground(np.random.default_rng(seed), split).name for seed in range(90)}
    assert drawn <= set(GROUND_KINDS[split])
    assert len(drawn) >= 0.8 * len(GROUND_KINDS[split])


@pytest.mark.parametrize(("split", "kind"), EVERY_KIND)
def test_ground_keeps_to_its_ranges(split, kind):
    ground = draw_ground(np.random.default_rng(4), split, kind)
    assert ground.name == kind
    assert ground.texture.shape == (512, 512, 3)
    assert ground.texture.dtype == np.float32
    assert ground.height.shape == (512, 512)
    assert ground.height.dtype == np.float32
    assert np.isfinite(ground.texture).all()
    assert np.isfinite(ground.height).all()
    assert ground.texture.min() > 0
    assert ground.texture.max() < 1
    assert np.abs(ground.height).max() < 10
    assert 0 < ground.roughness <= 1
    assert 0 <= ground.fold_mm <= 8
    assert 40 <= ground.tile_mm <= 500


@pytest.mark.parametrize("split", ["train", "test"])
def test_same_seed_same_ground(split):
    first = draw_ground(np.random.default_rng(12), split)
    second = draw_ground(np.random.default_rng(12), split)
    assert first.name == second.name
    assert np.array_equal(first.texture, second.texture)
    assert np.array_equal(first.height, second.height)


def test_catalogue_backdrop_is_white_and_even():
    ground = draw_ground(np.random.default_rng(0), "train", "white backdrop")
    assert ground.texture.min() > 0.8
    assert ground.texture.std() < 0.03


def test_a_body_panel_is_pressed_and_dusty():
    for seed in range(6):
        ground = draw_ground(np.random.default_rng(seed), "train", "body panel")
        pressed = ground.height.mean(0)  # ribs run along y
        assert np.ptp(pressed) > 0.3
        assert ground.metallic == 0
        assert ground.texture.std() > 0.01


def test_linear_follows_the_srgb_curve():
    assert linear(255, 255, 255) == pytest.approx([1, 1, 1])
    assert linear(188, 0, 10)[0] == pytest.approx(0.503, abs=0.002)
    assert linear(188, 0, 10)[2] == pytest.approx(10 / 255 / 12.92, rel=1e-4)
