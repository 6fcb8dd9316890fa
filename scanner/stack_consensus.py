"""The printed blank that the pages of a stack share, and the pen ink that is left without it.

Pages of one worksheet are laid on each other: features give a homography, small patches of print
then say how far each place is still off (slight curl, a sheet that did not lie flat). What most
pages have in one place is print; its words are read once, from all pages together. Of each page
only the ink that the blank lacks is read.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np

from scanner.flatten import FlatPage
from scanner.ink import (
    PAPER,
    Ink,
    all_but,
    answer_spaces,
    channel_extremes,
    coloured,
    find_ink,
    ink_without,
)
from scanner.layout import line_image, numbered_blocks, pen_lines
from scanner.marks import find_corners, without_codes
from scanner.page import AnswerSpace, Box, Line, Matrix, Page
from scanner.print_or_pen import is_pen
from scanner.print_words import Reader, find_words, print_only, read_print

# Lengths are pixels of a page of about 200 dpi; searching is done at half of that.
_FEATURES = 3000
_NEAR = 0.08  # a feature lies no further from its place than this part of the page's width
_LEAST_INLIERS = 40
_LEAST_CORNERS = 3  # corner marks that settle how a printed worksheet lies
_PATCH = (96, 48)  # half-size pixels: a few words, about a line and a half
_STEP = (64, 40)
_SEARCH = 9  # half-size pixels that print may still be off after the homography
_ALIKE = 0.6  # correlation of a patch with its place
_LEAST_PATCHES = 20
_SAME_SHEET = 0.3  # of the reference's inked patches (its own pen among them) found again
_LOCAL = 110.0  # half-size pixels: how far around it a patch corrects
_DRAFT_SHARE = 0.5  # of the pages, for a first draft of the print
_PRINT_SHARE = 0.6  # what is dark on more of the pages is print; some lie a little off everywhere
_WHOLE = 0.8  # of a part's ink that a page must have where the blank has it
_SEEN = 0.7  # of the pages: what fewer have is pen that several writers put in one place
_SEEN_IF_WRITTEN = 0.9  # the same for what looks written; print of all shapes is on nearly all
_GHOST = 0.6  # of the print's darkness: paler parts are pen that several pages have in one place
_BAND = 64  # rows whose median is taken at once, to save memory
_PRINT_FOUND = 0.85  # of the blank's ink that must show on a page that is read against it


@dataclass(frozen=True, eq=False)
class Alignment:
    """How a page lies on a reference of ``size`` (width, height), in pixels.

    ``grid`` float (rows, columns, 2): where points of the reference lie on the page, spread evenly
    from corner to corner. ``homography`` (3, 3) is the best straight one, reference to page.
    """

    grid: np.ndarray
    homography: np.ndarray
    size: tuple[int, int]

    def field(self) -> np.ndarray:
        """Float32 (height, width, 2): where each pixel of the reference lies on the page."""
        return _stretched(self.grid, *self.size)

    def laid(self, image: np.ndarray) -> np.ndarray:
        """The page's image in the reference's place, paper where the page ends."""
        field = self.field()
        return cv2.remap(
            image,
            field[..., 0],
            field[..., 1],
            cv2.INTER_CUBIC,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(PAPER, PAPER, PAPER),
        )


@dataclass(frozen=True, eq=False)
class Blank:
    """The printed sheet without pen: uint8 RGB ``image``, its read ``lines`` and ``spaces``.

    In ``codes`` each copy carries its own code; what is there is no writing.
    """

    image: np.ndarray
    lines: tuple[Line, ...]
    spaces: tuple[AnswerSpace, ...]
    codes: tuple[Box, ...] = ()

    @cached_property
    def printed(self) -> Ink:
        """The blank's ink, found once for all pages that are read against it."""
        return find_ink(self.image)


Laid = Iterable[tuple[np.ndarray, Alignment]]
"""Flattened pages (uint8 RGB), each with how it lies on one and the same reference."""


