"""The two things kept of a photograph's EXIF block: which way is up, and when it was taken."""

from __future__ import annotations

from datetime import datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

_ORIENTATION: Final = 0x0112
_DATE_TIME: Final = 0x0132
_EXIF_IFD: Final = 0x8769
_DATE_TIME_ORIGINAL: Final = 0x9003
_DATE_TIME_DIGITIZED: Final = 0x9004

UPRIGHT: Final = 1
_MIRRORED: Final = (2, 4, 5, 7)
_QUARTER_TURNS: Final = {3: 2, 4: 2, 5: 1, 6: 3, 7: 3, 8: 1}  # anticlockwise, after mirroring left to right
_TURNED: Final = {1: Image.Transpose.ROTATE_90, 2: Image.Transpose.ROTATE_180, 3: Image.Transpose.ROTATE_270}


def read_exif(image: Image.Image) -> tuple[int, datetime | None]:
    """Orientation (1..8, 1 when absent or nonsense) and capture time (None when absent or nonsense)."""
    try:
        exif = image.getexif()
        orientation = exif.get(_ORIENTATION, UPRIGHT)
        details = exif.get_ifd(_EXIF_IFD)
        stamps = (details.get(_DATE_TIME_ORIGINAL), details.get(_DATE_TIME_DIGITIZED), exif.get(_DATE_TIME))
    except Exception:
        # A damaged EXIF block raises nearly anything, and is no reason to refuse the picture behind it.
        return UPRIGHT, None
    taken = next((time for stamp in stamps if (time := parse_time(stamp)) is not None), None)
    return (orientation if orientation in range(1, 9) else UPRIGHT), taken


def parse_time(stamp: object) -> datetime | None:
    """Time of an EXIF stamp ``YYYY:MM:DD HH:MM:SS``; None for anything else, such as a camera's unset clock.

    Examples
    --------
    >>> parse_time("2024:05:17 09:30:00"), parse_time("0000:00:00 00:00:00")
    (datetime.datetime(2024, 5, 17, 9, 30), None)
    """
    if not isinstance(stamp, str):
        return None
    try:
        return datetime.strptime(stamp.strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None


def turns_sideways(orientation: int) -> bool:
    """True when making the picture upright swaps width and height."""
    return orientation >= 5


def stored_rows(box: tuple[float, float, float, float], size: tuple[int, int], orientation: int) -> float:
    """How many rows from the top of the stored picture hold a box (x0, y0, x1, y1) of the upright one.

    Parameters
    ----------
    box
        In pixels of the upright picture.
    size
        (width, height) of the upright picture.
    orientation
        1..8.

    Examples
    --------
    >>> [stored_rows((10, 20, 30, 40), (400, 300), orientation) for orientation in (1, 3, 6, 8)]
    [40, 280, 390, 30]
    """
    x0, y0, x1, y1 = box
    if turns_sideways(orientation):  # a stored row is an upright column
        return size[0] - x0 if orientation in (6, 7) else x1
    return size[1] - y0 if orientation in (3, 4) else y1


def upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Mirror and turn pixels (height, width, 3) so that what was up is up; as they are where it is up already."""
    if orientation == UPRIGHT:
        return pixels
    mirrored = pixels[:, ::-1] if orientation in _MIRRORED else pixels
    return np.ascontiguousarray(np.rot90(mirrored, _QUARTER_TURNS.get(orientation, 0)))


def bare(image: Image.Image, orientation: int) -> Image.Image:
    """A copy turned as `upright` does it, without what the file says besides: where it was taken is never kept."""
    alone = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if orientation in _MIRRORED else image.copy()
    if turns := _QUARTER_TURNS.get(orientation):
        alone = alone.transpose(_TURNED[turns])
    alone.info.clear()
    return alone
