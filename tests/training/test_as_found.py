"""Pictures shown on a screen or pressed into a square: truth follows the picture to the pixel."""

from __future__ import annotations

import numpy as np
import pytest
from firingend_training import render, render_stages
from firingend_training.scenes.as_found import SCREENSHOTS, SQUEEZED, Placing, as_found, screenshot, squeezed
from firingend_training.scenes.composition import ScenePlan, SceneSettings, compose
from firingend_training.truth import PlugTruth, mask_value
from PIL import Image

RED = np.array([230, 20, 20])


def bar_picture(width=120, height=96, centre=(70, 40), half=(22, 9)):
    """A red block on grey, its mask (all nose) and its truth."""
    picture = np.full((height, width, 3), 120, np.uint8)
    mask = np.zeros((height, width), np.uint8)
    x0, x1, y0, y1 = centre[0] - half[0], centre[0] + half[0], centre[1] - half[1], centre[1] + half[1]
    picture[y0:y1, x0:x1] = RED
    mask[y0:y1, x0:x1] = mask_value(0, "nose")
    box = (float(x0), float(y0), float(x1), float(y1))
    axis = (0.48, -0.64)
    plug = PlugTruth(0, "normal-tan", "tan", "dry", box, axis, 53.13, int((mask > 0).sum()), 0.0)
    return picture, mask, plug


def is_red(picture):
    light = picture.astype(int)
    return (light[..., 0] > 160) & (light[..., 1] < 80) & (light[..., 2] < 80)


def check_truth(found, mask, plug):
    """Mask and box of the new picture lie on what is red in it."""
    new_mask = found.placing.mask(mask)
    told = found.placing.plug(plug, new_mask, 0)
    assert new_mask.shape == found.picture.shape[:2] == (found.placing.size[1], found.placing.size[0])
    left, top, right, bottom = told.box
    rows, columns = np.nonzero(new_mask)
    middle = np.array([columns.mean() + 0.5, rows.mean() + 0.5])
    assert middle == pytest.approx([(left + right) / 2, (top + bottom) / 2], abs=0.75)
    assert [columns.min(), rows.min(), columns.max() + 1, rows.max() + 1] == pytest.approx(told.box, abs=1.01)
    assert told.nose_pixels == len(rows)
    red = is_red(found.picture)
    inside = np.zeros_like(red)
    inside[int(top) : int(bottom) + 1, int(left) : int(right) + 1] = True
    shared = (red & (new_mask > 0)).sum() / ((red & inside) | (new_mask > 0)).sum()
    assert shared > 0.85
    return told


@pytest.mark.parametrize("seed", range(24))
def test_truth_stays_on_the_plug_in_a_screenshot(seed):
    picture, mask, plug = bar_picture()
    found = screenshot(picture, np.random.default_rng(seed))
    told = check_truth(found, mask, plug)
    # no side is squeezed, but for whole pixels
    assert told.axis == pytest.approx(plug.axis, abs=0.015)
    assert found.placing.scale[0] == pytest.approx(found.placing.scale[1], rel=0.03)


def test_screenshots_have_bars_above_and_below_or_at_the_sides():
    picture, _, _ = bar_picture()
    lying = 0
    for seed in range(60):
        found = screenshot(picture, np.random.default_rng(seed))
        (width, height), (left, top) = found.placing.size, found.placing.offset
        shown = np.array(picture.shape[1::-1]) * found.placing.scale
        free = width * height - shown.prod()
        assert free > 0.15 * width * height
        lying += top == 0
        edges = found.picture[:, : max(int(left), 1)] if top == 0 else found.picture[: int(top)]
        assert edges.size
        assert not is_red(edges).all()
    assert 3 <= lying <= 20


def test_a_large_screen_is_kept_within_bounds():
    picture = np.zeros((960, 1280, 3), np.uint8)
    longest = [max(screenshot(picture, np.random.default_rng(seed)).placing.size) for seed in range(30)]
    assert 1000 < max(longest) <= 1610


@pytest.mark.parametrize("seed", range(24))
def test_truth_stays_on_the_plug_when_squeezed(seed):
    picture, mask, plug = bar_picture(120, 120, (60, 60))
    found = squeezed(picture, [plug.box], np.random.default_rng(seed))
    told = check_truth(found, mask, plug)
    across, down = found.placing.scale
    assert 1.2 < max(across / down, down / across) < 1.85
    assert found.placing.size[0] == found.placing.size[1]
    assert np.hypot(*told.axis) == pytest.approx(np.hypot(*plug.axis), abs=2e-4)
    assert told.axis[1] / told.axis[0] == pytest.approx(plug.axis[1] * down / (plug.axis[0] * across), rel=1e-3)


