"""Lays a worksheet out on A4 and writes a learner's answers into it.

Two layers of ink come out, print and pen, with the place of every line in millimetres.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np

from .amounts import Style
from .learner import Learner, reference_rows
from .pens import PIXELS_PER_MM, Formed, Pen, in_mm
from .photo import PAGE_MM
from .questions import Figure, Problem
from .typeset import Face, draw, set_line
from .working import Row, Written

SCHOOLS = (
    "Marula Ridge High School", "Kestrel Bay Secondary", "Quarry Hill College",
    "St Odile's School", "Baobab Flats High School", "Northwater Academy",
)  # fmt: skip
TITLES = (
    "Electrostatics worksheet", "Physics: electric charge and Coulomb's law", "Class test 2",
    "Homework: charges and fields", "Worksheet 4: Electrostatics", "Revision exercise",
)  # fmt: skip
BoxMm = tuple[float, float, float, float]


@dataclass(frozen=True)
class Sheet:
    """One printed worksheet: its problems, style and typesetting choices."""

    problems: tuple[Problem, ...]
    style: Style
    face: Face
    em: float
    school: str
    title: str
    numbering: str  # "dotted" 1.1, "lettered" 1 (a), "headed" QUESTION 1 and 1.1
    single_joined: bool
    spaces: str  # "blank", "rules", "box", "answer-line"
    marks_style: str  # "(4)" or "[4]"
    note: str | None = None
    roomy: bool = True  # space for full working, or just for substitution and answer

    def joined(self, problem: int) -> bool:
        """True when stem and question stand in one paragraph under one number."""
        own = self.problems[problem]
        return len(own.parts) == 1 and (self.single_joined or not own.stem)

    def number(self, problem: int, part: int) -> tuple[str, str]:
        """(number as findings name it, number as printed) of a part."""
        if self.joined(problem):
            return str(problem + 1), f"{problem + 1}."
        if self.numbering == "lettered":
            letter = "abcdef"[part]
            return f"{problem + 1}({letter})", f"({letter})"
        return f"{problem + 1}.{part + 1}", f"{problem + 1}.{part + 1}"


@dataclass(frozen=True)
class Mark:
    """A line of ink on the page: what it says and where, boxes as x, y, width, height in mm."""

    text: str
    box: BoxMm
    kind: str
    question: str | None = None
    struck: bool = False


@dataclass
class Layers:
    """Ink masks (uint8, 255 = full) and what was drawn where."""

    print_mask: np.ndarray
    pen_mask: np.ndarray
    print_marks: list[Mark] = field(default_factory=list)
    pen_marks: list[Mark] = field(default_factory=list)
    spaces: list[Mark] = field(default_factory=list)
    room: dict[str, BoxMm] = field(default_factory=dict)
    stems: dict[int, str] = field(default_factory=dict)


LEFT, RIGHT, TOP, BOTTOM = 18.0, 192.0, 14.0, 284.0
HANG = 13.0
RULING = 9.0


def empty_layers() -> Layers:
    shape = (round(PAGE_MM[1] * PIXELS_PER_MM), round(PAGE_MM[0] * PIXELS_PER_MM))
    return Layers(np.zeros(shape, np.uint8), np.zeros(shape, np.uint8))


# --- print -----------------------------------------------------------------------------------


def print_sheet(sheet: Sheet, layers: Layers) -> float:
    """Draw everything printed; fills ``layers.room`` by question number. Returns the last y."""
    writer = _Printer(sheet, layers)
    writer.header()
    for index, problem in enumerate(sheet.problems):
        writer.problem(index, problem)
    return writer.y


@dataclass
class _Printer:
    sheet: Sheet
    layers: Layers
    y: float = TOP

    def text(
        self, text: str, x: float, kind: str, question: str | None = None, scale: float = 1.0
    ) -> None:
        """One physical line at the present y (its baseline)."""
        setting = set_line(text, self.sheet.face, self.sheet.em * scale * PIXELS_PER_MM)
        place = draw(setting, self.layers.print_mask, x * PIXELS_PER_MM, self.y * PIXELS_PER_MM)
        self.layers.print_marks.append(Mark(text, in_mm(place), kind, question))

    def width(self, text: str, scale: float = 1.0) -> float:
        size = self.sheet.em * scale * PIXELS_PER_MM
        return set_line(text, self.sheet.face, size).width / PIXELS_PER_MM

    def rule(self, x0: float, y0: float, x1: float, y1: float, width: float = 0.25) -> None:
        ends = [round(v * PIXELS_PER_MM * 16) for v in (x0, y0, x1, y1)]
        thick = max(1, round(width * PIXELS_PER_MM))
        cv2.line(
            self.layers.print_mask, tuple(ends[:2]), tuple(ends[2:]), 230, thick, cv2.LINE_AA, 4
        )

    @property
    def leading(self) -> float:
        return self.sheet.em * 1.42

    def header(self) -> None:
        sheet = self.sheet
        self.y = TOP + 6
        self.text(sheet.school, LEFT, "header", scale=1.25)
        self.y += 9
        self.text("Name:", LEFT, "header")
        name_x = LEFT + self.width("Name:") + 2
        self.rule(name_x, self.y + 0.8, 118, self.y + 0.8)
        self.text("Class:", 124, "header")
        class_x = 124 + self.width("Class:") + 2
        self.rule(class_x, self.y + 0.8, RIGHT, self.y + 0.8)
        self.layers.room["name"] = (name_x, self.y - 8, 118 - name_x, 8.5)
        self.layers.room["class"] = (class_x, self.y - 8, RIGHT - class_x, 8.5)
        self.y += 10
        width = self.width(sheet.title, 1.3)
        self.text(sheet.title, (LEFT + RIGHT - width) / 2, "title", scale=1.3)
        self.y += 3
        self.rule(LEFT, self.y, RIGHT, self.y, 0.35)
        self.y += 3
        if sheet.note:
            self.y += self.leading
            self.paragraph(sheet.note, LEFT, RIGHT, "note", None)
        self.y += 2

    def paragraph(
        self, text: str, left: float, right: float, kind: str, question: str | None
    ) -> None:
        """Wrapped text from the present baseline; ends on the last line's baseline."""
        words, lines, line = text.split(" "), [], ""
        for word in words:
            longer = f"{line} {word}".strip()
            if line and self.width(longer) > right - left:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
        for index, line in enumerate(lines):
            if index:
                self.y += self.leading
            self.text(line, left, kind, question)

    def problem(self, index: int, problem: Problem) -> None:
        sheet = self.sheet
        self.y += self.leading + 1.5
        reference = reference_rows(problem, sheet.style, sheet.roomy)
        joined = sheet.joined(index)
        if not joined:
            self.stem(index, problem)
        for place, part in enumerate(problem.parts):
            name, printed = sheet.number(index, place)
            if not joined:
                self.y += self.leading + 1.0
            text = f"{problem.stem} {part.text}".strip() if joined else part.text
            self.text(printed, LEFT, "number", name)
            self.paragraph(text, LEFT + HANG, RIGHT - 12, "question", name)
            marks = sheet.marks_style.replace("4", str(part.marks))
            self.text(marks, RIGHT - self.width(marks), "marks", name)
            if joined and problem.figure is not None:
                self.figure(problem.figure)
            self.room(name, reference[part.key])

    def stem(self, index: int, problem: Problem) -> None:
        number = f"{index + 1}"
        if self.sheet.numbering == "headed":
            self.text(f"QUESTION {number}", LEFT, "number", number)
            self.y += self.leading
            self.paragraph(problem.stem, LEFT, RIGHT, "stem", number)
        else:
            dot = "." if self.sheet.numbering == "lettered" else ""
            self.text(number + dot, LEFT, "number", number)
            self.paragraph(problem.stem, LEFT + HANG, RIGHT, "stem", number)
        self.layers.stems[index] = number
        if problem.figure is not None:
            self.figure(problem.figure)

    def room(self, name: str, rows: Sequence[Row]) -> None:
        height = max(14.0, needed_height(rows) * (1.0 if self.sheet.roomy else 0.9))
        top = self.y + 2.5
        if self.sheet.spaces == "rules":
            lines = sum(2 if r"\frac" in row.text else 1 for row in rows)
            count = max(2, lines + 1 + lines // 5)
            height = count * RULING + 2
            for line in range(1, count + 1):
                self.rule(LEFT + HANG, top + RULING * line, RIGHT, top + RULING * line, 0.15)
                self.layers.spaces.append(
                    Mark(
                        "",
                        (LEFT + HANG, top + RULING * line, RIGHT - LEFT - HANG, 0.2),
                        "rule",
                        name,
                    )
                )
        elif self.sheet.spaces == "box":
            x0, x1, y1 = LEFT + HANG, RIGHT, top + height
            for edge in (
                (x0, top, x1, top),
                (x0, y1, x1, y1),
                (x0, top, x0, y1),
                (x1, top, x1, y1),
            ):
                self.rule(*edge)
            self.layers.spaces.append(Mark("", (x0, top, x1 - x0, height), "box", name))
        elif self.sheet.spaces == "answer-line":
            height += 2
            self.y = top + height - 2
            label = "Answer:"
            self.text(label, 100, "label", name)
            x = 100 + self.width(label) + 2
            self.rule(x, self.y + 0.8, RIGHT, self.y + 0.8)
            self.layers.spaces.append(Mark("", (x, self.y + 0.8, RIGHT - x, 0.2), "rule", name))
            self.layers.room[f"{name} answer"] = (x, self.y - 9, RIGHT - x, 9)
        self.layers.room[name] = (LEFT + HANG, top, RIGHT - LEFT - HANG, height)
        self.y = top + height

    def figure(self, figure: Figure) -> None:
        self.y += 16
        count = len(figure.bodies)
        xs = np.linspace(70, 140, count)
        for (label, value), x in zip(figure.bodies, xs, strict=True):
            centre = (round(x * PIXELS_PER_MM), round(self.y * PIXELS_PER_MM))
            cv2.circle(
                self.layers.print_mask, centre, round(3 * PIXELS_PER_MM), 230, 3, cv2.LINE_AA
            )
            base = self.y
            self.y = base + self.sheet.em * 0.33
            self.text(label, x - self.width(label) / 2, "figure")
            self.y = base - 5
            self.text(value, x - self.width(value) / 2, "figure")
            self.y = base
        self.y += 6
        for gap, x0, x1 in zip(figure.gaps, xs, xs[1:], strict=False):
            self.rule(x0, self.y, x1, self.y, 0.2)
            for x, way in ((x0, 1), (x1, -1)):
                self.rule(x, self.y, x + way * 2, self.y - 1, 0.2)
                self.rule(x, self.y, x + way * 2, self.y + 1, 0.2)
            base = self.y
            self.y = base + self.sheet.em * 1.05
            self.text(gap, (x0 + x1 - self.width(gap)) / 2, "figure")
            self.y = base
        self.y += 6


# --- pen ----------------------------------------------------------------------------------------


def needed_height(rows: Sequence[Row]) -> float:
    """Millimetres that rows of handwriting take, about."""
    return sum(13.5 if r"\frac" in row.text else 8.5 for row in rows) + 2


def write_answers(
    sheet: Sheet,
    learner: Learner,
    answers: dict[str, Written],
    pen: Pen,
    layers: Layers,
    rng: np.random.Generator,
) -> None:
    """Fill the rooms of ``layers`` with what the learner wrote, by question number."""
    for key, text in (("name", learner.name), ("class", learner.group)):
        x, y, width, height = layers.room[key]
        formed = pen.form(text, min(0.95, width / 25))
        box = pen.put(formed, layers.pen_mask, x + 2, y + height - 1.2)
        layers.pen_marks.append(Mark(text, box, "name"))
    for number, written in answers.items():
        if written.rows:
            _write_one(sheet, number, written, pen, layers, rng)


def _write_one(
    sheet: Sheet, number: str, written: Written, pen: Pen, layers: Layers, rng: np.random.Generator
) -> None:
    x, top, width, height = layers.room[number]
    on_line = layers.room.get(f"{number} answer")
    rows = list(written.rows)
    numeric = written.value is not None
    body = rows[:-1] if on_line and numeric else rows
    left = x + float(rng.uniform(2, 14))
    ruled = sheet.spaces == "rules"
    room = x + width - left - 2
    free = height - (10 if on_line else 2.5)
    formed = [_fitting(pen, row.text, 1.0, room) for row in body]
    tall = sum(f.rise + f.drop for f in formed)
    scale = min(1.0, free / (tall + 1.2 * len(body))) if body and not ruled else 0.95
    if scale < 1:
        formed = [_fitting(pen, row.text, max(scale, 0.6), room) for row in body]
        tall = sum(f.rise + f.drop for f in formed)
    gap = float(np.clip((free - tall) / max(len(body), 1), 0.6, rng.uniform(1.5, 3.5)))
    y = top + float(rng.uniform(1.3, 2.4))
    for index, row in enumerate(rows):
        last = index == len(rows) - 1
        role = "answer" if last and numeric else "working"
        if index == len(body):
            line_x, line_y, line_width, line_height = on_line or (0, 0, 0, 0)
            final = _fitting(pen, row.text, 0.95, line_width - 2)
            lift = 0.9 + max(0.0, final.drop - 1.5)
            box = pen.put(final, layers.pen_mask, line_x + 1.5, line_y + line_height - lift)
        else:
            form = formed[index]
            baseline = y + form.rise
            if ruled:
                # A plain row stands on a line; a fraction's bar lies on one.
                sink = -0.9 if form.rise + form.drop < 9 else 1.3
                lines_down = np.ceil((y - 0.6 + form.rise - sink - top) / RULING)
                baseline = top + RULING * max(1, lines_down) + sink
            y = baseline + form.drop + (0.3 if ruled else gap)
            box = pen.put(form, layers.pen_mask, left + float(rng.normal(0, 0.8)), baseline)
        if not written.legible and role == "answer":
            _overwrite(pen, row.text, layers.pen_mask, box, rng)
        layers.pen_marks.append(Mark(row.text, box, role, number, row.struck))


def _fitting(pen: Pen, text: str, scale: float, room: float) -> Formed:
    """``text`` written small enough for ``room`` millimetres, as writers squeeze."""
    formed = pen.form(text, scale)
    while formed.width > room and scale > 0.45:
        scale *= 0.97 * max(0.5, room / formed.width)
        formed = pen.form(text, scale)
    return formed


def _overwrite(pen: Pen, text: str, mask: np.ndarray, box: BoxMm, rng: np.random.Generator) -> None:
    """Write other figures over a line and go over it again until nobody could read it."""
    x, y, width, height = box
    for _ in range(2):
        other = "".join(str(rng.integers(10)) if c.isdigit() else c for c in text)
        formed = _fitting(pen, other, 1.0, width)
        pen.put(
            formed, mask, x + float(rng.uniform(-1, 1)), y + height * float(rng.uniform(0.8, 1))
        )
    t = np.linspace(0, 1, 200)
    turns = width / 3.5
    wave = np.sin(2 * np.pi * turns * t + rng.uniform(0, 6))
    path = np.stack([x + width * t + 0.8 * wave, y + height * (0.5 + 0.3 * wave)], 1)
    points = (path * PIXELS_PER_MM * 16).astype(np.int32)
    cv2.polylines(mask, [points], False, 255, round(pen.stroke * PIXELS_PER_MM), cv2.LINE_AA, 4)


# --- colour -----------------------------------------------------------------------------------


PEN_COLOURS = {"blue": (28, 48, 140), "black": (32, 32, 36), "pencil": (96, 96, 100)}


def plain_paper(rng: np.random.Generator) -> np.ndarray:
    """A white sheet in even light, float32 RGB."""
    height, width = (round(v * PIXELS_PER_MM) for v in PAGE_MM[::-1])
    paper = rng.uniform([244, 243, 236], [253, 252, 250]).astype(np.float32)
    return paper[None, None] + 1.3 * _grain(height, width, rng)[..., None]


def colour_page(
    layers: Layers, pen_colour: str, rng: np.random.Generator, paper: np.ndarray | None = None
) -> np.ndarray:
    """The page as it looks in even white light, uint8 RGB."""
    page = plain_paper(rng) if paper is None else paper
    height, width = layers.print_mask.shape
    grain = _grain(height, width, rng)
    tint = np.array(PEN_COLOURS[pen_colour], np.float32) + rng.uniform(-8, 8, 3).astype(np.float32)
    pressure = 0.88 + 0.06 * np.clip(grain, -2, 2)
    if pen_colour == "pencil":
        pressure = 0.72 + 0.14 * np.clip(grain, -2, 2)
    pen = np.clip(layers.pen_mask.astype(np.float32) / 255 * pressure, 0, 1)[..., None]
    black = np.float32(rng.uniform(20, 55))
    ink = layers.print_mask.astype(np.float32)[..., None] / 255
    page = page * (1 - ink) + black * ink
    page = page * (1 - pen) + np.minimum(page, tint) * pen
    return np.clip(page, 0, 255).astype(np.uint8)


def _grain(height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    small = rng.standard_normal((height // 4 + 1, width // 4 + 1)).astype(np.float32)
    return cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR)
