from __future__ import annotations

import numpy as np
import pytest
from skimage import data
from skimage.metrics import structural_similarity

from firingend.evaluation.corruptions import KINDS, SEVERITIES, STRETCH, corrupt
from firingend.photo.quality import laplacian_variance, luma_of


@pytest.fixture(scope="module")
def photo():
    return data.coffee()


@pytest.mark.parametrize("kind", KINDS)
def test_same_seed_same_picture_and_the_original_is_left_alone(kind, photo):
    before = photo.copy()
    first, second = corrupt(photo, kind, 3, 7), corrupt(photo, kind, 3, 7)
    assert first.dtype == np.uint8
    assert np.array_equal(first, second)
    assert np.array_equal(photo, before)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "aspect"])
def test_each_step_is_worse_than_the_one_before(kind, photo):
    likeness = [
        structural_similarity(photo, corrupt(photo, kind, severity, 1), channel_axis=2) for severity in SEVERITIES
    ]
    errors = [np.abs(corrupt(photo, kind, s, 1).astype(int) - photo).mean() for s in SEVERITIES]
    assert all(np.diff(errors) > 0)
    if kind != "colour cast":  # which leaves the structure alone
        assert all(np.diff(likeness) < 0)


def test_blur_takes_sharpness_away(photo):
    focus = [laplacian_variance(luma_of(corrupt(photo, "blur", severity, 0))) for severity in SEVERITIES]
    assert all(np.diff(focus) < 0)


def test_aspect_changes_one_side_by_the_stated_factor(photo):
    seen = set()
    for seed in range(8):
        spoilt = corrupt(photo, "aspect", 3, seed)
        ratios = photo.shape[1] / spoilt.shape[1], photo.shape[0] / spoilt.shape[0]
        assert max(ratios) == pytest.approx(STRETCH[2], rel=0.01)
        assert min(ratios) == 1
        seen.add(ratios.index(max(ratios)))
    assert seen == {0, 1}


@pytest.mark.parametrize("kind", ["exposure", "colour cast"])
def test_both_directions_occur_and_a_seed_keeps_its_own(kind, photo):
    def change(severity, seed):
        spoilt = corrupt(photo, kind, severity, seed).reshape(-1, 3).mean(axis=0)
        plain = photo.reshape(-1, 3).mean(axis=0)
        if kind == "exposure":
            return np.sign(spoilt.mean() - plain.mean())
        return np.sign(spoilt[0] / spoilt[2] - plain[0] / plain[2])

    first = [change(1, seed) for seed in range(12)]
    assert set(first) == {-1.0, 1.0}
    assert first == [change(4, seed) for seed in range(12)]


def test_exposure_is_a_gain_in_linear_light():
    grey = np.full((4, 4, 3), 100, np.uint8)
    darker = next(c for seed in range(9) if (c := corrupt(grey, "exposure", 2, seed))[0, 0, 0] < 100)
    # sRGB 100 is 0.12744 in linear light; one stop less is 0.06372, sRGB 71 (IEC 61966-2-1 formula)
    assert np.unique(darker).tolist() == [71]


def test_a_larger_photograph_is_blurred_as_much_for_its_size(photo):
    large = photo.repeat(2, axis=0).repeat(2, axis=1)
    spoilt = corrupt(large, "blur", 3, 0)[::2, ::2].astype(int)
    assert np.abs(spoilt - corrupt(photo, "blur", 3, 0)).mean() < 2.5


def test_a_tiny_picture_survives_everything():
    tiny = np.full((2, 3, 3), 90, np.uint8)
    for kind in KINDS:
        assert corrupt(tiny, kind, 5, 0).size > 0


@pytest.mark.parametrize("severity", [0, 6])
def test_other_severities_are_refused(severity, photo):
    with pytest.raises(ValueError, match="severity"):
        corrupt(photo, "blur", severity, 0)
