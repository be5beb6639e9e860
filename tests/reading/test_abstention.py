"""Refusals say what is wrong and what to do, in words for the bench."""

from __future__ import annotations

import numpy as np
import pytest

from firingend.labels import LABELS, PARTS
from firingend.photo.quality import BLOWN_OUT, OUT_OF_FOCUS, STRONG_CAST, TOO_DARK, Quality
from firingend.reading.abstention import (
    IN_WORDS,
    clipped_plug,
    doubtful_find,
    doubts_of_crop,
    no_end_reasons,
    status_reasons,
    too_small,
    unsure,
)
from firingend.reading.networks import SmallEnds, Thresholds
from firingend.reading.reading import FiringEnd, Reading

THRESHOLDS = Thresholds(label=0.6, unused=0.5, not_a_plug=0.5, min_box_px=40, min_focus=10)


def quality(focus=100.0, flags=()):
    return Quality(focus, 0.0, 0.0, 120.0, 1.0, flags)


def parts_mask(*, plug):
    """Parts (8, 8) whose left half is nose where ``plug``, background elsewhere."""
    parts = np.full((8, 8), PARTS.index("background"))
    if plug:
        parts[:, :4] = PARTS.index("nose")
    return parts


def codes(reasons):
    return [reason.code for reason in reasons]


def test_every_label_has_words():
    assert set(IN_WORDS) == set(LABELS)


def test_exposure_is_judged_on_the_plug_not_on_the_paper():
    crop = np.full((32, 32, 3), 255, np.uint8)
    crop[:, :16] = 90
    assert clipped_plug(crop, parts_mask(plug=True)) == 0
    assert clipped_plug(crop[:, ::-1], parts_mask(plug=True)) == 1
    assert clipped_plug(crop, parts_mask(plug=False)) == 0.5
    assert codes(doubts_of_crop(crop, parts_mask(plug=True), quality(), quality(), THRESHOLDS)) == []
    assert codes(doubts_of_crop(crop[:, ::-1], parts_mask(plug=True), quality(), quality(), THRESHOLDS)) == [
        "blown-out"
    ]


def test_focus_dark_and_cast():
    crop = np.full((32, 32, 3), 90, np.uint8)
    found = doubts_of_crop(
        crop,
        parts_mask(plug=True),
        quality(9.9, (TOO_DARK, STRONG_CAST)),
        quality(flags=(STRONG_CAST,)),
        THRESHOLDS,
    )
    assert codes(found) == ["out-of-focus", "too-dark", "strong-colour-cast"]
    # A tan nose fills its crop: a cast counts only when the whole photograph has it.
    found = doubts_of_crop(crop, parts_mask(plug=True), quality(flags=(STRONG_CAST,)), quality(), THRESHOLDS)
    assert codes(found) == []


def test_size_of_the_firing_end():
    assert too_small(FiringEnd((0, 0, 10, 40), (0, -1), 0.3), 0.5, THRESHOLDS) == ()
    (reason,) = too_small(FiringEnd((0, 0, 39.8, 10), (0, -1), 0.9), 1.0, THRESHOLDS)
    assert reason.code == "too-small" and "39 pixels" in reason.text and "nearer" in reason.remedy


@pytest.mark.parametrize(
    ("side", "probability", "said"),
    [(35, 0.985, []), (35, 0.97, ["too-small"]), (29, 0.999, ["too-small"]), (41, 0.5, [])],
)
def test_a_somewhat_small_firing_end_is_read_where_it_is_plain(side, probability, said):
    thresholds = THRESHOLDS.model_copy(update={"small": SmallEnds(least_box_px=30.0, label=0.98)})
    assert codes(too_small(FiringEnd((0, 0, side, 10), (0, -1), 0.8), probability, thresholds)) == said


def test_a_find_the_finder_doubts_gets_no_label():
    thresholds = THRESHOLDS.model_copy(update={"find_score": 0.4})
    (reason,) = doubtful_find(FiringEnd((0, 0, 90, 90), (0, -1), 0.33), 0.1, thresholds)
    assert reason.code == "doubtful-find" and "33%" in reason.text and "nearer" in reason.remedy
    assert doubtful_find(FiringEnd((0, 0, 90, 90), (0, -1), 0.4), 0.1, thresholds) == ()
    assert doubtful_find(FiringEnd((0, 0, 90, 90), (0, -1), 0.01), 0.1, THRESHOLDS) == ()
    assert doubtful_find(FiringEnd((0, 0, 90, 90), (0, -1), 0.33), 0.9, thresholds) == ()  # that is said already


def test_unused_and_not_a_plug():
    assert status_reasons(0.2, 0.2, THRESHOLDS) == ()
    (unused,) = status_reasons(0.91, 0.05, THRESHOLDS)
    assert unused.code == "unused" and "91%" in unused.text and "not lean" in unused.text
    (maybe,) = status_reasons(0.12, 0.05, THRESHOLDS.model_copy(update={"unused": 0.1}))
    assert maybe.code == "unused" and "may never have run (12% likely)" in maybe.text
    assert "if it has run" in maybe.remedy
    assert codes(status_reasons(0.0, 0.5, THRESHOLDS)) == ["not-a-plug"]


def test_unsure_names_the_two():
    p = {"lean-white": 0.02, "normal-tan": 0.03, "rich-carbon": 0.5, "oil-fouled": 0.4, "wet": 0.05}
    (reason,) = unsure(p, THRESHOLDS)
    assert reason.code == "unsure"
    assert reason.text == "not sure between rich (sooty), 50%, and oil-fouled, 40%"
    assert unsure({**p, "rich-carbon": 0.6}, THRESHOLDS) == ()


def test_unsure_tells_where_the_noses_colour_says_otherwise():
    p = {"lean-white": 0.05, "normal-tan": 0.55, "rich-carbon": 0.3, "oil-fouled": 0.05, "wet": 0.05}
    (reason,) = unsure(p, THRESHOLDS, {"pale": 0.1, "tan": 0.1, "black": 0.8})
    assert reason.text.endswith("; by its measured colour alone the nose is black, 80%")
    for silent in ({"pale": 0.1, "tan": 0.8, "black": 0.1}, {"pale": 0.3, "tan": 0.2, "black": 0.5}, None):
        (reason,) = unsure(p, THRESHOLDS, silent)
        assert "colour" not in reason.text
    # Oil and fuel hide the ceramic: its colour then contradicts nothing.
    (reason,) = unsure({**p, "wet": 0.58}, THRESHOLDS, {"pale": 0.9, "tan": 0.05, "black": 0.05})
    assert "colour" not in reason.text


@pytest.mark.parametrize("flag", [OUT_OF_FOCUS, TOO_DARK, BLOWN_OUT, STRONG_CAST])
def test_a_photograph_without_firing_end_says_why(flag):
    assert codes(no_end_reasons(quality())) == ["no-firing-end"]
    reasons = no_end_reasons(quality(flags=(flag,)))
    assert codes(reasons) == ["no-firing-end", flag.replace(" ", "-")]
    assert all(reason.text and reason.remedy for reason in reasons)


def test_what_was_left_out_as_no_plug_is_said_of_the_photograph():
    def left_out(no_plug):
        return Reading(None, "unreadable", {}, reasons=status_reasons(0.0, no_plug, THRESHOLDS), not_a_plug=no_plug)

    assert codes(no_end_reasons(quality(flags=(TOO_DARK,)), [left_out(0.99)])) == ["not-a-plug", "too-dark"]
    assert codes(no_end_reasons(quality(), [left_out(0.2), left_out(0.99)])) == ["no-firing-end"]
