"""Where two faults meet: noisy-OR and its extension to more than two outcomes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firingend.diagnosis.terms import Mixed, NoisyOr, Tried

chances = st.floats(0.001, 0.999)


def test_noisy_or_with_a_leak_gives_the_worked_values():
    """Leak .02; rich .8, oil .6, coil .5. Own example, computed here."""
    soot = NoisyOr("soot", 1.0, 0.0, 0.02, np.array([0.8, 0.6, 0.5]), 0.3)
    assert soot.single() == pytest.approx([0.804, 0.608, 0.51])
    assert soot.neither()[0] == pytest.approx(0.02)
    assert soot.pair()[0, 1] == pytest.approx(1 - 0.98 * 0.2 * 0.4)
    # all three at once: 1 - .98 * .2 * .4 * .5
    assert 1 - (1 - soot.pair()[0, 1]) * 0.5 == pytest.approx(0.9608)


def rows(count: int, outcomes: int) -> st.SearchStrategy[np.ndarray]:
    return arrays(float, (count, outcomes), elements=st.floats(0.01, 1.0)).map(
        lambda x: x / x.sum(axis=1, keepdims=True)
    )


@given(rows(5, 4), st.lists(st.booleans(), min_size=4, max_size=4))
def test_mixed_pairs_are_distributions_and_symmetric(table, relevant):
    flags = np.array(relevant)
    total = np.zeros((4, 4))
    for outcome in range(4):
        seen = np.eye(4)[outcome]
        term = Mixed("x", seen, 0, table[:4], flags, table[4], table[4])
        pair = term.pair()
        assert np.allclose(pair, pair.T) and (pair > 0).all()
        total += pair
    assert np.allclose(total, 1.0)


@given(chances, chances)
def test_mixed_with_two_outcomes_is_noisy_or(first, second):
    table = np.array([[1 - first, first], [1 - second, second]])
    mixed = Mixed("x", np.array([0.0, 1.0]), 0, table, np.array([True, True]), table[0], table[0])
    noisy = NoisyOr("x", 1.0, 0.0, 0.0, np.array([first, second]), 0.5)
    assert mixed.pair()[0, 1] == pytest.approx(noisy.pair()[0, 1])


def test_a_fault_that_does_not_bear_on_a_check_leaves_the_other_alone():
    table = np.array([[0.1, 0.9], [0.5, 0.5]])
    term = Mixed("x", np.array([0.0, 1.0]), 0, table, np.array([True, False]), np.array([0.95, 0.05]), table[1])
    assert term.single() == pytest.approx([0.9, 0.05])
    assert term.pair()[0, 1] == pytest.approx(0.9)


def test_a_tried_repair_of_one_of_two_faults_seldom_cures():
    tried = Tried("x", np.array([True, False, False]), alone=0.95, one_of_two=0.03, missed=0.01)
    assert tried.pair()[0, 1] == 0.03 and tried.pair()[1, 2] == 0.01


def test_once_both_of_a_pair_are_repaired_no_change_speaks_against_the_pair():
    """Own check, computed here: otherwise the same two would be repaired over and over."""
    these, before = np.array([False, True, False]), np.array([True, False, False])
    tried = Tried("x", these, alone=0.03, one_of_two=0.55, missed=0.96, mended=before)
    pair = tried.pair()
    assert pair[0, 1] == 0.03, "both repaired now"
    assert pair[1, 2] == 0.55, "the other is still there"
    assert pair[0, 2] == 0.96, "not touched by this repair"
    again = Tried("x", these, 0.03, 0.55, 0.96, mended=these)
    assert again.pair()[1, 2] == 0.96, "repaired before: nothing new is expected of it"
