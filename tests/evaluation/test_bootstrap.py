"""Intervals: coverage by simulation, the exact limit against scipy, groups drawn whole."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from firingend.evaluation.bootstrap import Resampling, interval
from firingend.evaluation.metrics import share


def _rows(right):
    return np.stack([right, np.ones_like(right)], axis=1).astype(float)


def test_the_interval_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(0)
    held = 0
    for trial in range(200):
        right = rng.random(120) < 0.8
        measure = Resampling([str(i) for i in range(120)], 300, trial).measure(_rows(right), share)
        held += measure.low <= 0.8 <= measure.high
    assert held / 200 == pytest.approx(0.95, abs=0.045)


def test_groups_are_drawn_whole_so_alike_photographs_widen_the_interval():
    rng = np.random.default_rng(1)
    of_engine = rng.random(30) < 0.6
    right = np.repeat(of_engine, 10)
    groups = [str(i // 10) for i in range(300)]
    by_engine = Resampling(groups).measure(_rows(right), share)
    by_photo = Resampling([str(i) for i in range(300)]).measure(_rows(right), share)
    assert (by_engine.high - by_engine.low) > 2.5 * (by_photo.high - by_photo.low)
    assert (by_engine.count, by_engine.groups) == (300, 30)


@pytest.mark.parametrize("value", [0.0, 1.0])
def test_without_any_spread_the_exact_binomial_limit_stands_in(value):
    measure = interval(value, np.full(100, value), 40, 16)
    exact = binomtest(int(16 * value), 16).proportion_ci(0.95, method="exact")
    assert (measure.low, measure.high) == pytest.approx((exact.low, exact.high))


def test_one_group_has_no_interval():
    measure = Resampling(["a", "a", "a"]).measure(_rows(np.array([1.0, 0.0, 1.0])), share)
    assert measure.value == pytest.approx(2 / 3)
    assert np.isnan(measure.low)
    assert np.isnan(measure.high)


def test_same_seed_same_interval():
    right = np.random.default_rng(2).random(50) < 0.7
    groups = [str(i % 20) for i in range(50)]
    one, same, other = (Resampling(groups, seed=seed).measure(_rows(right), share) for seed in (4, 4, 5))
    assert one == same
    assert one != other


def test_weights_are_the_draws_behind_the_measure():
    rng = np.random.default_rng(3)
    groups, right = [str(g) for g in rng.integers(0, 9, 40)], rng.random(40) < 0.7
    drawn = Resampling(groups, 500, 1)
    weights = drawn.weights()
    values = (weights * right).sum(axis=1) / weights.sum(axis=1)
    measure = drawn.measure(_rows(right), share)
    assert (measure.low, measure.high) == pytest.approx(tuple(np.quantile(values, [0.025, 0.975])))


def test_items_that_add_nothing_are_not_counted():
    rows = _rows(np.array([1.0, 0.0, 1.0]))
    rows[2] = 0
    measure = Resampling(["a", "b", "c"]).measure(rows, share)
    assert (measure.value, measure.count, measure.groups) == (0.5, 2, 2)
