"""The reader's graphs on disk: written after training, the first made from a general recogniser.

    python -m scanner.training.export_graph --checkpoint runs/one/checkpoint.pt --out scanner/reader
    python -m scanner.training.export_graph --general GENERAL.onnx --out FOLDER

The second takes a general recogniser's graph and gives it our classes and twice its frames.
Weights are kept as half precision with a cast behind each, which the runtime folds away when it
loads. They keep their names, so that the next training run starts from the same files.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor

from scanner.reader.classes import CLASSES
from scanner.reader.decoder import DECODER_FILE, HEADS, LAYERS, MEMORY_FILE, WIDTH
from scanner.training.decoder import FEATURES, LineDecoder
from scanner.training.network import GraphNetwork
from scanner.training.stages import Reader

_HALF = ".half"
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


def write_recogniser(network: GraphNetwork, out: Path) -> None:
    """Write the network's graph with its weights; its outputs are the scores and the features."""
    graph = onnx.GraphProto()
    graph.CopyFrom(network.graph)
    by_attribute = {attribute: name for name, attribute in network.names.items()}
    for attribute, tensor in network.named_parameters():
        name = by_attribute[attribute]
        half = f"{name}{_HALF}"
        _replace(graph, name, tensor.detach().cpu().numpy().astype(np.float16))
        _initialiser(graph, name).name = half
        graph.node.insert(0, helper.make_node("Cast", [half], [name], to=TensorProto.FLOAT))
    graph.input[0].type.tensor_type.shape.dim[2].dim_param = "height"
    del graph.value_info[:]
    if len(graph.output) == 1:
        graph.output.append(
            helper.make_tensor_value_info(network.features_name, TensorProto.FLOAT, None)
        )
    _save(graph, out, opset=11)


def write_decoder(decoder: LineDecoder, folder: Path) -> None:
    """Write ``memory.onnx`` and ``decoder.onnx``; their inputs and outputs: ``Decoder``."""
    weights = dict(decoder.named_parameters())

    graph = _Writer(weights)
    flat = graph("Reshape", "features", graph.constant([0, FEATURES, -1], np.int64))
    rows = graph("Transpose", flat, perm=[0, 2, 1])
    memory = graph.linear(graph.normalised(rows, "before", FEATURES), "memory_map")
    memory = graph("Add", memory, "codes")
    keys, values = [], []
    for layer in range(LAYERS):
        both = graph.linear(memory, f"layers.{layer}.line_in")
        key, value = graph.split(both, 2)
        keys.append(graph("Transpose", graph.in_heads(key), perm=[0, 2, 3, 1]))
        values.append(graph("Transpose", graph.in_heads(value), perm=[0, 2, 1, 3]))
    graph.write(
        folder / MEMORY_FILE,
        ("features", "codes"),
        {"line_keys": graph.stacked(keys), "line_values": graph.stacked(values)},
    )

    graph = _Writer(weights)
    x = graph("Gather", graph.weight("embedding.weight"), "tokens")
    x = graph("Add", graph("Mul", x, graph.constant(math.sqrt(WIDTH))), "codes")
    keys, values = [], []
    for layer in range(LAYERS):
        name = f"layers.{layer}"
        normal = graph.normalised(x, f"{name}.norm_self", WIDTH)
        query, key, value = graph.split(graph.linear(normal, f"{name}.self_in"), 3)
        query, key, value = (
            graph("Transpose", graph.in_heads(part), perm=[0, 2, 1, 3])
            for part in (query, key, value)
        )
        keys.append(graph("Concat", graph.layer("past_keys", layer), key, axis=2))
        values.append(graph("Concat", graph.layer("past_values", layer), value, axis=2))
        key = graph("Transpose", keys[-1], perm=[0, 1, 3, 2])
        mixed = graph.attention(query, key, values[-1], "mask")
        x = graph("Add", x, graph.linear(mixed, f"{name}.self_out"))
        query = graph.linear(graph.normalised(x, f"{name}.norm_line", WIDTH), f"{name}.line_query")
        query = graph("Transpose", graph.in_heads(query), perm=[0, 2, 1, 3])
        line = (graph.layer(part, layer) for part in ("line_keys", "line_values"))
        mixed = graph.attention(query, *line, "line_mask")
        x = graph("Add", x, graph.linear(mixed, f"{name}.line_out"))
        hidden = graph.linear(
            graph.normalised(x, f"{name}.norm_hidden", WIDTH), f"{name}.hidden_in"
        )
        x = graph("Add", x, graph.linear(graph("Gelu", hidden), f"{name}.hidden_out"))
    scores = graph.linear(graph.normalised(x, "after", WIDTH), "head")
    graph.write(
        folder / DECODER_FILE,
        (
            *("tokens", "codes", "mask", "past_keys", "past_values"),
            *("line_keys", "line_values", "line_mask"),
        ),
        {
            "log_probabilities": graph("LogSoftmax", scores, axis=-1),
            "keys": graph.stacked(keys),
            "values": graph.stacked(values),
        },
    )


