"""Cut a firing end out of a picture, square and upright, the way the reader wants to see it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.photo.picture import Pixels, size_of
from firingend.reading.reading import Box, longer_side

MIN_AXIS: Final = 0.25
"""Below this length of the axis (about 15 degrees from looking straight at the end) "up" means nothing."""


def crop_matrix(box: Box, axis: tuple[float, float], size: int, margin: float) -> NDArray[np.float64]:
    """Where in the picture each pixel of an upright crop comes from.

    The crop is a square round the centre of the box, turned so that ``axis`` points to its top edge; with an
    axis too short to have a direction it is not turned.

    Parameters
    ----------
    box
        (x0, y0, x1, y1) in the picture, where pixel i spans i..i+1.
    axis
        (dx, dy) of the plug in the picture, x right, y down.
    size
        Side of the crop, px.
    margin
        Side of the square in the picture, as a multiple of the longer side of the box.

    Returns
    -------
    (2, 3) float64 matrix that takes (column, row, 1) of a crop pixel's centre to (column, row) in the picture,
    both counted from the centre of the top left pixel, as OpenCV and numpy indices count.

    Examples
    --------
    >>> crop_matrix((10, 10, 14, 14), (0.0, -1.0), 4, 1.0).tolist()
    [[1.0, 0.0, 10.0], [0.0, 1.0, 10.0]]
    """
    turn = _rotation(axis)
    step = crop_side(box, margin) / size
    centre = np.array([(box[0] + box[2]) / 2, (box[1] + box[3]) / 2])
    matrix = np.empty((2, 3))
    matrix[:, :2] = turn * step
    matrix[:, 2] = centre - 0.5 - matrix[:, :2] @ np.full(2, (size - 1) / 2)
    return matrix


def crop_side(box: Box, margin: float) -> float:
    """Side in picture pixels of the square that a crop of this box covers, at least 1."""
    return max(1.0, margin * longer_side(box))


def crop_reach(box: Box, axis: tuple[float, float], size: int, margin: float) -> Box:
    """The upright box (x0, y0, x1, y1) of the picture that `upright_crop` takes pixels from; arguments as there."""
    left, top, right, bottom = _touched(crop_matrix(box, axis, size, margin), size)
    return float(left), float(top), float(right), float(bottom)


def _rotation(axis: tuple[float, float]) -> NDArray[np.float64]:
    """The turn that takes the crop's "up", (0, -1), to the direction of the axis."""
    length = float(np.hypot(*axis))
    if length <= MIN_AXIS:
        return np.eye(2)
    dx, dy = axis[0] / length, axis[1] / length
    return np.array([[-dy, -dx], [dx, -dy]]) + 0.0  # + 0.0: no minus noughts


def upright_crop(pixels: Pixels, box: Box, axis: tuple[float, float], size: int, margin: float) -> NDArray[np.uint8]:
    """Cut out what `crop_matrix` describes, nearly free of aliasing; beyond its edge the picture is repeated.

    Parameters
    ----------
    pixels
        sRGB.
    box
        In these very pixels, not of the full-scale photograph.
    axis, size, margin
        As for `crop_matrix`.

    Returns
    -------
    (size, size, 3) uint8.
    """
    matrix = crop_matrix(box, axis, size, margin)
    step = float(np.hypot(matrix[0, 0], matrix[1, 0]))
    # Whole blocks of pixels are averaged first, so that the turn that follows samples about one of them a step. Rather
    # small blocks: larger ones blur, and whether a nose is wet is seen by its glints.
    block = max(1, int(step + 0.25))
    cells, left, top = _cells(pixels, matrix, size, block)

    # Pillow counts from pixel corners: its (x, y) is our centre-based (column, row) plus a half.
    linear = matrix[:, :2] / block
    corner = (matrix[:, 2] + 0.5 - matrix[:, :2].sum(axis=1) / 2 - (left, top)) / block
    data = (*linear[0], corner[0], *linear[1], corner[1])
    kernel = Image.Resampling.BICUBIC if step < 1.0 else Image.Resampling.BILINEAR  # what is enlarged stays sharp
    return np.asarray(cells.transform((size, size), Image.Transform.AFFINE, data, kernel))


def _cells(pixels: Pixels, matrix: NDArray[np.float64], size: int, block: int) -> tuple[Image.Image, int, int]:
    """The axis-parallel part of the picture that a crop touches, each pixel the mean of a block of ``block`` by
    ``block``, edge-padded; and where in the picture its left and its top lie."""
    left, top, right, bottom = _touched(matrix, size)
    width, height = size_of(pixels)
    first, last = min(max(left, 0), width - 1), max(min(right, width), 1)
    highest, lowest = min(max(top, 0), height - 1), max(min(bottom, height), 1)
    if isinstance(pixels, Image.Image):
        cells = pixels.reduce(block, (first, highest, last, lowest))  # one by one it only cuts out
    else:
        cells = Image.fromarray(pixels[highest:lowest, first:last])
        cells = cells.reduce(block) if block > 1 else cells
    beyond = [max(-(-pad // block), 0) for pad in (first - left, right - last, highest - top, bottom - lowest)]
    if any(beyond):
        padded = np.pad(np.asarray(cells), (tuple(beyond[2:]), tuple(beyond[:2]), (0, 0)), mode="edge")
        cells = Image.fromarray(padded)
    return cells, first - beyond[0] * block, highest - beyond[2] * block


def _touched(matrix: NDArray[np.float64], size: int) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of what a crop touches, be it inside the picture or not."""
    corners = matrix @ np.array([(c, r, 1) for c in (-0.5, size - 0.5) for r in (-0.5, size - 0.5)]).T + 0.5
    rim = 2 + int(np.ceil(np.hypot(matrix[0, 0], matrix[1, 0])) * 2)  # what the filters reach beyond the corners
    left, top = (int(v) - rim for v in np.floor(corners.min(axis=1)))
    right, bottom = (int(v) + rim for v in np.ceil(corners.max(axis=1)))
    return left, top, right, bottom
