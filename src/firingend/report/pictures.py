"""Pictures small enough to hand on: one square cut-out per firing end, fresh JPEG, no metadata."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.reading.reading import Box

MARGIN = 0.12
"""Room left around the box on every side, as a share of its longer side."""

PADDING = 128
"""Grey level of what lies outside the photograph."""

_QUALITIES = (84, 76, 66, 54)


def square_around(box: Box, width: float, height: float) -> tuple[float, float, float]:
    """Square cut-out around a box, moved into the photograph where there is room for it.

    Parameters
    ----------
    box
        Around the firing end, in pixels.
    width, height
        Size of the photograph in the same pixels.

    Returns
    -------
    tuple
        Left edge, top edge, side; the square reaches past the photograph only where it is larger than it.

    Examples
    --------
    >>> square_around((100, 100, 200, 150), 1000, 800)
    (88.0, 63.0, 124.0)
    >>> square_around((0, 0, 100, 50), 1000, 800)
    (0.0, 0.0, 124.0)
    """
    x0, y0, x1, y1 = box
    side = max(x1 - x0, y1 - y0, 1.0) * (1 + 2 * MARGIN)
    return (
        _inside((x0 + x1 - side) / 2, side, width),
        _inside((y0 + y1 - side) / 2, side, height),
        side,
    )


def cut_out(pixels: NDArray[np.uint8], scale: float, box: Box, side: int, most_bytes: int) -> bytes:
    """Cut a firing end out of a photograph as a square JPEG.

    Parameters
    ----------
    pixels
        uint8 array (height, width, 3), sRGB, upright.
    scale
        Width of ``pixels`` divided by the width of the photograph ``box`` is given in.
    box
        Around the firing end, in pixels of the whole photograph.
    side
        Largest side of the result in pixels; a smaller cut-out is not blown up.
    most_bytes
        Size the file must not exceed; quality gives way first, then the number of pixels.
    """
    height, width = pixels.shape[:2]
    scaled = (box[0] * scale, box[1] * scale, box[2] * scale, box[3] * scale)
    left, top, wanted = square_around(scaled, width, height)
    x, y, size = round(left), round(top), max(1, round(wanted))
    # Cut the part inside first: a box from a damaged source must not make Pillow allocate its full size.
    inner = pixels[max(0, y) : max(0, y + size), max(0, x) : max(0, x + size)]
    if inner.size == 0:
        inner = pixels
        x, y, size = 0, 0, max(height, width)
    shrink = min(1.0, side / size)
    canvas = Image.new("RGB", (max(1, round(size * shrink)),) * 2, (PADDING,) * 3)
    part = Image.fromarray(np.ascontiguousarray(inner))
    if shrink < 1.0:
        target = (max(1, round(part.width * shrink)), max(1, round(part.height * shrink)))
        part = part.resize(target, Image.Resampling.LANCZOS)
    canvas.paste(part, (round(max(0, -x) * shrink), round(max(0, -y) * shrink)))
    return _jpeg(canvas, most_bytes)


def whole(pixels: NDArray[np.uint8], side: int, most_bytes: int) -> bytes:
    """Shrink a whole photograph into a square JPEG: shown where no firing end was found."""
    height, width = pixels.shape[:2]
    half = max(height, width) / 2 / (1 + 2 * MARGIN)
    around = (width / 2 - half, height / 2 - half, width / 2 + half, height / 2 + half)
    return cut_out(pixels, 1.0, around, side, most_bytes)


def _inside(start: float, length: float, limit: float) -> float:
    """Move an interval into 0..limit; centre it when it is longer than that."""
    if length >= limit:
        return (limit - length) / 2
    return float(min(max(start, 0.0), limit - length))


def _jpeg(picture: Image.Image, most_bytes: int) -> bytes:
    # A fresh encoding from bare pixels carries no EXIF, so neither place nor owner of the camera.
    for quality in _QUALITIES:
        buffer = io.BytesIO()
        picture.save(buffer, "JPEG", quality=quality, optimize=True)
        if buffer.tell() <= most_bytes:
            return buffer.getvalue()
    if max(picture.size) <= 64:
        return buffer.getvalue()
    return _jpeg(picture.reduce(2), most_bytes)
