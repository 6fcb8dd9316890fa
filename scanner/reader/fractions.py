"""Stacked fractions found by their bar: a line image cut into pieces that read left to right.

A recogniser of plain lines cannot follow ink that is stacked. This module finds bars with ink
close above and close below, and cuts the line there: what stands before, the numerator, the
denominator, what stands after; each again, until no bar is left.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

_INK_SHARE = 0.42  # of the darkest ink's darkness; what counts as ink
_BAR_LENGTH = 0.16  # of the line's height; shorter strokes are signs
_MIN_BAR = 9  # pixels
_FLAT = 3.2  # width over height of a bar, its tilt included
_CROSSED = 0.08  # share of a bar's columns with ink right above and right below: struck-out text
_TOUCHED = 0.3  # share of a bar's columns that may be touched from one side: more is an underline
_ATTACHED = 0.12  # of the line's height that a short bar's own stroke may be taller than the bar
_TALL_ENOUGH = 0.13  # of the line's height: what stands above and below a bar is at least this
_OVERHANG = 0.12  # of the line's height that a numerator may stick out beyond its bar
_DEEPEST = 2


@dataclass(frozen=True)
class Piece:
    """A part of a line without stacked fractions; ``image`` is uint8 grey, dark on light."""

    image: np.ndarray


@dataclass(frozen=True)
class Stack:
    """A fraction: what stands above its bar and below it."""

    above: Parts
    below: Parts


Parts = tuple[Piece | Stack, ...]


def split(image: np.ndarray) -> Parts:
    """Cut a line image (uint8 grey, dark ink on light) at its fraction bars.

    A line without stacked fractions comes back whole, pixel for pixel.
    """
    darkness = 255 - image
    paper = np.percentile(darkness, 30)
    ink_level = max(float(np.percentile(darkness, 99.5)) - paper, 1.0)
    ink = ((darkness - paper) > _INK_SHARE * ink_level).astype(np.uint8)
    if ink_level < 20 or not ink.any():
        return (Piece(image),)
    return _cut(image, ink, int(np.percentile(image, 70)), 0)


@dataclass(frozen=True)
class _Bar:
    left: int
    right: int
    top: int
    bottom: int
    mask: np.ndarray  # the bar's own ink, shape of the whole line


def _cut(image: np.ndarray, ink: np.ndarray, paper: int, depth: int) -> Parts:
    bar = _widest_bar(ink) if depth < _DEEPEST else None
    if bar is None:
        return (Piece(image),)
    rest = ink & ~bar.mask
    count, labels, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=8)
    reach = _OVERHANG * ink.shape[0]
    middle = (bar.top + bar.bottom) / 2
    where = np.zeros(count, np.uint8)  # 1 before, 2 after, 3 above, 4 below
    for number in range(1, count):
        x, y, width, height, _ = stats[number]
        centre = x + width / 2
        inside = bar.left - reach <= centre <= bar.right + reach
        sticks_out = x + width > bar.right + reach + 2 and x > bar.right - reach
        sticks_before = x < bar.left - reach - 2 and x + width < bar.left + reach
        spans = (
            y < bar.top - 2 and y + height > bar.bottom + 2 and not (bar.left < centre < bar.right)
        )
        if inside and not (spans or sticks_out or sticks_before):
            where[number] = 3 if y + height / 2 < middle else 4
        else:
            where[number] = 1 if centre < (bar.left + bar.right) / 2 else 2
    of_pixel = where[labels]
    near = cv2.dilate(of_pixel, np.ones((5, 5), np.uint8))  # the soft edges of the strokes
    of_pixel = np.where(of_pixel > 0, of_pixel, near)
    parts: list[Piece | Stack] = []
    before = _part(image, ink, of_pixel, 1, paper)
    above, below = (_part(image, ink, of_pixel, side, paper) for side in (3, 4))
    after = _part(image, ink, of_pixel, 2, paper)
    if above is None or below is None:
        return (Piece(image),)
    if before is not None:
        parts.extend(_cut(*before, paper, depth))
    parts.append(Stack(_cut(*above, paper, depth + 1), _cut(*below, paper, depth + 1)))
    if after is not None:
        parts.extend(_cut(*after, paper, depth))
    return tuple(parts)


def _part(
    image: np.ndarray, ink: np.ndarray, of_pixel: np.ndarray, side: int, paper: int
) -> tuple[np.ndarray, np.ndarray] | None:
    """The picture and the ink of one side, cut to its ink; None when there is too little."""
    mask = of_pixel == side
    own = ink * mask
    if own.sum() < 4:
        return None
    rows, columns = np.flatnonzero(own.any(axis=1)), np.flatnonzero(own.any(axis=0))
    margin = 4
    top, bottom = max(0, rows[0] - margin), min(ink.shape[0], rows[-1] + 1 + margin)
    left, right = max(0, columns[0] - margin), min(ink.shape[1], columns[-1] + 1 + margin)
    picture = np.where(mask, image, np.uint8(paper))[top:bottom, left:right]
    return picture, own[top:bottom, left:right]


def _widest_bar(ink: np.ndarray) -> _Bar | None:
    """The longest flat stroke with characters close above and close below."""
    height = ink.shape[0]
    length = max(_MIN_BAR, round(_BAR_LENGTH * height))
    thick = cv2.dilate(ink, np.ones((3, 1), np.uint8))
    runs = cv2.morphologyEx(thick, cv2.MORPH_OPEN, np.ones((1, length), np.uint8))
    closed = cv2.morphologyEx(runs, cv2.MORPH_CLOSE, np.ones((1, 5), np.uint8))
    runs = cv2.bitwise_and(closed, thick)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(runs, connectivity=8)
    for number in sorted(range(1, count), key=lambda n: -stats[n][2]):
        x, y, width, tall, _ = stats[number]
        if width < _FLAT * tall:
            continue
        mask = ((labels == number) & (ink > 0)).astype(np.uint8)
        bar = _Bar(x, x + width, y, y + tall, mask)
        if _is_fraction_bar(ink, bar):
            return bar
    return None


def _is_fraction_bar(ink: np.ndarray, bar: _Bar) -> bool:
    height = ink.shape[0]
    rest = ink & ~bar.mask
    columns = slice(bar.left, bar.right)
    above = rest[max(0, bar.top - 1) : bar.top + 1, columns].any(axis=0)
    below = rest[bar.bottom - 1 : bar.bottom + 1, columns].any(axis=0)
    if above.mean() > _TOUCHED or below.mean() > _TOUCHED or (above & below).mean() > _CROSSED:
        return False
    _, labels, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    own = np.bincount(labels[bar.mask > 0]).argmax()
    attached = stats[own][3] > (bar.bottom - bar.top) + _ATTACHED * height
    if attached and bar.right - bar.left < height:
        return False
    enough = max(6.0, _TALL_ENOUGH * height)
    return all(
        _tallest(part) >= enough for part in (rest[: bar.top, columns], rest[bar.bottom :, columns])
    )


def _tallest(ink: np.ndarray) -> int:
    """Height of the tallest connected stroke in ``ink``, 0 when there is none."""
    if ink.size == 0 or not ink.any():
        return 0
    _, _, stats, _ = cv2.connectedComponentsWithStats(np.ascontiguousarray(ink), connectivity=8)
    return int(stats[1:, cv2.CC_STAT_HEIGHT].max(initial=0))
