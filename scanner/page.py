"""The scanner's whole output language: a flattened sheet and what is read on it.

Coordinates are pixels of the flattened page, ``(x, y, width, height)``, x to
the right, y down. ``Page.to_photo`` maps a point of the flattened page back to
the photo. Readings are in the linear notation of ``scanner.reader.notation``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np

Ink = Literal["print", "pen"]
Matrix = tuple[
    tuple[float, float, float],
    tuple[float, float, float],
    tuple[float, float, float],
]
IDENTITY: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


class Box(NamedTuple):
    """A rectangle in pixels of the flattened page."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        return self.x + self.width

    @property
    def bottom(self) -> int:
        return self.y + self.height

    @property
    def centre(self) -> tuple[float, float]:
        return self.x + self.width / 2, self.y + self.height / 2

    def union(self, other: Box) -> Box:
        """The smallest box that holds both."""
        x, y = min(self.x, other.x), min(self.y, other.y)
        return Box(x, y, max(self.right, other.right) - x, max(self.bottom, other.bottom) - y)


class Candidate(NamedTuple):
    """One possible reading and the calibrated probability that it is exactly right."""

    text: str
    probability: float


@dataclass(frozen=True)
class Reading:
    """What a line may say: candidates, likeliest first; empty when nothing was read."""

    candidates: tuple[Candidate, ...] = ()

    @property
    def text(self) -> str:
        """The likeliest reading, or an empty string."""
        return self.candidates[0].text if self.candidates else ""

    @property
    def confidence(self) -> float:
        """Probability of the likeliest reading."""
        return self.candidates[0].probability if self.candidates else 0.0

    @classmethod
    def certain(cls, text: str) -> Reading:
        """A reading given by a person or by typed text."""
        return cls((Candidate(text, 1.0),))


@dataclass(frozen=True)
class Word:
    """One printed word or span with its place; ``reread`` when our line reader read it too."""

    box: Box
    reading: Reading
    reread: bool = False


@dataclass(frozen=True)
class Line:
    """One line of print or pen.

    ``block`` numbers the paragraph or column on the paper that the line lies in
    (from 0, reading order). For print, ``words`` holds its words from left to
    right; ``reading`` is the whole line. For pen, ``words`` is empty.
    """

    ink: Ink
    box: Box
    reading: Reading
    block: int = 0
    words: tuple[Word, ...] = ()
    struck: bool = False

    @property
    def text(self) -> str:
        return self.reading.text


@dataclass(frozen=True)
class AnswerSpace:
    """A printed box or ruled line (or a run of ruled lines) meant for writing on."""

    kind: Literal["box", "rule"]
    box: Box


@dataclass(frozen=True)
class Page:
    """A flattened sheet.

    ``image`` is the flattened page, uint8 RGB of shape (height, width, 3), evenly
    lit, upright. ``problems`` are plain sentences for the person ("The photo is
    blurred; ..."). ``seconds`` is the time spent from file to page.
    """

    photo: str | None
    number: int
    size: tuple[int, int]
    to_photo: Matrix
    lines: tuple[Line, ...] = ()
    spaces: tuple[AnswerSpace, ...] = ()
    problems: tuple[str, ...] = ()
    seconds: float = 0.0
    image: np.ndarray | None = field(default=None, compare=False, repr=False)

    @property
    def print_lines(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.ink == "print")

    @property
    def pen_lines(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.ink == "pen")

    def crop(self, box: Box, margin: int = 8) -> np.ndarray:
        """The part of the flattened image inside ``box`` plus a margin, RGB uint8."""
        if self.image is None:
            raise ValueError("this page carries no image")
        height, width = self.image.shape[:2]
        x0, y0 = max(0, box.x - margin), max(0, box.y - margin)
        return self.image[
            y0 : min(height, box.bottom + margin), x0 : min(width, box.right + margin)
        ]
