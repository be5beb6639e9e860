"""Answers as numbers: places in ``labels.LABELS``, as the measures take them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firingend.evaluation.judging import Answer
from firingend.evaluation.metrics import NO_LABEL
from firingend.labels import LABELS

Codes = NDArray[np.int64]


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


def first_guesses(answers: Sequence[Answer]) -> Codes:
    """The likeliest label whether or not it was given out, (n,); ``NO_LABEL`` where nothing was found."""
    guesses = [
        int(np.argmax([a.reading.probabilities[label] for label in LABELS])) if a.reading else NO_LABEL
        for a in answers
    ]
    return np.array(guesses, np.int64)
