"""Stores the weights of an ONNX network in 8 and 16 bits: a quarter of the size, the same arithmetic once it is opened.

Large matrices may take 8 bits and one scale an output channel; per-channel convolutions and all else take 16-bit
floats: they are few and rounding them costs most. Runtimes compute such constants once when they open a network, so
that it runs in 32-bit arithmetic at its usual speed and gives the same results on every processor.
"""

from __future__ import annotations

import numpy as np
import onnx
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

Weights = NDArray[np.float32]

SMALLEST = 64
"""Tensors of fewer numbers stay as they are: casting them would cost more nodes than it saves bytes."""
BYTES_FROM = 4096
"""Matrices of at least so many numbers are stored in 8 bits."""
LARGEST_BYTE = 80
"""Of the values that 8 bits could hold, for the size of the repository: with 127 the reader packs to 3.39 MB, with 80
to 3.15. Both read the held-out set (balanced accuracy 0.944 and 0.949) and another renderer's (0.848 twice) alike."""


def with_short_weights(model: onnx.ModelProto, *, in_bytes: bool = True) -> onnx.ModelProto:
    """A copy whose 32-bit weights are stored in 8 or 16 bits, each behind what makes 32 bits of it again.

    A network whose weights are short comes out as it was.

    Parameters
    ----------
    model
        Left as it is. The first axis of its large matrices counts output channels, as torch exports them.
    in_bytes
        Whether large matrices take 8 bits; all takes 16 otherwise.

    Raises
    ------
    ValueError
        If a weight is too large for 16 bits.
    """
    shortened = with_plain_weights(model)
    graph = shortened.graph
    stored: list[onnx.TensorProto] = []
    restore: list[onnx.NodeProto] = []
    for tensor in graph.initializer:
        values = numpy_helper.to_array(tensor)
        if tensor.data_type != TensorProto.FLOAT or values.size < SMALLEST:
            stored.append(tensor)
            continue
        short, nodes = (_in_bytes if in_bytes and _is_matrix(values) else _in_halves)(tensor.name, values)
        stored += short
        restore += nodes
    nodes = [onnx.NodeProto.FromString(node.SerializeToString()) for node in graph.node]
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(stored)
    graph.node.extend([*restore, *nodes])
    return shortened


def _is_matrix(values: Weights) -> bool:
    """Whether every output channel looks at every input channel, and there are many of them."""
    return values.ndim >= 2 and values.shape[1] > 1 and values.size >= BYTES_FROM


def _in_bytes(name: str, values: Weights) -> tuple[list[onnx.TensorProto], list[onnx.NodeProto]]:
    largest = np.abs(values).max(axis=tuple(range(1, values.ndim)), keepdims=True)
    scale = np.where(largest > 0, largest / LARGEST_BYTE, 1.0).astype(np.float32)
    whole = np.clip(np.rint(values / scale), -LARGEST_BYTE, LARGEST_BYTE).astype(np.int8)
    stored = [numpy_helper.from_array(whole, f"{name}.bytes"), numpy_helper.from_array(scale, f"{name}.scale")]
    return stored, [
        helper.make_node("Cast", [f"{name}.bytes"], [f"{name}.whole"], to=TensorProto.FLOAT),
        helper.make_node("Mul", [f"{name}.whole", f"{name}.scale"], [name]),
    ]


def _in_halves(name: str, values: Weights) -> tuple[list[onnx.TensorProto], list[onnx.NodeProto]]:
    with np.errstate(over="ignore"):
        half = values.astype(np.float16)
    if not np.isfinite(half).all():
        raise ValueError(f"{name} reaches {np.abs(values).max():.3g}: too large for 16 bits")
    stored = [numpy_helper.from_array(half, f"{name}.half")]
    return stored, [helper.make_node("Cast", [f"{name}.half"], [name], to=TensorProto.FLOAT)]


def weights_of(model: onnx.ModelProto) -> dict[str, Weights]:
    """Every floating-point weight by the name it has in the arithmetic, in 32 bits, however it is stored."""
    stored = {tensor.name: numpy_helper.to_array(tensor) for tensor in model.graph.initializer}
    for node in model.graph.node:
        if node.op_type == "Cast" and node.input[0] in stored:
            stored[node.output[0]] = stored.pop(node.input[0]).astype(np.float32)
        elif node.op_type == "Mul" and all(name in stored for name in node.input):
            values, scale = (stored.pop(name) for name in node.input)
            stored[node.output[0]] = (values * scale).astype(np.float32)
    return {name: values for name, values in stored.items() if values.dtype == np.float32}


def with_plain_weights(model: onnx.ModelProto) -> onnx.ModelProto:
    """A copy with plain 32-bit weights, however they were stored."""
    plain = onnx.ModelProto()
    plain.CopyFrom(model)
    graph = plain.graph
    weights = weights_of(model)
    made = set(weights) | {f"{name}.whole" for name in weights}
    kept = [
        t for t in graph.initializer if t.data_type not in (TensorProto.FLOAT, TensorProto.FLOAT16, TensorProto.INT8)
    ]
    nodes = [onnx.NodeProto.FromString(n.SerializeToString()) for n in graph.node if n.output[0] not in made]
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend([*(numpy_helper.from_array(values, name) for name, values in weights.items()), *kept])
    graph.node.extend(nodes)
    return plain
