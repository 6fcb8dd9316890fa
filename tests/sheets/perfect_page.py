"""A sheet as a scanner without faults would give it: the truth's own lines, certain readings.

With it, understanding and judging are measured apart from seeing and reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scanner.layout import numbered_blocks
from scanner.page import AnswerSpace, Box, Line, Matrix, Page, Reading, Word

PIXELS_PER_MM = 10
Truth = Mapping[str, Any]


def perfect_page(truth: Truth) -> Page:
    """The page of one made sheet; overwritten answers are left without a reading."""
    pen = [_pen_line(line, truth) for line in truth["pen_lines"]]
    width, height = (round(v * PIXELS_PER_MM) for v in truth["page_mm"])
    return Page(
        photo=truth["photo"],
        number=1,
        size=(width, height),
        to_photo=_to_photo(truth),
        lines=numbered_blocks((*_print_lines(truth["print_lines"]), *pen)),
        spaces=tuple(AnswerSpace(s["kind"], _box(s["box"])) for s in truth["spaces"]),
    )


def _to_photo(truth: Truth) -> Matrix:
    rows = [(a / PIXELS_PER_MM, b / PIXELS_PER_MM, c) for a, b, c in truth["mm_to_photo"]]
    return rows[0], rows[1], rows[2]


def _box(millimetres: Sequence[float]) -> Box:
    x, y, width, height = (round(v * PIXELS_PER_MM) for v in millimetres)
    return Box(x, y, max(1, width), max(1, height))


def _pen_line(line: Truth, truth: Truth) -> Line:
    legible = all(
        answer["legible"]
        for question in truth["questions"]
        if question["number"] == line["question"] and line["role"] == "answer"
        for answer in question["answers"]
    )
    reading = Reading.certain(line["text"]) if legible else Reading()
    return Line("pen", _box(line["box"]), reading, struck=line["struck"])


def _print_lines(marks: Sequence[Truth]) -> list[Line]:
    """Chunks that stand side by side make one line; words share their chunk's width."""
    rows: list[list[Truth]] = []
    for mark in sorted(marks, key=lambda m: m["box"][1] + m["box"][3] / 2):
        middle = mark["box"][1] + mark["box"][3] / 2
        if rows and middle < max(m["box"][1] + m["box"][3] for m in rows[-1]) - 0.8:
            rows[-1].append(mark)
        else:
            rows.append([mark])
    return [_print_line(sorted(row, key=lambda m: m["box"][0])) for row in rows]


def _print_line(row: Sequence[Truth]) -> Line:
    words = [word for mark in row for word in _words(mark)]
    box = words[0].box
    for word in words[1:]:
        box = box.union(word.box)
    text = " ".join(mark["text"] for mark in row)
    return Line("print", box, Reading.certain(text), words=tuple(words))


def _words(mark: Truth) -> list[Word]:
    whole = _box(mark["box"])
    texts = mark["text"].split(" ")
    letters = sum(map(len, texts)) + len(texts) - 1
    words, at = [], 0
    for text in texts:
        x = whole.x + round(whole.width * at / letters)
        width = max(1, round(whole.width * len(text) / letters))
        box = Box(x, whole.y, width, whole.height)
        words.append(Word(box, Reading.certain(text), reread=True))
        at += len(text) + 1
    return words
