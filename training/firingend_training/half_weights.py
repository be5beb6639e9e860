"""Stores the weights of an ONNX network as 16-bit floats: half the size, the same arithmetic once it is opened."""

from __future__ import annotations

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

SMALLEST = 64
"""Tensors of fewer numbers stay as they are: casting them would cost more nodes than it saves bytes."""


def with_half_weights(model: onnx.ModelProto) -> onnx.ModelProto:
    """A copy whose 32-bit weights are stored in 16 bits, each behind a cast back to 32 bits.

    Runtimes fold casts of constants when they open a network, so that it runs in 32-bit arithmetic at its usual speed.

    Parameters
    ----------
    model
        Left as it is.

    Raises
    ------
    ValueError
        If a weight is too large for 16 bits.
    """
    halved = onnx.ModelProto()
    halved.CopyFrom(model)
    graph = halved.graph
    kept, casts = [], []
    for tensor in graph.initializer:
        values = numpy_helper.to_array(tensor)
        if tensor.data_type != TensorProto.FLOAT or values.size < SMALLEST:
            kept.append(tensor)
            continue
        with np.errstate(over="ignore"):
            half = values.astype(np.float16)
        if not np.isfinite(half).all():
            raise ValueError(f"{tensor.name} reaches {np.abs(values).max():.3g}: too large for 16 bits")
        stored = f"{tensor.name}.half"
        kept.append(numpy_helper.from_array(half, stored))
        casts.append(helper.make_node("Cast", [stored], [tensor.name], to=TensorProto.FLOAT))
    del graph.initializer[:]
    graph.initializer.extend(kept)
    nodes = list(graph.node)
    del graph.node[:]
    graph.node.extend([*casts, *nodes])
    return halved
