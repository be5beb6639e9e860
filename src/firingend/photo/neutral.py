"""Neutral balance: take the colour of the light out of a picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firingend.errors import PhotoError
from firingend.photo.colour import LINEAR_OF_BYTE, linear_to_srgb
from firingend.photo.quality import BRIGHT, DARK


def gains_for_light(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Channel gains, in linear light, that turn this light neutral and leave its green alone.

    Parameters
    ----------
    light
        (3,) linear RGB of the light, for example from `quality.illuminant`; each above 0.

    Returns
    -------
    (3,) factors for linear R, G, B.

    Examples
    --------
    >>> gains_for_light(np.array([1.0, 0.5, 0.25])).tolist()
    [0.5, 1.0, 2.0]
    """
    safe = np.maximum(np.asarray(light, dtype=np.float64), 1e-6)
    gains: NDArray[np.float64] = safe[1] / safe
    return gains


def gains_for_patch(pixels: NDArray[np.uint8], box: tuple[int, int, int, int]) -> NDArray[np.float64]:
    """Channel gains that make something grey in the picture (a card, a clean hexagon) come out grey.

    Parameters
    ----------
    pixels
        (height, width, 3) uint8 sRGB.
    box
        (x0, y0, x1, y1) of the grey thing, in the same pixels; x1 and y1 are excluded.

    Raises
    ------
    PhotoError
        When the box is empty, or so dark or bright that its colour is lost.
    """
    x0, y0, x1, y1 = box
    patch = pixels[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)].reshape(-1, 3)
    usable = patch[((patch < BRIGHT) & (patch > DARK)).all(axis=1)]
    if len(usable) == 0:
        raise PhotoError("the grey patch is empty, black or blown out", "mark a mid-grey spot in the picture")
    return gains_for_light(LINEAR_OF_BYTE[usable].mean(axis=0, dtype=np.float64))


def balance(pixels: NDArray[np.uint8], gains: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Multiply the channels by ``gains`` in linear light; same shape and type, values clipped to 0..255."""
    tables = linear_to_srgb(np.minimum(LINEAR_OF_BYTE[:, None] * gains, 1.0))
    as_bytes = np.rint(tables * 255).astype(np.uint8)
    return np.stack([as_bytes[pixels[..., channel], channel] for channel in range(3)], axis=-1)
