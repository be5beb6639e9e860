"""What a photograph is once it has been read: pixels, where they came from, how good they are."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Pixels = NDArray[np.uint8] | Image.Image
"""sRGB pixels as a decoder gave them: an array (height, width, 3), or Pillow's picture. To make either of the other
takes longer than most of what is done with it."""


@dataclass(frozen=True, slots=True)
class Quality:
    """Measures of a photograph, or of one crop of it, that decide whether a reading can be trusted.

    Attributes
    ----------
    focus
        Variance of the Laplacian of 8-bit luma at a fixed scale (long side 512 px); larger is sharper.
    clipped_bright, clipped_dark
        Share of pixels at or above 250, at or below 5, in 0..1.
    mean_luma
        Mean 8-bit luma, 0..255.
    cast_degrees
        Angle between the estimated illuminant and neutral grey in linear RGB, degrees; a crop has its photograph's.
    flags
        Words for what is wrong, empty when nothing is: ``out of focus``, ``too dark``, ``blown out``,
        ``strong colour cast``.
    """

    focus: float
    clipped_bright: float
    clipped_dark: float
    mean_luma: float
    cast_degrees: float
    flags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Picture:
    """An upright sRGB photograph, possibly decoded at reduced scale.

    Attributes
    ----------
    file
        The file it came from.
    decoded
        Its pixels, upright (EXIF orientation applied); an array is read-only.
    full_width, full_height
        Size in pixels of the upright photograph at full scale; boxes are always given in these pixels.
    scale
        Width of ``decoded`` divided by ``full_width``: 1.0 at full scale, 0.25 for a quarter-scale decode.
    taken
        Capture time from EXIF, without time zone, or None. Position data is never kept.
    quality
        Measures of the whole photograph.
    orientation
        How the file stores it: EXIF orientation, 1..8.
    """

    file: Path
    decoded: Pixels = field(repr=False)
    full_width: int
    full_height: int
    scale: float
    taken: datetime | None
    quality: Quality
    orientation: int = 1

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of what was decoded, px."""
        return size_of(self.decoded)

    @cached_property
    def pixels(self) -> NDArray[np.uint8]:
        """uint8 array (height, width, 3), sRGB, upright, read-only."""
        return np.asarray(self.decoded)


def size_of(pixels: Pixels) -> tuple[int, int]:
    """Width and height."""
    if isinstance(pixels, Image.Image):
        return pixels.size
    height, width = pixels.shape[:2]
    return width, height


def as_image(pixels: Pixels) -> Image.Image:
    """As Pillow's picture."""
    return pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
