"""Printed words: Tesseract finds them, our line reader reads every span with a figure again.

Tesseract (4 and 5, LSTM) drops raised figures and reads "µC" as "pC"; by shape alone, any token
with a digit, sign, raised mark or µ, and its neighbours up to the next plain word, is read a
second time by the line reader, whose reading then stands.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import cv2
import numpy as np
import pytesseract

from scanner.errors import MissingPart
from scanner.page import Box, Candidate, Line, Reading, Word
from scanner.reader.notation import normalise

_PLAIN = re.compile(r"[A-Za-z][a-z'’-]*[.,;:?!]?$|\([a-z]{2,}|[a-z]{2,}\)[.,;:]?$")
_SHAPE = re.compile(r"[0-9+\-−–=×*/^²³⁴⁵⁶⁷⁸⁹⁰¹⁻µμ%°Ω√<>~±€£$¢]")
_BOX_OFF = 0.25  # word heights: Tesseract places the box of a lone letter so far off
_LONE = 6  # characters at most in a number or marks that stand apart in their row
_LEAST_SURE = 0.3  # of a reading where Tesseract saw no word
_NEAR = 0.7  # word heights between the characters of one overlooked word
_WIDE_GAP = 1.5  # word heights; the space between words is about a third of one


class Reader(Protocol):
    """Anything that reads line images (uint8 grey, dark ink on light paper)."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]: ...


@dataclass(frozen=True)
class RawWord:
    """A word as Tesseract gives it; ``confidence`` in percent, ``line`` its line's key."""

    box: Box
    text: str
    confidence: float
    line: tuple[int, int, int]


def find_words(image: np.ndarray, layout: int = 3) -> tuple[RawWord, ...]:
    """All words Tesseract sees on a grey or RGB uint8 image.

    Args:
        image: the page or a part of it.
        layout: Tesseract's page segmentation mode.

    Raises:
        MissingPart: Tesseract or its English data is not installed.
    """
    try:
        data = pytesseract.image_to_data(
            image,
            lang="eng",
            config=f"--psm {layout} --dpi 200",
            output_type=pytesseract.Output.DICT,
        )
    except pytesseract.TesseractNotFoundError:
        raise MissingPart(
            "Tesseract is not installed; on Debian or Ubuntu run: "
            "sudo apt-get install tesseract-ocr tesseract-ocr-eng"
        ) from None
    except pytesseract.TesseractError as error:
        if "language" in str(error).lower():
            raise MissingPart(
                "Tesseract's English data is not installed; on Debian or Ubuntu run: "
                "sudo apt-get install tesseract-ocr-eng"
            ) from None
        return ()
    words = []
    for i, text in enumerate(data["text"]):
        if not text.strip():
            continue
        box = Box(data["left"][i], data["top"][i], data["width"][i], data["height"][i])
        key = (data["block_num"][i], data["par_num"][i], data["line_num"][i])
        words.append(RawWord(box, text.strip(), float(data["conf"][i]), key))
    return tuple(words)


def read_print(
    page: np.ndarray,
    words: tuple[RawWord, ...],
    boxes: np.ndarray,
    pen: np.ndarray,
    reader: Reader,
) -> tuple[Line, ...]:
    """The printed lines of a page, in reading order.

    Args:
        page: uint8 grey (height, width), print only, dark on light.
        words: Tesseract's words.
        boxes: int (n, 4), the parts of ink as x, y, width, height.
        pen: bool (n,), which parts are handwriting.
        reader: reads quantity-like spans, and what Tesseract passed over.
    """
    words += overlooked_words(words, boxes, pen)
    return read_lines(page, print_lines(words, boxes, pen), reader)


