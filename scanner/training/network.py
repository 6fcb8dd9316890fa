"""The recogniser as a trainable network: the ONNX graph itself, run by torch operators.

The graph on disk is the only definition of the network. Training starts from its initialisers,
and export writes them back, so that the reader and the next training run share one file.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import onnx
import torch
import torch.nn.functional as F
from onnx import helper, numpy_helper
from torch import Tensor, nn

_SMALLEST_WEIGHT = 9  # initialisers of fewer numbers are constants of the graph, not weights
NECK_OPERATOR = "AveragePool"  # the first node after the two-dimensional features


class GraphNetwork(nn.Module):
    """The graph in two stages: ``features`` of an image, and ``scores`` of its frames."""

    def __init__(self, path: Path | str):
        super().__init__()
        self.graph = onnx.load(str(path)).graph
        _undo_half_precision(self.graph)
        self.names: dict[str, str] = {}
        for position, initialiser in enumerate(self.graph.initializer):
            array = torch.from_numpy(np.array(numpy_helper.to_array(initialiser)))
            if array.dtype == torch.float16:
                array = array.float()
            name = f"t{position}"
            self.names[initialiser.name] = name
            if not array.is_floating_point():
                setattr(self, name, array)  # sizes and axes: they stay on the CPU
            elif array.numel() >= _SMALLEST_WEIGHT:
                self.register_parameter(name, nn.Parameter(array))
            else:
                self.register_buffer(name, array)
        nodes = list(self.graph.node)
        neck = next(i for i, node in enumerate(nodes) if node.op_type == NECK_OPERATOR)
        self.features_name = nodes[neck].input[0]
        self._to_features = _program(nodes[:neck])
        self._to_scores = _program(nodes[neck:])

    def features(self, images: Tensor) -> Tensor:
        """Images (batch, 3, height, width), -1 ... 1, to features (batch, 384, rows, columns).

        ``height`` is a multiple of 16, ``width`` of 4; a row is 16 pixels, a column 4.
        """
        return self._run(self._to_features, self.graph.input[0].name, images, self.features_name)

    def scores(self, features: Tensor) -> Tensor:
        """Features of images 48 high to scores (batch, frame, class)."""
        return self._run(self._to_scores, self.features_name, features, self.graph.output[0].name)

    def forward(self, images: Tensor) -> Tensor:
        return self.scores(self.features(images))

    def _run(self, program: Program, given: str, value: Tensor, wanted: str) -> Tensor:
        values: dict[str, Tensor] = {given: value}
        for name, attribute in self.names.items():
            values[name] = getattr(self, attribute)
        for operator, attributes, inputs, output in program:
            values[output] = operator(attributes, *(values[n] if n else None for n in inputs))
        return values[wanted]


Operator = Callable[..., Tensor]
Program = list[tuple[Operator, dict, list[str], str]]


def _program(nodes: list[onnx.NodeProto]) -> Program:
    """The nodes as calls, with the five nodes that spell a GELU made one."""
    readers: dict[str, list[onnx.NodeProto]] = {}
    for node in nodes:
        for name in node.input:
            readers.setdefault(name, []).append(node)
    fused: set[str] = set()
    program: Program = []
    for node in nodes:
        if node.output[0] in fused:
            continue
        chain = _gelu_chain(node, readers)
        if chain:
            fused.update(n.output[0] for n in chain)
            program.append((_gelu, {}, [node.input[0]], chain[-1].output[0]))
            continue
        attributes = {a.name: helper.get_attribute_value(a) for a in node.attribute}
        program.append((OPERATORS[node.op_type], attributes, list(node.input), node.output[0]))
    return program


def _gelu_chain(
    node: onnx.NodeProto, readers: dict[str, list[onnx.NodeProto]]
) -> list[onnx.NodeProto]:
    """Div, Erf, Add, Mul, Mul from ``node`` on; empty when they are not what follows."""
    chain = [node]
    if node.op_type != "Div":
        return []
    for wanted in ("Erf", "Add", "Mul", "Mul"):
        following = readers.get(chain[-1].output[0], [])
        if len(following) != 1 or following[0].op_type != wanted:
            return []
        chain.append(following[0])
    return chain


def _gelu(attributes: dict, x: Tensor) -> Tensor:
    return F.gelu(x)


def _undo_half_precision(graph: onnx.GraphProto) -> None:
    """Give initialisers that ``export_graph`` stored behind a cast their own name again."""
    casts = {node.input[0]: node for node in graph.node if node.op_type == "Cast"}
    for initialiser in graph.initializer:
        if initialiser.name in casts:
            node = casts[initialiser.name]
            initialiser.name = node.output[0]
            graph.node.remove(node)


def _convolution(attributes: dict, x: Tensor, weight: Tensor, bias: Tensor | None = None) -> Tensor:
    stride = attributes["strides"]
    if attributes.get("auto_pad") == b"SAME_UPPER":
        x = _pad_same(x, attributes["kernel_shape"])
        padding = (0, 0)
    else:
        top, left, _, _ = attributes["pads"]
        padding = (top, left)
    return F.conv2d(x, weight, bias, tuple(stride), padding, groups=attributes["group"])


def _pad_same(x: Tensor, kernel: list[int]) -> Tensor:
    """Padding of an even kernel at stride 1 so that the size stays: the extra at the end."""
    high, wide = kernel[0] - 1, kernel[1] - 1
    return F.pad(x, (wide // 2, wide - wide // 2, high // 2, high - high // 2))


def _max_pool(attributes: dict, x: Tensor) -> Tensor:
    return F.max_pool2d(_pad_same(x, attributes["kernel_shape"]), attributes["kernel_shape"], 1)


def _slice(attributes: dict, x: Tensor, starts, ends, axes, steps=None) -> Tensor:
    for start, end, axis in zip(starts.tolist(), ends.tolist(), axes.tolist(), strict=True):
        x = x.narrow(axis, start, min(end, x.shape[axis]) - start)
    return x


def _squeeze(attributes: dict, x: Tensor) -> Tensor:
    for axis in sorted(attributes["axes"], reverse=True):
        x = x.squeeze(axis)
    return x


def _unsqueeze(attributes: dict, x: Tensor) -> Tensor:
    for axis in sorted(attributes["axes"]):
        x = x.unsqueeze(axis)
    return x


def _reshape(attributes: dict, x: Tensor, shape: Tensor) -> Tensor:
    sizes = [x.shape[i] if size == 0 else size for i, size in enumerate(shape.tolist())]
    return x.reshape(sizes)


def _mean(attributes: dict, x: Tensor) -> Tensor:
    return x.mean(attributes["axes"], keepdim=bool(attributes.get("keepdims", 1)))


def _normalise(attributes: dict, x, weight, bias, mean, variance) -> Tensor:
    scale = weight * (variance.detach() + attributes["epsilon"]).rsqrt()
    return x * scale[:, None, None] + (bias - mean.detach() * scale)[:, None, None]


OPERATORS: dict[str, Callable[..., Tensor]] = {
    "Identity": lambda a, x: x,
    "Add": lambda a, x, y: x + y,
    "Sub": lambda a, x, y: x - y,
    "Mul": lambda a, x, y: x * y,
    "Div": lambda a, x, y: x / y,
    "Pow": lambda a, x, y: x**y,
    "Sqrt": lambda a, x: x.sqrt(),
    "Erf": lambda a, x: x.erf(),
    "Relu": lambda a, x: x.relu(),
    "Sigmoid": lambda a, x: x.sigmoid(),
    "HardSigmoid": lambda a, x: (a["alpha"] * x + a["beta"]).clamp(0, 1),
    "Softmax": lambda a, x: x.softmax(a["axis"]),
    "MatMul": lambda a, x, y: x @ y,
    "Transpose": lambda a, x: x.permute(a["perm"]),
    "Concat": lambda a, *xs: torch.cat(xs, a["axis"]),
    "Shape": lambda a, x: torch.tensor(x.shape),
    "Slice": _slice,
    "Squeeze": _squeeze,
    "Unsqueeze": _unsqueeze,
    "Reshape": _reshape,
    "ReduceMean": _mean,
    "Conv": _convolution,
    "MaxPool": _max_pool,
    "AveragePool": lambda a, x: F.avg_pool2d(x, a["kernel_shape"], a["strides"]),
    "BatchNormalization": _normalise,
}
