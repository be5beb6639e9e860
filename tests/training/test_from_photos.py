"""Labelled photographs made into a set that the reader can be tuned on."""

from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest
import torch
from firingend_training import from_photos, reopen, tune_heads
from firingend_training.export import export_reader, load_reader
from firingend_training.picture_store import load_regions
from firingend_training.truth import read_truth
from PIL import Image

from firingend.shipped import models_dir

DEMO = Path(__file__).parents[2] / "datasets" / "demo"


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    """One folder per label, as a person would sort the demo engine's photographs, and something that is no plug."""
    folder = tmp_path_factory.mktemp("photos")
    for label, numbers in {"wet": [1], "rich carbon": [2], "normal-tan": [3, 4], "ash": [4]}.items():
        (folder / label).mkdir()
        for number in numbers:
            shutil.copy(DEMO / "flat-four" / f"cylinder-{number}.jpg", folder / label)
    (folder / "not-a-plug").mkdir()
    rng = np.random.default_rng(1)
    Image.fromarray(rng.integers(90, 130, (300, 400, 3), np.uint8)).save(folder / "not-a-plug" / "bench.png")
    (folder / "wet" / "empty.jpg").write_bytes(b"")
    return folder


@pytest.fixture(scope="module")
def made(photos, tmp_path_factory):
    out = tmp_path_factory.mktemp("made") / "set"
    from_photos.main([str(photos), "--out", str(out), "--models", str(models_dir())])
    return out


def test_every_labelled_plug_is_taken_and_what_is_not_is_told(photos, tmp_path, capsys):
    from_photos.main([str(photos), "--out", str(tmp_path / "set"), "--models", str(models_dir())])
    told = dict(line.rsplit(": ", 1) for line in capsys.readouterr().out.splitlines())
    assert told == {
        "photographs": "5",
        "normal-tan": "2",
        "rich-carbon": "1",
        "wet": "1",
        "other parts": "1",
        "left out: could not be read": "1",
        "left out: labelled neither with one of the five nor unused": "1",
    }


def test_truth_says_only_what_a_label_says(made):
    plugs = {plug.label: plug for truth in read_truth(made / "truth.jsonl") for plug in truth.plugs}
    assert (plugs["wet"].ceramic, plugs["wet"].surface) == ("", "film")
    assert (plugs["normal-tan"].ceramic, plugs["normal-tan"].surface) == ("tan", "dry")
    assert math.isnan(plugs["wet"].severity) and not plugs["wet"].signs_known and plugs["wet"].teaches
    regions = load_regions([made])
    assert len(regions) == 6  # four plugs, two places on the picture without one
    assert (regions.masks == 255).all()
    assert np.isnan(regions.signs[regions.plug >= 0]).all()
    assert sorted(regions.status.tolist()) == [0, 0, 0, 0, 2, 2]


def test_the_shipped_reader_is_tuned_on_it_and_keeps_its_calibration(made, tmp_path):
    reopen.main(["--models", str(models_dir()), "--out", str(tmp_path)])
    few = ["--steps", "4", "--batch", "4", "--views", "1"]
    tune_heads.main(["--start", str(tmp_path / "reader"), "--set", str(made), "--out", str(tmp_path / "tuned"), *few])
    before, after = (load_reader(tmp_path / run).state_dict() for run in ("reader", "tuned"))
    assert all(torch.isfinite(value).all() for value in after.values())
    assert not torch.equal(before["heads.five.weight"], after["heads.five.weight"])
    out = tmp_path / "models"
    out.mkdir()
    export_reader(tmp_path / "tuned", out, "mine", calibration=models_dir() / "reader.json")
    mine, shipped = (json.loads((folder / "reader.json").read_text()) for folder in (out, models_dir()))
    assert mine["version"] == "mine" and mine["sha256"] != shipped["sha256"]
    kept = ("temperature", "thresholds", "prior", "conformal", "colour")
    assert {k: mine[k] for k in kept} == {k: shipped[k] for k in kept}


def test_a_set_is_not_written_over_and_a_rendered_one_not_made_again(made, photos, toy_set, tmp_path, capsys):
    before = (made / "truth.jsonl").read_bytes()
    for arguments, words in (
        ([str(photos), "--out", str(made)], "holds a set already"),
        ([str(toy_set), "--out", str(tmp_path / "again")], "to tune on already"),
    ):
        with pytest.raises(SystemExit):
            from_photos.main([*arguments, "--models", str(models_dir())])
        assert words in capsys.readouterr().err
    assert (made / "truth.jsonl").read_bytes() == before
