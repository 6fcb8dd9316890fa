"""Writers: which pen strokes one hand has for each character, and how to borrow what it lacks.

All ink is kept as strokes in units of the hand's own digit height (``UNIT`` = 1000), y down,
with y = 0 on the writing baseline and x = 0 at the left edge of the ink.  Sources are people
(UNIPEN, Pendigits, Omniglot) and the centre lines of handwriting typefaces; signs that no source
has are drawn by ``drawn_signs``.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.random import Generator

UNIT = 1000.0
VALIDATION_SHARE = 0.12
FILE_NAME = "hands.npz"
BORROWINGS_KEPT = 6
FEWEST_DIGITS = 7  # a writer with fewer has too little of a hand of their own


def is_validation(name: str, share: float = VALIDATION_SHARE) -> bool:
    """True for the writers and typefaces held out of training; stable across runs and machines."""
    digest = hashlib.sha256(name.encode()).digest()
    return int.from_bytes(digest[:4], "big") / 2**32 < share


@dataclass(frozen=True)
class Ink:
    """Pen strokes on paper.

    Attributes:
        polylines: float arrays (n, 2), pixels, y down; a dot is a polyline of one point.
        baseline: y of the writing baseline at the left end.
        box: bounding box ``(x, y, width, height)`` of the pen's centre line.
        pen: width of the pen stroke in pixels that suits this ink.
    """

    polylines: tuple[np.ndarray, ...]
    baseline: float
    box: tuple[float, float, float, float]
    pen: float


@dataclass(frozen=True)
class Glyph:
    """One sample of one character: stroke arrays, ink width, advance, and top and bottom."""

    strokes: tuple[np.ndarray, ...]
    left: float
    width: float
    top: float
    bottom: float
    advance: float | None = None


@dataclass(frozen=True)
class Hand:
    """One writer.  ``samples(char)`` gives this hand's glyphs, its own or borrowed."""

    name: str
    is_typeface: bool
    own: dict[str, list[Glyph]]
    donors: tuple[Hand, ...] = ()
    pen: float = 0.05
    _cache: dict[str, list[Glyph]] = field(default_factory=dict, repr=False, compare=False)

    def samples(self, char: str) -> list[Glyph]:
        """Glyphs of ``char``: never empty for a character of the notation, except the space."""
        found = self._cache.get(char)
        if found is None:
            found = self._cache[char] = self._find(char)
        return found

    def _find(self, char: str) -> list[Glyph]:
        if char in self.own:
            return self.own[char]
        made = _made_from_own(char, self.own)
        if made:
            return made
        for donor in self.donors:
            if char in donor.own:
                return donor.own[char]
        for donor in self.donors:
            made = _made_from_own(char, donor.own)
            if made:
                return made
        return []


def make_glyph(strokes: list[np.ndarray], advance: float | None = None) -> Glyph:
    """A glyph from strokes (n, 2) in hand units."""
    points = np.concatenate(strokes)
    left, top = points.min(axis=0)
    right, bottom = points.max(axis=0)
    return Glyph(
        strokes=tuple(np.asarray(s, np.float32) for s in strokes),
        left=float(left),
        width=float(right - left),
        top=float(top),
        bottom=float(bottom),
        advance=advance,
    )


def _moved(glyph: Glyph, scale: float, top: float, left: float = 0.0) -> list[np.ndarray]:
    origin = np.array([glyph.left, glyph.top], np.float32)
    return [(s - origin) * scale + np.array([left, top], np.float32) for s in glyph.strokes]


def _made_from_own(char: str, own: dict[str, list[Glyph]]) -> list[Glyph]:
    """Signs made from this hand's letters, as people make them."""
    rng = np.random.default_rng(len(own) + ord(char))
    if char == "×" and "x" in own:
        made = []
        for glyph in own["x"] + own.get("X", []):
            tall = max(glyph.bottom - glyph.top, 1.0)
            scale = rng.uniform(0.34, 0.7) * UNIT / tall
            on_line = rng.random() < 0.3
            middle = -scale * tall / 2 if on_line else -rng.uniform(0.3, 0.5) * UNIT
            made.append(make_glyph(_moved(glyph, scale, middle - scale * tall / 2)))
        return made
    if char == "·" and "." in own:
        return [
            make_glyph(_moved(g, 1.0, -rng.uniform(0.25, 0.5) * UNIT - (g.bottom - g.top) / 2))
            for g in own["."]
        ]
    if char == "°" and ("o" in own or "0" in own):
        source = own.get("o") or own["0"]
        return [
            make_glyph(
                _moved(g, rng.uniform(0.22, 0.36) * UNIT / max(g.bottom - g.top, g.width, 1), -UNIT)
            )
            for g in source
        ]
    if char == "µ" and "u" in own:
        return [_micro_from_u(g, rng) for g in own["u"]]
    if char == "~" and "-" in own:
        return []
    if char == "±" and "+" in own:
        return [_with_bar_below(g, rng) for g in own["+"]]
    if char in "≤≥" and "<>"["≤≥".index(char)] in own:
        return [_with_bar_below(g, rng) for g in own["<>"["≤≥".index(char)]]]
    if char == "≠" and "=" in own:
        return [_with_slash(g, rng) for g in own["="]]
    return []


