"""The measuring of exported networks, end to end on toy ones."""

from __future__ import annotations

import json

import numpy as np
import pytest
from firingend_training.evaluate import EvaluateSettings, main, measure, summary
from firingend_training.library_photos import SCIKIT_IMAGE, library_photos, write_library_set
from toy_networks import write_toy_networks


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


def test_missing_networks_are_named(toy_set, tmp_path, capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["--set", str(toy_set), "--models", str(tmp_path), "--out", str(tmp_path / "m.json")])
    assert stopped.value.code == 1
    assert "finder.json" in capsys.readouterr().err
