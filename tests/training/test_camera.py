from __future__ import annotations

import json
import warnings

import cv2
import numpy as np
import pytest
from firingend_training.scenes import camera
from firingend_training.scenes.camera import develop, undeveloped

SHAPE = (120, 160)
DAYLIGHT = np.array([1.0, 1.0, 1.0])


def photograph(scene, seed, illuminant=DAYLIGHT, split="train", kind="phone"):
    return develop(undeveloped(scene.astype(np.float32)), np.random.default_rng(seed), illuminant, split, kind)


def lit_scene():
    """Patches over a wide range of brightness, smooth like a clean render."""
    rng = np.random.default_rng(1)
    coarse = np.exp(rng.normal(-1.5, 1.0, (6, 8, 1))) * rng.uniform(0.8, 1.2, (6, 8, 3))
    return cv2.resize(coarse, SHAPE[::-1], interpolation=cv2.INTER_CUBIC).clip(0.001, None)


@pytest.mark.parametrize("split", ["train", "test"])
@pytest.mark.parametrize("seed", range(6))
def test_picture_keeps_size_and_kind(split, seed):
    picture, quality, nuisance = photograph(lit_scene(), seed, split=split)
    assert picture.shape == (*SHAPE, 3)
    assert picture.dtype == np.uint8
    assert 35 <= quality <= 97
    assert json.loads(json.dumps(nuisance)) == nuisance


def test_same_seed_same_picture():
    first, _, told = photograph(lit_scene(), 9)
    second, _, again = photograph(lit_scene(), 9)
    assert np.array_equal(first, second)
    assert told == again


def test_a_picture_is_the_same_however_many_rows_are_worked_on_at_once(monkeypatch):
    whole = [photograph(lit_scene(), seed)[0].astype(int) for seed in range(8)]
    monkeypatch.setattr(camera, "_STRIP_BYTES", 4000)
    for seed, before in enumerate(whole):
        strips, _, _ = photograph(lit_scene(), seed)
        assert (np.abs(strips - before) > 2).mean() < 1e-3


def test_the_plain_camera_adds_neither_grain_nor_sharpening_nor_blur():
    """A fine pattern keeps its contrast the same in every plain picture; a phone's pictures differ widely."""
    rows = np.arange(SHAPE[0])[:, None, None]
    stripes = 0.2 + 0.1 * np.sin(rows * 1.5) * np.ones((1, SHAPE[1], 3))

    def measured(kind):
        pictures = [photograph(stripes, seed, kind=kind)[0].astype(float) for seed in range(12)]
        contrast = [p.mean((1, 2)).std() / p.mean() for p in pictures]
        grain = [(p - p.mean(1, keepdims=True)).std() for p in pictures]
        return np.ptp(contrast) / np.mean(contrast), max(grain)

    plain_spread, plain_grain = measured("plain")
    phone_spread, phone_grain = measured("phone")
    assert plain_spread < 0.25 < phone_spread
    assert plain_grain < 2.0 < phone_grain
    told = photograph(stripes, 3, kind="plain")[2]
    assert told["family"] == "plain render" and told["jpeg_quality"] == 95


def test_one_render_can_be_developed_again_and_again():
    render = undeveloped(lit_scene().astype(np.float32))
    before = render.logs.copy()
    first, _, _ = develop(render, np.random.default_rng(3), DAYLIGHT, "train")
    develop(render, np.random.default_rng(4), DAYLIGHT, "train")
    again, _, _ = develop(render, np.random.default_rng(3), DAYLIGHT, "train")
    assert np.array_equal(first, again)
    assert np.array_equal(render.logs, before)


def test_splits_share_no_processing_style():
    train = {photograph(lit_scene(), seed)[2]["family"] for seed in range(40)}
    test = {photograph(lit_scene(), seed, split="test")[2]["family"] for seed in range(20)}
    assert len(train) >= 4
    assert not train & test


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_scale_of_the_render_does_not_matter(scale):
    picture, _, _ = photograph(lit_scene() * scale, 4)
    reference, _, _ = photograph(lit_scene(), 4)
    assert np.abs(picture.astype(int) - reference).mean() < 2


def test_hostile_values_are_survived():
    scene = lit_scene()
    scene[5, 5] = np.nan
    scene[6, 6] = np.inf
    scene[7, 7] = -1
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for seed in range(6):
            photograph(scene, seed)
            photograph(np.zeros_like(scene), seed)


@pytest.mark.parametrize("split", ["train", "test"])
@pytest.mark.parametrize("seed", range(16))
def test_nothing_moves(seed, split):
    """A disc's centre and an edge stay where they were, to well under a pixel."""
    y, x = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    centre = np.array([70.3, 64.8])
    disc = 1 / (1 + np.exp(2 * (np.hypot(x - centre[0], y - centre[1]) - 28)))
    picture, _, _ = photograph(0.02 + 0.4 * disc[..., None] * np.ones(3), seed, split=split)
    light = picture.mean(-1)
    inside = light > (np.percentile(light, 2) + np.percentile(light, 98)) / 2
    found = np.array([x[inside].mean(), y[inside].mean()])
    assert np.abs(found - centre).max() < 0.6
    assert np.sqrt(inside.sum() / np.pi) == pytest.approx(28, abs=2.0)


@pytest.mark.parametrize("illuminant", [(1.0, 1.0, 1.0), (1.6, 0.95, 0.45), (0.8, 0.95, 1.25)])
def test_grey_stays_nearly_grey_when_the_light_is_known(illuminant):
    """Whatever else is in the picture: the balance comes from the light, not from the mean of the scene."""
    light = np.array(illuminant) / np.mean(illuminant)
    scene = np.full((*SHAPE, 3), 0.3)
    scene[:, :80] = (0.5, 0.06, 0.03)  # half the picture is red
    scene = cv2.GaussianBlur(scene, (0, 0), 2) * light
    errors = []
    for seed in range(30):
        picture, _, _ = photograph(scene, seed, light)
        grey = picture[30:90, 110:150].reshape(-1, 3).mean(0)
        errors.append((grey - grey.mean()) / max(grey.mean(), 1))
    errors = np.array(errors)
    assert np.abs(errors.mean(0)).max() < 0.06
    assert np.abs(errors).max() < 0.32


def test_exposure_varies_about_the_middle():
    scene = lit_scene()
    levels = [photograph(scene, seed)[0].mean() for seed in range(40)]
    assert 70 < np.mean(levels) < 165
    assert 10 < np.std(levels) < 60


def test_fireflies_are_taken_out():
    scene = np.full((*SHAPE, 3), 0.2)
    specks = np.random.default_rng(0).integers(8, 110, (30, 2))
    scene[specks[:, 0], specks[:, 1]] = 50.0
    clean, _, told = photograph(scene, 3)
    assert told["noise"] < 0.05
    assert np.percentile(clean[specks[:, 0], specks[:, 1]].mean(-1), 80) < clean.mean() + 60


def test_grain_of_the_renderer_is_smoothed():
    """Path-tracing grain on a flat patch comes out weaker than it went in."""
    rng = np.random.default_rng(0)
    flat = np.full((*SHAPE, 3), 0.2)
    grainy = flat * np.exp(0.15 * rng.standard_normal((*SHAPE, 1)))
    for seed in range(40):
        picture, _, told = photograph(grainy, seed)
        if told["noise"] < 0.002 and told["sharpen"] < 1 and not told["equalise"] and not told["shrink_to"]:
            light = picture.mean(-1)
            assert light.std() / light.mean() < 0.05
            return
    pytest.fail("no seed drew a quiet camera")
