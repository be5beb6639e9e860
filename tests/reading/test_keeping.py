"""What finder and reader doubt together is left out; what either is sure of stays."""

from __future__ import annotations

import pytest

from firingend.reading.keeping import kept_and_left_out, with_left_out
from firingend.reading.networks import Keeping
from firingend.reading.reading import FiringEnd, Reading

RULES = Keeping(
    surely_no_plug=0.95, sure_score=0.5, weak_score=0.3, weak_no_plug=0.05, odd_score=0.4, odd_size=1.5
)  # fmt: skip


def found(at, score, no_plug=0.0, *, label="unreadable", size=100):
    box = (at, 0.0, at + size, size)
    return Reading(FiringEnd(box, (0.0, 1.0), score), label, {}, not_a_plug=no_plug)


def test_a_sure_bolt_beside_a_plug_that_was_read_is_left_out():
    plug = found(0, 0.8, label="wet")
    bolt = found(200, 0.9, 0.97)
    doubtful = found(400, 0.9, 0.9)
    assert kept_and_left_out([bolt, plug, doubtful], RULES) == ((plug, doubtful), (bolt,))
    assert kept_and_left_out([bolt, doubtful], RULES) == ((bolt, doubtful), ())


def test_other_parts_alone_leave_nothing_unless_the_finder_is_sure():
    parts = [found(0, 0.32, 0.99), found(200, 0.49, 0.96)]
    assert kept_and_left_out(parts, RULES) == ((), (parts[1], parts[0]))
    sure = found(400, 0.5, 0.99)
    assert kept_and_left_out([*parts, sure], RULES)[0] == (*parts, sure)
    maybe = found(400, 0.4, 0.95)
    assert kept_and_left_out([*parts, maybe], RULES)[0] == (*parts, maybe)


def test_a_weak_find_stays_only_where_the_reader_is_sure_of_it():
    plug = found(0, 0.8)
    assert kept_and_left_out([plug, found(200, 0.29, 0.06)], RULES)[0] == (plug,)
    for stays in (found(200, 0.29, 0.05), found(200, 0.3, 0.9)):
        assert kept_and_left_out([plug, stays], RULES)[0] == (plug, stays)
    alone = found(0, 0.29, 0.5)
    assert kept_and_left_out([alone], RULES) == ((), (alone,))


@pytest.mark.parametrize(("size", "stays"), [(66, False), (68, True), (149, True), (151, False)])
def test_a_somewhat_weak_find_of_another_size_is_left_out(size, stays):
    plugs = [found(0, 0.8), found(200, 0.7)]
    other = found(400, 0.39, size=size)
    assert (other in kept_and_left_out([*plugs, other], RULES)[0]) is stays
    sure = found(400, 0.4, size=size)
    assert sure in kept_and_left_out([*plugs, sure], RULES)[0]
    assert kept_and_left_out([other], RULES)[0] == (other,)  # there is nothing to measure it against


@pytest.mark.parametrize(
    ("apart", "score", "no_plug", "stays"),
    [(90, 0.4, 0.9, False), (96, 0.4, 0.9, True), (90, 0.5, 0.9, True), (90, 0.4, 0.5, True)],
)
def test_of_two_finds_that_cannot_be_two_plugs_the_likelier_stays(apart, score, no_plug, stays):
    plug, other = found(0, 0.45, 0.1), found(apart, score, no_plug)
    assert (other in kept_and_left_out([plug, other], RULES)[0]) is stays
    assert plug in kept_and_left_out([plug, other], RULES)[0]


def test_two_doubtful_finds_close_together_do_not_both_go():
    weaker, stronger = found(0, 0.41, 0.97), found(50, 0.45, 0.97)
    assert kept_and_left_out([weaker, stronger, found(400, 0.7)], RULES)[1] == (weaker,)
    alike = [found(0, 0.45, 0.97), found(50, 0.45, 0.97)]
    assert kept_and_left_out([*alike, found(400, 0.7)], RULES)[1] == ()


def test_sizes_are_measured_against_plugs_alone():
    plugs = [found(0, 0.8, size=50), found(100, 0.35, size=55)]
    sockets = [found(at, 0.9, 0.9, size=200) for at in (300, 600, 900)]
    assert kept_and_left_out([*plugs, *sockets], RULES)[1] == ()


@pytest.mark.parametrize(
    ("at", "down", "size", "stays"),
    [
        (600, 0, 100, True),  # carries the row on
        (200, 15, 100, True),  # fills a gap in it
        (200, 30, 100, False),  # beside it
        (460, 0, 100, False),  # where one already is
        (600, 0, 60, False),  # smaller
    ],
)
def test_a_weak_find_that_is_one_of_the_row_stays(at, down, size, stays):
    row = [found(0, 0.8), found(400, 0.8), found(800, 0.8), found(1000, 0.8)]
    dark = Reading(FiringEnd((at, down, at + size, down + size), (0.0, 1.0), 0.2), "unreadable", {}, not_a_plug=1.0)
    kept, _ = kept_and_left_out([*row, dark], RULES)
    assert (dark in kept) is stays
    assert len(kept) == 4 + stays
    assert dark not in kept_and_left_out([*row[:2], dark], RULES)[0]  # two are no row


def test_a_find_with_a_label_stays_however_weak():
    plugs = [found(0, 0.8, label="wet"), found(200, 0.26, 0.5, label="wet", size=20)]
    assert kept_and_left_out(plugs, RULES) == (tuple(plugs), ())


def test_what_stays_comes_in_row_order_whatever_was_left_out():
    row = [found(0, 0.8), found(200, 0.9), found(400, 0.7)]
    bolt = Reading(FiringEnd((200.0, 400.0, 300.0, 500.0), (0.0, 1.0), 0.2), "unreadable", {}, not_a_plug=1.0)
    kept, left_out = kept_and_left_out([row[2], bolt, row[0], row[1]], RULES)
    assert kept == tuple(row)
    assert left_out == (bolt,)
    assert with_left_out(kept, left_out) == (*row, bolt)


def test_nothing_found_keeps_nothing():
    assert kept_and_left_out([], RULES) == ((), ())


def test_labels_typed_in_by_hand_stay():
    typed = Reading(None, "wet", {})
    assert kept_and_left_out([typed], RULES) == ((typed,), ())
