"""The measuring of exported networks, end to end on toy ones."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from firingend_training.evaluate import EvaluateSettings, label_sets, main, measure, summary
from firingend_training.library_photos import SCIKIT_IMAGE, library_photos, write_library_set
from toy_networks import write_toy_networks

from firingend.evaluation.judging import judge
from firingend.evaluation.photo_set import TruePicture, TruePlug
from firingend.labels import LABELS
from firingend.photo.picture import Quality
from firingend.reading.networks import ReaderCard, read_card
from firingend.reading.reading import FiringEnd, PhotoReading, Reading


@pytest.fixture(scope="module")
def toy_models(tmp_path_factory):
    return write_toy_networks(tmp_path_factory.mktemp("models"))


def test_metrics_name_the_networks_and_count_what_is_behind_them(toy_set, toy_models, tmp_path, capsys):
    out, page = tmp_path / "models" / "metrics.json", tmp_path / "page.html"
    arguments = ["--set", str(toy_set), "--models", str(toy_models), "--out", str(out), "--page", str(page)]
    assert main([*arguments, "--corrupt", "2"]) == 0
    result = json.loads(out.read_text())
    assert result["set"]["pictures"] == 72
    assert result["networks"]["finder"]["version"] == "toy"
    assert len(result["networks"]["reader"]["sha256"]) == 64
    assert result["parts"]["plugs"] == 60
    assert result["measures"]["finder_recall"]["count"] == 60
    assert result["measures"]["finder_recall_before_keeping"]["count"] == 60
    assert result["corruptions"]["unspoilt"]["plugs"] == 2
    assert result["library_photos"] is None
    assert "finder_recall" in capsys.readouterr().out
    assert page.read_text().startswith("<!doctype html>")


def test_library_photographs_are_there_offline_and_make_a_set_without_plugs(tmp_path):
    photos = library_photos()
    assert {*SCIKIT_IMAGE, "china", "flower"} == set(photos)
    assert all(p.dtype == np.uint8 and p.ndim == 3 and p.shape[2] == 3 for p in photos.values())
    library = write_library_set(tmp_path)
    assert len(library.pictures) == 5 * len(photos)
    assert all(picture.file.is_file() and picture.plugs == () for picture in library.pictures)


def test_the_share_refused_is_in_the_result(toy_set, toy_models):
    result, _ = measure(EvaluateSettings(toy_set, toy_models, library_photos=True))
    tried = result["library_photos"]
    assert (tried["photographs"], tried["pictures"]) == (20, 100)
    assert 0 <= tried["low"] <= tried["refused"] <= tried["high"] <= 1
    assert "library photographs refused" in summary(result)


def test_every_stated_limit_of_label_sets_is_tried(toy_models):
    box = (10.0, 10.0, 50.0, 50.0)

    def judged(truth, sure, rest):
        chances = dict.fromkeys(LABELS, rest) | {"wet": sure, "oil-fouled": 1 - sure - 3 * rest}
        seen = Reading(FiringEnd(box, (0.0, -1.0), 0.9), "wet", chances)
        photo = PhotoReading(Path("a.jpg"), 640, 480, Quality(99.0, 0.0, 0.0, 120.0, 1.0), (seen,))
        return judge(TruePicture(Path("a.jpg"), "a", (TruePlug(truth, box),)), photo)

    card = read_card(toy_models / "reader.json", ReaderCard).model_copy(update={"conformal": {"0.02": 0.8, "0.1": 0.5}})
    tried = label_sets(
        [judged("wet", 0.9, 0.01), judged("oil-fouled", 0.6, 0.01), judged("oil-fouled", 0.8, 0.02)], card
    )
    # At 0.8 every label of 0.2 and more is in: wet; wet and oil; wet alone, since oil is 0.14.
    assert tried["0.02"] == {
        "right": pytest.approx(2 / 3, abs=1e-6),
        "right_by_label": {"oil-fouled": 0.5, "wet": 1.0},
        "size": pytest.approx(4 / 3, abs=1e-6),
        "count": 3,
    }
    assert tried["0.1"]["right_by_label"] == {"oil-fouled": 0.0, "wet": 1.0}
    assert label_sets([], card) == {}


def test_missing_networks_are_named(toy_set, tmp_path, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["--set", str(toy_set), "--models", str(tmp_path), "--out", str(tmp_path / "m.json")])
    assert stopped.value.code == 1
    assert "finder.json" in capsys.readouterr().err
