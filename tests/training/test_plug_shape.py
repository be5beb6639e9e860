"""Shape of a plug: proportions, closed meshes facing outwards, reserved test shapes."""

from __future__ import annotations

import numpy as np
import pytest
from firingend_training.scenes.plug_shape import Zone, build_geometry, draw_shape

from firingend.labels import PARTS


def shape_of(seed, split="train", unused=False):
    return draw_shape(np.random.default_rng(seed), split, unused)


@pytest.mark.parametrize("seed", range(12))
def test_parts_are_where_a_plug_has_them(seed):
    shape = shape_of(seed)
    plug = build_geometry(shape, 0.3)
    radius = np.hypot(plug.points[:, 0], plug.points[:, 1])
    rim = plug.zone == Zone.RIM
    assert plug.points[rim, 2].max() == pytest.approx(0, abs=1e-6)
    thread = plug.zone == Zone.THREAD
    assert radius[thread].max() == pytest.approx(shape.thread / 2, abs=0.02)
    nose = plug.zone == Zone.NOSE
    assert plug.points[nose, 2].max() == pytest.approx(shape.nose, abs=0.06)
    inside = nose & (plug.points[:, 2] > -0.5)
    assert not inside.any() or radius[inside].max() < shape.bore_radius
    assert shape.bore_radius < shape.rim_radius < shape.thread / 2
    assert 0.45 < shape.gap < 1.35


@pytest.mark.parametrize("seed", range(12))
def test_triangles_face_the_way_their_normals_point(seed):
    plug = build_geometry(shape_of(seed), 0.3)
    a, b, c = (plug.points[plug.faces[:, k]] for k in range(3))
    face_normal = np.cross(b - a, c - a)
    along = np.einsum("ij,ij->i", face_normal, plug.normals[plug.faces[:, 0]])
    for zone in Zone:
        chosen = plug.zone[plug.faces[:, 0]] == zone
        if chosen.any():
            assert along[chosen].sum() > 0, zone.name


def test_single_strap_stands_over_the_electrode_by_the_gap():
    for seed in range(40):
        shape = shape_of(seed)
        if shape.straps != 1 or shape.nose < 0.5:
            continue
        plug = build_geometry(shape, 0.5)
        strap = plug.points[(plug.zone == Zone.STRAP) & (plug.along > 0.9)]
        electrode = plug.points[plug.zone == Zone.ELECTRODE, 2].max()
        assert strap[:, 2].min() - electrode == pytest.approx(shape.gap, abs=0.12)


def test_resolution_scales_the_mesh():
    shape = shape_of(3)
    fine, coarse = build_geometry(shape, 1.0), build_geometry(shape, 0.35)
    assert len(coarse.points) < 0.25 * len(fine.points)
    assert np.abs(fine.points.max(0) - coarse.points.max(0)).max() < 0.1


def test_box_faces_end_below_the_first_thread():
    plug = build_geometry(shape_of(5), 0.4)
    low = plug.points[plug.faces[plug.face_in_box]][..., 2].min()
    assert -4.5 < low < -3.0
    names = {PARTS[p] for p in np.unique(plug.face_part[plug.face_in_box])}
    assert "body" not in names
    assert {"nose", "rim", "threads"} <= names


def test_split_reserves_shapes():
    train = [shape_of(seed) for seed in range(150)]
    test = [shape_of(seed, "test") for seed in range(150)]
    assert 18.0 not in {s.thread for s in train}
    assert (14.0, 3) in {(s.thread, s.straps) for s in test}
    assert not {(s.thread, s.straps) for s in train} & {(s.thread, s.straps) for s in test if s.straps not in (0, 2)}


def test_training_draws_every_number_of_straps():
    straps = np.array([shape_of(seed).straps for seed in range(2000)])
    shares = [float((straps == count).mean()) for count in (1, 2, 3, 4, 0)]
    assert shares == pytest.approx([0.71, 0.1, 0.06, 0.1, 0.03], abs=0.025)


def test_three_straps_stand_a_third_of_a_turn_apart():
    shape = next(s for s in map(shape_of, range(200)) if s.straps == 3)
    plug = build_geometry(shape, 0.3)
    feet = plug.points[(plug.zone == Zone.STRAP) & (plug.along < 0.1)]
    turn = np.angle(np.exp(3j * (np.arctan2(feet[:, 1], feet[:, 0]) - shape.phase)))
    assert np.abs(turn).max() < np.pi / 2  # within 30 degrees of one of three directions
    third = np.round((np.arctan2(feet[:, 1], feet[:, 0]) - shape.phase) / (2 * np.pi / 3)) % 3
    assert set(third) == {0, 1, 2}


def test_unused_electrodes_are_sharp():
    assert max(shape_of(s, unused=True).electrode_wear for s in range(20)) < min(
        shape_of(s).electrode_wear for s in range(20)
    )
