"""Outlines lie where the parts are, letters collide with nothing, swatches have the colour they name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import lab2rgb

from firingend.cases.case import CaseResult
from firingend.labels import COVERED_PARTS, LABELS
from firingend.reading.reading import Outline, Reading, Zone
from firingend.report.gather import gather
from firingend.report.zones import LETTERS, neutral_words, outlined, srgb, swatches


def plug(*zones: Zone) -> Reading:
    return Reading(None, "wet", dict.fromkeys(LABELS, 0.2), zones=zones)


def zone(part: str, *outlines: Outline, lab: tuple[float, float, float] | None = (50, 0, 0), sure: float = 0.9) -> Zone:
    return Zone(part, outlines, 0.2, lab, "grey patch", sure)


def box(x: float, y: float, side: float) -> Outline:
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def test_every_part_has_a_letter_of_its_own() -> None:
    assert set(LETTERS) == set(COVERED_PARTS)
    assert len(set(LETTERS.values())) == len(LETTERS)


def test_outlines_are_shares_of_the_cut_out() -> None:
    (nose,) = outlined(plug(zone("nose", box(120, 150, 40))), (100, 100, 200))
    assert nose.loops == (((0.1, 0.25), (0.3, 0.25), (0.3, 0.45), (0.1, 0.45)),)
    assert nose.anchor == pytest.approx((0.2, 0.35))
    assert nose.letter == "N"


def test_blots_are_not_drawn() -> None:
    assert outlined(plug(zone("nose", box(120, 150, 1)), zone("rim", ((0, 0), (9, 9)))), (100, 100, 200)) == ()
    assert outlined(plug(zone("nose", ((float("nan"), 0), (50, 0), (50, 90)))), (0, 0, 100)) == ()
    assert outlined(plug(), (0, 0, 100)) == ()


def test_the_anchor_of_a_ring_cut_open_lies_on_it() -> None:
    horseshoe: Outline = ((10, 10), (90, 10), (90, 90), (70, 90), (70, 30), (30, 30), (30, 90), (10, 90))
    (rim,) = outlined(plug(zone("rim", horseshoe)), (0, 0, 100))
    x, y = rim.anchor
    assert y < 0.3 or x < 0.3 or x > 0.7


@given(st.lists(st.tuples(st.floats(0, 95), st.floats(0, 95)), min_size=5, max_size=5))
def test_letters_stay_apart_and_inside(corners: list[tuple[float, float]]) -> None:
    zones = [zone(part, box(x, y, 5)) for part, (x, y) in zip(LETTERS, corners, strict=True)]
    places = [part.place for part in outlined(plug(*zones), (0, 0, 100))]
    assert len(places) == 5
    assert all(0.05 < x < 0.95 and 0.05 < y < 0.95 for x, y in places)
    for i, (x, y) in enumerate(places):
        assert all(x != other or abs(y - level) > 0.099 for other, level in places[:i])


@pytest.mark.parametrize("lab", [(50, 0, 0), (82, 2, 8), (17, 5, -1), (44, 11, 20), (3, 0, 1), (99, 0, 1)])
def test_swatches_have_the_colour_they_name(lab: tuple[float, float, float]) -> None:
    outside = lab2rgb(np.array([[lab]], dtype=float))[0, 0] * 255
    assert srgb(lab) == pytest.approx(tuple(outside), abs=1)


def test_the_nose_comes_first_and_glare_shows_no_colour() -> None:
    seen = swatches(plug(zone("threads"), zone("rim", lab=None), zone("nose", lab=(82.4, -2.5, 8))))
    assert [each.name for each in seen] == ["nose", "threads"]
    assert seen[0].lab.replace("\xa0", " ") == "L* 82 a* −2 b* 8"


def test_what_was_neutral_and_how_sure() -> None:
    assert neutral_words([plug()]) == ""
    assert neutral_words([plug(zone("nose"))]).endswith("Taken for neutral: grey patch; 90\xa0% sure.")
    fair = neutral_words([plug(zone("nose", sure=0.6)), plug(zone("nose", sure=0.7))])
    assert "60 to 70\xa0% sure. Set the plugs of one photograph against each other" in fair
    assert "only 10\xa0% sure" in neutral_words([plug(zone("nose", sure=0.1))])


def test_a_report_shows_parts_and_colours(result: CaseResult) -> None:
    def with_zones(cylinder: int, lab: tuple[float, float, float]) -> Reading:
        x = 300 * (cylinder - 1) + 150
        return replace(result.readings[cylinder], zones=(zone("nose", box(x - 20, 130, 40), lab=lab), zone("rim")))

    readings = {**result.readings, 1: with_zones(1, (60, 8, 20)), 2: with_zones(2, (85, 1, 6))}
    content = gather(replace(result, readings=readings))
    assert content.colours.startswith("The nose of cylinder 2 is far lighter than that of 1 (colour difference ")
    assert content.legend == "On the pictures: N nose."
    nose = content.plugs[0].outlines[0]
    assert nose.anchor == pytest.approx((0.5, 0.5), abs=0.02)
    assert [row.name for row in content.colour_rows] == ["rim"]
    assert [bool(cell) for cell in content.colour_rows[0].swatches] == [True, True, False, False]
    assert content.plugs[3].outlines == ()
    assert content.plugs[3].swatches == ()
