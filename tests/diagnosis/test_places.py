"""What a technician's words for a place mean on different engines."""

from __future__ import annotations

import pytest
from engines import inline, vee

from firingend.diagnosis.places import find_places, places
from firingend.engine.engine import SharedPart
from firingend.errors import UserError

WASTED = inline(4, ignition="wasted-spark")
LISTED = inline(4, ignition="wasted-spark", shared=(SharedPart("coil", "coil A", (1, 4)),))


def names(found):
    return [place.name for place in found]


def test_wasted_spark_pairs_follow_the_firing_order_when_no_coil_is_listed():
    assert [place.cylinders for place in places(WASTED, "coil")] == [(1, 4), (2, 3)]


def test_a_listed_coil_is_one_place_and_the_rest_have_their_own():
    assert names(places(LISTED, "coil")) == ["coil A (1 and 4)", "coil of cylinder 2", "coil of cylinder 3"]


def test_a_distributor_engine_has_one_coil():
    assert names(places(inline(4, ignition="distributor"), "coil")) == ["engine"]


def test_one_bank_is_the_engine():
    assert names(places(inline(4), "bank")) == ["engine"]
    assert names(places(vee(6), "bank")) == ["left bank", "right bank"]


def test_neighbours_lie_in_one_bank():
    assert [place.cylinders for place in places(vee(6), "neighbours")] == [(1, 3), (3, 5), (2, 4), (4, 6)]


@pytest.mark.parametrize(
    ("engine", "scope", "where", "expected"),
    [
        (WASTED, "cylinder", "cylinder 3", [(3,)]),
        (WASTED, "cylinder", "3", [(3,)]),
        (WASTED, "cylinder", "cylinders 2 and 3", [(2,), (3,)]),
        (WASTED, "cylinder", "all", [(1,), (2,), (3,), (4,)]),
        (WASTED, "cylinder", "engine", [(1,), (2,), (3,), (4,)]),
        (LISTED, "coil", "coil A", [(1, 4)]),
        (LISTED, "coil", "Coil A (1 and 4)", [(1, 4)]),
        (LISTED, "coil", "cylinder 4", [(1, 4)]),
        (LISTED, "cylinder", "coil A", [(1,), (4,)]),
        (WASTED, "coil", "1 and 4", [(1, 4)]),
        (vee(6), "bank", "left", [(1, 3, 5)]),
        (vee(6), "bank", "left bank", [(1, 3, 5)]),
        (vee(6), "cylinder", "right bank", [(2,), (4,), (6,)]),
        (WASTED, "neighbours", "2-3", [(2, 3)]),
        (WASTED, "engine", "cylinder 2", [(1, 2, 3, 4)]),
    ],
)
def test_words_for_a_place(engine, scope, where, expected):
    assert [place.cylinders for place in find_places(engine, scope, where)] == expected


def test_an_unknown_place_is_named_with_what_there_is():
    with pytest.raises(UserError, match=r'"coil Q".*coil A'):
        find_places(LISTED, "coil", "coil Q")
    with pytest.raises(UserError, match="cylinder 9"):
        find_places(LISTED, "cylinder", "cylinder 9")
