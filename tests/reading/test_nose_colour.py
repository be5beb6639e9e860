"""The colour of a nose has its say among the dry labels and leaves the rest alone."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from sklearn.linear_model import LogisticRegression

from firingend.errors import UserError
from firingend.labels import CERAMIC
from firingend.reading.networks import ColourSay, ReaderCard, read_card
from firingend.reading.nose_colour import TERMS, ceramic_by_colour, terms, with_colour
from firingend.reading.reader import Reader, read_photo
from firingend.shipped import demo_dir, models_dir

chances = arrays(float, 5, elements=st.floats(0.01, 1)).map(lambda a: a / a.sum())
colours = st.tuples(st.floats(0, 100), st.floats(-60, 60), st.floats(-60, 80))
EVEN = {name: [0.0] * TERMS for name in CERAMIC}


@pytest.fixture(scope="module")
def shipped() -> ColourSay:
    card = read_card(models_dir() / "reader.json", ReaderCard)
    assert card.colour
    return card.colour


@given(chances, arrays(float, 3, elements=st.floats(0.01, 1)), st.floats(0, 1))
def test_only_dry_labels_move(labels, said, weight):
    result = with_colour(labels, said / said.sum(), weight)
    assert result.sum() == pytest.approx(1)
    assert result[3:] == pytest.approx(labels[3:])
    assert result[:3].sum() == pytest.approx(labels[:3].sum())
    # Bayes' rule by hand, the evidence tempered by its weight.
    by_hand = labels[:3] * (said / said.sum()) ** weight
    assert result[:3] / result[:3].sum() == pytest.approx(by_hand / by_hand.sum())


@given(chances)
def test_no_weight_and_no_opinion_change_nothing(labels):
    assert with_colour(labels, np.array([0.98, 0.01, 0.01]), 0.0) == pytest.approx(labels)
    assert with_colour(labels, np.full(3, 1 / 3), 1.0) == pytest.approx(labels)


@cache
def model_of_colours():
    rng = np.random.default_rng(5)
    noses = rng.normal((50, 5, 8), (25, 8, 9), (300, 3))
    return LogisticRegression(fit_intercept=False, max_iter=2000).fit(terms(noses), rng.integers(0, 3, 300))


@given(colours)
def test_the_say_is_that_of_scikit_learns_model(lab):
    model = model_of_colours()
    mine = ceramic_by_colour(lab, dict(zip(CERAMIC, model.coef_.tolist(), strict=True)))
    theirs = np.maximum(model.predict_proba(terms([lab]))[0], 1e-4)
    assert mine == pytest.approx(theirs / theirs.sum(), rel=1e-6)


@given(colours)
def test_no_colour_rules_a_ceramic_out(lab):
    steep = {"pale": [300.0] + [0.0] * 9, "tan": [0.0] * 10, "black": [0.0, -500.0] + [0.0] * 8}
    said = ceramic_by_colour(lab, steep)
    assert said.sum() == pytest.approx(1)
    assert said.min() >= 0.9e-4


# Common practice, no source: what each looks like. L*, a*, b* from memory of such colours on a calibrated screen.
@pytest.mark.parametrize(
    ("lab", "likeliest"),
    [
        ((85, 0, 2), "pale"),  # chalk white
        ((62, 8, 20), "tan"),  # light tan
        ((45, 7, 14), "tan"),  # grey-brown
        ((14, 0, 1), "black"),  # soot
        ((27, 0, 1), "black"),  # soot under a lamp
    ],
)
def test_the_shipped_say_agrees_with_the_trade(shipped, lab, likeliest):
    said = ceramic_by_colour(lab, shipped.coefficients)
    assert CERAMIC[int(said.argmax())] == likeliest


def test_a_photograph_is_read_with_it(tmp_path):
    plug = demo_dir() / "flat-four/cylinder-1.jpg"
    for file in ("reader.onnx", "reader.json"):
        shutil.copy(models_dir() / file, tmp_path)
    card = json.loads((tmp_path / "reader.json").read_text())
    card["colour"] = {"weight": 1.0, "coefficients": EVEN | {"black": [12.0] + [0.0] * 9}}
    (tmp_path / "reader.json").write_text(json.dumps(card))
    without = {key: value for key, value in card.items() if key != "colour"}
    sooty = read_photo(plug, reader=Reader(tmp_path)).readings[0]
    (tmp_path / "reader.json").write_text(json.dumps(without))
    plain = read_photo(plug, reader=Reader(tmp_path)).readings[0]
    odds = {
        name: reading.probabilities["rich-carbon"] / reading.probabilities["normal-tan"]
        for name, reading in {"sooty": sooty, "plain": plain}.items()
    }
    assert odds["sooty"] == pytest.approx(1e4 * odds["plain"], rel=1e-3)
    assert replace(sooty, probabilities={}, label="", reasons=(), label_set=()) == replace(
        plain, probabilities={}, label="", reasons=(), label_set=()
    )
    assert sooty.probabilities["wet"] == pytest.approx(plain.probabilities["wet"])


@pytest.mark.parametrize(
    "colour",
    [
        {"weight": 0.5, "coefficients": {"pale": [0.0] * TERMS}},
        {"weight": 0.5, "coefficients": EVEN | {"tan": [0.0]}},
        {"weight": 2.0, "coefficients": EVEN},
        {"weight": 0.5, "coefficients": EVEN | {"tan": [float("nan")] * TERMS}},
    ],
)
def test_a_damaged_say_is_refused(tmp_path, colour):
    card = json.loads((models_dir() / "reader.json").read_text()) | {"colour": colour}
    (tmp_path / "reader.json").write_text(json.dumps(card))
    with pytest.raises(UserError, match="colour"):
        read_card(tmp_path / "reader.json", ReaderCard)
