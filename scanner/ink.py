"""Print, pen and rules told apart on a flattened page.

``find_ink`` makes one mask of all ink, ``find_rules`` takes ruled lines, squares, margins and
boxes out of it, ``coloured_ink`` tells coloured pen from grey by hue alone. Grey pen and pencil
are told from print later, once words are known (``layout.is_print``). Lengths are pixels of a
page of about 200 dpi.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy import ndimage

from scanner.page import AnswerSpace, Box

PAPER = 250  # grey level that ``flatten.even_light`` gives to paper
_FAINT = 14  # darkness that a pale rule still has
_LONG_RULE = 0.22  # of the page width: a lone stroke of this length with paper around is a rule
_PALE = 60  # darkness; paler strokes may drown in the paper's grain here and there
_MOST_GAPS = 0.05  # share of a dark rule's length that may be missing; rows of letters miss more
_STROKE_ALONG = 28  # pixels: shortest stroke along a rule that is taken for a bar or a sign
_HEAVIER = 1.4  # times the ink of the rule alone, where a stroke lies on it
_RULED_PAPER = 8  # rules across the whole page; more are ruled paper, not answer lines
_CLOSE = 52  # pixels: a fraction's figures stand this close to its bar
_SPECK = 6  # pixels of area: grain of paper and camera; a printed full stop has 9 and more
_EDGE = 8  # pixels at the border of the page where the desk may show
_SHORTEST_RULE = 90  # pixels, 11 mm: shorter straight strokes are always ink
_TALLEST_BRACKET = 170  # pixels: higher straight strokes are sides of boxes and margins
_THICKEST_RULE = 14  # pixels
_PIECE = 45  # pixels: straight pieces from which rules are put together
_HUE = 0.22  # (max - min channel) / darkness; black print on evened paper stays below


@dataclass(frozen=True)
class Rule:
    """One straight printed line; ``level`` is True for a horizontal one."""

    box: Box
    level: bool
    darkness: float


@dataclass(frozen=True)
class Ink:
    """All ink of a page, rules removed.

    ``mask`` bool (height, width); ``darkness`` float32, 0 paper to 250 full ink; ``labels``
    int32 numbers the connected parts from 1, ``parts`` their boxes and figures in that order.
    """

    mask: np.ndarray
    darkness: np.ndarray
    labels: np.ndarray
    parts: Parts
    rules: tuple[Rule, ...]


@dataclass(frozen=True)
class Parts:
    """Connected parts of ink, one row each; index i is label i + 1.

    ``boxes`` int (n, 4) as x, y, width, height; ``area`` pixels; ``darkness`` mean; ``tint``
    float (n, 2), how much more red and blue than green the ink takes out of the light, as a
    share of its strongest channel; ``hue`` how coloured (0 grey to 1); ``stroke`` mean stroke
    width in pixels.
    """

    boxes: np.ndarray
    area: np.ndarray
    darkness: np.ndarray
    tint: np.ndarray
    hue: np.ndarray
    stroke: np.ndarray

    def __len__(self) -> int:
        return len(self.area)


def find_ink(image: np.ndarray) -> Ink:
    """All ink of an evened page (uint8 RGB) without its rules."""
    darkness = page_darkness(image)
    grain = paper_grain(darkness)
    strong = darkness > ink_level(darkness, grain)
    tinted = _tinted(image, strong)
    rules, rule_mask = find_rules(strong, tinted, darkness, grain)
    mask = _without_rules(strong, darkness, tinted, rules, rule_mask)
    mask = _without_edge(mask)
    labels, stats = _labelled(mask, tinted)
    parts = _measured(image, darkness, mask, labels, stats)
    return Ink(mask, darkness, labels, parts, rules)


def all_but(ink: Ink, left_out: np.ndarray) -> np.ndarray:
    """Bool (height, width): the page less some ink and all rules, faint marks still there.

    A printed exponent's minus is one or two pixels high and may be too pale to count as ink;
    without it 10^-6 would be read as 10^6, so print is shown to a reader as all that is not pen.

    Args:
        ink: the page's ink.
        left_out: bool (height, width), ink to leave out.
    """
    hidden = cv2.dilate(left_out.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
    for rule in ink.rules:
        box = rule.box
        part = (slice(max(0, box.y - 3), box.bottom + 3), slice(max(0, box.x - 3), box.right + 3))
        hidden[part] |= ~ink.mask[part]
    return ~hidden | (ink.mask & ~left_out)


def ink_without(image: np.ndarray, ink: Ink, taken: np.ndarray) -> Ink:
    """The ink less the pixels of ``taken`` (bool), its parts found anew, specks left out."""
    mask = _without_edge(ink.mask & ~taken)
    labels, stats = _labelled(mask, _tinted(image, mask))
    return replace(
        ink, mask=mask, labels=labels, parts=_measured(image, ink.darkness, mask, labels, stats)
    )


def _tinted(image: np.ndarray, mask: np.ndarray) -> np.ndarray:
    """Bool (height, width): ink pixels that with their surroundings are plainly coloured."""
    absorbed = cv2.subtract(np.full_like(image, PAPER), image)
    near = cv2.blur(absorbed, (5, 5))
    low, high = channel_extremes(near)
    return mask & (high - low > _HUE * high)


def _labelled(mask: np.ndarray, tinted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Connected parts; where coloured and grey strokes touch, each colour is a part of its own."""
    tinted = tinted & mask
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    owner = labels.ravel()
    area = np.maximum(np.bincount(owner, minlength=count), 1)
    share = np.bincount(owner[np.flatnonzero(tinted)], minlength=count) / area
    mixed = (share > 0.12) & (share < 0.88) & (area > 60)
    mixed[0] = False
    if not mixed.any():
        return labels, stats
    touched = mixed[labels]
    label_of = labels.copy()
    label_of[touched] = 0
    for colour in (tinted, ~tinted):
        extra, more, _, _ = cv2.connectedComponentsWithStats((touched & colour).astype(np.uint8))
        label_of[more > 0] = more[more > 0] + count - 1
        count += extra - 1
    used, compact = np.unique(label_of, return_inverse=True)
    compact = compact.reshape(labels.shape).astype(np.int32)
    boxes = ndimage.find_objects(compact)
    rows = [[0, 0, *mask.shape[::-1]]] + [
        [x.start, y.start, x.stop - x.start, y.stop - y.start] for y, x in boxes
    ]
    return compact, np.array(rows)


