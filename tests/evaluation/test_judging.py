from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from firingend.evaluation.judging import NOT_FOUND, judge, match
from firingend.evaluation.photo_set import TruePicture, TruePlug
from firingend.labels import UNREADABLE

LEFT, MIDDLE, RIGHT = (0.0, 0.0, 40.0, 40.0), (100.0, 0.0, 140.0, 40.0), (200.0, 0.0, 240.0, 40.0)


def _picture(*plugs):
    return TruePicture(Path("a.jpg"), "engine", tuple(plugs), {"light": "lamp"})


def _row(*labels):
    return _picture(*(TruePlug(label, box) for label, box in zip(labels, (LEFT, MIDDLE, RIGHT), strict=False)))


def test_each_plug_of_a_row_is_answered_by_the_box_on_it(make_reading, make_photo_reading):
    photo = make_photo_reading(make_reading("wet", box=(3.0, 2.0, 43.0, 42.0)), make_reading("normal-tan", box=RIGHT))
    judged = judge(_row("wet", "lean-white", "rich-carbon"), photo)
    assert [answer.said for answer in judged.answers] == ["wet", NOT_FOUND, "normal-tan"]
    assert (judged.finds.plugs, judged.finds.found, judged.finds.extra) == (3, 2, 0)
    assert judged.finds.in_order


def test_a_row_read_backwards_is_out_of_order(make_reading, make_photo_reading):
    photo = make_photo_reading(make_reading("wet", box=MIDDLE), make_reading("wet", box=LEFT))
    judged = judge(_row("wet", "wet"), photo)
    assert judged.finds.found == 2
    assert not judged.finds.in_order


def test_finds_where_nothing_is_are_extra(make_reading, make_photo_reading):
    photo = make_photo_reading(
        make_reading("wet", box=LEFT),
        make_reading("wet", box=(300.0, 300.0, 340.0, 340.0)),
        make_reading(UNREADABLE, box=(400.0, 300.0, 440.0, 340.0)),
    )
    finds = judge(_row("wet"), photo).finds
    assert (finds.found, finds.extra, finds.extra_labelled) == (1, 2, 1)


def test_what_was_left_out_counts_before_keeping_alone(make_reading, make_photo_reading):
    readings = [make_reading("wet", box=LEFT), make_reading("wet", box=RIGHT)]
    middle, far = make_reading(UNREADABLE, box=MIDDLE), make_reading(UNREADABLE, box=(300.0, 0.0, 340.0, 40.0))
    photo = replace(make_photo_reading(*readings), left_out=(far, middle))
    judged = judge(_row("wet", "wet", "wet"), photo)
    assert [answer.said for answer in judged.answers] == ["wet", NOT_FOUND, "wet"]
    assert (judged.finds.found, judged.finds.extra) == (2, 0)
    assert (judged.before_keeping.found, judged.before_keeping.extra) == (3, 1)
    assert judged.before_keeping.in_order


def test_whether_the_plugs_lie_in_one_row_and_can_be_made_out(make_reading, make_photo_reading):
    plugs = [TruePlug("wet", LEFT), TruePlug("wet", RIGHT, visible=False)]
    finds = judge(_picture(*plugs), make_photo_reading(make_reading("wet", box=LEFT))).finds
    assert finds.one_row
    assert (finds.plugs, finds.visible, finds.found_visible) == (2, 1, 1)
    below = TruePlug("wet", (0.0, 100.0, 40.0, 140.0))
    assert not judge(_picture(*plugs, below), make_photo_reading()).finds.one_row


def test_a_found_box_answers_for_one_plug_only():
    around_both = (0.0, 0.0, 80.0, 40.0)
    assert match([around_both], [(0.0, 0.0, 45.0, 40.0), (36.0, 0.0, 80.0, 40.0)]) in ({0: 0}, {1: 0})


def test_a_small_box_well_inside_counts_and_a_far_one_does_not():
    assert match([(15.0, 15.0, 25.0, 25.0)], [LEFT]) == {0: 0}
    assert match([(30.0, 30.0, 70.0, 70.0)], [LEFT]) == {}


def test_the_closer_of_two_finds_answers():
    assert match([(10.0, 10.0, 60.0, 60.0), (1.0, 1.0, 41.0, 41.0)], [LEFT]) == {0: 1}


def test_without_a_box_the_best_scored_end_answers(make_reading, make_photo_reading):
    photo = make_photo_reading(make_reading("wet", score=0.5), make_reading("oil-fouled", score=0.8))
    judged = judge(_picture(TruePlug("oil-fouled")), photo)
    assert [answer.said for answer in judged.answers] == ["oil-fouled"]
    assert judged.finds is None


@pytest.mark.parametrize(("count", "said"), [(2, ["wet", "wet"]), (1, [NOT_FOUND, NOT_FOUND])])
def test_several_plugs_without_boxes_are_answered_in_row_order_or_not_at_all(
    count, said, make_reading, make_photo_reading
):
    photo = make_photo_reading(*[make_reading("wet")] * count)
    judged = judge(_picture(TruePlug("wet"), TruePlug("normal-tan")), photo)
    assert [answer.said for answer in judged.answers] == said


def test_a_photograph_without_a_plug_answers_with_the_worst_it_was_called(make_reading, make_photo_reading):
    photo = make_photo_reading(make_reading(UNREADABLE, score=0.9), make_reading("wet", score=0.6))
    (answer,) = judge(_picture(), photo).answers
    assert (answer.truth, answer.said) == ("not-a-plug", "wet")


def test_a_photograph_without_a_plug_and_without_finds_is_refused(make_photo_reading):
    judged = judge(_picture(), make_photo_reading())
    assert judged.answers[0].said == UNREADABLE
    assert (judged.finds.plugs, judged.finds.extra) == (0, 0)


def test_a_file_that_cannot_be_read_counts_as_not_found():
    judged = judge(_row("wet", "wet"), None)
    assert [answer.said for answer in judged.answers] == [NOT_FOUND, NOT_FOUND]
    assert judged.finds.found == 0


def test_what_is_known_and_what_is_measured_goes_along(make_reading, make_photo_reading):
    plug = TruePlug("wet", LEFT, nuisance={"view_degrees": 30.0})
    (answer,) = judge(_picture(plug), make_photo_reading(make_reading("wet", box=LEFT))).answers
    assert answer.nuisance == {
        "light": "lamp",
        "view_degrees": 30.0,
        "box_px": 40.0,
        "measured focus": 100.0,
        "measured brightness": 120.0,
        "measured cast degrees": 2.0,
    }
