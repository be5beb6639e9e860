"""A file is what its first bytes say."""

from __future__ import annotations

import pytest

from firingend.photo.formats import kind_of


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        (b"\xff\xd8\xff\xdb", "JPEG"),
        (b"\x89PNG\r\n\x1a\n", "PNG"),
        (b"RIFF\0\0\0\0WEBPVP8 ", "WebP"),
        (b"RIFF\0\0\0\0WAVEfmt ", ""),
        (b"II*\0\x08\0\0\0", "TIFF"),
        (b"MM\0*\0\0\0\x08", "TIFF"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIF"),
        (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", "HEIF"),
        (b"\0\0\0\x1cftypmif1\0\0\0\0mif1avifmiaf", ""),  # AV1 in a HEIF box
        (b"\0\0\0\x18ftypisom\0\0\0\0isommp42", ""),  # a film
        (b"GIF89a", "GIF"),
        (b"BM\x36\0\0\0\0\0\0\0", "BMP"),
        (b"BMX is a bicycle", ""),
        (b"<svg xmlns=", ""),
        (b"", ""),
    ],
)
def test_kind_of(head, kind):
    assert kind_of(head) == kind
