"""Weights between PyTorch and the ONNX files that the reader ships.

    python -m scanner.training.export CHECKPOINT.pt [FOLDER]

writes ``encoder.onnx`` and ``decoder.onnx``. Matrices are stored in half
precision (ONNX Runtime widens them when it loads the files) under the names they
have in the model, so that ``load_weights`` gets them back and the next training
run starts from the shipped files.
"""

from __future__ import annotations

import argparse
import warnings
from pathlib import Path

import numpy as np
import onnx
import torch
import torch.nn.functional as F
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor, nn

from scanner.reader.reader import DECODER_FILE, ENCODER_FILE, WEIGHTS_FOLDER
from scanner.training.model import LineModel, Size

OPSET = 17


class EncoderGraph(nn.Module):
    """Images to what every decoder layer looks at: its keys and values, and the mask."""

    def __init__(self, model: LineModel):
        super().__init__()
        self.model = model

    def forward(self, images: Tensor, widths: Tensor) -> list[Tensor]:
        cells, mask = self.model.encode(images, widths)
        looks = [layer.look for layer in self.model.decoder]
        keys = [look.split(look.key(cells)).transpose(2, 3) for look in looks]
        values = [look.split(look.value(cells)) for look in looks]
        return [mask, *keys, *values]


class DecoderGraph(nn.Module):
    """One more token for each of several readings of each line, with what came before kept."""

    def __init__(self, model: LineModel):
        super().__init__()
        self.model = model

    def forward(self, tokens: Tensor, place: Tensor, mask: Tensor, *tables: Tensor):
        """With B lines, K readings of each, H heads of width D, C cells, T past tokens:

        tokens (B, K), place (1,) = T, mask (B, 1, 1, C); ``tables`` are, for each layer, keys
        (B, H, D, C), then values (B, H, C, D), then past keys (B * K, H, D, T), then past values
        (B * K, H, T, D). Returns log-probabilities (B, K, symbol), then for each layer the past
        keys and then the past values with T + 1 tokens.
        """
        lines, readings = tokens.shape
        layers = len(self.model.decoder)
        keys, values, past_keys, past_values = (
            tables[start : start + layers] for start in range(0, 4 * layers, layers)
        )
        x = self.model.embed(tokens) + self.model.token_places[place]
        kept_keys, kept_values = [], []
        for number, layer in enumerate(self.model.decoder):
            attention = layer.attention
            normed = layer.attention_norm(x).view(lines * readings, 1, -1)
            own_keys = torch.cat(
                (past_keys[number], attention.split(attention.key(normed)).transpose(2, 3)), 3
            )
            own_values = torch.cat(
                (past_values[number], attention.split(attention.value(normed))), 2
            )
            kept_keys.append(own_keys)
            kept_values.append(own_values)
            query = attention.split(attention.query(normed))
            attended = attend(query, own_keys, own_values, None)
            x = x + attention.out(attended.transpose(1, 2).reshape(lines, readings, -1))
            look = layer.look
            query = look.split(look.query(layer.look_norm(x)))
            attended = attend(query, keys[number], values[number], mask)
            x = x + look.out(attended.transpose(1, 2).reshape(lines, readings, -1))
            x = x + layer.feed(layer.feed_norm(x))
        log_probabilities = F.log_softmax(self.model.symbol_scores(x), -1)
        return [log_probabilities, *kept_keys, *kept_values]


def attend(query: Tensor, keys: Tensor, values: Tensor, mask: Tensor | None) -> Tensor:
    """Attention with keys laid out (.., head width, place)."""
    scores = (query * query.shape[-1] ** -0.5) @ keys
    if mask is not None:
        scores = scores + mask
    return scores.softmax(-1) @ values


