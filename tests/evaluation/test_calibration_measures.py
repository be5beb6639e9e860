"""Calibration measures against a worked example, scikit-learn and, for the curves, a plain second way."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import brier_score_loss
from sklearn.metrics import log_loss as sklearn_log_loss

from firingend.evaluation import calibration_measures as cal

# Definition: Naeini, Cooper & Hauskrecht 2015 (AAAI); Guo et al. 2017 (ICML) eq. 3. The ten numbers and the results
# are an own example, on which two general-purpose calibration libraries agree.
CONFIDENCE = np.array([0.95, 0.92, 0.97, 0.85, 0.81, 0.75, 0.72, 0.65, 0.55, 0.52])
RIGHT = np.array([1, 1, 1, 1, 0, 1, 0, 1, 0, 1], bool)


@pytest.fixture
def probabilities():
    rng = np.random.default_rng(3)
    return rng.dirichlet(np.ones(5), 200), rng.integers(0, 5, 200)


def test_worked_example_of_ece_and_mce():
    totals = cal.binned(CONFIDENCE, RIGHT, bins=10).sum(axis=0)
    assert cal.expected_calibration_error(totals) == pytest.approx(0.171, abs=1e-9)
    assert cal.maximum_calibration_error(totals) == pytest.approx(0.35, abs=1e-9)


def test_bins_are_closed_on_the_right_and_hold_the_ends():
    confidence = np.array([0.0, 0.1, 0.2, 0.6, 1.0])
    table = cal.as_bins(cal.binned(confidence, np.ones(5, bool), bins=10).sum(axis=0))
    assert table[:, 0].tolist() == [2, 1, 0, 0, 0, 1, 0, 0, 0, 1]


def test_perfectly_calibrated_bins_have_no_error():
    confidence = np.full(4, 0.75)
    totals = cal.binned(confidence, np.array([True, True, True, False])).sum(axis=0)
    assert cal.expected_calibration_error(totals) == pytest.approx(0)


def test_brier_is_sklearns(probabilities):
    p, truth = probabilities
    assert cal.brier(p, truth).mean() == pytest.approx(brier_score_loss(truth, p))


def test_log_loss_is_sklearns(probabilities):
    p, truth = probabilities
    assert cal.log_loss(p, truth).mean() == pytest.approx(sklearn_log_loss(truth, p))


def test_another_prior_is_bayes_rule(probabilities):
    p, _ = probabilities
    old, new = np.array([0.1, 0.2, 0.3, 0.2, 0.2]), np.array([0.5, 0.1, 0.1, 0.2, 0.1])
    there = cal.with_prior(p, np.tile(old, (len(p), 1)), new)
    assert there.sum(axis=1) == pytest.approx(1)
    assert there[:, 0] / there[:, 1] == pytest.approx(p[:, 0] / p[:, 1] * (new[0] / new[1]) * (old[1] / old[0]))
    back = cal.with_prior(there, np.tile(new, (len(p), 1)), old)
    assert back == pytest.approx(p)


def test_risk_coverage_is_the_error_of_every_most_confident_part():
    rng = np.random.default_rng(5)
    confidence, wrong = rng.random(50), rng.random(50) < 0.3
    coverage, risk = cal.risk_coverage(confidence, wrong)
    for share, value in zip(coverage, risk, strict=True):
        kept = np.argsort(-confidence)[: round(share * 50)]
        assert value == pytest.approx(wrong[kept].mean())
    assert cal.area_under_risk_coverage(confidence, wrong) == pytest.approx(risk.mean())


def test_ties_do_not_depend_on_the_order_of_the_set():
    confidence, wrong = np.array([0.9, 0.5, 0.5, 0.5]), np.array([False, True, False, False])
    _, one = cal.risk_coverage(confidence, wrong)
    _, other = cal.risk_coverage(confidence[::-1], wrong[::-1])
    assert one == pytest.approx(other)


def test_weights_count_an_answer_more_than_once():
    rng = np.random.default_rng(6)
    confidence, wrong = rng.permutation(np.linspace(0, 1, 30)), rng.random(30) < 0.3
    times = rng.integers(0, 4, 30)
    # Repeating an answer spreads it over several places of the curve, with the same risk after the last of them.
    order = np.argsort(-confidence)
    seen = np.cumsum(times[order])
    expected = (times[order] * np.cumsum((times * wrong)[order]) / np.maximum(seen, 1)).sum() / times.sum()
    weighted = cal.area_under_risk_coverage(confidence, wrong, times.astype(float))
    assert weighted == pytest.approx(expected)


def test_coverage_at_risk_takes_the_last_crossing():
    coverage, risk = np.array([0.25, 0.5, 0.75, 1.0]), np.array([0.0, 0.1, 0.02, 0.2])
    assert cal.coverage_at_risk(coverage, risk, 0.02) == 0.75
    assert cal.coverage_at_risk(coverage, risk + 1, 0.02) == 0.0


def test_nothing_at_all():
    none, no_truth = np.zeros(0), np.zeros(0, bool)
    assert np.isnan(cal.area_under_risk_coverage(none, no_truth))
    assert np.isnan(cal.expected_calibration_error(cal.binned(none, no_truth).sum(axis=0)))
