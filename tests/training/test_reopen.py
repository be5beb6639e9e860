"""Runs made again from exported networks."""

from __future__ import annotations

import shutil

import numpy as np
import onnx
import pytest
import torch
from firingend_training import average_runs, reopen, set_apart
from firingend_training.export import export_finder, export_reader, load_finder, load_reader
from firingend_training.networks import FinderNet
from firingend_training.reopen import normed_convolutions, settle
from firingend_training.settings import FinderSettings, save_settings


@pytest.fixture(scope="module")
def models(reader_run, tmp_path_factory):
    """A toy reader and an untaught finder, exported, with batch norms that are not the plain ones."""
    folder = tmp_path_factory.mktemp("exported")
    torch.manual_seed(5)
    net = FinderNet(FinderSettings(pretrained=False))
    for module in net.modules():
        if isinstance(module, torch.nn.BatchNorm2d):
            module.running_var.uniform_(0.5, 2.0)
            module.running_mean.uniform_(-0.2, 0.2)
            torch.nn.init.uniform_(module.weight, 0.5, 1.5)
    run = folder / "run"
    run.mkdir()
    torch.save(net.state_dict(), run / "weights.pt")
    save_settings(net.settings, run / "settings.json")
    export_finder(run, folder, "toy")
    export_reader(reader_run, folder, "toy")
    return folder


def test_a_reopened_reader_says_what_the_first_said(models, reader_run, toy_set, tmp_path, capsys):
    reopen.main(["--models", str(models), "--out", str(tmp_path), "--set", str(toy_set)])
    assert "largest difference" in capsys.readouterr().out
    first, again = load_reader(reader_run), load_reader(tmp_path / "reader")
    assert again.settings.crop == first.settings.crop
    crops = torch.rand(4, 3, 64, 64) * 2 - 1
    with torch.inference_mode():
        expected, got = first(crops), again(crops)
    for name in ("five", "status", "parts"):
        largest = max(1.0, float(getattr(expected, name).abs().max()))
        assert float((getattr(expected, name) - getattr(got, name)).abs().max()) < 0.1 * largest  # 8-bit weights
    finder = load_finder(tmp_path / "finder")
    assert finder.heat.bias.shape == (1,)


def test_what_is_reopened_can_be_calibrated_and_exported(models, toy_set, tmp_path):
    reopen.main(["--models", str(models), "--out", str(tmp_path)])
    set_apart.set_apart(tmp_path / "reader", [toy_set])
    export_reader(tmp_path / "reader", tmp_path, "again")
    first, again = (onnx.load(str(folder / "reader.onnx")) for folder in (models, tmp_path))
    weights = [reopen.weights_of(m) for m in (first, again)]
    assert np.allclose(weights[0]["heads.five.weight"], weights[1]["heads.five.weight"], atol=1e-6)


def test_settling_changes_no_output_and_gives_the_statistics_met(models, tmp_path):
    reopen.main(["--models", str(models), "--out", str(tmp_path)])
    net = load_reader(tmp_path / "reader")
    crops = torch.rand(16, 3, 64, 64) * 2 - 1
    with torch.inference_mode():
        before = net(crops).five
    settle(net, crops)
    with torch.inference_mode():
        assert torch.allclose(net.eval()(crops).five, before, atol=1e-3)
        # where every layer takes its statistics from the same pictures, learning begins with the same outputs
        net.widen.train()
        assert torch.allclose(net(crops).five, before, atol=2e-2)


def test_every_batch_norm_has_its_convolution(models, tmp_path):
    net = load_reader_of(models, tmp_path)
    norms = [m for m in net.modules() if isinstance(m, torch.nn.BatchNorm2d)]
    assert {id(n) for _, n in normed_convolutions(net, torch.zeros(1, 3, 64, 64))} == {id(n) for n in norms}


def load_reader_of(models, out):
    reopen.main(["--models", str(models), "--out", str(out)])
    return load_reader(out / "reader")


def test_a_reopened_run_can_be_averaged_with_itself(models, tmp_path):
    reopen.main(["--models", str(models), "--out", str(tmp_path)])
    average_runs.main([str(tmp_path / "reader"), str(tmp_path / "reader"), "--out", str(tmp_path / "mean")])
    one, mean = load_reader(tmp_path / "reader").state_dict(), load_reader(tmp_path / "mean").state_dict()
    assert all(torch.allclose(one[name].float(), mean[name].float()) for name in one)


def test_a_reopened_run_and_one_it_was_made_of_average_to_the_same_once_folded(models, reader_run, tmp_path):
    reopen.main(["--models", str(models), "--out", str(tmp_path)])
    runs = [str(reader_run), str(tmp_path / "reader")]
    crops = torch.rand(3, 3, 64, 64) * 2 - 1
    outputs = {}
    for name, options in (("folded", ["--folded"]), ("mixed", [])):
        average_runs.main([*runs, "--out", str(tmp_path / name), *options])
        with torch.inference_mode():
            outputs[name] = load_reader(tmp_path / name)(crops).parts
    with torch.inference_mode():
        expected = load_reader(reader_run)(crops).parts
    largest = float(expected.abs().max())
    assert float((outputs["folded"] - expected).abs().max()) < 0.05 * largest
    assert float((outputs["mixed"] - expected).abs().max()) > 0.2 * largest


def test_a_network_of_another_shape_is_refused(models, tmp_path, capsys):
    folder = tmp_path / "strange"
    shutil.copytree(models, folder)
    model = onnx.load(str(folder / "reader.onnx"))
    conv = next(n for n in model.graph.node if n.op_type == "Conv")
    model.graph.node.remove(conv)
    onnx.save(model, str(folder / "reader.onnx"))
    with pytest.raises(SystemExit):
        reopen.main(["--models", str(folder), "--out", str(tmp_path / "run")])
    assert "another shape" in capsys.readouterr().err
    assert not (tmp_path / "run").exists()


def test_a_folder_without_networks_is_named(tmp_path, capsys):
    with pytest.raises(SystemExit):
        reopen.main(["--models", str(tmp_path), "--out", str(tmp_path / "run")])
    assert "reader.json" in capsys.readouterr().err
