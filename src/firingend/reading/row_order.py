"""The order in which people lay plugs out: along the row, and row by row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from firingend.reading.reading import Box

_ONE_ROW: Final = 0.8
"""Plugs that stray sideways from a common line by less than this share of a box are one row laid by hand."""

_ABREAST: Final = 0.3
"""A sidestep of more than this share of a box, and longer than the step ahead, leads to a plug of another row."""

_LEAST_ROW: Final = 3
"""Two firing ends lie on a line wherever they lie."""

_ON_LINE: Final = 0.2
"""How far off the line of a row something may lie, in boxes, to pass for one of it."""

_OWN_PLACE: Final = 0.5
"""How near to another of the row, in the usual steps from one to the next."""

_NEW_ROW: Final = 0.6
"""A step across rows of more than this share of a box begins a new row."""

_TILTS: Final = np.radians(np.arange(-44, 46, 2))
"""Tilts at which several rows are looked for; steeper ones are read as columns side by side."""

_AS_CLEAR: Final = 0.5
"""Tilts at which rows stand apart by at least this share of what they do at best are all possible. Of 80 rendered
photographs of two lines, learned from or kept apart, 9 are so read in another order than they were laid in, six
of them blocks of four that stand on a corner; at 0.6 it is 13, at 0.8 16."""


def row_order(boxes: Sequence[Box]) -> list[int]:
    """Indices of the boxes in row order.

    One row is followed along its own direction: left to right, or top to bottom when it is steeper than 45
    degrees. Several rows are read like text, each from left to right, the top one first; they may be tilted by up to
    45 degrees. Where nothing tells which way the rows run, they are taken to be as level as they may be.

    Examples
    --------
    >>> row_order([(50, 0, 60, 10), (0, 2, 10, 12), (25, 1, 35, 11)])
    [1, 2, 0]
    """
    return [i for row in rows_of(boxes) for i in row]


def rows_of(boxes: Sequence[Box]) -> list[list[int]]:
    """The rows that `row_order` reads one after the other, each as indices of the boxes; none is empty.

    Examples
    --------
    >>> rows_of([(20, 0, 30, 10), (0, 20, 10, 30), (0, 0, 10, 10), (20, 20, 30, 30)])
    [[2, 0], [1, 3]]
    """
    if len(boxes) < 2:
        return [[i] for i in range(len(boxes))]
    centres, box_side = _centres(boxes)
    along = _main_direction(centres)
    single = [[int(i) for i in np.argsort(centres @ along, kind="stable")]]
    if _is_one_row(centres, along, box_side):
        return single
    step = _NEW_ROW * box_side
    right, down = _axes(_tilt_of_rows(centres, step))
    rows = [[int(i) for i in row] for row in _rows(centres @ right, centres @ down, step)]
    # Where each would be a row of its own, they are one that was laid in a curve.
    return rows if any(len(row) > 1 for row in rows) else single


def is_one_row(boxes: Sequence[Box]) -> bool:
    """Whether the boxes lie along one line, as closely as a hand lays plugs.

    Examples
    --------
    >>> is_one_row([(0, 0, 10, 10), (20, 3, 30, 13), (40, 0, 50, 10)])
    True
    >>> is_one_row([(0, 0, 10, 10), (20, 0, 30, 10), (0, 20, 10, 30), (20, 20, 30, 30)])
    False
    """
    if len(boxes) < 2:
        return True
    centres, box_side = _centres(boxes)
    return _is_one_row(centres, _main_direction(centres), box_side)


def fits_row(box: Box, row: Sequence[Box]) -> bool:
    """Whether a box carries a single row of three or more on, or fills a gap in it, as if it were one of them.

    Examples
    --------
    >>> row = [(0, 0, 10, 10), (20, 0, 30, 10), (60, 0, 70, 10)]
    >>> fits_row((40, 1, 50, 11), row), fits_row((40, 6, 50, 16), row), fits_row((25, 0, 35, 10), row)
    (True, False, False)
    """
    if len(row) < _LEAST_ROW or not is_one_row(row):
        return False
    centres, box_side = _centres([*row, box])
    middle = centres[:-1].mean(axis=0)
    along = _main_direction(centres[:-1])
    ahead, aside = (centres - middle) @ along, (centres - middle) @ np.array([-along[1], along[0]])
    pitch = np.median(np.diff(np.sort(ahead[:-1])))
    nearest = np.abs(ahead[:-1] - ahead[-1]).min()
    return bool(abs(aside[-1]) <= _ON_LINE * box_side and nearest >= _OWN_PLACE * pitch)


def _centres(boxes: Sequence[Box]) -> tuple[NDArray[np.float64], float]:
    """Centres (n, 2) of the boxes, and the median of their longer sides."""
    corners = np.array(boxes, dtype=np.float64)
    sides = np.maximum(*(corners[:, 2:] - corners[:, :2]).T)
    return (corners[:, :2] + corners[:, 2:]) / 2, float(np.median(sides))


def _is_one_row(centres: NDArray[np.float64], along: NDArray[np.float64], box_side: float) -> bool:
    """Whether no centre strays far from the line, and none lies beside its neighbour rather than behind it."""
    places, strays = centres @ along, centres @ np.array([-along[1], along[0]])
    order = np.argsort(places, kind="stable")
    aside, ahead = np.abs(np.diff(strays[order])), np.diff(places[order])
    abreast = (aside > _ABREAST * box_side) & (aside > ahead)
    return float(np.ptp(strays)) < _ONE_ROW * box_side and not abreast.any()


def _main_direction(centres: NDArray[np.float64]) -> NDArray[np.float64]:
    """Unit vector of the longest spread, pointing right, or down when steeper than 45 degrees."""
    centred = centres - centres.mean(axis=0)
    along: NDArray[np.float64] = np.linalg.svd(centred, full_matrices=False)[2][0]
    leading = along[0] if abs(along[0]) >= abs(along[1]) else along[1]
    return along if leading >= 0 else -along


def _tilt_of_rows(centres: NDArray[np.float64], step: float) -> float:
    """The tilt, radians, at which the centres fall into the fewest rows that stand apart; 0 where there are none.

    How far rows stand apart is the smallest step from one to the next less the largest spread within one. The true
    rows are told from the diagonals of a block of plugs by being fewer, and among equals by running more level: not
    by standing further apart, since what lies further back stands closer in the picture.
    """
    measured = [_rows_apart(np.sort(centres @ _axes(tilt)[1]), step) for tilt in _TILTS]
    rows, apart = np.array([n for n, _ in measured]), np.array([gap for _, gap in measured])
    if apart.max() <= 0:
        return 0.0
    clear = apart >= _AS_CLEAR * apart.max()
    possible = np.flatnonzero(clear & (rows == rows[clear].min()))
    from_clearest = possible[np.argsort(-apart[possible], kind="stable")]
    return float(min(_TILTS[from_clearest], key=lambda tilt: _steepness(centres, tilt, step)))


def _steepness(centres: NDArray[np.float64], tilt: float, step: float) -> float:
    """Mean angle, radians, between the level and the rows found at a tilt; its own where no row has two plugs."""
    right, down = _axes(tilt)
    ends = [centres[row[[0, -1]]] for row in _rows(centres @ right, centres @ down, step) if len(row) > 1]
    if not ends:
        return abs(tilt)
    across, drop = np.diff(np.array(ends), axis=1)[:, 0].T
    return float(np.abs(np.arctan2(drop, across)).mean())


def _rows_apart(heights: NDArray[np.float64], step: float) -> tuple[int, float]:
    """How many rows sorted heights fall into, and how far those stand apart; minus infinity for a single one."""
    steps = np.diff(heights)
    starts = np.flatnonzero(steps > step) + 1
    if not len(starts):
        return 1, -np.inf
    firsts, lasts = np.append(0, starts), np.append(starts - 1, len(heights) - 1)
    return len(firsts), float(steps[starts - 1].min() - (heights[lasts] - heights[firsts]).max())


def _axes(tilt: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit vectors along rows of this tilt, radians, and down from one to the next."""
    return np.array([np.cos(tilt), np.sin(tilt)]), np.array([-np.sin(tilt), np.cos(tilt)])


def _rows(x: NDArray[np.float64], y: NDArray[np.float64], step: float) -> list[NDArray[np.intp]]:
    """Indices row by row from the top, each row from left to right."""
    from_top = np.argsort(y, kind="stable")
    starts = np.flatnonzero(np.diff(y[from_top]) > step) + 1
    return [row[np.argsort(x[row], kind="stable")] for row in np.split(from_top, starts)]
