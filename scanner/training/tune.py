"""Train the reader's recogniser and decoder together, by the clock, on the CPU or on GPUs.

    python -m scanner.training.tune --start scanner/reader --out runs/one --minutes 40
    torchrun --nproc-per-node 2 -m scanner.training.tune ...      # two GPUs of one machine

Composing processes make labelled lines and cut them at their fraction bars: the recogniser learns
from the pieces, the decoder from pieces and whole lines. Damage is done to whole batches, on the
GPU. The learning rate reaches zero when the minutes are over. Every checkpoint holds what both
stages need to go on or to be written for the reader (``export_graph``).
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import queue
import random
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.distributed
import torch.nn.functional as F
from torch import Tensor, nn

from scanner.reader.classes import BLANK, to_classes
from scanner.reader.cuts import label_tree, paired
from scanner.reader.fractions import split
from scanner.reader.notation import PAD, detokenise, tokenise
from scanner.reader.piece_image import HEIGHT, TALL_HEIGHT, piece_image, trimmed
from scanner.training.decoder import LONGEST, decoder_loss, framed
from scanner.training.degrade import degrade
from scanner.training.export_graph import read_decoder
from scanner.training.lines import MIXTURE, LineSource
from scanner.training.stages import Reader

CHUNK = 16  # lines that a composing process hands over at once
BATCH_PIXELS = {"cpu": 48 * 320 * 24, "cuda": 48 * 320 * 320}
LARGEST_BATCH = {"cpu": 48, "cuda": 768}
# Few sizes: on a GPU every new one costs seconds of preparation.
WIDTHS = (96, 160, 256, 384, 576, 896, 1600)
BODY_RATE, HEAD_RATE, DECODER_RATE = 4e-4, 1e-3, 8e-4
WARM_UP, WEIGHT_DECAY, EMA, CLIP = 0.04, 0.01, 0.998, 1.0
OTHER_HEIGHT = 0.1  # share of whole lines shown to the decoder at the height meant for the others
DAMAGE = 0.8
KEPT_EVERY = 100  # seconds between checkpoints
# On the CPU the first layers are left as they are: they see strokes, not characters, and cost half.
FIRST_LAYERS = tuple(f"conv2d_{number}." for number in range(68, 73))
HEAD_NAMES = ("linear_8.w_0", "linear_8.b_0")
CHECKED_LINES = 40  # validation lines of each kind in CHECKED_KINDS, read at every report
CHECKED_KINDS = ("answer", "formula", "sum", "substitution", "direction", "real", "print:span")

# --- composing processes ------------------------------------------------------------------------


@dataclass(frozen=True)
class Item:
    """What one training example shows: ``classes`` is None where only the decoder learns."""

    image: np.ndarray  # uint8 (height, width)
    classes: list[int] | None
    tokens: list[int]
    kind: str


Chunk = tuple[tuple[int, int], list[Item]]  # height and width, items of this size


def items_of(image: np.ndarray, label: str, kind: str, rng: random.Random) -> Iterator[Item]:
    """The examples in one labelled line: the whole line, and its pieces where it has fractions."""
    cut = trimmed(image)
    tree = label_tree(label)
    plain = tree is not None and len(tree) == 1 and isinstance(tree[0], str)
    whole = cut if rng.random() < 0.8 else image
    height = HEIGHT if plain else TALL_HEIGHT
    if rng.random() < OTHER_HEIGHT:
        height = HEIGHT + TALL_HEIGHT - height
    shown = piece_image(whole, height)
    classes = classes_that_fit(label, shown) if plain and height == HEIGHT else None
    yield Item(shown, classes, tokenise(label), kind)
    if plain or tree is None:
        return
    for piece, text in paired(split(cut), tree) or []:
        if text and min(piece.image.shape) >= 2:
            shown = piece_image(piece.image)
            classes = classes_that_fit(text, shown)
            if classes:
                yield Item(shown, classes, tokenise(text), "piece")


def classes_that_fit(label: str, image: np.ndarray) -> list[int] | None:
    """Classes of a label without fractions; None when the image has too few frames for them."""
    classes = to_classes(detokenise(tokenise(label)))
    if not classes:
        return None
    repeats = sum(a == b for a, b in zip(classes, classes[1:], strict=False))
    return classes if len(classes) + repeats <= image.shape[1] // 4 - 1 else None


def compose(data: str, seed: int, mixture: Mapping[str, float], out: multiprocessing.Queue) -> None:
    """Endless work of one process: chunks of items of one size."""
    cv2.setNumThreads(1)
    source = LineSource(data, "train", seed, dict(mixture))
    rng = random.Random(seed)
    waiting: dict[tuple[int, int], list[Item]] = defaultdict(list)
    while True:
        sample = source.sample()
        for item in items_of(sample.image, sample.label, sample.kind, rng):
            if len(item.tokens) > LONGEST - 2:
                continue
            item = widened(item)
            size = item.image.shape
            waiting[size].append(item)
            if len(waiting[size]) >= CHUNK:
                out.put((size, waiting.pop(size)))


def widened(item: Item) -> Item:
    """The item with paper added at its right, up to one of ``WIDTHS``."""
    height, width = item.image.shape
    wanted = next(w for w in WIDTHS if w >= width)
    wide = np.full((height, wanted), np.percentile(item.image, 90), np.uint8)
    wide[:, :width] = item.image
    return Item(wide, item.classes, item.tokens, item.kind)


@dataclass(frozen=True)
class Batch:
    """A batch. ``with_classes`` are the positions of lines that the recogniser learns from."""

    images: Tensor  # uint8 (line, height, width)
    tokens: Tensor  # (line, position)
    with_classes: Tensor
    classes: Tensor  # one after another
    lengths: Tensor  # stays on the CPU, where the loss wants it

    @classmethod
    def of(cls, items: list[Item]) -> Batch:
        rows = [framed(item.tokens) for item in items]
        tokens = np.full((len(rows), -(-max(map(len, rows)) // 8) * 8), PAD)
        for row, ids in zip(tokens, rows, strict=True):
            row[: len(ids)] = ids
        learnt = [(i, item.classes) for i, item in enumerate(items) if item.classes]
        return cls(
            torch.from_numpy(np.stack([item.image for item in items])),
            torch.from_numpy(tokens),
            torch.tensor([i for i, _ in learnt], dtype=torch.long),
            torch.tensor([c for _, ids in learnt for c in ids], dtype=torch.long),
            torch.tensor([len(ids) for _, ids in learnt], dtype=torch.long),
        )

    def pinned(self) -> Batch:
        return self._each(Tensor.pin_memory)

    def to(self, device: torch.device) -> Batch:
        return self._each(lambda tensor: tensor.to(device, non_blocking=True))

    def _each(self, change: Callable[[Tensor], Tensor]) -> Batch:
        moved = (self.images, self.tokens, self.with_classes, self.classes)
        return Batch(*(change(tensor) for tensor in moved), self.lengths)


class Batches:
    """Chunks from the composing processes gathered into batches by a thread of this process."""

    def __init__(self, data: str, workers: int, seed: int, device: str) -> None:
        context = multiprocessing.get_context("spawn")
        self._chunks: multiprocessing.Queue = context.Queue(maxsize=8 * workers)
        self._ready: queue.Queue[Batch] = queue.Queue(maxsize=8)
        self._pinned = device == "cuda"
        self._pixels, self._largest = BATCH_PIXELS[device], LARGEST_BATCH[device]
        for number in range(workers):
            context.Process(
                target=compose,
                args=(data, seed * 1000 + number, MIXTURE, self._chunks),
                daemon=True,
            ).start()
        threading.Thread(target=self._gather, daemon=True).start()

    def _gather(self) -> None:
        waiting: dict[tuple[int, int], list[Item]] = defaultdict(list)
        while True:
            size, items = self._chunks.get()
            waiting[size] += items
            if len(waiting[size]) >= min(self._largest, self._pixels // (size[0] * size[1])):
                batch = Batch.of(waiting.pop(size))
                self._ready.put(batch.pinned() if self._pinned else batch)

    def next(self) -> Batch:
        return self._ready.get()


# --- learning -----------------------------------------------------------------------------------


def losses_of(reader: Reader, batch: Batch, images: Tensor) -> tuple[Tensor, Tensor]:
    """Loss per token of the decoder and per class of the recogniser."""
    token_scores, frame_scores = reader(images, batch.tokens, batch.with_classes)
    by_token = decoder_loss(token_scores, batch.tokens)
    if frame_scores is None:
        return by_token, by_token.new_zeros(())
    log_probabilities = F.log_softmax(frame_scores.float(), -1).transpose(0, 1)
    frames = torch.full_like(batch.lengths, log_probabilities.shape[0])
    by_class = F.ctc_loss(
        log_probabilities, batch.classes, frames, batch.lengths, BLANK, zero_infinity=True
    )
    return by_token, by_class


def damaged(images: Tensor) -> Tensor:
    lines, _, width = images.shape
    delicate = torch.full((lines,), images.shape[1] > HEIGHT, device=images.device)
    widths = torch.full((lines,), width, device=images.device)
    return degrade(images, widths, delicate, strength=DAMAGE)


def learning_share(share: float) -> float:
    """Rate as a share of the peak after ``share`` of the run."""
    if share < WARM_UP:
        return share / WARM_UP
    return 0.5 * (1 + math.cos(math.pi * (share - WARM_UP) / (1 - WARM_UP)))


class Together:
    """The processes that train one reader, one a GPU; alone when not started by torchrun."""

    def __init__(self) -> None:
        self.rank, self.count = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
        if self.count > 1:
            torch.distributed.init_process_group("nccl" if torch.cuda.is_available() else "gloo")

    def gradients(self, parameters: list[nn.Parameter]) -> Tensor:
        """Average the processes' gradients and clip them to ``CLIP``; returns their norm.

        A gradient that is not finite is passed over as a whole.
        """
        flat = torch.cat(
            [(torch.zeros_like(p) if p.grad is None else p.grad).flatten() for p in parameters]
        )
        if self.count > 1:
            torch.distributed.all_reduce(flat)
            flat /= self.count
        norm = flat.norm()
        share = torch.where(norm.isfinite(), (CLIP / norm).clamp(max=1.0), 0.0)
        parts = (flat.nan_to_num(0.0, 0.0, 0.0) * share).split([p.numel() for p in parameters])
        for parameter, part in zip(parameters, parts, strict=True):
            parameter.grad = part.view_as(parameter)
        return norm.nan_to_num(0.0, 0.0, 0.0)

    def agreed(self, value: float, device: torch.device) -> float:
        """The first process's value."""
        if self.count == 1:
            return value
        shared = torch.tensor([value], device=device)
        torch.distributed.broadcast(shared, 0)
        return float(shared)


