"""Makes fresh sheets, checks them, and says how often the checks are right and how long they take.

``python -m tests.sheets.benchmark --seed 100 --count 40 [--ink FOLDER]`` prints a table beside the
time of one default Tesseract pass over the same photos, and keeps the worst sheets to look at.
``--perfect-reading`` puts the truth's own lines in the scanner's place, so that understanding and
judging are measured alone.
"""

from __future__ import annotations

import argparse
import io
import json
import multiprocessing
import resource
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytesseract
from PIL import Image, ImageOps

from parser.assemble import worksheet_from_text
from scanner.reader import LineReader
from ui import document
from ui.check import check_files, check_page
from ui.checked import CheckedSheets

from .make import make_book, make_one
from .perfect_page import perfect_page
from .photo import LEVELS
from .score import Score, score_sheet, table


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.sheets.benchmark", description=__doc__)
    parser.add_argument("--seed", type=int, default=1000, help="first seed")
    parser.add_argument("--count", type=int, default=10, help="how many sheets")
    parser.add_argument("--level", choices=LEVELS, help="all photos at this level")
    parser.add_argument("--ink", type=Path, help="folder of real pen strokes")
    parser.add_argument("--keep", type=Path, help="folder for the worst sheets")
    parser.add_argument("--worst", type=int, default=5, help="how many to keep")
    parser.add_argument("--no-tesseract", action="store_true", help="leave out the time beside it")
    parser.add_argument("--perfect-reading", action="store_true", help="leave the scanner out")
    parser.add_argument("--book", action="store_true", help="answers in an exercise book")
    options = parser.parse_args(arguments)

    make = make_book if options.book else make_one
    reader = None if options.perfect_reading else LineReader.load()
    total, by_level = Score(), {level: Score() for level in LEVELS}
    done: list[tuple[int, str, bytes, dict, dict]] = []
    ours, theirs = 0.0, 0.0
    # Sheets are made in a process of their own, so that the memory told is that of the checks.
    fresh = multiprocessing.get_context("spawn")
    with (
        tempfile.TemporaryDirectory() as folder,
        ProcessPoolExecutor(1, mp_context=fresh) as maker,
    ):
        for index in range(options.count):
            ordered = maker.submit(make, options.seed + index, options.level, options.ink)
            jpeg, truth = ordered.result()
            photo = Path(folder) / f"sheet-{options.seed + index:05d}.jpg"
            photo.write_bytes(jpeg)
            truth["photo"] = photo.name
            start = time.perf_counter()
            typed = worksheet_from_text(truth["typed"]) if options.book else None
            if reader is None:
                checked = CheckedSheets((check_page(perfect_page(truth), typed),))
            else:
                checked = check_files([photo], typed, reader=reader)
            seconds = time.perf_counter() - start
            ours += seconds
            if reader is not None and not options.no_tesseract:
                theirs += _tesseract_seconds(jpeg)
            for failure in checked.failures:
                print(f"{failure.name}: {failure.message}", file=sys.stderr)
            found = json.loads(document.as_json(checked.sheets))
            sheet = found["sheets"][0] if found["sheets"] else {"questions": []}
            score = score_sheet(sheet, truth)
            by_level[truth["level"]] += score
            total += score
            done.append((score.trouble, photo.stem, jpeg, truth, found))
            print(f"{photo.name} {truth['level']:5} {seconds:5.1f} s  trouble {score.trouble}",
                  file=sys.stderr)  # fmt: skip
    print(table(total))
    print()
    for level, score in by_level.items():
        if score.answers_exact.of:
            print(
                f"{level:6} answers exact {score.answers_exact.good} of {score.answers_exact.of}, "
                f"verdicts right {score.verdict_right.good} of {score.verdict_right.of}"
            )
    print(f"\nseconds a sheet: {ours / options.count:.2f}")
    if theirs:
        print(
            f"one default Tesseract pass: {theirs / options.count:.2f} s; ratio {ours / theirs:.2f}"
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of the checks, without Tesseract's own: {peak:.0f} MiB\n")
    print("\n".join(total.misses))
    if options.keep:
        _keep(options.keep, sorted(done, key=lambda d: -d[0])[: options.worst])
    return 0


def _tesseract_seconds(jpeg: bytes) -> float:
    image = ImageOps.exif_transpose(Image.open(io.BytesIO(jpeg))).convert("RGB")
    start = time.perf_counter()
    pytesseract.image_to_string(image)
    return time.perf_counter() - start


def _keep(folder: Path, worst: list[tuple[int, str, bytes, dict, dict]]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for _, name, jpeg, truth, found in worst:
        (folder / f"{name}.jpg").write_bytes(jpeg)
        for kind, content in (("truth", truth), ("findings", found)):
            text = json.dumps(content, ensure_ascii=False, indent=1)
            (folder / f"{name}.{kind}.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    raise SystemExit(main())
