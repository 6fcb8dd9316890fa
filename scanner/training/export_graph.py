"""The recogniser's graph on disk: made from a general recogniser, and written after training.

    python -m scanner.training.export_graph GENERAL.onnx START.onnx

takes the general recogniser's graph, gives it our classes and twice its frames. Weights are kept
as half precision with a cast behind each, which the runtime folds away when it loads.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor

from scanner.reader.classes import CLASSES
from scanner.training.network import GraphNetwork

HEAD_WEIGHT, HEAD_BIAS = "linear_8.w_0", "linear_8.b_0"
_SCRIPT_BIAS = -2.0  # raised and lowered classes start as unlikely copies of the plain character


def start_graph(general: Path, out: Path) -> None:
    """Our classes on the general recogniser: plain characters keep what it knows of them."""
    model = onnx.load(str(general))
    graph = model.graph
    characters = next(p.value for p in model.metadata_props if p.key == "character").split("\n")
    columns = {character: index + 1 for index, character in enumerate(characters)}
    columns[" "] = len(characters) + 1
    arrays = {i.name: i for i in graph.initializer}
    weight, bias = (numpy_helper.to_array(arrays[n]) for n in (HEAD_WEIGHT, HEAD_BIAS))
    rng = np.random.default_rng(0)
    new_weight = rng.normal(0, weight.std() * 0.3, (weight.shape[0], len(CLASSES)))
    new_bias = np.full(len(CLASSES), float(bias.mean()))
    new_weight[:, 0], new_bias[0] = weight[:, 0], bias[0]
    for index, (level, character) in enumerate(CLASSES[1:], 1):
        column = columns.get(character, columns.get({"µ": "μ"}.get(character, "")))
        if column is not None:
            new_weight[:, index] = weight[:, column]
            new_bias[index] = bias[column] + (_SCRIPT_BIAS if level else 0.0)
    _replace(graph, HEAD_WEIGHT, new_weight.astype(np.float32))
    _replace(graph, HEAD_BIAS, new_bias.astype(np.float32))
    for node in graph.node:
        if node.op_type == "AveragePool":
            strides = next(a for a in node.attribute if a.name == "strides")
            strides.ints[:] = [3, 1]
    softmax = graph.node[-1]
    graph.output[0].name = softmax.input[0]
    graph.node.remove(softmax)
    graph.output[0].type.tensor_type.shape.dim[2].dim_value = len(CLASSES)
    del model.metadata_props[:]
    onnx.save(model, str(out))


def write_graph(network: GraphNetwork, weights: Mapping[str, Tensor], out: Path) -> None:
    """Write the network's graph with ``weights`` (by parameter name) in half precision."""
    graph = onnx.GraphProto()
    graph.CopyFrom(network.graph)
    by_attribute = {attribute: name for name, attribute in network.names.items()}
    for attribute, tensor in weights.items():
        array = tensor.detach().cpu().numpy()
        name = by_attribute[attribute]
        half = f"{name}.half"
        _replace(graph, name, array.astype(np.float16))
        _initialiser(graph, name).name = half
        graph.node.insert(0, helper.make_node("Cast", [half], [name], to=TensorProto.FLOAT))
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 11)])
    model.ir_version = 7
    temporary = out.with_suffix(".part")
    onnx.save(model, str(temporary))
    temporary.replace(out)


def _initialiser(graph: onnx.GraphProto, name: str) -> onnx.TensorProto:
    return next(i for i in graph.initializer if i.name == name)


def _replace(graph: onnx.GraphProto, name: str, array: np.ndarray) -> None:
    _initialiser(graph, name).CopyFrom(numpy_helper.from_array(array, name))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("general", type=Path)
    parser.add_argument("start", type=Path)
    chosen = parser.parse_args()
    start_graph(chosen.general, chosen.start)
