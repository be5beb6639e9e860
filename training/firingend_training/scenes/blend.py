"""Small numeric mixing shared by shape and deposits: smooth steps, blends, sRGB colours as linear light."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float32]


def smooth_step(low: float, high: float, x: ArrayLike) -> Floats:
    """0 below ``low``, 1 above ``high``, smooth between; ``low`` may be the greater one.

    Examples
    --------
    >>> smooth_step(0, 1, [-1.0, 0.5, 2.0]).tolist()
    [0.0, 0.5, 1.0]
    """
    t = np.clip((np.asarray(x, np.float32) - np.float32(low)) / np.float32(high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)


def blend(a: ArrayLike, b: ArrayLike, share: ArrayLike) -> Floats:
    """``a`` where share is 0, ``b`` where it is 1."""
    first = np.asarray(a, np.float32)
    return np.asarray(first + (np.asarray(b, np.float32) - first) * np.asarray(share, np.float32), np.float32)


def srgb(red: float, green: float, blue: float) -> Floats:
    """Linear light of an sRGB colour given as 0..255.

    Examples
    --------
    >>> srgb(255, 188, 0).round(2).tolist()
    [1.0, 0.5, 0.0]
    """
    c = np.array([red, green, blue], np.float32) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4).astype(np.float32)
