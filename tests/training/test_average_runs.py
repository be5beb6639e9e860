"""Readers averaged, and what they are calibrated by worked out anew."""

from __future__ import annotations

import shutil

import numpy as np
import pytest
import torch
from firingend_training import average_runs, set_apart
from firingend_training.average_runs import averaged, spreads
from firingend_training.export import export_reader, load_reader
from firingend_training.reopen import crops_of

from firingend.errors import UserError


def test_the_mean_weighs_by_the_shares():
    one, other = {"w": torch.tensor([0.0, 4.0])}, {"w": torch.tensor([8.0, 0.0])}
    assert averaged([one, other], [3.0, 1.0])["w"].tolist() == [2.0, 3.0]


def test_runs_carried_in_16_bits_are_averaged_in_32():
    one, other = (torch.tensor([value], dtype=torch.float16) for value in (1.0, 1.0009765625))  # neighbours in 16 bits
    middle = averaged([{"w": one}, {"w": other}], [1, 1])["w"]
    assert middle.dtype == torch.float32
    assert middle.item() == 1.00048828125


def test_counts_are_not_averaged():
    assert averaged([{"steps": torch.tensor(5)}, {"steps": torch.tensor(9)}], [1, 1])["steps"].item() == 5


def test_networks_of_different_shape_are_refused():
    with pytest.raises(UserError, match="different shapes"):
        averaged([{"w": torch.zeros(2)}, {"w": torch.zeros(3)}], [1, 1])


def test_channels_of_an_average_get_their_spread_back(reader_run, toy_set, tmp_path):
    other, out = tmp_path / "other", tmp_path / "middle"
    shutil.copytree(reader_run, other)
    weights = torch.load(other / "weights.pt", weights_only=True)
    generator = torch.Generator().manual_seed(3)
    moved = {k: v + 0.3 * v.std() * torch.randn(v.shape, generator=generator) for k, v in weights.items() if v.ndim > 1}
    torch.save(weights | moved, other / "weights.pt")
    nets = [load_reader(reader_run), load_reader(other)]
    crops = crops_of([toy_set], nets[0].settings)
    met = [spreads(net, crops) for net in nets]

    def off(run):
        """How far the spread of each channel lies from the mean of the two, in units of it, in the median."""
        pairs = zip(spreads(load_reader(run), crops), *met, strict=True)
        far = [((s[1] - (a[1] + b[1]) / 2).abs() / ((a[1] + b[1]) / 2 + 1e-3)) for s, a, b in pairs]
        return float(torch.cat(far).median())

    average_runs.main([str(reader_run), str(other), "--out", str(out)])
    plain = off(out)
    average_runs.main([str(reader_run), str(other), "--out", str(out), "--set", str(toy_set)])
    assert off(out) < 0.01 < plain
    # The repaired network can be saved, loaded and exported as any other.
    set_apart.main([str(out), "--set", str(toy_set)])
    assert export_reader(out, tmp_path, "toy") < 1e-3


def test_an_averaged_run_is_calibrated_on_another_set_and_exports(reader_run, toy_set, tmp_path, capsys):
    other, out = tmp_path / "other", tmp_path / "middle"
    shutil.copytree(reader_run, other)
    weights = torch.load(other / "weights.pt", weights_only=True)
    torch.save({k: v * 1.01 if v.is_floating_point() else v for k, v in weights.items()}, other / "weights.pt")
    average_runs.main([str(reader_run), str(other), "--out", str(out)])
    before, middle = load_reader(reader_run).state_dict(), load_reader(out).state_dict()
    name = next(n for n in before if n.endswith("weight"))
    assert torch.allclose(middle[name], before[name] * 1.005)
    set_apart.main([str(out), "--set", str(toy_set)])
    count = int(capsys.readouterr().out.split()[0])
    saved = np.load(out / "apart.npz")
    assert len(saved["plain_five"]) == len(saved["target_five"]) == count > 0
    assert export_reader(out, tmp_path, "toy") < 1e-4


def test_a_set_for_the_status_has_no_say_in_the_labels(reader_run, toy_set, tmp_path):
    run = tmp_path / "run"
    shutil.copytree(reader_run, run)
    count = set_apart.set_apart(run, [toy_set], [toy_set])
    saved = np.load(run / "apart.npz")
    mine, others = saved["target_five"][: count // 2], saved["target_five"][count // 2 :]
    assert (mine >= 0).any()
    assert (others < 0).all()
    assert np.array_equal(saved["target_status"][: count // 2], saved["target_status"][count // 2 :])
