from __future__ import annotations

import numpy as np
import pytest
from firingend_training.scenes.bay_parts import hose, loom
from firingend_training.scenes.clutter import _THINGS_AT
from firingend_training.scenes.packaging import blister_card, carton
from firingend_training.scenes.props import OTHER_PARTS, clutter, hand, other_part
from firingend_training.scenes.solids import hexagon_head, shell_from_grid, thread, turned

EVERY_PART = [(split, kind) for split, kinds in OTHER_PARTS.items() for kind in kinds]


def assert_sound(mesh):
    count = len(mesh.points)
    assert mesh.points.dtype == np.float32
    assert mesh.faces.dtype == np.uint32
    assert mesh.part.dtype == np.uint8
    assert mesh.points.shape == mesh.normals.shape == mesh.colour.shape == (count, 3)
    for values in (mesh.roughness, mesh.metallic, mesh.clearcoat):
        assert values.shape == (count,)
        assert values.dtype == np.float32
        assert 0 <= values.min() <= values.max() <= 1
    assert mesh.part.shape == (len(mesh.faces),)
    assert not mesh.part.any()
    assert mesh.faces.max() < count
    assert np.isfinite(mesh.points).all()
    assert np.allclose(np.linalg.norm(mesh.normals, axis=1), 1, atol=1e-3)
    assert 0 < mesh.colour.min() <= mesh.colour.max() < 1
    corners = mesh.points[mesh.faces].astype(np.float64)
    facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    agrees = (facing * mesh.normals[mesh.faces].mean(1)).sum(1) > 0
    assert agrees.mean() > 0.99
    assert signed_volume(mesh.points, mesh.faces) > 0  # faces look outward


def signed_volume(points, faces):
    a, b, c = points[faces].astype(np.float64).transpose(1, 0, 2)
    return float((a * np.cross(b, c)).sum() / 6)


def test_no_part_belongs_to_both_splits():
    train, test = set(OTHER_PARTS["train"]), set(OTHER_PARTS["test"])
    assert not train & test
    assert 0.2 <= len(test) / len(train | test) <= 0.3


@pytest.mark.parametrize(("split", "kind"), EVERY_PART)
def test_other_parts_stand_on_the_axis(split, kind):
    name, mesh = other_part(np.random.default_rng(8), split, kind)
    assert name == kind
    assert_sound(mesh)
    low, high = mesh.points.min(0), mesh.points.max(0)
    assert low[2] == pytest.approx(0, abs=1e-3)
    assert 5 - 1e-3 <= high[2] <= 60 + 1e-3
    assert low[0] < 0 < high[0]
    assert low[1] < 0 < high[1]


@pytest.mark.parametrize("split", ["train", "test"])
def test_same_seed_same_part(split):
    name, mesh = other_part(np.random.default_rng(3), split)
    again, same = other_part(np.random.default_rng(3), split)
    assert name == again
    assert np.array_equal(mesh.points, same.points)
    assert np.array_equal(mesh.colour, same.colour)


@pytest.mark.parametrize("seed", range(8))
def test_hand_leaves_what_it_holds_and_the_far_end_free(seed):
    radius, z = 4.0 + seed, -10.0 * seed
    mesh = hand(np.random.default_rng(seed), radius, z)
    assert_sound(mesh)
    assert mesh.points[:, 2].max() <= z + 11.5
    reach = np.hypot(mesh.points[:, 0], mesh.points[:, 1])
    assert reach.min() > 0.55 * radius  # flesh may wrap round the edge, never stand in the middle
    near_grip = np.abs(mesh.points[:, 2] - z) < 12
    assert reach[near_grip].min() < radius + 4  # it does touch


@pytest.mark.parametrize("site", ["held out", "bench", "engine bay"])
@pytest.mark.parametrize("seed", range(12))
def test_clutter_keeps_clear(seed, site):
    circles = [(0.0, 0.0, 25.0), (60.0, -20.0, 14.0)]
    mesh = clutter(np.random.default_rng(seed), circles, site)
    assert_sound(mesh)
    assert mesh.points[:, 2].min() == pytest.approx(0, abs=1e-3)
    # points spread over every face, so that a large face cannot hide a circle
    corners = mesh.points[mesh.faces][..., :2].astype(np.float64)
    share = np.random.default_rng(0).dirichlet([1, 1, 1], 12)
    spread = np.einsum("ks,fsd->fkd", share, corners).reshape(-1, 2)
    for x, y, radius in circles:
        assert np.hypot(spread[:, 0] - x, spread[:, 1] - y).min() > radius - 0.5


