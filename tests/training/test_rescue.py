"""A training cut short is used from its last checkpoint."""

from __future__ import annotations

import pytest
import torch
from firingend_training import rescue, train
from firingend_training.export import load_reader
from toy_set import settings_of


@pytest.fixture
def cut_short(toy_set, tmp_path, monkeypatch):
    """A run whose last checkpoint is its end, its weights set aside."""
    monkeypatch.setattr("firingend_training.optimise.CHECKPOINT_SECONDS", 0.0)
    run = tmp_path / "run"
    few = settings_of(crop=64, batch=8, steps=5)
    train.main(["reader", "--set", str(toy_set), "--out", str(run), "--device", "cpu", *few])
    (run / "weights.pt").rename(tmp_path / "at-the-end.pt")
    return run, torch.load(tmp_path / "at-the-end.pt", weights_only=True)


def test_its_weights_are_the_running_average_of_the_checkpoint(cut_short, capsys):
    run, at_the_end = cut_short
    rescue.main([str(run)])
    assert "weights after 5 steps" in capsys.readouterr().out
    rescued = torch.load(run / "weights.pt", weights_only=True)
    assert rescued.keys() == at_the_end.keys()
    assert all(torch.equal(rescued[name], value) for name, value in at_the_end.items())
    load_reader(run)  # a reader like any other
    before = (run / "weights.pt").read_bytes()
    rescue.main([str(run)])
    assert "has its weights" in capsys.readouterr().out
    assert (run / "weights.pt").read_bytes() == before


def test_a_run_with_nothing_to_rescue_is_named(tmp_path, capsys):
    with pytest.raises(SystemExit):
        rescue.main([str(tmp_path / "empty")])
    assert "has neither weights nor a checkpoint" in capsys.readouterr().err
