"""Which patterns an engine can show at which places."""

from __future__ import annotations

import pytest

from firingend.comparison.hypotheses import PATTERN_PRIOR, places
from firingend.engine.build import build_engine
from firingend.engine.engine import Engine, SharedPart

VEE = build_engine(6, layout="vee")
PAIRED = build_engine(
    4,
    ignition="wasted-spark",
    fuel_system="carburettor",
    shared=(SharedPart("carburettor", "left carburettor", (1, 2)), SharedPart("head", "front head", (1, 2))),
)
ENGINES = (build_engine(2), build_engine(3), build_engine(4), VEE, PAIRED)


def groups(engine: Engine, pattern: str, readable: tuple[int, ...] = ()) -> dict[str, tuple[int, ...]]:
    found, _ = places(engine, readable or engine.cylinders)
    return {place.where: place.cylinders for place in found if place.pattern == pattern}


def test_priors_are_a_distribution():
    assert sum(PATTERN_PRIOR.values()) == pytest.approx(1)
    for engine in ENGINES:
        found, scattered = places(engine, engine.cylinders)
        assert sum(place.prior for place in found) + scattered == pytest.approx(1)
        for place in found:
            assert sum(prior for _, prior in place.assignments(engine.cylinders)) == pytest.approx(place.prior)


def test_assignments_give_the_rest_one_label():
    found, _ = places(PAIRED, PAIRED.cylinders)
    for place in found:
        for assignment, _ in place.assignments(PAIRED.cylinders):
            outside = {
                label
                for cylinder, label in zip(PAIRED.cylinders, assignment.labels, strict=True)
                if cylinder not in place.cylinders
            }
            assert outside <= {assignment.rest}


def test_each_shared_part_is_a_place_of_its_own():
    assert groups(PAIRED, "shared-pair") == {
        "coil A": (1, 4),
        "coil B": (2, 3),
        "left carburettor": (1, 2),
        "front head": (1, 2),
    }


def test_part_that_serves_all_explains_no_difference():
    assert groups(build_engine(4), "shared-pair") == {}


def test_head_and_rail_of_a_bank_are_the_bank():
    assert groups(VEE, "shared-pair") == {}
    assert groups(VEE, "bank") == {"bank 1": (1, 3, 5), "bank 2": (2, 4, 6)}


def test_two_neighbours_that_are_a_whole_bank_are_the_bank():
    flat = build_engine(4, layout="flat")
    assert groups(flat, "neighbours") == {}
    assert groups(flat, "bank") == {"bank 1": (1, 3), "bank 2": (2, 4)}


def test_ends_and_middle_need_three_in_a_row_and_four_in_all():
    assert groups(build_engine(3), "ends-against-middle") == {}
    assert groups(build_engine(5), "ends-against-middle") == {
        "end cylinders": (1, 5),
        "middle cylinders": (2, 3, 4),
    }
    ends = groups(VEE, "ends-against-middle")
    assert ends == {"end cylinders": (1, 2, 5, 6), "middle cylinders": (3, 4)}


def test_group_needs_two_readable_plugs_inside_and_one_outside():
    assert groups(PAIRED, "shared-pair", (1, 2, 3)) == {
        "coil B": (2, 3),
        "left carburettor": (1, 2),
        "front head": (1, 2),
    }
    assert groups(PAIRED, "shared-pair", (1, 4)) == {}
