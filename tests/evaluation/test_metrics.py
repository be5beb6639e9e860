"""Measures against scikit-learn."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.metrics import accuracy_score, balanced_accuracy_score, confusion_matrix, f1_score, recall_score

from firingend.evaluation import metrics


@pytest.fixture(params=range(5))
def said_and_true(request):
    rng = np.random.default_rng(request.param)
    truth = rng.integers(0, 5, 300)
    said = np.where(rng.random(300) < 0.7, truth, rng.integers(0, 6, 300))
    return truth, said


def test_the_table_is_sklearns_confusion_matrix(said_and_true):
    truth, said = said_and_true
    expected = confusion_matrix(truth, said, labels=range(6))[:5]
    assert np.array_equal(metrics.confusion(truth, said), expected)


def test_measures_with_refusals_as_wrong_are_sklearns(said_and_true):
    truth, said = said_and_true
    table = metrics.confusion(truth, said)
    labels = list(range(5))
    assert metrics.accuracy(table) == pytest.approx(accuracy_score(truth, said))
    assert metrics.recalls(table) == pytest.approx(recall_score(truth, said, labels=labels, average=None))
    assert metrics.balanced_accuracy(table) == pytest.approx(recall_score(truth, said, labels=labels, average="macro"))
    assert metrics.macro_f1(table) == pytest.approx(f1_score(truth, said, labels=labels, average="macro"))


def test_measures_among_answered_are_sklearns_on_the_answered(said_and_true):
    truth, said = said_and_true
    given = said < 5
    table = metrics.answered(metrics.confusion(truth, said))
    assert metrics.balanced_accuracy(table) == pytest.approx(balanced_accuracy_score(truth[given], said[given]))
    assert metrics.macro_f1(table) == pytest.approx(f1_score(truth[given], said[given], average="macro"))
    error = metrics.error_among_answered(metrics.confusion(truth, said))
    assert error == pytest.approx(1 - accuracy_score(truth[given], said[given]))


def test_a_label_that_is_not_in_the_set_counts_for_nothing():
    truth, said = np.array([0, 0, 1, 1]), np.array([0, 2, 1, 1])
    table = metrics.confusion(truth, said)
    assert metrics.balanced_accuracy(table) == pytest.approx(recall_score(truth, said, labels=[0, 1], average="macro"))
    assert metrics.macro_f1(table) == pytest.approx(f1_score(truth, said, labels=[0, 1], average="macro"))
    assert np.isnan(metrics.recalls(table)[2:]).all()


def test_many_tables_at_once_give_what_each_gives():
    tables = np.random.default_rng(1).integers(0, 9, (7, 5, 6)).astype(float)
    for measure in (metrics.balanced_accuracy, metrics.macro_f1, metrics.refused_share, metrics.error_among_answered):
        assert measure(tables) == pytest.approx([float(measure(table)) for table in tables])


def test_nothing_at_all_is_not_a_number():
    table = np.zeros((5, 6))
    assert np.isnan(metrics.balanced_accuracy(table))
    assert np.isnan(metrics.refused_share(table))


def test_refused_share_counts_the_last_column():
    table = np.zeros((5, 6))
    table[0, 0], table[1, 5] = 3, 1
    assert metrics.refused_share(table) == 0.25
