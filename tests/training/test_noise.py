from __future__ import annotations

import numpy as np
import pytest
from firingend_training.scenes.noise import FEATURES_PER_PERIOD, VOLUME_SIZE, in_plane, in_space, volume_table
from scipy import ndimage


@pytest.mark.parametrize("kind", ["soft", "pink", "fine"])
def test_volume_has_mean_zero_and_unit_spread(kind):
    table = volume_table(kind)
    assert table.shape == (VOLUME_SIZE,) * 3
    assert abs(float(table.mean())) < 1e-3
    assert float(table.std()) == pytest.approx(1, abs=1e-3)


def test_noise_in_space_repeats_after_one_period():
    points = np.random.default_rng(0).uniform(0, 10, (500, 3))
    period = FEATURES_PER_PERIOD / 2.0
    here = in_space(points, "pink", 2.0, np.random.default_rng(3))
    there = in_space(points + np.array([period, 0, -period]), "pink", 2.0, np.random.default_rng(3))
    assert np.allclose(here, there, atol=2e-3)


def test_cell_distance_is_the_distance_to_the_nearest_point_of_its_cell():
    distance = volume_table("cell-distance")
    number = volume_table("cell-number")
    assert 0 <= float(distance.min()) < 0.15
    assert float(distance.max()) < np.sqrt(3) + 0.01
    # where the owner changes the distance is never near zero
    changes = number[1:] != number[:-1]
    assert float(np.minimum(distance[1:], distance[:-1])[changes].min()) > 0.0
    # one step of a voxel changes the distance by no more than a voxel's width
    assert float(np.abs(np.diff(distance, axis=0)).max()) <= 1 / 8 + 1e-4


@pytest.mark.parametrize("kind", ["soft", "pink", "fine", "grain", "fibre"])
def test_plane_tiles_without_a_seam(kind):
    field = in_plane(np.random.default_rng(1), kind)
    assert field.shape == (512, 512)
    seam = np.abs(field[:, 0] - field[:, -1]).mean()
    inside = np.abs(np.diff(field, axis=1)).mean()
    assert seam < 2.0 * inside


def test_streaks_run_along_x():
    field = in_plane(np.random.default_rng(1), "fibre")
    assert np.abs(np.diff(field, axis=0)).mean() > 3 * np.abs(np.diff(field, axis=1)).mean()


@pytest.mark.parametrize("kind", ["soft", "pink", "fine", "cell-distance"])
def test_values_in_space_are_those_of_linear_interpolation(kind):
    """Against SciPy's map_coordinates, wrapping round at the table's ends."""
    points = np.random.default_rng(5).uniform(-40, 40, (3000, 3)).astype(np.float32)
    offset = np.random.default_rng(6).random(3) * VOLUME_SIZE
    places = (points * 2.0 * VOLUME_SIZE / FEATURES_PER_PERIOD + offset).T
    expected = ndimage.map_coordinates(volume_table(kind), places, order=1, mode="grid-wrap")
    found = in_space(points, kind, 2.0, np.random.default_rng(6))
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, expected, atol=2e-3 * expected.std())
