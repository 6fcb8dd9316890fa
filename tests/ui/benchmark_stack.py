"""How fast, how small and how safe a stack runs, and how well it is read.

``python -m tests.ui.benchmark_stack --count 40 --megapixels 12 [--kills 20] [--ink FOLDER]`` makes
scripts of one worksheet by as many writers and prints: wall seconds a script with one worker and
two, beside one default Tesseract pass over the same photos and beside what two processes can do
on this machine at that moment; processor seconds and memory of all processes; whether runs killed
at random moments and run again come to the same results; and, unless ``--plain-reader`` is given,
the score of the findings against the truth, read from the shared print and page by page.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import random
import re
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytesseract
from PIL import Image, ImageOps

from tests.sheets.score import Score, score_sheet, table
from tests.ui.fixed_reader import load_plain_reader
from tests.ui.stack_sheets import make_stack, write_stack
from ui import batch
from ui.records import Records
from ui.workers import LocalWorkers

NAME = "benchmark"
_TESSERACT_SAMPLE = 6  # photos; one pass takes seconds


@dataclass(frozen=True)
class _Run:
    """Wall and processor seconds, and the most memory (MiB, shared pages counted once)."""

    wall: float
    processor: float
    memory: float


def main(arguments: list[str] | None = None) -> int:
    chosen = _arguments().parse_args(arguments)
    if chosen.child is not None:
        return _child(chosen)
    with tempfile.TemporaryDirectory() as folder:
        _benchmark(chosen, Path(folder))
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.ui.benchmark_stack", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10, help="scripts")
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--ink", type=Path, help="folder of real pen strokes")
    parser.add_argument("--turns", type=int, default=1, help="times that speed is measured")
    parser.add_argument("--kills", type=int, default=0, help="runs to kill and resume")
    parser.add_argument("--plain-reader", action="store_true", help="leave the reading out")
    parser.add_argument("--child", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--photos", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--workers", type=int, default=2, help=argparse.SUPPRESS)
    parser.add_argument("--page-by-page", action="store_true", help=argparse.SUPPRESS)
    return parser


def _child(chosen: argparse.Namespace) -> int:
    """One run, in a process of its own."""
    if chosen.page_by_page:
        batch.LEAST_FOR_BLANK = 10**9
    records = Records.open(chosen.child)
    load = load_plain_reader if chosen.plain_reader else batch.load_line_reader
    stack = records.stack_or_new(NAME)
    workers = LocalWorkers(chosen.workers)
    batch.run_stack(records, stack, [chosen.photos], workers=workers, load_reader=load)
    return 0


def _benchmark(chosen: argparse.Namespace, folder: Path) -> None:
    photos = folder / "photos"
    scripts = make_stack(chosen.seed, chosen.count, ink=chosen.ink, megapixels=chosen.megapixels)
    paths = write_stack(scripts, photos)
    theirs = _tesseract_seconds(paths[:_TESSERACT_SAMPLE])
    print(f"one default Tesseract pass: {theirs:.2f} s a photo")
    runs: dict[int, list[_Run]] = {1: [], 2: []}
    ceilings = [_ceiling()]
    for turn in range(chosen.turns):
        for workers in (1, 2):
            run = _run(chosen, folder / f"workers-{workers}-{turn}", photos, workers)
            runs[workers].append(run)
            each = run.wall / len(paths)
            print(
                f"{workers} workers: {run.wall:.1f} s, {each:.2f} s a script, "
                f"{each / theirs:.2f} of the Tesseract pass; {run.processor:.1f} processor "
                f"seconds, {run.memory:.0f} MiB in all"
            )
        ceilings.append(_ceiling())
    one, two = (min(runs[workers], key=lambda run: run.wall) for workers in (1, 2))
    print(
        f"two workers are {one.wall / two.wall:.2f} times one (best of {chosen.turns}); two "
        f"processes of nothing but work are {min(ceilings):.2f} to {max(ceilings):.2f} times one "
        f"on this machine now"
    )
    undisturbed = _results(folder / "workers-1-0")
    print("one worker and two find the same:", undisturbed == _results(folder / "workers-2-0"))
    _kill_and_resume(chosen, folder, photos, two.wall, undisturbed)
    if not chosen.plain_reader:
        _print_scores(chosen, folder, photos)


def _tesseract_seconds(paths: list[Path]) -> float:
    spent = 0.0
    for path in paths:
        with Image.open(path) as opened:
            image = ImageOps.exif_transpose(opened).convert("RGB")
        started = time.perf_counter()
        pytesseract.image_to_string(image)
        spent += time.perf_counter() - started
    return spent / len(paths)


def _command(chosen: argparse.Namespace, data: Path, photos: Path, workers: int) -> list[str]:
    command = [sys.executable, "-m", "tests.ui.benchmark_stack", "--child", str(data)]
    command += ["--photos", str(photos), "--workers", str(workers)]
    return [*command, "--plain-reader"] if chosen.plain_reader else command


def _run(chosen: argparse.Namespace, data: Path, photos: Path, workers: int, *more: str) -> _Run:
    """One run in a process of its own."""
    spent = _processor_seconds()
    started = time.perf_counter()
    command = [*_command(chosen, data, photos, workers), *more]
    running = subprocess.Popen(command, start_new_session=True)
    most = [0.0]
    watch = threading.Thread(target=_watch_memory, args=(running, most), daemon=True)
    watch.start()
    if running.wait():
        raise RuntimeError(f"the run ended with status {running.returncode}")
    wall = time.perf_counter() - started
    return _Run(wall, _processor_seconds() - spent, most[0])


def _processor_seconds() -> float:
    """Of all processes that were started here and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _ceiling() -> float:
    """How much two processes do against one when there is nothing to share but the machine."""
    with multiprocessing.get_context("spawn").Pool(2) as pool:
        pool.map(_work, [0.1, 0.1], 1)  # both have started
        alone, together = pool.apply(_work, (3.0,)), pool.map(_work, [3.0, 3.0], 1)
    return sum(together) / alone


