"""How far a measure could be off, from resampling whole engines or scenes.

Photographs of one engine are alike, so a hundred of them are not a hundred independent trials: what is drawn with
replacement is the engine, with all its photographs (cluster bootstrap, percentile interval: Efron & Tibshirani 1993,
"An Introduction to the Bootstrap").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REPEATS: Final = 1000
LEVEL: Final = 0.95


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure and how far to trust it.

    Attributes
    ----------
    value
        NaN when nothing stands behind it.
    low, high
        Ends of the 95 % interval; NaN with fewer than two groups.
    count
        Plugs (or photographs) behind it.
    groups
        Engines or scenes behind it.
    """

    value: float
    low: float
    high: float
    count: int
    groups: int


class Resampling:
    """Draws of groups, the same for every measure of a set.

    Parameters
    ----------
    groups
        (n,) group of each item.
    repeats
        How many sets to draw.
    seed
        Same seed, same draws.
    """

    def __init__(self, groups: Sequence[str], repeats: int = REPEATS, seed: int = 0) -> None:
        names, self._index = np.unique(np.asarray(groups, dtype=str), return_inverse=True)
        self.groups = len(names)
        rng = np.random.default_rng(seed)
        self._times = (
            rng.multinomial(self.groups, np.full(self.groups, 1 / self.groups), repeats).astype(np.float64)
            if self.groups
            else np.zeros((repeats, 0))
        )

    def weights(self) -> Floats:
        """How often each item is in each drawn set, (repeats, n)."""
        drawn: Floats = self._times[:, self._index]
        return drawn

    def measure(self, rows: Floats, of_totals: Callable[[Floats], Floats], *, count: int | None = None) -> Measure:
        """A measure that depends on sums over the items alone.

        Parameters
        ----------
        rows
            (n, k): what each item adds.
        of_totals
            (..., k) sums to (...,) values.
        count
            What is counted behind the measure; the items that add anything without it.
        """
        per_group = np.zeros((self.groups, rows.shape[1]))
        np.add.at(per_group, self._index, rows)
        value = float(of_totals(rows.sum(axis=0)))
        counted = rows.any(axis=1)
        groups = len(np.unique(self._index[counted]))
        behind = int(counted.sum()) if count is None else count
        return interval(value, of_totals(self._times @ per_group), behind, groups)


def interval(value: float, drawn: Floats, count: int, groups: int) -> Measure:
    """A value with the percentile interval of its resampled values.

    When every draw gives the same share of 0 or 1, the draws say nothing about how rare the other outcome is; then
    the exact binomial limit stands in, with one trial a group (Clopper & Pearson 1934: (α/2) to the power 1/n).

    Examples
    --------
    >>> measure = interval(1.0, np.ones(1000), 16, 16)
    >>> round(measure.low, 4), measure.high
    (0.7941, 1.0)
    """
    tail = (1 - LEVEL) / 2
    drawn = drawn[~np.isnan(drawn)]
    if groups < 2 or len(drawn) == 0:
        return Measure(value, np.nan, np.nan, count, groups)
    low, high = (float(np.quantile(drawn, q)) for q in (tail, 1 - tail))
    if low == high == 1.0:
        low = tail ** (1 / groups)
    elif low == high == 0.0:
        high = 1 - tail ** (1 / groups)
    return Measure(value, low, high, count, groups)
