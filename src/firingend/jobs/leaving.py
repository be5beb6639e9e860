"""Photographs as they leave the shop: the same pixels, without where they were taken.

Of what a file holds besides its pixels only the colour profile, which way is up and the camera's time are kept. A
JPEG and a PNG keep their compressed pixels bit for bit; other kinds leave as a JPEG of high quality.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

from PIL import Image

from firingend.photo.exif import UPRIGHT, read_exif
from firingend.photo.formats import HEAD_BYTES, kind_of, open_header
from firingend.photo.load import load_picture
from firingend.photo.picture import as_image

_PNG_HEAD: Final = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT: Final = frozenset(
    (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"pHYs", b"bKGD")
)
_JPEG_BARE: Final = frozenset((0x01, *range(0xD0, 0xD8)))
_QUALITY: Final = 95


class _OddlyMade(Exception):
    """A file whose parts cannot be told apart."""


def without_location(file: Path) -> tuple[bytes, str]:
    """Bytes of a photograph that may leave, and the ending of its name.

    Doing it twice changes nothing more.

    Raises
    ------
    PhotoError
        The photograph is missing or damaged.
    """
    load_picture(file, min_side=64)  # names the file if it is none
    data = file.read_bytes()
    kind = kind_of(data[:HEAD_BYTES])
    try:
        if kind == "JPEG":
            return _jpeg(data), ".jpg"
        if kind == "PNG":
            return _png(data), ".png"
    except _OddlyMade:
        pass
    picture = load_picture(file)
    stream = io.BytesIO()
    profile = _exif(UPRIGHT, picture.taken)
    as_image(picture.decoded).save(stream, "JPEG", quality=_QUALITY, subsampling=0, exif=profile)
    return _jpeg(stream.getvalue()), ".jpg"


def _exif(orientation: int, taken: datetime | None) -> bytes:
    """An EXIF block of nothing but which way is up and when; empty where neither is worth saying."""
    exif = Image.Exif()
    if orientation != UPRIGHT:
        exif[0x0112] = orientation
    if taken is not None:
        exif.get_ifd(0x8769)[0x9003] = taken.strftime("%Y:%m:%d %H:%M:%S")
    return exif.tobytes() if orientation != UPRIGHT or taken is not None else b""


def _said(data: bytes, kind: str) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # decoders remark on odd metadata, which is about to go
        image = open_header(kind, io.BytesIO(data))
        if kind == "PNG":
            image.load()  # it may stand behind the pixels
        return _exif(*read_exif(image))


def _jpeg(data: bytes) -> bytes:
    kept = [b"\xff\xd8"]
    if exif := _said(data, "JPEG"):
        kept.append(b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif)
    kept += (segment for marker, segment in _segments(data) if _may_leave(marker, segment))
    return b"".join((*kept, b"\xff\xd9"))


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and bytes of each segment up to the end of the first picture; a scan comes with its pixels."""
    at = 2
    while True:
        if at + 4 > len(data) and data[at : at + 2] != b"\xff\xd9":
            raise _OddlyMade
        if data[at] != 0xFF:
            raise _OddlyMade
        marker = data[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0xD9:
            return
        elif marker in _JPEG_BARE:
            at += 2
        else:
            end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
            if marker == 0xDA:
                end = _end_of_scan(data, end)
            if end > len(data) or end < at + 4:
                raise _OddlyMade
            yield marker, data[at:end]
            at = end


def _end_of_scan(data: bytes, at: int) -> int:
    while (at := data.find(b"\xff", at)) >= 0 and at + 1 < len(data):
        if data[at + 1] not in (0x00, *range(0xD0, 0xD8)):
            return at
        at += 2
    raise _OddlyMade


def _may_leave(marker: int, segment: bytes) -> bool:
    if marker == 0xE0:
        return segment[4:9] == b"JFIF\0" and len(segment) == 18  # without a small picture in it
    if marker == 0xE2:
        return segment[4:16] == b"ICC_PROFILE\0"
    if marker == 0xEE:
        return segment[4:9] == b"Adobe" and len(segment) == 16
    return not (0xE1 <= marker <= 0xEF or marker == 0xFE)


def _png(data: bytes) -> bytes:
    exif = _said(data, "PNG").removeprefix(b"Exif\0\0")
    kept, at = [_PNG_HEAD], len(_PNG_HEAD)
    while at + 12 <= len(data):
        end = at + 12 + int.from_bytes(data[at : at + 4], "big")
        name = data[at + 4 : at + 8]
        if end > len(data):
            raise _OddlyMade
        if name in _PNG_KEPT:
            kept.append(data[at:end])
        if name == b"IHDR" and exif:
            kept.append(_chunk(b"eXIf", exif))
        if name == b"IEND":
            return b"".join(kept)
        at = end
    raise _OddlyMade


def _chunk(name: bytes, data: bytes) -> bytes:
    from zlib import crc32

    return len(data).to_bytes(4, "big") + name + data + crc32(name + data).to_bytes(4, "big")
