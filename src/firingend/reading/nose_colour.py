"""What the measured colour of a nose says by itself: pale, tan or black.

A reader that learned from rendered plugs goes by much that photographs do not share. The colour of the nose, measured
under its mask after neutral balance, is what the trade names the dry labels by: so it has a say of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from firingend.labels import CERAMIC, FACTS, LABELS
from firingend.reading.probabilities import Floats, softmax
from firingend.reading.reading import Lab

TERMS: Final = 10
"""Length of what `terms` gives: a constant, the three coordinates, and their products two by two."""

_MIDDLE: Final = (50.0, 5.0, 8.0)  # about the middle of the noses seen, and how far they spread: terms of one size
_SPREAD: Final = (25.0, 10.0, 10.0)
_FARTHEST: Final = 3.0  # spreads from the middle; beyond, in the light of a coloured lamp, a square would run away
_LEAST: Final = 1e-4  # of a ceramic by colour: no measured colour rules one out altogether

_DRY: Final = {label: carries for label, (carries, covered_by) in FACTS.items() if carries and covered_by == "dry"}


def terms(lab: ArrayLike) -> Floats:
    """The terms of a quadratic in L*, a*, b*.

    Parameters
    ----------
    lab
        (n, 3).

    Returns
    -------
    (n, 10).
    """
    scaled = (np.asarray(lab, dtype=np.float64) - _MIDDLE) / _SPREAD
    lightness, a, b = np.clip(scaled, -_FARTHEST, _FARTHEST).T
    one = np.ones_like(lightness)
    products = (lightness**2, a**2, b**2, lightness * a, lightness * b, a * b)
    return np.stack((one, lightness, a, b, *products), axis=-1)


def ceramic_by_colour(lab: Lab, coefficients: Mapping[str, Sequence[float]]) -> Floats:
    """Probabilities (3,) of `labels.CERAMIC`, all taken to be equally common, from the colour of a nose.

    Parameters
    ----------
    lab
        Median L*, a*, b* (D65) of the nose.
    coefficients
        Of the terms, for each ceramic.
    """
    shares = softmax(terms([lab]) @ np.array([coefficients[name] for name in CERAMIC]).T)[0]
    shares = np.maximum(shares, _LEAST)
    return np.asarray(shares / shares.sum(), dtype=np.float64)


def with_colour(labels: Floats, ceramic: Floats, weight: float) -> Floats:
    """Probabilities of the labels once colour has had its say among the dry ones.

    What covers a nose, fuel or oil, colour does not tell: the dry labels together stay as probable as they were.

    Parameters
    ----------
    labels
        (5,) of `LABELS`.
    ceramic
        (3,) of `CERAMIC`, by colour.
    weight
        Exponent of the colour's say; 0 leaves all as it is.
    """
    rows = [LABELS.index(label) for label in _DRY]
    said = ceramic[[CERAMIC.index(carries) for carries in _DRY.values()]] ** weight
    result = labels.copy()
    weighed = labels[rows] * said
    if weighed.sum() > 0:
        result[rows] = weighed * labels[rows].sum() / weighed.sum()
    return result
