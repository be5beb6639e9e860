"""How good a photograph, or one crop of it, is: focus, exposure, colour cast."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from firingend.photo.colour import LINEAR_OF_BYTE
from firingend.photo.picture import Pixels, Quality, as_image

FOCUS_LONG_SIDE: Final = 512
"""Pixels on the long side at which focus is measured: variance of the Laplacian depends on scale, so the scale
is fixed. Smaller pictures are measured as they are, because enlarging them would read as blur."""

_CAST_LONG_SIDE: Final = 64
"""Pixels on the long side at which the colour cast is estimated: colour needs no detail, and averaging takes
noise and chroma subsampling out of it."""

BRIGHT: Final = 250
DARK: Final = 5
"""An 8-bit value at or beyond these counts as clipped."""

_BRIGHT_END: Final = slice(BRIGHT, 256)
_DARK_END: Final = slice(0, DARK + 1)

OUT_OF_FOCUS: Final = "out of focus"
TOO_DARK: Final = "too dark"
BLOWN_OUT: Final = "blown out"
STRONG_CAST: Final = "strong colour cast"


@dataclass(frozen=True, slots=True)
class QualityLimits:
    """When a measure becomes a flag. All of them common practice, no source.

    Attributes
    ----------
    min_focus
        Variance of the Laplacian below which a picture is out of focus. No universal value exists; this one is
        low on purpose, and the reader brings a limit of its own for crops.
    min_brightest
        Too dark: even the brightest fiftieth of the pixels stays below this 8-bit luma. The mean would not do,
        because a sooty plug on a black cloth is a good photograph.
    max_clipped_bright, max_darkest
        Blown out: more than this share of values is clipped bright, and the darkest fiftieth of the pixels is
        brighter than this luma. Clipping alone would not do, because white paper under a plug clips by right.
    max_cast_degrees
        Angle between the estimated light and neutral beyond which the cast is strong.
    """

    min_focus: float = 12.0
    min_brightest: float = 50.0
    max_clipped_bright: float = 0.30
    max_darkest: float = 110.0
    max_cast_degrees: float = 15.0


LIMITS: Final = QualityLimits()

_LINEAR: Final = LINEAR_OF_BYTE.astype(np.float64)

_MINKOWSKI: Final = 6  # Finlayson & Trezzi 2004, "Shades of gray and colour constancy": p = 6 best on their data


def measure(pixels: Pixels, limits: QualityLimits = LIMITS, cast: float | None = None) -> Quality:
    """Measure a picture or a crop.

    Parameters
    ----------
    pixels
        sRGB, at least 1 x 1.
    limits
        When a measure becomes a flag.
    cast
        The colour cast, degrees, where it is known: a crop has that of its photograph, since what fills the crop has a
        colour of its own. None has it measured.

    Returns
    -------
    Quality
        Clipping is the share of all 8-bit values (three a pixel); see `cast_degrees` for the colour cast.
    """
    image = as_image(pixels)  # one copy of the pixels as Pillow wants them, for all that is measured on them
    values = np.reshape(image.histogram(), (3, 256)).sum(axis=0)
    clipped_bright, clipped_dark = (float(values[ends].sum() / values.sum()) for ends in (_BRIGHT_END, _DARK_END))
    small = _shrunk(image, FOCUS_LONG_SIDE)
    luma = small.convert("L")
    counts = np.array(luma.histogram())
    mean_luma = float(counts @ np.arange(256)) / counts.sum()
    darkest, brightest = _fiftieths(counts)
    focus = laplacian_variance(np.asarray(luma))
    if cast is None:
        cast = _cast_degrees(np.asarray(_shrunk(small, _CAST_LONG_SIDE)))

    flags = []
    if brightest < limits.min_brightest:
        flags.append(TOO_DARK)
    if clipped_bright > limits.max_clipped_bright and darkest > limits.max_darkest:
        flags.append(BLOWN_OUT)
    if focus < limits.min_focus:
        flags.append(OUT_OF_FOCUS)
    if cast > limits.max_cast_degrees:
        flags.append(STRONG_CAST)
    return Quality(focus, clipped_bright, clipped_dark, mean_luma, cast, tuple(flags))


def shrink(pixels: NDArray[np.uint8], long_side: int) -> NDArray[np.uint8]:
    """Area-average a picture down so that its long side is ``long_side`` px; smaller ones come back unchanged."""
    return pixels if max(pixels.shape[:2]) <= long_side else np.asarray(_shrunk(Image.fromarray(pixels), long_side))


def _shrunk(image: Image.Image, long_side: int) -> Image.Image:
    """As `shrink`."""
    factor = long_side / max(image.size)
    if factor >= 1:
        return image
    size = (max(1, round(image.width * factor)), max(1, round(image.height * factor)))
    return image.resize(size, Image.Resampling.BOX)


def luma_of(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """8-bit luma (ITU-R BT.601 weights, rounded) of (height, width, 3) sRGB pixels."""
    return np.asarray(Image.fromarray(pixels).convert("L"))


def _fiftieths(counts: NDArray[np.int_]) -> tuple[int, int]:
    """The luma below which the darkest, and above which the brightest, fiftieth of the pixels lies.

    Of a histogram: how many pixels have each of the 256 values.
    """
    below = np.cumsum(counts) / counts.sum()
    return int(np.searchsorted(below, 0.02)), int(np.searchsorted(below, 0.98))


def laplacian_variance(luma: NDArray[np.uint8]) -> float:
    """Variance of the four-neighbour Laplacian, edges mirrored about the outermost pixel.

    References
    ----------
    Pech-Pacheco et al. 2000, "Diatom autofocusing in brightfield microscopy", ICPR.

    Examples
    --------
    >>> checkerboard = (np.indices((32, 32)).sum(axis=0) % 2 * 255).astype(np.uint8)
    >>> laplacian_variance(checkerboard)
    1040400.0
    """
    padded = np.pad(luma.astype(np.int16), 1, mode="reflect")
    centre = padded[1:-1, 1:-1]
    laplacian = padded[:-2, 1:-1] + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:] - 4 * centre
    # Exact integer moments: faster than float64 over the picture, and the same on every machine.
    flat = laplacian.ravel().astype(np.int32)
    total, squares = int(flat.sum(dtype=np.int64)), int(np.square(flat).sum(dtype=np.int64))
    return squares / flat.size - (total / flat.size) ** 2


def illuminant(pixels: NDArray[np.uint8], p: int = _MINKOWSKI) -> NDArray[np.float64]:
    """Estimate the colour of the light as the Minkowski mean of linear RGB.

    Parameters
    ----------
    pixels
        (height, width, 3) uint8 sRGB.
    p
        1 is grey-world (Buchsbaum 1980); larger leans towards the brightest things in the picture, which on a
        plug are glints on metal and carry the colour of the light rather than of the deposit.

    Returns
    -------
    (3,) unit vector of linear RGB; neutral when every pixel is black or clipped.
    """
    return _light_of(_counts(_unclipped(pixels)), p)


def _counts(usable: NDArray[np.uint8]) -> NDArray[np.int_]:
    """How many unclipped pixels, whose channels are (3, n), have each of the 256 values: (3, 256)."""
    return np.array([np.bincount(channel, minlength=256) for channel in usable])


def _light_of(counts: NDArray[np.int_], p: int) -> NDArray[np.float64]:
    """As `illuminant`, of the counts of the unclipped pixels' values."""
    powers = _LINEAR**p  # of the 256 possible values, not of every pixel
    pixels = counts[0].sum()
    mean = (counts @ powers / pixels) ** (1 / p) if pixels else np.ones(3)
    length = float(np.linalg.norm(mean))
    return mean / length if length > 0 else np.full(3, 3**-0.5)


