"""Shadows thrown on firing ends, and light from behind them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from cameras import camera
from firingend_training.scenes import composition
from firingend_training.scenes.composition import ScenePlan, SceneSettings, compose, nowhere
from firingend_training.scenes.light import draw_light
from firingend_training.scenes.shade import LEAST_SHARE, cast_shadow

SMALL = SceneSettings(seed=4, close_pixels=(96, 96), wide_pixels=(160, 120), detail=0.2)
ROW = ("wet", "normal-tan", "rich-carbon")


@pytest.fixture
def light_is(monkeypatch):
    def force(name):
        monkeypatch.setattr(composition, "draw_light", lambda rng, split: draw_light(rng, split, name))

    return force


def blocked(points, lamp, mesh):
    """Which of the points (n, 3) have a triangle of the mesh between them and the lamp (Möller and Trumbore)."""
    a, b, c = (mesh.points[mesh.faces[:, k]].astype(float) for k in range(3))
    hidden = []
    for point in points:
        ray = lamp - point
        p = np.cross(ray, c - a)
        determinant = np.einsum("ij,ij->i", b - a, p)
        steep = np.abs(determinant) > 1e-9
        inverse = 1 / np.where(steep, determinant, 1)
        u = np.einsum("ij,ij->i", point - a, p) * inverse
        q = np.cross(point - a, b - a)
        v, t = q @ ray * inverse, np.einsum("ij,ij->i", c - a, q) * inverse
        hidden.append(bool((steep & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0) & (t < 1)).any()))
    return np.array(hidden)


def cylinder(radius=6.0):
    angle = np.arange(10) / 10 * 2 * np.pi
    rings = [np.stack([radius * np.cos(angle), radius * np.sin(angle), 0 * angle + z], 1) for z in (20, 24, 28)]
    return np.concatenate(rings)


def lens():
    return camera(
        origin=np.array([30.0, -120, 90]),
        target=np.array([0, 0, 24.0]),
        field_degrees=12,
        focus_mm=140,
        width=96,
        height=96,
        lamp_position=np.array([0, 0, 900.0]),
        lamp_radius_mm=10,
    )


@pytest.mark.parametrize("seed", range(20))
def test_most_of_the_firing_end_lies_in_the_shadow(seed):
    ends, bodies = cylinder(), np.stack([np.zeros(8), np.zeros(8), np.linspace(-40, 30, 8)], 1)
    shadow = cast_shadow(np.random.default_rng(seed), ends, bodies, [lens()], 2000)
    assert shadow is not None
    assert np.linalg.norm(shadow.lamp_position - ends.mean(0)) == pytest.approx(2000)
    share = blocked(ends, shadow.lamp_position, shadow.mesh).mean()
    assert share == pytest.approx(shadow.share, abs=0.1)
    assert share >= LEAST_SHARE - 0.1
    assert np.linalg.norm(shadow.mesh.points[:, None] - bodies[None], axis=-1).min() > 10


def test_shadows_often_leave_an_edge_on_the_firing_end():
    bodies = np.zeros((1, 3))
    shares = [cast_shadow(np.random.default_rng(s), cylinder(), bodies, [lens()], 2000).share for s in range(60)]
    assert 0.25 < np.mean(np.array(shares) < 0.97) < 0.9


def test_no_place_is_found_where_every_one_is_in_the_picture():
    above = cylinder().mean(0) + np.array([0, 0, 900])
    wide = replace(lens(), origin=above, target=cylinder().mean(0), up=np.array([0, 1.0, 0]), field_degrees=150)
    assert cast_shadow(np.random.default_rng(0), cylinder(), np.zeros((1, 3)), [wide], 2000) is None


@pytest.mark.parametrize(("kind", "labels"), [("close", ("wet",)), ("held", ("normal-tan",)), ("row", ROW)])
def test_a_scene_in_shadow_keeps_the_obstacle_out_of_its_pictures(light_is, monkeypatch, kind, labels):
    made = []

    def cast(*args):
        made.append(cast_shadow(*args))
        return made[-1]

    monkeypatch.setattr(composition, "cast_shadow", cast)
    light_is("in a shadow")
    for number in range(5):
        scene = compose(SMALL, ScenePlan(number, kind, labels))
        shadow = made[-1]
        assert shadow is not None and scene.nuisance["shaded"] >= LEAST_SHARE
        assert np.isin(shadow.mesh.points[:, 0], scene.props.points[:, 0]).all()
        ends = np.concatenate([m.firing_end[::12] for m in scene.members])
        assert blocked(ends, scene.views[0].lamp_position, shadow.mesh).mean() > 0.4
        for view in scene.views:
            assert np.array_equal(view.lamp_position, shadow.lamp_position)
            ahead = shadow.mesh.points[(shadow.mesh.points - view.origin) @ view.frame()[2] > 1]
            pixels = view.project(ahead)
            assert not ((pixels >= 0).all(1) & (pixels < [view.width, view.height]).all(1)).any()


def test_without_plugs_nothing_throws_a_shadow(light_is):
    light_is("in a shadow")
    scene = compose(SMALL, ScenePlan(3, "other-part", ()))
    assert "shaded" not in scene.nuisance
    assert len(scene.props.points) > len(nowhere().points)


@pytest.mark.parametrize("kind", ["close", "row"])
@pytest.mark.parametrize("light", ["in a shadow", "from behind"])
def test_shadow_and_light_from_behind_do_not_know_the_label(light_is, light, kind):
    light_is(light)
    first, other = (
        compose(SMALL, ScenePlan(11, kind, (label,) * (3 if kind == "row" else 1))) for label in ("wet", "lean-white")
    )
    assert first.nuisance == other.nuisance
    assert np.array_equal(first.props.points, other.props.points)
    assert all(np.array_equal(a.lamp_position, b.lamp_position) for a, b in zip(first.views, other.views, strict=True))


@pytest.mark.parametrize(("kind", "labels"), [("close", ("wet",)), ("held", ("wet",)), ("row", ROW)])
def test_light_from_behind_stands_across_from_every_camera(light_is, kind, labels):
    light_is("from behind")
    for number in range(6):
        for view in compose(SMALL, ScenePlan(number, kind, labels)).views:
            to_lamp, to_camera = view.lamp_position - view.target, view.origin - view.target
            level = to_lamp[:2] @ to_camera[:2] / np.linalg.norm(to_lamp[:2]) / np.linalg.norm(to_camera[:2])
            steep = to_camera[2] / np.linalg.norm(to_camera) > 0.85
            assert level < 0.2 or steep  # from straight above no side is the far one
            assert to_lamp[2] > 0.12 * np.linalg.norm(to_lamp)
            assert np.array_equal(view.lamp_target, view.target)
