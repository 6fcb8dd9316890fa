"""Reads line images with the shipped models, on the CPU, in two ways that check one another.

A line is cut at its fraction bars into plain pieces, which the recogniser reads from left to
right; their likeliest readings are put together again. The decoder looks over the same line as a
whole. Each way weighs what the other one read, and the readings are ranked by both.
"""

from __future__ import annotations

import heapq
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import onnxruntime

from scanner.errors import MissingPart
from scanner.page import Candidate, Reading
from scanner.reader.classes import to_classes, to_text
from scanner.reader.ctc import likeliest, log_probability
from scanner.reader.cuts import label_tree, paired
from scanner.reader.decoder import DECODER_FILE, LONGEST, MEMORY_FILE, Decoder, LineMemory
from scanner.reader.fractions import Parts, Piece, split
from scanner.reader.notation import (
    CLOSE,
    FRACTION,
    FRACTION_BAR,
    detokenise,
    is_well_formed,
    normalise,
    tokenise,
)
from scanner.reader.piece_image import TALL_HEIGHT, piece_image, trimmed

WEIGHTS_FOLDER = Path(__file__).parent
RECOGNISER_FILE, CALIBRATION_FILE = "recogniser.onnx", "calibration.json"
WEIGHTS_FILES = (RECOGNISER_FILE, MEMORY_FILE, DECODER_FILE)

_BATCH_COLUMNS = 2400  # width of a batch's lines together: fast on two cores, modest in memory
_BATCH_PLACES = 12000  # features of a batch's lines together that the decoder looks at
_MOST_CANDIDATES = 5
_NO = -np.inf
_SURE = -0.25  # log-probability above which a reading that both ways put first stands alone
_NOTHING_READ = 0.02  # chance that ink says nothing, though nothing could be made out of it
_HOPELESS = 7.0  # nats behind the best reading at which a candidate is dropped
# Nats for a reading whose fractions are not where the line was cut, and the least that counts:
# the cut can be wrong, and then says nothing of the reading.
_OTHERWISE_CUT, _LEAST_BY_PIECES = -3.0, -12.0
_SHARE_BY_PIECES = 0.3  # weight of the reading by pieces beside the reading as a whole
_BLANK_CONTRAST = 5  # grey levels between paper and the darkest spot under which nothing is written

Texts = list[tuple[str, float]]  # texts and log-probabilities, likeliest first


@dataclass(frozen=True)
class Hypothesis:
    """A possible reading with its log-probability by pieces and as a whole."""

    text: str
    by_pieces: float
    as_a_whole: float

    @property
    def score(self) -> float:
        return self.as_a_whole + _SHARE_BY_PIECES * self.by_pieces


