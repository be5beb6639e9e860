"""Networks stored in 16 bits compute what they did."""

from __future__ import annotations

import numpy as np
import onnx
import onnxruntime
import pytest
from firingend_training.half_weights import with_half_weights
from onnx import TensorProto, helper, numpy_helper


def _network(weights: np.ndarray) -> onnx.ModelProto:
    """y = x · weights, with a bias too short to be worth shortening."""
    rows, columns = weights.shape
    graph = helper.make_graph(
        [helper.make_node("MatMul", ["x", "w"], ["xw"]), helper.make_node("Add", ["xw", "b"], ["y"])],
        "two layers",
        [helper.make_tensor_value_info("x", TensorProto.FLOAT, [None, rows])],
        [helper.make_tensor_value_info("y", TensorProto.FLOAT, [None, columns])],
        [numpy_helper.from_array(weights, "w"), numpy_helper.from_array(np.ones(columns, np.float32), "b")],
    )
    return helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)


def _run(model: onnx.ModelProto, x: np.ndarray) -> np.ndarray:
    session = onnxruntime.InferenceSession(model.SerializeToString(), providers=["CPUExecutionProvider"])
    return session.run(None, {"x": x})[0]


def test_half_the_bytes_and_nearly_the_same_numbers():
    rng = np.random.default_rng(4)
    model = _network(rng.normal(size=(200, 50)).astype(np.float32))
    halved = with_half_weights(model)
    onnx.checker.check_model(halved)
    x = rng.normal(size=(8, 200)).astype(np.float32)
    expected = _run(model, x)
    assert len(halved.SerializeToString()) < 0.53 * len(model.SerializeToString())
    assert np.abs(_run(halved, x) - expected).max() < 1e-3 * np.abs(expected).max()
    assert _run(halved, x).dtype == np.float32
    assert model.graph.initializer[0].data_type == TensorProto.FLOAT  # the original is left alone


def test_a_weight_too_large_is_named():
    weights = np.full((20, 20), 1e6, np.float32)
    with pytest.raises(ValueError, match=r"w reaches 1e\+06"):
        with_half_weights(_network(weights))
