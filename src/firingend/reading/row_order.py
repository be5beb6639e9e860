"""The order in which people lay plugs out: along the row, and row by row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.reading.reading import Box

_ONE_ROW: Final = 0.8
"""Plugs that stray sideways from a common line by less than this share of a box are one row laid by hand."""

_NEW_ROW: Final = 0.6
"""A step across rows of more than this share of a box begins a new row."""

_LONG: Final = 1.5
"""A group this much longer than wide has a direction of its own, by which tilted rows are straightened."""

_MAX_TILT_DEGREES: Final = 30.0


def row_order(boxes: Sequence[Box]) -> list[int]:
    """Indices of the boxes in row order.

    One row is followed along its own direction: left to right, or top to bottom when it is steeper than 45
    degrees. Several rows are read like text, each from left to right, the top one first.

    Examples
    --------
    >>> row_order([(50, 0, 60, 10), (0, 2, 10, 12), (25, 1, 35, 11)])
    [1, 2, 0]
    """
    if len(boxes) < 2:
        return list(range(len(boxes)))
    corners = np.array(boxes, dtype=np.float64)
    centres = (corners[:, :2] + corners[:, 2:]) / 2
    box_side = float(np.median(np.maximum(*(corners[:, 2:] - corners[:, :2]).T)))

    along, length, breadth = _main_direction(centres)
    across = np.array([-along[1], along[0]])
    if np.ptp(centres @ across) < _ONE_ROW * box_side:
        return [int(i) for i in np.argsort(centres @ along, kind="stable")]

    tilt = float(np.degrees(np.arctan2(along[1], along[0])))
    level = length < _LONG * breadth or abs(tilt) > _MAX_TILT_DEGREES
    right = np.array([1.0, 0.0]) if level else along
    down = np.array([-right[1], right[0]])
    return _row_by_row(centres @ right, centres @ down, _NEW_ROW * box_side)


def _main_direction(centres: NDArray[np.float64]) -> tuple[NDArray[np.float64], float, float]:
    """Unit vector of the longest spread, pointing right (or down when steeper than 45°), and both spreads."""
    centred = centres - centres.mean(axis=0)
    _, spreads, directions = np.linalg.svd(centred, full_matrices=False)
    along = directions[0]
    leading = along[0] if abs(along[0]) >= abs(along[1]) else along[1]
    return (along if leading >= 0 else -along), float(spreads[0]), float(spreads[1])


def _row_by_row(x: NDArray[np.float64], y: NDArray[np.float64], step: float) -> list[int]:
    from_top = np.argsort(y, kind="stable")
    starts = np.flatnonzero(np.diff(y[from_top]) > step) + 1
    rows = np.split(from_top, starts)
    return [int(i) for row in rows for i in row[np.argsort(x[row], kind="stable")]]
