"""What kind of file a photograph really is, by its first bytes, and the decoder for it.

Decoders are opened directly instead of through ``PIL.Image.open``: only the one needed is imported, the suffix
plays no part, and the pixel limit is ours (``Image.open`` has a process-wide one that refuses some phones'
200-megapixel files).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import IO, Final

from PIL import Image

HEAD_BYTES: Final = 64
"""How many bytes from the start of a file `kind_of` wants."""

KNOWN: Final = "JPEG, PNG, WebP, TIFF or HEIC"

_HEIF_BRANDS: Final = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1", b"msf1"}


def kind_of(head: bytes) -> str:
    """Kind of picture a file holds: a key of the decoders below, or "" when it is none of them.

    Examples
    --------
    >>> kind_of(bytes([0xFF, 0xD8, 0xFF, 0xE1])), kind_of(b"%PDF-1.7")
    ('JPEG', '')
    """
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if head[4:8] == b"ftyp" and not _is_avif(head) and head[8:12] in _HEIF_BRANDS:
        return "HEIF"
    if head[:6] in (b"GIF87a", b"GIF89a"):
        return "GIF"
    return "BMP" if head[:2] == b"BM" and head[6:10] == bytes(4) else ""


def _is_avif(head: bytes) -> bool:
    """True for a HEIF container holding AV1, which the HEIC decoder cannot read."""
    size = int.from_bytes(head[:4], "big")
    brands = {head[i : i + 4] for i in range(16, min(size, len(head)), 4)} | {head[8:12]}
    return bool(brands & {b"avif", b"avis"}) and not brands & {b"heic", b"heix"}


def open_header(kind: str, file: IO[bytes]) -> Image.Image:
    """Open a picture of a known kind without decoding its pixels (HEIF decodes on ``load``).

    Whatever the decoder raises comes through; the caller turns it into an error that names the file.
    """
    return _OPENERS[kind](file)


def _jpeg(file: IO[bytes]) -> Image.Image:
    from PIL.JpegImagePlugin import jpeg_factory

    return jpeg_factory(file)


def _png(file: IO[bytes]) -> Image.Image:
    from PIL.PngImagePlugin import PngImageFile

    return PngImageFile(file)


def _webp(file: IO[bytes]) -> Image.Image:
    from PIL.WebPImagePlugin import WebPImageFile

    return WebPImageFile(file)


def _tiff(file: IO[bytes]) -> Image.Image:
    from PIL.TiffImagePlugin import TiffImageFile

    return TiffImageFile(file)


def _gif(file: IO[bytes]) -> Image.Image:
    from PIL.GifImagePlugin import GifImageFile

    return GifImageFile(file)


def _bmp(file: IO[bytes]) -> Image.Image:
    from PIL.BmpImagePlugin import BmpImageFile

    return BmpImageFile(file)


def _heif(file: IO[bytes]) -> Image.Image:
    from pillow_heif import HeifImageFile  # imported only for HEIF: it loads a codec of its own

    opener: Callable[[IO[bytes]], Image.Image] = HeifImageFile
    return opener(file)


_OPENERS: Final[dict[str, Callable[[IO[bytes]], Image.Image]]] = {
    "JPEG": _jpeg,
    "PNG": _png,
    "WebP": _webp,
    "TIFF": _tiff,
    "GIF": _gif,
    "BMP": _bmp,
    "HEIF": _heif,
}
