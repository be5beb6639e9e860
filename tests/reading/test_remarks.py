"""What is said of a photograph as a whole, where its firing ends have to be counted."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from firingend.labels import UNREADABLE
from firingend.photo.picture import Quality
from firingend.reading.reading import FiringEnd, PhotoReading, Reading
from firingend.reading.remarks import in_lines, remarks

QUALITY = Quality(310.5, 0.01, 0.02, 118.0, 3.5)


def shown(*corners):
    """A photograph of firing ends 80 pixels wide, their upper left corners here."""
    ends = tuple(
        Reading(FiringEnd((x, y, x + 80, y + 80), (0.0, -1.0), 0.9), UNREADABLE, {}, (), quality=QUALITY)
        for x, y in corners
    )
    return PhotoReading(Path("photo.jpg"), 800, 600, QUALITY, ends)


def codes(photo):
    return [reason.code for reason in remarks(photo)]


def test_a_single_row_needs_no_word():
    assert codes(shown()) == codes(shown((0, 0))) == codes(shown((0, 0), (300, 200))) == []
    assert codes(shown((0, 0), (150, 12), (300, 5), (450, 9))) == []
    assert codes(shown(*[(100 * i, 8 * (i - 3.5) ** 2) for i in range(8)])) == []  # one row, laid in a curve


def test_more_than_one_line_is_said():
    block = shown((0, 0), (150, 0), (0, 150), (150, 150))
    assert in_lines(block)
    assert codes(block) == ["lines"]
    assert codes(shown((200, 0), (350, 130), (60, 120), (210, 260))) == ["lines"]  # on its corner


def test_what_was_left_out_is_said_first():
    block = shown((0, 0), (150, 0), (0, 150), (150, 150))
    assert codes(replace(block, left_out=block.readings[:1])) == ["left-out", "lines"]
    assert codes(replace(shown(), left_out=block.readings[:1])) == []  # then nothing has to be counted
