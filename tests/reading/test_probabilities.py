"""Raw outputs become probabilities by arithmetic that can be checked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import special

from firingend.labels import LABELS
from firingend.reading.calibration import Calibration
from firingend.reading.probabilities import combine, log_softmax, sigmoid, softmax

logits = st.floats(-60, 60)


@given(arrays(float, (3, 5), elements=logits), st.floats(0.1, 10))
def test_softmax_and_sigmoid_equal_scipy(values, temperature):
    assert np.allclose(softmax(values, temperature), special.softmax(values / temperature, axis=-1))
    assert np.allclose(log_softmax(values, temperature), special.log_softmax(values / temperature, axis=-1))
    assert np.allclose(sigmoid(values, temperature), special.expit(values / temperature))


def test_extreme_logits_stay_finite():
    assert softmax([[1e4, -1e4]]).tolist() == [[1.0, 0.0]]
    assert sigmoid([-1e4, 1e4]).tolist() == [0.0, 1.0]


def facts_by_hand(ceramic, surface):
    return [surface[0] * ceramic[0], surface[0] * ceramic[1], surface[0] * ceramic[2], surface[1], surface[2]]


def test_two_facts_make_the_label():
    ceramic, surface = np.array([0.1, 0.7, 0.2]), np.array([0.5, 0.3, 0.2])
    only_facts = Calibration(blend=1.0)
    result = combine(np.zeros((1, 5)), np.log(ceramic)[None], np.log(surface)[None], only_facts)
    assert result[0] == pytest.approx(facts_by_hand(ceramic, surface))


def test_blend_is_geometric():
    five, ceramic, surface = np.array([0.4, 0.2, 0.2, 0.1, 0.1]), np.full(3, 1 / 3), np.array([0.6, 0.3, 0.1])
    result = combine(np.log(five), np.log(ceramic), np.log(surface), Calibration(blend=0.25))
    by_hand = np.array(facts_by_hand(ceramic, surface)) ** 0.25 * five**0.75
    assert result == pytest.approx(by_hand / by_hand.sum())
    assert combine(np.log(five), np.log(ceramic), np.log(surface), Calibration(blend=0.0)) == pytest.approx(five)


def test_prior_replaces_the_one_trained_on():
    five = np.array([0.4, 0.2, 0.2, 0.1, 0.1])
    trained = dict(zip(LABELS, (0.5, 0.2, 0.1, 0.1, 0.1), strict=True))
    stated = dict(zip(LABELS, (0.1, 0.4, 0.3, 0.1, 0.1), strict=True))
    result = combine(np.log(five), np.zeros(3), np.zeros(3), Calibration({}, 0.0, trained, stated))
    by_hand = five / list(trained.values()) * list(stated.values())
    assert result == pytest.approx(by_hand / by_hand.sum())


@given(
    arrays(float, (4, 5), elements=logits),
    arrays(float, (4, 3), elements=logits),
    arrays(float, (4, 3), elements=logits),
    st.floats(0, 1),
    st.floats(0.2, 5),
)
def test_always_probabilities_and_inputs_untouched(five, ceramic, surface, blend, temperature):
    before = five.copy(), ceramic.copy(), surface.copy()
    settings = Calibration(dict.fromkeys(("five", "ceramic", "surface"), temperature), blend)
    result = combine(five, ceramic, surface, settings)
    assert result.shape == (4, 5)
    assert (result >= 0).all() and np.allclose(result.sum(axis=-1), 1)
    assert all(np.array_equal(a, b) for a, b in zip(before, (five, ceramic, surface), strict=True))


@given(arrays(float, (1, 5), elements=logits), st.floats(0.2, 5))
def test_temperature_alone_never_changes_the_first_choice(five, temperature):
    settings = Calibration({"five": temperature}, blend=0.0)
    result = combine(five, np.zeros((1, 3)), np.zeros((1, 3)), settings)
    assert result[0, five.argmax()] == result.max()
