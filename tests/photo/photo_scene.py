"""A test picture, ways to write it to disk, and what must come back."""

from __future__ import annotations

import struct
import zlib

import numpy as np

WIDTH, HEIGHT = 160, 96
QUADRANTS = ((200, 40, 40), (40, 180, 60), (50, 60, 190), (210, 200, 80))  # top left, top right, bottom left, …


def quarters(pixels):
    height, width = pixels.shape[:2]
    return [pixels[y, x].astype(int) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)]


def assert_scene(picture, tolerance):
    assert (picture.full_width, picture.full_height) == (WIDTH, HEIGHT)
    for seen, meant in zip(quarters(picture.pixels), QUADRANTS, strict=True):
        assert np.abs(seen - meant).max() <= tolerance, (seen, meant)


def saved(image, path, **options):
    image.save(path, **options)
    return path


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bytes(width, height, depth, colour, packed):
    header = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
