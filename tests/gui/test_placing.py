"""Which firing end goes to which cylinder."""

from __future__ import annotations

from dataclasses import replace

import pytest
from firingend_gui import placing
from firingend_gui.arrivals import largest, lies_across
from gui_fakes import photo, reading, refused, row_photo
from hypothesis import given
from hypothesis import strategies as st

from firingend.labels import LABELS


def test_the_question_names_the_ends_as_they_lie():
    across = placing.question(row_photo("r.jpg", "wet", "wet"), 1)
    assert [words for _, words in across.answers][:2] == ["The one on the left", "The one on the right"]
    upright = photo("u.jpg", reading("wet", box=(0, 0, 9, 9)), reading("wet", box=(0, 50, 9, 59)))
    down = placing.question(upright, 3)
    assert [words for _, words in down.answers][:2] == ["The one at the top", "The one at the bottom"]
    assert "cylinder 3" in down.text


def test_the_question_tells_of_plugs_that_lie_in_lines():
    """A block on its corner can be read in two ways: the person has to look."""
    spots = ((0, 0), (100, 0), (0, 100), (100, 100))
    block = photo("b.jpg", *[reading("wet", box=(x, y, x + 60, y + 60)) for x, y in spots])
    asked = placing.question(block, 1)
    assert "lie in more than one line and are counted line by line, from the top left" in asked.text
    assert [words for _, words in asked.answers][:2] == [
        "The left one of the top line",
        "The right one of the bottom line",
    ]
    assert "more than one line" not in placing.question(row_photo("r.jpg", *["wet"] * 4), 1).text


def test_the_question_tells_of_what_was_left_out():
    """Otherwise a plug taken for none would move all those after it to the cylinder before theirs."""
    shown = row_photo("r.jpg", "wet", "wet", "wet")
    assert "left out" not in placing.question(shown, 1).text
    text = placing.question(replace(shown, left_out=(refused(),)), 1).text
    assert "1 more thing was taken for no firing end and left out: count the plugs" in text


def test_one_firing_end_lies_across():
    assert lies_across((reading("wet"),))


def test_the_largest_is_by_area():
    assert largest((reading("wet", box=(0, 0, 9, 9)), reading("wet", box=(0, 0, 5, 30)))) == 1


@given(st.integers(2, 16), st.integers(1, 16), st.sampled_from([placing.FORWARD, placing.BACKWARD]))
def test_every_firing_end_goes_to_one_cylinder_or_is_counted(ends, cylinders, answer):
    shown = row_photo("r.jpg", *[LABELS[i % 5] for i in range(ends)])
    placed = placing.placement(shown, tuple(range(1, cylinders + 1)), answer)
    assert len(placed.ends) == min(ends, cylinders)
    assert len({index for _, index in placed.ends}) == len(placed.ends)
    assert placed.left_over == ends - len(placed.ends)
    first = placed.ends[0]
    assert first == (1, 0 if answer == placing.FORWARD else ends - 1)


@pytest.mark.parametrize("ends", [0, 1, 3])
def test_without_a_cylinder_everything_is_left_over(ends):
    placed = placing.placement(row_photo("r.jpg", *["wet"] * ends), ())
    assert placed == placing.Placement((), max(1, ends))
