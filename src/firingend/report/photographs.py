"""Where a report's pictures come from: each plug cut out of the photograph that shows it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from firingend.cases.case import CaseResult
from firingend.errors import PhotoError
from firingend.photo.load import load_picture
from firingend.photo.picture import Picture
from firingend.reading.reading import PhotoReading, Reading
from firingend.report.content import Outlined
from firingend.report.pictures import cut_out, square_around, whole
from firingend.report.plain import one_line
from firingend.report.words import label_words
from firingend.report.zones import outlined

ALL_PICTURES_BYTES = 1_000_000
"""What the pictures of one report may weigh together: with base64 a third more, and the mail still goes out."""

_SIDES = ((4, 640), (8, 480), (1000, 360))


@dataclass(frozen=True, slots=True)
class Shown:
    """A square JPEG of one plug, what it shows and where its parts are on it; or no picture and why."""

    jpeg: bytes | None
    words: str
    outlines: tuple[Outlined, ...] = ()


def show_plugs(result: CaseResult, side: int | None = None) -> Mapping[int, Shown]:
    """Picture of every cylinder's plug, each photograph opened once.

    Parameters
    ----------
    result
        The case.
    side
        Largest side of a picture in pixels; by the number of cylinders when None.

    A photograph that has gone or can no longer be read leaves its plugs without a picture; it never stops the
    report.
    """
    cylinders = result.case.engine.cylinders
    side = side or next(side for most, side in _SIDES if len(cylinders) <= most)
    most_bytes = ALL_PICTURES_BYTES // max(4, len(cylinders))
    shown = {cylinder: Shown(None, _no_photo(result, cylinder)) for cylinder in cylinders}
    for photo, photo_reading in zip(result.case.photos, result.photo_readings, strict=True):
        readings = {c: result.readings[c] for c in photo.cylinders if c in result.readings}
        try:
            picture = load_picture(photo.file, min_side=_needed(photo_reading, list(readings.values()), side))
        except PhotoError:
            gone = f"Photograph cannot be opened any more: {_name(photo.file)}"
            shown.update({cylinder: Shown(None, gone) for cylinder in readings})
            continue
        for cylinder, reading in readings.items():
            shown[cylinder] = _show(picture, cylinder, reading, side, most_bytes)
    return shown


def _no_photo(result: CaseResult, cylinder: int) -> str:
    if cylinder in result.case.typed:
        return "No photograph: label given by hand"
    return "No photograph and no label"


def _needed(photo: PhotoReading, readings: list[Reading], side: int) -> int | None:
    """Pixels the long side of the photograph needs so that its smallest cut-out has ``side`` of them."""
    boxes = [reading.firing_end.box for reading in readings if reading.firing_end is not None]
    smallest = min((square_around(box, photo.width, photo.height)[2] for box in boxes), default=None)
    if smallest is None:
        return side
    needed = math.ceil(max(photo.width, photo.height) * side / smallest)
    return None if needed > max(photo.width, photo.height) else needed


def _show(picture: Picture, cylinder: int, reading: Reading, side: int, most_bytes: int) -> Shown:
    if reading.firing_end is None:
        words = f"Photograph of cylinder {cylinder}, {_name(picture.file)}; no firing end was found in it"
        return Shown(whole(picture.pixels, side, most_bytes), words)
    jpeg = cut_out(picture.pixels, picture.scale, reading.firing_end.box, side, most_bytes)
    square = square_around(reading.firing_end.box, picture.full_width, picture.full_height)
    words = f"Firing end of cylinder {cylinder}, read as: {label_words(reading.label)}"
    return Shown(jpeg, words, outlined(reading, square))


def _name(file: Path) -> str:
    return one_line(file.name)