@pytest.mark.parametrize("make", [carton, blister_card, hose, loom])
def test_packaging_hoses_and_looms_are_sound(make):
    sizes = []
    for seed in range(12):
        mesh = make(np.random.default_rng(seed))
        assert_sound(mesh)
        sizes.append(np.ptp(mesh.points, axis=0).max())
    assert 50 < min(sizes) < max(sizes) < 300


def test_a_carton_is_printed_in_several_colours():
    for seed in range(8):
        mesh = carton(np.random.default_rng(seed))
        assert len(np.unique(mesh.colour.round(2), axis=0)) >= 3
        face = mesh.colour[mesh.normals[:, 2] > 0.9]
        assert face.std(0).max() > 0.02


def test_a_blister_card_lies_flat_and_its_clear_rim_shines():
    shining = 0
    for seed in range(12):
        mesh = blister_card(np.random.default_rng(seed))
        assert np.ptp(mesh.points[:, 2]) < 9 < np.ptp(mesh.points[:, :2], axis=0).min()
        shining += bool(((mesh.clearcoat == 1) & (mesh.roughness < 0.25) & (mesh.points[:, 2] > 1)).sum() > 300)
    assert shining >= 6


def test_a_loom_has_wires_of_several_colours():
    colours = [len(np.unique(loom(np.random.default_rng(seed)).colour.round(1), axis=0)) for seed in range(10)]
    assert np.median(colours) >= 3


def test_held_out_scenes_have_none_of_the_new_things():
    assert set(_THINGS_AT["bench"]) - set(_THINGS_AT["held out"]) == {"carton", "blister card", "loom"}
    assert {"hose", "loom"} <= set(_THINGS_AT["engine bay"])
    assert not {"hose", "carton", "blister card", "loom"} & set(_THINGS_AT["held out"])


def test_clutter_without_room_goes_far_away():
    mesh = clutter(np.random.default_rng(0), [(0.0, 0.0, 500.0)])
    assert len(mesh.faces) > 0
    assert np.hypot(mesh.points[:, 0], mesh.points[:, 1]).min() > 500


def test_turned_cylinder_has_its_volume_and_hard_edges():
    shell = turned([(0, 0), (5, 0), (5, 8), (0, 8)], columns=120)
    assert signed_volume(shell.points, shell.faces) == pytest.approx(np.pi * 25 * 8, rel=0.01)
    axial = np.abs(shell.normals[:, 2])
    assert ((axial < 0.01) | (axial > 0.99)).all()


def test_hexagon_head_is_widest_at_its_corners():
    shell = hexagon_head(10, 0, 8)
    reach = np.hypot(shell.points[:, 0], shell.points[:, 1])
    assert reach.max() == pytest.approx(10, abs=0.05)
    angle = np.degrees(np.arctan2(shell.points[:, 1], shell.points[:, 0])) % 60
    flats = (np.abs(angle - 30) < 1) & (np.abs(shell.points[:, 2] - 4) < 2)
    assert reach[flats].max() == pytest.approx(10 * np.cos(np.pi / 6), abs=0.05)


def test_thread_is_a_right_hand_helix_of_its_pitch():
    """Turning by a quarter and rising by a quarter of the pitch leaves the flank where it was."""
    pitch, columns = 1.25, 64
    shell = thread(5, 0, 20, pitch, columns)
    points = shell.points.astype(np.float64)
    side = points[(points[:, 2] > 4) & (points[:, 2] < 16) & (np.hypot(points[:, 0], points[:, 1]) > 3.5)]
    phase = (side[:, 2] / pitch - np.arctan2(side[:, 1], side[:, 0]) / (2 * np.pi)) % 1
    reach = np.hypot(side[:, 0], side[:, 1])
    crest, root = np.abs(phase - 0.5) > 0.46, np.abs(phase - 0.5) < 0.04
    depth = abs(reach[crest].mean() - reach[root].mean())
    assert depth == pytest.approx(0.61 * pitch, rel=0.15)
    assert reach[crest].std() < 0.05
    assert reach[root].std() < 0.05


def test_smooth_grids_share_vertices():
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    grid = np.stack([np.stack([np.cos(angle), np.sin(angle), np.full(24, z)], -1) for z in (0.0, 1.0, 2.0)])
    assert len(shell_from_grid(grid, None).points) == 72