def _micro_from_u(glyph: Glyph, rng: Generator) -> Glyph:
    """A µ as people write it: a u whose first downstroke began below the line."""
    strokes = [s.copy() for s in glyph.strokes]
    first = strokes[0]
    start = first[:1]
    drop = rng.uniform(0.25, 0.5) * UNIT
    lean = rng.uniform(-0.12, 0.06) * UNIT
    foot = np.array([[start[0, 0] + lean, glyph.bottom + drop]], np.float32)
    middle = (start + foot) / 2 + np.array([[rng.normal(0, 15), 0]], np.float32)
    if rng.random() < 0.6:
        strokes[0] = np.concatenate([foot, middle, start, first])
    else:
        strokes.append(np.concatenate([start, middle, foot]))
    return make_glyph(strokes)


def _with_bar_below(glyph: Glyph, rng: Generator) -> Glyph:
    y = glyph.bottom + rng.uniform(0.06, 0.2) * UNIT
    tilt = rng.normal(0, 0.03) * UNIT
    bar = np.array([[glyph.left, y], [glyph.left + glyph.width, y + tilt]], np.float32)
    lift = np.array([0, -0.12 * UNIT], np.float32)
    return make_glyph([s + lift for s in (*glyph.strokes, bar)])


def _with_slash(glyph: Glyph, rng: Generator) -> Glyph:
    reach = rng.uniform(0.1, 0.25) * UNIT
    x = glyph.left + glyph.width * rng.uniform(0.35, 0.5)
    lean = rng.uniform(0.05, 0.3) * UNIT
    slash = np.array(
        [[x + lean, glyph.top - reach], [x - lean / 2, glyph.bottom + reach]], np.float32
    )
    return make_glyph([*glyph.strokes, slash])


