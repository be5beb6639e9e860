"""Scenes: the label stays out of everything else, views frame what they should, truth matches geometry."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from cameras import camera
from firingend_training.scenes import composition
from firingend_training.scenes.composition import (
    KINDS,
    VIEWS_OF_KIND,
    ScenePlan,
    SceneSettings,
    compose,
    draw_view_angle,
    plan_scene,
    stream,
)
from firingend_training.scenes.deposits import UNUSED, draw_shell
from firingend_training.scenes.plug_shape import draw_shape
from firingend_training.scenes.visible import plug_truths
from scipy.stats import chi2_contingency

from firingend.labels import LABELS, PARTS

SMALL = SceneSettings(seed=4, close_pixels=(96, 96), wide_pixels=(160, 120), detail=0.25)


@pytest.fixture(scope="module")
def scenes():
    labels = {"row": ("wet", "normal-tan", "rich-carbon"), "other-part": ()}
    return {k: compose(SMALL, ScenePlan(7, k, labels.get(k, ("normal-tan",)))) for k in KINDS}


def test_a_scene_depends_on_seed_and_number_alone(scenes):
    again = compose(SMALL, ScenePlan(7, "close", ("normal-tan",)))
    first = scenes["close"]
    assert np.array_equal(again.plugs.points, first.plugs.points)
    assert np.array_equal(again.plugs.colour, first.plugs.colour)
    assert np.array_equal(again.environment, first.environment)
    assert plan_scene(SMALL, 11) == plan_scene(SMALL, 11)


@pytest.mark.parametrize("kind", ["close", "held", "whole", "row"])
def test_nothing_but_the_plug_knows_the_label(kind):
    """The same scene with other labels: place, light, props, cameras, pose, shell and shape are the same."""
    made = []
    for label in LABELS[:3] if kind != "close" else LABELS:
        count = 2 if kind == "row" else 1
        made.append(compose(SMALL, ScenePlan(21, kind, (label,) * count)))
    first = made[0]
    for other in made[1:]:
        assert np.array_equal(first.environment, other.environment)
        assert np.array_equal(first.ground_texture, other.ground_texture)
        assert np.array_equal(first.props.points, other.props.points)
        assert first.nuisance == other.nuisance
        for mine, theirs in zip(first.views, other.views, strict=True):
            assert np.array_equal(mine.origin, theirs.origin)
            assert np.array_equal(mine.up, theirs.up)
            assert mine.focus_mm == theirs.focus_mm
        for mine, theirs in zip(first.members, other.members, strict=True):
            assert mine.shell == theirs.shell
            assert (mine.shape.thread, mine.shape.nose) == (theirs.shape.thread, theirs.shape.nose)


def test_labels_and_shells_are_statistically_independent():
    settings = SceneSettings(seed=9, kind_shares=(1, 0, 0, 0, 0))
    rows = {label: np.zeros(5) for label in LABELS}
    dirt = ("bright", "varnish", "dry-black", "oily-black", "rust")
    for number in range(2500):
        label = plan_scene(settings, number).labels[0]
        if label != UNUSED:
            shell = draw_shell(stream(settings, number, "shell"))
            rows[label][dirt.index(shell.thread_dirt)] += 1
    assert chi2_contingency(np.array(list(rows.values()))).pvalue > 0.001


def test_splits_draw_different_streams():
    train, test = SceneSettings(seed=1), SceneSettings(seed=1, split="test")
    assert stream(train, 3, "light").random() != stream(test, 3, "light").random()


def test_view_angles_fill_the_bands():
    angles = np.array([draw_view_angle(np.random.default_rng(s)) for s in range(800)])
    shares = [np.mean((angles >= a) & (angles < b)) for a, b in ((0, 22), (22, 62), (62, 100))]
    assert shares == pytest.approx([0.28, 0.37, 0.35], abs=0.06)


def test_every_kind_has_its_views_and_parts(scenes):
    for kind, scene in scenes.items():
        assert len(scene.views) == VIEWS_OF_KIND[kind]
        assert len(scene.in_box) == len(scene.plugs.faces)
        plugs = {value // 8 for value in np.unique(scene.plugs.part) if value % 8}
        assert plugs == set(range(len(scene.plan.labels)))
        for view in scene.views:
            assert view.origin[2] > 0


def test_row_views_hold_every_firing_end(scenes):
    scene = scenes["row"]
    for view in scene.views:
        for member in scene.members:
            pixels = view.project(member.firing_end)
            inside = (pixels >= 0).all(1) & (pixels[:, 0] < view.width) & (pixels[:, 1] < view.height)
            assert inside.mean() > 0.9


@pytest.mark.parametrize(
    ("split", "ground", "site"),
    [("train", "body panel", "engine bay"), ("train", "wood table", "bench"), ("test", "leather", "held out")],
)
def test_what_lies_about_fits_the_place(monkeypatch, split, ground, site):
    asked = []
    draw = composition.draw_ground
    monkeypatch.setattr(composition, "draw_ground", lambda rng, split: draw(rng, split, ground))
    monkeypatch.setattr(composition.props, "clutter", lambda rng, clear, at: asked.append(at) or composition.nowhere())
    for number in range(6):
        compose(replace(SMALL, split=split), ScenePlan(number, "whole", ("wet",)))
    assert asked and set(asked) == {site}


def test_pixel_rays_and_projection_agree():
    view = camera(origin=np.array([30, -90.0, 40]), up=np.array([0.2, 0.1, 1.0]))
    rays = view.pixel_rays().reshape(60, 80, 3)
    for row, column in ((0, 0), (17, 63), (59, 79)):
        point = view.origin + 87.0 * rays[row, column].astype(float)
        assert view.project(point[None])[0] == pytest.approx([column + 0.5, row + 0.5], abs=1e-3)
    assert view.project(np.array([[0.0, 0, 0]]))[0] == pytest.approx([40, 30])


def test_world_up_is_up_and_right_is_right():
    view = camera()
    assert view.project(np.array([[0, 0, 5.0]]))[0, 1] < 30
    assert view.project(np.array([[5.0, 0, 0]]))[0, 0] > 40


def two_members(scenes):
    return scenes["row"].members[:2]


def test_truth_orders_plugs_and_drops_hidden_ones(scenes):
    view = scenes["row"].views[0]
    height, width = view.height, view.width
    members = scenes["row"].members
    hit = np.zeros((height, width), np.uint8)
    in_box = np.zeros((height, width), bool)
    nose, strap, body = (PARTS.index(n) for n in ("nose", "strap", "body"))
    # Member 0 right, member 1 left, member 2 shows its body only.
    hit[40:60, 100:120] = nose
    hit[40:60, 120:130] = body
    hit[40:60, 20:40] = 8 + strap
    hit[80:100, 60:90] = 16 + body
    in_box[40:60, 100:120] = in_box[40:60, 20:40] = True
    truths, mask = plug_truths(members, view, hit, in_box)
    assert [t.plug % 8 for t in truths] == [1, 0]
    assert truths[1].box == (100.0, 40.0, 120.0, 60.0)
    assert truths[1].nose_pixels == 400 and truths[0].nose_pixels == 0
    assert mask[50, 30] == strap and mask[50, 110] == 8 + nose and mask[50, 125] == 8 + body
    assert (mask[80:100, 60:90] == 0).all()
    for truth in truths:
        assert np.hypot(*truth.axis) == pytest.approx(np.sin(np.radians(truth.view_degrees)), abs=0.01)


def test_two_lines_are_read_as_text(scenes):
    """Looked at from above, the line that lies further up the world's Y is the upper one."""
    flat = [(0, 0), (0, 1), (1, 0)]
    members = tuple(
        replace(member, place=place, offset=np.array([place[0] * 30.0, place[1] * 30.0, 0.0]))
        for member, place in zip(scenes["row"].members, flat, strict=True)
    )
    view = camera(
        origin=np.array([15.0, 15, 300]),
        target=np.array([15.0, 15, 0]),
        up=np.array([0, 1.0, 0]),
        field_degrees=40.0,
        width=160,
        height=120,
    )
    hit = np.zeros((120, 160), np.uint8)
    # Seen 5 px further left than the plug above it, the lower left one still comes second.
    for index, (left, top) in enumerate([(35, 80), (40, 20), (100, 80)]):
        hit[top : top + 20, left : left + 20] = 8 * index + PARTS.index("nose")
    at_place = [replace(m, firing_end=np.array([[m.offset[0], m.offset[1], 5.0]])) for m in members]
    truths, _ = plug_truths(tuple(at_place), view, hit, hit > 0)
    assert [t.plug % 8 for t in truths] == [1, 0, 2]


def test_places_say_where_plugs_stand():
    """Columns run along +X and lines along +Y wherever a board holds two lines."""
    boards = 0
    for number in range(60):
        shapes = [draw_shape(np.random.default_rng(k), "train") for k in range(6)]
        poses = composition._row_poses(np.random.default_rng(number), shapes)
        lines = {pose.place[1] for pose in poses}
        boards += len(lines) > 1
        for first, second in pairwise(sorted(poses, key=lambda pose: (pose.place[1], pose.place[0]))):
            if first.place[1] == second.place[1]:
                assert second.offset[0] > first.offset[0]
            else:
                assert min(p.offset[1] for p in poses if p.place[1] == second.place[1]) > first.offset[1]
    assert boards > 1
