"""Fit temperatures and thresholds on the scenes kept apart from training."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from firingend.labels import LABELS
from firingend.reading.calibration import Calibration
from firingend.reading.conformal import conformal_limit
from firingend.reading.probabilities import combine, log_softmax, softmax
from firingend_training.networks import STATUS
from firingend_training.picture_store import NONE

STATED_PRIOR: Final = {
    "lean-white": 0.15,
    "normal-tan": 0.35,
    "rich-carbon": 0.27,
    "oil-fouled": 0.12,
    "wet": 0.11,
}
"""How common each label is taken to be among plugs that a technician photographs; common practice, no source."""
STATED_ERROR: Final = 0.02
"""Share of accepted readings that may be wrong, on the scenes kept apart."""
MIN_BOX_PX: Final = 80.0
"""Longer side of a firing end below which held-out accuracy falls under 0.84."""
FIND_SCORE: Final = 0.5
"""Score of a find below which it is given no label: of 36 labels at lower ones in four rendered sets that neither
network had learned from 12 were given to things that are no firing end (11 of 20 under 0.4)."""
SMALL: Final = {"least_box_px": 64.0, "label": 0.98}
"""Firing ends of 64 to 80 pixels are given a label of this probability: 112 in five rendered sets that version 4 had
not learned labels from, 1 of them wrong (0.9 %). From a probability of 0.95 on 9 of 162 were wrong, of 56 to 64 pixels
2 of 31."""
MIN_FOCUS: Final = 12.0
STATUS_LIMITS: Final = {"unused": (0.1, 0.6), "not-a-plug": (0.3, 0.6)}
"""Least and greatest threshold of a status. A new plug called lean sends a technician after a leak that is not there, a
lean one taken for new costs a second photograph: on four rendered sets kept apart from version 8, 0.1 in place of 0.3
refuses 2 of 2,192 right labels and 2 of the 3 new plugs (of 362) that were called lean."""
SET_MISSES: Final = (0.01, 0.02, 0.05, 0.1)
"""Shares of label sets that may miss the right label, for which limits are stated."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """What calibration found; the fields are those of ``reader.json``."""

    temperature: dict[str, float]
    blend: float
    prior_train: dict[str, float]
    prior: dict[str, float]
    thresholds: dict[str, float]
    conformal: dict[str, float] = field(default_factory=dict)
    colour: dict[str, Any] | None = None
    """What the nose's colour has to say; `fit_colour` finds it, not `calibrate`."""


def fit_temperature(logits: NDArray[np.floating], targets: NDArray[np.integer]) -> float:
    """Temperature that minimises the negative log-likelihood (Guo et al. 2017, section 4.2).

    Parameters
    ----------
    logits
        (n, classes).
    targets
        (n,) indices; rows with NONE are left out.
    """
    rows = targets != NONE
    logits, targets = logits[rows], targets[rows]

    def loss(log_temperature: float) -> float:
        chosen = log_softmax(logits, float(np.exp(log_temperature)))[np.arange(len(targets)), targets]
        return -float(chosen.mean())

    found = minimize_scalar(loss, bounds=(-2.5, 2.5), method="bounded", options={"xatol": 1e-6})
    return float(np.exp(found.x))


def threshold_for_error(confidence: NDArray[np.floating], right: NDArray[np.bool_], stated: float) -> float:
    """Least confidence to accept so that at most ``stated`` of the accepted are wrong.

    Examples
    --------
    >>> threshold_for_error(np.array([0.9, 0.8, 0.7, 0.6]), np.array([True, True, False, True]), 0.0)
    0.8
    """
    order = np.argsort(-confidence, kind="stable")
    wrong = np.cumsum(~right[order]) / np.arange(1, len(order) + 1)
    good = np.flatnonzero(wrong <= stated)
    return float(confidence[order][good[-1]]) if len(good) else 1.0


def calibrate(
    apart: Path, *, blend: float = 0.5, roughness: str = "rough", stated_error: float = STATED_ERROR
) -> Fitted:
    """Fit on the ``apart.npz`` of a reader's run.

    Temperatures are fitted head by head, then all scaled together for the blended answer, on the roughed-up
    crops: photographs differ from renders at least as much (``plain`` takes them as they are). The threshold
    lets at most ``stated_error`` of the accepted crops be wrong.
    """
    saved = np.load(apart)
    temperature = {
        head: fit_temperature(saved[f"{roughness}_{head}"], saved[f"target_{head}"])
        for head in ("five", "ceramic", "surface", "status")
    }
    prior_train = dict.fromkeys(LABELS, 1 / len(LABELS))
    rows = saved["target_five"] != NONE
    heads = [saved[f"{roughness}_{head}"][rows] for head in ("five", "ceramic", "surface")]
    targets = saved["target_five"][rows]

    def blended_at(scale: float) -> NDArray[np.float64]:
        scaled = {head: t * scale for head, t in temperature.items()}
        return combine(*heads, Calibration(scaled, blend, prior_train, prior_train))

    found = minimize_scalar(
        lambda log_scale: (
            -float(np.log(blended_at(np.exp(log_scale))[np.arange(len(targets)), targets] + 1e-12).mean())
        ),
        bounds=(-1.5, 1.5),
        method="bounded",
    )
    scale = float(np.exp(found.x))
    probabilities = blended_at(scale)
    for head in ("five", "ceramic", "surface"):
        temperature[head] *= scale
    label = threshold_for_error(probabilities.max(1), probabilities.argmax(1) == targets, stated_error)
    # The sets are built from the readings' own probabilities, so the limits must be too.
    as_read = combine(*heads, Calibration(temperature, blend, prior_train, STATED_PRIOR))
    right = as_read[np.arange(len(targets)), targets]
    status = softmax(saved[f"{roughness}_status"], temperature["status"])
    return Fitted(
        temperature={head: round(t, 5) for head, t in temperature.items()},
        blend=blend,
        prior_train=prior_train,
        prior=dict(STATED_PRIOR),
        thresholds={
            "label": round(max(label, 0.4), 4),
            "unused": _status_threshold(status, saved["target_status"], "unused"),
            "not_a_plug": _status_threshold(status, saved["target_status"], "not-a-plug"),
            "min_box_px": MIN_BOX_PX,
            "min_focus": MIN_FOCUS,
            "small": dict(SMALL),
            "find_score": FIND_SCORE,
        },
        conformal=set_limits(right),
    )


def set_limits(right: NDArray[np.floating]) -> dict[str, float]:
    """Limit of the label sets for each of SET_MISSES, from the probabilities (n,) given to the right labels."""
    return {str(miss): round(conformal_limit(right, miss), 6) for miss in SET_MISSES}


def _status_threshold(status: NDArray[np.float64], targets: NDArray[np.integer], name: str) -> float:
    """Probability from which 98 % of such crops are caught, within ``STATUS_LIMITS``."""
    index = STATUS.index(name)
    low, high = STATUS_LIMITS[name]
    caught = np.quantile(status[targets == index, index], 0.02) if (targets == index).any() else 0.5
    return round(float(min(max(caught, low), high)), 4)
