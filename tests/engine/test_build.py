"""Engines from simple facts: what is filled in and what is refused."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firingend.engine.build import build_engine
from firingend.engine.engine import Engine, SharedPart
from firingend.errors import UserError


def parts(engine: Engine, kind: str) -> dict[str, tuple[int, ...]]:
    return {part.name: part.cylinders for part in engine.shared if part.kind == kind}


def test_single_shares_nothing():
    engine = build_engine(1, strokes=2, fuel_system="carburettor", ignition="magneto")
    assert (engine.layout, engine.banks[0].cylinders, engine.shared) == ("single", (1,), ())


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_inline_engines_share_throttle_rail_and_head_but_no_coil(count: int):
    engine = build_engine(count)
    everyone = tuple(range(1, count + 1))
    assert engine.layout == "inline"
    assert parts(engine, "coil") == {}
    assert parts(engine, "throttle-body") == {"throttle body": everyone}
    assert parts(engine, "fuel-rail") == {"fuel rail": everyone}
    assert parts(engine, "head") == {"cylinder head": everyone}
    assert len(engine.neighbours()) == count - 1


# Common practice, no source: orders in everyday use and the companions they imply.
@pytest.mark.parametrize(
    ("facts", "pairs"),
    [
        ({"cylinders": 4, "firing_order": (1, 3, 4, 2)}, [(1, 4), (2, 3)]),
        ({"cylinders": 4, "firing_order": (1, 2, 4, 3)}, [(1, 4), (2, 3)]),
        ({"cylinders": 4}, [(1, 4), (2, 3)]),
        ({"cylinders": 2}, [(1, 2)]),
        ({"cylinders": 6, "firing_order": (1, 5, 3, 6, 2, 4)}, [(1, 6), (2, 5), (3, 4)]),
        ({"cylinders": 6}, [(1, 6), (2, 5), (3, 4)]),
        ({"cylinders": 4, "layout": "flat", "firing_order": (1, 3, 2, 4)}, [(1, 2), (3, 4)]),
        ({"cylinders": 6, "layout": "vee", "firing_order": (1, 2, 3, 4, 5, 6)}, [(1, 4), (2, 5), (3, 6)]),
        ({"cylinders": 2, "layout": "vee"}, [(1, 2)]),
    ],
)
def test_wasted_spark_pairs_are_half_a_firing_order_apart(facts: dict[str, Any], pairs: list[tuple[int, int]]):
    engine = build_engine(**facts, ignition="wasted-spark")
    assert list(parts(engine, "coil").values()) == pairs
    assert list(parts(engine, "coil")) == [f"coil {letter}" for letter in "ABC"[: len(pairs)]]


def test_vee_and_flat_engines_have_a_rail_and_a_head_per_bank():
    engine = build_engine(6, layout="vee")
    assert [(bank.name, bank.cylinders) for bank in engine.banks] == [
        ("bank 1", (1, 3, 5)),
        ("bank 2", (2, 4, 6)),
    ]
    assert parts(engine, "fuel-rail") == {"fuel rail of bank 1": (1, 3, 5), "fuel rail of bank 2": (2, 4, 6)}
    assert engine.neighbours() == ((1, 3), (3, 5), (2, 4), (4, 6))


def test_stated_banks_replace_odd_and_even():
    engine = build_engine(4, layout="flat", banks={"left": (1, 2), "right": (3, 4)})
    assert [bank.cylinders for bank in engine.banks] == [(1, 2), (3, 4)]


def test_carburettor_pairs_replace_the_one_for_all():
    pair_a = SharedPart("carburettor", "left carburettor", (1, 2))
    pair_b = SharedPart("carburettor", "right carburettor", (3, 4))
    engine = build_engine(4, fuel_system="carburettor", ignition="distributor", shared=(pair_a, pair_b))
    assert parts(engine, "carburettor") == {"left carburettor": (1, 2), "right carburettor": (3, 4)}
    assert parts(engine, "coil") == {"ignition coil": (1, 2, 3, 4)}
    assert parts(engine, "fuel-rail") == {}


def test_a_carburettor_for_each_cylinder_is_not_shared():
    engine = build_engine(2, strokes=2, fuel_system="carburettor", one_each=("carburettor", "head"))
    assert engine.strokes == 2
    assert engine.shared == ()


def test_magneto_serves_all_and_aircraft_is_kept():
    engine = build_engine(4, layout="flat", fuel_system="carburettor", ignition="magneto", aircraft=True)
    assert parts(engine, "coil") == {"magneto": (1, 2, 3, 4)}
    assert engine.aircraft


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"cylinders": 0}, "cylinders is 0: give a number from 1 to 16"),
        ({"cylinders": []}, "cylinders lists 0 numbers"),
        ({"cylinders": [1, 1]}, "lists 1 more than once: list each cylinder once"),
        ({"cylinders": [0, 1]}, "number cylinders from 1"),
        ({"cylinders": 4, "layout": "single"}, "write inline, vee or flat"),
        ({"cylinders": 1, "layout": "vee"}, "write single"),
        ({"cylinders": 4, "layout": "round"}, "write one of single, inline, vee, flat"),
        ({"cylinders": 4, "fuel_system": "steam"}, "carburettor, port-injection, direct-injection"),
        ({"cylinders": 4, "strokes": 3}, "write 2 or 4"),
        ({"cylinders": 4, "firing_order": (1, 3, 4)}, "use each of 1, 2, 3 and 4 once"),
        ({"cylinders": 3, "ignition": "wasted-spark"}, "write coil-per-plug"),
        ({"cylinders": 4, "layout": "flat", "ignition": "wasted-spark"}, "state firing_order"),
        ({"cylinders": 4, "layout": "flat", "banks": {"all": [1, 2, 3, 4]}}, "state 2 or change layout"),
        ({"cylinders": 4, "layout": "flat", "banks": {"a": [1, 2], "b": [3]}}, "put every cylinder in one bank"),
        ({"cylinders": 2, "layout": "flat", "banks": {"a": [1, 2], "b": []}}, 'bank "b" has no cylinders'),
        ({"cylinders": [1, 3], "layout": "vee"}, "state both under banks"),
    ],
)
def test_contradicting_facts_are_refused_with_a_remedy(facts: dict[str, Any], message: str):
    with pytest.raises(UserError) as error:
        build_engine(**facts)
    assert message in str(error.value)


@pytest.mark.parametrize(
    ("shared", "message"),
    [
        ([SharedPart("coil", "coil A", (1, 5))], "cylinder 5, which this engine does not have"),
        ([SharedPart("coil", "coil A", (1,))], "only parts that cylinders share are listed"),
        ([SharedPart("coil", "coil A", (1, 1))], "lists cylinder 1 twice"),
        ([SharedPart("coil", "x", (1, 2)), SharedPart("coil", "x", (3, 4))], 'two shared parts are called "x"'),
        ([SharedPart("coil", "a", (1, 2)), SharedPart("coil", "b", (2, 3))], 'on both "a" and "b"'),
        ([SharedPart("carburettor", "carb", (1, 2))], "change fuel_system or the part's kind"),
        ([SharedPart("pump", "pump", (1, 2))], "coil, carburettor"),  # type: ignore[arg-type]
    ],
)
def test_shared_parts_that_cannot_be_are_refused(shared: list[SharedPart], message: str):
    with pytest.raises(UserError) as error:
        build_engine(4, shared=shared)
    assert message in str(error.value)


@given(st.sampled_from(list(permutations((1, 2, 3, 4)))))
def test_every_cylinder_is_on_one_wasted_spark_coil(order: tuple[int, ...]):
    coils = parts(build_engine(4, ignition="wasted-spark", firing_order=order), "coil")
    assert sorted(cylinder for pair in coils.values() for cylinder in pair) == [1, 2, 3, 4]
