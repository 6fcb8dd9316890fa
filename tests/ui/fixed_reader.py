"""A reader for tests of everything around the reading: quick, and the same for the same image."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from functools import cache

import numpy as np

from scanner.page import Candidate, Reading
from scanner.reader import LineReader
from tests.ui.drawn_scripts import QUESTIONS

_PRINT = 60  # grey level: drawn pens are paler


class FixedReader:
    """Knows the drawn worksheet's print; reads pen as a value that hangs on the image."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        return [_print(i) if i.min() < _PRINT else _pen(i) for i in images]


def _print(image: np.ndarray) -> Reading:
    """The words of the drawn worksheet that are likest to what the line reader makes of it."""
    text = _reader().read([image])[0].text
    alike = get_close_matches(text, _spans(), n=1, cutoff=0.4)
    return Reading((Candidate(alike[0] if alike else text, 0.95),))


@cache
def _reader() -> LineReader:
    return LineReader.load(threads=1)


@cache
def _spans() -> list[str]:
    """Every run of up to five words of the drawn worksheet."""
    rows = [row.split() for row in QUESTIONS]
    return [
        " ".join(row[start:end])
        for row in rows
        for start in range(len(row))
        for end in range(start + 1, min(start + 5, len(row)) + 1)
    ]


def _pen(image: np.ndarray) -> Reading:
    figure = f"{image.shape[1] % 9 + 1}.{int((255 - image).mean()) % 10}"
    return Reading((Candidate(f"F={figure} N", 0.9), Candidate(f"F={figure}×10^{{-9}} N", 0.06)))


def load_fixed_reader() -> FixedReader:
    return FixedReader()


class PlainReader:
    """Reads print and pen alike as values that hang on the image; takes no time."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        return [_pen(image) for image in images]


def load_plain_reader() -> PlainReader:
    return PlainReader()
