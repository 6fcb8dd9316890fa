"""Reads line images with the shipped network, on the CPU.

Every line is read greedily first. A line whose greedy reading is not beyond
doubt is looked at again in a few slightly rescaled views and searched with a
beam, so that the other plausible readings come out with their probabilities. The
grammar of the notation rules out unbalanced braces at every step.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import onnxruntime
from PIL import Image

from scanner.errors import MissingPart
from scanner.page import Candidate, Reading
from scanner.reader.line_image import MAX_WIDTH, line_image
from scanner.reader.notation import (
    CLOSE,
    END,
    FRACTION,
    FRACTION_BAR,
    OPENERS,
    PAD,
    START,
    STRUCK,
    TOKENS,
    detokenise,
    normalise,
)

WEIGHTS_FOLDER = Path(__file__).parent
ENCODER_FILE, DECODER_FILE, CALIBRATION_FILE = "encoder.onnx", "decoder.onnx", "calibration.json"

MOST_TOKENS = 158
_COLUMN = 8  # pixels of width that one cell of the encoder's grid stands for
_ENCODER_LINES, _DECODER_LINES = 6, 24  # lines in a batch: fast on two cores, modest in memory
_SURE = 0.9  # a greedy reading at least this likely, token by token, is not searched again
_BEAM = 4
_HOPELESS = 7.0  # nats behind the best reading at which a hypothesis is dropped
_VIEWS = (0.9, 1.1)  # widths, relative to the line, of the extra views of a doubtful line
_BLANK_CONTRAST = 5  # grey levels between paper and the darkest spot under which nothing is written
_MASKED = -1e4
_DEEPEST = 6  # groups open at once
_NEVER_ENDED = -20.0  # log-probability given to the end of a line that ran on too long


@dataclass(frozen=True)
class Calibration:
    """Logistic maps from a reading's log-probabilities to the chance that it is exactly right.

    ``sure`` weighs (1, log-probability of the line, of its least likely token) of greedy
    readings; ``searched`` adds the log-odds against the runner-up. ``others`` is the chance that
    a later candidate is right when the first is wrong; ``blank`` the chance that an image without
    ink is truly empty.
    """

    sure: tuple[float, ...] = (0.0, 1.0, 0.0)
    searched: tuple[float, ...] = (0.0, 1.0, 0.0, 0.0)
    others: float = 0.5
    blank: float = 0.95

    @classmethod
    def load(cls, path: Path) -> Calibration:
        if not path.exists():
            return cls()
        stored = json.loads(path.read_text(encoding="utf-8"))
        return cls(
            tuple(stored["sure"]), tuple(stored["searched"]), stored["others"], stored["blank"]
        )


@dataclass(frozen=True)
class Encoded:
    """What the decoder looks at: ``mask`` (line, 1, 1, cell), keys and values of each layer."""

    mask: np.ndarray
    tables: tuple[np.ndarray, ...]

    def rows(self, chosen: Sequence[int]) -> Encoded:
        return Encoded(self.mask[chosen], tuple(table[chosen] for table in self.tables))


class LineReader:
    """Reads lines of print and handwriting; make one with ``load`` and keep it."""

    def __init__(
        self,
        encoder: onnxruntime.InferenceSession,
        decoder: onnxruntime.InferenceSession,
        calibration: Calibration,
    ):
        self._encoder = encoder
        self._decoder = decoder
        self._calibration = calibration
        self._inputs = [item.name for item in decoder.get_inputs()]
        self._layers = sum(name.startswith("past_keys") for name in self._inputs)

    @classmethod
    def load(cls, threads: int = 2, folder: Path = WEIGHTS_FOLDER) -> LineReader:
        """The reader with the weights in ``folder``.

        Raises:
            MissingPart: a weights file is not there or not readable.
        """
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.log_severity_level = 3
        sessions = []
        for name in (ENCODER_FILE, DECODER_FILE):
            path = folder / name
            if not path.is_file():
                raise MissingPart(
                    f"The line reader's weights file {name} is missing. "
                    "Fetch the project again with all its files."
                )
            try:
                session = onnxruntime.InferenceSession(
                    path, options, providers=["CPUExecutionProvider"]
                )
            except Exception as error:
                raise MissingPart(
                    f"The line reader's weights file {name} is damaged. "
                    "Fetch the project again with all its files."
                ) from error
            sessions.append(session)
        return cls(*sessions, Calibration.load(folder / CALIBRATION_FILE))

    def read(self, images: Iterable[np.ndarray]) -> list[Reading]:
        """Read each image.

        Args:
            images: uint8 grey arrays (height, width), dark ink on light paper, one line each, of
                any size.

        Returns:
            One ``Reading`` for each image, in order. Its first candidate is the reading, an empty
            string where nothing is written; a line that is not beyond doubt has more candidates.
        """
        images = list(images)
        readings: list[Reading | None] = [None] * len(images)
        lines: dict[int, np.ndarray] = {}
        for number, image in enumerate(images):
            if is_blank(image):
                readings[number] = Reading((Candidate("", self._calibration.blank),))
            else:
                lines[number] = line_image(image)
        by_size = sorted(lines, key=lambda n: lines[n].size)
        for start in range(0, len(by_size), _DECODER_LINES):
            numbers = by_size[start : start + _DECODER_LINES]
            batch = [lines[number] for number in numbers]
            for number, reading in zip(numbers, self._read_batch(batch), strict=True):
                readings[number] = reading
        return [reading for reading in readings if reading is not None]

    def hypotheses(self, lines: list[np.ndarray]) -> list[tuple[bool, list[Hypothesis]]]:
        """For each prepared line, whether it was beyond doubt, and its readings, best first."""
        greedy = self._greedy(self._encode(lines))
        doubtful = [n for n, hypothesis in enumerate(greedy) if hypothesis.score < np.log(_SURE)]
        searched = self._search([lines[n] for n in doubtful]) if doubtful else []
        found = dict(zip(doubtful, searched, strict=True))
        return [(n not in found, found.get(n) or [h]) for n, h in enumerate(greedy)]

    def _read_batch(self, lines: list[np.ndarray]) -> list[Reading]:
        return [
            calibrated(hypotheses, sure, self._calibration)
            for sure, hypotheses in self.hypotheses(lines)
        ]

    def _encode(self, lines: list[np.ndarray]) -> Encoded:
        """Encode lines in batches of like size, then pad all to the same number of cells."""
        order = sorted(range(len(lines)), key=lambda n: lines[n].shape)
        parts: list[tuple[list[int], list[np.ndarray]]] = []
        while order:
            height, narrowest = lines[order[0]].shape
            batch = [
                n
                for n in order[:_ENCODER_LINES]
                if lines[n].shape[0] == height and lines[n].shape[1] <= 1.15 * narrowest + 16
            ]
            order = order[len(batch) :]
            width = -(-max(lines[n].shape[1] for n in batch) // _COLUMN) * _COLUMN
            images = np.zeros((len(batch), height, width), np.uint8)
            for row, n in enumerate(batch):
                images[row, :, : lines[n].shape[1]] = lines[n]
            widths = np.array([lines[n].shape[1] for n in batch], np.int64)
            parts.append((batch, self._encoder.run(None, {"images": images, "widths": widths})))
        cells = max(outputs[0].shape[3] for _, outputs in parts)
        gathered = []
        for place, example in enumerate(parts[0][1]):
            axis = 3 if place <= self._layers else 2
            shape = list(example.shape)
            shape[0], shape[axis] = len(lines), cells
            whole = np.full(shape, _MASKED if place == 0 else 0.0, np.float32)
            for batch, outputs in parts:
                part = outputs[place]
                inside = (slice(None),) * (axis - 1) + (slice(part.shape[axis]),)
                for row, n in enumerate(batch):
                    whole[n][inside] = part[row]
            gathered.append(whole)
        return Encoded(gathered[0], tuple(gathered[1:]))

    def _step(
        self, tokens: np.ndarray, place: int, encoded: Encoded, past: list[np.ndarray]
    ) -> tuple[np.ndarray, list[np.ndarray]]:
        """Log-probabilities (line, reading, symbol) of the next token, and the longer past."""
        values = [tokens, np.array([place], np.int64), encoded.mask, *encoded.tables, *past]
        outputs = self._decoder.run(None, dict(zip(self._inputs, values, strict=True)))
        return outputs[0], outputs[1:]

    def _empty_past(self, encoded: Encoded, rows: int) -> list[np.ndarray]:
        _, heads, head_width, _ = encoded.tables[0].shape
        keys = np.zeros((rows, heads, head_width, 0), np.float32)
        values = np.zeros((rows, heads, 0, head_width), np.float32)
        return [keys] * self._layers + [values] * self._layers

    def _greedy(self, encoded: Encoded) -> list[Hypothesis]:
        """The likeliest token, one after another, of every line."""
        readings = [Hypothesis()] * len(encoded.mask)
        grammars = [Grammar()] * len(readings)
        lines = list(range(len(readings)))  # the line that each row of the batch belongs to
        last = np.full((len(lines), 1), START, np.int64)
        past = self._empty_past(encoded, len(lines))
        going = set(lines)
        for place in range(MOST_TOKENS):
            log_probabilities, past = self._step(last, place, encoded, past)
            for row, line in enumerate(lines):
                if line in going:
                    scores = log_probabilities[row, 0] + grammars[line].penalties()
                    token = int(scores.argmax())
                    readings[line] = readings[line].followed_by(token, float(scores[token]))
                    grammars[line] = grammars[line].after(token)
                    last[row, 0] = token
                    if token == END:
                        going.remove(line)
            if not going:
                break
            if len(going) <= 0.7 * len(lines):
                rows = [row for row, line in enumerate(lines) if line in going]
                lines = [lines[row] for row in rows]
                encoded, past = encoded.rows(rows), [table[rows] for table in past]
                last = last[rows]
        return [r if line not in going else r.cut() for line, r in enumerate(readings)]

    def _search(self, lines: list[np.ndarray]) -> list[list[Hypothesis]]:
        """Beam search; each line is seen in several views, whose probabilities are averaged."""
        views = [_stretched(line, stretch) for stretch in (1.0, *_VIEWS) for line in lines]
        encoded = self._encode(views)
        count, view_count = len(lines), len(views) // len(lines)
        beams = [[(Hypothesis(), Grammar())] for _ in lines]
        finished: list[list[Hypothesis]] = [[] for _ in lines]
        past = self._empty_past(encoded, len(views) * _BEAM)
        last = np.full((count, _BEAM), START, np.int64)
        for place in range(MOST_TOKENS):
            tokens = np.tile(last, (view_count, 1))
            outputs, past = self._step(tokens, place, encoded, past)
            seen = outputs.reshape(view_count, count, _BEAM, -1)
            averaged = np.logaddexp.reduce(seen, axis=0) - np.log(view_count)
            parents = np.zeros((count, _BEAM), np.int64)
            for line, beam in enumerate(beams):
                beams[line], origins = _advanced(beam, averaged[line], finished[line])
                for slot, ((hypothesis, _), origin) in enumerate(
                    zip(beams[line], origins, strict=True)
                ):
                    last[line, slot], parents[line, slot] = hypothesis.tokens[-1], origin
            if not any(beams):
                break
            starts = np.arange(view_count * count)[:, None] * _BEAM
            rows = (np.tile(parents, (view_count, 1)) + starts).ravel()
            past = [table[rows] for table in past]
        return [sorted(found, key=lambda h: -h.score)[:_BEAM] for found in finished]


@dataclass(frozen=True)
class Hypothesis:
    """Token ids of a possible reading and the log-probability of each (its end included)."""

    tokens: tuple[int, ...] = ()
    log_probabilities: tuple[float, ...] = ()

    @property
    def score(self) -> float:
        return sum(self.log_probabilities)

    @property
    def weakest(self) -> float:
        return min(self.log_probabilities)

    @property
    def text(self) -> str:
        return normalise(detokenise(self.tokens))

    def followed_by(self, token: int, log_probability: float) -> Hypothesis:
        return Hypothesis((*self.tokens, token), (*self.log_probabilities, log_probability))

    def cut(self) -> Hypothesis:
        """The longest start without open groups, for a line that never ended; all but hopeless."""
        grammar, whole = Grammar(), 0
        for place, token in enumerate(self.tokens, 1):
            grammar = grammar.after(token)
            if not grammar.open_groups:
                whole = place
        return Hypothesis(self.tokens[:whole], (*self.log_probabilities[:whole], _NEVER_ENDED))


@dataclass(frozen=True)
class Grammar:
    """Where a reading stands in the notation: the groups that are open, and the last token."""

    open_groups: tuple[str, ...] = ()
    last: str = ""

    def after(self, token_id: int) -> Grammar:
        token = TOKENS[token_id]
        groups = self.open_groups
        if token in OPENERS:
            groups = (*groups, token)
        elif token == FRACTION_BAR:
            groups = (*groups[:-1], token)
        elif token == CLOSE:
            groups = groups[:-1]
        return Grammar(groups, token)

    def penalties(self) -> np.ndarray:
        """0 for each token that may follow, minus infinity for the others."""
        group = self.open_groups[-1] if self.open_groups else ""
        return _penalties(group, self.last, len(self.open_groups) >= _DEEPEST)


@lru_cache(maxsize=1024)
def _penalties(group: str, last: str, deepest: bool) -> np.ndarray:
    just_opened = last in (*OPENERS, FRACTION_BAR)
    forbidden = {TOKENS[PAD], TOKENS[START]}
    if group:
        forbidden.add(TOKENS[END])
    if group != FRACTION or just_opened:
        forbidden.add(FRACTION_BAR)
    if group in ("", FRACTION) or (just_opened and last != STRUCK):
        forbidden.add(CLOSE)
    if deepest:
        forbidden.update(OPENERS)
    return np.array([-np.inf if token in forbidden else 0.0 for token in TOKENS], np.float32)


def _advanced(
    beam: list[tuple[Hypothesis, Grammar]],
    log_probabilities: np.ndarray,
    finished: list[Hypothesis],
) -> tuple[list[tuple[Hypothesis, Grammar]], list[int]]:
    """The best continuations of one line's beam, and the slot that each came from.

    Readings that end go to ``finished``.
    """
    options = []
    for slot, (hypothesis, grammar) in enumerate(beam):
        scores = log_probabilities[slot] + grammar.penalties()
        for token in np.argpartition(-scores, _BEAM)[: _BEAM + 1]:
            if np.isfinite(scores[token]):
                options.append((hypothesis.score + scores[token], slot, int(token)))
    options.sort(reverse=True)
    best = max([h.score for h in finished] + [score for score, _, _ in options[:1]], default=0.0)
    enough = sorted((h.score for h in finished), reverse=True)[_BEAM - 1 : _BEAM]
    floor = max([best - _HOPELESS, *enough])
    kept, origins = [], []
    for score, slot, token in options:
        if score < floor or len(kept) == _BEAM:
            break
        hypothesis, grammar = beam[slot]
        longer = hypothesis.followed_by(token, float(log_probabilities[slot, token]))
        if token == END:
            finished.append(longer)
        else:
            kept.append((longer, grammar.after(token)))
            origins.append(slot)
    return kept, origins


def calibrated(hypotheses: list[Hypothesis], sure: bool, calibration: Calibration) -> Reading:
    """Candidates with the chance that each is exactly right; equal texts are merged."""
    ranked = merged(hypotheses)
    features, weights = evidence(hypotheses, ranked, sure), calibration.searched
    if sure:
        weights = calibration.sure
    first = float(1 / (1 + np.exp(-np.dot(weights, features))))
    rest = sum(weight for _, weight in ranked[1:])
    candidates = [Candidate(ranked[0][0], first)]
    for text, weight in ranked[1:]:
        share = (1 - first) * calibration.others * weight / rest
        candidates.append(Candidate(text, float(min(first, share))))
    return Reading(tuple(candidates))


def merged(hypotheses: list[Hypothesis]) -> list[tuple[str, float]]:
    """Texts and their raw probabilities, likeliest first; hypotheses of equal text add up."""
    weights: dict[str, float] = {}
    for hypothesis in hypotheses:
        weights[hypothesis.text] = weights.get(hypothesis.text, 0.0) + np.exp(hypothesis.score)
    return sorted(weights.items(), key=lambda item: -item[1])


def evidence(
    hypotheses: list[Hypothesis], ranked: list[tuple[str, float]], sure: bool
) -> tuple[float, ...]:
    """What the calibration weighs for the first candidate (see ``Calibration``)."""
    first = next(h for h in hypotheses if h.text == ranked[0][0])
    known = (1.0, float(np.log(max(ranked[0][1], 1e-30))), first.weakest)
    if sure:
        return known
    runner_up = ranked[1][1] if len(ranked) > 1 else ranked[0][1] * np.exp(-_HOPELESS)
    return (*known, float(min(_HOPELESS, np.log(ranked[0][1] / runner_up))))


def is_blank(image: np.ndarray) -> bool:
    """True when no spot is darker than its paper by more than the grain of the image."""
    if image.ndim != 2 or image.dtype != np.uint8:
        raise ValueError("a line image is a two-dimensional uint8 array")
    if image.size < 4:
        return True
    return float(np.percentile(image, 95)) - float(image.min()) < _BLANK_CONTRAST


def _stretched(line: np.ndarray, stretch: float) -> np.ndarray:
    if stretch == 1.0:
        return line
    height, width = line.shape
    size = (min(MAX_WIDTH, max(_COLUMN, round(width * stretch))), height)
    return np.asarray(Image.fromarray(line).resize(size, Image.Resampling.BILINEAR))
