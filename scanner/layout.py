"""Pen ink gathered into lines.

A stacked fraction is one line with what stands beside its bar; raised and lowered figures, dots
and signs go with their base; two columns of working stay apart. Lengths are pixels of a page of
about 200 dpi; most are in units of the writer's own figure height.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from scanner.ink import PAPER, Ink
from scanner.page import Box, Line

_SPECK = 14  # pixels of area: smaller parts are kept only close to larger ink
_COLUMN_GAP = 3.2  # figure heights: a wider gap parts two columns


@dataclass(frozen=True)
class PenLine:
    """The parts of one handwritten line: ``parts`` are row indices into ``Ink.parts``."""

    box: Box
    parts: tuple[int, ...]
    struck: bool = False


# --- pen lines -----------------------------------------------------------------------------


def pen_lines(ink: Ink, pen: np.ndarray) -> tuple[PenLine, ...]:
    """Pen parts gathered into lines, in reading order."""
    chosen = np.flatnonzero(pen)
    boxes = ink.parts.boxes[chosen].astype(float)
    if not len(chosen):
        return ()
    figure = figure_height(boxes)
    groups = _grouped(boxes, ink.parts.area[chosen], figure)
    lines = []
    for group in groups:
        members = chosen[group]
        box = _hull(ink.parts.boxes[members])
        if box.width < 0.4 * figure and box.height < 0.5 * figure:
            continue
        lines.append(PenLine(box, tuple(int(m) for m in members)))
    return tuple(sorted(lines, key=lambda line: (line.box.y + line.box.height / 2, line.box.x)))


def figure_height(boxes: np.ndarray) -> float:
    """Height of a usual figure or capital of this hand."""
    tall = boxes[(boxes[:, 3] > 14) & (boxes[:, 3] < 140), 3]
    return float(np.percentile(tall, 55)) if len(tall) else 36.0


def _hull(boxes: np.ndarray) -> Box:
    x, y = int(boxes[:, 0].min()), int(boxes[:, 1].min())
    right = int((boxes[:, 0] + boxes[:, 2]).max())
    bottom = int((boxes[:, 1] + boxes[:, 3]).max())
    return Box(x, y, right - x, bottom - y)


@dataclass
class _Item:
    """Something that takes one place in a line: a part, or a whole stacked fraction."""

    members: list[int]
    x0: float
    y0: float
    x1: float
    y1: float
    axis: float  # height of the middle of the line at this item

    @property
    def height(self) -> float:
        return self.y1 - self.y0


def _grouped(boxes: np.ndarray, area: np.ndarray, figure: float) -> list[list[int]]:
    """Indices of ``boxes`` (x, y, w, h) by line."""
    small = (boxes[:, 3] < 0.45 * figure) & (boxes[:, 2] < 0.9 * figure)
    bars = _fraction_bars(boxes, figure)
    taken = np.zeros(len(boxes), bool)
    items: list[_Item] = []
    for bar, above, below in bars:
        if taken[bar]:
            continue
        members = [bar, *above, *below]
        taken[members] = True
        hull = boxes[members]
        items.append(
            _Item(
                members,
                float(hull[:, 0].min()),
                float(hull[:, 1].min()),
                float((hull[:, 0] + hull[:, 2]).max()),
                float((hull[:, 1] + hull[:, 3]).max()),
                float(boxes[bar, 1] + boxes[bar, 3] / 2),
            )
        )
    for i in np.flatnonzero(~taken & ~small):
        x, y, w, h = boxes[i]
        items.append(_Item([int(i)], x, y, x + w, y + h, y + h / 2))
    items.sort(key=lambda item: item.x0)
    parent = list(range(len(items)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for i, item in enumerate(items):
        best, best_cost = None, _COLUMN_GAP * figure
        for j in range(i + 1, len(items)):
            other = items[j]
            gap = other.x0 - item.x1
            if gap > _COLUMN_GAP * figure:
                break
            if not _beside(item, other, figure):
                continue
            cost = max(gap, 0.0) + 1.5 * abs(item.axis - other.axis)
            if cost < best_cost:
                best, best_cost = j, cost
        if best is not None:
            parent[root(best)] = root(i)
    # An item whose right neighbour was claimed by a nearer one still belongs to its line.
    for j, other in enumerate(items):
        best, best_cost = None, _COLUMN_GAP * figure
        for i in range(j):
            item = items[i]
            gap = other.x0 - item.x1
            if gap < _COLUMN_GAP * figure and _beside(item, other, figure):
                cost = max(gap, 0.0) + 1.5 * abs(item.axis - other.axis)
                if cost < best_cost:
                    best, best_cost = i, cost
        if best is not None:
            parent[root(j)] = root(best)
    groups: dict[int, list[int]] = {}
    for i, item in enumerate(items):
        groups.setdefault(root(i), []).extend(item.members)
    lines = list(groups.values())
    loose = [int(i) for i in np.flatnonzero(small & ~taken)]
    return _with_small(lines, loose, boxes, area, figure)


def _beside(left: _Item, right: _Item, figure: float) -> bool:
    """True when two items overlap in height enough to stand on one line."""
    overlap = min(left.y1, right.y1) - max(left.y0, right.y0)
    least = min(left.height, right.height)
    near_axis = abs(left.axis - right.axis) < 0.75 * figure
    return overlap > 0.35 * least and (near_axis or overlap > 0.7 * least)


def _fraction_bars(boxes: np.ndarray, figure: float) -> list[tuple[int, list[int], list[int]]]:
    """Bars with what stands on and under them, widest first."""
    found = []
    flat = np.flatnonzero(
        (boxes[:, 2] > 0.7 * figure)
        & (boxes[:, 3] < 0.5 * figure + 0.06 * boxes[:, 2])
        & (boxes[:, 2] > 2.6 * boxes[:, 3])
    )
    x0, y0 = boxes[:, 0], boxes[:, 1]
    x1, y1 = boxes[:, 0] + boxes[:, 2], boxes[:, 1] + boxes[:, 3]
    middle = (x0 + x1) / 2
    centre_y = (y0 + y1) / 2
    for bar in sorted(flat, key=lambda i: -boxes[i, 2]):
        axis = centre_y[bar]
        over = (middle > x0[bar] - 0.2 * figure) & (middle < x1[bar] + 0.2 * figure)
        over[bar] = False
        over &= boxes[:, 2] < 1.6 * boxes[bar, 2]
        above = over & (centre_y < axis) & (y1 > axis - 1.0 * figure) & (y1 < axis + 0.3 * figure)
        below = over & (centre_y > axis) & (y0 < axis + 1.0 * figure) & (y0 > axis - 0.3 * figure)
        tall_above = above & (boxes[:, 3] > 0.4 * figure)
        tall_below = below & (boxes[:, 3] > 0.4 * figure)
        if not tall_above.any() or not tall_below.any():
            continue
        gap_above = axis - y1[tall_above].max()
        gap_below = y0[tall_below].min() - axis
        if gap_above > 0.8 * figure or gap_below > 0.8 * figure:
            continue
        if boxes[bar, 2] < 0.6 * min(_extent(x0, x1, tall_above), _extent(x0, x1, tall_below)):
            continue
        # figures raised on the numerator
        raised = over & (centre_y < axis) & (y1 > axis - 1.9 * figure)
        raised &= y1 > y0[tall_above].min() + 0.1 * figure
        lowered = over & (centre_y > axis) & (y0 < y1[tall_below].max() - 0.1 * figure)
        lowered &= y0 < axis + 1.9 * figure
        found.append(
            (
                int(bar),
                [int(i) for i in np.flatnonzero(above | raised)],
                [int(i) for i in np.flatnonzero(below | lowered)],
            )
        )
    return found


def _extent(x0: np.ndarray, x1: np.ndarray, chosen: np.ndarray) -> float:
    return float(x1[chosen].max() - x0[chosen].min())


def _with_small(
    lines: list[list[int]],
    loose: list[int],
    boxes: np.ndarray,
    area: np.ndarray,
    figure: float,
) -> list[list[int]]:
    """Dots, signs and raised figures given to the line whose ink is nearest."""
    if not lines:
        return []
    owner = np.full(len(boxes), -1)
    for n, line in enumerate(lines):
        owner[line] = n
    anchors = np.flatnonzero(owner >= 0)
    x0, y0 = boxes[:, 0], boxes[:, 1]
    x1, y1 = x0 + boxes[:, 2], y0 + boxes[:, 3]
    given = [list(line) for line in lines]
    for i in loose:
        across = np.maximum(0, np.maximum(x0[anchors] - x1[i], x0[i] - x1[anchors]))
        down = np.maximum(0, np.maximum(y0[anchors] - y1[i], y0[i] - y1[anchors]))
        reach = np.hypot(across, 1.6 * down)
        nearest = int(reach.argmin())
        limit = (0.8 if area[i] < _SPECK else 1.6) * figure
        if reach[nearest] < limit:
            given[owner[anchors[nearest]]].append(i)
    return given


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
