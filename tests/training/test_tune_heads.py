"""Tuning moves the heads a little, leaves the body alone, and makes a run that exports."""

from __future__ import annotations

import json

import pytest
import torch
from firingend_training.average_runs import average_runs
from firingend_training.export import export_reader, load_reader
from firingend_training.tune_heads import TuneSettings, main, tune


@pytest.fixture(scope="module")
def tuned(reader_run, toy_set, tmp_path_factory):
    out = tmp_path_factory.mktemp("runs") / "tuned"
    few = ["--views", "1", "--steps", "40", "--batch", "32", "--held-apart", "0.3"]
    main(["--start", str(reader_run), "--set", str(toy_set), "--out", str(out), *few])
    return out


def test_only_the_heads_have_moved(reader_run, tuned):
    before, after = (load_reader(run).state_dict() for run in (reader_run, tuned))
    moved = {name for name in before if not torch.equal(before[name], after[name])}
    assert moved
    assert all(name.startswith(("shared.", "heads.")) for name in moved)


def test_the_tuned_run_says_what_was_done_and_exports(tuned, tmp_path):
    told = json.loads((tuned / "tuned.json").read_text())
    assert told["start"] == "reader"
    assert told["steps"] == 40
    assert 0.5 < told["before"] <= 1.0
    assert told["after"] >= told["before"] - 0.15
    assert export_reader(tuned, tmp_path, "toy") < 1e-4


def test_a_strong_anchor_holds_the_heads(reader_run, toy_set, tmp_path):
    def moved(anchor: float) -> float:
        out = tmp_path / str(anchor)
        tune(reader_run, [toy_set], out, TuneSettings(views=0, steps=25, batch=32, rate=3e-3, anchor=anchor))
        before, after = (load_reader(run).state_dict() for run in (reader_run, out))
        return sum(float(((after[name] - before[name]) ** 2).sum()) for name in before if name.startswith("heads."))

    assert 0 < moved(100.0) < 0.5 * moved(0.0)


def test_an_averaged_run_without_scenes_apart_can_be_tuned(reader_run, toy_set, tmp_path):
    average_runs([reader_run, reader_run], tmp_path / "middle")
    tune(tmp_path / "middle", [toy_set], tmp_path / "tuned", TuneSettings(views=0, steps=2, batch=8))
    assert not (tmp_path / "tuned" / "apart.npz").exists()
    load_reader(tmp_path / "tuned")


def test_one_head_can_learn_alone(reader_run, toy_set, tmp_path):
    alone = TuneSettings(views=0, steps=25, batch=32, rate=3e-3, only="status")
    tune(reader_run, [toy_set], tmp_path / "tuned", alone)
    before, after = (load_reader(run).state_dict() for run in (reader_run, tmp_path / "tuned"))
    moved = {name for name in before if not torch.equal(before[name], after[name])}
    assert moved == {"heads.status.weight", "heads.status.bias"}


def test_a_head_that_is_none_is_told(reader_run, toy_set, tmp_path, capsys):
    with pytest.raises(SystemExit):
        main(["--start", str(reader_run), "--set", str(toy_set), "--out", str(tmp_path), "--only", "nose"])
    assert "'nose' is no head of the reader" in capsys.readouterr().err
