"""Severity, other labels and colours in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from firingend.comparison.plug_words import PART_WORDS, climbed_to, colour_sentence, could_also_be, severity_words
from firingend.labels import COVERED_PARTS, LABELS, UNREADABLE
from firingend.reading.reading import Lab, Reading, Zone


def reading(label: str, lab: Lab | None = None, part: str = "nose", severity: float | None = None) -> Reading:
    zones = (Zone(part, (), 0.2, lab, "grey patch", 0.95),) if lab else ()
    return Reading(None, label, dict.fromkeys(LABELS, 0.2), zones=zones, severity=severity)


def test_every_part_has_words() -> None:
    assert set(PART_WORDS) == set(COVERED_PARTS)


@pytest.mark.parametrize("label", ["lean-white", "normal-tan", "wet", UNREADABLE])
def test_only_soot_and_oil_climb(label: str) -> None:
    assert severity_words(reading(label, severity=0.9)) == ""


def test_soot_climbs_part_by_part() -> None:
    said = [severity_words(reading("rich-carbon", severity=s)) for s in (0.1, 0.4, 0.8)]
    assert said == ["soot on the nose only", "soot over nose and rim", "soot over nose and rim and up the threads"]
    assert severity_words(reading("rich-carbon")) == ""


def test_oil_never_stays_on_the_nose() -> None:
    assert [climbed_to(reading("oil-fouled", severity=s)) for s in (0.0, 0.5)] == ["rim", "threads"]


def test_what_else_it_could_be() -> None:
    wet = reading("wet")
    assert could_also_be(wet) == ""
    assert could_also_be(replace(wet, label_set=("wet",))) == ""
    assert could_also_be(replace(wet, label_set=("oil-fouled", "wet"))) == "could also be oily"
    many = ("wet", "oil-fouled", "rich-carbon", "normal-tan")
    assert could_also_be(replace(wet, label_set=many)) == "could also be oily, sooty or tan"


def test_a_set_of_everything_says_nothing() -> None:
    assert could_also_be(replace(reading(UNREADABLE), label_set=LABELS)) == ""


def test_the_odd_nose_is_set_against_the_others() -> None:
    plugs = {
        1: reading("normal-tan", (60, 8, 20)),
        2: reading("rich-carbon", (15, 0, 2)),
        3: reading("normal-tan", (62, 8, 22)),
    }
    said = colour_sentence(plugs, 2)
    assert said.startswith("The nose of cylinder 2 is far darker than those of 1 and 3 (colour difference ")
    assert said.endswith(" by CIEDE2000).")


def test_sides_of_a_colour() -> None:
    tan = reading("normal-tan", (60, 8, 20))
    for lab, how in (
        ((85, 2, 18), "lighter than that of 1"),
        ((60, 8, 36), "browner than that of 1"),
        ((60, 4, 8), "greyer than that of 1"),
        ((60, 22, 20), "of another colour than that of 1"),
        ((60, 8, 21), "hardly another colour than that of 1"),
    ):
        assert how in colour_sentence({1: tan, 2: reading("lean-white", lab)}, 2)


def test_threads_are_many() -> None:
    plugs = {1: reading("wet", (60, 0, 0), "threads"), 2: reading("wet", (40, 0, 0), "threads")}
    assert colour_sentence(plugs, 2, "threads").startswith("The threads of cylinder 2 are far darker than those of 1 (")


def test_nothing_is_said_of_a_nose_not_seen() -> None:
    tan, dark = reading("normal-tan", (60, 8, 20)), reading("rich-carbon", (15, 0, 2))
    assert colour_sentence({}, 1) == ""
    assert colour_sentence({1: tan}, 1) == ""
    assert colour_sentence({1: tan, 2: reading("wet")}, 2) == ""
    assert colour_sentence({1: replace(tan, label=UNREADABLE), 2: dark}, 2) == ""