def train(data: str, start: Path, out: Path, minutes: float, workers: int, seed: int) -> None:
    """Train on from the weights in ``start`` for ``minutes``; checkpoints go into ``out``."""
    together = Together()
    kind = "cuda" if torch.cuda.is_available() else "cpu"
    device = torch.device(kind, together.rank) if kind == "cuda" else torch.device(kind)
    if kind == "cuda":
        torch.cuda.set_device(device)
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        torch.backends.cuda.enable_cudnn_sdp(False)  # compiles anew for every length
    batches = Batches(data, workers, seed * 100 + together.rank, kind)
    torch.manual_seed(seed)
    reader = Reader(start, device)
    weights = read_decoder(start)
    if weights:
        reader.decoder.load_state_dict(weights)
    out.mkdir(parents=True, exist_ok=True)
    optimizer, parameters = optimizer_of(reader, kind)
    averaged = [p.detach().clone() for p in parameters]
    checked = checked_items(data) if together.rank == 0 else {}
    torch.manual_seed(seed * 100 + together.rank)
    began = last = kept = time.monotonic()
    step, seen, reports, share = 0, 0, 0, 0.0
    sums = torch.zeros(3, device=device)
    while share < 1:
        for group in optimizer.param_groups:
            group["lr"] = group["peak"] * learning_share(share)
        batch = batches.next().to(device)
        with torch.no_grad():
            images = damaged(batch.images)
        by_token, by_class = losses_of(reader, batch, images)
        optimizer.zero_grad(set_to_none=True)
        (by_token + by_class).backward()
        norm = together.gradients(parameters)
        optimizer.step()
        step += 1
        seen += len(batch.images)
        sums += torch.stack([by_token.detach(), by_class.detach(), norm])
        keep = min(EMA, (1 + step) / (10 + step))
        with torch.no_grad():
            torch._foreach_lerp_(averaged, [p.detach() for p in parameters], 1 - keep)
        if step % 10 == 0:
            share = together.agreed((time.monotonic() - began) / (60 * minutes), device)
            now = time.monotonic()
            if now - last > 20:
                tokens, classes, norms = (sums / (step - reports)).tolist()
                print(
                    f"{now - began:5.0f} s step {step} lines {seen} x {together.count} "
                    f"tokens {tokens:.3f} classes {classes:.3f} gradient {norms:.2f}",
                    flush=True,
                )
                sums.zero_()
                reports = step
                last = now
                if together.rank == 0 and now - kept > KEPT_EVERY:
                    kept = now
                    check_and_save(reader, parameters, averaged, checked, out, device)
    if together.rank == 0:
        check_and_save(reader, parameters, averaged, checked, out, device)
        print("done", flush=True)
    if together.count > 1:
        torch.distributed.destroy_process_group()


