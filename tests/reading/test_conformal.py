"""Rank, limit and coverage of label sets."""

from __future__ import annotations

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


def test_coverage_follows_its_beta_law():
    # Coverage over calibration sets of n exchangeable scores is Beta(k, n + 1 - k): n = 100, k = 91.
    # The law is stated in later literature; mean 0.9010 and deviation 0.0296 are worked from it.
    law = stats.beta(91, 10)
    assert (law.mean(), law.std()) == (pytest.approx(0.9010, abs=1e-4), pytest.approx(0.0296, abs=1e-4))
    rng = np.random.default_rng(3)
    covered = [conformal_limit(1 - rng.random(100), 0.1) for _ in range(4000)]  # uniform: limit is coverage
    assert stats.kstest(covered, law.cdf).pvalue > 0.01
