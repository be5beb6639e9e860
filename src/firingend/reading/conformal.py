"""Sets of labels that hold the right one with a stated probability."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike


def conformal_limit(right_probabilities: ArrayLike, miss: float) -> float:
    """Score up to which a label belongs to the set (split conformal prediction, least ambiguous sets).

    The score of a label is one minus its probability; the limit is the k-th smallest score of the right labels,
    k = ceil((n + 1)(1 - miss)). The promise is on average over exchangeable pictures, not for each engine.

    Parameters
    ----------
    right_probabilities
        (n,) probability given to the right label of each picture kept apart.
    miss
        Share of sets that may miss the right label, 0..1.

    Returns
    -------
    float
        In 0..1; 1, which admits every label, when there are too few pictures for the promise.

    References
    ----------
    Angelopoulos & Bates 2021, "A gentle introduction to conformal prediction"; Sadinle, Lei & Wasserman 2019.

    Examples
    --------
    >>> round(conformal_limit([p / 20 for p in range(1, 20)], 0.1), 6)
    0.9
    """
    scores = np.sort(1.0 - np.asarray(right_probabilities, dtype=np.float64))
    rank = conformal_rank(len(scores), miss)
    return 1.0 if rank > len(scores) else float(scores[rank - 1])


def conformal_rank(pictures: int, miss: float) -> int:
    """Rank, from 1, of the score that becomes the limit.

    Examples
    --------
    >>> [conformal_rank(n, 0.1) for n in (19, 99, 1000)]
    [18, 90, 901]
    """
    return math.ceil(round((pictures + 1) * (1 - miss), 9))  # rounded: 0.9 * 20 must not become 19


def label_set(probabilities: Mapping[str, float], limit: float) -> tuple[str, ...]:
    """Labels whose score is within the limit, likeliest first; the likeliest is always one of them.

    Where fewer likeliest labels are wrong than sets may miss, the rule alone leaves sets empty. A label more can only
    make a set hold the right one more often.

    Examples
    --------
    >>> label_set({"wet": 0.3, "oil-fouled": 0.65, "normal-tan": 0.05}, 0.8)
    ('oil-fouled', 'wet')
    >>> label_set({"wet": 0.3, "oil-fouled": 0.65, "normal-tan": 0.05}, 0.1)
    ('oil-fouled',)
    """
    falling = sorted(probabilities, key=lambda label: -probabilities[label])
    return tuple(label for i, label in enumerate(falling) if i == 0 or 1.0 - probabilities[label] <= limit)