def optimizer_of(reader: Reader, kind: str) -> tuple[torch.optim.Optimizer, list[nn.Parameter]]:
    names = reader.recogniser.names
    heads = {names[name] for name in HEAD_NAMES}
    body: list[nn.Parameter] = []
    head: list[nn.Parameter] = []
    for name, attribute in names.items():
        parameter = getattr(reader.recogniser, attribute)
        if not isinstance(parameter, nn.Parameter):
            continue
        if kind == "cpu" and name.startswith(FIRST_LAYERS):
            parameter.requires_grad_(False)
        else:
            (head if attribute in heads else body).append(parameter)
    decoder = list(reader.decoder.parameters())
    groups = [
        {"params": body, "peak": BODY_RATE},
        {"params": head, "peak": HEAD_RATE},
        {"params": decoder, "peak": DECODER_RATE},
    ]
    optimizer = torch.optim.AdamW(groups, lr=0.0, weight_decay=WEIGHT_DECAY, betas=(0.9, 0.98))
    return optimizer, body + head + decoder


# --- checkpoints and reports --------------------------------------------------------------------


def check_and_save(
    reader: Reader,
    parameters: list[nn.Parameter],
    averaged: list[Tensor],
    checked: dict[str, list[Item]],
    out: Path,
    device: torch.device,
) -> None:
    """Report the averaged weights on held-out lines, and keep them."""
    own = [p.detach().clone() for p in parameters]
    with torch.no_grad():
        for parameter, average in zip(parameters, averaged, strict=True):
            parameter.copy_(average)
        state = {name: tensor.cpu() for name, tensor in reader.state_dict().items()}
        temporary = out / "checkpoint.part"
        torch.save(state, temporary)
        temporary.replace(out / "checkpoint.pt")
        reports = [f"{kind} {report(reader, items, device)}" for kind, items in checked.items()]
        print("  exact, decoder/recogniser: " + ", ".join(reports), flush=True)
        for parameter, value in zip(parameters, own, strict=True):
            parameter.copy_(value)


