"""Networks stored in 8 and 16 bits compute what they did."""

from __future__ import annotations

import numpy as np
import onnx
import onnxruntime
import pytest
from firingend_training.short_weights import LARGEST_BYTE, weights_of, with_plain_weights, with_short_weights
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


def test_a_small_matrix_takes_half_the_bytes():
    rng = np.random.default_rng(4)
    model = _network(rng.normal(size=(60, 50)).astype(np.float32))
    short = with_short_weights(model)
    onnx.checker.check_model(short)
    x = rng.normal(size=(8, 60)).astype(np.float32)
    expected = _run(model, x)
    assert len(short.SerializeToString()) < 0.56 * len(model.SerializeToString())
    assert np.abs(_run(short, x) - expected).max() < 1e-3 * np.abs(expected).max()
    assert _run(short, x).dtype == np.float32
    assert model.graph.initializer[0].data_type == TensorProto.FLOAT  # the original is left alone


def test_a_large_matrix_may_keep_16_bits():
    rng = np.random.default_rng(4)
    model = _network(rng.normal(size=(200, 50)).astype(np.float32))
    short = with_short_weights(model, in_bytes=False)
    onnx.checker.check_model(short)
    x = rng.normal(size=(8, 200)).astype(np.float32)
    expected = _run(model, x)
    assert len(short.SerializeToString()) < 0.53 * len(model.SerializeToString())
    assert np.abs(_run(short, x) - expected).max() < 1e-3 * np.abs(expected).max()
    assert _run(short, x).dtype == np.float32
    assert model.graph.initializer[0].data_type == TensorProto.FLOAT  # the original is left alone
    assert np.abs(weights_of(short)["w"] / weights_of(model)["w"] - 1).max() < 2**-11


def test_a_large_matrix_takes_a_quarter_and_each_row_its_own_scale():
    rng = np.random.default_rng(5)
    sizes = np.geomspace(1e-3, 1e3, 200, dtype=np.float32)[:, None]
    model = _network(rng.normal(size=(200, 150)).astype(np.float32) * sizes)
    short = with_short_weights(model)
    onnx.checker.check_model(short)
    assert len(short.SerializeToString()) < 0.28 * len(model.SerializeToString())
    plain, stored = weights_of(model)["w"], weights_of(short)["w"]
    assert (np.abs(stored - plain).max(1) <= 0.5001 * np.abs(plain).max(1) / LARGEST_BYTE).all()
    x = rng.normal(size=(8, 200)).astype(np.float32)
    assert np.abs(_run(short, x) - x @ stored - 1).max() < 1e-4 * np.abs(x @ stored).max()


def test_rows_of_nothing_stay_nothing():
    weights = np.zeros((80, 80), np.float32)
    weights[0] = 1
    assert np.array_equal(weights_of(with_short_weights(_network(weights)))["w"], weights)


def test_shortening_twice_is_shortening_once():
    rng = np.random.default_rng(6)
    once = with_short_weights(_network(rng.normal(size=(90, 80)).astype(np.float32)))
    twice = with_short_weights(once)
    assert np.allclose(weights_of(twice)["w"], weights_of(once)["w"], rtol=1e-6)
    plain = with_plain_weights(once)
    assert [node.op_type for node in plain.graph.node] == ["MatMul", "Add"]
    x = rng.normal(size=(3, 90)).astype(np.float32)
    assert np.allclose(_run(plain, x), _run(twice, x), rtol=1e-5, atol=1e-5)


def test_a_weight_too_large_is_named():
    weights = np.full((20, 20), 1e6, np.float32)
    with pytest.raises(ValueError, match=r"w reaches 1e\+06"):
        with_short_weights(_network(weights))