def _work(seconds: float) -> int:
    """Rounds of picture work done in so many seconds of wall time, on one thread."""
    cv2.setNumThreads(1)
    picture = np.random.default_rng(0).integers(0, 255, (1200, 900, 3), dtype=np.uint8)
    rounds = 0
    ends = time.perf_counter() + seconds
    while time.perf_counter() < ends:
        cv2.medianBlur(picture, 9)
        rounds += 1
    return rounds


def _watch_memory(running: subprocess.Popen, most: list[float]) -> None:
    while running.poll() is None:
        most[0] = max(most[0], _session_memory(running.pid))
        time.sleep(0.3)


def _session_memory(session: int) -> float:
    """Proportional memory (Pss) of all processes of a session, MiB."""
    total = 0
    for process in Path("/proc").iterdir():
        if not process.name.isdigit():
            continue
        try:
            if os.getsid(int(process.name)) != session:
                continue
            kept = re.search(r"^Pss:\s+(\d+)", (process / "smaps_rollup").read_text(), re.M)
        except OSError:
            continue
        total += int(kept[1]) if kept else 0
    return total / 1024


def _kill_and_resume(
    chosen: argparse.Namespace, folder: Path, photos: Path, wall: float, undisturbed: dict
) -> None:
    rng = random.Random(chosen.seed)
    same = 0
    for turn in range(chosen.kills):
        data = folder / f"killed-{turn}"
        moment = rng.uniform(0.05, 0.95) * wall
        running = subprocess.Popen(_command(chosen, data, photos, 2), start_new_session=True)
        try:
            running.wait(moment)
        except subprocess.TimeoutExpired:
            os.killpg(running.pid, signal.SIGKILL)
            running.wait()
        _run(chosen, data, photos, 2)
        same += _results(data) == undisturbed
        print(f"killed after {moment:.1f} s and resumed: {same} of {turn + 1} the same")


def _results(data: Path) -> dict[str, tuple[str | None, str]]:
    records = Records.open(data)
    found = {
        script.name: (script.worksheet, re.sub(r'"seconds": [\d.]+', "", script.findings or ""))
        for script in records.scripts(records.stack(NAME))
    }
    records.close()
    return found


def _print_scores(chosen: argparse.Namespace, folder: Path, photos: Path) -> None:
    print("\nread from the shared print:")
    print(table(_score(folder / "workers-1-0", photos)))
    _run(chosen, folder / "page-by-page", photos, 2, "--page-by-page")
    print("\nread page by page:")
    score = _score(folder / "page-by-page", photos)
    print(table(score))


def _score(data: Path, photos: Path) -> Score:
    total = Score()
    records = Records.open(data)
    for script in records.scripts(records.stack(NAME)):
        truth = json.loads((photos / f"{script.name}.json").read_text(encoding="utf-8"))
        (sheet,) = json.loads(script.findings or '{"sheets": [{"questions": []}]}')["sheets"]
        total += score_sheet(sheet, truth)
    records.close()
    return total


if __name__ == "__main__":
    raise SystemExit(main())
