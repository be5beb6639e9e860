"""Scores of readings made up so that every number can be counted by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sklearn.metrics import balanced_accuracy_score

from firingend.evaluation.judging import judge
from firingend.evaluation.photo_set import TruePicture, TruePlug
from firingend.evaluation.scores import score
from firingend.labels import LABELS, UNREADABLE

BOX = (10.0, 10.0, 50.0, 50.0)


@pytest.fixture
def judged_of(make_reading, make_photo_reading):
    """Judge single-plug photographs from (truth, said or None) pairs."""

    def make(pairs, **of_reading):
        judged = []
        for i, (truth, said) in enumerate(pairs):
            picture = TruePicture(Path(f"{i}.jpg"), str(i), () if truth == "not-a-plug" else (TruePlug(truth, BOX),))
            readings = () if said is None else (make_reading(said, **of_reading),)
            judged.append(judge(picture, make_photo_reading(*readings)))
        return judged

    return make


def test_label_measures_by_hand(judged_of):
    pairs = [("wet", "wet")] * 3 + [("wet", UNREADABLE)] + [("normal-tan", "normal-tan")] + [("normal-tan", "wet")]
    scores = score(judged_of(pairs))
    assert scores.measures["balanced_accuracy"].value == pytest.approx((0.75 + 0.5) / 2)
    assert scores.measures["balanced_accuracy_answered"].value == pytest.approx((1 + 0.5) / 2)
    assert scores.measures["refused"].value == pytest.approx(1 / 6)
    assert scores.measures["error_answered"].value == pytest.approx(1 / 5)
    assert scores.measures["error_answered"].count == 5
    assert scores.recall["wet"].value == 0.75
    assert scores.recall["wet"].count == 4
    assert scores.recall_answered["wet"].count == 3
    assert set(scores.recall) == {"wet", "normal-tan"}
    assert scores.confusion["wet"] == {
        "lean-white": 0, "normal-tan": 0, "rich-carbon": 0, "oil-fouled": 0, "wet": 3, UNREADABLE: 1, "not-found": 0,
    }  # fmt: skip
    assert scores.refusals == {"wet": {"unsure": 1}}


def test_sets_of_labels_by_hand(judged_of):
    pairs = [("wet", "wet"), ("oil-fouled", "wet"), ("normal-tan", "wet"), ("wet", None)]
    scores = score(judged_of(pairs, label_set=("wet", "oil-fouled")))
    held = scores.measures["label_set_right"]
    assert (held.value, held.count) == (pytest.approx(2 / 3), 3)
    assert scores.measures["label_set_size"].value == 2
    assert "label_set_right" not in score(judged_of(pairs)).measures


def test_missed_plugs_are_wrong_and_found_nowhere(judged_of):
    scores = score(judged_of([("wet", "wet"), ("wet", None)]))
    assert scores.measures["balanced_accuracy"].value == 0.5
    assert scores.measures["balanced_accuracy_first_guess"].value == 0.5
    assert scores.measures["finder_recall"].value == 0.5
    assert scores.measures["brier"].count == 1
    assert scores.confusion["wet"]["not-found"] == 1


def test_first_guess_is_what_was_likeliest_although_refused(judged_of):
    judged = judged_of([("wet", UNREADABLE), ("wet", "wet")], likeliest="wet", sure=0.5)
    scores = score(judged)
    assert scores.measures["balanced_accuracy"].value == 0.5
    assert scores.measures["balanced_accuracy_first_guess"].value == 1.0


def test_the_likeliest_label_by_evidence_alone_may_be_another(judged_of):
    # Each of the others is stated 0.15; wet was taken to be the rarest, so it leads once that is divided out.
    prior = {"lean-white": 0.5, "normal-tan": 0.2, "rich-carbon": 0.1, "oil-fouled": 0.15, "wet": 0.05}
    measures = score(judged_of([("wet", UNREADABLE)] * 3, likeliest="lean-white", sure=0.4, prior=prior)).measures
    for name in ("balanced_accuracy", "macro_f1"):
        assert measures[f"{name}_first_guess"].value == 0.0
        assert measures[f"{name}_first_guess_equal_prior"].value == 1.0


def test_the_prior_is_divided_out_where_it_must_be(judged_of):
    # Stated 0.4 wet against 0.6 / 4 for the others, but wet was taken to be rare: by evidence alone it leads.
    prior = {"lean-white": 0.5, "normal-tan": 0.2, "rich-carbon": 0.1, "oil-fouled": 0.1, "wet": 0.1}
    judged = judged_of([("wet", UNREADABLE)] * 3, likeliest="lean-white", sure=0.4, prior=prior)
    scores = score(judged)
    assert scores.measures["balanced_accuracy_first_guess"].value == 0.0
    stated = score(judged_of([("wet", UNREADABLE)] * 3, likeliest="lean-white", sure=0.4))
    assert scores.measures["brier"].value == stated.measures["brier"].value
    # The set holds wet alone, so under its own shares the answer is certain and right.
    assert scores.measures["brier_at_set_prior"].value == pytest.approx(0, abs=1e-6)
    assert scores.measures["ece_at_set_prior"].value == pytest.approx(0, abs=1e-6)


def test_off_label_measures(judged_of):
    pairs = [
        ("unused", UNREADABLE), ("unused", "lean-white"), ("unused", "wet"), ("unused", None),
        ("ash", "oil-fouled"), ("ash", "lean-white"), ("coolant-clean", "normal-tan"),
        ("not-a-plug", None), ("not-a-plug", UNREADABLE), ("not-a-plug", "wet"),
    ]  # fmt: skip
    measures = score(judged_of(pairs)).measures
    assert measures["unused_not_lean"].value == 0.75
    assert measures["unused_refused"].value == 0.5
    assert measures["ash_not_lean"].value == 0.5
    assert measures["coolant_clean_not_lean"].value == 1.0
    assert measures["not_a_plug_refused"].value == pytest.approx(2 / 3)
    assert "balanced_accuracy" not in measures
    assert measures["false_finds_per_picture"].value == pytest.approx(2 / 10)
    assert measures["false_labels_per_picture"].value == pytest.approx(1 / 10)


def test_row_measures(make_reading, make_photo_reading):
    boxes = [(i * 100.0, 0.0, i * 100.0 + 40, 40.0) for i in range(3)]
    truth = TruePicture(Path("row.jpg"), "e", tuple(TruePlug("wet", box) for box in boxes))
    read = [make_reading("wet", box=box) for box in boxes]
    extra = make_reading("wet", box=(500.0, 500.0, 540.0, 540.0))
    rows = [read, [*read, extra], read[::-1], read[:2]]
    measures = score([judge(truth, make_photo_reading(*row)) for row in rows]).measures
    assert measures["finder_recall"].value == pytest.approx(11 / 12)
    assert measures["finder_recall"].count == 12
    assert measures["rows_all_found"].value == 0.75
    assert measures["row_order_right"].value == 0.75
    assert measures["rows_all_found_in_order"].value == 0.5
    assert measures["rows_exactly_right"].value == 0.25


def test_rows_a_person_can_make_out_and_single_rows(make_reading, make_photo_reading):
    boxes = [(i * 100.0, 0.0, i * 100.0 + 40, 40.0) for i in range(3)]

    def judged(found, *, visible=True, below=()):
        plugs = [TruePlug("wet", box, visible=visible) for box in (*boxes, *below)]
        readings = [make_reading("wet", box=box) for box in found]
        return judge(TruePicture(Path("row.jpg"), "e", tuple(plugs)), make_photo_reading(*readings))

    whole, missed, backwards = judged(boxes), judged(boxes[:2], visible=False), judged(boxes[::-1])
    two_rows = judged([boxes[1], boxes[0]], below=[(0.0, 100.0, 40.0, 140.0)])
    plain = score([whole, backwards]).measures
    assert not [name for name in plain if name.endswith(("visible", "one_row"))]
    measures = score([whole, missed, backwards, two_rows]).measures
    assert measures["finder_recall_visible"].value == pytest.approx(8 / 10)
    assert measures["rows_all_found"].value == pytest.approx(2 / 4)
    assert measures["rows_all_found_visible"].value == pytest.approx(2 / 3)
    assert measures["row_order_right"].value == pytest.approx(2 / 4)
    assert measures["row_order_right_visible"].value == pytest.approx(1 / 3)
    assert measures["row_order_right_one_row"].value == pytest.approx(2 / 3)
    assert measures["rows_all_found_in_order_visible"].value == pytest.approx(1 / 3)
    assert measures["rows_all_found_in_order_visible_one_row"].value == pytest.approx(1 / 2)


def test_what_was_left_out_counts_before_keeping(make_reading, make_photo_reading):
    truth = TruePicture(Path("a.jpg"), "e", (TruePlug("wet", BOX),))
    bolt = make_reading(UNREADABLE, box=(500.0, 500.0, 540.0, 540.0))
    plug = make_reading(UNREADABLE, box=BOX)
    photos = [replace(make_photo_reading(plug), left_out=(bolt,)), replace(make_photo_reading(), left_out=(plug,))]
    measures = score([judge(truth, photo) for photo in photos]).measures
    assert measures["finder_recall"].value == 0.5
    assert measures["finder_recall_before_keeping"].value == 1.0
    assert measures["false_finds_per_picture"].value == 0.0
    assert measures["false_finds_per_picture_before_keeping"].value == 0.5


def test_a_plug_nobody_could_read_counts_for_the_finder_alone(make_reading, make_photo_reading):
    truth = TruePicture(Path("a.jpg"), "e", (TruePlug("wet", BOX, readable=False),))
    scores = score([judge(truth, make_photo_reading(make_reading("lean-white", box=BOX)))])
    assert scores.measures["finder_recall"].value == 1.0
    assert "balanced_accuracy" not in scores.measures
    assert scores.confusion == {}


def test_random_answers_agree_with_sklearn_and_slices_add_up(make_reading, make_photo_reading):
    rng = np.random.default_rng(0)
    judged, truths, saids = [], [], []
    for i in range(200):
        truth = LABELS[rng.integers(5)]
        said = truth if rng.random() < 0.7 else LABELS[rng.integers(5)]
        nuisance = {"light": "flash" if i % 3 else "lamp", "view_degrees": float(rng.uniform(0, 90))}
        picture = TruePicture(Path(f"{i}.jpg"), str(i // 4), (TruePlug(truth, BOX),), nuisance)
        judged.append(judge(picture, make_photo_reading(make_reading(said, sure=rng.uniform(0.4, 1)))))
        truths.append(truth)
        saids.append(said)
    scores = score(judged)
    measure = scores.measures["balanced_accuracy"]
    assert measure.value == pytest.approx(balanced_accuracy_score(truths, saids))
    assert measure.low < measure.value < measure.high
    assert measure.groups == 50
    light = {s.band: s for s in scores.slices if s.nuisance == "light"}
    assert {band: s.plugs for band, s in light.items()} == {"flash": 133, "lamp": 67}
    right = sum(s.accuracy.value * s.plugs for s in light.values())
    assert right == pytest.approx(sum(t == s for t, s in zip(truths, saids, strict=True)))
    assert sum(b.count for b in scores.reliability) == 200
    assert scores.risk_coverage[-1] == pytest.approx((1.0, 1 - scores.measures["accuracy"].value))


def test_nothing_judged_gives_nothing():
    scores = score([])
    assert scores.measures == {}
    assert scores.reliability == ()
    assert scores.risk_coverage == ()
