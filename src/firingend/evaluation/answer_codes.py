"""Answers as numbers: places in ``labels.LABELS``, as the measures take them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firingend.evaluation.judging import Answer
from firingend.evaluation.metrics import NO_LABEL
from firingend.labels import LABELS

Codes = NDArray[np.int64]
Floats = NDArray[np.float64]


def codes(answers: Sequence[Answer]) -> tuple[Codes, Codes]:
    """True label and what was said, (n,) each; ``NO_LABEL`` for a plug refused or missed.

    Parameters
    ----------
    answers
        Of plugs whose truth is one of the five labels.
    """
    truth = np.array([LABELS.index(a.truth) for a in answers], np.int64)
    said = np.array([LABELS.index(a.said) if a.answered else NO_LABEL for a in answers], np.int64)
    return truth, said


def probabilities(answers: Sequence[Answer]) -> Floats:
    """Stated probabilities of those that were found, (m, 5)."""
    rows = [[a.reading.probabilities[label] for label in LABELS] for a in answers if a.reading]
    return np.array(rows, np.float64).reshape(-1, len(LABELS))


def priors(answers: Sequence[Answer]) -> Floats:
    """The prior behind each row of `probabilities`, (m, 5)."""
    equal = 1 / len(LABELS)
    rows = [[a.reading.prior.get(label, equal) for label in LABELS] for a in answers if a.reading]
    return np.array(rows, np.float64).reshape(-1, len(LABELS))


def first_guesses(answers: Sequence[Answer], *, equal_prior: bool = False) -> Codes:
    """The likeliest label whether or not it was given out, (n,); ``NO_LABEL`` where nothing was found.

    Parameters
    ----------
    equal_prior
        Divide the stated prior out first, which is what a set with as many plugs of each label asks for.
    """
    stated = probabilities(answers)
    if equal_prior:
        stated = stated / priors(answers)
    guesses = np.full(len(answers), NO_LABEL, np.int64)
    guesses[[a.reading is not None for a in answers]] = stated.argmax(axis=1)
    return guesses