def draft_blank(first: np.ndarray, others: Laid) -> np.ndarray:
    """The blank as far as one page shows how the others lie, uint8 RGB.

    Where that page's own pen was taken for print, pages lie a few pixels off; laid on the draft,
    which has next to no pen, they lie right.
    """
    return _shared([cv2.cvtColor(first, cv2.COLOR_RGB2GRAY), *_laid(others)], _DRAFT_SHARE)


def learn_blank(pages: Laid, reader: Reader) -> Blank:
    """The blank that pages share, with its print read.

    Args:
        pages: pages of the worksheet with how each lies on the draft of its blank.
        reader: reads the spans that can hold a quantity.
    """
    laid = list(_laid(pages))
    image = _shared(laid, _PRINT_SHARE)
    ink = find_ink(image)
    words = find_words(print_only(image, ink.mask))
    seen = _share_of_pages(ink, laid)
    written = is_pen(ink.parts, np.zeros(len(ink.parts), bool), words)
    ghosts = (seen < _SEEN) | (written & (seen < _SEEN_IF_WRITTEN))
    ghost_ink = _of_parts(ink, ghosts)
    image = image.copy()
    image[_wider(ghost_ink, 7) & ~(ink.mask & ~ghost_ink)] = PAPER
    grey = print_only(image, all_but(ink, ghost_ink))
    lines = read_print(grey, words, ink.parts.boxes, ghosts, reader)
    height, width = grey.shape
    return Blank(image, lines, answer_spaces(ink.rules, (width, height)))


def _share_of_pages(ink: Ink, laid: Sequence[np.ndarray]) -> np.ndarray:
    """On which share of the pages each part of the blank is there, give or take two pixels."""
    parts = len(ink.parts)
    pages = np.zeros(parts)
    for page in laid:
        near = PAPER - cv2.erode(page, np.ones((5, 5), np.uint8)).astype(np.float32)
        there = ink.labels[ink.mask & (near > 0.5 * ink.darkness)]
        share = np.bincount(there, minlength=parts + 1)[1:] / np.maximum(ink.parts.area, 1)
        pages += share > _WHOLE
    return pages / max(1, len(laid))


def _laid(pages: Laid) -> Iterator[np.ndarray]:
    for image, alignment in pages:
        yield alignment.laid(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY))


def _shared(laid: Sequence[np.ndarray], share: float) -> np.ndarray:
    return _without_ghosts(cv2.cvtColor(consensus(laid, share), cv2.COLOR_GRAY2RGB))


def _without_ghosts(image: np.ndarray) -> np.ndarray:
    """Paper where several writers happened to write in one place."""
    ink = find_ink(image)
    if not len(ink.parts):
        return image
    usual = float(np.median(np.repeat(ink.parts.darkness, ink.parts.area)))
    ghosts = _of_parts(ink, ink.parts.darkness < _GHOST * usual)
    out = image.copy()
    out[_wider(ghosts, 7) & ~_of_parts(ink, ink.parts.darkness >= _GHOST * usual)] = PAPER
    return out


def consensus(laid: Sequence[np.ndarray], share: float = _PRINT_SHARE) -> np.ndarray:
    """What this share of pages has in each place: uint8 grey, from grey pages of one size."""
    height = laid[0].shape[0]
    place = int(np.ceil(share * (len(laid) - 1)))
    out = np.empty_like(laid[0])
    for top in range(0, height, _BAND):
        band = np.stack([page[top : top + _BAND] for page in laid])
        out[top : top + _BAND] = np.partition(band, place, axis=0)[place]
    return out


