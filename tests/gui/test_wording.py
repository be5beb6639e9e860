"""Engines, money and time in words."""

from __future__ import annotations

import pytest
from firingend_gui import wording

from firingend.engine.build import build_engine


@pytest.mark.parametrize(
    ("engine", "words"),
    [
        (build_engine(1, strokes=2, fuel_system="carburettor", ignition="magneto"), "Single cylinder · two-stroke"),
        (build_engine(4, ignition="wasted-spark", firing_order=(1, 3, 4, 2)), "firing order 1-3-4-2"),
        (build_engine(8, layout="vee"), "V eight · four-stroke"),
        (build_engine(12, layout="vee"), "V 12-cylinder"),
        (build_engine(2, layout="flat"), "Flat twin"),
    ],
)
def test_an_engine_in_one_line(engine, words):
    assert words in wording.engine_words(engine)


def test_small_money_keeps_its_pence_and_large_does_not():
    assert wording.money(3.456, "EUR") == "3.46 EUR"
    assert wording.money(84.4, "EUR") == "84 EUR"
    assert wording.money(-12.0, "EUR") == "-12 EUR"


@pytest.mark.parametrize(("minutes", "words"), [(0.2, "1 min"), (59.6, "1 h"), (125, "2 h 5 min")])
def test_time_is_told_in_whole_minutes(minutes, words):
    assert wording.duration(minutes) == words
