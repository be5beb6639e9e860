"""Plugs come back in the order they were laid out, whatever the hand that laid them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.reading.row_order import fits_row, is_one_row, row_order


def boxes_at(centres, side=20):
    return [(x - side / 2, y - side / 2, x + side / 2, y + side / 2) for x, y in centres]


def turned(centres, degrees):
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return [tuple(turn @ c) for c in centres]


def assert_order(centres, **options):
    """The centres are given in the right order; any shuffle must come back to it."""
    shuffle = np.random.default_rng(len(centres)).permutation(len(centres))
    order = row_order(boxes_at([centres[i] for i in shuffle], **options))
    assert [int(shuffle[i]) for i in order] == list(range(len(centres)))


@pytest.mark.parametrize("degrees", [-30, 0, 30])
@pytest.mark.parametrize("count", [7, 8])
def test_a_row_curved_so_that_no_two_are_level_is_followed(degrees, count):
    middle = (count - 1) / 2
    arc = [(30 * i, 22 * ((i - middle) / middle) ** 2) for i in range(count)]
    assert not is_one_row(boxes_at(turned(arc, degrees)))
    assert_order(turned(arc, degrees))


def test_none_and_one():
    assert row_order([]) == []
    assert row_order([(0, 0, 5, 5)]) == [0]


@pytest.mark.parametrize("degrees", [-44, -20, 0, 20, 44])
@pytest.mark.parametrize("count", [2, 3, 4, 8])
def test_one_row_runs_left_to_right(degrees, count):
    assert_order(turned([(30 * i, 0) for i in range(count)], degrees))


@pytest.mark.parametrize("degrees", [46, 70, 90, 110, 134])
@pytest.mark.parametrize("count", [2, 4])
def test_a_steep_row_runs_top_to_bottom(degrees, count):
    assert_order(turned([(30 * i, 0) for i in range(count)], degrees))


def test_a_row_laid_by_hand_is_one_row():
    assert_order([(0, 5), (28, -4), (61, 6), (92, -5), (120, 4)])


@pytest.mark.parametrize("degrees", [-12, 0, 8])
def test_two_rows_are_read_like_text(degrees):
    assert_order(turned([(30 * x, 40 * y) for y in range(2) for x in range(4)], degrees))
    assert_order(turned([(30 * x, 40 * y) for y in range(2) for x in range(3)], degrees))


def test_two_by_two_and_a_ragged_second_row():
    assert_order([(0, 0), (30, 2), (1, 30), (31, 33)])
    assert_order([(0, 0), (30, 0), (60, 0), (15, 30), (45, 30)])


# Centres of firing ends on rendered boards with two rows of holes, scaled to boxes of 100; the order is that in which a
# person reads them.
TILTED_BOARD = [(360, 294), (508, 371), (669, 408), (829, 476), (291, 460), (459, 509), (620, 555), (783, 616)]
FORESHORTENED_BOARD = [(226, 251), (398, 310), (571, 353), (263, 370), (460, 417), (623, 481)]
RAGGED_BOARD = [(173, 130), (305, 178), (155, 307), (313, 320), (466, 338)]
FOUR_HEADED_BY_A_CORNER = [(363, 139), (549, 282), (227, 332), (425, 481)]
FOUR_SEEN_FROM_THE_SIDE = [(373, 211), (431, 214), (333, 363), (391, 390)]
FOUR_ON_A_CORNER_FROM_LOW_DOWN = [(348, 191), (453, 268), (289, 252), (373, 356)]
PAIRS_DOWN_THE_PICTURE = [(634, 254), (737, 277), (563, 449), (643, 462), (485, 627), (568, 660)]


@pytest.mark.parametrize(
    "centres",
    [
        TILTED_BOARD,
        FORESHORTENED_BOARD,
        RAGGED_BOARD,
        FOUR_HEADED_BY_A_CORNER,
        FOUR_SEEN_FROM_THE_SIDE,
        FOUR_ON_A_CORNER_FROM_LOW_DOWN,
        PAIRS_DOWN_THE_PICTURE,
    ],
)
def test_rows_of_a_board_photographed_askew_are_read_like_text(centres):
    assert_order(centres, side=100)


@pytest.mark.parametrize("degrees", [-40, -30, -15, 15, 30, 40])
@pytest.mark.parametrize("columns", [3, 4, 6])
@pytest.mark.parametrize("pitch", [25, 45])
def test_two_tilted_rows_keep_together(degrees, columns, pitch):
    """Diagonals of the block run at tilts of their own, and must not be taken for its rows."""
    assert_order(turned([(pitch * x, 30 * y) for y in range(2) for x in range(columns)], degrees))


def test_three_rows_are_three():
    assert_order(turned([(40 * x, 32 * y) for y in range(3) for x in range(4)], 20))


def test_one_row_is_told_from_two():
    row = [(30 * i, 5 * (i % 2)) for i in range(6)]
    assert is_one_row([]) and is_one_row(boxes_at(row[:1])) and is_one_row(boxes_at(turned(row, 70)))
    assert not is_one_row(boxes_at([(30 * x, 30 * y) for y in range(2) for x in range(3)]))
    assert not is_one_row(boxes_at(FOUR_SEEN_FROM_THE_SIDE, side=100))


@pytest.mark.parametrize("degrees", [0, 35, 90])
def test_what_fits_a_row(degrees):
    *row, next_one, gap, aside, twice = boxes_at(
        turned([(0, 0), (30, 2), (90, -1), (120, 1), (150, 0), (60, 0), (60, 9), (97, 0)], degrees)
    )
    assert fits_row(next_one, row) and fits_row(gap, row)
    assert not fits_row(aside, row) and not fits_row(twice, row)
    assert not fits_row(gap, row[:2])
    assert not fits_row(gap, boxes_at([(0, 0), (30, 0), (0, 40), (30, 40)]))


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(0, 500)), max_size=12))
def test_every_plug_comes_back_once(centres):
    assert sorted(row_order(boxes_at(centres))) == list(range(len(centres)))
