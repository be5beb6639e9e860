"""Both networks learn a toy set on a CPU in seconds, resume, and say what is wrong with a setting."""

from __future__ import annotations

import numpy as np
import pytest
import torch
from firingend_training import reader_task
from firingend_training.augment import normalised
from firingend_training.export import KEEPING, export_finder, export_reader, load_finder, load_reader
from firingend_training.networks import FinderForExport, FinderNet
from firingend_training.picture_store import NONE, load_regions, load_wholes
from firingend_training.settings import FinderSettings, ReaderSettings, load_settings
from firingend_training.train import main, overridden, started
from toy_set import settings_of

from firingend.reading.networks import FinderCard, read_card


@pytest.fixture(scope="module")
def finder_run(toy_set, tmp_path_factory):
    run = tmp_path_factory.mktemp("runs") / "finder"
    small = settings_of(canvas=128, long_side=128, batch=8, steps=120, photometric=0.3, head_rate=3e-3)
    main(["finder", "--set", str(toy_set), "--out", str(run), "--device", "cpu", *small])
    return run


def test_reader_learns_labels_and_status(reader_run, toy_set):
    net = load_reader(reader_run)
    regions = load_regions([toy_set])
    tensors = reader_task.RegionTensors(regions, torch.device("cpu"))
    out = reader_task.outputs(net, tensors, np.arange(len(regions)), net.settings)
    labelled = regions.five != NONE
    right = out.five.argmax(1).numpy()[labelled] == regions.five[labelled]
    assert right.mean() > 0.8  # five equal labels: chance is 0.2
    assert (out.status.argmax(1).numpy() == regions.status).mean() > 0.8


def test_scenes_kept_apart_are_saved_for_calibration(reader_run):
    saved = np.load(reader_run / "apart.npz")
    assert len(saved["plain_five"]) == len(saved["rough_five"]) == len(saved["target_five"]) > 3
    assert np.abs(saved["plain_five"] - saved["rough_five"]).max() > 0


def test_finder_puts_its_peak_on_the_plug(finder_run, toy_set):
    net = FinderForExport(load_finder(finder_run)).eval()
    wholes = load_wholes([toy_set], 128)
    pictures = normalised(torch.from_numpy(wholes.pictures).permute(0, 3, 1, 2).float() / 255.0)
    with torch.inference_mode():
        heat, _, _ = net(pictures)
    hottest = heat[:, 0].flatten(1).max(1)
    has_plug = torch.from_numpy(wholes.count > 0)
    assert hottest.values[has_plug].min() > hottest.values[~has_plug].max()
    rows, columns = hottest.indices // heat.shape[3], hottest.indices % heat.shape[3]
    at = np.stack([(columns + 0.5) * 4, (rows + 0.5) * 4], 1)
    middle = (wholes.boxes[:, 0, :2] + wholes.boxes[:, 0, 2:]) / 2
    off = np.linalg.norm(at - middle, axis=1)[wholes.count > 0]
    assert np.median(off) < 8.0  # two cells


def test_export_agrees_with_torch(reader_run, finder_run, tmp_path):
    assert export_reader(reader_run, tmp_path, "test") <= 1e-4
    assert export_finder(finder_run, tmp_path, "test") <= 1e-4
    assert {p.name for p in tmp_path.iterdir()} == {"reader.onnx", "reader.json", "finder.onnx", "finder.json"}
    assert read_card(tmp_path / "finder.json", FinderCard).keeping.model_dump() == KEEPING


def test_the_exported_finder_tells_what_the_trained_one_does(finder_run):
    net = load_finder(finder_run)
    pictures = torch.rand(2, 3, 64, 128, generator=torch.Generator().manual_seed(4)) * 2 - 1
    with torch.inference_mode():
        trained, exported = net(pictures), FinderForExport(net).eval()(pictures)
    for one, other in zip((trained.heat.sigmoid(), trained.box, trained.axis), exported, strict=True):
        torch.testing.assert_close(one, other)


def test_a_smaller_finder_starts_from_a_larger_ones_weights(finder_run):
    smaller = FinderSettings(body="lite0-9-blocks", trunk=False, pretrained=False)
    net = started(FinderNet(smaller), finder_run)
    large = load_finder(finder_run).state_dict()
    assert all(torch.equal(value, large[name]) for name, value in net.state_dict().items())
    assert len(net.body.blocks) == 9 and len(net.state_dict()) < len(large)


def test_a_network_does_not_start_from_a_run_that_lacks_a_part_of_it(finder_run, tmp_path):
    smaller = FinderNet(FinderSettings(body="lite0-9-blocks", pretrained=False))
    torch.save(smaller.state_dict(), tmp_path / "weights.pt")
    with pytest.raises(RuntimeError, match=r"Missing key.*body\.blocks\.9"):
        started(FinderNet(FinderSettings(pretrained=False)), tmp_path)


def test_a_finder_stands_on_a_body_of_stride_16_only():
    with pytest.raises(ValueError, match="body is 'lite0'; a finder's must be one of lite0-to-stride-16"):
        FinderSettings(body="lite0")


def test_a_run_resumes_where_it_was_stopped(reader_run, toy_set, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("firingend_training.optimise.CHECKPOINT_SECONDS", 0.0)
    run = tmp_path / "run"
    common = ["reader", "--set", str(toy_set), "--out", str(run), "--device", "cpu"]
    small = dict(crop=64, batch=8)
    main([*common, *settings_of(**small, steps=3)])
    main([*common, "--resume", *settings_of(**small, steps=5)])
    state = torch.load(run / "checkpoint.pt", weights_only=True)
    assert state["step"] == 5
    assert "5 steps" in capsys.readouterr().out


def test_settings_are_saved_beside_the_weights(reader_run, finder_run):
    assert load_settings(reader_run / "settings.json") == ReaderSettings(
        crop=64, batch=24, steps=45, head_first=0.3, photometric=0.3, held_apart=0.2
    )
    assert isinstance(load_settings(finder_run / "settings.json"), FinderSettings)


def test_changes_are_read_as_their_settings_type():
    changed = overridden(ReaderSettings(), ["crop=160", "pretrained=false", "dropout=0.1"])
    assert (changed.crop, changed.pretrained, changed.dropout) == (160, False, 0.1)


def test_an_unknown_setting_is_named():
    with pytest.raises(ValueError, match="'crops=3' names no setting; known are crop"):
        overridden(ReaderSettings(), ["crops=3"])
