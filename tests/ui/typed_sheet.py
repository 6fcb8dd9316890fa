"""A sheet of the bead scenario from typed questions and typed readings: no photo, no reader.

The parser understands the questions and the solver judges the lines; only the page is drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw

from parser.assemble import worksheet_from_text
from parser.worksheet import Question, WrittenLine
from scanner.page import Box, Candidate, Line, Page, Reading
from solver.marking import check_worksheet
from ui.checked import CheckedSheet

SIZE = (1240, 1754)
QUESTIONS = """
1. Bead A carries a charge of -3.6 nC and bead B carries +4.8 nC. They are 12 cm apart.
1.1 Calculate the magnitude of the force that bead B exerts on bead A. (4)
1.2 The beads touch and are separated again. Calculate the charge on each bead. (3)
2. Bead C carries a charge of +2.0 nC. Calculate the magnitude of its electric field at a
   point P that is 30 cm away. (3)
3. A force of 6.0 µN acts on a charge of 2.0 nC. Calculate the magnitude of the electric field
   there. (3)
4. Calculate the pitch at which the two beads hum. (2)
5. A force of 6.0 µN acts on a charge of 3.0 nC. Calculate the magnitude of the electric field
   there. (3)
6. Explain why the beads move apart. (2)
"""
ODD_SIGNS = (
    r"5 % of $3 & #1 ~ <2> |x| \struck{x} '∴≈≠∝→⇒←↑↓∞⟂°µΩΔΣθλρεπσαβφωγτην±≤≥÷×·",
    r"{a}^~\b $x$ <b>no</b> [x](y) `c` :red[d]",
)
LINES: dict[str, list[Reading]] = {
    "1.1": [
        Reading.certain(r"F=\frac{kQ_{1}Q_{2}}{r^{2}}"),
        Reading.certain(r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{12^{2}}"),
        Reading((Candidate("F=1.08×10^{-9} N", 0.97),)),
    ],
    "1.2": [Reading.certain(r"Q=\frac{-3.6+4.8}{2}"), Reading.certain("Q=0.60 nC")],
    "2": [Reading.certain("E=200")],
    "3": [Reading((Candidate("E=3000 N/C", 0.5), Candidate("E=8000 N/C", 0.45)))],
    "4": [Reading.certain("440 Hz")],
    "5": [],
    "6": [Reading.certain(text) for text in ODD_SIGNS],
}

PUT_RIGHT = {
    **LINES,
    "1.1": [
        LINES["1.1"][0],
        Reading.certain(r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}"),
        Reading.certain("F=1.08×10^{-5} N"),
    ],
}


def typed_sheet(lines: Mapping[str, list[Reading]] = LINES) -> CheckedSheet:
    """Questions with the verdicts differs, agrees, incomplete, unread, unsolved, blank, unread."""
    worksheet = worksheet_from_text(QUESTIONS)
    placed, top = [], 100
    for question in worksheet.questions:
        placed.append(_placed(question, lines[question.number], top))
        top += 110 + 80 * len(lines[question.number])
    worksheet = replace(worksheet, questions=tuple(placed))
    return CheckedSheet(worksheet, check_worksheet(worksheet), _page(placed))


def _placed(question: Question, readings: list[Reading], top: int) -> Question:
    lines = tuple(
        WrittenLine(reading, Box(140, top + 60 + 80 * place, 520, 60))
        for place, reading in enumerate(readings)
    )
    return replace(question, lines=lines, box=Box(100, top, 1000, 40))


def _page(questions: list[Question]) -> Page:
    image = Image.new("RGB", SIZE, "white")
    draw = ImageDraw.Draw(image)
    lines = []
    for question in questions:
        assert question.box is not None
        draw.text(question.box[:2], question.number, "black", font_size=28)
        lines.append(Line("print", question.box, Reading.certain(question.text)))
        for line in question.lines:
            assert line.box is not None
            draw.rectangle((*line.box[:2], line.box.right, line.box.bottom), "#eef1f8")
            lines.append(Line("pen", line.box, line.reading))
    return Page(
        "typed.png",
        1,
        SIZE,
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
        tuple(lines),
        image=np.asarray(image),
    )
