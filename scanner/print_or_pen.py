"""Grey ink told apart: print, or black pen and pencil.

Ink is gathered into runs (a word or a few). Each run is compared with the page's own body print:
size, stroke, darkness, tint, how level its letters stand, and how sure Tesseract was of it. The
weights of ``_WEIGHTS`` were fitted (logistic regression) on runs of 32 synthetic sheets with the
ink of real writers and handwriting typefaces, and are general on purpose: what settles most
pages is ``_adapted``, where the two inks of this very page are compared with each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scanner.ink import Parts
from scanner.print_words import RawWord

_SMALL = 8  # pixels: parts lower than this (dots, signs) say nothing of size
_LEVEL = 1.6  # pixels that printed letters may be off their common baseline
# Weights for: constant, size, stroke, darkness, stroke less size, unevenness, Tesseract's
# confidence, confidence times length, fewness of letters, tint.
_WEIGHTS = np.array([-1.3, 5.53, 2.18, 7.19, 1.97, 4.38, -3.31, -1.4, 0.47, 3.52])
_UNDECIDED = 2.5  # log odds
_ADAPT_FLOOR = np.array([0.08, 0.05, 0.02, 0.02])  # least spread of stroke, darkness, tints


@dataclass(frozen=True)
class _Runs:
    """Figures of runs of ink, one row each; ``members`` are part indices."""

    members: list[np.ndarray]
    boxes: np.ndarray  # x0, y0, x1, y1
    area: np.ndarray  # pixels of ink
    height: np.ndarray
    stroke: np.ndarray
    darkness: np.ndarray
    tint: np.ndarray
    level: np.ndarray  # share of letters on one baseline; 0.5 where too few to tell
    letters: np.ndarray  # parts of letter size, 0 where fewer than three
    confidence: np.ndarray  # Tesseract, 0 to 1
    characters: np.ndarray  # read by Tesseract
    alphabetic: np.ndarray


def is_pen(parts: Parts, known_pen: np.ndarray, words: tuple[RawWord, ...]) -> np.ndarray:
    """Bool (n,): parts written by hand.

    Args:
        parts: all ink of the page.
        known_pen: bool (n,), parts known as pen by their colour.
        words: what Tesseract read on all other ink.
    """
    pen = known_pen.copy()
    members = _runs(parts.boxes, np.flatnonzero(~known_pen))
    if not members:
        return pen
    runs = _measured(parts, members, words)
    body = _body_print(runs)
    if body is None:
        pen[:] = True
        return pen
    score = _context(runs, body[0], _adapted(runs, body[2], _first_score(runs, body)))
    for run, value in zip(runs.members, score, strict=True):
        pen[run] = value > 0
    return pen


def _runs(boxes: np.ndarray, chosen: np.ndarray) -> list[np.ndarray]:
    """Parts that stand close beside each other."""
    order = chosen[np.argsort(boxes[chosen, 0], kind="stable")]
    x0, y0, width, height = boxes[order].astype(float).T
    x1, y1 = x0 + width, y0 + height
    parent = np.arange(len(order))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for i in range(len(order)):
        reach = np.clip(0.9 * height[i], 8, 30)
        last = np.searchsorted(x0, x1[i] + reach)
        others = np.arange(i + 1, last)
        overlap = np.minimum(y1[i], y1[others]) - np.maximum(y0[i], y0[others])
        for j in others[overlap > 0.4 * np.minimum(height[i], height[others])]:
            parent[root(int(j))] = root(i)
    groups: dict[int, list[int]] = {}
    for i in range(len(order)):
        groups.setdefault(root(i), []).append(int(order[i]))
    return [np.array(group) for group in groups.values()]


def _measured(parts: Parts, groups: list[np.ndarray], words: tuple[RawWord, ...]) -> _Runs:
    word_boxes = np.array([word.box for word in words], float).reshape(-1, 4)
    centre_y = word_boxes[:, 1] + word_boxes[:, 3] / 2
    confidence = np.array([word.confidence for word in words]) / 100
    characters = np.array([sum(c.isalnum() for c in word.text) for word in words], float)
    alphabetic = np.array([sum(c.isalpha() for c in word.text) for word in words], float)
    rows = []
    for group in groups:
        boxes, area = parts.boxes[group], parts.area[group].astype(float)
        x0, y0 = boxes[:, :2].min(axis=0)
        x1, y1 = (boxes[:, :2] + boxes[:, 2:]).max(axis=0)
        tall = boxes[boxes[:, 3] > _SMALL]
        inside = (
            (word_boxes[:, 0] < x1)
            & (word_boxes[:, 0] + word_boxes[:, 2] > x0)
            & (centre_y > y0)
            & (centre_y < y1)
        )
        sure = (
            np.average(confidence[inside], weights=characters[inside] + 0.5) if any(inside) else 0
        )
        level, letters = _levelness(tall)
        rows.append(
            (
                (x0, y0, x1, y1),
                area.sum(),
                float(np.median(tall[:, 3])) if len(tall) else 0.0,
                float(np.average(parts.stroke[group], weights=area)),
                float(np.average(parts.darkness[group], weights=area)),
                np.average(parts.tint[group], axis=0, weights=area),
                level,
                letters,
                max(0.0, float(sure)),
                characters[inside].sum() if len(words) else 0.0,
                alphabetic[inside].sum() if len(words) else 0.0,
            )
        )
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    return _Runs(groups, *columns)


def _levelness(letters: np.ndarray) -> tuple[float, int]:
    """Share of letters whose feet lie on one (slightly sloping) line, and their number."""
    if len(letters) < 3:
        return 0.5, 0
    x = letters[:, 0] + letters[:, 2] / 2
    feet = letters[:, 1] + letters[:, 3]
    best = 0.0
    for slope in (-0.015, -0.0075, 0.0, 0.0075, 0.015):
        level = feet - slope * x
        on_line = np.abs(level[:, None] - level[None, :]) <= _LEVEL
        best = max(best, float(on_line.mean(axis=0).max()))
    return best, len(letters)


def _body_print(runs: _Runs) -> tuple[float, float, float, np.ndarray] | None:
    """Height, stroke, darkness and tint of the page's body print; None where there is none."""
    sure = (
        (runs.confidence > 0.85) & (runs.alphabetic >= 4) & (runs.level > 0.6) & (runs.letters >= 6)
    )
    if runs.alphabetic[sure].sum() < 10:
        return None
    weights = runs.alphabetic[sure]
    tint = np.array([_weighted_median(runs.tint[sure, i], weights) for i in (0, 1)])
    return (
        _weighted_median(runs.height[sure], weights),
        _weighted_median(runs.stroke[sure], weights),
        _weighted_median(runs.darkness[sure], weights),
        tint,
    )


