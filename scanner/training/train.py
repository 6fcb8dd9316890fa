"""Train the line reader, on any number of GPUs or in miniature on the CPU.

    python -m scanner.training.train --data .data --out runs/one --minutes 25 [--start shipped]

Processes on the CPU compose clean lines without end. Each GPU keeps a large pool
of them in its memory and draws batches of like size from it, degraded anew every
time it draws them, so that the GPU never waits for the composing. The learning
rate follows the clock and reaches zero when the minutes are over. ``--start``
takes the shipped ONNX weights (``shipped``) or a checkpoint of an earlier run.
"""

from __future__ import annotations

import argparse
import copy
import math
import multiprocessing
import os
import queue
import random
import time
from collections import deque
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
import torch
import torch.distributed as dist
import torch.nn.functional as F
from torch import Tensor

from scanner.reader.line_image import HEIGHTS, MAX_WIDTH, scaled, trimmed
from scanner.reader.notation import END, FRACTION, PAD, START, TOKEN_IDS, TOKENS, tokenise
from scanner.training.degrade import degrade
from scanner.training.export import load_weights
from scanner.training.model import COLUMN_STRIDE, MAX_TOKENS, SIZES, LineModel, Size

GROUP = 32  # lines of one padded size that travel and stay together
# Few sizes: a GPU compiles its convolutions anew for each, for seconds.
WIDTHS = (192, 320, 448, 512, 640, 832, 1152, MAX_WIDTH)
VALIDATION_LINES, VALIDATION_SEED = 200, 77
EMPTY_SHARE = 0.004  # of the training lines: empty paper
LABEL_SMOOTHING = 0.05
TOKEN_NOISE = 0.1  # share of fed-back tokens replaced at random, so that the eye outweighs habit
EMA = 0.999
COLUMN_WEIGHT = 0.5  # of the column loss beside the decoder's
PEAK_RATE, WEIGHT_DECAY = 1.5e-3, 0.02
WARM_UP = 300  # steps
SOFT_START = 0.1  # share of the run over which degradation grows to full strength

SourceMaker = Callable[[str, str, int], object]


@dataclass(frozen=True)
class Plan:
    """One training run."""

    data: str
    out: str
    minutes: float
    workers: int = 2
    batch_pixels: int = 512 * 64 * 640
    pool_gigabytes: float = 40.0
    first_lines: int = 256 * GROUP  # lines in the pool before the first step
    start: str = ""
    seed: int = 0
    validate_every: float = 200.0  # seconds
    validation_sets: tuple[str, ...] = ()
    size: Size = Size()


class Group(NamedTuple):
    """Lines padded to one size: uint8 (line, height, width), int16 (line,), int16 (line, token)."""

    images: Tensor
    widths: Tensor
    tokens: Tensor


class Pool:
    """Groups of lines by padded size on one device; the oldest leave when the room is used up."""

    def __init__(self, device: torch.device, room: int, seed: int):
        self.device, self.room = device, room
        self.by_size: dict[tuple[int, int], list[Group]] = {}
        self.ages: deque[tuple[int, int]] = deque()
        self.used = 0
        self.added = 0
        self.random = random.Random(seed)

    def add(self, images: np.ndarray, widths: np.ndarray, tokens: np.ndarray) -> None:
        group = Group(*(torch.from_numpy(a).to(self.device) for a in (images, widths, tokens)))
        size = images.shape[1:]
        self.by_size.setdefault(size, []).append(group)
        self.ages.append(size)
        self.used += images.size
        self.added += len(images)
        while self.used > self.room:
            oldest = self.by_size[self.ages.popleft()]
            self.used -= oldest.pop(0).images.numel()

    def draw(self, pixels: int) -> Group:
        """A batch of about ``pixels`` pixels, all of one padded size."""
        size = self.random.choice(self.ages)
        groups = self.by_size[size]
        wanted = max(1, round(pixels / (GROUP * size[0] * size[1])))
        if len(groups) < wanted:  # a batch of one size has always as many lines, for the GPU's sake
            chosen = self.random.choices(groups, k=wanted)
        else:
            chosen = self.random.sample(groups, wanted)
        longest = max(group.tokens.shape[1] for group in chosen)
        return Group(
            torch.cat([group.images for group in chosen]),
            torch.cat([group.widths for group in chosen]).long(),
            torch.cat([F.pad(g.tokens, (0, longest - g.tokens.shape[1])) for g in chosen]).long(),
        )


