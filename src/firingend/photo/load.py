"""Read a photograph from disk: the right picture, or an error that says what to do about it."""

from __future__ import annotations

import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from math import ceil, nan
from os import PathLike
from pathlib import Path
from typing import IO, Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFile

from firingend.errors import PhotoError
from firingend.photo.eight_bit import flatten, is_srgb, to_srgb
from firingend.photo.exif import bare, read_exif, stored_rows, turns_sideways, upright
from firingend.photo.formats import HEAD_BYTES, KNOWN, kind_of, open_header
from firingend.photo.jpeg import rgb_pixels
from firingend.photo.picture import Picture, Pixels, Quality, size_of
from firingend.photo.quality import measure

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in pixels of the upright full-scale photograph."""

_Decoded = tuple[Pixels, tuple[int, int], datetime | None, int]
"""Upright sRGB pixels (an array read-only), the upright full size (width, height), capture time, orientation stored."""


@dataclass(frozen=True, slots=True)
class LoadLimits:
    """What is too large to be a photograph.

    Attributes
    ----------
    max_pixels
        Width times height. The largest phone sensors make 200 million.
    max_bytes
        Size of the file.
    """

    max_pixels: int = 200_000_000
    max_bytes: int = 200 * 1024 * 1024


LIMITS: Final = LoadLimits()

_UNMEASURED: Final = Quality(nan, nan, nan, nan, nan)
_REDUCTIONS: Final = (8, 4, 2, 1)  # what a JPEG decoder can do while decoding
_BESIDE: Final = 32  # full-scale rows around a place that filters reach at up to eight of them a pixel
_AT_ONCE: Final = 1 << 18  # bytes of a file handed to a decoder: after each portion it has to find its place again
_SMALL: Final = 1 << 20  # pixels up to which a picture may be copied once more
_COPY_AGAIN: Final = "copy it from the phone or camera again"


def load_picture(path: str | PathLike[str], *, min_side: int | None = None, limits: LoadLimits = LIMITS) -> Picture:
    """Read a photograph, upright and in sRGB.

    JPEG, PNG, WebP, TIFF and HEIC (also GIF and BMP) are told apart by their content, not by their name. Of an
    animation or a multi-page file the first picture is read, as a viewer would show it.

    Parameters
    ----------
    path
        The file.
    min_side
        Pixels the long side must keep. The picture is reduced to 1/2, 1/4 or 1/8, whichever is smallest and
        still has them; a JPEG is decoded at that scale, which is several times faster. None reads at full scale.
    limits
        What is too large.

    Returns
    -------
    Picture

    Raises
    ------
    PhotoError
        When the file is missing, empty, too large, damaged, cut short or no photograph.
    """
    picture = load_unmeasured(path, min_side=min_side, limits=limits)
    return replace(picture, quality=measure(picture.decoded))


def load_unmeasured(path: str | PathLike[str], *, min_side: int | None = None, limits: LoadLimits = LIMITS) -> Picture:
    """Read a photograph as `load_picture` does, but leave its measures to the caller."""
    file = Path(path)
    _check_file(file, limits)
    decoded, full_size, taken, orientation = _decode(file, min_side, limits)
    return Picture(
        file=file,
        decoded=decoded,
        full_width=full_size[0],
        full_height=full_size[1],
        scale=size_of(decoded)[0] / full_size[0],
        taken=taken,
        quality=_UNMEASURED,
        orientation=orientation,
    )


def load_finer(picture: Picture, min_side: int, within: Box | None = None, limits: LoadLimits = LIMITS) -> Picture:
    """Read the same file again with at least ``min_side`` pixels on its long side; its measures are kept.

    Where only the pixels ``within`` a box of the full-scale photograph are wanted, those of a JPEG may be black that
    are stored below it: decoding ends there.
    """
    rows = None if within is None else rows_to_decode(picture, within)
    decoded, full_size, *_ = _decode(picture.file, min_side, limits, rows)
    return replace(picture, decoded=decoded, scale=size_of(decoded)[0] / full_size[0])


def rows_to_decode(picture: Picture, within: Box) -> int:
    """How many full-scale rows of the file, from the first, hold a box of the photograph and what lies around it."""
    return max(1, ceil(stored_rows(within, (picture.full_width, picture.full_height), picture.orientation)) + _BESIDE)


def reduction_for(size: tuple[int, int], min_side: int | None) -> int:
    """The largest of 1, 2, 4, 8 by which a picture can be reduced and keep ``min_side`` px on its long side.

    Examples
    --------
    >>> reduction_for((4000, 3000), 512), reduction_for((4000, 3000), None), reduction_for((300, 200), 512)
    (4, 1, 1)
    """
    if min_side is None:
        return 1
    return next((r for r in _REDUCTIONS if max(size) >= r * min_side), 1)


def _check_file(file: Path, limits: LoadLimits) -> None:
    try:
        size = file.stat().st_size
        if file.is_dir():
            raise PhotoError(f"{file} is a folder", "name the photographs inside it")
        if not file.is_file():
            raise PhotoError(f"{file} is not an ordinary file", "name a photograph")
    except FileNotFoundError:
        raise PhotoError(f"{file} does not exist", "check the name and the folder") from None
    except (OSError, ValueError) as error:
        raise PhotoError(f"{file} cannot be opened ({_cause(error)})", "check the name and the permissions") from None
    if size == 0:
        raise PhotoError(f"{file} is empty (0 bytes)", _COPY_AGAIN)
    if size > limits.max_bytes:
        raise PhotoError(
            f"{file} has {size / 1e6:.0f} MB, more than the {limits.max_bytes / 1e6:.0f} MB allowed",
            "save a smaller JPEG of it",
        )


def _decode(file: Path, min_side: int | None, limits: LoadLimits, rows: int | None = None) -> _Decoded:
    try:
        with file.open("rb") as stream, _decoder_warnings_silenced():
            kind = kind_of(stream.read(HEAD_BYTES))
            if not kind:
                raise PhotoError(f"{file} is not a photograph of a kind known here ({KNOWN})", "save it as JPEG")
            stream.seek(0)
            image = open_header(kind, stream)
            _check_pixels(file, image.size, limits)
            return _pixels_of(image, stream, min_side, rows)
    except PhotoError:
        raise
    except MemoryError:
        raise PhotoError(f"{file} does not fit into memory", "save a smaller JPEG of it") from None
    except Exception as error:
        # Decoders meet hostile bytes and raise nearly anything; whatever it is, the file is at fault.
        raise PhotoError(f"{file} is damaged or cut short ({_cause(error)})", _COPY_AGAIN) from error


def _check_pixels(file: Path, size: tuple[int, int], limits: LoadLimits) -> None:
    if size[0] * size[1] > limits.max_pixels:
        raise PhotoError(
            f"{file} claims {size[0]} x {size[1]} pixels, more than the {limits.max_pixels / 1e6:.0f} million allowed",
            "save a smaller JPEG of it",
        )


def _pixels_of(image: Image.Image, stream: IO[bytes], min_side: int | None, rows: int | None) -> _Decoded:
    full_size, reduction = image.size, reduction_for(image.size, min_side)
    decoded: Pixels | None = _straight(image, stream, reduction, rows)
    if decoded is None:
        decoded = _by_pillow(image, reduction)
    orientation, taken = read_exif(image)  # after the pixels: a PNG may keep it behind them
    if isinstance(decoded, Image.Image) and decoded.width * decoded.height <= _SMALL:
        decoded = bare(decoded, orientation)
    else:
        decoded = upright(np.asarray(decoded), orientation)
        decoded.flags.writeable = False
    return decoded, full_size[::-1] if turns_sideways(orientation) else full_size, taken, orientation


def _straight(image: Image.Image, stream: IO[bytes], reduction: int, rows: int | None) -> NDArray[np.uint8] | None:
    """The pixels of a colour JPEG whose decoder need not be Pillow's; None for anything else."""
    if image.format not in ("JPEG", "MPO") or image.mode != "RGB" or not is_srgb(image.info.get("icc_profile")):
        return None
    if reduction == _REDUCTIONS[0]:
        return None  # so few pixels that Pillow, which need not hold the whole file, is as fast
    stream.seek(0)
    return rgb_pixels(stream.read(), image.size, reduction, rows)


