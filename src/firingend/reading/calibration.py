"""The numbers that turn raw network outputs into honest probabilities; they are fitted elsewhere, applied here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from firingend.labels import LABELS

_EQUAL = {label: 1 / len(LABELS) for label in LABELS}


@dataclass(frozen=True, slots=True)
class Calibration:
    """How a reader's outputs are to be taken.

    Attributes
    ----------
    temperatures
        Divisor of the logits of each output (Guo et al. 2017, "On calibration of modern neural networks"); an
        output that is not named has 1.
    blend
        Weight, 0..1, of the two facts (ceramic and surface) against the five-way output.
    prior_train
        How common each label was among the pictures the network learned from.
    prior
        How common each label is taken to be in the readings.
    """

    temperatures: Mapping[str, float] = field(default_factory=dict)
    blend: float = 0.5
    prior_train: Mapping[str, float] = field(default_factory=lambda: dict(_EQUAL))
    prior: Mapping[str, float] = field(default_factory=lambda: dict(_EQUAL))

    def temperature(self, output: str) -> float:
        """Temperature of one of the network's outputs."""
        return self.temperatures.get(output, 1.0)
