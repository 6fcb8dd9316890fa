"""Scripts of one worksheet by several writers, photographed, with the truth of each.

``python -m tests.ui.stack_sheets --seed 3 --count 12 --out FOLDER`` writes FOLDER/*.jpg with a
JSON file of the truth beside each; the same seed gives the same stack, and the first scripts of
a longer stack are those of a shorter one.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.sheets.learner import someone
from tests.sheets.make import answer_sheet, compose_sheet, photograph, some_pen
from tests.sheets.photo import LEVELS, Level, conditions


def make_stack(
    seed: int,
    count: int,
    level: Level | None = None,
    ink: Path | None = None,
    megapixels: float | None = None,
) -> Iterator[tuple[str, bytes, dict]]:
    """(name, JPEG bytes, truth) of each script; ``megapixels`` sets the size of all photos."""
    sheet = compose_sheet(np.random.default_rng(seed))
    for index in range(count):
        rng = np.random.default_rng((seed, index))
        learner = someone(rng, sheet.style, sheet.roomy)
        answers = answer_sheet(sheet, learner, rng)
        pen = some_pen(rng, ink)
        how = conditions(level or LEVELS[int(rng.choice(4, p=[0.2, 0.35, 0.3, 0.15]))], rng)
        if megapixels is not None:
            how = replace(how, megapixels=megapixels)
        jpeg, truth = photograph(sheet, learner, answers, pen, how, rng)
        name = f"script-{index + 1:03}.jpg"
        yield name, jpeg, {"photo": name, **truth}


def write_stack(scripts: Iterator[tuple[str, bytes, dict]], folder: Path) -> list[Path]:
    """Write photos and truths; returns the paths of the photos."""
    folder.mkdir(parents=True, exist_ok=True)
    photos = []
    for name, jpeg, truth in scripts:
        photos.append(folder / name)
        photos[-1].write_bytes(jpeg)
        text = json.dumps(truth, ensure_ascii=False, indent=1)
        photos[-1].with_suffix(".json").write_text(text, encoding="utf-8")
    return photos


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.ui.stack_sheets", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10, help="how many scripts")
    parser.add_argument("--out", type=Path, required=True, help="folder to write to")
    parser.add_argument("--level", choices=LEVELS, help="all photos at this level")
    parser.add_argument("--ink", type=Path, help="folder of real pen strokes")
    parser.add_argument("--megapixels", type=float, help="size of all photos")
    chosen = parser.parse_args(arguments)
    scripts = make_stack(chosen.seed, chosen.count, chosen.level, chosen.ink, chosen.megapixels)
    for path in write_stack(scripts, chosen.out):
        print(path.name)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
