"""Whether the probabilities can be believed: calibration error, Brier score, risk against coverage."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BINS: Final = 15
"""Guo et al. 2017, "On calibration of modern neural networks" (ICML), equation 3 with M = 15."""


def binned(confidence: Floats, right: NDArray[np.bool_], bins: int = BINS) -> Floats:
    """What each answer adds to the bins of a reliability diagram.

    Parameters
    ----------
    confidence
        (n,), 0..1.
    right
        (n,), whether the answer was right.
    bins
        Number of bins of equal width, closed on the right; the first one also holds 0.

    Returns
    -------
    (n, bins · 3): count, confidence, right of its own bin. Sums of rows are what the measures below take.
    """
    # To the ninth decimal first: 0.6 · 10 is 6.000…1 in floating point and must stay in its bin.
    index = np.clip(np.ceil(np.round(confidence * bins, 9)).astype(np.int64) - 1, 0, bins - 1)
    rows = np.zeros((len(confidence), bins, 3))
    rows[np.arange(len(confidence)), index] = np.stack([np.ones_like(confidence), confidence, right], axis=1)
    return rows.reshape(len(confidence), bins * 3)


def as_bins(totals: Floats) -> Floats:
    """Flat totals (..., bins · 3) as (..., bins, 3): count, sum of confidence, number right."""
    return totals.reshape(*totals.shape[:-1], -1, 3)


def expected_calibration_error(totals: Floats) -> Floats:
    """Mean over the answers of the gap between confidence and accuracy of their bin (ECE).

    Parameters
    ----------
    totals
        (..., bins · 3), sums of rows of `binned`.

    References
    ----------
    Naeini, Cooper & Hauskrecht 2015 (AAAI); Guo et al. 2017 (ICML), equation 3.
    """
    table = as_bins(totals)
    gaps = np.abs(table[..., 1] - table[..., 2]).sum(axis=-1)
    count = table[..., 0].sum(axis=-1)
    result: Floats = np.divide(gaps, count, out=np.full(np.shape(gaps), np.nan), where=count > 0)
    return result


def maximum_calibration_error(totals: Floats) -> Floats:
    """The largest gap between confidence and accuracy of a bin that holds any answer (MCE)."""
    table = as_bins(totals)
    count = table[..., 0]
    gaps = np.abs(table[..., 1] - table[..., 2]) / np.maximum(count, 1e-300)
    result: Floats = np.where(count > 0, gaps, 0).max(axis=-1)
    return result


def brier(probabilities: Floats, truth: NDArray[np.int64]) -> Floats:
    """Brier score of each answer, summed over the classes, 0..2 (Brier 1950).

    Examples
    --------
    >>> brier(np.array([[1.0, 0.0], [0.5, 0.5]]), np.array([0, 0])).tolist()
    [0.0, 0.5]
    """
    target = np.eye(probabilities.shape[1])[truth]
    result: Floats = np.square(probabilities - target).sum(axis=1)
    return result


def log_loss(probabilities: Floats, truth: NDArray[np.int64]) -> Floats:
    """Negative natural logarithm of the probability given to the truth, for each answer."""
    given = probabilities[np.arange(len(truth)), truth]
    result: Floats = -np.log(np.maximum(given, np.finfo(np.float64).tiny))
    return result


def with_prior(probabilities: Floats, prior: Floats, new: Floats) -> Floats:
    """Probabilities under another prior: the old one divided out, the new one multiplied in.

    Parameters
    ----------
    probabilities, prior
        (n, 5), and what was taken to be how common behind each row.
    new
        (5,).

    Examples
    --------
    >>> with_prior(np.array([[0.8, 0.2]]), np.array([[0.8, 0.2]]), np.array([0.5, 0.5])).tolist()
    [[0.5, 0.5]]
    """
    weighed = probabilities / prior * new
    result: Floats = weighed / weighed.sum(axis=1, keepdims=True)
    return result


def risk_coverage(confidence: Floats, wrong: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Error among the most confident answers, as more and more are let through.

    Parameters
    ----------
    confidence, wrong
        (n,).

    Returns
    -------
    coverage, risk
        (n,) each: share of answers let through, 1/n … 1, and share of wrong ones among them. Answers of equal
        confidence share their errors evenly, so that their order in the set does not matter.

    References
    ----------
    El-Yaniv & Wiener 2010, "On the foundations of noise-free selective classification" (JMLR 11).

    Examples
    --------
    >>> coverage, risk = risk_coverage(np.array([0.9, 0.5, 0.7, 0.8]), np.array([False, True, False, True]))
    >>> risk.round(3).tolist()
    [0.0, 0.5, 0.333, 0.5]
    """
    order, errors = _by_confidence(confidence, wrong)
    seen = np.arange(1, len(order) + 1)
    return seen / len(order), np.cumsum(errors) / seen


def area_under_risk_coverage(confidence: Floats, wrong: NDArray[np.bool_], weights: Floats | None = None) -> Floats:
    """Mean of the risk over all coverages (AURC); the smaller the better.

    Parameters
    ----------
    confidence, wrong
        (n,).
    weights
        (..., n): how often each answer counts; once each without it.

    Returns
    -------
    (...,), NaN where nothing counts.

    References
    ----------
    Geifman, Uziel & El-Yaniv 2019, "Bias-reduced uncertainty estimation for deep neural classifiers" (ICLR).
    """
    order, errors = _by_confidence(confidence, wrong)
    times = np.ones(len(order)) if weights is None else weights[..., order]
    seen = np.cumsum(times, axis=-1)
    risk = np.cumsum(times * errors, axis=-1) / np.maximum(seen, 1e-300)
    count = times.sum(axis=-1)
    area = (risk * times).sum(axis=-1)
    result: Floats = np.divide(area, count, out=np.full(np.shape(area), np.nan), where=count > 0)
    return result


def coverage_at_risk(coverage: Floats, risk: Floats, most: float) -> float:
    """Largest coverage at which the risk is still at most ``most``; 0 when there is none."""
    allowed = np.flatnonzero(risk <= most)
    return float(coverage[allowed[-1]]) if len(allowed) else 0.0


def _by_confidence(confidence: Floats, wrong: NDArray[np.bool_]) -> tuple[NDArray[np.int64], Floats]:
    """Most confident first, and their errors, shared evenly among ties."""
    order = np.argsort(-confidence, kind="stable")
    errors = wrong[order].astype(np.float64)
    _, tie = np.unique(-confidence[order], return_inverse=True)
    if len(order) == 0:
        return order, errors
    return order, (np.bincount(tie, errors) / np.bincount(tie))[tie]
