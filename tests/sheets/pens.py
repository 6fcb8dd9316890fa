"""Pens: a writer's hand, the size of the writing and the width of the stroke.

Hands come from real strokes (``--ink FOLDER``: the prepared ``hands.npz`` of
``scanner.training.gather``, writers held out of training only) or, without it, from the centre
lines of handwriting typefaces.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from scanner.training.compose import draw, draw_style, write
from scanner.training.gather import gather_hands, typeface_hands
from scanner.training.hands import FILE_NAME, Hand, HandBook, drawn_signs, make_glyph

PIXELS_PER_MM = 12
# White between neighbours, in digit heights: closer, a decimal point hides in the next figure.
LEAST_GAP = 0.09


def in_mm(box: tuple[int, int, int, int]) -> tuple[float, float, float, float]:
    """A box of page pixels in millimetres."""
    x, y, width, height = (round(float(v) / PIXELS_PER_MM, 2) for v in box)
    return x, y, width, height


@dataclass(frozen=True)
class Formed:
    """Written ink, not yet on the page: mask (uint8, 255 = ink) and extents in mm.

    ``rise`` and ``drop`` count from the baseline up and down to the edge of the ink.
    """

    mask: np.ndarray
    width: float
    rise: float
    drop: float


@dataclass
class Pen:
    """One learner's pen. ``digit`` and ``stroke`` are millimetres."""

    hand: Hand
    digit: float
    stroke: float
    rng: np.random.Generator

    def __post_init__(self) -> None:
        self._style = draw_style(self.rng, self.hand)

    def form(self, text: str, scale: float = 1.0) -> Formed:
        """``text`` in linear notation, written at ``scale`` times the usual size."""
        fresh = draw_style(self.rng, self.hand)
        style = replace(
            self._style,
            gap=max(self._style.gap, LEAST_GAP + self.stroke / (self.digit * scale)),
            script_size=min(self._style.script_size, 0.66),
            raise_by=max(self._style.raise_by, 0.55),
            gap_jitter=min(self._style.gap_jitter, 0.04),
            slope=0.5 * fresh.slope,
            wander=min(fresh.wander, 0.06),
            bar_tilt=0.6 * fresh.bar_tilt,
            pen=self.stroke / (self.digit * scale),
        )
        height = self.digit * scale * PIXELS_PER_MM
        ink = write(text, self.hand, self.rng, height, style)
        margin = 4
        grey = draw(ink, self.rng, (margin,) * 4, pressure=style.pressure)
        rise = ink.baseline / PIXELS_PER_MM
        return Formed(
            mask=255 - grey,
            width=ink.box[2] / PIXELS_PER_MM,
            rise=rise,
            drop=ink.box[3] / PIXELS_PER_MM - rise,
        )

    def put(
        self, formed: Formed, mask: np.ndarray, x: float, y: float
    ) -> tuple[float, float, float, float]:
        """Lay ink with its left end at x and its baseline at y (mm); returns its box in mm."""
        margin = 4
        left = round(x * PIXELS_PER_MM) - margin
        top = round((y - formed.rise) * PIXELS_PER_MM) - margin
        high, wide = formed.mask.shape
        y0, x0 = max(0, top), max(0, left)
        y1, x1 = min(mask.shape[0], top + high), min(mask.shape[1], left + wide)
        region = mask[y0:y1, x0:x1]
        np.maximum(region, formed.mask[y0 - top : y1 - top, x0 - left : x1 - left], out=region)
        rows, columns = np.nonzero(formed.mask > 60)
        box = (
            left + columns.min(),
            top + rows.min(),
            columns.max() - columns.min() + 1,
            rows.max() - rows.min() + 1,
        )
        return in_mm(box)


@lru_cache(maxsize=2)
def held_out_hands(folder: Path) -> HandBook:
    """Writers whose ink the line reader was not trained on.

    ``folder`` holds either ``hands.npz`` or the stroke files that it is gathered from.
    """
    if (folder / FILE_NAME).exists():
        return HandBook.load(folder, validation=True)
    with tempfile.TemporaryDirectory() as gathered:
        gather_hands(folder, [], Path(gathered))
        return HandBook.load(Path(gathered), validation=True)


def real_hand(folder: Path, rng: np.random.Generator) -> Hand:
    """A held-out writer, at random."""
    return held_out_hands(folder).any_hand(rng, typeface_share=0.0)


def hand_named(folder: Path, name: str, rng: np.random.Generator) -> Hand:
    """The held-out writer called ``name``."""
    book = held_out_hands(folder)
    return book.hand([hand.name for hand in book.hands].index(name), rng)


@lru_cache(maxsize=16)
def _traced(path: Path) -> Hand:
    name, glyphs, pen = next(typeface_hands(path.stem, [path]))
    own: dict[str, list] = {}
    for character, strokes, advance in glyphs:
        own.setdefault(character, []).append(make_glyph(strokes, advance))
    return Hand(name, True, own, pen=pen)


def hand_of_typeface(path: Path, rng: np.random.Generator, lenders: tuple[Path, ...]) -> Hand:
    """A handwriting typeface as a hand; what it lacks is drawn or lent by others."""
    own = _traced(path)
    signs = Hand("signs", False, drawn_signs(rng))
    return replace(own, donors=(signs, *(_traced(p) for p in lenders)))
