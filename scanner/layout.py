"""Pen ink gathered into lines.

A stacked fraction is one line with what stands beside its bar; raised and lowered figures, dots
and signs go with their base; two columns of working stay apart. Lengths are pixels of a page of
about 200 dpi; most are in units of the writer's own figure height.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from scanner.ink import PAPER, Ink, Parts
from scanner.page import Box, Line

_SPECK = 14  # pixels of area: smaller parts are kept only close to larger ink
_COLUMN_GAP = 3.6  # figure heights: a wider gap parts two columns


@dataclass(frozen=True)
class PenLine:
    """The parts of one handwritten line: ``parts`` are row indices into ``Ink.parts``."""

    box: Box
    parts: tuple[int, ...]
    struck: bool = False


# --- pen lines -----------------------------------------------------------------------------


def pen_lines(ink: Ink, pen: np.ndarray) -> tuple[Ink, tuple[PenLine, ...]]:
    """Pen parts gathered into lines, in reading order.

    Returns:
        The ink with fraction bars cut free from figures that touch them, and the lines, whose
        ``parts`` count in that ink.
    """
    if not pen.any():
        return ink, ()
    figure = figure_height(ink.parts.boxes[pen].astype(float))
    ink, pen, struck = _bars_cut_free(ink, pen, figure)
    chosen = np.flatnonzero(pen)
    groups = _grouped(_Marks.of(ink, chosen), figure)
    lines = []
    for group in groups:
        members = chosen[group]
        box = _hull(ink.parts.boxes[members])
        if box.height < 0.4 * figure:
            continue
        lines.append(PenLine(box, tuple(int(m) for m in members), _is_struck(box, struck)))
    return ink, tuple(
        sorted(lines, key=lambda line: (line.box.y + line.box.height / 2, line.box.x))
    )


def _bars_cut_free(ink: Ink, pen: np.ndarray, figure: float) -> tuple[Ink, np.ndarray, list[Box]]:
    """Fraction bars made parts of their own, and the strokes that strike ink out.

    A level stroke with ink above and below is a bar; where it runs through the ink instead, so
    that both its edges touch ink, it strikes it out.
    """
    mask = np.concatenate([[False], pen])[ink.labels]
    shortest = max(30, round(1.5 * figure))
    tall = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 1), np.uint8))
    strokes = cv2.morphologyEx(tall, cv2.MORPH_OPEN, np.ones((1, shortest), np.uint8))
    strokes = cv2.dilate(strokes, np.ones((3, 5), np.uint8))
    _, stroke_labels, stats, _ = cv2.connectedComponentsWithStats(strokes)
    free: list[np.ndarray] = []
    struck: list[Box] = []
    touched: set[int] = set()
    for number, (x, y, w, h, _) in enumerate(stats[1:], start=1):
        if h > 6 + 0.25 * w or w < 1.6 * figure:
            continue
        part = (slice(y, y + h), slice(x, x + w))
        own = (stroke_labels[part] == number) & mask[part]
        owners = np.unique(ink.labels[part][own])
        owners = owners[owners > 0]
        if not len(owners) or (ink.parts.boxes[owners - 1, 3] < h + 0.35 * figure).all():
            continue
        above, below, through = _around_stroke(mask, own, x, y, figure)
        if through > 0.12 and w > 1.5 * figure:
            struck.append(Box(int(x), int(y), int(w), int(h)))
        elif above > 0.3 and below > 0.12 and through < 0.12:
            whole = np.zeros_like(mask)
            whole[part] = own
            free.append(whole)
            touched.update(int(o) for o in owners)
    if not free:
        return ink, pen, struck
    return *_relabelled(ink, pen, free, touched), struck


def _around_stroke(
    mask: np.ndarray, stroke: np.ndarray, x: int, y: int, figure: float
) -> tuple[float, float, float]:
    """Shares of a stroke's columns with ink close above, close below, and touching both edges."""
    columns = np.flatnonzero(stroke.any(axis=0))
    top = y + stroke.argmax(axis=0)[columns]
    bottom = y + stroke.shape[0] - 1 - stroke[::-1].argmax(axis=0)[columns]
    reach = round(0.9 * figure)
    rows = np.arange(1, reach + 1)[:, None]
    up = mask[np.clip(top - rows, 0, mask.shape[0] - 1), x + columns]
    down = mask[np.clip(bottom + rows, 0, mask.shape[0] - 1), x + columns]
    touching = up[1:4].any(axis=0) & down[1:4].any(axis=0)
    return float(up[3:].any(axis=0).mean()), float(down[3:].any(axis=0).mean()), touching.mean()


