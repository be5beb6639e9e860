"""Drops of fuel: bodies of their own on wet plugs, and masks that look through them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from firingend_training.mitsuba_scene import LLVM, SCALAR, Renderer, find_llvm
from firingend_training.scenes.composition import ScenePlan, SceneSettings, compose, nowhere
from firingend_training.scenes.deposits import coat, draw_condition, draw_shell
from firingend_training.scenes.drops import FEWEST, LARGEST_MM, MOST, stand_drops
from firingend_training.scenes.plug_shape import PART_OF_ZONE, build_geometry, draw_shape
from scipy.spatial import KDTree

from firingend.labels import LABELS

DOWN = np.array([0.6, 0.0, -0.8])
SMALL = SceneSettings(seed=4, kind_shares=(1, 0, 0, 0, 0), close_pixels=(40, 40), wide_pixels=(64, 48), detail=0.3)


@pytest.fixture(scope="module")
def wet():
    geometry = build_geometry(draw_shape(np.random.default_rng(2), "train"), 0.5)
    condition = draw_condition(np.random.default_rng(1), "wet")
    shell = draw_shell(np.random.default_rng(3))
    mesh, _ = coat(geometry, condition, shell, np.random.default_rng(4), np.random.default_rng(5))
    return geometry, mesh


def standing(wet, thickly=0.8, seed=0):
    geometry, mesh = wet
    return stand_drops(mesh, geometry, thickly, DOWN, np.random.default_rng(seed))


def bodies(drops):
    """(drops, points a drop, 3) and the part of each drop."""
    apiece = np.flatnonzero(np.diff(drops.part.astype(int)))
    faces = 120
    assert not (((apiece + 1) % faces) != 0).any()
    count = len(drops.faces) // faces
    return drops.points.reshape(count, -1, 3), drops.part[::faces]


def test_drops_stand_on_their_part_and_out_of_the_solid(wet):
    geometry, mesh = wet
    points, parts = bodies(standing(wet))
    for part in np.unique(parts):
        mine = PART_OF_ZONE[geometry.zone] == part
        tree = KDTree(mesh.points[mine])
        for body in points[parts == part]:
            distance, vertex = tree.query(body)
            assert distance.min() < 0.15
            height = ((body - mesh.points[mine][vertex]) * mesh.normals[mine][vertex]).sum(1)
            assert height.max() > 0.03
            assert np.ptp(body, axis=0).max() < 2.6 * LARGEST_MM


def test_drops_are_closed_and_face_outwards(wet):
    drops = standing(wet)
    a, b, c = (drops.points[drops.faces[:, k]].astype(float) for k in range(3))
    outward = np.cross(b - a, c - a)
    assert ((outward * drops.normals[drops.faces[:, 0]]).sum(1) > 0).all()
    edges = np.sort(np.concatenate([drops.faces[:, [i, j]] for i, j in ((0, 1), (1, 2), (2, 0))]), axis=1)
    assert (np.unique(edges, axis=0, return_counts=True)[1] == 2).all()
    assert np.allclose(np.linalg.norm(drops.normals, axis=1), 1, atol=1e-5)


def test_more_drops_where_they_stand_thickly_and_never_too_many(wet):
    counts = {t: [len(bodies(standing(wet, t, s))[0]) for s in range(4)] for t in (0.2, 1.0)}
    assert np.mean(counts[1.0]) > 1.5 * np.mean(counts[0.2])
    assert min(counts[0.2]) >= FEWEST // 2 and max(counts[1.0]) <= MOST
    assert standing(wet, 0.0) is None


def test_large_drops_hang(wet):
    points = np.concatenate([bodies(standing(wet, 1.0, seed))[0] for seed in range(6)])
    size = np.linalg.norm(np.ptp(points, axis=1), axis=1)
    low = points.mean(1) @ DOWN
    large = size > np.quantile(size, 0.8)
    assert low[large].mean() > low[~large].mean() + 0.3


def test_drops_follow_their_seed_and_only_wet_plugs_have_them():
    made = [compose(SMALL, ScenePlan(number, "close", ("wet",))) for number in (1, 1, 2, 3, 5)]
    assert np.array_equal(made[0].drops.points, made[1].drops.points)
    for scene in made:
        some = len(scene.drops.faces) > len(nowhere().faces)
        assert some == (scene.members[0].condition.drops > 0)
    assert any(len(scene.drops.faces) > 1000 for scene in made)
    for label in set(LABELS) - {"wet"}:
        dry = compose(SMALL, ScenePlan(1, "close", (label,)))
        assert np.array_equal(dry.drops.points, nowhere().points)


def dripping():
    """A scene whose plug carries drops, and the same without them."""
    for number in range(20):
        scene = compose(SMALL, ScenePlan(number, "close", ("wet",)))
        if scene.members[0].condition.drops > 0.6:
            return scene, replace(scene, drops=nowhere())
    raise AssertionError("no scene with drops")


@pytest.mark.parametrize(
    "variant",
    [SCALAR, pytest.param(LLVM, marks=pytest.mark.skipif(find_llvm() is None, reason="no LLVM for the renderer"))],
)
def test_masks_keep_the_part_beneath_a_drop_and_boxes_that_of_the_plug(variant):
    scene, bare = dripping()
    renderer = Renderer(variant)
    renderer.load(scene)
    seen = [renderer.hits(view, scene) for view in scene.views]
    renderer.load(bare)
    plain = [renderer.hits(view, bare) for view in bare.views]
    changed = 0
    for (hit, in_box), (hit_bare, in_box_bare) in zip(seen, plain, strict=True):
        assert (hit[hit_bare > 0] > 0).all()
        assert (in_box == in_box_bare).mean() > 0.998
        assert set(np.unique(hit)) <= {0, *np.unique(scene.plugs.part)}
        changed += int((hit != hit_bare).sum())
    assert changed > 0