def drawn_signs(rng: Generator) -> dict[str, list[Glyph]]:
    """Signs that no source has, and plain operators, as one person might draw them."""

    def line(*points: tuple[float, float], wobble: float = 0.03) -> np.ndarray:
        spots = np.array(points, np.float32)
        return (spots + rng.normal(0, wobble, spots.shape).astype(np.float32)) * UNIT

    def arc(cx: float, cy: float, rx: float, ry: float, a: float, b: float) -> np.ndarray:
        t = np.linspace(a, b, 12) * np.pi / 180
        circle = np.stack([cx + rx * np.cos(t), cy + ry * np.sin(t)], axis=1)
        return (circle * UNIT * (1 + rng.normal(0, 0.015, (12, 1)))).astype(np.float32)

    def dot(x: float, y: float) -> np.ndarray:
        a = line((x, y))
        return np.concatenate([a, a + rng.normal(0, 15, (1, 2)).astype(np.float32)])

    def wave(y: float, w: float) -> np.ndarray:
        t = np.linspace(0, 1, 9)
        height = rng.uniform(0.06, 0.12)
        bumps = y - height * np.sin(t * 2 * np.pi + rng.normal(0, 0.3))
        return (np.stack([t * w, bumps], axis=1) * UNIT).astype(np.float32)

    w = rng.uniform(0.45, 0.7)
    m = -rng.uniform(0.35, 0.5)
    head = rng.uniform(0.1, 0.2)
    h = rng.uniform(0.75, 1.0)

    def omega() -> list[np.ndarray]:
        r = rng.uniform(0.3, 0.4)
        top = arc(r + 0.1, -h + r, r, r * 1.1, 125, 415)
        foot = rng.uniform(0.1, 0.25)
        x0, y0 = top[0] / UNIT
        x1, y1 = top[-1] / UNIT
        left = line((x0 - foot, 0), (x0 + 0.05, 0), wobble=0.015)
        right = line((x1 - 0.05, 0), (x1 + foot, 0), wobble=0.015)
        return [np.concatenate([left, top, right])]

    def arrow(turn: int) -> list[np.ndarray]:
        shaft = line((0, 0), (w, 0))
        tip = line((w - head, -head), (w, 0), (w - head, head))
        quarter = [[1, 0], [0, -1], [-1, 0], [0, 1]][turn]
        rotation = np.array([[quarter[0], quarter[1]], [-quarter[1], quarter[0]]], np.float32)
        shift = np.array([0, m * UNIT], np.float32)
        return [s @ rotation + shift for s in (shaft, tip)]

    shapes: dict[str, list[np.ndarray]] = {
        "Ω": omega(),
        "Δ": [line((w / 2, -h), (0, 0), (w, 0), (w / 2 + 0.02, -h))],
        "∴": [dot(0, -0.02), dot(0.4, -0.02), dot(0.2, -0.38)],
        "≈": [wave(m - 0.1, w), wave(m + 0.12, w)],
        "~": [wave(m, w)],
        "≠": [line((0, m - 0.1), (w, m - 0.1)), line((0, m + 0.1), (w, m + 0.1))]
        + [line((w * 0.7, m - 0.3), (w * 0.3, m + 0.3))],
        "=": [line((0, m - 0.1), (w, m - 0.1)), line((0, m + 0.1), (w, m + 0.1))],
        "°": [arc(0.14, -0.88, 0.13, 0.14, -90, 280)],
        "±": [line((0, m), (w, m)), line((w / 2, m - 0.3), (w / 2, m + 0.28))]
        + [line((0, 0), (w, 0))],
        "+": [line((0, m), (w, m)), line((w / 2, m - 0.3), (w / 2, m + 0.3))],
        "×": [line((0, m - 0.2), (0.4, m + 0.2)), line((0.4, m - 0.2), (0, m + 0.2))],
        "·": [dot(0, m)],
        "-": [line((0, m), (w, m))],
        "≤": [line((w, m - 0.3), (0, m), (w, m + 0.25)), line((0, m + 0.4), (w, m + 0.45))],
        "≥": [line((0, m - 0.3), (w, m), (0, m + 0.25)), line((0, m + 0.45), (w, m + 0.4))],
        "<": [line((w, m - 0.3), (0, m), (w, m + 0.25))],
        ">": [line((0, m - 0.3), (w, m), (0, m + 0.25))],
        "∝": [
            np.concatenate(
                [line((0.75, m - 0.2)), arc(0.25, m, 0.25, 0.2, 60, 300), line((0.75, m + 0.2))]
            )
        ],
        "→": arrow(0),
        "↑": arrow(1),
        "←": arrow(2),
        "↓": arrow(3),
        "⇒": [line((0, m - 0.09), (w, m - 0.09)), line((0, m + 0.09), (w, m + 0.09))]
        + [line((w - head, m - head - 0.09), (w + 0.1, m), (w - head, m + head + 0.09))],
        "∞": [
            (
                np.stack(
                    [
                        0.35 + 0.35 * np.cos(np.linspace(0, 2 * np.pi, 22)),
                        m + 0.18 * np.sin(np.linspace(0, 4 * np.pi, 22)),
                    ],
                    axis=1,
                )
                * UNIT
            ).astype(np.float32)
        ],
        "⟂": [line((0, 0), (w, 0)), line((w / 2, 0), (w / 2, -h))],
        "÷": [line((0, m), (w, m)), dot(w / 2, m - 0.22), dot(w / 2, m + 0.22)],
        "Σ": [line((w, -h), (0, -h), (w / 2, -h / 2), (0, 0), (w, 0))],
        "/": [line((0.4, -h), (0, 0.08))],
        "|": [line((0, -h), (0, 0.1))],
    }
    return {char: [make_glyph(strokes)] for char, strokes in shapes.items()}