def angle_to_neutral(rgb: NDArray[np.float64]) -> float:
    """Angle between a linear RGB vector and grey, degrees.

    Examples
    --------
    >>> round(angle_to_neutral(np.array([1.0, 0.8, 0.6])), 5)
    11.53696
    """
    cosine = float(rgb.sum()) / (3**0.5 * float(np.linalg.norm(rgb)))
    return float(np.degrees(np.arccos(min(1.0, cosine))))


def cast_degrees(pixels: NDArray[np.uint8]) -> float:
    """How far the light seems from neutral, degrees; errs towards "no cast".

    A frame full of tan nose or brown rag is no cast, and grey-world calls it one. A coloured light tints
    everything alike, a brown thing leaves the rest of the picture alone. So three estimates are made: Minkowski
    mean with p = 6, grey-world, and the mean of the most nearly neutral fiftieth of the mid-bright pixels (the
    white insulators of a row of plugs on cardboard are not much more). The smallest angle counts: all three must
    agree before a cast is claimed.
    """
    return _cast_degrees(shrink(pixels, _CAST_LONG_SIDE))


def _cast_degrees(small: NDArray[np.uint8]) -> float:
    usable = _unclipped(small)
    counts = _counts(usable)
    estimates = [angle_to_neutral(_light_of(counts, p)) for p in (_MINKOWSKI, 1)]
    return min(*estimates, _most_neutral_degrees(usable))


def _unclipped(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Channels (3, n) of the pixels of which none is clipped bright: clipping loses the colour of the light."""
    channels = np.ascontiguousarray(pixels.reshape(-1, 3).T)
    return channels[:, channels.max(axis=0, initial=0) < BRIGHT]


def _most_neutral_degrees(usable: NDArray[np.uint8]) -> float:
    cosines, nearest, _ = _most_neutral(usable)
    if not nearest.size:
        return 0.0
    return float(np.degrees(np.arccos(np.clip(cosines[nearest], -1.0, 1.0))).mean())


def most_neutral_light(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Colour of the most nearly neutral fiftieth of the pixels that are neither dark nor clipped.

    A camera has balanced its picture before anybody else does, so most of what is left is the colour of things: a
    brown table draws the other estimates (`illuminant`) with it, bare metal and ceramic on it hardly change this one.

    Returns
    -------
    (3,) unit vector of linear RGB; neutral when every pixel is dark or clipped.
    """
    _, nearest, linear = _most_neutral(_unclipped(pixels))
    if not nearest.size:
        return np.full(3, 3**-0.5)
    directions = linear[:, nearest] / np.linalg.norm(linear[:, nearest], axis=0)
    mean = directions.mean(axis=1)
    light: NDArray[np.float64] = mean / np.linalg.norm(mean)
    return light


def _most_neutral(usable: NDArray[np.uint8]) -> tuple[NDArray[np.float64], NDArray[np.intp], NDArray[np.float64]]:
    """Cosines (n,) of mid-bright pixels to grey, places of the fiftieth nearest to it, the pixels as linear (3, n)."""
    channels = usable[:, usable.max(axis=0, initial=0) >= 60]  # darker ones are mostly noise and subsampling
    linear = _LINEAR[channels]
    if not channels.size:
        return np.empty(0), np.empty(0, np.intp), linear
    cosines = linear.sum(axis=0) / np.sqrt(3 * np.square(linear).sum(axis=0))
    few = max(1, len(cosines) // 50)
    return cosines, np.argpartition(cosines, len(cosines) - few)[-few:], linear
