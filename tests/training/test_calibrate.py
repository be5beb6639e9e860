"""Temperature, threshold and priors do what calibration promises."""

from __future__ import annotations

import numpy as np
import pytest
from firingend_training.calibrate import fit_temperature, threshold_for_error
from sklearn.calibration import CalibratedClassifierCV
from sklearn.frozen import FrozenEstimator
from sklearn.linear_model import LogisticRegression

from firingend.reading.probabilities import log_softmax


@pytest.fixture
def overconfident():
    rng = np.random.default_rng(5)
    targets = rng.integers(0, 4, 3000)
    logits = rng.normal(0, 1, (3000, 4))
    logits[np.arange(3000), targets] += 1.5
    return logits * 2.3, targets


def test_temperature_lowers_the_loss_and_keeps_the_choice(overconfident):
    logits, targets = overconfident
    fitted = fit_temperature(logits, targets)
    rows = np.arange(len(targets))
    assert fitted > 1.5
    assert log_softmax(logits, fitted)[rows, targets].mean() > log_softmax(logits)[rows, targets].mean()
    assert (log_softmax(logits, fitted).argmax(1) == logits.argmax(1)).all()


def test_temperature_equals_scikit_learns():
    # Reference library: scikit-learn's CalibratedClassifierCV(method="temperature"), whose beta_ is 1/T.
    rng = np.random.default_rng(0)
    x = rng.normal(0, 1, (2000, 3))
    y = (x @ np.array([[2.0, 0, 0], [0, 2, 0], [0, 0, 2]]) + rng.normal(0, 1.5, (2000, 3))).argmax(1)
    model = LogisticRegression(C=1e6).fit(x[:200], y[:200])
    model.coef_ = model.coef_ * 3.0
    reference = CalibratedClassifierCV(FrozenEstimator(model), method="temperature").fit(x[200:], y[200:])
    beta = reference.calibrated_classifiers_[0].calibrators[0].beta_
    assert fit_temperature(model.decision_function(x[200:]), y[200:]) == pytest.approx(1 / beta, rel=1e-3)


def test_threshold_keeps_the_stated_error():
    rng = np.random.default_rng(1)
    confidence = rng.uniform(0.2, 1, 5000)
    right = rng.uniform(size=5000) < confidence
    least = threshold_for_error(confidence, right, 0.05)
    assert (~right[confidence >= least]).mean() <= 0.05
    assert (confidence >= least).mean() > 0.02


def test_nothing_is_accepted_when_the_error_cannot_be_met():
    assert threshold_for_error(np.array([0.9, 0.8]), np.array([False, False]), 0.1) == 1.0
