"""Outlines of a mask as polygons with few points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def outlines(mask: NDArray[np.bool_], *, least_area: float = 4.0, tolerance: float = 1.0) -> list[Points]:
    """Outer outline of every patch of a mask, largest first; holes and specks are left out.

    Parameters
    ----------
    mask
        (height, width).
    least_area
        Patches of fewer cells are left out.
    tolerance
        How far, in cells, the polygon may run from the cells' edges.

    Returns
    -------
    Polygons (n, 2) of x, y in cells, where cell i spans i..i+1; the last point joins the first.

    Examples
    --------
    >>> outlines(np.ones((2, 3), bool))[0].tolist()
    [[0.0, 0.0], [3.0, 0.0], [3.0, 2.0], [0.0, 2.0]]
    """
    loops = [(area(loop), loop) for loop in _loops(mask)]
    kept = sorted((each for each in loops if each[0] >= least_area), key=lambda each: -each[0])
    return [_closed(loop, tolerance) for _, loop in kept]


def area(loop: Points) -> float:
    """Area of a polygon; positive when it runs clockwise with y down, as outer outlines here do."""
    x, y = loop[:, 0], loop[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _loops(mask: NDArray[np.bool_]) -> list[Points]:
    """Follow the edges between inside and outside, the inside always on the right hand."""
    padded = np.pad(mask, 1)
    inner = padded[1:-1, 1:-1]
    after: dict[tuple[int, int], list[tuple[int, int]]] = {}
    sides = (
        (padded[:-2, 1:-1], (0, 0), (1, 0)),
        (padded[1:-1, 2:], (1, 0), (1, 1)),
        (padded[2:, 1:-1], (1, 1), (0, 1)),
        (padded[1:-1, :-2], (0, 1), (0, 0)),
    )
    for beyond, (x0, y0), (x1, y1) in sides:
        for row, column in np.argwhere(inner & ~beyond).tolist():
            after.setdefault((column + x0, row + y0), []).append((column + x1, row + y1))
    loops = []
    while after:
        start = at = next(iter(after))
        loop = []
        while True:
            loop.append(at)
            ways = after[at]
            following = ways.pop()
            if not ways:
                del after[at]
            at = following
            if at == start:
                break
        loops.append(np.array(loop, dtype=np.float64))
    return loops


def _closed(loop: Points, tolerance: float) -> Points:
    """Fewer points on a closed polygon: split at the point farthest from the first, thin out both halves."""
    far = int(np.square(loop - loop[0]).sum(axis=1).argmax())
    there = _thinned(loop[: far + 1], tolerance)
    back = _thinned(np.concatenate((loop[far:], loop[:1])), tolerance)
    return np.concatenate((there[:-1], back[:-1]))


def _thinned(path: Points, tolerance: float) -> Points:
    """Douglas & Peucker 1973: keep the ends and, between them, only points farther than the tolerance."""
    keep = np.zeros(len(path), bool)
    keep[[0, -1]] = True
    spans = [(0, len(path) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        along = path[last] - path[first]
        off = path[first + 1 : last] - path[first]
        length = max(float(np.hypot(*along)), 1e-9)
        away = np.abs(along[0] * off[:, 1] - along[1] * off[:, 0]) / length
        if away.max() > tolerance:
            middle = first + 1 + int(away.argmax())
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return path[keep]
