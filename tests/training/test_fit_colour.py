"""The say of a nose's colour is fitted on what readings measured, on real pictures in the end."""

from __future__ import annotations

import itertools
import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from firingend_training import fit_colour
from firingend_training.calibrate import STATED_PRIOR
from firingend_training.fit_colour import Seen, fit, fit_coefficients, refuse_overlap, seen_plugs, with_say
from scipy.special import softmax

from firingend.labels import CERAMIC, LABELS
from firingend.reading.networks import ReaderCard, read_card
from firingend.reading.nose_colour import ceramic_by_colour
from firingend.shipped import models_dir

HELD_OUT = Path(__file__).parents[2] / "datasets/held-out"
MIDDLES = {
    "oil-fouled": (15, 1, 4),
    "lean-white": (80, 0, 3),
    "normal-tan": (55, 8, 18),
    "rich-carbon": (15, 0, 1),
    "wet": (40, 3, 8),
}


def plugs_of(counts: dict[str, int], sure: float = 0.9, wrong_every: int = 0, refused: bool = False) -> list[Seen]:
    rng, plugs = np.random.default_rng(3), []
    for label, count in counts.items():
        for i in range(count):
            likeliest = sure + rng.uniform(-0.02, 0.02)
            said = np.full(5, (1 - likeliest) / 4)
            other = LABELS[LABELS.index(label) - 1]
            said[LABELS.index(other if wrong_every and i % wrong_every == 0 else label)] = likeliest
            nose = tuple(float(c) for c in rng.normal(MIDDLES[label], (7, 2, 3)))
            plugs.append(Seen(LABELS.index(label), said, (nose[0], nose[1], nose[2]), refused))
    return plugs


def test_coefficients_tell_the_ceramics_apart_however_common_each_is():
    found = fit_coefficients(plugs_of({"lean-white": 20, "normal-tan": 400, "rich-carbon": 60, "wet": 100}))
    for label, ceramic in (("lean-white", "pale"), ("normal-tan", "tan"), ("rich-carbon", "black")):
        said = ceramic_by_colour(MIDDLES[label], found)
        assert said[CERAMIC.index(ceramic)] > 0.85
    # Halfway between white and tan neither is favoured for being common.
    middle = (67.5, 4.0, 10.5)
    pale, tan, _ = ceramic_by_colour(middle, found)
    assert 1 / 6 < pale / tan < 6


def test_a_set_without_soot_is_refused():
    with pytest.raises(ValueError, match="black"):
        fit_coefficients(plugs_of({"lean-white": 5, "normal-tan": 5, "wet": 5}))


def test_without_a_nose_the_network_stands():
    plug = Seen(0, np.array([0.6, 0.1, 0.1, 0.1, 0.1]), None, False)
    assert with_say(plug, {name: [5.0] * 10 for name in CERAMIC}, 1.0) == pytest.approx(plug.network)


def test_the_threshold_lets_through_no_more_errors_than_stated():
    good = plugs_of({"lean-white": 60, "normal-tan": 60, "rich-carbon": 60}, sure=0.97)
    doubtful = plugs_of({"normal-tan": 60, "wet": 60}, sure=0.6, wrong_every=2)
    found = fit(good + doubtful, good + doubtful, stated=0.02)
    said = np.array([with_say(p, found.coefficients, fit_colour.WEIGHT, found.warmer) for p in good + doubtful])
    labels = np.array([p.label for p in good + doubtful])
    let_through = said.max(1) >= found.label - 1e-4
    assert let_through.sum() >= 180
    assert (said.argmax(1) != labels)[let_through].mean() <= 0.02


def test_the_threshold_is_not_set_by_what_is_refused_for_another_reason():
    plugs = plugs_of({"lean-white": 60, "normal-tan": 60, "rich-carbon": 60}, sure=0.9)
    blurred = plugs_of({"oil-fouled": 40}, sure=0.97, wrong_every=1, refused=True)
    sharp = [replace(plug, refused=False) for plug in blurred]
    assert fit(plugs, plugs + blurred).label < 1.0
    # All of the surest are wrong: nothing can be let through at so small an error.
    assert fit(plugs, plugs + sharp).label == 1.0


def test_temperatures_rise_where_the_network_is_too_sure_and_fall_where_it_is_too_modest():
    too_sure = plugs_of({"lean-white": 60, "normal-tan": 60, "rich-carbon": 60}, sure=0.97, wrong_every=4)
    too_modest = plugs_of({"lean-white": 60, "normal-tan": 60, "rich-carbon": 60}, sure=0.6)
    assert fit(too_sure, too_sure).warmer > 1.2
    assert fit(too_modest, too_modest).warmer < 0.8


def test_warmer_is_what_a_temperature_does():
    prior = np.array([STATED_PRIOR[label] for label in LABELS])
    logits = np.array([2.0, 0.5, -1.0, 0.0, -2.0])
    plug = Seen(0, softmax(logits / 0.8 + np.log(prior)), None, False)
    assert with_say(plug, {}, 0.5, 1.25) == pytest.approx(softmax(logits + np.log(prior)))


@pytest.fixture
def small_set(tmp_path):
    """Every 25th picture of the held-out set."""
    folder = tmp_path / "set"
    folder.mkdir()
    with (HELD_OUT / "truth.jsonl").open(encoding="utf-8") as lines:
        (folder / "truth.jsonl").write_text("".join(itertools.islice(lines, 0, None, 25)), encoding="utf-8")
    for name in ("pictures", "masks", "settings.json"):
        (folder / name).symlink_to(HELD_OUT / name)
    return folder


def test_sets_that_share_a_photograph_are_refused(tmp_path, small_set):
    refuse_overlap([small_set])
    with pytest.raises(ValueError, match=r"of .*set is in .*held-out too: leave one"):
        refuse_overlap([HELD_OUT, small_set])


def test_the_card_is_written_and_read(tmp_path, small_set, capsys, monkeypatch):
    models = tmp_path / "models"
    shutil.copytree(models_dir(), models)
    file = models / "reader.json"
    card = json.loads(file.read_text())
    shipped = card.pop("colour", None)
    file.write_text(json.dumps(card))
    before = list(seen_plugs([small_set], models))
    fit_colour.main(["--models", str(models), "--set", str(small_set), "--weight", "0.4"])
    assert f"{len(before)} plugs" in capsys.readouterr().out
    written = read_card(file, ReaderCard)
    assert written.colour and written.colour.weight == 0.4
    assert written.colour.coefficients == fit_coefficients(before) != shipped
    factors = {head: written.temperature[head] / t for head, t in card["temperature"].items()}
    assert factors["status"] == 1 and factors["five"] == pytest.approx(factors["ceramic"], rel=1e-3)
    assert written.sha256 == card["sha256"]
    assert set(written.conformal) == {"0.01", "0.02", "0.05", "0.1"}
    with pytest.raises(ValueError, match="already"):
        list(seen_plugs([small_set], models))
    file.write_text(json.dumps(card))
    stated = []
    monkeypatch.setattr(fit_colour, "fit", lambda *_, **how: stated.append(how["stated"]) or fit(before, before, **how))
    fit_colour.main(["--models", str(models), "--set", str(small_set), "--stated-error", "0.3"])
    assert stated == [0.3]
