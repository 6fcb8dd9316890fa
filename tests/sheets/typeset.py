"""Sets one printed line in a typeface, with real raised and lowered characters.

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

_RUN = re.compile(r"\^\{([^{}]*)\}|_\{([^{}]*)\}|([^{}^_]+)")
SCRIPT_SIZE = 0.66
RAISED_BY = 0.36
LOWERED_BY = 0.16
LOOK_ALIKES = {"−": "-", "µ": "\u03bc"}


@dataclass(frozen=True)
class Face:
    """A typeface with the ones that stand in for characters it lacks."""

    path: Path
    stand_ins: tuple[Path, ...] = ()

    def font_for(self, character: str) -> tuple[Path, str]:
        """The font file that draws ``character`` and the character to ask it for."""
        for path in (self.path, *self.stand_ins):
            if character in characters_of(path):
                return path, character
            other = LOOK_ALIKES.get(character)
            if other and other in characters_of(path):
                return path, other
        return self.path, character


@dataclass(frozen=True)
class Piece:
    """Characters drawn with one font: what, with what, how large, and where."""

    text: str
    path: Path
    size: int
    x: float
    y: float


@dataclass(frozen=True)
class Setting:
    """A set line."""

    pieces: tuple[Piece, ...]
    width: float
    size: float


@lru_cache(maxsize=64)
def characters_of(path: Path) -> frozenset[str]:
    """The characters a font file can draw."""
    with TTFont(path, fontNumber=0, lazy=True) as font:
        return frozenset(map(chr, font.getBestCmap()))


@lru_cache(maxsize=256)
def _font(path: Path, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(path), size)


def set_line(text: str, face: Face, size: float) -> Setting:
    """``text`` with ``^{..}`` and ``_{..}`` set at ``size`` pixels an em, spaces as they stand."""
    pieces: list[Piece] = []
    x = 0.0
    for raised, lowered, level in (match.groups() for match in _RUN.finditer(text)):
        plain = raised or lowered or level
        own_size = max(4, round(size if level else SCRIPT_SIZE * size))
        y = -RAISED_BY * size if raised else LOWERED_BY * size if lowered else 0.0
        for path, part in _by_font(plain, face):
            pieces.append(Piece(part, path, own_size, x, y))
            x += _font(path, own_size).getlength(part)
    return Setting(tuple(pieces), x, size)


def _by_font(text: str, face: Face) -> list[tuple[Path, str]]:
    runs: list[tuple[Path, str]] = []
    for character in text:
        path, drawn = face.font_for(character)
        if runs and runs[-1][0] == path:
            runs[-1] = (path, runs[-1][1] + drawn)
        else:
            runs.append((path, drawn))
    return runs


def draw(
    setting: Setting, mask: np.ndarray, x: float, y: float, ink: int = 255
) -> tuple[int, int, int, int]:
    """Lay ``setting`` with its origin at (x, y) onto ``mask`` (uint8, 255 = full ink), in place.

    Returns:
        The box of its ink: x, y, width, height in pixels of ``mask``.
    """
    left, top = max(0, int(x) - 8), max(0, int(y - 1.3 * setting.size))
    right = min(mask.shape[1], int(x + setting.width) + 16)
    bottom = min(mask.shape[0], int(y + 0.6 * setting.size))
    if right <= left or bottom <= top:
        return left, top, 0, 0
    patch = Image.new("L", (right - left, bottom - top), 0)
    pen = ImageDraw.Draw(patch)
    for piece in setting.pieces:
        place = (x + piece.x - left, y + piece.y - top)
        pen.text(place, piece.text, fill=ink, font=_font(piece.path, piece.size), anchor="ls")
    drawn = np.asarray(patch)
    np.maximum(mask[top:bottom, left:right], drawn, out=mask[top:bottom, left:right])
    box = patch.getbbox() or (0, 0, 0, 0)
    return left + box[0], top + box[1], box[2] - box[0], box[3] - box[1]
