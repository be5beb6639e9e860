"""From the reader's raw outputs to probabilities of the five labels."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from firingend.labels import CERAMIC, FACTS, LABELS, SURFACE
from firingend.reading.calibration import Calibration

Floats = NDArray[np.float64]


def log_softmax(logits: ArrayLike, temperature: float = 1.0) -> Floats:
    """Logarithms of the softmax over the last axis, of logits divided by the temperature."""
    scaled = np.asarray(logits, dtype=np.float64) / temperature
    shifted = scaled - scaled.max(axis=-1, keepdims=True)
    result: Floats = shifted - np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return result


def softmax(logits: ArrayLike, temperature: float = 1.0) -> Floats:
    """Probabilities over the last axis.

    Examples
    --------
    >>> softmax([0.0, 0.0]).tolist()
    [0.5, 0.5]
    """
    return np.exp(log_softmax(logits, temperature))


def sigmoid(logits: ArrayLike, temperature: float = 1.0) -> Floats:
    """Probability of each sign by itself; same shape as the logits."""
    # Through tanh: exp would overflow on large negative logits.
    result: Floats = 0.5 + 0.5 * np.tanh(np.asarray(logits, dtype=np.float64) / (2 * temperature))
    return result


def combine(
    five_logits: ArrayLike, ceramic_logits: ArrayLike, surface_logits: ArrayLike, settings: Calibration
) -> Floats:
    """Probability of each label from the five-way output and the two facts behind a label.

    The two facts give a second opinion: ``wet`` is a film, ``oil-fouled`` a gloss that stays, and a dry surface
    leaves the label to what the ceramic carries (pale, tan, black). The opinions are blended as logarithms; the
    share of labels trained on is divided out and the stated prior multiplied in.

    Parameters
    ----------
    five_logits, ceramic_logits, surface_logits
        (n, 5), (n, 3), (n, 3), in the order of `LABELS`, `CERAMIC`, `SURFACE`.
    settings
        Temperatures, blend and priors.

    Returns
    -------
    (n, 5), rows summing to 1.
    """
    five = log_softmax(five_logits, settings.temperature("five"))
    ceramic = log_softmax(ceramic_logits, settings.temperature("ceramic"))
    surface = log_softmax(surface_logits, settings.temperature("surface"))

    facts = np.empty_like(five)
    for label, (carries, covered_by) in FACTS.items():
        facts[..., LABELS.index(label)] = surface[..., SURFACE.index(covered_by)]
        if carries:
            facts[..., LABELS.index(label)] += ceramic[..., CERAMIC.index(carries)]

    blended = settings.blend * facts + (1 - settings.blend) * five
    shift = [np.log(settings.prior[label]) - np.log(settings.prior_train[label]) for label in LABELS]
    return softmax(blended + shift)