def _relabelled(
    ink: Ink, pen: np.ndarray, free: list[np.ndarray], touched: set[int]
) -> tuple[Ink, np.ndarray]:
    """The ink with each mask of ``free`` as one new part and ``touched`` labels split anew."""
    labels = ink.labels.copy()
    rest = np.isin(labels, list(touched))
    labels[rest] = 0
    for stroke in free:
        rest &= ~stroke
    parent = ink.labels
    pieces = list(free)
    _, split, stats, _ = cv2.connectedComponentsWithStats(rest.astype(np.uint8))
    boxes: list[tuple[int, int, int, int]] = []
    area: list[int] = []
    origin: list[int] = []
    next_label = len(ink.parts) + 1
    for stroke in pieces:
        rows, columns = np.nonzero(stroke)
        labels[rows, columns] = next_label + len(boxes)
        boxes.append(_bounds(rows, columns))
        area.append(len(rows))
        origin.append(int(parent[rows[0], columns[0]]) - 1)
    for number, (x, y, w, h, size) in enumerate(stats[1:], start=1):
        part = (slice(y, y + h), slice(x, x + w))
        own = split[part] == number
        labels[part][own] = next_label + len(boxes)
        boxes.append((x, y, w, h))
        area.append(size)
        origin.append(int(parent[part][own][0]) - 1)
    old, new = ink.parts, np.array(origin)
    parts = Parts(
        boxes=np.vstack([old.boxes, boxes]),
        area=np.concatenate([old.area, area]),
        darkness=np.concatenate([old.darkness, old.darkness[new]]),
        tint=np.vstack([old.tint, old.tint[new]]),
        hue=np.concatenate([old.hue, old.hue[new]]),
        stroke=np.concatenate([old.stroke, old.stroke[new]]),
    )
    still = pen.copy()
    still[[t - 1 for t in touched]] = False
    return replace(ink, labels=labels, parts=parts), np.concatenate(
        [still, np.ones(len(boxes), bool)]
    )


def _bounds(rows: np.ndarray, columns: np.ndarray) -> tuple[int, int, int, int]:
    x, y = int(columns.min()), int(rows.min())
    return x, y, int(columns.max()) - x + 1, int(rows.max()) - y + 1


def _is_struck(box: Box, strokes: list[Box]) -> bool:
    """True when strokes through the ink cover most of the line's width."""
    covered = sum(
        max(0, min(s.right, box.right) - max(s.x, box.x))
        for s in strokes
        if box.y < s.y + s.height / 2 < box.bottom
    )
    return covered > 0.6 * box.width


def figure_height(boxes: np.ndarray) -> float:
    """Height of a usual figure or capital of this hand."""
    tall = boxes[(boxes[:, 3] > 14) & (boxes[:, 3] < 140), 3]
    return float(np.percentile(tall, 55)) if len(tall) else 36.0


def _hull(boxes: np.ndarray) -> Box:
    x, y = int(boxes[:, 0].min()), int(boxes[:, 1].min())
    right = int((boxes[:, 0] + boxes[:, 2]).max())
    bottom = int((boxes[:, 1] + boxes[:, 3]).max())
    return Box(x, y, right - x, bottom - y)