def _by_pillow(image: Image.Image, reduction: int) -> Image.Image:
    """The pixels of any kind of picture in sRGB, reduced; a JPEG's while it is decoded."""
    full_size = image.size
    if isinstance(image, ImageFile.ImageFile):
        image.decodermaxblock = _AT_ONCE
    if reduction > 1 and image.format in ("JPEG", "MPO"):
        image.draft(None, (full_size[0] // reduction, full_size[1] // reduction))
    image.load()
    flat = flatten(image)
    if reduction > 1 and flat.size == full_size:
        flat = flat.reduce(reduction)
    return to_srgb(flat, image.info.get("icc_profile"))


def _cause(error: BaseException) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error).splitlines()[0] if str(error) else type(error).__name__


_silence = threading.Lock()
_silent_depth = 0
_saved_filters: warnings.catch_warnings[None] | None = None


@contextmanager
def _decoder_warnings_silenced() -> Iterator[None]:
    """Keep decoders' remarks about odd metadata off the user's screen.

    ``warnings.catch_warnings`` alone would mix up the filters when two threads decode at once, so the first one
    in sets them and the last one out puts them back.
    """
    global _silent_depth, _saved_filters
    with _silence:
        if _silent_depth == 0:
            _saved_filters = warnings.catch_warnings()
            _saved_filters.__enter__()
            warnings.filterwarnings("ignore", module=r"PIL\.|pillow_heif\.|firingend\.photo\.")
        _silent_depth += 1
    try:
        yield
    finally:
        with _silence:
            _silent_depth -= 1
            if _silent_depth == 0 and _saved_filters is not None:
                _saved_filters.__exit__(None, None, None)
                _saved_filters = None
