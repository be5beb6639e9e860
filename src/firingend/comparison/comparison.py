"""What the cylinders say together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Pattern = Literal[
    "all-alike",
    "one-odd",
    "shared-pair",
    "bank",
    "neighbours",
    "ends-against-middle",
    "scattered",
    "too-few-readable",
]


@dataclass(frozen=True, slots=True)
class Comparison:
    """The pattern over one engine's plugs.

    Attributes
    ----------
    pattern
        The most probable pattern.
    probability
        Its probability given the readings' probabilities.
    patterns
        Probability of every pattern, summing to 1.
    label
        The label that stands out (or that all share); empty when scattered or too few.
    cylinders
        The cylinders that stand out; all of them for ``all-alike``.
    where
        The shared part, bank or pair that explains it, in words; empty when none does.
    sentence
        One plain sentence that says what was seen and why this pattern.
    """

    pattern: Pattern
    probability: float
    patterns: Mapping[str, float]
    label: str
    cylinders: tuple[int, ...]
    where: str
    sentence: str
