"""A JPEG's pixels straight into an array: the same as Pillow's, without its detour over four bytes a pixel."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_AROUND: Final = 32
"""Rows decoded beyond those asked for: the last ones have no neighbours below to smooth their colour with."""

_NO_FRAME: Final = (0xC4, 0xC8, 0xCC)  # in the range of frame headers, but something else (ITU-T T.81, table B.1)


def rgb_pixels(data: bytes, size: tuple[int, int], reduction: int, rows: int | None = None) -> NDArray[np.uint8] | None:
    """Decode a colour JPEG with libjpeg-turbo, at 1/1, 1/2, 1/4 or 1/8 of its size.

    Parameters
    ----------
    data
        The whole file.
    size
        (width, height) that its header states.
    reduction
        1, 2, 4 or 8.
    rows
        How many full-scale rows from the top are wanted: what lies farther below is not decoded and black. Only for
        a file that was decoded whole before, because damage is then passed over. None decodes all of it.

    Returns
    -------
    (height, width, 3) uint8, each side the stated one over the reduction, rounded up; None when there is anything
    odd about the file. Pillow, which takes more kinds and says what is wrong, has the last word on those.
    """
    try:
        import simplejpeg  # here and not above: other kinds of file need no second decoder
    except ImportError:  # a machine there is no build of it for
        return None
    width, height = (-(-side // reduction) for side in size)
    if rows is not None and rows + _AROUND < size[1]:
        return _upper_rows(data, size, reduction, rows + _AROUND)
    try:
        pixels: NDArray[np.uint8] = simplejpeg.decode_jpeg(
            data, colorspace="RGB", min_width=width, min_height=height, min_factor=reduction
        )
    except (ValueError, RuntimeError):
        return None
    return pixels if pixels.shape == (height, width, 3) else None


def _upper_rows(data: bytes, size: tuple[int, int], reduction: int, rows: int) -> NDArray[np.uint8] | None:
    """As `rgb_pixels`, by telling the decoder that the picture ends after so many rows."""
    import simplejpeg

    frame = _frame_header(data)
    if frame is None or int.from_bytes(data[frame + 5 : frame + 7], "big") != size[1]:
        return None
    lower = bytearray(data)
    lower[frame + 5 : frame + 7] = rows.to_bytes(2, "big")
    width, height, upper = (-(-side // reduction) for side in (*size, rows))
    pixels = np.zeros((height, width, 3), np.uint8)
    try:
        decoded = simplejpeg.decode_jpeg(
            lower,
            colorspace="RGB",
            min_width=width,
            min_height=upper,
            min_factor=reduction,
            buffer=pixels[:upper],
            strict=False,  # what follows the rows is no damage
        )
    except (ValueError, RuntimeError):
        return None
    return pixels if decoded.shape == (upper, width, 3) else None


def _frame_header(data: bytes) -> int | None:
    """Where the frame header (SOFn) starts, which states the height; None in a file that is not laid out as it should.

    The segments before it are stepped over, not searched: one of them may hold a thumbnail with a header of its own.
    """
    at = 2
    while at + 9 < len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if 0xC0 <= marker <= 0xCF and marker not in _NO_FRAME:
            return at
        at += 1 if marker == 0xFF else 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return None