def framed(image: np.ndarray, rng: random.Random) -> np.ndarray:
    """The line as the reader will meet it: trimmed to its ink, as it was cut, or more loosely."""
    draw = rng.random()
    if draw < 0.65:
        return scaled(trimmed(image))
    if draw < 0.85:
        return scaled(image)
    height = image.shape[0]
    above, below = (round(height * rng.random() ** 2 * 0.4) for _ in range(2))
    left, right = (round(height * rng.random() ** 2 * 1.5) for _ in range(2))
    paper = int(np.percentile(image, 95))
    return scaled(np.pad(image, ((above, below), (left, right)), constant_values=paper))


def empty(rng: random.Random) -> np.ndarray:
    """A crop on which nothing is written."""
    return np.full((rng.randint(20, 120), rng.randint(20, 900)), 255, np.uint8)


class Slots:
    """Shared memory through which composing processes hand groups of images over."""

    SIZE = GROUP * HEIGHTS[-1] * MAX_WIDTH

    def __init__(self, count: int):
        fork = multiprocessing.get_context("fork")
        self._memory = np.frombuffer(fork.RawArray("B", count * self.SIZE), np.uint8)
        self._free, self._filled = fork.Queue(), fork.Queue()
        for number in range(count):
            self._free.put(number)

    def put(self, images: np.ndarray, widths: np.ndarray, tokens: np.ndarray) -> None:
        number = self._free.get()
        self._view(number, images.shape)[:] = images
        self._filled.put((number, images.shape, widths, tokens))

    def move_to(self, pool: Pool, wait: bool) -> bool:
        """Copy one group into ``pool``; False when none is ready."""
        try:
            number, shape, widths, tokens = self._filled.get(wait, timeout=300)
        except queue.Empty:
            return False
        pool.add(self._view(number, shape), widths, tokens)
        self._free.put(number)
        return True

    def waiting(self) -> int:
        return self._filled.qsize()

    def _view(self, number: int, shape: tuple[int, ...]) -> np.ndarray:
        start = number * self.SIZE
        return self._memory[start : start + math.prod(shape)].reshape(shape)


def compose(make: SourceMaker, data: str, seed: int, out: Slots) -> None:
    """Endless work of one process: groups of framed lines and their tokens."""
    torch.set_num_threads(1)
    os.nice(5)
    source = make(data, "train", seed)
    rng = random.Random(seed)
    waiting: dict[tuple[int, int], list[tuple[np.ndarray, list[int]]]] = {}
    while True:
        if rng.random() < EMPTY_SHARE:
            image, tokens = empty(rng), []
        else:
            sample = source.sample()
            image, tokens = sample.image, tokenise(sample.label)
        if len(tokens) + 2 > MAX_TOKENS:
            continue
        line = framed(image, rng)
        size = (line.shape[0], padded_width(line.shape[1]))
        lines = waiting.setdefault(size, [])
        lines.append((line, tokens))
        if len(lines) == GROUP:
            out.put(*packed(lines, size))
            waiting[size] = []


