"""Reads line images with the shipped recogniser, on the CPU.

A line is cut at its fraction bars into plain pieces; the pieces of all lines are read in batches
of like width; their likeliest readings are put together again in the notation.
"""

from __future__ import annotations

import heapq
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import onnxruntime

from scanner.errors import MissingPart
from scanner.page import Candidate, Reading
from scanner.reader.classes import to_text
from scanner.reader.ctc import likeliest
from scanner.reader.fractions import Parts, Piece, split
from scanner.reader.notation import CLOSE, FRACTION, FRACTION_BAR, normalise
from scanner.reader.piece_image import piece_image, trimmed

WEIGHTS_FOLDER = Path(__file__).parent
WEIGHTS_FILE, CALIBRATION_FILE = "recogniser.onnx", "calibration.json"

_BATCH_COLUMNS = 2400  # width of a batch's lines together: fast on two cores, modest in memory
_MOST_CANDIDATES = 5
_NOTHING_READ = 0.02  # chance that ink says nothing, though nothing could be made out of it
_HOPELESS = 7.0  # nats behind the best reading at which a candidate is dropped
# Nats by which a line read as if it had no bar must beat the line as cut. Between 0 and 4 held-out
# lines read alike to within 1 %, but a plain reading can pass over a small denominator.
_PLAIN_PENALTY = 4.0
_BLANK_CONTRAST = 5  # grey levels between paper and the darkest spot under which nothing is written

Texts = list[tuple[str, float]]  # texts and log-probabilities, likeliest first


@dataclass(frozen=True)
class Calibration:
    """A logistic map from what is known of a reading to the chance that it is exactly right.

    ``weights`` are for (1, log-probability, log-odds against the runner-up, fractions in the
    line). ``others`` is the chance that a later candidate is right when the first is wrong;
    ``blank`` the chance that an image without ink is truly empty.
    """

    weights: tuple[float, ...] = (0.0, 1.0, 0.0, 0.0)
    others: float = 0.4
    blank: float = 0.95

    @classmethod
    def load(cls, path: Path) -> Calibration:
        if not path.exists():
            return cls()
        stored = json.loads(path.read_text(encoding="utf-8"))
        return cls(tuple(stored["weights"]), stored["others"], stored["blank"])


