"""Measure the line reader beside two general readers, on the same lines, in the same run.

    python -m scanner.training.evaluate [--readers ours,tesseract,peer] [--mistakes FILE.png]
    python -m scanner.training.evaluate --calibrate

Lines come from writers and typefaces that training never saw and are spoilt like
photos (``degrade``) at the strength used in training; ``--clean`` leaves them as
they are. The reader ``peer`` needs ``--peer PYTHON``, a Python with ``rapidocr`` in
an environment of its own. ``--calibrate`` fits the probabilities on lines of
another seed and writes ``calibration.json`` beside the weights.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from zlib import crc32

import numpy as np
import torch
from PIL import Image, ImageDraw, ImageFont

from scanner.page import Candidate, Reading
from scanner.reader.notation import FRACTION, flatten, normalise
from scanner.reader.reader import (
    CALIBRATION_FILE,
    WEIGHTS_FOLDER,
    Calibration,
    LineReader,
    evidence,
    is_blank,
)
from scanner.training.degrade import degrade
from scanner.training.lines import DATA_FOLDER, EVALUATION_SETS, LineSample, evaluation_set

CALIBRATION_SEED = 9001
BATCH = 20  # lines handed over at once, as many as a sheet may hold
TALLEST = 96  # pixels; a line on a flattened page
BINS = 15  # of equal count, for the expected calibration error


@dataclass(frozen=True)
class Scores:
    """Figures of one reader on one set; shares from 0 to 1."""

    exact: float
    flattened: float
    characters: float
    calibration_error: float
    surest: float
    milliseconds: float

    def row(self) -> str:
        return (
            f"{100 * self.exact:7.1f}{100 * self.flattened:10.1f}{100 * self.characters:8.2f}"
            f"{self.calibration_error:8.3f}{100 * self.surest:9.1f}{self.milliseconds:8.1f}"
        )


HEADING = "set              reader       exact flattened  char %     ECE surest 85      ms"


def photographed(sample: LineSample, seed: int, clean: bool = False) -> np.ndarray:
    """The sample's picture after what a photo does to it, uint8 (height, width)."""
    if clean:
        return sample.image
    line = sample.image
    if len(line) > TALLEST:
        width = round(line.shape[1] * TALLEST / len(line))
        line = np.asarray(Image.fromarray(line).resize((width, TALLEST)))
    width = line.shape[1]
    height = len(line)
    padded = np.pad(
        line,
        ((0, -height % 8), (0, -width % 8)),
        constant_values=int(np.percentile(line, 95)),
    )
    spoilt = degrade(
        torch.from_numpy(padded)[None],
        torch.tensor([width]),
        torch.tensor([FRACTION in sample.label]),
        torch.Generator().manual_seed(seed),
    )
    return spoilt[0, :height, :width].numpy().astype(np.uint8)


def prepared(name: str, count: int, seed: int, clean: bool) -> tuple[list[np.ndarray], list[str]]:
    """Pictures and labels of one evaluation set."""
    samples = evaluation_set(name, count, seed)
    start = crc32(f"{name} {seed}".encode())
    pictures = [photographed(sample, start + n, clean) for n, sample in enumerate(samples)]
    return pictures, [sample.label for sample in samples]


def read_ours(reader: LineReader, pictures: list[np.ndarray]) -> tuple[list[Reading], float]:
    reader.read(pictures[:2])
    start = time.perf_counter()
    readings = []
    for first in range(0, len(pictures), BATCH):
        readings += reader.read(pictures[first : first + BATCH])
    return readings, (time.perf_counter() - start) / len(pictures) * 1e3