def read_decoder(folder: Path) -> dict[str, Tensor]:
    """The decoder's weights by name from what ``write_decoder`` wrote; empty if it did not."""
    found: dict[str, Tensor] = {}
    for name in (MEMORY_FILE, DECODER_FILE):
        if (folder / name).exists():
            for initialiser in onnx.load(str(folder / name)).graph.initializer:
                if initialiser.name.endswith(_HALF):
                    array = numpy_helper.to_array(initialiser).astype(np.float32)
                    found[initialiser.name.removesuffix(_HALF)] = torch.from_numpy(array)
    return found


class _Writer:
    """Nodes of a graph, written as calls: ``graph("Add", x, y)`` gives the name of the sum."""

    def __init__(self, weights: Mapping[str, Tensor]):
        self._weights, self._nodes, self._used = weights, [], {}

    def __call__(self, operator: str, *inputs: str, **attributes: object) -> str:
        name = f"v{len(self._nodes)}"
        self._nodes.append(helper.make_node(operator, list(inputs), [name], **attributes))
        return name

    def weight(self, name: str) -> str:
        if name not in self._used:
            array = self._weights[name].detach().cpu().numpy().astype(np.float16)
            self._used[name] = numpy_helper.from_array(array, name + _HALF)
            self._nodes.append(
                helper.make_node("Cast", [name + _HALF], [name], to=TensorProto.FLOAT)
            )
        return name

    def constant(self, value: object, kind: type = np.float32) -> str:
        name = f"c{len(self._nodes)}"
        tensor = numpy_helper.from_array(np.array(value, kind))
        self._nodes.append(helper.make_node("Constant", [], [name], value=tensor))
        return name

    def linear(self, x: str, name: str) -> str:
        turned = self("Transpose", self.weight(f"{name}.weight"), perm=[1, 0])
        return self("Add", self("MatMul", x, turned), self.weight(f"{name}.bias"))

    def normalised(self, x: str, name: str, width: int) -> str:
        scale, shift = self.weight(f"{name}.weight"), self.weight(f"{name}.bias")
        return self("LayerNormalization", x, scale, shift, axis=-1, epsilon=1e-5)

    def split(self, x: str, count: int) -> list[str]:
        names = [f"{x}.{part}" for part in range(count)]
        self._nodes.append(helper.make_node("Split", [x], names, axis=-1, num_outputs=count))
        return names

    def in_heads(self, x: str) -> str:
        return self("Reshape", x, self.constant([0, 0, HEADS, WIDTH // HEADS], np.int64))

    def layer(self, stacked: str, layer: int) -> str:
        return self("Gather", stacked, self.constant(layer, np.int64), axis=0)

    def stacked(self, layers: list[str]) -> str:
        axis = self.constant([0], np.int64)
        return self("Concat", *(self("Unsqueeze", x, axis) for x in layers), axis=0)

    def attention(self, query: str, key: str, value: str, mask: str) -> str:
        scale = self.constant((WIDTH // HEADS) ** -0.5)
        scores = self("Add", self("MatMul", self("Mul", query, scale), key), mask)
        mixed = self("MatMul", self("Softmax", scores, axis=-1), value)
        mixed = self("Transpose", mixed, perm=[0, 2, 1, 3])
        return self("Reshape", mixed, self.constant([0, 0, WIDTH], np.int64))

    def write(self, path: Path, inputs: tuple[str, ...], outputs: Mapping[str, str]) -> None:
        for wanted, name in outputs.items():
            self._nodes.append(helper.make_node("Identity", [name], [wanted]))
        kinds = {"tokens": TensorProto.INT64}
        graph = helper.make_graph(
            self._nodes,
            path.stem,
            [
                helper.make_tensor_value_info(n, kinds.get(n, TensorProto.FLOAT), None)
                for n in inputs
            ],
            [helper.make_tensor_value_info(n, TensorProto.FLOAT, None) for n in outputs],
            list(self._used.values()),
        )
        _save(graph, path, opset=20)


def _save(graph: onnx.GraphProto, out: Path, opset: int) -> None:
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", opset)])
    model.ir_version = 7 if opset < 15 else 9
    temporary = out.with_suffix(".part")
    onnx.save(model, str(temporary))
    temporary.replace(out)


def _initialiser(graph: onnx.GraphProto, name: str) -> onnx.TensorProto:
    return next(i for i in graph.initializer if i.name == name)


def _replace(graph: onnx.GraphProto, name: str, array: np.ndarray) -> None:
    _initialiser(graph, name).CopyFrom(numpy_helper.from_array(array, name))


def write_checkpoint(checkpoint: Path, start: Path, out: Path) -> None:
    """Write the reader's graphs from a checkpoint of ``tune``, started from those in ``start``."""
    reader = Reader(start, torch.device("cpu"))
    reader.load_state_dict(torch.load(checkpoint, map_location="cpu"))
    out.mkdir(parents=True, exist_ok=True)
    write_recogniser(reader.recogniser, out / "recogniser.onnx")
    write_decoder(reader.decoder, out)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    given = parser.add_mutually_exclusive_group(required=True)
    given.add_argument("--checkpoint", type=Path)
    given.add_argument("--general", type=Path)
    parser.add_argument("--start", type=Path, default=Path("scanner/reader"))
    parser.add_argument("--out", type=Path, required=True)
    chosen = parser.parse_args()
    if chosen.checkpoint:
        write_checkpoint(chosen.checkpoint, chosen.start, chosen.out)
    else:
        start_graph(chosen.general, chosen.out / "recogniser.onnx")


if __name__ == "__main__":
    main()