def read_against(
    flat: FlatPage, blank: Blank, name: str, number: int, reader: Reader
) -> Page | None:
    """The page of one script whose print is known; None where the blank does not fit it.

    The page is laid on the blank: its image, boxes and size are in the blank's pixels.
    """
    started = time.perf_counter()
    alignment = align(flat.image, blank.image)
    if alignment is None:
        return None
    image = alignment.laid(flat.image)
    if _share_found(blank.printed, image) < _PRINT_FOUND:
        return None
    ink, pen = pen_ink(image, find_ink(without_codes(image, blank.codes, PAPER)), blank.printed)
    ink, lines = pen_lines(ink, pen)
    readings = reader.read([line_image(ink, image, line) for line in lines]) if lines else []
    written = tuple(
        Line("pen", line.box, reading, struck=line.struck)
        for line, reading in zip(lines, readings, strict=True)
    )
    height, width = image.shape[:2]
    return Page(
        photo=name,
        number=number,
        size=(width, height),
        to_photo=_matrix(np.array(flat.to_photo) @ alignment.homography),
        lines=numbered_blocks((*blank.lines, *written)),
        spaces=blank.spaces,
        problems=flat.problems,
        seconds=time.perf_counter() - started,
        image=image,
    )


def _matrix(values: np.ndarray) -> Matrix:
    scaled = values / values[2, 2]
    return tuple(tuple(float(v) for v in row) for row in scaled)  # type: ignore[return-value]


# --- page minus blank ------------------------------------------------------------------------