def read_tesseract(pictures: list[np.ndarray]) -> tuple[list[Reading], float]:
    import pytesseract

    start = time.perf_counter()
    readings = []
    for picture in pictures:
        words = pytesseract.image_to_data(
            Image.fromarray(np.pad(picture, 10, mode="edge")),
            config="--psm 7",
            output_type=pytesseract.Output.DICT,
        )
        found = [(w, float(c)) for w, c in zip(words["text"], words["conf"], strict=True) if w]
        text = normalise(" ".join(word for word, _ in found))
        chance = float(np.mean([c for _, c in found])) / 100 if found else 0.0
        readings.append(Reading((Candidate(text, chance),)))
    return readings, (time.perf_counter() - start) / len(pictures) * 1e3


def read_peer(python: str, pictures: list[np.ndarray]) -> tuple[list[Reading], float]:
    with tempfile.TemporaryDirectory() as folder:
        stored = Path(folder) / "lines.npz"
        np.savez(stored, **{f"{n:05d}": picture for n, picture in enumerate(pictures)})
        script = Path(__file__).with_name("peer.py")
        done = subprocess.run(
            [python, str(script), str(stored)], capture_output=True, text=True, check=True
        )
    answer = json.loads(done.stdout.splitlines()[-1])
    readings = [
        Reading((Candidate(normalise(text), float(score)),))
        for text, score in zip(answer["texts"], answer["scores"], strict=True)
    ]
    return readings, answer["milliseconds"]


def scores(readings: Sequence[Reading], labels: Sequence[str], milliseconds: float) -> Scores:
    right = np.array([r.text == label for r, label in zip(readings, labels, strict=True)])
    bare = [(plain(r.text), plain(label)) for r, label in zip(readings, labels, strict=True)]
    chances = np.array([reading.confidence for reading in readings])
    surest = np.argsort(-chances, kind="stable")[: round(0.85 * len(right))]
    return Scores(
        exact=float(right.mean()),
        flattened=float(np.mean([a == b for a, b in bare])),
        characters=sum(edits(a, b) for a, b in bare) / max(1, sum(len(b) for _, b in bare)),
        calibration_error=calibration_error(chances, right),
        surest=float(right[surest].mean()),
        milliseconds=milliseconds,
    )


def plain(text: str) -> str:
    """Without raised and lowered marks and without spaces."""
    return flatten(text).replace(" ", "")


def edits(a: str, b: str) -> int:
    """Least number of characters to insert, delete or replace to turn ``a`` into ``b``."""
    row = list(range(len(b) + 1))
    for i, left in enumerate(a, 1):
        before, row[0] = row[0], i
        for j, right in enumerate(b, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (left != right))
    return row[-1]


def calibration_error(chances: np.ndarray, right: np.ndarray) -> float:
    """Mean gap between stated and true chance over bins of equal count."""
    order = np.argsort(chances, kind="stable")
    gaps = [
        len(part) * abs(chances[part].mean() - right[part].mean())
        for part in np.array_split(order, BINS)
        if len(part)
    ]
    return float(sum(gaps) / len(chances))


def calibrate(reader: LineReader, names: Sequence[str], count: int) -> Calibration:
    """Fit the chances on lines that the figures are not taken from."""
    features: list[tuple[float, ...]] = []
    hits: list[bool] = []
    second_right, first_wrong = 0, 0
    for name in names:
        for clean in (False, True):
            pictures, labels = prepared(name, count, CALIBRATION_SEED + clean, clean)
            written = [
                (p, label) for p, label in zip(pictures, labels, strict=True) if not is_blank(p)
            ]
            for first in range(0, len(written), BATCH):
                batch = written[first : first + BATCH]
                found = reader.hypotheses([picture for picture, _ in batch])
                for hypotheses, (_, label) in zip(found, batch, strict=True):
                    features.append(evidence(hypotheses))
                    hits.append(hypotheses[0].text == label)
                    if not hits[-1] and len(hypotheses) > 1:
                        first_wrong += 1
                        second_right += label in [h.text for h in hypotheses[1:]]
    return Calibration(
        weights=logistic(features, hits),
        others=second_right / max(1, first_wrong),
        blank=Calibration().blank,
    )