@dataclass(frozen=True)
class Calibration:
    """A logistic map from what is known of a reading to the chance that it is exactly right.

    ``weights`` are for what ``evidence`` gives. ``others`` is the chance that a later candidate is
    right when the first is wrong; ``blank`` the chance that an image without ink is truly empty.
    """

    weights: tuple[float, ...] = (0.0, 0.5, 0.5, 0.0, 0.0, 0.0)
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

    def __init__(
        self,
        recogniser: onnxruntime.InferenceSession,
        decoder: Decoder,
        calibration: Calibration,
    ):
        self._recogniser, self._decoder = recogniser, decoder
        self._input = recogniser.get_inputs()[0].name
        self._calibration = calibration

    @classmethod
    def load(cls, threads: int = 2, folder: Path = WEIGHTS_FOLDER) -> LineReader:
        """The reader with the weights in ``folder``.

        Raises:
            MissingPart: a weights file is not there or not readable.
        """
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.log_severity_level = 3
        for name in WEIGHTS_FILES:
            if not (folder / name).is_file():
                raise MissingPart(
                    f"The line reader's weights file {name} is missing. "
                    "Fetch the project again with all its files."
                )
        try:
            recogniser = onnxruntime.InferenceSession(
                folder / RECOGNISER_FILE, options, providers=["CPUExecutionProvider"]
            )
            decoder = Decoder.load(folder, options)
        except Exception as error:
            raise MissingPart(
                "A weights file of the line reader is damaged. "
                "Fetch the project again with all its files."
            ) from error
        return cls(recogniser, decoder, Calibration.load(folder / CALIBRATION_FILE))

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

    def hypotheses(self, images: Sequence[np.ndarray]) -> list[list[Hypothesis]]:
        """What each image that holds ink may say, likeliest first."""
        whole = [Piece(trimmed(image)) for image in images]
        lines = [split(piece.image) for piece in whole]
        is_plain = [len(line) == 1 and isinstance(line[0], Piece) for line in lines]
        pieces = [piece for line in lines for piece in _pieces(line)]
        firsts = [_pieces(line)[0] for line in lines]
        looked_at = {id(p) for p, plain in zip(firsts, is_plain, strict=True) if plain}
        seen = self._look(
            [piece_image(piece.image) for piece in pieces],
            [id(piece) in looked_at for piece in pieces],
        )
        frames = {id(piece): part.frames for piece, part in zip(pieces, seen, strict=True)}
        memories = {
            id(piece): part.memory for piece, part in zip(pieces, seen, strict=True) if part.memory
        }
        stacked = [number for number, plain in enumerate(is_plain) if not plain]
        tall = self._look(
            [piece_image(whole[number].image, TALL_HEIGHT) for number in stacked],
            [True] * len(stacked),
        )
        memories |= {
            id(firsts[number]): part.memory
            for number, part in zip(stacked, tall, strict=True)
            if part.memory
        }
        by_pieces = {id(piece): _texts(frames[id(piece)]) for piece in pieces}
        return self._ranked(
            lines,
            frames,
            [_joined(line, by_pieces) for line in lines],
            [memories[id(first)] for first in firsts],
        )

    def _ranked(
        self,
        lines: Sequence[Parts],
        frames: dict[int, np.ndarray],
        by_pieces: Sequence[Texts],
        memories: Sequence[LineMemory],
    ) -> list[list[Hypothesis]]:
        found: list[list[Hypothesis]] = [[] for _ in lines]
        order = sorted(range(len(lines)), key=lambda number: memories[number].places)
        for batch in _in_batches(order, lambda number: memories[number].places, _BATCH_PLACES):
            memory = LineMemory.together([memories[number] for number in batch])
            first = self._weigh_next(0, range(len(batch)), batch, memory, by_pieces, found)
            doubted = [place for place in range(len(batch)) if first.get(place, _NO) < _SURE]
            second = self._weigh_next(1, doubted, batch, memory, by_pieces, found)
            unsettled = [p for p in doubted if p not in first and p not in second]
            if not unsettled:
                continue
            written = self._decoder.write(memory.of(unsettled))
            for place, own in zip(unsettled, written, strict=True):
                number = batch[place]
                text = normalise(detokenise(own.tokens))
                if text and is_well_formed(text) and text not in {h.text for h in found[number]}:
                    known = dict(by_pieces[number])
                    if text not in known:
                        known[text] = _score_by_pieces(lines[number], frames, text)
                    found[number].append(Hypothesis(text, known[text], own.score))
        return [
            sorted(line, key=lambda hypothesis: -hypothesis.score)
            or [Hypothesis("", _LEAST_BY_PIECES, _LEAST_BY_PIECES)]
            for line in found
        ]

    def _weigh_next(
        self,
        rank: int,
        places: Iterable[int],
        batch: Sequence[int],
        memory: LineMemory,
        by_pieces: Sequence[Texts],
        found: list[list[Hypothesis]],
    ) -> dict[int, float]:
        """Weigh the reading by pieces of one rank at some places of a batch.

        Returns the log-probability of those that the decoder would write just so.
        """
        asked = [
            (place, *by_pieces[batch[place]][rank])
            for place in places
            if rank < len(by_pieces[batch[place]])
            and len(tokenise(by_pieces[batch[place]][rank][0])) < LONGEST
        ]
        if not asked:
            return {}
        weighed = self._decoder.weigh(
            memory.of([place for place, _, _ in asked]), [tokenise(text) for _, text, _ in asked]
        )
        for (place, text, score), own in zip(asked, weighed, strict=True):
            found[batch[place]].append(Hypothesis(text, score, own.score))
        return {
            place: own.score
            for (place, _, _), own in zip(asked, weighed, strict=True)
            if own.as_written
        }

    def _look(self, images: Sequence[np.ndarray], as_a_whole: Sequence[bool]) -> list[_Seen]:
        """The recogniser's frames of each image, and what the decoder needs where it is asked."""
        by_size: dict[tuple[int, ...], list[int]] = defaultdict(list)
        for number, image in enumerate(images):
            by_size[image.shape].append(number)
        found: dict[int, _Seen] = {}
        for size, numbers in by_size.items():
            most = max(1, _BATCH_COLUMNS // size[1])
            for batch in (numbers[i : i + most] for i in range(0, len(numbers), most)):
                frames, features = self._recognise(np.stack([images[number] for number in batch]))
                wanted = [row for row, number in enumerate(batch) if as_a_whole[number]]
                memory = self._decoder.look(features[wanted]) if wanted else None
                for row, number in enumerate(batch):
                    own = memory.of([wanted.index(row)]) if memory and row in wanted else None
                    found[number] = _Seen(frames[row], own)
        return [found[number] for number in range(len(images))]

    def _recognise(self, images: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Log-probabilities (line, frame, class) and features (line, channel, row, column)."""
        x = images.astype(np.float32) / 127.5 - 1.0
        x = np.repeat(x[:, None], 3, axis=1)
        scores, features = self._recogniser.run(None, {self._input: x})
        scores = scores - scores.max(axis=-1, keepdims=True)
        return scores - np.log(np.exp(scores).sum(axis=-1, keepdims=True)), features


@dataclass(frozen=True)
class _Seen:
    frames: np.ndarray
    memory: LineMemory | None


def _in_batches(
    numbers: Sequence[int], size: Callable[[int], int], most: int
) -> Iterator[list[int]]:
    """``numbers`` in runs whose sizes, each as large as the largest, come to at most ``most``."""
    batch: list[int] = []
    largest = 0
    for number in numbers:
        larger = max(largest, size(number))
        if batch and larger * (len(batch) + 1) > most:
            yield batch
            batch, larger = [], size(number)
        batch.append(number)
        largest = larger
    if batch:
        yield batch


def _score_by_pieces(line: Parts, frames: dict[int, np.ndarray], text: str) -> float:
    """What the recogniser makes of a reading that is not among its own."""
    tree = label_tree(text)
    pairs = paired(line, tree) if tree is not None else None
    if pairs is None:
        return _OTHERWISE_CUT
    score = 0.0
    for piece, own in pairs:
        classes = to_classes(own)
        if classes is None:
            return _OTHERWISE_CUT
        score += log_probability(frames[id(piece)], classes)
    return max(score, _LEAST_BY_PIECES)


def calibrated(hypotheses: Sequence[Hypothesis], calibration: Calibration) -> Reading:
    """Candidates with the chance that each is exactly right."""
    best = hypotheses[0]
    kept = [h for h in hypotheses[:_MOST_CANDIDATES] if h.score > best.score - _HOPELESS]
    first = float(1 / (1 + np.exp(-np.dot(calibration.weights, evidence(kept)))))
    if not best.text:
        first = _NOTHING_READ
    weights = [np.exp(other.score - best.score) for other in kept[1:]]
    candidates = [Candidate(best.text, first)]
    for other, weight in zip(kept[1:], weights, strict=True):
        share = (1 - first) * calibration.others * weight / sum(weights)
        candidates.append(Candidate(other.text, float(min(first, share))))
    return Reading(tuple(candidates))


def evidence(hypotheses: Sequence[Hypothesis]) -> tuple[float, ...]:
    """What the calibration weighs: 1, the best reading's log-probabilities as a whole and by
    pieces, its lead over the next, whether both ways put it first, its fractions.
    """
    best = hypotheses[0]
    lead = best.score - hypotheses[1].score if len(hypotheses) > 1 else _HOPELESS
    agreed = all(
        best.as_a_whole >= other.as_a_whole and best.by_pieces >= other.by_pieces
        for other in hypotheses[1:]
    )
    return (
        1.0,
        max(best.as_a_whole, _LEAST_BY_PIECES),
        max(best.by_pieces, _LEAST_BY_PIECES),
        min(lead, _HOPELESS),
        float(agreed),
        float(best.text.count(FRACTION)),
    )


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
