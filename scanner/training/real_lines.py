"""Whole lines by real people: their own spacing, joins and habits, with labels in the notation.

Ink comes in digit heights (``UNIT`` each), the baseline at y = 0, as for ``hands``; the source
gives only the ink's bounding box, so size and baseline are taken from which letters rise and fall.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.random import Generator

from scanner.reader.notation import is_supported, is_well_formed, normalise
from scanner.training.hands import UNIT, is_validation

FILE_NAME = "real_lines.npz"
RISING = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZbdfhiklt0123456789()[]/|!?'\"#$%&@")
FALLING = frozenset("gjpqy()[],;/|$Q")
X_HEIGHT = 0.6
DESCENT = 0.32

# Share of each kind among the drawn lines; what the source has most of is not what matters most.
KIND_WEIGHTS = {
    "number": 0.24,
    "numpunct": 0.26,
    "math": 0.03,
    "word": 0.32,
    "text": 0.13,
    "single": 0.02,
}
JOIN_SHARE = 0.2
CUT_SHARE = 0.1
SPLICE_SHARE = 0.12
SEGMENTED_KINDS = ("number", "numpunct", "math")


@dataclass(frozen=True)
class RealLine:
    """Strokes in ``UNIT`` a digit height, baseline 0; ``id`` is the place in the source file."""

    strokes: tuple[np.ndarray, ...]
    label: str
    kind: str
    writer: str
    id: int
    cuts: tuple[tuple[str, tuple[int, ...]], ...] = ()

    @property
    def width(self) -> float:
        return max(float(s[:, 0].max()) for s in self.strokes)


@dataclass(frozen=True)
class RealLines:
    """The real lines of one split."""

    lines: tuple[RealLine, ...]

    @classmethod
    def load(cls, folder: Path, validation: bool) -> RealLines:
        """Lines of ``folder/real_lines.npz`` by writers who are (or are not) held out."""
        import json

        with np.load(folder / FILE_NAME) as stored:
            points = stored["points"].astype(np.float32)
            strokes = np.split(points, stored["stroke_ends"][:-1])
            ends = stored["line_ends"].tolist()
            labels, kinds = stored["labels"].tolist(), stored["kinds"].tolist()
            writers, ids = stored["writers"].tolist(), stored["ids"].tolist()
            cuts = stored["cuts"].tolist()
        lines, first = [], 0
        for i, end in enumerate(ends):
            if is_validation(writers[i]) == validation:
                pieces = tuple((c, tuple(s)) for c, s in json.loads(cuts[i])) if cuts[i] else ()
                placed = on_baseline(strokes[first:end], labels[i])
                if not pieces and kinds[i] in SEGMENTED_KINDS:
                    pieces = segments(placed, labels[i])
                lines.append(RealLine(placed, labels[i], kinds[i], writers[i], ids[i], pieces))
            first = end
        return cls(tuple(lines))

    def by_kind(self) -> dict[str, list[RealLine]]:
        groups: dict[str, list[RealLine]] = defaultdict(list)
        for line in self.lines:
            groups[line.kind].append(line)
        return dict(groups)

    def by_id(self, wanted: int) -> RealLine:
        return next(line for line in self.lines if line.id == wanted)


class RealLineSampler:
    """Draws real lines, two of one writer side by side, and pieces of segmented ones."""

    def __init__(self, lines: RealLines) -> None:
        self._groups = lines.by_kind()
        self._kinds = [k for k in KIND_WEIGHTS if self._groups.get(k)]
        weights = np.array([KIND_WEIGHTS[k] for k in self._kinds])
        self._edges = np.cumsum(weights / weights.sum())
        self._same: dict[tuple[str, str], list[RealLine]] = defaultdict(list)
        for line in lines.lines:
            self._same[line.writer, line.kind].append(line)
        self._segmented = [line for line in lines.lines if len(line.cuts) > 2]
        self._segmented_by: dict[str, list[RealLine]] = defaultdict(list)
        for line in self._segmented:
            self._segmented_by[line.writer].append(line)

    def sample(self, rng: Generator) -> RealLine:
        draw = rng.random()
        if draw < CUT_SHARE + SPLICE_SHARE and self._segmented:
            line = self._segmented[int(rng.random() * len(self._segmented))]
            piece = _cut(line, rng)
            if piece is not None and draw > CUT_SHARE:
                others = self._segmented_by[line.writer]
                other = _cut(others[int(rng.random() * len(others))], rng)
                piece = _join(piece, other, rng, "") if other is not None else piece
            if piece is not None:
                return piece
        where = min(int(np.searchsorted(self._edges, rng.random())), len(self._kinds) - 1)
        kind = self._kinds[where]
        group = self._groups[kind]
        line = group[int(rng.random() * len(group))]
        if draw > 1 - JOIN_SHARE and kind != "single":
            others = self._same[line.writer, kind]
            other = others[int(rng.random() * len(others))]
            if line.width + other.width < 22 * UNIT:
                return _join(line, other, rng, " ")
        return line

    def word_or_number(self, rng: Generator) -> RealLine:
        """One short word or number, to stand among composed characters."""
        while True:
            group = self._groups["word" if rng.random() < 0.35 else "number"]
            line = group[int(rng.random() * len(group))]
            if len(line.label) < 9 and line.label.isalnum():
                return line


def on_baseline(strokes: list[np.ndarray], label: str) -> tuple[np.ndarray, ...]:
    """Ink of bounding box height ``UNIT`` scaled to digit heights, baseline to y = 0."""
    rises = any(c in RISING for c in label)
    falls = any(c in FALLING for c in label)
    top = 1.0 if rises else X_HEIGHT
    bottom = DESCENT if falls else 0.0
    if all(c in FALLING | set("0123456789") for c in label) and set(label) & set("()[]/|"):
        top, bottom = 1.1, 0.15
    scale = np.float32(top + bottom)
    lift = np.array([0.0, -top * UNIT], np.float32)
    return tuple(s * scale + lift for s in strokes)


def segments(
    strokes: tuple[np.ndarray, ...], label: str
) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Which strokes make which character, where the ink's columns fall apart into as many groups
    as the label has characters, small marks small and figures tall; else nothing."""
    if " " in label or not label.isascii():
        return ()
    order = sorted(range(len(strokes)), key=lambda i: float(strokes[i][:, 0].min()))
    groups: list[list[int]] = []
    reach = -1e9
    for i in order:
        low, high = float(strokes[i][:, 0].min()), float(strokes[i][:, 0].max())
        if low > reach:
            groups.append([])
        groups[-1].append(i)
        reach = max(reach, high)
    if len(groups) != len(label):
        return ()
    for char, group in zip(label, groups, strict=True):
        tall = float(np.ptp(np.concatenate([strokes[i][:, 1] for i in group])))
        # Two slips of the division can cancel out in the count, but not in the sizes.
        if (char in ".-,'" and tall > 0.5 * UNIT) or (char.isalnum() and tall < 0.35 * UNIT):
            return ()
    return tuple((c, tuple(g)) for c, g in zip(label, groups, strict=True))