def logistic(features: list[tuple[float, ...]], hits: list[bool]) -> tuple[float, ...]:
    """Weights of a logistic regression by Newton's method, with a slight pull to zero."""
    x, y = np.array(features, np.float64), np.array(hits, np.float64)
    weights = np.zeros(x.shape[1])
    pull = 1e-3 * np.eye(x.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-x @ weights))
        slope = x.T @ (chance - y) + pull @ weights
        curve = (x * (chance * (1 - chance))[:, None]).T @ x + pull
        weights = weights - np.linalg.solve(curve, slope)
    return tuple(round(float(w), 4) for w in weights)


def mistakes_sheet(mistakes: list[tuple[str, np.ndarray, str, Reading]], columns: int = 2):
    """Pictures of wrong readings with label and reading, the most confident ones first."""
    typefaces = sorted((DATA_FOLDER / "fonts").glob("dejavusans__*"))
    font = ImageFont.truetype(str(typefaces[0]), 14)
    width, height = 720, 118
    shown = sorted(mistakes, key=lambda m: -m[3].confidence)[:60]
    rows = -(-len(shown) // columns)
    sheet = Image.new("L", (columns * width, rows * height), 255)
    canvas = ImageDraw.Draw(sheet)
    for number, (name, picture, label, reading) in enumerate(shown):
        x, y = number % columns * width, number // columns * height
        image = Image.fromarray(picture)
        image.thumbnail((width - 10, 76))
        sheet.paste(image, (x, y))
        canvas.text((x, y + 78), f"{label}   [{name}]", 0, font=font)
        text = f"{reading.text}   {reading.confidence:.2f}"
        canvas.text((x, y + 96), text, 90, font=font)
    return sheet


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sets", default=",".join(EVALUATION_SETS), help="separated by commas")
    parser.add_argument("--count", type=int, default=300, help="lines a set")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--clean", action="store_true", help="leave the lines unspoilt")
    parser.add_argument("--weights", type=Path, default=WEIGHTS_FOLDER)
    parser.add_argument("--peer", metavar="PYTHON", help="a Python that has rapidocr")
    parser.add_argument("--readers", default="ours", help="of ours, tesseract (slow), peer")
    parser.add_argument("--mistakes", type=Path, help="draw the worst mistakes to this file")
    parser.add_argument("--calibrate", action="store_true", help="fit the probabilities instead")
    options = parser.parse_args()
    names = options.sets.split(",")
    if options.calibrate:
        composed = [name for name in names if not name.startswith("real-")]
        fitted = calibrate(LineReader.load(folder=options.weights), composed, options.count)
        target = options.weights / CALIBRATION_FILE
        target.write_text(json.dumps(asdict(fitted), indent=1) + "\n", encoding="utf-8")
        print(target.read_text(encoding="utf-8"))
        return
    readers: dict[str, Callable] = {}
    for title in options.readers.split(","):
        if title == "ours":
            readers[title] = partial(read_ours, LineReader.load(folder=options.weights))
        elif title == "tesseract":
            readers[title] = read_tesseract
        elif title == "peer" and options.peer:
            readers[title] = partial(read_peer, options.peer)
        else:
            parser.error(f"no reader {title!r}; peer needs --peer PYTHON")
    mistakes = []
    print(HEADING)
    for name in names:
        pictures, labels = prepared(name, options.count, options.seed, options.clean)
        for title, read in readers.items():
            readings, milliseconds = read(pictures)
            print(f"{name:17}{title:10}", scores(readings, labels, milliseconds).row(), flush=True)
            if title == "ours":
                mistakes += [
                    (name, picture, label, reading)
                    for picture, label, reading in zip(pictures, labels, readings, strict=True)
                    if reading.text != label
                ]
    if options.mistakes:
        mistakes_sheet(mistakes).save(options.mistakes)


if __name__ == "__main__":
    main()