def channel_extremes(image: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The least and the greatest channel of each pixel of a uint8 image of three channels."""
    first, second, third = cv2.split(image)
    low = cv2.min(cv2.min(first, second), third)
    return low, cv2.max(cv2.max(first, second), third)


def page_darkness(image: np.ndarray) -> np.ndarray:
    """PAPER less the darkest channel, lightly smoothed: float32, coloured ink as dark as black."""
    darkest, _ = channel_extremes(cv2.GaussianBlur(image, (3, 3), 0))
    return np.clip(PAPER - darkest.astype(np.float32), 0, None)


def paper_grain(darkness: np.ndarray) -> float:
    """Standard deviation of the paper's darkness, from its median deviation."""
    sample = darkness[::3, ::3]
    return float(np.median(np.abs(sample - np.median(sample)))) * 1.4826


def ink_level(darkness: np.ndarray, grain: float) -> float:
    """Darkness from which a pixel is ink: above the paper's grain, below pencil."""
    dark = float(np.percentile(darkness[::3, ::3], 99))
    return float(np.clip(max(5.0 * grain, 0.28 * dark), 42, 90))


# --- rules ---------------------------------------------------------------------------------


def find_rules(
    strong: np.ndarray, tinted: np.ndarray, darkness: np.ndarray, grain: float
) -> tuple[tuple[Rule, ...], np.ndarray]:
    """Printed lines of the page and the mask (bool) of their pixels.

    Args:
        strong: bool, ink.
        tinted: bool, plainly coloured ink.
        darkness: as in ``Ink``.
        grain: standard deviation of the paper's darkness.
    """
    pieces = _straight_pieces(darkness, grain)
    across = np.ascontiguousarray(darkness.T)
    upright_pieces = _straight_pieces(across, grain)
    level = _straight_strokes(pieces, darkness)
    upright = [
        Rule(Box(r.box.y, r.box.x, r.box.height, r.box.width), False, r.darkness)
        for r in _straight_strokes(upright_pieces, across)
    ]
    height, width = darkness.shape
    kept = [
        rule
        for rule in level
        if _meets(rule, upright, 0.06 * height)
        or _is_level_rule(rule, _twins(rule, level), strong, tinted)
    ]
    kept += [
        rule
        for rule in upright
        if rule.box.height > _TALLEST_BRACKET or (_meets(rule, kept, 0) and _twins(rule, upright))
    ]
    kept = [rule for rule in kept if not _on_edge(rule.box, width, height)]
    rule_mask = np.zeros((height, width), bool)
    for rule in kept:
        x0, y0, x1, y1 = rule.box.x, rule.box.y, rule.box.right, rule.box.bottom
        own = pieces[y0:y1, x0:x1] if rule.level else upright_pieces[x0:x1, y0:y1].T
        shape = (5, 9) if rule.level else (9, 5)
        top, left = max(0, y0 - 2), max(0, x0 - 2)
        grown = cv2.dilate(
            np.pad(own, ((y0 - top, 2), (x0 - left, 2))), np.ones(shape, np.uint8)
        ).astype(bool)
        part = rule_mask[top : y1 + 2, left : x1 + 2]
        part |= grown[: part.shape[0], : part.shape[1]]
    return tuple(kept), rule_mask


def _on_edge(box: Box, width: int, height: int) -> bool:
    x, y = box.centre
    return not (_EDGE < x < width - _EDGE and _EDGE < y < height - _EDGE)


def _straight_pieces(darkness: np.ndarray, grain: float) -> np.ndarray:
    """Mask (uint8) of thin level strokes of at least _PIECE pixels without a gap, pale ones too.

    Along a rule the least darkness of a stretch stays high, which letters with their gaps never
    reach; above and below it is paper.
    """
    smooth = cv2.blur(darkness, (7, 3))
    steady = cv2.morphologyEx(smooth, cv2.MORPH_OPEN, np.ones((1, _PIECE), np.uint8))
    reach = _THICKEST_RULE
    padded = np.pad(steady, ((reach, reach), (0, 0)))
    around = np.maximum(padded[: -2 * reach], padded[2 * reach :])
    level = max(_FAINT, 2.0 * grain)
    return ((steady > level) & (steady - around > 0.5 * steady)).astype(np.uint8)


def _is_level_rule(rule: Rule, twins: int, strong: np.ndarray, tinted: np.ndarray) -> bool:
    """True unless the stroke may be ink: a fraction bar, the top of a root sign, coloured pen.

    A bar has ink close above and below it, a root's top has ink close below; neither is as long
    as half the page nor repeated with the same ends. A stroke with nothing below is a rule or
    an underline.
    """
    width = strong.shape[1]
    if twins >= 2 or rule.box.width > 0.5 * width:
        return True
    box = rule.box
    own = strong[box.y : box.bottom, box.x : box.right]
    if tinted[box.y : box.bottom, box.x : box.right].sum() > 0.6 * max(1, own.sum()):
        return False
    below = _ink_along(strong, rule.box, below=True)
    above = _ink_along(strong, rule.box, below=False)
    is_bar = above > 0.5 and below > 0.08
    is_root = below > 0.6
    if is_bar or is_root:
        return False
    return twins == 1 or below < 0.12 or rule.box.width > _LONG_RULE * width


def _ink_along(strong: np.ndarray, box: Box, *, below: bool) -> float:
    """Share of a stroke's length that has ink close below (or above) it, gaps in words filled."""
    if below:
        band = strong[box.bottom + 4 : box.bottom + _CLOSE, box.x : box.right]
    else:
        band = strong[max(0, box.y - _CLOSE) : max(0, box.y - 4), box.x : box.right]
    if not band.size:
        return 0.0
    columns = np.atleast_2d(band.any(axis=0)).astype(np.uint8)
    return float(cv2.morphologyEx(columns, cv2.MORPH_CLOSE, np.ones((1, 25), np.uint8)).mean())


def _straight_strokes(pieces: np.ndarray, darkness: np.ndarray) -> list[Rule]:
    """Level strokes of at least _SHORTEST_RULE, put together from pieces across gaps."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(pieces)
    boxes = [tuple(int(v) for v in row[:4]) for row in stats[1:] if row[3] <= 4 + 0.03 * row[2]]
    boxes.sort()
    chains: list[list[tuple[int, ...]]] = []
    for box in boxes:
        x, y, w, h = box
        best, best_cost = None, 160.0
        for chain in chains:
            lx, ly, lw, lh = chain[-1]
            gap = x - (lx + lw)
            offset = abs((y + h / 2) - (ly + lh / 2))
            cost = max(gap, 0) + 12 * offset
            if gap > -12 and cost < best_cost and offset < 3 + 0.25 * (h + lh) + 0.01 * gap:
                best, best_cost = chain, cost
        if best is None:
            chains.append([box])
        else:
            best.append(box)
    rules = []
    for chain in chains:
        left, right = chain[0][0], max(x + w for x, _, w, _ in chain)
        covered = sum(w for _, _, w, _ in chain)
        if right - left < _SHORTEST_RULE or covered < 0.5 * (right - left):
            continue
        top, bottom = min(c[1] for c in chain), max(c[1] + c[3] for c in chain)
        if bottom - top > 14 + 0.012 * (right - left):
            continue
        values = np.concatenate(
            [darkness[y : y + h, x : x + w].max(axis=0) for x, y, w, h in chain]
        )
        middle = float(np.median(values))
        if middle > _PALE and (values < 0.4 * middle).mean() > _MOST_GAPS:
            continue
        rules.append(Rule(Box(left, top, right - left, bottom - top), True, middle))
    return rules


def _twins(rule: Rule, others: list[Rule]) -> int:
    """How many other strokes of the same kind begin and end at the same places."""

    def span(box: Box) -> tuple[int, int]:
        return (box.x, box.right) if rule.level else (box.y, box.bottom)

    start, end = span(rule.box)
    if end - start < 1.5 * _SHORTEST_RULE:
        return 0
    return sum(
        other is not rule
        and abs(span(other.box)[0] - start) < 12
        and abs(span(other.box)[1] - end) < 12
        for other in others
    )


def _meets(rule: Rule, others: list[Rule], shortest: float) -> bool:
    """True when both ends of the rule touch rules of the other direction."""
    box = rule.box

    def touches(x: float, y: float) -> bool:
        return any(
            o.box.x - 10 < x < o.box.right + 10
            and o.box.y - 10 < y < o.box.bottom + 10
            and max(o.box.width, o.box.height) > shortest
            for o in others
        )

    if rule.level:
        middle = box.y + box.height / 2
        return touches(box.x, middle) and touches(box.right, middle)
    middle = box.x + box.width / 2
    return touches(middle, box.y) and touches(middle, box.bottom)


def _without_rules(
    strong: np.ndarray,
    darkness: np.ndarray,
    tinted: np.ndarray,
    rules: tuple[Rule, ...],
    rule_mask: np.ndarray,
) -> np.ndarray:
    """Ink with rules taken out.

    What stays on a rule: ink that crosses it, ink darker than a pale rule, coloured ink on a grey
    rule, and a stroke drawn along a rule (a fraction bar), which makes it thicker.
    """
    mask = strong & ~rule_mask
    above = _reaches(mask, 1)
    below = _reaches(mask, -1)
    left = _reaches(mask.T, 1).T
    right = _reaches(mask.T, -1).T
    kept = (above & below) | (left & right)
    usual = np.zeros(strong.shape, np.float32)
    for rule in rules:
        box = rule.box
        part = (slice(box.y, box.bottom), slice(box.x, box.right))
        np.maximum(usual[part], rule.darkness, out=usual[part])
        colours = tinted[part]
        if colours.sum() < 0.4 * (strong & rule_mask)[part].sum():
            kept[part] |= colours
        if rule.level:
            _keep_drawn_along(kept, strong, darkness, box)
    kept |= darkness > usual + np.maximum(45, 0.4 * usual)
    return mask | (strong & rule_mask & kept)


def _keep_drawn_along(kept: np.ndarray, strong: np.ndarray, darkness: np.ndarray, box: Box) -> None:
    """Mark in ``kept`` the ink where a stretch of a level rule is heavier, with paper around."""
    top, bottom = max(0, box.y - 5), box.bottom + 5
    band = (slice(top, bottom), slice(box.x, box.right))
    weight = darkness[band].sum(axis=0)
    outer = np.logical_or(
        strong[max(0, top - 2) : top, box.x : box.right].any(axis=0),
        strong[bottom : bottom + 2, box.x : box.right].any(axis=0),
    )
    free = np.atleast_1d(~outer)
    usual = float(np.median(weight[free])) if free.any() else 0.0
    smooth = ndimage.median_filter(weight, 9)
    heavy = ((smooth > _HEAVIER * usual) & free).astype(np.uint8)[None]
    heavy = cv2.morphologyEx(heavy, cv2.MORPH_CLOSE, np.ones((1, 9), np.uint8))
    heavy = cv2.morphologyEx(heavy, cv2.MORPH_OPEN, np.ones((1, _STROKE_ALONG), np.uint8))
    kept[band] |= heavy.astype(bool)


def _without_edge(mask: np.ndarray) -> np.ndarray:
    """Ink less specks and all that touches the border: desk, shadow, a neighbouring sheet."""
    height, width = mask.shape
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    x, y, w, h, area = stats.T
    left_out = (x < _EDGE) | (y < _EDGE) | (x + w > width - _EDGE) | (y + h > height - _EDGE)
    left_out |= area < _SPECK
    left_out[0] = True
    return ~left_out[labels]


def _reaches(mask: np.ndarray, direction: int, distance: int = 7) -> np.ndarray:
    """Pixels that have ink within ``distance`` rows above (1) or below (-1) them."""
    reach = np.zeros_like(mask)
    for step in range(1, distance + 1):
        if direction > 0:
            reach[step:] |= mask[:-step]
        else:
            reach[:-step] |= mask[step:]
    return reach


# --- parts ---------------------------------------------------------------------------------


def _measured(
    image: np.ndarray,
    darkness: np.ndarray,
    mask: np.ndarray,
    labels: np.ndarray,
    stats: np.ndarray,
) -> Parts:
    """Boxes, mean darkness, hue and stroke width of all parts in one pass over the ink."""
    count = len(stats)
    where = np.flatnonzero(mask)
    owner = labels.ravel()[where]
    area = np.maximum(np.bincount(owner, minlength=count), 1)
    dark = darkness.ravel()[where]
    colours = image.reshape(-1, 3)[where].astype(np.float32)
    spread = np.empty((count, 3))
    for channel in range(3):
        spread[:, channel] = np.bincount(owner, PAPER - colours[:, channel], count)
    strongest = np.maximum(spread.max(axis=1), 1)
    hue = (spread.max(axis=1) - spread.min(axis=1)) / strongest
    tint = (spread[:, [0, 2]] - spread[:, [1]]) / strongest[:, None]
    edge = mask & ~cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    outline = np.bincount(labels.ravel()[np.flatnonzero(edge)], minlength=count)
    return Parts(
        boxes=stats[1:, :4].astype(int),
        area=area[1:],
        darkness=(np.bincount(owner, dark, count) / area)[1:],
        tint=tint[1:],
        hue=hue[1:],
        stroke=(2.0 * area / np.maximum(outline, 1))[1:],
    )


def coloured(parts: Parts) -> np.ndarray:
    """Bool (n,): parts whose ink is plainly coloured, hence pen."""
    return parts.hue > _HUE


def answer_spaces(rules: tuple[Rule, ...], size: tuple[int, int]) -> tuple[AnswerSpace, ...]:
    """Printed boxes, and runs of ruled lines, meant for writing on; ``size`` is (width, height).

    Lines across the whole page (exercise book, squared paper) are not spaces.
    """
    width, height = size
    level = sorted((r.box for r in rules if r.level), key=lambda b: b.y)
    across = [box for box in level if box.width > 0.85 * width]
    if len(across) > _RULED_PAPER:
        level = [box for box in level if box.width <= 0.85 * width]
    upright = [r.box for r in rules if not r.level]
    spaces = [AnswerSpace("box", box) for box in _boxes(level, upright)]
    free = [
        line
        for line in level
        if not any(_inside(line, space.box) for space in spaces) and line.width > 0.2 * width
    ]
    runs: list[list[Box]] = []
    for line in free:
        run = next(
            (
                r
                for r in runs
                if abs(r[-1].x - line.x) < 25
                and abs(r[-1].right - line.right) < 25
                and line.y - r[-1].y < 150
            ),
            None,
        )
        if run is None:
            runs.append([line])
        else:
            run.append(line)
    for run in runs:
        pitch = (run[-1].y - run[0].y) / (len(run) - 1) if len(run) > 1 else 60.0
        top = max(0, round(run[0].y - pitch))
        if run[-1].bottom - top > 0.75 * height:
            continue
        box = Box(run[0].x, top, run[0].width, run[-1].bottom - top)
        spaces.append(AnswerSpace("rule", box))
    return tuple(sorted(spaces, key=lambda s: (s.box.y, s.box.x)))


def _boxes(level: list[Box], upright: list[Box]) -> list[Box]:
    """Rectangles of two level and two upright rules, smallest closed ones only."""
    found: list[Box] = []
    for i, top in enumerate(level):
        for bottom in level[i + 1 :]:
            if abs(top.x - bottom.x) > 20 or abs(top.right - bottom.right) > 20:
                continue
            tall = bottom.y - top.y
            sides = [
                side
                for side in upright
                if side.y < top.y + 20 and side.bottom > bottom.y - 20 and tall > 40
            ]
            if any(abs(s.x - top.x) < 20 for s in sides) and any(
                abs(s.x - top.right) < 20 for s in sides
            ):
                found.append(Box(top.x, top.y, top.width, bottom.bottom - top.y))
                break
    return found if len(found) <= 60 else []


def _inside(line: Box, box: Box) -> bool:
    return (
        box.x - 20 < line.x
        and line.right < box.right + 20
        and box.y - 20 < line.y
        and line.bottom < box.bottom + 20
    )