def checked_items(data: str) -> dict[str, list[Item]]:
    """Held-out lines by kind, as the decoder sees them."""
    source, rng = LineSource(data, "validation", 77), random.Random(77)
    found: dict[str, list[Item]] = {}
    for kind in CHECKED_KINDS:
        found[kind] = []
        for _ in range(CHECKED_LINES):
            sample = source.sample_kind(kind)
            found[kind].append(next(items_of(sample.image, sample.label, kind, rng)))
    return found


def report(reader: Reader, items: list[Item], device: torch.device) -> str:
    """Shares in % of undamaged lines that the decoder and the recogniser get right throughout.

    The decoder is right throughout when each next token is, given those before it.
    """
    by_decoder = by_recogniser = with_classes = 0
    for item in items:
        batch = Batch.of([item]).to(device)
        tokens, frames = reader(batch.images, batch.tokens, batch.with_classes)
        wanted = batch.tokens[:, 1:]
        by_decoder += bool(((tokens[:, :-1].argmax(-1) == wanted) | (wanted == PAD)).all())
        if frames is not None:
            with_classes += 1
            path = torch.unique_consecutive(frames[0].argmax(-1)).tolist()
            by_recogniser += [c for c in path if c != BLANK] == item.classes
    return f"{100 * by_decoder / len(items):.0f}/{100 * by_recogniser / max(1, with_classes):.0f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", default=".data")
    parser.add_argument("--start", type=Path, default=Path("scanner/reader"))
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--minutes", type=float, required=True)
    parser.add_argument("--workers", type=int, default=1, help="composing processes for each GPU")
    parser.add_argument("--seed", type=int, default=0)
    chosen = parser.parse_args()
    train(chosen.data, chosen.start, chosen.out, chosen.minutes, chosen.workers, chosen.seed)


if __name__ == "__main__":
    main()
