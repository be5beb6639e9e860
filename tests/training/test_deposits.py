"""Deposits: their look follows the label, the shell does not, and the truth tells what was painted."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from firingend_training.scenes.deposits import (
    LABEL_SHARES,
    UNUSED,
    coat,
    draw_condition,
    draw_label,
    draw_shell,
)
from firingend_training.scenes.plug_shape import Zone, build_geometry, draw_shape

from firingend.labels import CERAMIC, LABELS, SIGNS, SURFACE


@pytest.fixture(scope="module")
def plug():
    return build_geometry(draw_shape(np.random.default_rng(2), "train"), 0.3)


def painted(plug, label, seed):
    rng = np.random.default_rng(seed)
    condition = draw_condition(rng, label)
    shell = draw_shell(np.random.default_rng(1000 + seed), label == UNUSED)
    mesh, cover = coat(plug, condition, shell, rng, np.random.default_rng(2000 + seed))
    return condition, mesh, cover


def nose_of(plug):
    return (plug.zone == Zone.NOSE) & (plug.points[:, 2] > plug.shape.nose - 1.5)


@pytest.mark.parametrize("label", [*LABELS, UNUSED])
def test_surface_values_stay_physical(plug, label):
    for seed in range(4):
        _, mesh, cover = painted(plug, label, seed)
        assert np.isfinite(mesh.points).all() and np.isfinite(mesh.normals).all()
        assert mesh.colour.min() > 0 and mesh.colour.max() < 0.95
        for field in (mesh.roughness, mesh.metallic, mesh.clearcoat):
            assert field.min() >= 0 and field.max() <= 1
        assert np.abs(mesh.points - plug.points).max() < 2.5
        assert all(0 <= share <= 1 for share in cover.values())


def test_nose_tone_follows_the_label(plug):
    nose = nose_of(plug)
    tone = {
        label: np.median([painted(plug, label, seed)[1].colour[nose].mean() for seed in range(12)]) for label in LABELS
    }
    assert tone["lean-white"] > 1.3 * tone["normal-tan"] > 1.3 * 4 * tone["rich-carbon"]
    assert tone["oil-fouled"] < 0.05 and tone["rich-carbon"] < 0.1


def test_film_lies_on_wet_noses_and_not_on_dry_ones(plug):
    nose = nose_of(plug)
    for seed in range(8):
        condition, wet, cover = painted(plug, "wet", seed)
        assert condition.surface == "film" and cover["nose"] > 0.2
        assert wet.clearcoat[nose].mean() > 0.2
        for label in ("lean-white", "normal-tan"):
            assert painted(plug, label, seed)[1].clearcoat[nose].max() == 0


def test_gloss_alone_does_not_mean_wet(plug):
    nose = nose_of(plug)
    rough = [painted(plug, "normal-tan", seed)[1].roughness[nose].mean() for seed in range(60)]
    assert min(rough) < 0.45 and max(rough) > 0.75


def test_fuel_leaves_the_shell_its_colour_and_oil_does_not(plug):
    shell = np.isin(plug.zone, [int(Zone.STRAP), int(Zone.RIM)])
    tone = {
        label: np.median([painted(plug, label, seed)[1].colour[shell].mean() for seed in range(16)])
        for label in ("normal-tan", "wet", "oil-fouled")
    }
    assert tone["wet"] > 0.5 * tone["normal-tan"] > 3 * tone["oil-fouled"]


def test_thick_oil_is_lumpy_black_and_no_metal(plug):
    strap = plug.zone == Zone.STRAP
    lumpy = 0
    for seed in range(30):
        _, mesh, _ = painted(plug, "oil-fouled", seed)
        raised = ((mesh.points - plug.points) * plug.normals).sum(1)[strap]
        black = mesh.colour[strap].mean() < 0.03 and mesh.metallic[strap].mean() < 0.05
        lumpy += bool(raised.std() > 0.04 and black)
    assert lumpy >= 9


def test_new_plugs_differ_in_metal_and_not_in_ceramic(plug):
    """Some are bright, some grainy, some warm in tone; the nose stays white and smooth, and no deposit is counted."""
    strap, nose = plug.zone == Zone.STRAP, nose_of(plug)
    new = [painted(plug, UNUSED, seed) for seed in range(24)]
    warmth = [float((m.colour[strap, 0] - m.colour[strap, 2]).mean()) for _, m, _ in new]
    roughness = [float(m.roughness[strap].mean()) for _, m, _ in new]
    assert max(warmth) > min(warmth) + 0.05
    assert min(roughness) < 0.25 and max(roughness) > 0.35
    for _, mesh, cover in new:
        assert mesh.colour[nose].mean() > 0.6 and np.ptp(mesh.colour[nose], axis=1).mean() < 0.08
        assert np.abs(mesh.points[nose] - plug.points[nose]).max() < 1e-6
        assert not any(cover.values())


def test_most_wet_plugs_carry_drops_and_no_others():
    drops = [draw_condition(np.random.default_rng(seed), "wet").drops for seed in range(300)]
    assert np.mean(np.array(drops) > 0) == pytest.approx(0.75, abs=0.08)
    assert all(draw_condition(np.random.default_rng(0), label).drops == 0 for label in LABELS if label != "wet")


def test_soot_climbs_with_severity(plug):
    pairs = []
    for seed in range(40):
        condition, _, cover = painted(plug, "rich-carbon", seed)
        pairs.append((condition.severity, cover["threads"], cover["nose"]))
    severe = np.mean([t for s, t, _ in pairs if s > 0.8])
    slight = np.mean([t for s, t, _ in pairs if s < 0.4])
    assert severe > slight + 0.2
    assert min(n for _, _, n in pairs) > 0.5


def test_facts_are_from_the_vocabulary_and_signs_are_rare():
    count = Counter()
    draws = 600
    for seed in range(draws):
        rng = np.random.default_rng(seed)
        label = draw_label(rng)
        condition = draw_condition(rng, label)
        assert condition.ceramic in CERAMIC and condition.surface in SURFACE
        assert set(condition.signs) <= set(SIGNS)
        assert label != UNUSED or not condition.signs
        count.update(condition.signs)
        count[label] += 1
    for sign in SIGNS:
        assert 0.005 < count[sign] / draws < 0.14, sign
    for label, share in LABEL_SHARES.items():
        assert count[label] / draws == pytest.approx(share, abs=0.06)


def test_bridge_reaches_the_strap():
    shape = draw_shape(np.random.default_rng(2), "train")
    for seed in range(400):
        condition = draw_condition(np.random.default_rng(seed), "oil-fouled")
        if "bridged" in condition.signs:
            break
    plug = build_geometry(shape, 0.4)
    before = plug.points[plug.zone == Zone.ELECTRODE, 2].max()
    rng = np.random.default_rng(0)
    mesh, _ = coat(plug, condition, draw_shell(rng), rng, rng)
    assert mesh.points[plug.zone == Zone.ELECTRODE, 2].max() > before + 0.8 * shape.gap
