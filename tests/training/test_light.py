from __future__ import annotations

import numpy as np
import pytest
from firingend_training.scenes.light import LIGHT_KINDS, blackbody, draw_light

EVERY_KIND = [(split, kind) for split, kinds in LIGHT_KINDS.items() for kind in kinds]


def test_no_light_belongs_to_both_splits():
    train, test = set(LIGHT_KINDS["train"]), set(LIGHT_KINDS["test"])
    assert not train & test
    assert 0.2 <= len(test) / len(train | test) <= 0.3


@pytest.mark.parametrize(("split", "kind"), EVERY_KIND)
def test_light_keeps_to_its_ranges(split, kind):
    for seed in range(4):
        light = draw_light(np.random.default_rng(seed), split, kind)
        assert light.environment.shape == (128, 256, 3)
        assert light.environment.dtype == np.float32
        assert np.isfinite(light.environment).all()
        assert light.environment.min() > 0
        assert light.lamp_radiance.shape == (3,)
        assert light.lamp_radiance.dtype == np.float32
        assert (light.lamp_radiance >= 0).all()
        assert light.lamp_radius_mm < light.lamp_distance_mm
        assert light.illuminant.mean() == pytest.approx(1, abs=1e-4)
        assert light.illuminant.min() > 0.05


@pytest.mark.parametrize("split", ["train", "test"])
def test_same_seed_same_light(split):
    first = draw_light(np.random.default_rng(5), split)
    second = draw_light(np.random.default_rng(5), split)
    assert first.name == second.name
    assert np.array_equal(first.environment, second.environment)
    assert np.array_equal(first.lamp_radiance, second.lamp_radiance)


def test_the_surrounding_closes_behind_the_viewer():
    for seed in range(6):
        environment = draw_light(np.random.default_rng(seed), "train", "workshop tubes").environment
        dim = np.minimum(environment, 1)
        seam = np.abs(dim[:, 0] - dim[:, -1]).mean()
        inside = np.abs(np.diff(dim, axis=1)).mean()
        assert seam < 4 * inside + 0.01


def test_light_comes_from_above_outdoors():
    environment = draw_light(np.random.default_rng(0), "train", "overcast").environment
    assert environment[:40].mean() > 2 * environment[-40:].mean()


def test_clutter_stands_all_round():
    """Every quarter of the horizon has detail for metal to mirror."""
    light = draw_light(np.random.default_rng(2), "train", "window")
    horizon = np.log(light.environment[50:80].mean(-1))
    for quarter in np.split(horizon, 4, axis=1):
        assert quarter.std() > 0.1


def test_a_bulb_is_warmer_than_an_overcast_sky():
    bulb = draw_light(np.random.default_rng(0), "train", "warm bulb").illuminant
    sky = draw_light(np.random.default_rng(0), "train", "overcast").illuminant
    assert bulb[0] / bulb[2] > 1.5 * sky[0] / sky[2]


def test_flash_stands_at_the_camera_and_is_strong():
    light = draw_light(np.random.default_rng(1), "train", "phone flash")
    assert light.flash
    solid_angle = np.pi * (light.lamp_radius_mm / light.lamp_distance_mm) ** 2
    elevation = np.pi / 2 - (np.arange(128) + 0.5) / 128 * np.pi
    weight = np.maximum(np.sin(elevation), 0) * np.cos(elevation) * (np.pi / 128) * (2 * np.pi / 256)
    surrounding = (light.environment.mean(-1) * weight[:, None]).sum()
    assert light.lamp_radiance.mean() * solid_angle > 0.8 * surrounding


def test_a_twentieth_of_training_each_is_lit_from_behind_and_shaded():
    lights = [draw_light(np.random.default_rng(seed), "train") for seed in range(600)]
    assert np.mean([light.behind for light in lights]) == pytest.approx(0.05, abs=0.03)
    assert np.mean([light.shaded for light in lights]) == pytest.approx(0.05, abs=0.03)
    assert not any(light.behind and light.shaded for light in lights)
    held_out = [draw_light(np.random.default_rng(seed), "test") for seed in range(30)]
    assert not any(light.behind or light.shaded for light in held_out)


@pytest.mark.parametrize(("kind", "least", "most"), [("from behind", 0.2, 0.6), ("in a shadow", 0.004, 0.02)])
def test_the_window_behind_is_wide_and_what_throws_shadows_is_small(kind, least, most):
    """Radius over distance; both outshine what comes from all round, or there would be no dark side and no shadow."""
    for seed in range(6):
        light = draw_light(np.random.default_rng(seed), "train", kind)
        ratio = light.lamp_radius_mm / light.lamp_distance_mm
        assert least < ratio < most
        elevation = np.pi / 2 - (np.arange(128) + 0.5) / 128 * np.pi
        weight = np.maximum(np.sin(elevation), 0) * np.cos(elevation) * (np.pi / 128) * (2 * np.pi / 256)
        surrounding = (light.environment.mean(-1) * weight[:, None]).sum()
        assert light.lamp_radiance.mean() * np.pi * ratio**2 > 1.2 * surrounding


@pytest.mark.parametrize("kelvin", [2500, 4000, 6600, 9000])
def test_blackbody_is_normalised_and_ordered(kelvin):
    colour = blackbody(kelvin)
    assert colour.mean() == pytest.approx(1, abs=1e-5)
    assert (colour[0] > colour[2]) == (kelvin < 6600)
