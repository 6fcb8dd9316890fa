"""Answers written in an exercise book, the questions being printed elsewhere.

The page is ruled paper with a margin line; the learner writes each question's number in the
margin. Also the questions as typed text, for a check that gets them apart from the photo.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping

import cv2
import numpy as np

from .draw_page import Layers, Mark, Sheet, empty_layers, plain_paper
from .learner import Learner
from .pens import PIXELS_PER_MM, Formed, Pen
from .photo import PAGE_MM
from .working import Written

RULING = 8.0
FIRST_LINE = 30.0
MARGIN = 27.0
LAST_LINE = 284.0
BLUE, RED = (165, 190, 222), (222, 130, 135)
RAISED = str.maketrans("0123456789-−+", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁻⁺")
LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")


class PageFull(ValueError):
    """The answers need more than one page."""


def ruled_paper(rng: np.random.Generator) -> np.ndarray:
    """A page of an exercise book: blue lines, a red margin; float32 RGB."""
    page = plain_paper(rng)
    for y in np.arange(FIRST_LINE, LAST_LINE, RULING):
        _line(page, (0, y), (PAGE_MM[0], y), BLUE)
    _line(page, (MARGIN, 0), (MARGIN, PAGE_MM[1]), RED)
    return page


def _line(page: np.ndarray, start: tuple[float, float], end: tuple[float, float], colour) -> None:
    ends = [tuple(round(v * PIXELS_PER_MM) for v in p) for p in (start, end)]
    cv2.line(page, ends[0], ends[1], colour, 2, cv2.LINE_AA)


def write_in_book(
    learner: Learner, answers: Mapping[str, Written], pen: Pen, rng: np.random.Generator
) -> Layers:
    """The learner's name and answers on ruled lines, numbers in the margin.

    Raises:
        PageFull: the answers need more than one page.
    """
    layers = empty_layers()
    title = pen.form(f"{learner.name}  {learner.group}")
    box = pen.put(title, layers.pen_mask, 110, FIRST_LINE - RULING - 1)
    layers.pen_marks.append(Mark(f"{learner.name} {learner.group}", box, "name"))
    y = FIRST_LINE
    for number, written in answers.items():
        for index, row in enumerate(written.rows):
            formed = _fitting(pen, row.text, PAGE_MM[0] - MARGIN - 14)
            baseline = _next_baseline(formed, y)
            if baseline + formed.drop > LAST_LINE + 4:
                raise PageFull
            if index == 0:
                label = pen.form(number, 0.9)
                box = pen.put(label, layers.pen_mask, 6 + float(rng.uniform(0, 3)), baseline)
                layers.pen_marks.append(Mark(number, box, "number", number))
            x = MARGIN + 3 + float(rng.uniform(0, 2))
            box = pen.put(formed, layers.pen_mask, x, baseline)
            last = index == len(written.rows) - 1 and written.value is not None
            role = "answer" if last else "working"
            layers.pen_marks.append(Mark(row.text, box, role, number, row.struck))
            y = baseline + formed.drop
        y += RULING * 0.8
    return layers


def _fitting(pen: Pen, text: str, room: float) -> Formed:
    scale = 0.92
    formed = pen.form(text, scale)
    while formed.width > room:
        scale *= 0.95
        formed = pen.form(text, scale)
    return formed


def _next_baseline(formed: Formed, y: float) -> float:
    """A plain row stands on a line; a fraction's bar lies on one; nothing above ``y``."""
    sink = -0.8 if formed.rise + formed.drop < 9 else 1.3
    lines_down = np.ceil((y - 0.6 + formed.rise - sink - FIRST_LINE) / RULING)
    return FIRST_LINE + RULING * max(0.0, float(lines_down)) + sink


def typed_text(sheet: Sheet) -> str:
    """The worksheet's questions as a teacher types them, raised figures in Unicode."""
    lines = [sheet.title, ""]
    if sheet.note:
        lines += [sheet.note, ""]
    for index, problem in enumerate(sheet.problems):
        joined = sheet.joined(index)
        if not joined:
            lines.append(f"{index + 1}. {problem.stem}")
        for place, part in enumerate(problem.parts):
            printed = sheet.number(index, place)[1]
            text = f"{problem.stem} {part.text}".strip() if joined else part.text
            lines.append(f"{printed} {text} ({part.marks})")
        lines.append("")
    return _typed("\n".join(lines)).rstrip() + "\n"


def _typed(text: str) -> str:
    out, level = [], None
    for piece in text.replace("^{", "\x01").replace("_{", "\x02"):
        if piece in "\x01\x02":
            level = RAISED if piece == "\x01" else LOWERED
        elif piece == "}":
            level = None
        else:
            out.append(piece.translate(level) if level else piece)
    return unicodedata.normalize("NFC", "".join(out)).replace("\u00a0", " ")
