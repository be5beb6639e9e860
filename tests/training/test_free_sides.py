"""A finder whose sides need not halve six times."""

from __future__ import annotations

import json

import numpy as np
import onnx
import onnxruntime
import pytest
import torch
from firingend_training.export import OPSET
from firingend_training.free_sides import MULTIPLE, free_finder, with_free_sides
from firingend_training.networks import FinderForExport, FinderNet
from firingend_training.settings import FinderSettings

from firingend.reading.finder import Finder


@pytest.fixture(scope="module")
def finder(tmp_path_factory):
    """A finder nobody trained, as torch writes it."""
    torch.manual_seed(5)
    path = tmp_path_factory.mktemp("models") / "finder.onnx"
    net = FinderForExport(FinderNet(FinderSettings(pretrained=False))).eval()
    free = {"image": {2: "h", 3: "w"}}
    with pytest.warns():  # the tracing exporter warns about its own retirement
        torch.onnx.export(
            net,
            (torch.zeros(1, 3, 128, 128),),
            str(path),
            input_names=["image"],
            output_names=["heat", "box", "axis"],
            dynamic_axes=free,
            opset_version=OPSET,
            dynamo=False,
        )
    return path


def run(model, image):
    session = onnxruntime.InferenceSession(model.SerializeToString(), providers=["CPUExecutionProvider"])
    return session.run(None, {"image": image})


def picture(height, width):
    return np.random.default_rng(height).normal(size=(1, 3, height, width)).astype(np.float32)


def test_sides_that_fitted_before_give_the_same_maps(finder):
    model = onnx.load(str(finder))
    freed = with_free_sides(model)
    onnx.checker.check_model(freed)
    for before, after in zip(run(model, picture(128, 192)), run(freed, picture(128, 192)), strict=True):
        assert np.array_equal(before, after)


@pytest.mark.parametrize(("height", "width"), [(144, 192), (112, 80), (16, 16), (336, 448)])
def test_other_multiples_of_16_give_maps_of_a_quarter_the_side(finder, height, width):
    heat, box, axis = run(with_free_sides(onnx.load(str(finder))), picture(height, width))
    assert heat.shape == (1, 1, height // 4, width // 4)
    assert box.shape == (1, 4, height // 4, width // 4)
    assert axis.shape == (1, 2, height // 4, width // 4)


def test_far_from_the_cut_edge_the_padding_hardly_matters(finder):
    freed = with_free_sides(onnx.load(str(finder)))
    padded = np.zeros((1, 3, 384, 384), np.float32)
    padded[:, :, :336] = picture(336, 384)
    box, padded_box = (run(freed, image)[1] for image in (padded[:, :, :336], padded))
    assert np.abs(box[:, :, :16] / padded_box[:, :, :16] - 1).max() < 0.02


def test_a_folder_is_rewritten_so_that_it_still_opens(finder, tmp_path):
    (tmp_path / "finder.onnx").write_bytes(finder.read_bytes())
    card = {"version": "x", "sha256": "0" * 64, "long_side": 192, "multiple": 64, "score_min": 0.2, "iou_max": 0.3}
    (tmp_path / "finder.json").write_text(json.dumps(card))
    free_finder(tmp_path)
    opened = Finder(tmp_path)
    assert opened.card.multiple == MULTIPLE
    assert opened.card.long_side == 192
    assert opened._network.run(image=picture(144, 192))["heat"].shape == (1, 1, 36, 48)


def test_what_was_freed_before_is_not_freed_again(finder):
    with pytest.raises(ValueError, match="freed before"):
        with_free_sides(with_free_sides(onnx.load(str(finder))))
