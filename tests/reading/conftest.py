"""Two tiny networks whose answers can be worked out by hand, written as real ONNX files.

The toy finder sees a firing end wherever red peaks; green there sets the box, blue the lean of the axis. The toy
reader judges by the mean colour of the crop. Both run in ONNX Runtime like the trained ones.
"""

from __future__ import annotations

import hashlib
import json

import numpy as np
import onnx
import pytest
from onnx import TensorProto, helper, numpy_helper

from firingend.labels import LABELS

SIZE = 64
LONG_SIDE = 128

FINDER_CARD = {"version": "toy", "long_side": LONG_SIDE, "multiple": 32, "score_min": 0.5, "iou_max": 0.3}
READER_CARD = {
    "version": "toy",
    "input_size": SIZE,
    "crop_margin": 1.25,
    "temperature": {"five": 1.0, "ceramic": 1.0, "surface": 1.0, "status": 1.0},
    "blend": 0.5,
    "prior_train": {label: 0.2 for label in LABELS},
    "prior": {label: 0.2 for label in LABELS},
    "thresholds": {"label": 0.6, "unused": 0.5, "not_a_plug": 0.5, "min_box_px": 20, "min_focus": 20.0},
}


def _constant(name, values):
    return numpy_helper.from_array(np.asarray(values, np.float32), name)


def _pointwise(rows, bias, name):
    """Weights of a 1 x 1 convolution from (R, G, B) to len(rows) maps."""
    return [
        _constant(f"{name}_w", np.asarray(rows, np.float32).reshape(len(rows), 3, 1, 1)),
        _constant(f"{name}_b", bias),
    ]


def _model(nodes, inputs, outputs, constants):
    graph = helper.make_graph(nodes, "toy", inputs, outputs, constants)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    onnx.checker.check_model(model)
    return model.SerializeToString()


def toy_finder():
    """heat = red (0..1) where it is a local peak; l = t = r = b = 32 (1 + green); axis = (blue, -0.5)."""
    nodes = [
        helper.make_node("AveragePool", ["image"], ["cells"], kernel_shape=[4, 4], strides=[4, 4]),
        helper.make_node("Conv", ["cells", "red_w", "red_b"], ["red"]),
        helper.make_node("MaxPool", ["red"], ["around"], kernel_shape=[5, 5], strides=[1, 1], pads=[2, 2, 2, 2]),
        helper.make_node("Equal", ["red", "around"], ["is_peak"]),
        helper.make_node("Where", ["is_peak", "red", "nought"], ["heat"]),
        helper.make_node("Conv", ["cells", "box_w", "box_b"], ["box"]),
        helper.make_node("Conv", ["cells", "axis_w", "axis_b"], ["axis"]),
    ]
    constants = [
        _constant("nought", 0.0),
        *_pointwise([(0.5, 0, 0)], [0.5], "red"),
        *_pointwise([(0, 32, 0)] * 4, [32] * 4, "box"),
        *_pointwise([(0, 0, 1), (0, 0, 0)], [0, -0.5], "axis"),
    ]
    image = helper.make_tensor_value_info("image", TensorProto.FLOAT, [1, 3, "h", "w"])
    outputs = [
        helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, n, None, None])
        for name, n in (("heat", 1), ("box", 4), ("axis", 2))
    ]
    return _model(nodes, [image], outputs, constants)


READER_HEADS = {
    # Rows over the crop's mean (R, G, B), each -1..1: bright reads lean, dark rich, blue unused, green no plug.
    "five": [(8, 8, 8), (0, 0, 0), (-8, -8, -8), (0, 0, 0), (0, 0, 0)],
    "ceramic": [(8, 8, 8), (0, 0, 0), (-8, -8, -8)],
    "surface": [(0, 0, 0), (0, 0, 0), (0, 0, 0)],
    "status": [(0, 0, 0), (-20, -20, 40), (-20, 40, -20)],
    "signs": [(0, 0, 0)] * 7,
    "severity": [(1, 0, 0)],
    "cover": [(1, 0, 0)] * 5,
}
READER_BIAS = {"surface": [4, 0, 0], "status": [12, 0, 0], "signs": [-3] * 7}


def toy_reader():
    nodes = [
        helper.make_node("GlobalAveragePool", ["crops"], ["mean"]),
        helper.make_node("Flatten", ["mean"], ["rgb"]),
        helper.make_node("AveragePool", ["crops"], ["cells"], kernel_shape=[4, 4], strides=[4, 4]),
        helper.make_node("Conv", ["cells", "parts_w", "parts_b"], ["parts"]),
    ]
    # A cell is nose when it is not black: background has a constant logit, nose follows brightness.
    constants = _pointwise([(0, 0, 0), (3, 3, 3)] + [(0, 0, 0)] * 5, [0, 8] + [-9] * 5, "parts")
    outputs = []
    for name, rows in READER_HEADS.items():
        nodes.append(helper.make_node("Gemm", ["rgb", f"{name}_w", f"{name}_b"], [name], transB=1))
        constants += [_constant(f"{name}_w", rows), _constant(f"{name}_b", READER_BIAS.get(name, [0] * len(rows)))]
        outputs.append(helper.make_tensor_value_info(name, TensorProto.FLOAT, ["n", len(rows)]))
    outputs.append(helper.make_tensor_value_info("parts", TensorProto.FLOAT, ["n", 7, SIZE // 4, SIZE // 4]))
    crops = helper.make_tensor_value_info("crops", TensorProto.FLOAT, ["n", 3, SIZE, SIZE])
    return _model(nodes, [crops], outputs, constants)


def write_network(folder, name, content, card):
    (folder / f"{name}.onnx").write_bytes(content)
    stated = {**card, "sha256": hashlib.sha256(content).hexdigest()}
    (folder / f"{name}.json").write_text(json.dumps(stated), encoding="utf-8")


@pytest.fixture(scope="session")
def toy_models(tmp_path_factory):
    """Folder with both toy networks and their cards."""
    folder = tmp_path_factory.mktemp("models")
    write_network(folder, "finder", toy_finder(), FINDER_CARD)
    write_network(folder, "reader", toy_reader(), READER_CARD)
    return folder


@pytest.fixture
def own_models(tmp_path):
    """The same in a folder that a test may spoil."""
    folder = tmp_path / "models"
    folder.mkdir()
    write_network(folder, "finder", toy_finder(), FINDER_CARD)
    write_network(folder, "reader", toy_reader(), READER_CARD)
    return folder


def _blob(pixels, x, y, radius, colour):
    """A round spot, brightest in red at its centre, so that the toy finder has one peak."""
    rows, columns = np.mgrid[: pixels.shape[0], : pixels.shape[1]] + 0.5
    distance = np.hypot(columns - x, rows - y)
    spot = distance <= radius
    pixels[spot] = colour
    pixels[..., 0][spot] = np.clip(colour[0] - 40 * distance[spot] / radius, 0, 255).astype(np.uint8)


@pytest.fixture(scope="session")
def draw_plugs():
    """Draw (x, y, radius, colour) spots on black with a little grain for focus."""

    def draw(size, spots):
        width, height = size
        pixels = np.zeros((height, width, 3), np.uint8)
        for x, y, radius, colour in spots:
            _blob(pixels, x, y, radius, colour)
        grain = np.random.default_rng(0).integers(-6, 7, pixels.shape[:2])
        return np.clip(pixels + grain[..., None] * (pixels.max(axis=-1, keepdims=True) > 0), 0, 255).astype(np.uint8)

    return draw
