"""One value against its peers, by robust statistics."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

FLAG: Final = 3.5
"""A modified z beyond this is flagged (Iglewicz and Hoaglin 1993)."""
_SCALE: Final = 0.6745


@dataclass(frozen=True, slots=True)
class Standing:
    """How one value stands among its peers.

    Attributes
    ----------
    odd
        It is off.
    deviation
        Relative difference from the middle of all (of two: from the other), negative for lower.
    modified_z
        0.6745 (x - median) / MAD; None where the spread of the middle is zero or fewer than five were measured.
    rule
        The rule in words.
    """

    odd: bool
    deviation: float
    modified_z: float | None
    rule: str


def modified_z(values: Sequence[float]) -> list[float] | None:
    """0.6745 (x - median) / MAD of each value; None when the MAD is zero.

    The ordinary z cannot exceed (n - 1) / sqrt(n), 1.5 for four values, and so never flags a bad cylinder.

    References
    ----------
    Iglewicz and Hoaglin, How to Detect and Handle Outliers, 1993.

    Examples
    --------
    >>> [round(z, 3) for z in modified_z([178, 182, 175, 121])]
    [0.289, 1.06, -0.289, -10.696]
    """
    middle = median(values)
    spread = median(abs(x - middle) for x in values)
    return None if spread == 0 else [_SCALE * (x - middle) / spread for x in values]


def compare(values: Sequence[float], tolerance: float) -> list[Standing]:
    """Each value against the others.

    With five or more a value is off when its modified z is beyond 3.5 *and* it differs from the middle by more
    than ``tolerance``: a set that is very even must not make a trifle odd. When the MAD is zero, or
    with two to four values, the tolerance alone decides. With two the one that is off cannot be told: both are odd,
    or neither, by the larger over the smaller.
    One value has no peers.

    Parameters
    ----------
    values
        In one unit, all above zero.
    tolerance
        Relative difference that is a finding, such as 0.1.
    """
    if len(values) < 2:
        return [Standing(False, 0.0, None, "nothing to compare with")] * len(values)
    scores = modified_z(values) if len(values) >= 5 else None
    found = []
    for k, value in enumerate(values):
        middle = median(values) if len(values) > 2 else values[1 - k]
        deviation = value / middle - 1.0 if middle > 0 else float("inf")
        score = scores[k] if scores else None
        beyond = max(values) / min(values) - 1.0 if len(values) == 2 and min(values) > 0 else abs(deviation)
        odd = beyond > tolerance and (score is None or abs(score) > FLAG)
        rule = f"more than {tolerance:.0%} {'apart' if len(values) == 2 else 'off the middle'}"
        found.append(Standing(odd, deviation, score, rule if score is None else rule + ", modified z beyond 3.5"))
    return found