def export(model: LineModel, folder: Path) -> None:
    """Write the two ONNX files of ``model`` into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    model = model.eval().float().cpu()
    size = model.size
    numbers = range(size.decoder_layers)
    images = torch.randint(0, 255, (2, 64, 96), dtype=torch.uint8)
    widths = torch.tensor([96, 64])
    encoder = EncoderGraph(model).eval()
    keys = {f"keys_{n}": {0: "line", 3: "cell"} for n in numbers}
    values = {f"values_{n}": {0: "line", 2: "cell"} for n in numbers}
    _export_graph(
        encoder,
        (images, widths),
        folder / ENCODER_FILE,
        {"images": {0: "line", 1: "height", 2: "width"}, "widths": {0: "line"}},
        {"mask": {0: "line", 3: "cell"}} | keys | values,
    )
    with torch.no_grad():
        mask, *tables = encoder(images, widths)
    head_width = size.width // size.heads
    past = [torch.zeros(6, size.heads, head_width, 4) for _ in numbers]
    past += [torch.zeros(6, size.heads, 4, head_width) for _ in numbers]
    _export_graph(
        DecoderGraph(model).eval(),
        (torch.ones((2, 3), dtype=torch.int64), torch.tensor([4]), mask, *tables, *past),
        folder / DECODER_FILE,
        {"tokens": {0: "line", 1: "reading"}, "place": {}, "mask": {0: "line", 3: "cell"}}
        | keys
        | values
        | {f"past_keys_{n}": {0: "row", 3: "past"} for n in numbers}
        | {f"past_values_{n}": {0: "row", 2: "past"} for n in numbers},
        {"log_probabilities": {0: "line", 1: "reading"}}
        | {f"kept_keys_{n}": {0: "row", 3: "kept"} for n in numbers}
        | {f"kept_values_{n}": {0: "row", 2: "kept"} for n in numbers},
    )


def load_weights(model: LineModel, folder: Path = WEIGHTS_FOLDER) -> LineModel:
    """Fill ``model`` from the ONNX files in ``folder``; all that reading needs must be found.

    What only training uses (``column_symbols``) is not in the files and stays as it is.
    """
    found = {}
    for name in (ENCODER_FILE, DECODER_FILE):
        stored = onnx.load(folder / name)
        for initialiser in stored.graph.initializer:
            array = numpy_helper.to_array(initialiser)
            found[initialiser.name] = torch.from_numpy(array.astype(np.float32))
        for twin in stored.metadata_props:
            if twin.value in found:
                found[twin.key] = found[twin.value]
    state = model.state_dict()
    unstored = ("num_batches_tracked", "column_symbols.weight", "column_symbols.bias")
    wanted = [name for name in state if not name.endswith(unstored)]
    missing = [name for name in wanted if name not in found]
    if missing:
        raise ValueError(f"the ONNX files lack {missing[:5]} and {len(missing)} in all")
    model.load_state_dict({name: found[name] for name in wanted}, strict=False)
    return model


def _export_graph(graph: nn.Module, arguments: tuple, path: Path, inputs: dict, outputs: dict):
    with warnings.catch_warnings(), torch.no_grad():
        warnings.simplefilter("ignore")
        torch.onnx.export(
            graph,
            arguments,
            path,
            input_names=list(inputs),
            output_names=list(outputs),
            dynamic_axes={k: v for k, v in (inputs | outputs).items() if v},
            opset_version=OPSET,
            do_constant_folding=False,
            dynamo=False,
        )
    exported = _half_precision(onnx.load(path))
    helper.set_model_props(exported, _twins(graph, exported))
    onnx.save(exported, path)


def _twins(graph: nn.Module, exported: onnx.ModelProto) -> dict[str, str]:
    """Parameters that the exporter dropped because another one holds the same numbers."""
    stored = {initialiser.name for initialiser in exported.graph.initializer}
    weights = {
        name.removeprefix("model."): tensor
        for name, tensor in graph.state_dict().items()
        if tensor.is_floating_point()
    }
    return {
        name: other
        for name, tensor in weights.items()
        if name not in stored
        for other in sorted(stored & weights.keys())
        if torch.equal(weights[other], tensor)
    }


def _half_precision(exported: onnx.ModelProto) -> onnx.ModelProto:
    """Store matrices as float16 behind a Cast, and strip the prefix that the graph adds."""
    graph = exported.graph
    casts = []
    renamed = {}
    for initialiser in graph.initializer:
        name = initialiser.name.removeprefix("model.")
        array = numpy_helper.to_array(initialiser)
        if array.dtype == np.float32 and array.ndim >= 2:
            renamed[initialiser.name] = name + "/float"
            casts.append(helper.make_node("Cast", [name], [name + "/float"], to=TensorProto.FLOAT))
            array = array.astype(np.float16)
        else:
            renamed[initialiser.name] = name
        initialiser.CopyFrom(numpy_helper.from_array(array, name))
    for node in graph.node:
        for position, name in enumerate(node.input):
            node.input[position] = renamed.get(name, name)
        node.doc_string = ""
    nodes = casts + list(graph.node)
    del graph.node[:]
    graph.node.extend(nodes)
    onnx.checker.check_model(exported)
    return exported


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("checkpoint", type=Path)
    arguments.add_argument("folder", type=Path, nargs="?", default=WEIGHTS_FOLDER)
    options = arguments.parse_args()
    checkpoint = torch.load(options.checkpoint, map_location="cpu", weights_only=True)
    model = LineModel(Size(**checkpoint["size"]))
    model.load_state_dict(checkpoint["weights"])
    export(model, options.folder)


if __name__ == "__main__":
    main()
