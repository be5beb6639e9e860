"""Measures of right and wrong, computed from a confusion table.

A table has a row for each true label (``labels.LABELS``) and a column for each thing said: the five labels, then
"no label" (unreadable or not found). Every function takes tables of shape (..., 5, 6) and returns (...,), so that a
thousand resampled tables cost one call.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.labels import LABELS

Floats = NDArray[np.float64]

NO_LABEL: Final = len(LABELS)
"""Column of everything that is not one of the five labels."""

CELLS: Final = len(LABELS) * (len(LABELS) + 1)


def one_hot_cells(truth: NDArray[np.int64], said: NDArray[np.int64]) -> Floats:
    """The cell of the confusion table each plug falls into, as rows that add up to the flattened table.

    Parameters
    ----------
    truth
        (n,), 0..4.
    said
        (n,), 0..4, or 5 for no label.

    Returns
    -------
    (n, 30).
    """
    rows = np.zeros((len(truth), CELLS))
    rows[np.arange(len(truth)), truth * (len(LABELS) + 1) + said] = 1
    return rows


def confusion(truth: NDArray[np.int64], said: NDArray[np.int64]) -> Floats:
    """Counts (5, 6) of true label against what was said.

    Examples
    --------
    >>> confusion(np.array([0, 0]), np.array([0, 5]))[0].tolist()
    [1.0, 0.0, 0.0, 0.0, 0.0, 1.0]
    """
    return as_table(one_hot_cells(truth, said).sum(axis=0))


def as_table(totals: Floats) -> Floats:
    """Flattened tables (..., 30) as tables (..., 5, 6)."""
    return totals.reshape(*totals.shape[:-1], len(LABELS), len(LABELS) + 1)


def recalls(table: Floats) -> Floats:
    """Share of each label's plugs that were called by it, (..., 5); NaN for a label that is not there."""
    right = np.diagonal(table, axis1=-2, axis2=-1)
    return _ratio(right, table.sum(axis=-1))


def balanced_accuracy(table: Floats) -> Floats:
    """Mean recall over the labels that are there; a plug without a label counts as wrong."""
    return _mean_of_present(recalls(table))


def macro_f1(table: Floats) -> Floats:
    """Mean over the labels that are there of 2·right / (true + said); no label counts against recall alone."""
    right = np.diagonal(table, axis1=-2, axis2=-1)
    true = table.sum(axis=-1)
    said = table[..., :NO_LABEL].sum(axis=-2)
    return _mean_of_present(np.where(true > 0, _ratio(2 * right, true + said), np.nan))


def answered(table: Floats) -> Floats:
    """The table of those plugs that were given a label."""
    kept = np.array(table)
    kept[..., NO_LABEL] = 0
    return kept


def refused_share(table: Floats) -> Floats:
    """Share of plugs without a label."""
    return _ratio(table[..., NO_LABEL].sum(axis=-1), table.sum(axis=(-2, -1)))


def accuracy(table: Floats) -> Floats:
    """Share of plugs called by their label."""
    return _ratio(np.trace(table, axis1=-2, axis2=-1), table.sum(axis=(-2, -1)))


def error_among_answered(table: Floats) -> Floats:
    """Share of the labels given that are wrong."""
    result: Floats = 1 - accuracy(answered(table))
    return result


def share(totals: Floats) -> Floats:
    """First of two totals (..., 2) over the second; NaN over nothing."""
    return _ratio(totals[..., 0], totals[..., 1])


def _ratio(above: Floats, below: Floats) -> Floats:
    result: Floats = np.divide(above, below, out=np.full(np.shape(above), np.nan), where=below > 0)
    return result


def _mean_of_present(values: Floats) -> Floats:
    present = ~np.isnan(values)
    return _ratio(np.where(present, values, 0).sum(axis=-1), present.sum(axis=-1))
