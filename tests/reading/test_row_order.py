"""Plugs come back in the order they were laid out, whatever the hand that laid them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.reading.row_order import row_order


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


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(0, 500)), max_size=12))
def test_every_plug_comes_back_once(centres):
    assert sorted(row_order(boxes_at(centres))) == list(range(len(centres)))