def packed(
    lines: list[tuple[np.ndarray, list[int]]], size: tuple[int, int]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Arrays of a ``Group``: images padded with their own paper, tokens with start and end."""
    images = np.empty((len(lines), *size), np.uint8)
    widths = np.empty(len(lines), np.int16)
    tokens = np.full((len(lines), max(len(t) for _, t in lines) + 2), PAD, np.int16)
    for number, (line, ids) in enumerate(lines):
        width = line.shape[1]
        images[number] = np.percentile(line, 95)
        images[number, :, :width] = line
        widths[number] = width
        tokens[number, : len(ids) + 2] = [START, *ids, END]
    return images, widths, tokens


def padded_width(width: int) -> int:
    return next(w for w in WIDTHS if w >= width)


class Check(NamedTuple):
    """Evaluation lines of one height: the set that each is of, and the lines."""

    names: list[str]
    arrays: tuple[np.ndarray, np.ndarray, np.ndarray]


def validation_lines(names: tuple[str, ...], count: int, data: str) -> list[Check]:
    """``count`` lines of each named evaluation set, cut as at run time, gathered by height."""
    from scanner.training.lines import evaluation_set

    by_height: dict[int, list[tuple[str, np.ndarray, list[int]]]] = {}
    for name in names:
        for sample in evaluation_set(name, count, VALIDATION_SEED, data):
            line = scaled(trimmed(sample.image))
            by_height.setdefault(len(line), []).append((name, line, tokenise(sample.label)))
    checks = []
    for height, lines in by_height.items():
        width = padded_width(max(line.shape[1] for _, line, _ in lines))
        arrays = packed([(line, tokens) for _, line, tokens in lines], (height, width))
        checks.append(Check([name for name, _, _ in lines], arrays))
    return checks


def token_loss(
    model: torch.nn.Module, images: Tensor, widths: Tensor, tokens: Tensor
) -> tuple[Tensor, Tensor]:
    """Losses of the decoder and of the columns.

    The first is the cross-entropy of each next token, some of those fed in replaced at random;
    the second the connectionist temporal classification of lines without stacked fractions,
    whose tokens stand from left to right.
    """
    fed, wanted = tokens[:, :-1], tokens[:, 1:]
    noise = torch.rand(fed.shape, device=fed.device) < TOKEN_NOISE
    noise[:, 0] = False
    strangers = torch.randint(END + 1, len(TOKENS), fed.shape, device=fed.device)
    scores, columns = model(images, widths, torch.where(noise, strangers, fed))
    following = F.cross_entropy(
        scores.float().flatten(0, 1),
        wanted.flatten(),
        ignore_index=PAD,
        label_smoothing=LABEL_SMOOTHING,
    )
    return following, column_loss(columns.float(), widths, wanted)


def column_loss(columns: Tensor, widths: Tensor, wanted: Tensor) -> Tensor:
    lengths = ((wanted != PAD) & (wanted != END)).sum(1)
    places = -(-widths // COLUMN_STRIDE)
    per_line = F.ctc_loss(
        columns.log_softmax(-1).transpose(0, 1),
        wanted,
        places,
        lengths,
        blank=PAD,
        reduction="none",
        zero_infinity=True,
    )
    straight = ~has_fraction(wanted)
    return (per_line * straight).sum() / (lengths * straight).sum().clamp(min=1)


@torch.no_grad()
def greedy(model: LineModel, images: Tensor, widths: Tensor, longest: int) -> Tensor:
    """The likeliest tokens (line, token), taken one by one."""
    cells, mask = model.encode(images, widths)
    tokens = torch.full((len(images), 1), START, device=images.device)
    for _ in range(longest):
        x = model.embed(tokens) + model.token_places[: tokens.shape[1]]
        for layer in model.decoder:
            x = layer(x, cells, mask)
        following = model.symbol_scores(x[:, -1]).argmax(-1)
        following[(tokens == END).any(1)] = PAD
        tokens = torch.cat((tokens, following[:, None]), 1)
        if bool((tokens == END).any(1).all()):
            break
    return F.pad(tokens, (0, max(0, longest + 1 - tokens.shape[1])))


def validate(model: LineModel, checks: list[Check], device: torch.device) -> str:
    """Share of lines read exactly, by set, after degradation at full strength."""
    right: dict[str, list[int]] = {}
    generator = torch.Generator(device).manual_seed(VALIDATION_SEED)
    for check in checks:
        images, widths, tokens = (torch.from_numpy(a).to(device) for a in check.arrays)
        widths, tokens = widths.long(), tokens.long()
        spoilt = degrade(images, widths, has_fraction(tokens), generator)
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            found = greedy(model, spoilt, widths, tokens.shape[1])
        same = (found[:, : tokens.shape[1]] == tokens).all(1)
        for name, exact in zip(check.names, same.tolist(), strict=True):
            right.setdefault(name, []).append(exact)
    return " ".join(f"{name} {100 * sum(r) / len(r):.1f}" for name, r in right.items())


def has_fraction(tokens: Tensor) -> Tensor:
    return (tokens == TOKEN_IDS[FRACTION]).any(1)


def learning_rate(share: float, step: int) -> float:
    """Rate after ``share`` of the run: half a cosine to zero, rising over the first steps."""
    return PEAK_RATE * min(1.0, (step + 1) / WARM_UP) * 0.5 * (1 + math.cos(math.pi * share))


def run(rank: int, ranks: int, plan: Plan, make: SourceMaker) -> None:
    """One process of training; with several, each has its own GPU and composing processes."""
    fork = multiprocessing.get_context("fork")
    slots = Slots(96)
    sets = fork.Queue()
    first = plan.seed * 100_000 + rank * 1_000
    composers = [
        fork.Process(target=compose, args=(make, plan.data, first + number, slots), daemon=True)
        for number in range(plan.workers)
    ]
    for process in composers:
        process.start()
    if rank == 0 and plan.validation_sets:
        fork.Process(
            target=_put_validation, args=(plan.validation_sets, plan.data, sets), daemon=True
        ).start()
    cuda = torch.cuda.is_available()
    device = torch.device("cuda", rank) if cuda else torch.device("cpu")
    if cuda:
        torch.cuda.set_device(device)
        torch.backends.cuda.matmul.allow_tf32 = True
        torch.backends.cudnn.allow_tf32 = True
        torch.backends.cuda.enable_cudnn_sdp(False)  # it compiles anew for every length
    if ranks > 1:
        os.environ.setdefault("MASTER_ADDR", "127.0.0.1")
        os.environ.setdefault("MASTER_PORT", "29511")
        dist.init_process_group("nccl" if cuda else "gloo", rank=rank, world_size=ranks)
    torch.manual_seed(plan.seed * 100 + rank)
    model = LineModel(plan.size)
    if plan.start == "shipped":
        load_weights(model)
    elif plan.start:
        model.load_state_dict(
            torch.load(plan.start, map_location="cpu", weights_only=True)["weights"]
        )
    model.to(device)
    model.grid.to(memory_format=torch.channels_last)
    averaged = copy.deepcopy(model).eval().requires_grad_(False)
    trained = (
        torch.nn.parallel.DistributedDataParallel(
            model, [rank] if cuda else None, broadcast_buffers=False
        )
        if ranks > 1
        else model
    )
    averaged_tensors, model_tensors = (
        [t for t in m.state_dict().values() if t.is_floating_point()] for m in (averaged, model)
    )
    matrices = [p for p in model.parameters() if p.ndim >= 2]
    vectors = [p for p in model.parameters() if p.ndim < 2]
    optimizer = torch.optim.AdamW(
        [{"params": matrices, "weight_decay": WEIGHT_DECAY}, {"params": vectors}],
        lr=PEAK_RATE,
        betas=(0.9, 0.98),
        weight_decay=0.0,
        fused=cuda,
    )
    pool = Pool(device, int(plan.pool_gigabytes * 1e9), plan.seed + rank)
    while pool.added < plan.first_lines:
        slots.move_to(pool, wait=True)
    out = Path(plan.out)
    out.mkdir(parents=True, exist_ok=True)
    began = last_said = last_checked = time.monotonic()
    checks: list[Check] = []
    seen = step = 0
    share = 0.0
    losses = torch.zeros(2, device=device)
    said_step = said_seen = 0
    while True:
        if step % 10 == 0:
            share = _agreed((time.monotonic() - began) / (plan.minutes * 60), ranks, device)
            if share >= 1:
                break
            for group in optimizer.param_groups:
                group["lr"] = learning_rate(share, step)
        for _ in range(16):
            if not slots.move_to(pool, wait=False):
                break
        images, widths, tokens = pool.draw(plan.batch_pixels)
        trained.train()
        strength = min(1.0, 0.3 + 0.7 * share / SOFT_START)
        with torch.no_grad():
            spoilt = degrade(images, widths, has_fraction(tokens), strength=strength)
        with torch.autocast(device.type, torch.bfloat16, enabled=cuda):
            loss, column = token_loss(trained, spoilt, widths, tokens)
        optimizer.zero_grad(set_to_none=True)
        (loss + COLUMN_WEIGHT * column).backward()
        torch.nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimizer.step()
        step += 1
        seen += len(images)
        losses += torch.stack((loss.detach(), column.detach()))
        keep = min(EMA, (1 + step) / (10 + step))
        with torch.no_grad():
            torch._foreach_lerp_(averaged_tensors, model_tensors, 1.0 - keep)
        if rank:
            continue
        now = time.monotonic()
        if now - last_said > 10 or step == 20:
            mean, column_mean = (losses / (step - said_step)).tolist()
            print(
                f"{now - began:6.0f} s step {step} loss {mean:.4f} columns {column_mean:.4f} "
                f"drawn {(seen - said_seen) / (now - last_said):.0f}/s "
                f"composed {pool.added} ({pool.added / (now - began):.0f}/s) "
                f"pool {pool.used / 1e9:.1f} GB waiting {slots.waiting()} seen {seen} "
                f"composers {sum(process.is_alive() for process in composers)}",
                flush=True,
            )
            losses.zero_()
            last_said, said_step, said_seen = now, step, seen
        if now - last_checked > plan.validate_every:
            while not sets.empty():
                checks.extend(sets.get())
            if checks:
                print(
                    f"{now - began:6.0f} s exact: {validate(averaged, checks, device)}",
                    flush=True,
                )
            _save(averaged, plan.size, out / "checkpoint.pt")
            last_checked = time.monotonic()
    if rank == 0:
        while not sets.empty():
            checks.extend(sets.get())
        _save(averaged, plan.size, out / "checkpoint.pt")
        if checks:
            print(f"   end exact: {validate(averaged, checks, device)}", flush=True)
        print(f"done after {step} steps, {seen} lines drawn on one device", flush=True)
    if ranks > 1:
        dist.destroy_process_group()


def _put_validation(names: tuple[str, ...], data: str, out: multiprocessing.Queue) -> None:
    torch.set_num_threads(1)
    out.put(validation_lines(names, VALIDATION_LINES, data))


def _agreed(value: float, ranks: int, device: torch.device) -> float:
    """The first process's value, in all of them."""
    if ranks == 1:
        return value
    shared = torch.tensor(value, device=device)
    dist.broadcast(shared, 0)
    return shared.item()


def _save(model: LineModel, size: Size, path: Path) -> None:
    partial = path.with_suffix(".partial")
    weights = {name: tensor.cpu() for name, tensor in model.state_dict().items()}
    torch.save({"weights": weights, "size": asdict(size)}, partial)
    partial.replace(path)


def train(plan: Plan, make: SourceMaker, processes: int = 0) -> None:
    """Train on every GPU of this machine, or on the CPU where there is none."""
    processes = processes or torch.cuda.device_count()
    if processes > 1:
        torch.multiprocessing.spawn(run, (processes, plan, make), nprocs=processes)
    else:
        run(0, 1, plan, make)


def main() -> None:
    from scanner.training.lines import LineSource

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", required=True, help="folder of prepared ink and typefaces")
    parser.add_argument("--out", required=True, help="folder for checkpoint.pt")
    parser.add_argument("--minutes", type=float, required=True)
    parser.add_argument("--start", default="", help="'shipped' or a checkpoint; else from nothing")
    parser.add_argument("--workers", type=int, default=2, help="composing processes a GPU")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--validate", default="", help="evaluation sets, separated by commas")
    parser.add_argument("--size", choices=SIZES, default="full", help="smaller ones suit a CPU")
    options = parser.parse_args()
    modest = {"batch_pixels": 32 * 64 * 640, "first_lines": GROUP * 16}
    plan = Plan(
        data=options.data,
        out=options.out,
        minutes=options.minutes,
        workers=options.workers,
        start=options.start,
        seed=options.seed,
        validation_sets=tuple(filter(None, options.validate.split(","))),
        size=SIZES[options.size],
        **({} if torch.cuda.is_available() else modest),
    )
    train(plan, LineSource)


if __name__ == "__main__":
    main()
