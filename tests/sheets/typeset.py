"""Sets one line of linear notation in a typeface: raised, lowered, stacked, rooted, struck out.

Printed lines and, where no real ink is at hand, handwriting typefaces go through here.
Lengths are pixels, y down, the origin on the baseline at the line's left end.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

_TOKEN = re.compile(r"\\frac\{|\\sqrt\{|\\struck\{|\^\{|_\{|\}\{|.", re.DOTALL)
_SUBSTITUTES = {"-": "−", "−": "-", "µ": "\u03bc", "∴": "", "Δ": "\u2206"}


@dataclass(frozen=True)
class Glyph:
    """A character with its typeface, size and place of its left baseline point."""

    character: str
    path: Path
    size: float
    x: float
    y: float


@dataclass(frozen=True)
class Rule:
    """A straight stroke: fraction bar, root, strike-out."""

    x0: float
    y0: float
    x1: float
    y1: float
    width: float


@dataclass(frozen=True)
class Setting:
    """A set line: what to draw, and its extent around the origin."""

    glyphs: tuple[Glyph, ...]
    rules: tuple[Rule, ...]
    width: float
    top: float
    bottom: float

    def moved(self, dx: float, dy: float) -> Setting:
        """The same setting at another place; ``width`` still counts from the old origin."""
        return Setting(
            tuple(Glyph(g.character, g.path, g.size, g.x + dx, g.y + dy) for g in self.glyphs),
            tuple(Rule(r.x0 + dx, r.y0 + dy, r.x1 + dx, r.y1 + dy, r.width) for r in self.rules),
            self.width + dx,
            self.top + dy,
            self.bottom + dy,
        )


@dataclass(frozen=True)
class Face:
    """A typeface with the ones that stand in for characters it lacks."""

    path: Path
    stand_ins: tuple[Path, ...] = ()

    def holder_of(self, character: str) -> Path:
        """The first typeface that has ``character``."""
        for path in (self.path, *self.stand_ins):
            if character in characters_of(path):
                return path
        return self.path


@dataclass(frozen=True)
class Wobble:
    """How unsteady the hand is, in parts of the size; all zero for print."""

    rng: np.random.Generator
    rise: float = 0.03
    scale: float = 0.05
    gap: float = 0.02


@lru_cache(maxsize=256)
def characters_of(path: Path) -> frozenset[str]:
    """The characters a font file can draw."""
    with TTFont(path, fontNumber=0, lazy=True) as font:
        return frozenset(map(chr, font.getBestCmap()))


@lru_cache(maxsize=512)
def _font(path: Path, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(path), size)


def set_line(text: str, face: Face, size: float, wobble: Wobble | None = None) -> Setting:
    """``text`` in linear notation (spaces drawn as they stand) set at ``size`` pixels an em."""
    tokens = [match.group() for match in _TOKEN.finditer(text)]
    setting, rest = _set(tokens, face, size, wobble)
    if rest:
        raise ValueError(f"unbalanced braces in {text!r}")
    return setting


def draw(setting: Setting, mask: np.ndarray, x: float, y: float) -> None:
    """Lay ``setting`` with its origin at (x, y) onto ``mask`` (uint8, 255 = full ink), in place."""
    margin = 12
    left, top = int(x) - margin, int(y + setting.top) - margin
    right, bottom = int(x + setting.width) + 3 * margin, int(y + setting.bottom) + 2 * margin
    left, top = max(left, 0), max(top, 0)
    right, bottom = min(right, mask.shape[1]), min(bottom, mask.shape[0])
    if right <= left or bottom <= top:
        return
    patch = Image.new("L", (right - left, bottom - top), 0)
    pen = ImageDraw.Draw(patch)
    for glyph in setting.glyphs:
        place = (x + glyph.x - left, y + glyph.y - top)
        font = _font(glyph.path, max(4, round(glyph.size)))
        pen.text(place, glyph.character, fill=255, font=font, anchor="ls")
    for rule in setting.rules:
        ends = [
            (x + rule.x0 - left, y + rule.y0 - top),
            (x + rule.x1 - left, y + rule.y1 - top),
        ]
        pen.line(ends, fill=255, width=max(1, round(rule.width)))
    region = mask[top:bottom, left:right]
    np.maximum(region, np.asarray(patch), out=region)


def _set(
    tokens: list[str], face: Face, size: float, wobble: Wobble | None
) -> tuple[Setting, list[str]]:
    """Set until the group's end; returns the setting and the tokens after the closing one."""
    glyphs: list[Glyph] = []
    rules: list[Rule] = []
    x, top, bottom = 0.0, -0.7 * size, 0.2 * size
    stroke = 0.05 * size
    axis = -0.28 * size

    def place(part: Setting, dx: float, dy: float) -> None:
        nonlocal top, bottom
        moved = part.moved(dx, dy)
        glyphs.extend(moved.glyphs)
        rules.extend(moved.rules)
        top, bottom = min(top, moved.top), max(bottom, moved.bottom)

    while tokens:
        token, tokens = tokens[0], tokens[1:]
        if token in ("}", "}{"):
            tokens = [token, *tokens]
            break
        if token in ("^{", "_{"):
            part, tokens = _group(tokens, face, 0.66 * size, wobble)
            place(part, x, -0.36 * size if token == "^{" else 0.16 * size)
            x += part.width + 0.03 * size
        elif token == r"\frac{":
            above, tokens = _group(tokens, face, 0.9 * size, wobble, "}{")
            below, tokens = _group(tokens, face, 0.9 * size, wobble)
            width = max(above.width, below.width) + 0.2 * size
            x += 0.08 * size
            place(above, x + (width - above.width) / 2, axis - 0.14 * size - above.bottom)
            place(below, x + (width - below.width) / 2, axis + 0.14 * size - below.top)
            tilt = 0.0 if wobble is None else wobble.rng.normal(0, 0.02) * size
            rules.append(Rule(x, axis + tilt, x + width, axis - tilt, stroke))
            x += width + 0.08 * size
        elif token == r"\sqrt{":
            part, tokens = _group(tokens, face, size, wobble)
            roof, foot = part.top - 0.12 * size, part.bottom
            sign = 0.5 * size
            place(part, x + sign, 0)
            corners = [
                (x, foot - 0.35 * (foot - roof)),
                (x + 0.2 * size, foot),
                (x + 0.42 * size, roof),
                (x + sign + part.width + 0.1 * size, roof),
            ]
            rules.extend(Rule(*a, *b, stroke) for a, b in zip(corners, corners[1:], strict=False))
            top = min(top, roof)
            x += sign + part.width + 0.12 * size
        elif token == r"\struck{":
            part, tokens = _group(tokens, face, size, wobble)
            place(part, x, 0)
            middle = -0.3 * size
            rules.append(
                Rule(
                    x - 0.1 * size, middle + 0.1 * size, x + part.width + 0.1 * size, middle, stroke
                )
            )
            rules.append(Rule(x, middle - 0.1 * size, x + part.width, middle + 0.14 * size, stroke))
            x += part.width + 0.05 * size
        else:
            drawn, path = _drawable(token, face)
            scale, rise, gap = size, 0.0, 0.0
            if wobble is not None:
                scale *= 1 + wobble.rng.normal(0, wobble.scale)
                rise = wobble.rng.normal(0, wobble.rise) * size
                gap = wobble.rng.normal(0, wobble.gap) * size
            if drawn.strip():
                glyphs.append(Glyph(drawn, path, scale, x, rise))
            x += _font(path, max(4, round(scale))).getlength(drawn) + gap
    return Setting(tuple(glyphs), tuple(rules), x, top, bottom), tokens


def _group(
    tokens: list[str], face: Face, size: float, wobble: Wobble | None, end: str = "}"
) -> tuple[Setting, list[str]]:
    part, rest = _set(tokens, face, size, wobble)
    if not rest or rest[0] != end:
        raise ValueError("unbalanced braces")
    return part, rest[1:]


def _drawable(character: str, face: Face) -> tuple[str, Path]:
    if character in characters_of(face.path):
        return character, face.path
    other = _SUBSTITUTES.get(character)
    if other and other in characters_of(face.path):
        return other, face.path
    return character, face.holder_of(character)
