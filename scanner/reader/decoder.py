"""The second stage of the reader on the CPU: it looks over a whole line in two dimensions.

From the recogniser's features it writes the notation token by token, so it can follow what is
stacked; and it says how likely it finds a reading that comes from elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import onnxruntime

from scanner.reader.notation import END, START

WIDTH, LAYERS, HEADS = 256, 4, 8
ROW_CODES = 64  # channels of the place code that tell the row; the others tell the column
LONGEST = 120  # tokens that are written for a line
MEMORY_FILE, DECODER_FILE = "memory.onnx", "decoder.onnx"
_FORBIDDEN = np.float32(-1e9)


@dataclass(frozen=True)
class LineMemory:
    """What the decoder looks at of each line of a batch, for every layer."""

    keys: np.ndarray  # (layer, line, head, channel, place)
    values: np.ndarray  # (layer, line, head, place, channel)
    mask: np.ndarray  # (line, 1, 1, place): 0, or far below it where the line is over

    @property
    def places(self) -> int:
        return self.keys.shape[-1]

    def of(self, lines: Sequence[int] | np.ndarray) -> LineMemory:
        return LineMemory(self.keys[:, lines], self.values[:, lines], self.mask[lines])

    @classmethod
    def together(cls, memories: Sequence[LineMemory]) -> LineMemory:
        """One batch of all lines, the shorter ones filled up and masked."""
        places = max(memory.places for memory in memories)
        filled = []
        for memory in memories:
            room = (0, places - memory.places)
            none = (0, 0)
            filled.append(
                cls(
                    np.pad(memory.keys, (none, none, none, none, room)),
                    np.pad(memory.values, (none, none, none, room, none)),
                    np.pad(memory.mask, (none, none, none, room), constant_values=_FORBIDDEN),
                )
            )
        return cls(
            np.concatenate([memory.keys for memory in filled], 1),
            np.concatenate([memory.values for memory in filled], 1),
            np.concatenate([memory.mask for memory in filled]),
        )


@dataclass(frozen=True)
class Written:
    """Token ids of a line, without START and END, and the log-probability of each and of END."""

    tokens: tuple[int, ...]
    scores: tuple[float, ...]

    @property
    def score(self) -> float:
        return float(sum(self.scores))


@dataclass(frozen=True)
class Weighed:
    """Log-probability of given tokens, and whether the decoder would have written just these."""

    score: float
    as_written: bool


class Decoder:
    """Writes and weighs token sequences for features of lines."""

    def __init__(
        self, memory: onnxruntime.InferenceSession, decoder: onnxruntime.InferenceSession
    ) -> None:
        self._memory, self._decoder = memory, decoder

    @classmethod
    def load(cls, folder: Path, options: onnxruntime.SessionOptions) -> Decoder:
        memory, decoder = (
            onnxruntime.InferenceSession(folder / name, options, providers=["CPUExecutionProvider"])
            for name in (MEMORY_FILE, DECODER_FILE)
        )
        return cls(memory, decoder)

    def look(self, features: np.ndarray) -> LineMemory:
        """Take in features (line, 384, rows, columns)."""
        _, _, rows, columns = features.shape
        codes = place_codes(rows, columns)[None]
        keys, values = self._memory.run(None, {"features": features, "codes": codes})
        return LineMemory(keys, values, np.zeros((len(features), 1, 1, rows * columns), np.float32))

    def write(self, memory: LineMemory) -> list[Written]:
        """The tokens of each line, the likeliest next one each time."""
        lines = memory.keys.shape[1]
        found: list[tuple[list[int], list[float]]] = [([], []) for _ in range(lines)]
        open_lines = np.arange(lines)
        past = _nothing_written(lines)
        tokens = np.full((lines, 1), START, np.int64)
        for position in range(LONGEST):
            scores, *past = self._step(tokens, position, past, memory)
            scores = scores[:, 0]
            chosen = scores.argmax(-1)
            for row, line in enumerate(open_lines):
                ids, own = found[line]
                own.append(float(scores[row, chosen[row]]))
                if chosen[row] != END:
                    ids.append(int(chosen[row]))
            going = np.flatnonzero(chosen != END)
            if not len(going):
                break
            if len(going) < len(open_lines):
                past = [part[:, going] for part in past]
                memory = memory.of(going)
                open_lines = open_lines[going]
            tokens = chosen[going, None]
        return [Written(tuple(ids), tuple(own)) for ids, own in found]

    def weigh(self, memory: LineMemory, texts: Sequence[Sequence[int]]) -> list[Weighed]:
        """One token sequence for each line of ``memory``, weighed."""
        longest = max(len(text) for text in texts) + 1
        wanted = np.full((len(texts), longest), END, np.int64)
        for row, text in zip(wanted, texts, strict=True):
            row[: len(text)] = text
        given = np.concatenate([np.full((len(texts), 1), START, np.int64), wanted[:, :-1]], 1)
        scores, *_ = self._step(given, 0, _nothing_written(len(texts)), memory)
        chosen = np.take_along_axis(scores, wanted[..., None], -1)[..., 0]
        as_written = scores.argmax(-1) == wanted
        return [
            Weighed(float(own[: len(text) + 1].sum()), bool(same[: len(text) + 1].all()))
            for own, same, text in zip(chosen, as_written, texts, strict=True)
        ]

    def _step(
        self, tokens: np.ndarray, position: int, past: Sequence[np.ndarray], memory: LineMemory
    ) -> list[np.ndarray]:
        count = tokens.shape[1]
        places = np.arange(position, position + count)
        mask = np.where(np.arange(position + count) <= places[:, None], np.float32(0), _FORBIDDEN)
        return self._decoder.run(
            None,
            {
                "tokens": tokens,
                "codes": sine_codes(places, WIDTH)[None],
                "mask": mask[None, None],
                "past_keys": past[0],
                "past_values": past[1],
                "line_keys": memory.keys,
                "line_values": memory.values,
                "line_mask": memory.mask,
            },
        )


def _nothing_written(lines: int) -> list[np.ndarray]:
    empty = np.zeros((LAYERS, lines, HEADS, 0, WIDTH // HEADS), np.float32)
    return [empty, empty]


def sine_codes(positions: np.ndarray, width: int) -> np.ndarray:
    """Sines and cosines of ``positions`` (count,) at ``width`` / 2 wavelengths, (count, width)."""
    steps = np.arange(width // 2)
    angles = positions[:, None] * 10000.0 ** (-steps / (width // 2))
    return np.concatenate([np.sin(angles), np.cos(angles)], -1).astype(np.float32)


def place_codes(rows: int, columns: int) -> np.ndarray:
    """Codes (rows * columns, width) of where each feature stands: its height share, its column."""
    shares = (np.arange(rows) + 0.5) / rows
    angles = shares[:, None] * np.arange(1, ROW_CODES // 2 + 1) * (np.pi / 4)
    by_row = np.concatenate([np.sin(angles), np.cos(angles)], -1)
    by_column = sine_codes(np.arange(columns), WIDTH - ROW_CODES)
    return np.concatenate(
        [np.repeat(by_row, columns, 0), np.tile(by_column, (rows, 1))], -1
    ).astype(np.float32)
