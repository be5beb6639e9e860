"""Let the finder take sides that are multiples of 16, not 64: ``python -m firingend_training.free_sides MODELS``.

Its coarsest maps are enlarged to twice their size and added to the next finer ones, so that every side had to halve six
times. Where the enlarged map is one row or column too large, that is now cut off. A picture of 4:3 then needs no
padding: a quarter less to compute at a glance, an eighth less in the proper look. Sides that did fit give the same
numbers as before.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import onnx
from onnx import helper, numpy_helper

MULTIPLE = 16
"""What the sides must still be multiples of: the body's strides, which pad for even sides."""

_SIDES = [2, 3]  # height and width of (N, C, H, W)


def with_free_sides(model: onnx.ModelProto) -> onnx.ModelProto:
    """A copy that cuts every enlarged map to the size of the one it is added to.

    Parameters
    ----------
    model
        A network that adds ``Resize`` outputs to other maps, in opset 15 or later; left as it is.

    Raises
    ------
    ValueError
        If it adds no enlarged map to another, or not any more.
    """
    freed = onnx.ModelProto()
    freed.CopyFrom(model)
    graph = freed.graph
    enlarged = {node.output[0] for node in graph.node if node.op_type == "Resize"}
    nodes: list[onnx.NodeProto] = []
    for node in graph.node:
        if node.op_type == "Add" and len(coarse := [name for name in node.input if name in enlarged]) == 1:
            nodes += _cut(coarse[0], next(name for name in node.input if name != coarse[0]))
            inputs = [_cut_name(name) if name in enlarged else name for name in node.input]
            del node.input[:]
            node.input.extend(inputs)
        nodes.append(node)
    if len(nodes) == len(graph.node):
        raise ValueError("this network adds no enlarged map to a finer one, or was freed before")
    graph.initializer.append(numpy_helper.from_array(np.array([0, 0], np.int64), "free.from"))
    graph.initializer.append(numpy_helper.from_array(np.array(_SIDES, np.int64), "free.sides"))
    nodes = [onnx.NodeProto.FromString(node.SerializeToString()) for node in nodes]
    del graph.node[:]
    graph.node.extend(nodes)
    return freed


def _cut(coarse: str, finer: str) -> list[onnx.NodeProto]:
    """Nodes that cut an enlarged map to the height and width of the finer one."""
    return [
        helper.make_node("Shape", [finer], [f"{coarse}.to"], start=_SIDES[0], end=_SIDES[-1] + 1),
        helper.make_node("Slice", [coarse, "free.from", f"{coarse}.to", "free.sides"], [_cut_name(coarse)]),
    ]


def _cut_name(coarse: str) -> str:
    return f"{coarse}.cut"


def free_finder(models: Path) -> None:
    """Rewrite ``finder.onnx`` and the ``sha256`` and ``multiple`` of ``finder.json`` in a folder."""
    network, card_file = models / "finder.onnx", models / "finder.json"
    onnx.save(with_free_sides(onnx.load(str(network))), str(network))
    card = json.loads(card_file.read_text(encoding="utf-8"))
    card |= {"sha256": hashlib.sha256(network.read_bytes()).hexdigest(), "multiple": MULTIPLE}
    card_file.write_text(json.dumps(card, indent=2) + "\n", encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> None:
    """Free the finder of a folder that was exported before export did so."""
    parser = argparse.ArgumentParser(prog="firingend_training.free_sides", description=__doc__.splitlines()[0])
    parser.add_argument("models", type=Path, help="folder of finder.onnx and finder.json")
    free_finder(parser.parse_args(arguments).models)


if __name__ == "__main__":
    main()
