"""Spoil a photograph in graded steps: seven ways, five severities each.

Each is what phones, messengers and workshops do to pictures. The steps are this project's own choice (common
practice, no source); the idea of a graded suite is Hendrycks & Dietterich 2019, "Benchmarking neural network
robustness to common corruptions and perturbations" (ICLR).
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

from firingend.photo.colour import LINEAR_OF_BYTE

Pixels = NDArray[np.uint8]

SEVERITIES: Final = (1, 2, 3, 4, 5)

REFERENCE_SIDE: Final = 640
"""Widths in pixels below are those of a picture with this long side, and grow with it."""

BLUR_SIGMA_PX: Final = (0.7, 1.2, 1.8, 2.6, 3.6)
NOISE_SIGMA: Final = (0.010, 0.02, 0.035, 0.055, 0.08)
"""Standard deviation at mid grey in linear light; it grows with the square root of the light, as photons do."""
CAST_STRENGTH: Final = (0.08, 0.16, 0.24, 0.34, 0.45)
"""Share by which one end of the spectrum is raised and the other lowered, in linear light."""
EXPOSURE_EV: Final = (0.5, 1.0, 1.5, 2.0, 2.5)
JPEG_QUALITY: Final = (50, 30, 20, 12, 7)
SHRINK: Final = (1.5, 2.0, 3.0, 4.0, 6.0)
STRETCH: Final = (1.1, 1.2, 1.33, 1.5, 1.78)
"""1.33 is a 4:3 picture squeezed into a square, 1.78 a 16:9 one."""


def corrupt(pixels: Pixels, kind: str, severity: int, seed: int) -> Pixels:
    """Spoil a picture.

    Parameters
    ----------
    pixels
        uint8 (height, width, 3), sRGB.
    kind
        One of ``KINDS``.
    severity
        1 to 5.
    seed
        Decides the noise and, where there are two directions (darker or brighter, warm or cold, wide or tall),
        which one; the same seed takes the same direction at every severity.

    Returns
    -------
    uint8, of the same size but for ``aspect``, whose width or height changes.
    """
    if severity not in SEVERITIES:
        raise ValueError(f"severity {severity} is none of {SEVERITIES}")
    return _SPOILERS[kind](pixels, severity - 1, np.random.default_rng(seed))


def _blur(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    radius = BLUR_SIGMA_PX[step] * max(pixels.shape[:2]) / REFERENCE_SIDE
    return np.asarray(Image.fromarray(pixels).filter(ImageFilter.GaussianBlur(radius)))


def _noise(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    linear = LINEAR_OF_BYTE[pixels].astype(np.float32)
    # Coarser on a larger picture, or averaging down to what the reader sees would take all of it out again.
    grain = max(1, round(max(pixels.shape[:2]) / REFERENCE_SIDE))
    height, width = (-(-side // grain) for side in pixels.shape[:2])
    normal = rng.standard_normal((height, width, 3), dtype=np.float32)
    normal = normal.repeat(grain, axis=0).repeat(grain, axis=1)[: pixels.shape[0], : pixels.shape[1]]
    sigma = NOISE_SIGMA[step] * np.sqrt(np.maximum(linear, 0.02) / 0.18)
    return _encoded(linear + sigma * normal)


def _cast(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    strength = CAST_STRENGTH[step]
    warm = np.array([1 + strength, 1.0, 1 - strength], np.float32)
    gain = warm if rng.random() < 0.5 else warm[::-1]
    return _encoded(LINEAR_OF_BYTE[pixels] * (gain / (1 + strength)))


def _exposure(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    ev = EXPOSURE_EV[step] * (1 if rng.random() < 0.5 else -1)
    return _encoded(LINEAR_OF_BYTE[pixels] * np.float32(2.0**ev))


def _jpeg(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=JPEG_QUALITY[step])
    return np.asarray(Image.open(stream).convert("RGB"))


def _resolution(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    image = Image.fromarray(pixels)
    # From the reference size, so that a 12-megapixel photograph is spoilt as much as a small one.
    factor = SHRINK[step] * max(1.0, max(image.size) / REFERENCE_SIDE)
    small = (max(1, round(image.width / factor)), max(1, round(image.height / factor)))
    coarse = image.resize(small, Image.Resampling.BOX)
    return np.asarray(coarse.resize(image.size, Image.Resampling.BICUBIC))


def _aspect(pixels: Pixels, step: int, rng: np.random.Generator) -> Pixels:
    image = Image.fromarray(pixels)
    factor = STRETCH[step]
    if rng.random() < 0.5:
        size = (max(1, round(image.width / factor)), image.height)
    else:
        size = (image.width, max(1, round(image.height / factor)))
    return np.asarray(image.resize(size, Image.Resampling.BILINEAR))


def _encoded(linear: NDArray[np.floating[Any]]) -> Pixels:
    """Linear light, clipped to 0..1, as 8-bit sRGB; through a table, which is several times faster than powers."""
    index = (np.clip(linear, 0, 1) * np.float32(_TABLE_STEPS) + np.float32(0.5)).astype(np.uint16)
    encoded: Pixels = _BYTE_OF_LINEAR[index]
    return encoded


_TABLE_STEPS: Final = 65535


def _byte_table() -> Pixels:
    linear = np.arange(_TABLE_STEPS + 1) / _TABLE_STEPS
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(encoded * 255).astype(np.uint8)


_BYTE_OF_LINEAR: Final = _byte_table()

_SPOILERS: Final[dict[str, Callable[[Pixels, int, np.random.Generator], Pixels]]] = {
    "blur": _blur,
    "noise": _noise,
    "colour cast": _cast,
    "exposure": _exposure,
    "jpeg": _jpeg,
    "resolution": _resolution,
    "aspect": _aspect,
}

KINDS: Final = tuple(_SPOILERS)
