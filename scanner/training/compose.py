"""Write a label by hand: its characters as one writer's strokes, laid out in two dimensions.

``write`` gives the strokes (``Ink``), ``draw`` makes a grey picture of them.  Both need only
NumPy and Pillow.  Photo-like wear (blur, light, noise) is not added here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from PIL import Image, ImageDraw

from scanner.reader import notation
from scanner.training.hands import UNIT, Glyph, Hand, Ink, make_glyph

OPERATORS = frozenset("=≈≠<>≤≥+-×·÷±∝→⇒∴*~")
DIGITS = frozenset("0123456789")
LIGHT = frozenset(".,:;'°·")
BROADEST_PEN = 0.115  # digit heights; broader strokes close the loops of small figures
BROAD = 7  # drawn pixels; from here on the notches between pieces of a line show
SCALE_UP = 2  # lines are drawn at twice the size and reduced, for smooth edges
SHARP_TURN = 0.4  # cosine above which a curve runs on through a point


@dataclass(frozen=True)
class Style:
    """How one line is written.  Lengths in digit heights unless said otherwise."""

    slant: float
    aspect: float
    gap: float
    gap_jitter: float
    operator_gap: float
    word_gap: float
    unit_gap: float
    size_jitter: float
    base_jitter: float
    wander: float
    slope: float
    script_size: float
    raise_by: float
    lower_by: float
    fraction_size: float
    fraction_gap: float
    bar_tilt: float
    joins: bool
    pen: float
    pressure: float


def draw_style(rng: Generator, hand: Hand) -> Style:
    """A style for one line: spacing from touching to loose, some lines neat and some not."""
    u = rng.random(20)
    n = rng.standard_normal(6)
    neat = u[0] < 0.4
    tight = u[1] < 0.25
    return Style(
        slant=0.10 * n[0],
        aspect=float(np.exp(0.12 * n[1])),
        gap=(0.0 + 0.08 * u[2]) if tight else 0.06 + 0.22 * u[2] ** 1.5,
        gap_jitter=0.02 + 0.06 * u[3],
        operator_gap=0.5 * u[4] ** 2,
        word_gap=0.28 + 0.75 * u[5] ** 1.4,
        unit_gap=1.0 if u[18] > 0.15 else 0.1 + 3.3 * u[18],
        size_jitter=0.02 if neat else 0.03 + 0.06 * u[6],
        base_jitter=0.015 if neat else 0.02 + 0.05 * u[7],
        wander=0.02 if neat else 0.12 * u[8],
        slope=0.012 * n[2],
        script_size=0.48 + 0.3 * u[9],
        raise_by=0.4 + 0.45 * u[10],
        lower_by=0.1 + 0.25 * u[11],
        fraction_size=0.7 + 0.3 * u[12],
        fraction_gap=0.08 + 0.2 * u[13],
        bar_tilt=0.02 * n[3],
        joins=bool(u[14] < 0.12) and not hand.is_typeface,
        pen=min(hand.pen * (0.55 + 1.1 * u[15]) + 0.02 * u[16], BROADEST_PEN),
        pressure=0.35 * u[17],
    )


# --- the label as a tree ------------------------------------------------------------------------

# A character; (opener, nodes) or (FRACTION, nodes, nodes); or ready ink that stands as it is.
Node = str | tuple | Glyph


def parse(text: str) -> list[Node]:
    """The token tree of a well-formed label."""
    tokens = [notation.TOKENS[i] for i in notation.tokenise(text)]
    nodes, end = _group(tokens, 0)
    if end != len(tokens):
        raise ValueError(f"not well formed: {text!r}")
    return nodes


def _group(tokens: list[str], at: int) -> tuple[list[Node], int]:
    nodes: list[Node] = []
    while at < len(tokens) and tokens[at] not in (notation.CLOSE, notation.FRACTION_BAR):
        token = tokens[at]
        if token in notation.OPENERS:
            inner, at = _group(tokens, at + 1)
            if token == notation.FRACTION:
                below, at = _group(tokens, at + 1)
                nodes.append((token, inner, below))
            else:
                nodes.append((token, inner))
        else:
            nodes.append(token)
        at += 1
    return nodes, at


# --- layout -------------------------------------------------------------------------------------


class _Layout:
    """Placed glyphs and drawn strokes of a line in digit-height units, baseline y = 0."""

    def __init__(self, hand: Hand, style: Style, rng: Generator) -> None:
        self.hand = hand
        self.style = style
        self.rng = rng
        self.glyphs: list[Glyph] = []
        self.places: list[list[float]] = []  # x, y, scale across, scale down, turn
        self.strokes: list[np.ndarray] = []

    def mark(self) -> tuple[int, int]:
        return len(self.glyphs), len(self.strokes)

    def shift(self, since: tuple[int, int], dx: float, dy: float) -> None:
        for place in self.places[since[0] :]:
            place[0] += dx
            place[1] += dy
        for index in range(since[1], len(self.strokes)):
            self.strokes[index] = self.strokes[index] + np.array([dx, dy], np.float32)

    def extent(self, since: tuple[int, int]) -> tuple[float, float, float, float] | None:
        """Left, top, right, bottom of what was placed since ``mark``."""
        boxes = [
            (p[0], p[1] + g.top * p[3] / UNIT, p[0] + g.width * p[2] / UNIT)
            + (p[1] + g.bottom * p[3] / UNIT,)
            for g, p in zip(self.glyphs[since[0] :], self.places[since[0] :], strict=True)
        ]
        boxes += [
            (float(s[:, 0].min()), float(s[:, 1].min()), float(s[:, 0].max()), float(s[:, 1].max()))
            for s in self.strokes[since[1] :]
        ]
        if not boxes:
            return None
        left, top, right, bottom = zip(*boxes, strict=True)
        return min(left), min(top), max(right), max(bottom)

    def put(self, nodes: list[Node], x: float, y: float, size: float) -> float:
        """Place ``nodes`` from ``x`` on; returns the x where the ink ends."""
        style, rng = self.style, self.rng
        at = 0
        script_from: tuple[str, float] | None = None
        while at < len(nodes):
            node = nodes[at]
            at += 1
            if isinstance(node, str):
                script_from = None
                if node == " ":
                    gap = style.word_gap * (0.75 + 0.5 * rng.random())
                    x += size * gap * (style.unit_gap if _before_unit(nodes, at) else 1.0)
                    continue
                x = self._put_character(node, x, y, size)
                continue
            if isinstance(node, Glyph):
                script_from = None
                x = self._put_glyph(node, x, y, size)
                continue
            opener = node[0]
            if opener in (notation.RAISED, notation.LOWERED):
                start = x - 0.25 * size * style.gap
                if script_from and script_from[0] != opener and rng.random() < 0.75:
                    start = script_from[1]
                end = self._put_script(node, start, y, size)
                script_from = (opener, start)
                x = max(x, end)
                continue
            script_from = None
            if opener == notation.FRACTION:
                x = self._put_fraction(node, x, y, size)
            elif opener == notation.ROOT:
                x = self._put_root(node, x, y, size)
            else:
                start, since = x, self.mark()
                x = self._put_struck(node, x, y, size)
                run = _correction(nodes, at)
                if node[1] and run and rng.random() < 0.35:
                    box = self.extent(since)
                    lift = (box[1] if box else y - size) - (0.1 + 0.15 * rng.random()) * size
                    small = size * (0.65 + 0.25 * rng.random())
                    end = self.put(nodes[at : at + run], start + 0.1 * size, lift, small)
                    x = max(x, end) + 0.1 * size
                    at += run
        return x

    def _put_character(self, char: str, x: float, y: float, size: float) -> float:
        style, rng = self.style, self.rng
        samples = self.hand.samples(char)
        if not samples:
            raise ValueError(f"no ink for {char!r}")
        u, n = rng.random(2), rng.standard_normal(4)
        glyph = samples[int(u[0] * len(samples))]
        grow = size * (1 + style.size_jitter * n[0])
        across = grow * style.aspect * (1 + 0.5 * style.size_jitter * n[1])
        dip = y + size * style.base_jitter * n[2]
        margin = style.operator_gap * size * (0.6 + 0.8 * u[1]) if char in OPERATORS else 0.0
        gap = size * (style.gap + style.gap_jitter * n[3])
        if char in LIGHT:
            gap = 0.6 * gap
            # A point must stay a point: it may not drown in the stroke beside it.
            margin += size * (0.5 * style.pen + 0.02 + 0.05 * u[1])
        x += margin
        if glyph.advance is None:
            self.glyphs.append(glyph)
            self.places.append([x, dip, across, grow, 0.03 * n[1]])
            return x + glyph.width * across / UNIT + max(gap, -0.04 * size) + margin
        self.glyphs.append(glyph)
        self.places.append([x + glyph.left * across / UNIT, dip, across, grow, 0.0])
        return x + glyph.advance * across / UNIT + 0.5 * size * style.gap_jitter * n[3] + margin

    def _put_glyph(self, glyph: Glyph, x: float, y: float, size: float) -> float:
        self.glyphs.append(glyph)
        self.places.append([x, y, size * self.style.aspect, size, 0.0])
        gap = max(self.style.gap, 0.05) * size
        return x + glyph.width * size * self.style.aspect / UNIT + gap

    def _put_script(self, node: tuple, x: float, y: float, size: float) -> float:
        style, rng = self.style, self.rng
        small = max(size * style.script_size * (0.92 + 0.16 * rng.random()), 0.34)
        if node[0] == notation.RAISED:
            dy = -size * style.raise_by * (0.85 + 0.3 * rng.random())
        else:
            dy = size * style.lower_by * (0.8 + 0.4 * rng.random()) + 0.15 * small
        return self.put(node[1], x, y + dy, small)

    def _put_fraction(self, node: tuple, x: float, y: float, size: float) -> float:
        style, rng = self.style, self.rng
        small = max(size * style.fraction_size, 0.5)
        axis = y - size * (0.3 + 0.15 * rng.random())
        gap = size * style.fraction_gap
        above = self.mark()
        self.put(node[1], 0.0, 0.0, small)
        top_box = self.extent(above) or (0.0, -small, small / 2, 0.0)
        below = self.mark()
        self.put(node[2], 0.0, 0.0, small)
        low_box = self.extent(below) or (0.0, -small, small / 2, 0.0)
        top_width, low_width = top_box[2] - top_box[0], low_box[2] - low_box[0]
        reach = max(top_width, low_width)
        over = size * (0.32 * rng.random() - 0.06)
        start = x + max(over, 0.0) + 0.08 * size
        lean = (0.5 + 0.2 * rng.standard_normal(2)).clip(0, 1)
        self.shift(below, start + (reach - low_width) * lean[0] - low_box[0], 0.0)
        self.shift(below, 0.0, axis + gap - low_box[1])
        lifted = (above, below)
        self._shift_between(
            *lifted, start + (reach - top_width) * lean[1] - top_box[0], axis - gap - top_box[3]
        )
        left, right = start - over, start + reach + over
        self._bar(left, right, axis, size)
        return right + size * (0.06 + style.gap)

    def _shift_between(
        self, since: tuple[int, int], until: tuple[int, int], dx: float, dy: float
    ) -> None:
        for place in self.places[since[0] : until[0]]:
            place[0] += dx
            place[1] += dy
        for index in range(since[1], until[1]):
            self.strokes[index] = self.strokes[index] + np.array([dx, dy], np.float32)

    def _bar(self, left: float, right: float, y: float, size: float) -> None:
        tilt = self.style.bar_tilt * (right - left)
        steps = np.linspace(0, 1, max(3, int((right - left) / size / 0.8) + 2))
        bow = 0.02 * size * self.rng.standard_normal(len(steps))
        line = np.stack([left + (right - left) * steps, y + tilt * (steps - 0.5) + bow], axis=1)
        self.strokes.append(line.astype(np.float32))

    def _put_root(self, node: tuple, x: float, y: float, size: float) -> float:
        rng = self.rng
        u = rng.random(6)
        hook = size * (0.35 + 0.25 * u[0])
        since = self.mark()
        end = self.put(node[1], x + hook + 0.05 * size, y, size * (0.85 + 0.15 * u[1]))
        box = self.extent(since) or (x + hook, y - size, end, y)
        roof = box[1] - size * (0.06 + 0.16 * u[2])
        floor = max(box[3], y) + size * 0.08 * u[3]
        tall = floor - roof
        right = box[2] + size * (0.25 * u[4] - 0.08)
        sign = [
            [x, floor - tall * (0.3 + 0.2 * u[5])],
            [x + 0.25 * hook, floor - tall * (0.42 + 0.1 * u[5])],
            [x + 0.55 * hook, floor],
            [x + hook, roof],
            [(x + hook + right) / 2, roof + 0.02 * size * rng.standard_normal()],
            [right, roof + size * 0.05 * rng.standard_normal()],
        ]
        self.strokes.append(np.array(sign, np.float32))
        return max(end, right) + size * self.style.gap

    def _put_struck(self, node: tuple, x: float, y: float, size: float) -> float:
        since = self.mark()
        legible = bool(node[1])
        filler = node[1] or [
            "0123456789aemnwxFQ"[int(self.rng.random() * 18)]
            for _ in range(1 + int(self.rng.random() * 4))
        ]
        end = self.put(filler, x, y, size)
        box = self.extent(since)
        if box:
            self.strokes.extend(_strike(box, size, legible, self.rng))
        return end + 0.1 * size


def _before_unit(nodes: list[Node], at: int) -> bool:
    """True when the space before ``nodes[at]`` parts a number from letters."""
    before = nodes[at - 2] if at > 1 else ""
    after = nodes[at] if at < len(nodes) else ""
    if isinstance(before, str):
        ends_number = before in DIGITS
    else:
        ends_number = isinstance(before, Glyph) or before[0] == notation.RAISED
    return ends_number and isinstance(after, str) and after.isalpha()


def _correction(nodes: list[Node], at: int) -> int:
    """How many nodes from ``at`` on belong to one number or word: what may stand above."""
    run = 0
    while at + run < len(nodes):
        node = nodes[at + run]
        if isinstance(node, Glyph) or (isinstance(node, str) and node in OPERATORS | {" "}):
            break
        if not isinstance(node, str) and node[0] not in (notation.RAISED, notation.LOWERED):
            break
        run += 1
    return run if run <= 7 else 0


def _strike(
    box: tuple[float, float, float, float], size: float, legible: bool, rng: Generator
) -> list[np.ndarray]:
    left, top, right, bottom = box
    over = size * 0.2 * rng.random(4)
    left, right = left - over[0], right + over[1]
    middle, tall = (top + bottom) / 2, bottom - top
    wide = right - left

    def line(points: list[list[float]]) -> np.ndarray:
        spots = np.array(points, np.float32)
        return spots + (0.03 * size * rng.standard_normal(spots.shape)).astype(np.float32)

    if not legible:
        turns = max(6, int(wide / size * (7 + 6 * rng.random())))
        xs = np.linspace(left, right, turns) + 0.08 * size * rng.standard_normal(turns)
        ys = np.where(np.arange(turns) % 2, top + 0.1 * tall, bottom - 0.1 * tall)
        first = np.stack([xs, ys + 0.08 * tall * rng.standard_normal(turns)], axis=1)
        rows = 2 + int(rng.random() * 4)
        swing = [[left if (i % 2) else right, top + tall * (i + 0.5) / rows] for i in range(rows)]
        return [first.astype(np.float32), line(swing)]
    kind = rng.random()
    if kind < 0.4:
        y = middle + 0.1 * tall * rng.standard_normal()
        lean = 0.12 * tall * rng.standard_normal()
        return [line([[left, y - lean], [(left + right) / 2, y], [right, y + lean]])]
    if kind < 0.6:
        gap = 0.12 * tall
        return [line([[left, middle + s * gap], [right, middle + s * gap]]) for s in (-1, 1)]
    if kind < 0.75:
        return [line([[left, bottom], [right, top]])]
    if kind < 0.88 or wide > 3 * tall:
        count = max(4, int(wide / size * 2.2))
        xs = np.linspace(left, right, count)
        ys = middle + 0.22 * tall * np.where(np.arange(count) % 2, 1, -1)
        return [line(np.stack([xs, ys], axis=1).tolist())]
    return [line([[left, bottom], [right, top]]), line([[left, top], [right, bottom]])]


# --- strokes on paper ---------------------------------------------------------------------------


def write(text: str, hand: Hand, rng: Generator, height: float, style: Style | None = None) -> Ink:
    """``text`` (in the notation) written by ``hand``.

    Args:
        text: a well-formed label.
        hand: from ``HandBook.hand`` or ``HandBook.any_hand``.
        rng: decides every variation; the same state gives the same ink.
        height: height of a digit in pixels.
        style: how the line is written; drawn from ``rng`` when left out.

    Returns:
        The strokes, with the top left corner of their bounding box at (0, 0).

    Raises:
        ValueError: ``text`` is not well formed or the hand has no ink for a character.
    """
    return write_parts([text], hand, rng, height, style)


def write_parts(
    parts: list[str | Glyph], hand: Hand, rng: Generator, height: float, style: Style | None = None
) -> Ink:
    """As ``write``, for labels with ready ink (whole words or numbers by a person) among them."""
    layout = _Layout(hand, style or draw_style(rng, hand), rng)
    nodes = [n for part in parts for n in ([part] if isinstance(part, Glyph) else parse(part))]
    layout.put(nodes, 0.0, 0.0, 1.0)
    return _ink_of(layout, height)


def _ink_of(layout: _Layout, height: float) -> Ink:
    style, rng = layout.style, layout.rng
    pieces: list[np.ndarray] = []
    lengths: list[int] = []
    repeats: list[int] = []
    for glyph in layout.glyphs:
        count = 0
        for stroke in glyph.strokes:
            pieces.append(stroke)
            lengths.append(len(stroke))
            count += len(stroke)
        repeats.append(count)
    if pieces:
        points = np.concatenate(pieces) / np.float32(UNIT)
        place = np.repeat(np.array(layout.places, np.float32), repeats, axis=0)
        lefts = np.array([g.left for g in layout.glyphs], np.float32) / np.float32(UNIT)
        px = points[:, 0] - np.repeat(lefts, repeats)
        py = points[:, 1]
        xs = place[:, 0] + px * place[:, 2] - style.slant * py * place[:, 3]
        ys = place[:, 1] + py * place[:, 3] + place[:, 4] * px * place[:, 2]
    else:
        xs = ys = np.zeros(0, np.float32)
    for stroke in layout.strokes:
        xs = np.concatenate([xs, stroke[:, 0]])
        ys = np.concatenate([ys, stroke[:, 1]])
        lengths.append(len(stroke))
    if style.joins:
        joins = _joins(layout, xs, ys, repeats, lengths)
        for join in joins:
            xs = np.concatenate([xs, join[:, 0]])
            ys = np.concatenate([ys, join[:, 1]])
            lengths.append(len(join))
    phase, period = rng.random() * 6.28, 3 + 9 * rng.random()
    ys = ys + style.wander * np.sin(xs / period * 6.28 + phase) + style.slope * xs
    left, top = xs.min(), ys.min()
    path = np.stack([(xs - left) * height, (ys - top) * height], axis=1).astype(np.float32)
    ends = np.cumsum(lengths)[:-1]
    width, tall = path.max(axis=0)
    return Ink(
        polylines=tuple(np.split(path, ends)),
        baseline=float(-top * height),
        box=(0.0, 0.0, float(width), float(tall)),
        pen=max(1.0, style.pen * height),
    )


def _joins(
    layout: _Layout, xs: np.ndarray, ys: np.ndarray, repeats: list[int], lengths: list[int]
) -> list[np.ndarray]:
    """Strokes that run on from the end of one letter to the start of the next."""
    ends = np.cumsum(repeats)
    joins = []
    for i in range(len(repeats) - 1):
        a, b = ends[i] - 1, ends[i]
        size = layout.places[i][3]
        near = abs(layout.places[i + 1][1] - layout.places[i][1]) < 0.2 * size
        dx, dy = xs[b] - xs[a], ys[b] - ys[a]
        if near and 0 < dx < 0.5 * size and abs(dy) < 0.7 * size and layout.rng.random() < 0.7:
            sag = [(xs[a] + xs[b]) / 2, max(ys[a], ys[b]) * 0.6 + min(ys[a], ys[b]) * 0.4]
            joins.append(np.array([[xs[a], ys[a]], sag, [xs[b], ys[b]]], np.float32))
    return joins


def curve(polylines: tuple[np.ndarray, ...], steps: int = 4) -> tuple[np.ndarray, np.ndarray]:
    """Points along smooth curves through the polylines, and where each curve ends.

    Cubic Hermite pieces whose tangents follow the neighbouring points, except at sharp turns,
    which stay corners.

    Returns:
        Points (n, 2) and the end index of each polyline in them.
    """
    counts = np.array([len(p) for p in polylines])
    points = np.concatenate(polylines)
    owner = np.repeat(np.arange(len(counts)), counts)
    same = owner[1:] == owner[:-1]
    step = np.diff(points, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    unit = step / np.maximum(length, 1e-6)[:, None]
    tangent = np.zeros_like(points)
    tangent[:-1][same] = unit[same]
    tangent_in = np.zeros_like(points)
    tangent_in[1:][same] = unit[same]
    both = np.zeros(len(points), bool)
    both[1:-1] = same[1:] & same[:-1]
    cosine = (tangent * tangent_in).sum(axis=1)
    runs_on = both & (cosine > SHARP_TURN)
    mean = tangent + tangent_in
    mean /= np.maximum(np.hypot(mean[:, 0], mean[:, 1]), 1e-6)[:, None]
    leaving = np.where(runs_on[:, None], mean, tangent)
    arriving = np.where(runs_on[:, None], mean, tangent_in)
    starts = np.flatnonzero(same)
    a, b = points[starts], points[starts + 1]
    m = leaving[starts] * length[starts, None]
    n = arriving[starts + 1] * length[starts, None]
    t = (np.arange(steps, dtype=np.float32) / steps)[None, :, None]
    t2, t3 = t * t, t * t * t
    fine = (
        (2 * t3 - 3 * t2 + 1) * a[:, None]
        + (t3 - 2 * t2 + t) * m[:, None]
        + (3 * t2 - 2 * t3) * b[:, None]
        + (t3 - t2) * n[:, None]
    )
    last = np.ones(len(points), bool)
    last[:-1] = ~same
    sizes = np.where(last, 1, steps)
    offsets = np.concatenate([[0], np.cumsum(sizes)])
    out = np.empty((offsets[-1], 2), np.float32)
    out[(offsets[starts][:, None] + np.arange(steps)).ravel()] = fine.reshape(-1, 2)
    out[offsets[:-1][last]] = points[last]
    return out, offsets[1:][last]


def _thinned(path: np.ndarray, ends: np.ndarray, apart: float) -> tuple[np.ndarray, np.ndarray]:
    """Points about ``apart`` from each other: shorter pieces of a broad line have ragged edges."""
    step = np.hypot(*np.diff(path, axis=0, prepend=path[:1]).T)
    bucket = np.floor(np.cumsum(step) / apart)
    keep = np.ones(len(path), bool)
    keep[1:] = bucket[1:] != bucket[:-1]
    keep[ends - 1] = True
    keep[ends[:-1]] = True
    return path[keep], np.cumsum(keep)[ends - 1]


def draw(
    ink: Ink,
    rng: Generator,
    margin: tuple[float, float, float, float] = (8, 8, 8, 8),
    paper: Image.Image | None = None,
    pressure: float = 0.2,
    shade: int = 0,
) -> np.ndarray:
    """A grey picture of ``ink``, dark on white.

    Args:
        margin: left, top, right, bottom, pixels added round ``ink.box`` (may be negative).
        paper: picture at ``SCALE_UP`` times the final size to write on; white when None.
        pressure: how much the pen's width varies.
        shade: grey of the ink, 0 black.

    Returns:
        uint8 (height, width).
    """
    left, top, right, bottom = margin
    x, y, w, h = ink.box
    width, height = max(8, round(left + w + right)), max(8, round(top + h + bottom))
    sheet = paper or Image.new("L", (width * SCALE_UP, height * SCALE_UP), 255)
    put_ink(sheet, ink, (left - x, top - y), rng, pressure, shade)
    return np.asarray(sheet.reduce(SCALE_UP))


def put_ink(
    sheet: Image.Image,
    ink: Ink,
    at: tuple[float, float],
    rng: Generator,
    pressure: float = 0.2,
    shade: int = 0,
) -> None:
    """Write ``ink``, moved by ``at`` (final pixels), onto a sheet ``SCALE_UP`` times as large."""
    pen = draw_pen = ink.pen * SCALE_UP
    path, ends = curve(ink.polylines)
    path = (path + np.array(at, np.float32)) * SCALE_UP
    path, ends = _thinned(path, ends, max(1.5, 0.45 * pen))
    flat = path.ravel().tolist()
    canvas = ImageDraw.Draw(sheet)
    vary = (1 + 0.5 * pressure * rng.standard_normal(len(ends))).clip(0.65, 1.4).tolist()
    start = 0
    for number, end in enumerate(ends.tolist()):
        draw_pen = pen * vary[number]
        width = max(1, round(draw_pen))
        r = width / 2 - 0.3
        x, y = flat[2 * start], flat[2 * start + 1]
        far_x, far_y = flat[2 * end - 2], flat[2 * end - 1]
        if end - start < 4 and abs(far_x - x) + abs(far_y - y) < 1.5 * pen:
            r = max(1.6, 0.75 * draw_pen)
            for cx, cy in ((x, y), (far_x, far_y)):
                canvas.ellipse((cx - r, cy - r, cx + r, cy + r), fill=shade)
        else:
            _stroke(canvas, flat, start, end, draw_pen, pressure, rng, shade)
            if width >= BROAD:
                for i in range(2 * start, 2 * end, 2):
                    x, y = flat[i], flat[i + 1]
                    canvas.ellipse((x - r, y - r, x + r, y + r), fill=shade)
                start = end
                continue
            if width > 3:
                canvas.ellipse((x - r, y - r, x + r, y + r), fill=shade)
                canvas.ellipse((far_x - r, far_y - r, far_x + r, far_y + r), fill=shade)
        start = end


def _stroke(
    canvas: ImageDraw.ImageDraw,
    flat: list[float],
    start: int,
    end: int,
    pen: float,
    pressure: float,
    rng: Generator,
    shade: int,
) -> None:
    if pressure < 0.1 or end - start < 12:
        canvas.line(flat[2 * start : 2 * end], fill=shade, width=max(1, round(pen)))
        return
    piece = max(6, (end - start) // 5)
    while start < end - 1:
        stop = min(end, start + piece + 1)
        width = max(1, round(pen * (1 + 0.6 * pressure * (2 * rng.random() - 1))))
        canvas.line(flat[2 * start : 2 * stop], fill=shade, width=width)
        start = stop - 1


def ink_from(strokes: list[np.ndarray], height: float, pen: float) -> Ink:
    """Real ink whose strokes are in ``UNIT`` a digit height, scaled to ``height`` pixels."""
    glyph = make_glyph(strokes)
    origin = np.array([glyph.left, glyph.top], np.float32)
    scale = height / UNIT
    return Ink(
        polylines=tuple((s - origin) * scale for s in glyph.strokes),
        baseline=-glyph.top * scale,
        box=(0.0, 0.0, glyph.width * scale, (glyph.bottom - glyph.top) * scale),
        pen=max(1.0, pen * height),
    )
