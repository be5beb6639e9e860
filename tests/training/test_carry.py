"""What is carried home of a run reads as the run does, takes half the room, and leaves the run as it is."""

from __future__ import annotations

import pytest
import torch
from firingend_training import carry as carrying
from firingend_training import train
from firingend_training.carry import carry
from firingend_training.export import load_reader
from toy_set import settings_of


@pytest.fixture
def run(toy_set, tmp_path, monkeypatch):
    monkeypatch.setattr("firingend_training.optimise.CHECKPOINT_SECONDS", 0.0)
    few = settings_of(crop=64, batch=8, steps=5)
    train.main(["reader", "--set", str(toy_set), "--out", str(tmp_path / "run"), "--device", "cpu", *few])
    return tmp_path / "run"


def _close(folder, weights):
    carried = load_reader(folder).state_dict()
    assert carried.keys() == weights.keys()
    assert all(
        torch.allclose(carried[name].float(), value.float(), rtol=1e-3, atol=1e-4) for name, value in weights.items()
    )


def test_an_ended_run_is_carried_whole(run, tmp_path, capsys):
    carrying.main([str(run), "--out", str(tmp_path / "home")])
    assert "its weights" in capsys.readouterr().out
    home = tmp_path / "home/run"
    assert {file.name for file in home.iterdir()} == {"weights.pt", "settings.json", "apart.npz"}
    assert (home / "weights.pt").stat().st_size < 0.6 * (run / "weights.pt").stat().st_size
    _close(home, torch.load(run / "weights.pt", weights_only=True))


def test_a_run_that_goes_on_gives_its_last_checkpoint_each_time(run, tmp_path, capsys):
    at_the_end = torch.load(run / "weights.pt", weights_only=True)
    (run / "weights.pt").unlink()
    for _ in range(2):
        carrying.main([str(run), "--out", str(tmp_path / "home")])
        assert "weights after 5 steps" in capsys.readouterr().out
    assert not (run / "weights.pt").exists()  # else the next copy would be of this one
    _close(tmp_path / "home/run", at_the_end)


def test_a_run_with_nothing_to_carry_is_named(tmp_path, capsys):
    with pytest.raises(SystemExit):
        carrying.main([str(tmp_path / "empty"), "--out", str(tmp_path / "home")])
    assert "has neither weights nor a checkpoint" in capsys.readouterr().err
    assert not (tmp_path / "home").exists()


def test_values_too_large_for_a_half_stay_whole(tmp_path):
    torch.save({"variance": torch.tensor([1e6]), "count": torch.tensor(70000)}, tmp_path / "weights.pt")
    carry(tmp_path, tmp_path / "carry")
    kept = torch.load(tmp_path / "carry/weights.pt", weights_only=True)
    assert kept["variance"].item() == 1e6
    assert kept["count"].item() == 70000
