"""Train the recogniser of plain lines, on the CPU or one GPU, by the clock.

    python -m scanner.training.tune --data .data --start GRAPH.onnx --out runs/one --minutes 40

Composing processes cut labelled lines at their fraction bars, so that the recogniser learns from
the very pieces it will be given. The learning rate reaches zero when the minutes are over.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import queue
import random
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F
from torch import Tensor

from scanner.reader.classes import BLANK, to_classes
from scanner.reader.fractions import Parts, Piece, Stack, split
from scanner.reader.notation import (
    CLOSE,
    FRACTION,
    FRACTION_BAR,
    OPENERS,
    TOKENS,
    detokenise,
    tokenise,
)
from scanner.reader.piece_image import piece_image, trimmed
from scanner.training.degrade import degrade
from scanner.training.export_graph import write_graph
from scanner.training.lines import MIXTURE, LineSource
from scanner.training.network import GraphNetwork

BATCH_PIXELS = 24 * 320  # columns in a batch
LARGEST_BATCH = 48
PEAK_RATE, HEAD_RATE, WARM_UP, WEIGHT_DECAY = 2.5e-4, 1.2e-3, 0.03, 0.01
EMA = 0.995
# The first layers see strokes, not characters: left as they are, they halve the work of a step.
KEPT_LAYERS = tuple(f"conv2d_{number}." for number in range(68, 73))
HEAD_NAMES = ("linear_8.w_0", "linear_8.b_0")

LabelTree = list["str | tuple[LabelTree, LabelTree]"]


def label_tree(label: str) -> LabelTree | None:
    """Plain texts and (above, below) pairs; None when a fraction stands inside a group."""
    tokens = [TOKENS[index] for index in tokenise(label)]
    position = 0

    def sequence(stop: str) -> LabelTree | None:
        nonlocal position
        parts: LabelTree = []
        text: list[str] = []
        open_groups = 0
        while position < len(tokens):
            token = tokens[position]
            if token == FRACTION:
                if open_groups:
                    return None
                if text:
                    parts.append("".join(text))
                    text = []
                position += 1
                above = sequence(FRACTION_BAR)
                position += 1
                below = sequence(CLOSE)
                position += 1
                if above is None or below is None:
                    return None
                parts.append((above, below))
                continue
            if token == stop and not open_groups:
                break
            open_groups += (token in OPENERS) - (token == CLOSE)
            text.append(token)
            position += 1
        if text:
            parts.append("".join(text))
        return parts

    return sequence("")


def paired(parts: Parts, tree: LabelTree) -> list[tuple[np.ndarray, str]] | None:
    """Pieces with their labels; None when the cut and the label differ in shape."""
    if len(parts) != len(tree):
        return None
    pairs: list[tuple[np.ndarray, str]] = []
    for part, label in zip(parts, tree, strict=True):
        if isinstance(part, Piece) and isinstance(label, str):
            pairs.append((part.image, label.strip()))
        elif isinstance(part, Stack) and isinstance(label, tuple):
            above, below = paired(part.above, label[0]), paired(part.below, label[1])
            if above is None or below is None:
                return None
            pairs += above + below
        else:
            return None
    return pairs


def compose(data: str, seed: int, mixture: dict[str, float], out: multiprocessing.Queue) -> None:
    """Endless work of one process: batches of degraded pieces and their classes."""
    torch.set_num_threads(1)
    torch.manual_seed(seed)
    source = LineSource(data, "train", seed, mixture)
    rng = random.Random(seed)
    waiting: dict[int, list[tuple[np.ndarray, list[int]]]] = defaultdict(list)
    while True:
        sample = source.sample()
        tree = label_tree(sample.label)
        if tree is None:
            continue
        image = trimmed(sample.image)
        if len(tree) == 1 and isinstance(tree[0], str):
            pairs = [(image if rng.random() < 0.8 else sample.image, tree[0])]
        else:
            pairs = paired(split(image), tree) or []
        for piece, label in pairs:
            classes = to_classes(detokenise(tokenise(label)))
            if not classes or min(piece.shape) < 2:
                continue
            line = piece_image(piece)
            frames = line.shape[1] // 4 - 1
            repeats = sum(a == b for a, b in zip(classes, classes[1:], strict=False))
            if len(classes) + repeats > frames:
                continue
            lines = waiting[line.shape[1]]
            lines.append((line, classes))
            if len(lines) >= min(LARGEST_BATCH, max(4, BATCH_PIXELS // line.shape[1])):
                out.put(_batch(lines))
                waiting[line.shape[1]] = []


def _batch(lines: list[tuple[np.ndarray, list[int]]]) -> tuple[np.ndarray, list[list[int]]]:
    images = torch.from_numpy(np.stack([line for line, _ in lines]))
    widths = torch.full((len(lines),), images.shape[2])
    spoilt = degrade(images, widths, torch.ones(len(lines), dtype=torch.bool), strength=0.8)
    return spoilt.clamp(0, 255).byte().numpy(), [classes for _, classes in lines]


def network_input(images: np.ndarray) -> Tensor:
    """uint8 (line, 48, width) to what the graph takes: (line, 3, 48, width), -1 ... 1."""
    x = torch.from_numpy(images).float().div(127.5).sub(1.0)
    return x[:, None].expand(-1, 3, -1, -1).contiguous(memory_format=torch.channels_last)


def loss_of(network: GraphNetwork, images: np.ndarray, classes: list[list[int]]) -> Tensor:
    device = next(network.parameters()).device
    with torch.autocast(device.type, torch.bfloat16):
        scores = network(network_input(images).to(device))
    log_probabilities = F.log_softmax(scores.float(), -1).transpose(0, 1)
    lengths = torch.tensor([len(ids) for ids in classes])
    targets = torch.tensor([index for ids in classes for index in ids])
    frames = torch.full((len(classes),), log_probabilities.shape[0])
    return F.ctc_loss(
        log_probabilities, targets, frames, lengths, BLANK, reduction="mean", zero_infinity=True
    )


def learning_share(share: float) -> float:
    """Rate as a share of the peak after ``share`` of the run."""
    if share < WARM_UP:
        return share / WARM_UP
    return 0.5 * (1 + math.cos(math.pi * (share - WARM_UP) / (1 - WARM_UP)))


def train(data: str, start: str, out: Path, minutes: float, workers: int, seed: int) -> None:
    """Tune the graph ``start`` for ``minutes``; writes ``recogniser.onnx`` into ``out``."""
    out.mkdir(parents=True, exist_ok=True)
    context = multiprocessing.get_context("spawn")
    batches: multiprocessing.Queue = context.Queue(maxsize=24)
    for number in range(workers):
        context.Process(
            target=compose, args=(data, seed * 1000 + number, MIXTURE, batches), daemon=True
        ).start()
    torch.manual_seed(seed)
    network = GraphNetwork(start).to("cuda" if torch.cuda.is_available() else "cpu")
    for name, attribute in network.names.items():
        if name.startswith(KEPT_LAYERS):
            getattr(network, attribute).requires_grad_(False)
    heads = {network.names[name] for name in HEAD_NAMES}
    named = [(n, p) for n, p in network.named_parameters() if p.requires_grad]
    groups = [
        {"params": [p for n, p in named if n not in heads], "peak": PEAK_RATE},
        {"params": [p for n, p in named if n in heads], "peak": HEAD_RATE},
    ]
    optimizer = torch.optim.AdamW(
        groups, lr=PEAK_RATE, weight_decay=WEIGHT_DECAY, betas=(0.9, 0.99)
    )
    averaged = {name: p.detach().clone() for name, p in named}
    began = last = time.monotonic()
    saved = began
    step = seen = 0
    losses: list[float] = []

    def save() -> None:
        weights = {**dict(network.named_parameters()), **averaged}
        write_graph(network, weights, out / "recogniser.onnx")

    while (share := (time.monotonic() - began) / (60 * minutes)) < 1:
        for group in optimizer.param_groups:
            group["lr"] = group["peak"] * learning_share(share)
        try:
            images, classes = batches.get(timeout=60)
        except queue.Empty:
            continue
        loss = loss_of(network, images, classes)
        optimizer.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimizer.step()
        step += 1
        seen += len(images)
        losses.append(loss.item())
        keep = min(EMA, (1 + step) / (10 + step))
        with torch.no_grad():
            for name, parameter in named:
                averaged[name].lerp_(parameter, 1 - keep)
        now = time.monotonic()
        if now - last > 20:
            print(
                f"{now - began:5.0f} s step {step} lines {seen} loss {np.mean(losses):.3f}",
                flush=True,
            )
            last, losses = now, []
        if now - saved > 240:
            write_graph(
                network, {**dict(network.named_parameters()), **averaged}, out / "recogniser.onnx"
            )
            saved = now
    save()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", default=".data")
    parser.add_argument("--start", required=True, help="an ONNX graph to start from")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, required=True)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    train(chosen.data, chosen.start, chosen.out, chosen.minutes, chosen.workers, chosen.seed)


if __name__ == "__main__":
    main()
