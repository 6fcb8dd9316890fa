"""Printed lines: a label set in one of many typefaces, as a worksheet would print it.

A character is only drawn from a font file that has it (``fonts.json`` lists each file's
characters); a label that no file can print raises ``ValueError``.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.random import Generator
from PIL import Image, ImageDraw, ImageFont

from scanner.reader import notation
from scanner.training.compose import Node, parse
from scanner.training.hands import is_validation

VALIDATION_SHARE = 0.16
CACHED_FONTS = 600
# Families with mathematical signs, for what a typeface lacks (as page makers fall back).
FALLBACK_FAMILIES = ("dejavusans", "dejavuserif", "freeserif", "stixgeneral", "freesans")
MINUS_FORMS = ("-", "−", "−", "−", "–")
BINARY = frozenset("=≈≠<>≤≥×÷±∝→⇒")


@dataclass(frozen=True)
class FontFile:
    path: Path
    characters: frozenset[str]


@dataclass(frozen=True)
class Face:
    """One style of one typeface: its font files, the main one first."""

    family: str
    style: str
    files: tuple[FontFile, ...]

    def file_for(self, char: str) -> FontFile | None:
        return next((f for f in self.files if char in f.characters), None)


def _is_held_out(family: str, use: str) -> bool:
    """Handwriting typefaces are split as the hands made of their centre lines are."""
    if use == "handwriting":
        return is_validation(f"typeface:{family}")
    return is_validation(family, VALIDATION_SHARE)


class FontBook:
    """Faces of one split, and the faces that lend missing signs."""

    def __init__(self, folder: Path, validation: bool, use: str = "print") -> None:
        entries = json.loads((folder / "fonts" / "fonts.json").read_text(encoding="utf-8"))
        faces = [
            Face(
                e["family"],
                e["style"],
                tuple(
                    FontFile(folder / "fonts" / f["file"], frozenset(f["characters"]))
                    for f in e["files"]
                ),
            )
            for e in entries
        ]
        uses = [e["use"] for e in entries]
        self.lenders = tuple(
            f
            for f in faces
            if f.family in FALLBACK_FAMILIES and _is_held_out(f.family, "print") == validation
        )
        self.faces = tuple(
            f
            for f, u in zip(faces, uses, strict=True)
            if u == use and _is_held_out(f.family, use) == validation
        )
        self._families: dict[str, list[Face]] = {}
        for face in self.faces:
            self._families.setdefault(face.family, []).append(face)
        self._names = sorted(self._families)
        self._loaded: OrderedDict[tuple[Path, int], ImageFont.FreeTypeFont] = OrderedDict()

    def any_face(self, rng: Generator) -> Face:
        """A random face: families equally likely, then styles."""
        styles = self._families[self._names[int(rng.random() * len(self._names))]]
        return styles[int(rng.random() * len(styles))]

    def face_that_prints(self, text: str, rng: Generator) -> Face | None:
        """A random face that has every character of ``text`` itself; None when few have."""
        needed = {c for node in notation.tokenise(text) if len(c := notation.TOKENS[node]) == 1}
        needed -= {" ", notation.CLOSE}
        for _ in range(6):
            face = self.any_face(rng)
            if all(face.file_for(c) for c in needed):
                return face
        return None

    def file_for(self, face: Face, char: str, number: int) -> FontFile:
        found = face.file_for(char)
        if found is None:
            able = [f for lender in self.lenders if (f := lender.file_for(char))]
            if not able:
                raise ValueError(f"no typeface prints {char!r}")
            found = able[number % len(able)]
        return found

    def font(self, file: FontFile, size: int) -> ImageFont.FreeTypeFont:
        key = (file.path, size)
        font = self._loaded.get(key)
        if font is None:
            font = ImageFont.truetype(str(file.path), size, layout_engine=ImageFont.Layout.BASIC)
            self._loaded[key] = font
            if len(self._loaded) > CACHED_FONTS:
                self._loaded.popitem(last=False)
        else:
            self._loaded.move_to_end(key)
        return font


@dataclass
class _Run:
    """Text at a place: drawn with its baseline at (x, y)."""

    text: str
    font: ImageFont.FreeTypeFont
    x: float
    y: float


class _Setter:
    """Sets a token tree in type; lengths in pixels, the baseline at y = 0."""

    def __init__(self, book: FontBook, face: Face, em: int, rng: Generator) -> None:
        self.book, self.face, self.em, self.rng = book, face, em, rng
        u = rng.random(13)
        self.minus = MINUS_FORMS[int(u[0] * len(MINUS_FORMS))]
        if face.file_for(self.minus) is None:
            self.minus = "-"
        self.micro = "μ" if u[1] < 0.4 and face.file_for("μ") else "µ"
        self.quotes = u[2] < 0.5
        self.operator_space = em * (0.0, 0.0, 0.17, 0.25, 0.3)[int(u[3] * 5)]
        self.minus_space = self.operator_space if u[4] < 0.8 else 0.0
        self.space_scale = 0.75 + 0.6 * u[5]
        self.unit_space = (0.6, 1.0, 1.0)[int(u[6] * 3)]
        self.script_size = 0.58 + 0.14 * u[7]
        self.raise_by = 0.3 + 0.18 * u[8]
        self.lower_by = 0.08 + 0.16 * u[9]
        self.ready_made = u[10] < 0.15
        self.times = "x" if u[12] < 0.1 else "×"
        self.lender = int(u[11] * 100)
        self.runs: list[_Run] = []
        self.rules: list[tuple[float, float, float, float, float]] = []

    def put(self, nodes: list[Node], x: float, y: float, size: float) -> float:
        previous = ""
        at = 0
        while at < len(nodes):
            node = nodes[at]
            at += 1
            if isinstance(node, str):
                x = self._put_character(node, previous, x, y, size)
                previous = node
                continue
            opener = node[0]
            if opener in (notation.RAISED, notation.LOWERED):
                end = self._put_script(node, x, y, size)
                other = {notation.RAISED, notation.LOWERED} - {opener}
                if at < len(nodes) and nodes[at][0] in other and self.rng.random() < 0.8:
                    end = max(end, self._put_script(nodes[at], x, y, size))
                    at += 1
                x = end
            elif opener == notation.FRACTION:
                x = self._put_fraction(node, x, y, size)
            elif opener == notation.ROOT:
                x = self._put_root(node, x, y, size)
            else:
                since = x
                x = self.put(node[1] or list("000"), x, y, size)
                self.rules.append((since, y - 0.25 * size, x, y - 0.25 * size, size / 12))
            previous = "}"
        return x

    def _put_character(self, char: str, previous: str, x: float, y: float, size: float) -> float:
        if char == " ":
            space = 0.27 * size * self.space_scale
            return x + (space * self.unit_space if previous.isdigit() or previous == "}" else space)
        binary = char in BINARY or (
            char in "+-" and previous not in "" and previous not in " (=[" + "".join(BINARY)
        )
        around = 0.0
        if binary and previous:
            around = self.minus_space if char in "+-" else self.operator_space
            around *= size / self.em
        shown = {"-": self.minus, "µ": self.micro, "×": self.times}.get(char, char)
        if self.quotes and char == "'" and self.face.file_for("’"):
            shown = "’"
        file = self.book.file_for(self.face, shown, self.lender)
        font = self.book.font(file, max(5, round(size)))
        x += around
        run = self.runs[-1] if self.runs else None
        if run is not None and run.font is font and run.y == y and run.x + _length(run) == x:
            run.text += shown
        else:
            run = _Run(shown, font, x, y)
            self.runs.append(run)
        return run.x + _length(run) + around

    def _put_script(self, node: tuple, x: float, y: float, size: float) -> float:
        raised = node[0] == notation.RAISED
        body = node[1]
        if raised and self.ready_made and all(isinstance(c, str) for c in body):
            text = "".join(body)
            if all(c in "0123456789-+" for c in text):
                shown = text.translate(str.maketrans("0123456789-+", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺"))
                file = self.face.files[0]
                if all(c in file.characters for c in shown):
                    run = _Run(shown, self.book.font(file, max(5, round(size))), x, y)
                    self.runs.append(run)
                    return run.x + _length(run)
        dy = -self.raise_by * size if raised else self.lower_by * size
        spacing, self.operator_space = self.operator_space, 0.0
        minus, self.minus_space = self.minus_space, 0.0
        end = self.put(body, x + 0.02 * size, y + dy, size * self.script_size)
        self.operator_space, self.minus_space = spacing, minus
        return end + 0.03 * size

    def _extent(self, runs_from: int, rules_from: int) -> tuple[float, float, float, float]:
        boxes = []
        for run in self.runs[runs_from:]:
            left, top, right, bottom = run.font.getbbox(run.text, anchor="ls")
            boxes.append((run.x + left, run.y + top, run.x + right, run.y + bottom))
        for x0, y0, x1, y1, thick in self.rules[rules_from:]:
            boxes.append((x0, min(y0, y1) - thick, x1, max(y0, y1) + thick))
        if not boxes:
            return 0.0, -1.0, 1.0, 0.0
        left, top, right, bottom = zip(*boxes, strict=True)
        return min(left), min(top), max(right), max(bottom)

    def _shift(self, runs: slice, rules: slice, dx: float, dy: float) -> None:
        for run in self.runs[runs]:
            run.x += dx
            run.y += dy
        for i in range(*rules.indices(len(self.rules))):
            x0, y0, x1, y1, thick = self.rules[i]
            self.rules[i] = (x0 + dx, y0 + dy, x1 + dx, y1 + dy, thick)

    def _put_fraction(self, node: tuple, x: float, y: float, size: float) -> float:
        small = size * (0.7 if self.rng.random() < 0.4 else 1.0 if size == self.em else 0.75)
        a, ra = len(self.runs), len(self.rules)
        self.put(node[1], 0.0, 0.0, small)
        top = self._extent(a, ra)
        b, rb = len(self.runs), len(self.rules)
        self.put(node[2], 0.0, 0.0, small)
        low = self._extent(b, rb)
        reach = max(top[2] - top[0], low[2] - low[0])
        start, axis, gap = x + 0.12 * size, y - 0.27 * size, 0.12 * size
        dx = start + (reach - (low[2] - low[0])) / 2 - low[0]
        self._shift(slice(b, None), slice(rb, None), dx, axis + gap - low[1])
        dx = start + (reach - (top[2] - top[0])) / 2 - top[0]
        self._shift(slice(a, b), slice(ra, rb), dx, axis - gap - top[3])
        self.rules.append((start - 0.04 * size, axis, start + reach + 0.04 * size, axis, size / 18))
        return start + reach + 0.12 * size

    def _put_root(self, node: tuple, x: float, y: float, size: float) -> float:
        a, ra = len(self.runs), len(self.rules)
        hook = 0.5 * size
        end = self.put(node[1], x + hook + 0.08 * size, y, size)
        box = self._extent(a, ra)
        roof, floor, thick = box[1] - 0.12 * size, box[3] + 0.04 * size, size / 18
        self.rules += [
            (x + 0.04 * size, y - 0.3 * size, x + 0.16 * size, y - 0.36 * size, thick),
            (x + 0.16 * size, y - 0.36 * size, x + 0.3 * size, floor, 1.8 * thick),
            (x + 0.3 * size, floor, x + hook, roof, thick),
            (x + hook, roof, end + 0.05 * size, roof, thick),
        ]
        return end + 0.1 * size


def _length(run: _Run) -> float:
    return run.font.getlength(run.text)


def set_in_type(
    text: str,
    book: FontBook,
    face: Face,
    em: int,
    rng: Generator,
    margin: tuple[int, int, int, int],
    beside: tuple[str, str] = ("", ""),
    shade: int = 0,
) -> np.ndarray:
    """``text`` (in the notation) printed in ``face`` at ``em`` pixels.

    Args:
        margin: left, top, right, bottom in pixels.
        beside: text before and after, of which only what falls inside the margin shows.
        shade: grey of the print.

    Returns:
        uint8 (height, width), dark on white.
    """
    setter = _Setter(book, face, em, rng)
    setter.put(parse(text), 0.0, 0.0, float(em))
    left, top, right, bottom = setter._extent(0, 0)
    top, bottom = min(top, -0.45 * em), max(bottom, 0.0)
    width = round(right - left + margin[0] + margin[2])
    height = round(bottom - top + margin[1] + margin[3])
    image = Image.new("L", (max(width, 8), max(height, 8)), 255)
    canvas = ImageDraw.Draw(image)
    dx, dy = margin[0] - left, margin[1] - top
    for run in setter.runs:
        canvas.text((run.x + dx, run.y + dy), run.text, fill=shade, font=run.font, anchor="ls")
    for x0, y0, x1, y1, thick in setter.rules:
        canvas.line((x0 + dx, y0 + dy, x1 + dx, y1 + dy), fill=shade, width=max(1, round(thick)))
    main = book.font(face.files[0], em)
    space = 0.3 * em
    if beside[0]:
        canvas.text((margin[0] - space, dy), beside[0], fill=shade, font=main, anchor="rs")
    if beside[1]:
        place = (margin[0] + right - left + space, dy)
        canvas.text(place, beside[1], fill=shade, font=main, anchor="ls")
    return np.asarray(image)
