"""A JPEG's pixels straight into an array: the same as Pillow's, without its detour over four bytes a pixel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def rgb_pixels(data: bytes, size: tuple[int, int], reduction: int) -> NDArray[np.uint8] | None:
    """Decode a colour JPEG with libjpeg-turbo, at 1/1, 1/2, 1/4 or 1/8 of its size.

    Parameters
    ----------
    data
        The whole file.
    size
        (width, height) that its header states.
    reduction
        1, 2, 4 or 8.

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
    try:
        pixels: NDArray[np.uint8] = simplejpeg.decode_jpeg(
            data, colorspace="RGB", min_width=width, min_height=height, min_factor=reduction
        )
    except (ValueError, RuntimeError):
        return None
    return pixels if pixels.shape == (height, width, 3) else None