def test_no_firing_end_is_cut():
    picture, _, plug = bar_picture(120, 120, (60, 60), (58, 58))
    assert all(squeezed(picture, [plug.box], np.random.default_rng(seed)) is None for seed in range(20))


def test_shares_of_what_pictures_are_found_as():
    picture, _, plug = bar_picture(40, 40, (20, 20), (5, 5))

    def shares(kind):
        drawn = [as_found(picture, [plug.box], kind, np.random.default_rng(seed)) for seed in range(3000)]
        names = [found.name if found else "" for found in drawn]
        return [names.count(name) / len(names) for name in ("screenshot", "squeezed")]

    assert shares("close") == pytest.approx([SCREENSHOTS, SQUEEZED], abs=0.012)
    assert shares("row") == pytest.approx([SCREENSHOTS, 0], abs=0.012)


def test_what_the_camera_did_is_told_in_new_pixels():
    """Half the size: half the blur, and as little left of an enlarged picture as before, measured on the new height."""
    placing = Placing((0.5, 0.5), (0.0, 30.0), (50, 110))
    camera = placing.camera({"defocus": 3.0, "motion": 2.0, "shrink_to": 40, "noise": 0.1}, height=100)
    assert camera == {"defocus": 1.5, "motion": 1.0, "shrink_to": 88, "noise": 0.1}
    assert camera["shrink_to"] / 110 == pytest.approx(40 / (0.5 * 100))
    assert placing.camera({"defocus": 0.0, "motion": 0.0, "shrink_to": 0}, 100)["shrink_to"] == 0


def traced_scene(split):
    """A traced close scene whose firing end is a disc in the mask and in the picture."""
    scenes = SceneSettings(seed=2, split=split, close_pixels=(96, 96), detail=0.2)
    scene = compose(scenes, ScenePlan(3, "close", ("normal-tan",)))
    view, member = scene.views[0], scene.members[0]
    pixels = view.project(member.firing_end)
    middle, radius = np.median(pixels, axis=0), 0.6 * np.abs(pixels - np.median(pixels, axis=0)).max()
    y, x = np.mgrid[0:96, 0:96] + 0.5
    hit = np.where(np.hypot(x - middle[0], y - middle[1]) < radius, mask_value(0, "nose"), 0).astype(np.uint8)
    light = np.where(hit[..., None] > 0, [0.8, 0.04, 0.04], 0.2).astype(np.float16)
    traced = render_stages.TracedView(view, {"view": 0}, light, hit, hit > 0)
    item = render_stages.Traced(scene.plan, scene.members, scene.illuminant, scene.nuisance, (traced,), {})
    return render.RenderSettings(scenes, passes=2), item, traced


def developed(out, split):
    for folder in ("pictures", "masks"):
        (out / folder).mkdir()
    settings, item, traced = traced_scene(split)
    return render_stages._develop(settings, out, item, traced)


@pytest.mark.parametrize("way", ["screenshot", "squeezed"])
def test_a_set_holds_found_pictures_with_masks_of_their_own(tmp_path, monkeypatch, way):
    def find(picture, boxes, kind, rng):
        return screenshot(picture, rng) if way == "screenshot" else squeezed(picture, boxes, rng)

    monkeypatch.setattr(render_stages, "as_found", find)
    truths = developed(tmp_path, "train")
    assert {truth.nuisance.get("found") for truth in truths} == {way}
    assert len({truth.mask for truth in truths}) == 2
    for truth in truths:
        picture, mask = (np.asarray(Image.open(tmp_path / name)) for name in (truth.file, truth.mask))
        assert picture.shape[:2] == mask.shape == (truth.height, truth.width)
        rows, columns = np.nonzero(mask)
        box = truth.plugs[0].box
        assert [columns.mean() + 0.5, rows.mean() + 0.5] == pytest.approx(
            [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2], abs=1
        )
        inside, outside = picture[mask > 0].astype(float).mean(0), picture[mask == 0].astype(float).mean(0)
        assert inside[0] - inside[1] > 40 + outside[0] - outside[1]


def test_held_out_pictures_stay_as_they_were_taken(tmp_path, monkeypatch):
    monkeypatch.setattr(render_stages, "as_found", lambda picture, boxes, kind, rng: screenshot(picture, rng))
    truths = developed(tmp_path, "test")
    assert {(truth.width, truth.height, truth.mask) for truth in truths} == {(96, 96, "masks/000003-0.png")}
    assert not any("found" in truth.nuisance for truth in truths)
