"""Rank, limit and coverage of label sets."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

from firingend.reading.conformal import conformal_limit, conformal_rank, label_set


@pytest.mark.parametrize(("pictures", "rank"), [(19, 18), (99, 90), (1000, 901)])
def test_rank_is_that_of_the_published_rule(pictures, rank):
    # Angelopoulos & Bates 2021: k = ceil((n + 1)(1 - alpha)); worked by hand for alpha = 0.1.
    assert conformal_rank(pictures, 0.1) == rank


def test_limit_is_a_score_of_the_sample_and_not_the_next_one_up():
    right = np.random.default_rng(1).permutation(1 - np.arange(1, 20) / 20)
    assert conformal_limit(right, 0.1) == pytest.approx(18 / 20)


def test_too_few_pictures_admit_every_label():
    limit = conformal_limit([0.9] * 5, 0.1)
    assert limit == 1.0
    assert label_set({"wet": 0.0, "normal-tan": 1.0}, limit) == ("normal-tan", "wet")


def test_the_likeliest_label_is_in_every_set():
    even = {"wet": 0.4, "oil-fouled": 0.35, "normal-tan": 0.25}
    assert label_set(even, 0.0) == ("wet",)
    assert label_set(even, 0.65) == ("wet", "oil-fouled")
    rng = np.random.default_rng(11)
    for probabilities in rng.dirichlet(np.full(5, 0.4), 200):
        named = dict(zip("abcde", probabilities, strict=True))
        sets = [label_set(named, limit) for limit in (0.0, 0.2, 0.7, 1.0)]
        assert all(each[0] == max(named, key=named.get) for each in sets)
        assert all(set(smaller) <= set(larger) for smaller, larger in pairwise(sets))


def test_sets_hold_the_right_label_as_often_as_promised():
    # Labels drawn from the stated probabilities: sets fitted on one half must hold on the other.
    rng = np.random.default_rng(4)
    said = rng.dirichlet(np.full(5, 0.3), 8000)
    right = np.array([rng.choice(5, p=p) for p in said])
    limit = conformal_limit(said[np.arange(4000), right[:4000]], 0.1)
    held = [
        str(r) in label_set(dict(zip("01234", p, strict=True)), limit)
        for p, r in zip(said[4000:], right[4000:], strict=True)
    ]
    assert 0.89 <= np.mean(held) <= 0.92


def test_coverage_follows_its_beta_law():
    # Coverage over calibration sets of n exchangeable scores is Beta(k, n + 1 - k): n = 100, k = 91.
    # The law is stated in later literature; mean 0.9010 and deviation 0.0296 are worked from it.
    law = stats.beta(91, 10)
    assert (law.mean(), law.std()) == (pytest.approx(0.9010, abs=1e-4), pytest.approx(0.0296, abs=1e-4))
    rng = np.random.default_rng(3)
    covered = [conformal_limit(1 - rng.random(100), 0.1) for _ in range(4000)]  # uniform: limit is coverage
    assert stats.kstest(covered, law.cdf).pvalue > 0.01