def overlooked_words(
    words: Sequence[RawWord], boxes: np.ndarray, pen: np.ndarray
) -> tuple[RawWord, ...]:
    """Small groups of printed ink that Tesseract passed over, such as a lone "2." in the margin.

    Args:
        words: Tesseract's words.
        boxes: int (n, 4), the parts of ink as x, y, width, height.
        pen: bool (n,), which parts are handwriting.

    Returns:
        Words without text (only a second reading can tell what they say), each a line of its own.
    """
    if not words:
        return ()
    height = float(np.median([word.box.height for word in words]))
    free = ~pen & (boxes[:, 3] < 1.6 * height) & (boxes[:, 2] < 3 * height)
    for word in words:
        box, slack = word.box, _BOX_OFF * word.box.height
        free &= ~(
            (boxes[:, 0] + boxes[:, 2] > box.x - slack)
            & (boxes[:, 0] < box.right + slack)
            & (boxes[:, 1] + boxes[:, 3] > box.y - slack)
            & (boxes[:, 1] < box.bottom + slack)
        )
    groups: list[Box] = []
    for x, y, width, tall in sorted(map(tuple, boxes[free].tolist())):
        part = Box(x, y, width, tall)
        near = next(
            (
                n
                for n, group in enumerate(groups)
                if part.x - group.right < _NEAR * height
                and min(part.bottom, group.bottom) > max(part.y, group.y) - 0.3 * height
            ),
            None,
        )
        if near is None:
            groups.append(part)
        else:
            groups[near] = groups[near].union(part)
    word_like = [
        group
        for group in groups
        if 0.5 * height <= group.height <= 1.8 * height and group.width <= 4 * height
    ]
    return tuple(RawWord(group, "", 0.0, (-1, 0, n)) for n, group in enumerate(word_like))


def print_lines(
    words: tuple[RawWord, ...], boxes: np.ndarray, pen: np.ndarray
) -> list[list[RawWord]]:
    """Words on printed ink gathered by line, in reading order.

    Args:
        words: Tesseract's words.
        boxes: int (n, 4), the parts of ink as x, y, width, height.
        pen: bool (n,), which parts are handwriting.
    """
    centre_x = boxes[:, 0] + boxes[:, 2] / 2
    centre_y = boxes[:, 1] + boxes[:, 3] / 2
    amount = boxes[:, 2] * boxes[:, 3]
    lines: dict[tuple[int, int, int], list[RawWord]] = {}
    for word in words:
        box = word.box
        slack = _BOX_OFF * box.height
        inside = (
            (centre_x >= box.x - slack)
            & (centre_x <= box.right + slack)
            & (centre_y >= box.y)
            & (centre_y <= box.bottom)
        )
        printed = amount[inside & ~pen].sum()
        if printed and printed >= amount[inside & pen].sum():
            lines.setdefault(word.line, []).append(word)
    ordered = [sorted(line, key=lambda w: w.box.x) for line in _in_rows(list(lines.values()))]
    return sorted(ordered, key=lambda line: (line[0].box.y, line[0].box.x))


def _in_rows(lines: list[list[RawWord]]) -> list[list[RawWord]]:
    """Lines in which a lone number or marks have joined the row they stand in."""
    rows = [line for line in lines if len(line) > 1 or len(line[0].text) > _LONE]
    for line in lines:
        if len(line) > 1 or len(line[0].text) > _LONE:
            continue
        own = line[0].box
        beside = [
            row
            for row in rows
            if min(own.bottom, _extent(row).bottom) - max(own.y, _extent(row).y) > 0.5 * own.height
            and (own.right <= _extent(row).x or own.x >= _extent(row).right)
        ]
        if beside:
            middle = own.centre[1]
            min(
                beside, key=lambda row: (len(row) == 1, abs(_extent(row).centre[1] - middle))
            ).extend(line)
        else:
            rows.append(line)
    return rows


def _extent(line: Sequence[RawWord]) -> Box:
    box = line[0].box
    for word in line[1:]:
        box = box.union(word.box)
    return box


def needs_reread(text: str) -> bool:
    """True for a token that may belong to a quantity, judged by its shape alone."""
    return bool(_SHAPE.search(text)) or not _PLAIN.match(text)