def _weighted_median(values: np.ndarray, weights: np.ndarray) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def _first_score(runs: _Runs, body: tuple[float, float, float, np.ndarray]) -> np.ndarray:
    """Log odds of pen for each run by itself."""
    size = np.log(np.maximum(runs.height, 3) / body[0])
    stroke = np.log(runs.stroke / body[1])
    darkness = (runs.darkness - body[2]) / body[2]
    tint = np.hypot(*(runs.tint - body[3]).T)
    columns = [
        np.ones(len(size)),
        np.clip(np.abs(size), 0, 0.7),
        np.clip(np.abs(stroke), 0, 0.5),
        np.clip(np.abs(darkness), 0, 0.4),
        np.clip(stroke - size, -0.7, 0.7),
        (1 - runs.level) * (runs.letters >= 4),
        runs.confidence * (runs.characters >= 1),
        np.minimum(runs.characters, 12) / 12 * runs.confidence,
        np.exp(-runs.letters / 3),
        np.clip(tint, 0, 0.2),
    ]
    return np.column_stack(columns) @ _WEIGHTS


def _adapted(runs: _Runs, body_darkness: float, first: np.ndarray) -> np.ndarray:
    """Scores after comparing each run with the pen and the print of this page, as they stand."""
    values = np.column_stack([np.log(runs.stroke), runs.darkness / body_darkness, runs.tint])
    weight = np.clip(runs.letters, 0, 10).astype(float)
    # a few large letters show darkness and tint nearly as well as many
    trust = np.where(runs.letters >= 3, 1.0, np.minimum(0.7, runs.area / 500))
    score = first
    for _ in range(5):
        share = 1 / (1 + np.exp(-np.clip(score, -30, 30)))
        pen, printed = weight * share, weight * (1 - share)
        if min(pen.sum(), printed.sum()) < 6:
            break
        pen_mean = (values * pen[:, None]).sum(axis=0) / pen.sum()
        print_mean = (values * printed[:, None]).sum(axis=0) / printed.sum()
        to_pen, to_print = (values - pen_mean) ** 2, (values - print_mean) ** 2
        spread = (to_pen * pen[:, None] + to_print * printed[:, None]).sum(axis=0) / weight.sum()
        spread = spread + _ADAPT_FLOOR**2
        evidence = ((to_print - to_pen) / (2 * spread)).sum(axis=1)
        score = first + np.clip(evidence, -4, 4) * trust
    return score


def _context(runs: _Runs, body_height: float, score: np.ndarray) -> np.ndarray:
    """Scores where runs that do not settle it themselves lean towards the ink around them.

    Runs of one or two letters lean towards all ink near by, longer ones that are undecided (a
    power of ten in print stands uneven) towards the run right beside them.
    """
    x0, y0, x1, y1 = runs.boxes.astype(float).T
    telling = runs.letters >= 3
    leaned = score.copy()
    for i in np.flatnonzero(~telling):
        across = np.maximum(0, np.maximum(x0 - x1[i], x0[i] - x1))
        down = np.maximum(0, np.maximum(y0 - y1[i], y0[i] - y1))
        near = np.exp(-np.hypot(across, 1.5 * down) / (1.5 * body_height)) * (0.2 + telling)
        near[i] = 0
        leaned[i] += 4 * (near * np.tanh(score / 2)).sum() / (near.sum() + 0.05)
    for i in np.flatnonzero(telling & (np.abs(score) < _UNDECIDED)):
        gap = np.maximum(x0 - x1[i], x0[i] - x1)
        shared = np.minimum(y1, y1[i]) - np.maximum(y0, y0[i])
        beside = telling & (gap < body_height) & (shared > 0.5 * np.minimum(y1 - y0, y1[i] - y0[i]))
        beside[i] = False
        if beside.any():
            leaned[i] += 3 * np.tanh(score[beside] / 2).mean()
    return leaned