class LineReader:
    """Reads lines of print and handwriting; make one with ``load`` and keep it."""

    def __init__(self, recogniser: onnxruntime.InferenceSession, calibration: Calibration):
        self._recogniser = recogniser
        self._input = recogniser.get_inputs()[0].name
        self._calibration = calibration

    @classmethod
    def load(cls, threads: int = 2, folder: Path = WEIGHTS_FOLDER) -> LineReader:
        """The reader with the weights in ``folder``.

        Raises:
            MissingPart: the weights file is not there or not readable.
        """
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.log_severity_level = 3
        path = folder / WEIGHTS_FILE
        if not path.is_file():
            raise MissingPart(
                f"The line reader's weights file {WEIGHTS_FILE} is missing. "
                "Fetch the project again with all its files."
            )
        try:
            session = onnxruntime.InferenceSession(
                path, options, providers=["CPUExecutionProvider"]
            )
        except Exception as error:
            raise MissingPart(
                f"The line reader's weights file {WEIGHTS_FILE} is damaged. "
                "Fetch the project again with all its files."
            ) from error
        return cls(session, Calibration.load(folder / CALIBRATION_FILE))

    def read(self, images: Iterable[np.ndarray]) -> list[Reading]:
        """Read each image.

        Args:
            images: uint8 grey arrays (height, width), dark ink on light paper, one line each, of
                any size.

        Returns:
            One ``Reading`` for each image, in order. Its first candidate is the reading, an empty
            string where nothing is written.
        """
        images = list(images)
        blank = Reading((Candidate("", self._calibration.blank),))
        written = [number for number, image in enumerate(images) if not is_blank(image)]
        found = self.hypotheses([images[number] for number in written])
        readings = dict(zip(written, found, strict=True))
        return [
            calibrated(readings[number], self._calibration) if number in readings else blank
            for number in range(len(images))
        ]

    def hypotheses(self, images: Sequence[np.ndarray]) -> list[Texts]:
        """Texts and raw log-probabilities of each image that holds ink, likeliest first."""
        whole = [Piece(trimmed(image)) for image in images]
        lines = [split(piece.image) for piece in whole]
        stacked = [len(line) > 1 or not isinstance(line[0], Piece) for line in lines]
        pieces = [
            piece
            for line, is_stacked, plain in zip(lines, stacked, whole, strict=True)
            for piece in ([*_pieces(line), plain] if is_stacked else _pieces(line))
        ]
        texts = {
            id(piece): found for piece, found in zip(pieces, self._read_pieces(pieces), strict=True)
        }
        return [
            _rivals(_joined(line, texts), texts[id(plain)]) if is_stacked else _joined(line, texts)
            for line, is_stacked, plain in zip(lines, stacked, whole, strict=True)
        ]

    def _read_pieces(self, pieces: list[Piece]) -> list[Texts]:
        prepared = [piece_image(piece.image) for piece in pieces]
        by_width: dict[int, list[int]] = defaultdict(list)
        for number, image in enumerate(prepared):
            by_width[image.shape[1]].append(number)
        found: dict[int, Texts] = {}
        for width, numbers in by_width.items():
            most = max(1, _BATCH_COLUMNS // width)
            for start in range(0, len(numbers), most):
                batch = numbers[start : start + most]
                scores = self._scores(np.stack([prepared[number] for number in batch]))
                for number, frames in zip(batch, scores, strict=True):
                    found[number] = _texts(frames)
        return [found[number] for number in range(len(pieces))]

    def _scores(self, images: np.ndarray) -> np.ndarray:
        """Log-probabilities (line, frame, class) of uint8 images (line, 48, width)."""
        x = images.astype(np.float32) / 127.5 - 1.0
        x = np.repeat(x[:, None], 3, axis=1)
        scores = self._recogniser.run(None, {self._input: x})[0]
        scores = scores - scores.max(axis=-1, keepdims=True)
        return scores - np.log(np.exp(scores).sum(axis=-1, keepdims=True))


def calibrated(texts: Texts, calibration: Calibration) -> Reading:
    """Candidates with the chance that each is exactly right."""
    floor = texts[0][1] - _HOPELESS
    texts = [(text, score) for text, score in texts[:_MOST_CANDIDATES] if score > floor]
    first = float(1 / (1 + np.exp(-np.dot(calibration.weights, evidence(texts)))))
    if not texts[0][0]:
        first = _NOTHING_READ
    weights = [np.exp(score - texts[0][1]) for _, score in texts[1:]]
    candidates = [Candidate(texts[0][0], first)]
    for (text, _), weight in zip(texts[1:], weights, strict=True):
        share = (1 - first) * calibration.others * weight / sum(weights)
        candidates.append(Candidate(text, float(min(first, share))))
    return Reading(tuple(candidates))


def evidence(texts: Texts) -> tuple[float, ...]:
    """What the calibration weighs (see ``Calibration``)."""
    best = texts[0][1]
    odds = min(_HOPELESS, best - texts[1][1]) if len(texts) > 1 else _HOPELESS
    return (1.0, max(best, -10.0), odds, float(texts[0][0].count(FRACTION)))


def is_blank(image: np.ndarray) -> bool:
    """True when no spot is darker than its paper by more than the grain of the image."""
    if image.ndim != 2 or image.dtype != np.uint8:
        raise ValueError("a line image is a two-dimensional uint8 array")
    if min(image.shape) < 2:
        return True
    return float(np.percentile(image, 95)) - float(image.min()) < _BLANK_CONTRAST


def _pieces(parts: Parts) -> list[Piece]:
    found: list[Piece] = []
    for part in parts:
        if isinstance(part, Piece):
            found.append(part)
        else:
            found += _pieces(part.above) + _pieces(part.below)
    return found


def _texts(log_probabilities: np.ndarray) -> Texts:
    """Texts of one piece; class sequences that spell the same text add up."""
    merged: dict[str, float] = {}
    for classes, score in likeliest(log_probabilities):
        text = normalise(to_text(classes))
        merged[text] = float(np.logaddexp(merged.get(text, -np.inf), score))
    return sorted(merged.items(), key=lambda item: -item[1])


def _rivals(cut: Texts, plain: Texts) -> Texts:
    """Readings of a line as cut at its bars and as if it had none: a stray bar loses to the latter.

    A plain reading that passes over a denominator can look easy, so it must win by a margin.
    """
    doubted = [(text, score - _PLAIN_PENALTY) for text, score in plain]
    return sorted([*cut, *doubted], key=lambda item: -item[1])


def _joined(parts: Parts, texts: dict[int, Texts]) -> Texts:
    """Texts of a line from those of its pieces, likeliest first."""
    options: list[Texts] = []
    for part in parts:
        if isinstance(part, Piece):
            options.append(texts[id(part)])
        else:
            halves = _best_products([_joined(part.above, texts), _joined(part.below, texts)])
            options.append(
                [(FRACTION + a + FRACTION_BAR + b + CLOSE, score) for (a, b), score in halves]
            )
    if len(options) == 1:
        return options[0]
    merged: dict[str, float] = {}
    for chosen, score in _best_products(options):
        text = _in_a_row(chosen)
        merged[text] = float(np.logaddexp(merged.get(text, -np.inf), score))
    return sorted(merged.items(), key=lambda item: -item[1])


def _best_products(options: list[Texts]) -> list[tuple[tuple[str, ...], float]]:
    """The likeliest ways to take one text from each list, at most as many as candidates."""
    ways = product(*(texts[:_MOST_CANDIDATES] for texts in options))
    scored = ((tuple(t for t, _ in way), sum(s for _, s in way)) for way in ways)
    return heapq.nlargest(_MOST_CANDIDATES, scored, key=lambda item: item[1])


def _in_a_row(texts: Sequence[str]) -> str:
    """Neighbouring parts as one text; a unit after a fraction gets its space."""
    line = ""
    for text in texts:
        if line.endswith(CLOSE) and text[:1].isalpha() and any(c.isdigit() for c in line):
            line += " "
        line += text
    return line