@dataclass(frozen=True)
class _Marks:
    """Parts as marks on paper: box edges, and for slanting strokes the heights of both ends."""

    x0: np.ndarray
    y0: np.ndarray
    x1: np.ndarray
    y1: np.ndarray
    area: np.ndarray
    left: np.ndarray  # mean height of the ink at the left end
    right: np.ndarray

    @classmethod
    def of(cls, ink: Ink, chosen: np.ndarray) -> _Marks:
        boxes = ink.parts.boxes[chosen].astype(float)
        x0, y0 = boxes[:, 0], boxes[:, 1]
        x1, y1 = x0 + boxes[:, 2], y0 + boxes[:, 3]
        left, right = (y0 + y1) / 2, (y0 + y1) / 2
        for i in np.flatnonzero((x1 - x0 > 2 * (y1 - y0)) & (y1 - y0 > 5)):
            x, y, w, h = ink.parts.boxes[chosen[i]]
            own = ink.labels[y : y + h, x : x + w] == chosen[i] + 1
            rows = np.arange(h)[:, None] * own
            edge = max(2, w // 6)
            left[i] = y + rows[:, :edge].sum() / max(1, own[:, :edge].sum())
            right[i] = y + rows[:, -edge:].sum() / max(1, own[:, -edge:].sum())
        return cls(x0, y0, x1, y1, ink.parts.area[chosen], left, right)

    def __len__(self) -> int:
        return len(self.x0)

    @property
    def width(self) -> np.ndarray:
        return self.x1 - self.x0

    @property
    def height(self) -> np.ndarray:
        return self.y1 - self.y0


@dataclass
class _Item:
    """Something that takes one place in a line: a part, or a whole stacked fraction."""

    members: list[int]
    x0: float
    y0: float
    x1: float
    y1: float
    axis: float  # height of the middle of the line at this item
    sign: bool = False

    @property
    def height(self) -> float:
        return self.y1 - self.y0


def _grouped(marks: _Marks, figure: float) -> list[list[int]]:
    """Indices of ``marks`` by line."""
    items, loose = _items(marks, figure)
    lines = [
        [member for i in chain for member in items[i].members] for chain in _chains(items, figure)
    ]
    lines = _with_loose(lines, loose, marks, figure)
    return _with_short(lines, marks, figure)


def _items(marks: _Marks, figure: float) -> tuple[list[_Item], list[int]]:
    """Fractions and single parts by their left edge, and the small parts left over."""
    small = (marks.height < 0.45 * figure) & (marks.width < 0.9 * figure)
    taken = np.zeros(len(marks), bool)
    items: list[_Item] = []
    for bar, members in _fractions(marks, figure):
        if taken[bar].any():
            continue
        members = [m for m in members if not taken[m]]
        taken[members] = True
        axis = float(marks.left[bar[0]] + marks.right[bar[-1]]) / 2
        items.append(_item(marks, members, axis))
    sign = small & (marks.width > 0.35 * figure) & (marks.width > 1.3 * marks.height)
    for i in np.flatnonzero(~taken & (~small | sign)):
        item = _item(marks, [int(i)], float(marks.y0[i] + marks.y1[i]) / 2)
        if sign[i]:  # a sign stands for the height of the figures beside it
            item.y0, item.y1 = item.axis - 0.3 * figure, item.axis + 0.3 * figure
            item.sign = True
        items.append(item)
    items.sort(key=lambda item: item.x0)
    return items, [int(i) for i in np.flatnonzero(small & ~sign & ~taken)]


def _item(marks: _Marks, members: list[int], axis: float) -> _Item:
    return _Item(
        members,
        float(marks.x0[members].min()),
        float(marks.y0[members].min()),
        float(marks.x1[members].max()),
        float(marks.y1[members].max()),
        axis,
    )


def _chains(items: list[_Item], figure: float) -> list[list[int]]:
    """Items linked to their nearest neighbours on the same line, to the right and to the left."""
    parent = list(range(len(items)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    links: dict[tuple[int, int], float] = {}
    for i, item in enumerate(items):
        for j in range(i + 1, len(items)):
            gap = items[j].x0 - item.x1
            if gap > _COLUMN_GAP * figure:
                continue
            if _beside(item, items[j], figure):
                links[i, j] = max(gap, 0.0) + 1.5 * abs(item.axis - items[j].axis)
    for side in (0, 1):
        nearest: dict[int, tuple[float, tuple[int, int]]] = {}
        for pair, cost in links.items():
            one = pair[side]
            if one not in nearest or cost < nearest[one][0]:
                nearest[one] = (cost, pair)
        for _, (i, j) in nearest.values():
            parent[root(j)] = root(i)
    chains: dict[int, list[int]] = {}
    for i in range(len(items)):
        chains.setdefault(root(i), []).append(i)
    return list(chains.values())


def _beside(left: _Item, right: _Item, figure: float) -> bool:
    """True when two items overlap in height enough to stand on one line."""
    overlap = min(left.y1, right.y1) - max(left.y0, right.y0)
    least = min(left.height, right.height)
    if left.sign or right.sign:
        near = right.x0 - left.x1 < 1.8 * figure
        return near and overlap > 0 and abs(left.axis - right.axis) < 0.6 * figure
    near_axis = abs(left.axis - right.axis) < 0.75 * figure
    return overlap > 0.35 * least and (near_axis or overlap > 0.7 * least)


def _bars(marks: _Marks, figure: float) -> list[list[int]]:
    """Flat strokes that may be fraction bars; pieces that follow on each other count as one."""
    flat = (
        (marks.width > 0.4 * figure)
        & (marks.height < 0.3 * figure + 0.2 * marks.width)
        & (marks.width > 2.2 * marks.height)
        & (marks.area < 0.35 * figure * marks.width)
    )
    bars: list[list[int]] = []
    for i in sorted(np.flatnonzero(flat), key=lambda i: marks.x0[i]):
        for bar in bars:
            last = bar[-1]
            gap = marks.x0[i] - marks.x1[last]
            level = abs(marks.left[i] - marks.right[last]) < 0.2 * figure
            if -0.2 * figure < gap < 0.5 * figure and level:
                bar.append(int(i))
                break
        else:
            bars.append([int(i)])
    joined = [bar for bar in bars if len(bar) > 1]
    single = [[int(i)] for i in np.flatnonzero(flat)]
    wide = [
        bar
        for bar in [*joined, *single]
        if marks.x1[bar].max() - marks.x0[bar].min() > 0.7 * figure
    ]
    return sorted(wide, key=lambda bar: marks.x0[bar].min() - marks.x1[bar].max())


def _fractions(marks: _Marks, figure: float) -> list[tuple[list[int], list[int]]]:
    """Fraction bars (their pieces) with all that stands on and under them, widest first."""
    found = []
    middle = (marks.x0 + marks.x1) / 2
    centre = (marks.y0 + marks.y1) / 2
    for bar in _bars(marks, figure):
        x0, x1 = marks.x0[bar].min(), marks.x1[bar].max()
        width = x1 - x0
        share = np.clip((middle - x0) / width, 0, 1)
        first, last = bar[0], bar[-1]
        axis = marks.left[first] + share * (marks.right[last] - marks.left[first])
        over = (middle > x0 - 0.25 * figure) & (middle < x1 + 0.25 * figure)
        over &= marks.width < 1.6 * width
        over[bar] = False
        tall = marks.height > 0.4 * figure
        above = over & (centre < axis) & (marks.y1 < axis + 0.35 * figure)
        below = over & (centre > axis) & (marks.y0 > axis - 0.35 * figure)
        up, down = axis - marks.y1, marks.y0 - axis
        first_up, first_down = up[above & tall], down[below & tall]
        if not len(first_up) or not len(first_down):
            continue
        if max(first_up.min(), first_down.min()) > (1.1 if width > 1.5 * figure else 0.8) * figure:
            continue
        upper = above & (up < max(0.9 * figure, first_up.min() + 0.6 * figure))
        lower = below & (down < max(0.9 * figure, first_down.min() + 0.6 * figure))
        crossing = over & tall & (centre - axis < 0.3 * marks.height)
        crossing &= (marks.y0 < axis - 0.15 * figure) & (marks.y1 > axis + 0.15 * figure)
        if marks.width[crossing].sum() > 0.3 * width:
            continue
        longer = [_goes_on(marks, row & tall, ~over & tall, figure) for row in (upper, lower)]
        if min(longer) > 0 or max(longer) > 3:
            continue
        upper |= above & _joins(marks, upper & tall, figure)
        lower |= below & _joins(marks, lower & tall, figure)
        found.append((bar, [*bar, *map(int, np.flatnonzero(upper | lower))]))
    return found


def _joins(marks: _Marks, row: np.ndarray, figure: float) -> np.ndarray:
    """Marks that share enough height with a row of figures to be raised or lowered in it."""
    y0, y1 = marks.y0[row].min(), marks.y1[row].max()
    shared = np.minimum(marks.y1, y1) - np.maximum(marks.y0, y0)
    least = np.where(marks.height > 0.7 * figure, 0.5 * marks.height, 0.1 * figure)
    return shared > np.minimum(least, marks.height)


def _goes_on(marks: _Marks, row: np.ndarray, beyond: np.ndarray, figure: float) -> int:
    """How many figures continue a row past the bar; a row that goes on is no half of a fraction."""
    y0, y1 = marks.y0[row].min(), marks.y1[row].max()
    overlap = np.minimum(marks.y1, y1) - np.maximum(marks.y0, y0)
    level = beyond & (overlap > 0.65 * marks.height)
    grown = row.copy()
    while True:
        x0, x1 = marks.x0[grown].min(), marks.x1[grown].max()
        gap = np.maximum(marks.x0 - x1, x0 - marks.x1)
        more = level & ~grown & (gap < 0.5 * figure)
        if not more.any():
            return int(grown.sum() - row.sum())
        grown |= more


def _reach(marks: _Marks, i: int, others: np.ndarray) -> np.ndarray:
    """Distance from part ``i`` to others, downwards counted more: lines lie close."""
    across = np.maximum(marks.x0[others] - marks.x1[i], marks.x0[i] - marks.x1[others])
    down = np.maximum(marks.y0[others] - marks.y1[i], marks.y0[i] - marks.y1[others])
    return np.hypot(np.maximum(0, across), 1.6 * np.maximum(0, down))


def _with_loose(
    lines: list[list[int]], loose: list[int], marks: _Marks, figure: float
) -> list[list[int]]:
    """Dots, signs and raised figures given to the line whose ink is nearest."""
    if not lines:
        return []
    owner = np.full(len(marks), -1)
    for n, line in enumerate(lines):
        owner[line] = n
    given = [list(line) for line in lines]
    waiting = sorted(loose, key=lambda i: -marks.area[i])
    for i in waiting:
        anchors = np.flatnonzero(owner >= 0)
        reach = _reach(marks, i, anchors)
        nearest = int(reach.argmin())
        limit = (0.8 if marks.area[i] < _SPECK else 1.5) * figure
        if reach[nearest] < limit:
            owner[i] = owner[anchors[nearest]]
            given[owner[i]].append(i)
    return given


def _with_short(lines: list[list[int]], marks: _Marks, figure: float) -> list[list[int]]:
    """Lines of one or two small figures joined to the line they are raised or lowered on."""
    owner = np.full(len(marks), -1)
    for n, line in enumerate(lines):
        owner[line] = n
    for n in sorted(range(len(lines)), key=lambda n: len(lines[n])):
        own = lines[n]
        wide = marks.x1[own].max() - marks.x0[own].min()
        high = marks.y1[own].max() - marks.y0[own].min()
        others = np.flatnonzero((owner >= 0) & (owner != n))
        if wide > 2.2 * figure or high > 0.95 * figure or not len(others):
            continue
        reach = np.min([_reach(marks, i, others) for i in own], axis=0)
        nearest = int(reach.argmin())
        if reach[nearest] < 0.55 * figure:
            owner[own] = owner[others[nearest]]
    joined: dict[int, list[int]] = {}
    for i in np.flatnonzero(owner >= 0):
        joined.setdefault(int(owner[i]), []).append(int(i))
    return list(joined.values())


def line_image(ink: Ink, image: np.ndarray, line: PenLine, margin: int = 6) -> np.ndarray:
    """Grey crop of one pen line, uint8, other ink and rules painted over with paper.

    Args:
        ink: the page's ink.
        image: the evened page, uint8 RGB.
        line: which parts to show.
        margin: pixels of paper around the ink.
    """
    height, width = ink.mask.shape
    x0, y0 = max(0, line.box.x - margin), max(0, line.box.y - margin)
    x1 = min(width, line.box.right + margin)
    y1 = min(height, line.box.bottom + margin)
    own = np.isin(ink.labels[y0:y1, x0:x1], np.array(line.parts) + 1)
    grey = PAPER - ink.darkness[y0:y1, x0:x1]
    soft = _grown(own, 2)
    return np.where(soft, np.clip(grey, 0, 255), 255).astype(np.uint8)


def _grown(mask: np.ndarray, by: int) -> np.ndarray:
    return cv2.dilate(mask.astype(np.uint8), np.ones((2 * by + 1,) * 2, np.uint8)).astype(bool)


# --- blocks --------------------------------------------------------------------------------


def numbered_blocks(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Lines with ``block`` set: lines of one kind close under each other share a block."""
    ordered = sorted(lines, key=lambda line: (line.box.y, line.box.x))
    blocks: list[list[Line]] = []
    for line in ordered:
        home = None
        for block in reversed(blocks):
            last = block[-1]
            if last.ink != line.ink:
                continue
            gap = line.box.y - last.box.bottom
            pitch = max(last.box.height, line.box.height)
            shared = min(last.box.right, line.box.right) - max(last.box.x, line.box.x)
            if -0.6 * pitch < gap < 1.1 * pitch and shared > -pitch:
                home = block
                break
        if home is None:
            blocks.append([line])
        else:
            home.append(line)
    return tuple(
        replace(line, block=number) for number, block in enumerate(blocks) for line in block
    )
