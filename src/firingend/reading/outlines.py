"""Outlines of masks as polygons with few points."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Loop = list[tuple[int, int]]
"""Corners (x, y) in turn; the last joins the first."""


def outlines(
    masks: Sequence[NDArray[np.bool_]], *, least_area: float = 4.0, tolerance: float = 1.0
) -> list[list[Points]]:
    """Of each mask the outer outline of every patch, largest first; holes and specks are left out.

    Parameters
    ----------
    masks
        (height, width) each, all of one size.
    least_area
        Patches of fewer cells are left out.
    tolerance
        How far, in cells, the polygon may run from the cells' edges.

    Returns
    -------
    For each mask, polygons (n, 2) of x, y in cells, where cell i spans i..i+1; the last point joins the first.

    Examples
    --------
    >>> outlines([np.ones((2, 3), bool)])[0][0].tolist()
    [[0.0, 0.0], [3.0, 0.0], [3.0, 2.0], [0.0, 2.0]]
    """
    found: list[list[Points]] = []
    for loops in _loops(masks):
        sized = [(area(loop), loop) for loop in loops]
        kept = sorted((each for each in sized if each[0] >= least_area), key=lambda each: -each[0])
        found.append([_closed(loop, tolerance) for _, loop in kept])
    return found


def area(polygon: Points | Loop) -> float:
    """Area of a polygon; positive when it runs clockwise with y down, as outer outlines here do."""
    twice = 0.0
    x0, y0 = polygon[-1]
    for x, y in polygon:
        twice += x0 * y - x * y0
        x0, y0 = x, y
    return twice / 2


def _loops(masks: Sequence[NDArray[np.bool_]]) -> list[list[Loop]]:
    """Each mask's edges between inside and outside, the inside always on the right hand, from corner to corner.

    Corners are numbered through all the masks, so that they are followed in one go.
    """
    loops: list[list[Loop]] = [[] for _ in masks]
    if not loops:
        return loops
    height, width = (side + 2 for side in masks[0].shape)
    padded = np.zeros((len(masks), height, width), np.int8)
    padded[:, 1:-1, 1:-1] = masks
    sides = _sides(padded)
    after = dict(sides)  # of two ways on from a corner the later one is taken first
    earlier = {here: there for here, there in sides if after[here] != there} if len(after) < len(sides) else {}
    while after:
        start = at = next(iter(after))
        loop = []
        while True:
            loop.append((at % width, at // width % height))
            if at in earlier:
                following, after[at] = after[at], earlier.pop(at)
            else:
                following = after.pop(at)
            at = following
            if at == start:
                break
        loops[start // (width * height)].append(loop)
    return loops


def _sides(padded: NDArray[np.int8]) -> list[tuple[int, int]]:
    """The straight edges of padded masks (n, height, width), from corner to corner.

    A corner bears the number of the padded cell that lies left of it and above.
    """
    masks, height, width = padded.shape
    left, right, under = _straights(padded.ravel(), width)
    # What stands lies once rows and columns are exchanged; then only the numbers have to be put right.
    tops, bottoms, beside = _straights(padded.transpose(0, 2, 1).ravel(), height)
    number = np.arange(masks * height * width).reshape(padded.shape).transpose(0, 2, 1).ravel()
    top, bottom = number[tops], number[bottoms]
    to_right, to_left, downwards, upwards = under > 0, under < 0, beside < 0, beside > 0
    here = np.concatenate((left[to_right], top[downwards], right[to_left], bottom[upwards]))
    there = np.concatenate((right[to_right], bottom[downwards], left[to_left], top[upwards]))
    return list(zip(here.tolist(), there.tolist(), strict=True))


def _straights(cells: NDArray[np.int8], width: int) -> tuple[NDArray[np.int_], NDArray[np.int_], NDArray[np.int8]]:
    """Runs of cells that differ all alike from those a row further on.

    Every row begins and ends with a cell outside, so that no run goes on into the next.

    Returns
    -------
    The corners where each run starts and where it ends, and by how much the cells a row further on are more.
    """
    more = cells[width:] - cells[:-width]
    corners = np.flatnonzero(more[1:] != more[:-1])
    along = more[1:][corners]
    runs = np.flatnonzero(along)
    return corners[runs], corners[runs + 1], along[runs]


def _closed(loop: Loop, tolerance: float) -> Points:
    """Fewer points on a closed polygon: split at the point farthest from the first, thin out both halves."""
    x0, y0 = loop[0]
    away = [(x - x0) ** 2 + (y - y0) ** 2 for x, y in loop]
    far = away.index(max(away))
    there = _thinned(loop[: far + 1], tolerance)
    back = _thinned([*loop[far:], loop[0]], tolerance)
    return np.array(there[:-1] + back[:-1], dtype=np.float64)


def _thinned(path: Loop, tolerance: float) -> Loop:
    """Douglas & Peucker 1973: keep the ends and, between them, only points farther than the tolerance.

    On plain numbers: an outline has a few dozen corners, and arrays that short are slower.
    """
    kept = {0, len(path) - 1}
    spans = [(0, len(path) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        (x0, y0), (x1, y1) = path[first], path[last]
        dx, dy = x1 - x0, y1 - y0
        shift = dy * x0 - dx * y0
        gaps = [abs(dx * y - dy * x + shift) for x, y in path[first + 1 : last]]
        widest = max(gaps)
        if widest > tolerance * max(hypot(dx, dy), 1e-9):
            middle = first + 1 + gaps.index(widest)
            kept.add(middle)
            spans += [(first, middle), (middle, last)]
    return [path[i] for i in sorted(kept)]