@dataclass(frozen=True)
class HandBook:
    """All hands of one split, as stored in ``hands.npz``.

    Stored arrays: ``points`` int16 (n, 2); ``stroke_ends``, ``glyph_ends`` (ends of strokes in
    points, of glyphs in strokes); ``glyph_chars``, ``glyph_hands``, ``glyph_advances`` (-1 for
    people); ``hand_names``; ``hand_pens`` (stroke width in digit heights); ``hand_styles`` (slant,
    x-height, roundness) by which a hand finds donors.
    """

    hands: tuple[Hand, ...]
    styles: np.ndarray

    @classmethod
    def load(cls, folder: Path, validation: bool) -> HandBook:
        """Hands of ``folder/hands.npz`` that are (or are not) held out."""
        with np.load(folder / FILE_NAME) as stored:
            points = stored["points"].astype(np.float32)
            stroke_ends = stored["stroke_ends"]
            glyph_ends = stored["glyph_ends"]
            chars = stored["glyph_chars"]
            owners = stored["glyph_hands"]
            advances = stored["glyph_advances"]
            names = [str(n) for n in stored["hand_names"]]
            pens = stored["hand_pens"]
            styles = stored["hand_styles"]
        wanted = [is_validation(n) == validation for n in names]
        inventories: list[dict[str, list[Glyph]]] = [{} for _ in names]
        strokes_of = np.split(points, stroke_ends[:-1])
        first = 0
        for index, end in enumerate(glyph_ends):
            owner = owners[index]
            if wanted[owner]:
                advance = float(advances[index])
                glyph = make_glyph(strokes_of[first:end], advance if advance >= 0 else None)
                inventories[owner].setdefault(str(chars[index]), []).append(glyph)
            first = end
        plain = [
            Hand(name, name.startswith("typeface:"), inventory, pen=float(pen))
            for name, inventory, pen, keep in zip(names, inventories, pens, wanted, strict=True)
            if keep
        ]
        kept_styles = styles[np.array(wanted)]
        return cls(tuple(plain), kept_styles)

    @cached_property
    def _writers(self) -> list[int]:
        """Hands with enough of their own characters to write whole lines."""
        return [i for i, h in enumerate(self.hands) if len(h.own) >= 24 or _has_digits(h)]

    @cached_property
    def people(self) -> list[int]:
        return [i for i in self._writers if not self.hands[i].is_typeface]

    @cached_property
    def typefaces(self) -> list[int]:
        return [i for i in self._writers if self.hands[i].is_typeface]

    @cached_property
    def _greek(self) -> list[int]:
        return [i for i, h in enumerate(self.hands) if "θ" in h.own and not h.is_typeface]

    @cached_property
    def _prepared(self) -> dict[int, list[Hand]]:
        return {}

    def hand(self, index: int, rng: Generator) -> Hand:
        """The hand at ``index`` with what it lacks borrowed from hands of a similar style.

        A few borrowings of each hand are kept and used again, and now and then replaced.
        """
        kept = self._prepared.setdefault(index, [])
        if len(kept) < BORROWINGS_KEPT:
            kept.append(self._borrowing(index, rng))
            return kept[-1]
        place = int(rng.random() * BORROWINGS_KEPT)
        if rng.random() < 0.03:
            kept[place] = self._borrowing(index, rng)
        return kept[place]

    def _borrowing(self, index: int, rng: Generator) -> Hand:
        own = self.hands[index]
        distance = np.abs(self.styles - self.styles[index]).sum(axis=1)
        distance = distance + rng.random(len(distance)) * 0.5
        near = np.argsort(distance)[1:40]
        signs = Hand("signs", False, drawn_signs(rng))
        greek = self._greek
        first = [self.hands[int(rng.choice(greek))]] if greek else []
        donors = (
            *first,
            *(self.hands[i] for i in near if len(self.hands[i].own) >= 24),
            signs,
            *(self.hands[i] for i in greek),
            *(h for h in self.hands if len(h.own) >= 60),
        )
        return Hand(own.name, own.is_typeface, own.own, donors, own.pen)

    def near(self, name: str, rng: Generator) -> Hand:
        """The hand of writer ``name``, or a random person's when the writer left no characters."""
        own = [i for i in self.people if self.hands[i].name == name]
        return self.hand(own[0] if own else self.people[int(rng.random() * len(self.people))], rng)

    def any_hand(self, rng: Generator, typeface_share: float) -> Hand:
        """A random hand, a typeface in ``typeface_share`` of the draws."""
        pool = self.typefaces if rng.random() < typeface_share and self.typefaces else self.people
        return self.hand(pool[int(rng.integers(len(pool)))], rng)


def _has_digits(hand: Hand) -> bool:
    return sum(d in hand.own for d in "0123456789") >= FEWEST_DIGITS