def pen_ink(image: np.ndarray, ink: Ink, printed: Ink) -> tuple[Ink, np.ndarray]:
    """Ink that the blank lacks: the ink without print, and bool (n,) which parts are pen.

    Args:
        image: the page laid on the blank, uint8 RGB.
        ink: its ink.
        printed: the blank's ink, rules known.
    """
    near = cv2.dilate(printed.mask.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
    under = near | _rule_mask(printed, margin=4)
    share = _share_under(ink, under)
    tinted = coloured(ink.parts)
    print_parts = (share > 0.8) & ~tinted
    touching = (share > 0.08) & ~print_parts & ~tinted
    taken = _of_parts(ink, print_parts) | (_of_parts(ink, touching) & near)
    rest = ink_without(image, ink, taken)
    crumbs = (_share_under(rest, _wider(near, 5)) > 0.7) & ~coloured(rest.parts)
    small = rest.parts.area < 0.25 * _letter_area(printed)
    return rest, ~(crumbs & small)


def _of_parts(ink: Ink, chosen: np.ndarray) -> np.ndarray:
    return np.concatenate([[False], chosen])[ink.labels]


def _share_under(ink: Ink, under: np.ndarray) -> np.ndarray:
    """Share of each part's pixels that lie under a mask."""
    labels = ink.labels.ravel()
    hit = np.bincount(labels[under.ravel()], minlength=len(ink.parts) + 1)[1:]
    return hit / np.maximum(ink.parts.area, 1)


def _wider(mask: np.ndarray, by: int) -> np.ndarray:
    return cv2.dilate(mask.astype(np.uint8), np.ones((by, by), np.uint8)).astype(bool)


def _rule_mask(ink: Ink, margin: int) -> np.ndarray:
    mask = np.zeros_like(ink.mask)
    for rule in ink.rules:
        x, y = max(0, rule.box.x - margin), max(0, rule.box.y - margin)
        mask[y : rule.box.bottom + margin, x : rule.box.right + margin] = True
    return mask


def _letter_area(printed: Ink) -> float:
    """Pixels inside the box of a usual printed letter."""
    heights = printed.parts.boxes[:, 3]
    tall = heights[heights > 8]
    return float(np.median(tall)) ** 2 if len(tall) else 400.0


def _share_found(printed: Ink, image: np.ndarray) -> float:
    """Share of the blank's ink that has ink close by on the page."""
    core = printed.mask
    if not core.any():
        return 0.0
    dark = PAPER - channel_extremes(image)[0].astype(np.float32)
    darkest = cv2.dilate(dark, np.ones((5, 5), np.uint8))
    return float((darkest[core] > 0.35 * printed.darkness[core]).mean())


# --- laying one page on another ----------------------------------------------------------------


def align(image: np.ndarray, reference: np.ndarray) -> Alignment | None:
    """How a page lies on a reference of the same worksheet; None where it is another sheet.

    Args:
        image: flattened page, uint8 RGB.
        reference: another one, or a blank.
    """
    page, ref = _half_darkness(image), _half_darkness(reference)
    by_marks = _by_corner_marks(image, reference)
    least = _LEAST_PATCHES if by_marks is None else 0
    height, width = ref.shape
    fits = []
    for straight in (_by_features(page, ref), by_marks):
        if straight is not None:
            laid = cv2.warpPerspective(page, straight, (width, height), flags=_INVERSE)
            fits.append((straight, *_patch_offsets(laid, ref)))
    if not fits:
        return None
    straight, places, offsets, tried = max(fits, key=lambda fit: len(fit[1]))
    if len(places) < max(least, _SAME_SHEET * tried):
        return None
    smooth = _Smooth.fitted(places, offsets, (width, height))
    if smooth is None and not least:
        smooth = _Smooth.none((width, height))
    elif smooth is None or smooth.used < max(least, _SAME_SHEET * tried):
        return None
    return _alignment(straight, smooth, reference.shape[:2])


_INVERSE = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP


def _half_darkness(image: np.ndarray) -> np.ndarray:
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    half = cv2.resize(grey, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return cv2.subtract(np.full_like(half, 250), half)


def _by_features(page: np.ndarray, ref: np.ndarray) -> np.ndarray | None:
    """Homography from half-size reference to half-size page pixels."""
    finder = cv2.ORB.create(_FEATURES, fastThreshold=12)
    ref_points, ref_codes = finder.detectAndCompute(ref, None)
    page_points, page_codes = finder.detectAndCompute(page, None)
    if not len(ref_points) or not len(page_points):
        return None
    pairs = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True).match(ref_codes, page_codes)
    here = np.array([ref_points[m.queryIdx].pt for m in pairs]).reshape(-1, 2)
    scale = np.array([ref.shape[1] / page.shape[1], ref.shape[0] / page.shape[0]])
    there = np.array([page_points[m.trainIdx].pt for m in pairs]).reshape(-1, 2)
    near = np.abs(there * scale - here).max(axis=1, initial=0) < _NEAR * ref.shape[1]
    if near.sum() < _LEAST_INLIERS:
        return None
    cv2.setRNGSeed(1)
    found, inside = cv2.findHomography(here[near], there[near], cv2.RANSAC, 5.0, maxIters=2000)
    if found is None or inside.sum() < _LEAST_INLIERS:
        return None
    return found


def _by_corner_marks(image: np.ndarray, reference: np.ndarray) -> np.ndarray | None:
    """Homography from half-size reference to half-size page, where both carry corner marks."""
    there = find_corners(reference)
    here = find_corners(image) if len(there) >= _LEAST_CORNERS else {}
    shared = sorted(there.keys() & here.keys())
    if len(shared) < _LEAST_CORNERS:
        return None
    from_points = np.concatenate([there[corner] for corner in shared]) / 2
    to_points = np.concatenate([here[corner] for corner in shared]) / 2
    found, _ = cv2.findHomography(from_points, to_points)
    return found


def _patch_offsets(laid: np.ndarray, ref: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Centres of patches, how far their print lies off (both (n, 2)), and how many were tried."""
    (w, h), (sx, sy), s = _PATCH, _STEP, _SEARCH
    height, width = ref.shape
    places, offsets, tried = [], [], 0
    for y in range(s, height - h - s, sy):
        for x in range(s, width - w - s, sx):
            patch = ref[y : y + h, x : x + w]
            if (patch > 90).mean() < 0.03:
                continue
            tried += 1
            scores = cv2.matchTemplate(
                laid[y - s : y + h + s, x - s : x + w + s], patch, cv2.TM_CCOEFF_NORMED
            )
            _, best, _, (bx, by) = cv2.minMaxLoc(scores)
            if best < _ALIKE or not (0 < bx < 2 * s and 0 < by < 2 * s):
                continue
            fx = _peak(scores[by, bx - 1], best, scores[by, bx + 1])
            fy = _peak(scores[by - 1, bx], best, scores[by + 1, bx])
            places.append((x + w / 2, y + h / 2))
            offsets.append((bx + fx - s, by + fy - s))
    return np.array(places).reshape(-1, 2), np.array(offsets).reshape(-1, 2), tried


def _peak(before: float, at: float, after: float) -> float:
    """Where a parabola through three neighbours has its top, -0.5 to 0.5."""
    bend = before - 2 * at + after
    return 0.0 if bend >= 0 else float(np.clip((before - after) / (2 * bend), -0.5, 0.5))


@dataclass(frozen=True)
class _Smooth:
    """A cubic surface through the offsets, and what is left near each patch."""

    coefficients: np.ndarray  # (10, 2)
    places: np.ndarray
    left: np.ndarray
    size: tuple[int, int]

    @property
    def used(self) -> int:
        return len(self.places)

    @classmethod
    def fitted(
        cls, places: np.ndarray, offsets: np.ndarray, size: tuple[int, int]
    ) -> _Smooth | None:
        """Fit, dropping patches that contradict their neighbours (a pen stroke taken for print)."""
        kept = np.ones(len(places), bool)
        basis = _cubic(places, size)
        for _ in range(6):
            if kept.sum() < _LEAST_PATCHES:
                return None
            coefficients, *_ = np.linalg.lstsq(basis[kept], offsets[kept], rcond=None)
            off = np.abs(offsets - basis @ coefficients).max(axis=1)
            allowed = max(1.0, 3.0 * float(np.median(off[kept])))
            now = off < allowed
            if (now == kept).all():
                break
            kept = now
        left = (offsets - basis @ coefficients)[kept]
        return cls(coefficients, places[kept], left, size)

    @classmethod
    def none(cls, size: tuple[int, int]) -> _Smooth:
        """No offset anywhere: too little print to measure one."""
        return cls(np.zeros((10, 2)), np.zeros((0, 2)), np.zeros((0, 2)), size)

    def at(self, points: np.ndarray) -> np.ndarray:
        """Offsets (n, 2) at points (n, 2), half-size pixels."""
        near = np.exp(
            -((points[:, None, :] - self.places[None]) ** 2).sum(axis=2) / (2 * _LOCAL**2 / 4)
        )
        local = near @ self.left / (near.sum(axis=1, keepdims=True) + 0.5)
        return _cubic(points, self.size) @ self.coefficients + local


def _cubic(points: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    x = 2 * points[:, 0] / size[0] - 1
    y = 2 * points[:, 1] / size[1] - 1
    return np.stack([x**i * y**j for i in range(4) for j in range(4 - i)], axis=1)


def _alignment(straight: np.ndarray, smooth: _Smooth, shape: tuple[int, int]) -> Alignment:
    """Both together, at the points of a coarse grid."""
    height, width = shape
    xs, ys = np.meshgrid(np.linspace(0, width, 42), np.linspace(0, height, 60))
    here = np.stack([xs.ravel(), ys.ravel()], axis=1)
    moved = here / 2 + smooth.at(here / 2)
    there = 2 * cv2.perspectiveTransform(moved[:, None].astype(np.float64), straight)[:, 0]
    grid = there.reshape(*xs.shape, 2)
    whole, _ = cv2.findHomography(here, there)
    return Alignment(grid, whole, (width, height))


def _stretched(grid: np.ndarray, width: int, height: int) -> np.ndarray:
    """Bilinear values of a grid that spans 0 to width and 0 to height, at every pixel."""
    rows, columns = grid.shape[:2]
    x = np.linspace(0, columns - 1, width + 1, dtype=np.float32)[:-1]
    y = np.linspace(0, rows - 1, height + 1, dtype=np.float32)[:-1]
    map_x, map_y = np.meshgrid(x, y)
    return cv2.remap(grid.astype(np.float32), map_x, map_y, cv2.INTER_LINEAR)