def spans_to_reread(
    texts: Sequence[str], after_gap: frozenset[int] = frozenset()
) -> list[tuple[int, int]]:
    """Half-open ranges of tokens to read again: quantity-like tokens with their neighbours.

    No span reaches over a wide gap; ``after_gap`` holds the tokens that have one before them.
    """
    doubtful = [needs_reread(t) for t in texts]
    chosen = list(doubtful)
    for i, flag in enumerate(doubtful):
        if flag and i + 1 < len(texts) and i + 1 not in after_gap:
            chosen[i + 1] |= len(texts[i + 1].strip(".,;:?!)")) <= 3
    spans: list[tuple[int, int]] = []
    for i, flag in enumerate(chosen):
        if flag and spans and spans[-1][1] == i and i not in after_gap:
            spans[-1] = (spans[-1][0], i + 1)
        elif flag:
            spans.append((i, i + 1))
    return spans


def wide_gaps(line: Sequence[RawWord]) -> frozenset[int]:
    """Tokens that stand apart from the one before, as text does from its question's number."""
    height = float(np.median([word.box.height for word in line]))
    return frozenset(
        i for i in range(1, len(line)) if line[i].box.x - line[i - 1].box.right > _WIDE_GAP * height
    )


def read_lines(
    page: np.ndarray, lines: Sequence[Sequence[RawWord]], reader: Reader
) -> tuple[Line, ...]:
    """Printed lines with quantity-like spans read again by ``reader``.

    Args:
        page: uint8 grey (height, width), print only, dark on light.
        lines: words of each line, left to right.
        reader: reads all spans in one call.
    """
    crops, places = [], []
    for n, line in enumerate(lines):
        for start, end in spans_to_reread([w.text for w in line], wide_gaps(line)):
            crops.append(span_image(page, line, start, end))
            places.append((n, start, end))
    readings = reader.read(crops) if crops else []
    by_line: dict[int, list[tuple[int, int, Reading]]] = {}
    for (n, start, end), reading in zip(places, readings, strict=True):
        by_line.setdefault(n, []).append((start, end, reading))
    composed = (_composed(line, by_line.get(n, [])) for n, line in enumerate(lines))
    return tuple(line for line in composed if line is not None)


def span_image(page: np.ndarray, line: Sequence[RawWord], start: int, end: int) -> np.ndarray:
    """Crop of tokens ``start`` to ``end``, tall enough for raised and lowered figures."""
    box = _extent(line[start:end])
    height = int(np.median([w.box.height for w in line]))
    rise, fall = round(0.45 * height), round(0.3 * height)
    left = line[start - 1].box.right + 2 if start else 0
    right = line[end].box.x - 2 if end < len(line) else page.shape[1]
    x0 = max(left, box.x - 6)
    x1 = min(right, box.right + 6)
    y0, y1 = max(0, box.y - rise), min(page.shape[0], box.bottom + fall)
    return page[y0:y1, min(x0, box.x) : max(x1, box.right)]


def _composed(line: Sequence[RawWord], spans: list[tuple[int, int, Reading]]) -> Line | None:
    """The line as a whole; None when nothing on it could be read."""
    words: list[Word] = []
    position = 0
    for start, end, reading in [*spans, (len(line), len(line), Reading())]:
        for raw in line[position:start]:
            words.append(Word(raw.box, _tesseract_reading(raw)))
        seen = any(raw.text for raw in line[start:end])
        if end > start and (seen or (reading.text and reading.confidence >= _LEAST_SURE)):
            words.append(Word(_extent(line[start:end]), reading, reread=True))
        position = end
    if not words:
        return None
    box = words[0].box
    for word in words[1:]:
        box = box.union(word.box)
    text = " ".join(w.reading.text for w in words if w.reading.text)
    sureness = min((w.reading.confidence for w in words), default=0.0)
    return Line("print", box, Reading((Candidate(text, sureness),)), words=tuple(words))


def _tesseract_reading(word: RawWord) -> Reading:
    return Reading((Candidate(normalise(word.text), max(0.0, word.confidence) / 100.0),))


def print_only(image: np.ndarray, keep: np.ndarray) -> np.ndarray:
    """Grey page on which only the pixels near ``keep`` (bool) are left, the rest white."""
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    soft = cv2.dilate(keep.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    return np.where(soft, grey, 255).astype(np.uint8)