def _join(a: RealLine, b: RealLine, rng: Generator, between: str) -> RealLine:
    """Two pieces of one writer's ink side by side, a clear gap between them for a space."""
    inside = max(_widest_gap(a), _widest_gap(b))
    if between:
        gap = max(1.3 * inside, 0.25 * UNIT) + (0.1 + 0.5 * rng.random()) * UNIT
    else:
        gap = min(inside, 0.5 * UNIT) * rng.random() + (0.03 + 0.12 * rng.random()) * UNIT
    dip = 0.05 * UNIT * rng.standard_normal()
    move = np.array([a.width + gap, dip], np.float32)
    return RealLine(
        strokes=a.strokes + tuple(s + move for s in b.strokes),
        label=f"{a.label}{between}{b.label}",
        kind=a.kind,
        writer=a.writer,
        id=-1,
    )


def _widest_gap(line: RealLine) -> float:
    spans = sorted((float(s[:, 0].min()), float(s[:, 0].max())) for s in line.strokes)
    widest, reach = 0.0, spans[0][1]
    for low, high in spans[1:]:
        widest = max(widest, low - reach)
        reach = max(reach, high)
    return widest


def _cut(line: RealLine, rng: Generator) -> RealLine | None:
    """A run of whole characters of a segmented line."""
    count = len(line.cuts)
    first = int(rng.random() * (count - 1))
    last = min(count, first + 2 + int(rng.random() * 8))
    run = line.cuts[first:last]
    label = "".join(symbol for symbol, _ in run)
    numbers = [i for _, indices in run for i in indices]
    # A cut is only safe where the source's line has no spaces to lose and no shared strokes.
    outside = {i for _, indices in line.cuts[:first] + line.cuts[last:] for i in indices}
    safe = label and " " not in line.label and not outside & set(numbers)
    if not safe or not is_supported(label) or not is_well_formed(label):
        return None
    strokes = [line.strokes[i] for i in sorted(set(numbers)) if i < len(line.strokes)]
    if not strokes or normalise(label) != label:
        return None
    left = min(float(s[:, 0].min()) for s in strokes)
    shift = np.array([-left, 0], np.float32)
    return RealLine(tuple(s + shift for s in strokes), label, line.kind, line.writer, -1)
