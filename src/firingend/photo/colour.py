"""Colour arithmetic: sRGB and linear light, CIELAB under D65, colour differences by CIEDE2000."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

WHITE_D65: Final = (0.95046, 1.0, 1.08906)
"""XYZ of D65 from its chromaticity (0.3127, 0.3290), Y = 1 (ISO/CIE 11664-2)."""

# The XYZ of linear sRGB primaries, IEC 61966-2-1:1999, derived from the primaries' chromaticities rather than
# copied rounded to four places, so that equal R, G and B give exactly neutral Lab.
_PRIMARIES: Final = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))

_EPSILON: Final = 216 / 24389  # CIE 15: where the cube root gives way to a straight line
_KAPPA: Final = 24389 / 27


def _xyz_from_linear_matrix() -> Floats:
    columns = np.array([(x / y, 1.0, (1 - x - y) / y) for x, y in _PRIMARIES]).T
    matrix: Floats = columns * np.linalg.solve(columns, np.array(WHITE_D65))
    return matrix


_XYZ_FROM_LINEAR: Final = _xyz_from_linear_matrix()


def srgb_to_linear(encoded: ArrayLike) -> Floats:
    """Decode sRGB to linear light (IEC 61966-2-1:1999).

    Parameters
    ----------
    encoded
        sRGB values, any shape, 0..1.

    Returns
    -------
    Linear values of the same shape, 0..1.
    """
    value = np.asarray(encoded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.0) + 0.055) / 1.055) ** 2.4)


def linear_to_srgb(linear: ArrayLike) -> Floats:
    """Encode linear light as sRGB (IEC 61966-2-1:1999); shapes and range as in `srgb_to_linear`."""
    value = np.asarray(linear, dtype=np.float64)
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * np.maximum(value, 0.0) ** (1 / 2.4) - 0.055)


LINEAR_OF_BYTE: Final[NDArray[np.float32]] = srgb_to_linear(np.arange(256) / 255).astype(np.float32)
"""Linear light of each 8-bit sRGB value: ``LINEAR_OF_BYTE[pixels]`` is the fast way to decode a picture."""


def srgb_to_lab(pixels: ArrayLike) -> Floats:
    """CIELAB (D65, 2° observer) of sRGB colours.

    Parameters
    ----------
    pixels
        (..., 3): uint8 in 0..255, or floating point in 0..1.

    Returns
    -------
    (..., 3) with L* in 0..100, a*, b*.
    """
    value = np.asarray(pixels)
    linear = LINEAR_OF_BYTE[value].astype(np.float64) if value.dtype == np.uint8 else srgb_to_linear(value)
    return linear_to_lab(linear)


def linear_to_lab(linear: ArrayLike) -> Floats:
    """CIELAB (D65, 2° observer) of linear sRGB (..., 3), 0..1."""
    return xyz_to_lab(np.asarray(linear, dtype=np.float64) @ _XYZ_FROM_LINEAR.T)


def xyz_to_lab(xyz: ArrayLike) -> Floats:
    """CIELAB of XYZ (..., 3) with Y of white = 1, relative to D65 (ISO/CIE 11664-4)."""
    ratio = np.asarray(xyz, dtype=np.float64) / WHITE_D65
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16) / 116)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack((116 * y - 16, 500 * (x - y), 200 * (y - z)), axis=-1)


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> Floats:
    """Colour difference ΔE00 between CIELAB colours (ISO/CIE 11664-6), with kL = kC = kH = 1.

    Parameters
    ----------
    lab1, lab2
        (..., 3); shapes broadcast.

    Returns
    -------
    (...) differences; about 1 is just noticeable side by side.

    References
    ----------
    Sharma, Wu & Dalal 2005, "The CIEDE2000 color-difference formula", Color Res. Appl. 30(1) 21-30; the steps
    below follow its numbering.

    Examples
    --------
    >>> round(float(ciede2000((50, 2.6772, -79.7751), (50, 0, -82.7485))), 4)
    2.0425
    """
    first, second = np.asarray(lab1, dtype=np.float64), np.asarray(lab2, dtype=np.float64)
    lightness1, chroma1, hue1, lightness2, chroma2, hue2 = _adjusted_lch(first, second)

    d_lightness = lightness2 - lightness1
    d_chroma = chroma2 - chroma1
    d_hue_angle = _hue_difference(hue1, hue2, chroma1 * chroma2)
    d_hue = 2 * np.sqrt(chroma1 * chroma2) * np.sin(np.radians(d_hue_angle) / 2)

    lightness, chroma = (lightness1 + lightness2) / 2, (chroma1 + chroma2) / 2
    hue = _mean_hue(hue1, hue2, chroma1 * chroma2)
    t = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    s_lightness = 1 + 0.015 * (lightness - 50) ** 2 / np.sqrt(20 + (lightness - 50) ** 2)
    s_chroma = 1 + 0.045 * chroma
    s_hue = 1 + 0.015 * chroma * t
    rotation = -np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2)))) * 2 * _chroma_weight(chroma)

    lightness_term, chroma_term, hue_term = d_lightness / s_lightness, d_chroma / s_chroma, d_hue / s_hue
    squared = lightness_term**2 + chroma_term**2 + hue_term**2 + rotation * chroma_term * hue_term
    difference: Floats = np.sqrt(np.maximum(squared, 0.0))
    return difference


def _chroma_weight(chroma: Floats) -> Floats:
    """sqrt(C^7 / (C^7 + 25^7)): how strongly colourful colours are treated apart from near greys."""
    seventh = chroma**7
    weight: Floats = np.sqrt(seventh / (seventh + 25.0**7))
    return weight


def _adjusted_lch(first: Floats, second: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """Steps 2-7: lightness, chroma and hue angle (degrees, 0..360) after stretching a* near the grey axis."""
    mean_chroma = (np.hypot(first[..., 1], first[..., 2]) + np.hypot(second[..., 1], second[..., 2])) / 2
    stretch = 1 + 0.5 * (1 - _chroma_weight(mean_chroma))
    parts: list[Floats] = []
    for lab in (first, second):
        a, b = lab[..., 1] * stretch, lab[..., 2]
        parts += [lab[..., 0], np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360]
    return parts[0], parts[1], parts[2], parts[3], parts[4], parts[5]


def _hue_difference(hue1: Floats, hue2: Floats, chroma_product: Floats) -> Floats:
    """Step 10: the shorter way round from hue1 to hue2, degrees; 0 when either colour is grey."""
    difference = hue2 - hue1
    difference = np.where(difference > 180, difference - 360, difference)
    difference = np.where(difference < -180, difference + 360, difference)
    return np.where(chroma_product == 0, 0.0, difference)


def _mean_hue(hue1: Floats, hue2: Floats, chroma_product: Floats) -> Floats:
    """Step 14: the mean hue on the shorter arc, degrees; the sum when either colour is grey."""
    total = hue1 + hue2
    apart = np.abs(hue1 - hue2) > 180
    mean = np.where(apart, np.where(total < 360, total + 360, total - 360), total) / 2
    return np.where(chroma_product == 0, total, mean)
