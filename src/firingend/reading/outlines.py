"""Outlines of a mask as polygons with few points."""

from __future__ import annotations

from math import hypot

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Corner = tuple[int, int]


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
    return float(x[:-1] @ y[1:] - x[1:] @ y[:-1] + x[-1] * y[0] - x[0] * y[-1]) / 2


def _loops(mask: NDArray[np.bool_]) -> list[Points]:
    """Follow the edges between inside and outside, the inside always on the right hand, from corner to corner."""
    padded = np.zeros((mask.shape[0] + 2, mask.shape[1] + 2), np.int8)
    padded[1:-1, 1:-1] = mask
    after: dict[Corner, list[Corner]] = {}
    lying = _straights(padded[1:] - padded[:-1])  # over a cell and under it
    standing = _straights((padded[:, 1:] - padded[:, :-1]).T)  # left of a cell and right of it
    for y, x0, x1, side in lying:
        if side > 0:
            after.setdefault((x0, y), []).append((x1, y))
    for x, y0, y1, side in standing:
        if side < 0:
            after.setdefault((x, y0), []).append((x, y1))
    for y, x0, x1, side in lying:
        if side < 0:
            after.setdefault((x1, y), []).append((x0, y))
    for x, y0, y1, side in standing:
        if side > 0:
            after.setdefault((x, y1), []).append((x, y0))
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


def _straights(sides: NDArray[np.int8]) -> list[tuple[int, int, int, int]]:
    """Runs of equal sides other than 0 along each row: row, where the run starts and ends, its side.

    The first and the last column hold no sides; starts and ends are counted from the end of the first.
    """
    beyond = sides[:, 1:]
    rows, starts = np.nonzero(beyond != sides[:, :-1])
    along = beyond[rows, starts].tolist()
    spans = zip(rows.tolist(), starts.tolist(), starts[1:].tolist(), along, strict=False)
    return [span for span in spans if span[3]]


def _closed(loop: Points, tolerance: float) -> Points:
    """Fewer points on a closed polygon: split at the point farthest from the first, thin out both halves."""
    far = int(np.square(loop - loop[0]).sum(axis=1).argmax())
    points = [(x, y) for x, y in loop.tolist()]
    there = _thinned(points[: far + 1], tolerance)
    back = _thinned(points[far:] + points[:1], tolerance)
    return np.array(there[:-1] + back[:-1])


def _thinned(path: list[tuple[float, float]], tolerance: float) -> list[tuple[float, float]]:
    """Douglas & Peucker 1973: keep the ends and, between them, only points farther than the tolerance.

    On plain numbers: an outline has a few dozen corners, and arrays that short are slower.
    """
    keep = [False] * len(path)
    keep[0] = keep[-1] = True
    spans = [(0, len(path) - 1)]
    while spans:
        first, last = spans.pop()
        x0, y0 = path[first]
        dx, dy = path[last][0] - x0, path[last][1] - y0
        farthest, middle = tolerance * max(hypot(dx, dy), 1e-9), 0
        for i in range(first + 1, last):
            away = abs(dx * (path[i][1] - y0) - dy * (path[i][0] - x0))
            if away > farthest:
                farthest, middle = away, i
        if middle:
            keep[middle] = True
            spans += [(first, middle), (middle, last)]
    return [point for point, kept in zip(path, keep, strict=True) if kept]
