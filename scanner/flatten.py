"""From a photo on any desk to an upright, evenly lit page.

The steps: find the sheet's four sides (``find_sheet``), turn the text level and upright
(``find_turn``, ``is_upside_down``), follow the text lines to undo slight curl (``find_curl``),
resample the photo once through all of it, and divide the paper's own brightness out
(``even_light``). Searching is done on reduced copies; only the last resampling touches all
pixels. Thresholds hold for a page of about 200 dpi (``PAGE_AREA``) and were set on synthetic
sheets on five kinds of desk, then checked on others.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from scanner.errors import BadPhoto
from scanner.page import Matrix

PAGE_AREA = 1654 * 2339  # pixels of the flattened page: A4 at 200 dpi
PAPER_ASPECTS = (1.4142, 11 / 8.5, 14 / 8.5, 1.25)  # A series, letter, legal, exercise book
_SEARCH = 800  # long side of the copy on which the sheet is searched
_REFINE = 1600  # long side of the copy on which its sides are placed
_DRAFT = 1000  # long side of the draft page on which text lines are followed

DARK_PAPER = 55  # grey level of the paper; below it ink drowns in noise
BLUR_WIDTH = 7.0  # pixels from paper to full ink; a sharp photo has 2 to 4
SMALLEST_SHEET = 0.10  # share of the photo
LEAST_SHEET_SCORE = 0.42


@dataclass(frozen=True)
class Sheet:
    """Where the sheet lies: ``corners`` float (4, 2), photo pixels, clockwise.

    ``cut`` holds for each side (from corner i to i + 1) whether it is the photo's border;
    ``found`` is False where no sheet stood out and the whole photo is taken.
    """

    corners: np.ndarray
    cut: tuple[bool, bool, bool, bool]
    score: float
    found: bool


@dataclass(frozen=True)
class FlatPage:
    """The flattened sheet.

    ``image``: uint8 RGB (height, width, 3), paper near white, upright. ``to_photo`` maps its
    points to the photo (homography part); ``residual`` is the largest distance in photo pixels
    between that and the true place, which slight curl leaves.
    """

    image: np.ndarray
    to_photo: Matrix
    residual: float
    problems: tuple[str, ...]


def flatten(photo: np.ndarray) -> FlatPage:
    """Flatten one photo.

    Args:
        photo: uint8 RGB, shape (height, width, 3).

    Raises:
        BadPhoto: too dark, or nothing on it looks like lines of writing.
    """
    sheet = find_sheet(photo)
    size = page_size(sheet, photo.shape)
    to_photo = _homography(sheet.corners, size)
    turn, skew = find_turn(_draft(photo, to_photo, size))
    to_photo, size = _turned(to_photo, size, turn)
    to_photo = to_photo @ _rotation(size, skew)
    draft = _draft(photo, to_photo, size)
    if is_upside_down(draft):
        to_photo, size = _turned(to_photo, size, 2)
        draft = _draft(photo, to_photo, size)
    curl = find_curl(draft)
    raw, best, residual = _resample(photo, to_photo, size, curl)
    _refuse_dark(raw)
    image = even_light(raw)
    if not has_lines(image):
        raise BadPhoto(
            "No lines of print or writing were found on this photo; "
            "take it again with the whole sheet in view."
        )
    return FlatPage(image, _as_matrix(best), residual, tuple(_problems(sheet, image)))


def _as_matrix(values: np.ndarray) -> Matrix:
    (a, b, c), (d, e, f), (g, h, i) = values.tolist()
    return (a, b, c), (d, e, f), (g, h, i)


# --- finding the sheet ---------------------------------------------------------------------


def find_sheet(photo: np.ndarray) -> Sheet:
    """The quadrilateral whose sides are best supported by edges around one sheet."""
    height, width = photo.shape[:2]
    scale = _SEARCH / max(height, width)
    small = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    lab = _paper_lab(small, 13)
    h, w = small.shape[:2]
    lines = _strong_lines(lab, cv2.cvtColor(small, cv2.COLOR_RGB2GRAY))
    borders = _border_lines(w, h)
    best = _best_quad(lab, np.vstack([lines, borders]), len(borders), _writing_map(small))
    whole = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
    if best is None or best[1] < LEAST_SHEET_SCORE:
        return Sheet(whole, (True,) * 4, 0.0 if best is None else best[1], False)
    corners, score, cut = best
    if all(cut):
        return Sheet(whole, cut, score, False)
    return Sheet(_refined(photo, corners / scale, cut), cut, score, True)


def _paper_lab(rgb: np.ndarray, kernel: int) -> np.ndarray:
    """Float Lab with ink (dark and thin) closed away, so that paper and desk remain."""
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (kernel, kernel))
    closed = cv2.morphologyEx(rgb, cv2.MORPH_CLOSE, element)
    closed = cv2.medianBlur(closed, 5)
    return cv2.cvtColor(closed.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)


def _writing_map(small: np.ndarray) -> np.ndarray:
    """Where thin dark marks lie: float (height, width), 1 at ink-like pixels."""
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9))
    dark = cv2.morphologyEx(grey, cv2.MORPH_BLACKHAT, element)
    light = cv2.morphologyEx(grey, cv2.MORPH_CLOSE, element)
    return (dark > 0.2 * light.astype(np.float32) + 4).astype(np.float32)


def _border_lines(width: int, height: int) -> np.ndarray:
    return np.array(
        [[0, 1, 0], [0, 1, -(height - 1.0)], [1, 0, 0], [1, 0, -(width - 1.0)]], dtype=float
    )


def _strong_lines(lab: np.ndarray, grey: np.ndarray, most: int = 22) -> np.ndarray:
    """Lines (a, b, c) with a x + b y + c = 0 and unit normal, strongest first."""
    detector = cv2.createLineSegmentDetector()
    channels = [
        (np.clip(lab[..., 0] * 2.55, 0, 255).astype(np.uint8), 1.0),
        (np.clip(lab[..., 1] * 4 + 128, 0, 255).astype(np.uint8), 0.8),
        (np.clip(lab[..., 2] * 4 + 128, 0, 255).astype(np.uint8), 0.8),
        (cv2.GaussianBlur(grey, (5, 5), 0), 0.4),
    ]
    shortest = 0.04 * max(grey.shape)
    found = []
    for channel, weight in channels:
        segments = detector.detect(channel)[0]
        if segments is None:
            continue
        segments = segments.reshape(-1, 4).astype(float)
        lengths = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
        keep = lengths > shortest
        found.append(np.column_stack([segments[keep], lengths[keep] * weight]))
    if not found:
        return np.empty((0, 3))
    segments = np.vstack(found)
    return _merged_lines(segments[np.argsort(-segments[:, 4])][:300], most)


def _merged_lines(segments: np.ndarray, most: int, tolerance: float = 5.0) -> np.ndarray:
    """Segments (x0, y0, x1, y1, weight), longest first, gathered into infinite lines."""
    lines: list[np.ndarray] = []
    weights: list[float] = []
    left = segments
    while len(left) and len(lines) < 60:
        line = _through(left[0, :2], left[0, 2:4])
        for _ in range(2):
            near = (np.abs(left[:, :2] @ line[:2] + line[2]) < tolerance) & (
                np.abs(left[:, 2:4] @ line[:2] + line[2]) < tolerance
            )
            near[0] = True
            points = np.vstack([left[near, :2], left[near, 2:4]]).astype(np.float32)
            vx, vy, x, y = cv2.fitLine(points, cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
            line = np.array([-vy, vx, vy * x - vx * y], float)
        lines.append(line)
        weights.append(float(left[near, 4].sum()))
        left = left[~near]
    order = np.argsort(weights)[::-1][:most]
    return np.array(lines)[order].reshape(-1, 3)


def _through(p: np.ndarray, q: np.ndarray) -> np.ndarray:
    direction = (q - p) / max(np.hypot(*(q - p)), 1e-9)
    normal = np.array([-direction[1], direction[0]])
    return np.array([*normal, -normal @ p])


def _best_quad(
    lab: np.ndarray, lines: np.ndarray, borders: int, writing: np.ndarray
) -> tuple[np.ndarray, float, tuple[bool, bool, bool, bool]] | None:
    """The best of all quadrilaterals of two pairs of facing lines."""
    height, width = lab.shape[:2]
    is_border = np.arange(len(lines)) >= len(lines) - borders
    profiles = [_Profile(lab, line, bool(b)) for line, b in zip(lines, is_border, strict=True)]
    angles = np.degrees(np.arctan2(lines[:, 1], lines[:, 0])) % 180
    distance = max(height, width) * 0.2
    pairs = [
        (i, j)
        for i, j in itertools.combinations(range(len(lines)), 2)
        if _angle_between(angles[i], angles[j]) < 30
        and _gap(lines[i], lines[j], width, height) > distance
    ]
    quads = []
    for (i, j), (k, m) in itertools.combinations(pairs, 2):
        if len({i, j, k, m}) < 4 or _angle_between(angles[i], angles[k]) < 45:
            continue
        corners = _corners(lines[[i, k, j, m]])
        if corners is None or not _plausible(corners, width, height):
            continue
        indices = (i, k, j, m)
        score = _side_score(corners, indices, profiles)
        area = abs(_signed_area(corners)) / (width * height)
        quads.append((score * (0.55 + 0.45 * min(1.0, area / 0.6)), corners, indices))
    if not quads:
        return None
    quads.sort(key=lambda q: -q[0])
    total = writing.sum() + 1e-6
    ranked = []
    for score, corners, indices in quads[:40]:
        mask = np.zeros((height, width), np.uint8)
        cv2.fillConvexPoly(mask, np.round(corners).astype(np.int32), 1)
        inside = float((writing * mask).sum() / total)
        ranked.append((score * (0.7 + 0.3 * inside), corners, indices))
    score, corners, indices = max(ranked, key=lambda r: r[0])
    sides = [bool(is_border[i]) for i in indices]
    # corner n lies between line n - 1 and line n of the list, so side n is line n
    if _signed_area(corners) < 0:
        corners, sides = corners[::-1], [sides[2], sides[1], sides[0], sides[3]]
    first, second, third, fourth = sides
    return corners, score, (first, second, third, fourth)


class _Profile:
    """How much of a line is the edge of a sheet, as running sums along it."""

    STEP = 3.0

    def __init__(self, lab: np.ndarray, line: np.ndarray, border: bool) -> None:
        height, width = lab.shape[:2]
        reach = float(np.hypot(height, width))
        self.direction = np.array([line[1], -line[0]])
        self.origin = -line[:2] * line[2]
        centre = np.array([width / 2, height / 2])
        self.origin = self.origin + self.direction * (self.direction @ (centre - self.origin))
        self.start = -reach
        positions = np.arange(-reach, reach, self.STEP)
        points = self.origin + positions[:, None] * self.direction
        normal = line[:2]
        inside = (
            (points[:, 0] > -3)
            & (points[:, 0] < width + 2)
            & (points[:, 1] > -3)
            & (points[:, 1] < height + 2)
        )
        if border:
            support = np.where(inside, 0.42, 0.0)
            self.bright_plus = self.bright_minus = _running(support)
        else:
            plus = (_sample(lab, points + 4 * normal) + _sample(lab, points + 9 * normal)) / 2
            minus = (_sample(lab, points - 4 * normal) + _sample(lab, points - 9 * normal)) / 2
            delta = plus - minus
            contrast = np.sqrt(delta[:, 0] ** 2 + 1.5 * (delta[:, 1:] ** 2).sum(axis=1))
            support = np.clip(contrast / 10.0, 0, 1) * inside
            brighter = delta[:, 0] > -1.5
            self.bright_plus = _running(np.where(brighter, support, 0.45 * support))
            brighter = delta[:, 0] < 1.5
            self.bright_minus = _running(np.where(brighter, support, 0.45 * support))
        self.inside = _running(inside.astype(float))

    def between(self, p: np.ndarray, q: np.ndarray, plus_side: bool) -> float:
        """Mean support between two points; 0.3 stands in for what lies outside the photo."""
        a, b = sorted(
            int((self.direction @ (point - self.origin) - self.start) / self.STEP)
            for point in (p, q)
        )
        last = len(self.inside) - 1
        a, b = np.clip([a, b], 0, last)
        if b <= a:
            return 0.0
        sums = self.bright_plus if plus_side else self.bright_minus
        seen = self.inside[b] - self.inside[a]
        return float((sums[b] - sums[a] + 0.3 * (b - a - seen)) / (b - a))


def _running(values: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(values)])


def _sample(image: np.ndarray, points: np.ndarray) -> np.ndarray:
    height, width = image.shape[:2]
    x = np.clip(np.round(points[:, 0]).astype(int), 0, width - 1)
    y = np.clip(np.round(points[:, 1]).astype(int), 0, height - 1)
    return image[y, x]


def _side_score(
    corners: np.ndarray, indices: tuple[int, int, int, int], profiles: list[_Profile]
) -> float:
    centre = corners.mean(axis=0)
    supports = []
    for n, index in enumerate(indices):
        profile = profiles[index]
        p, q = corners[n], corners[(n + 1) % 4]
        normal = np.array([-profile.direction[1], profile.direction[0]])
        supports.append(profile.between(p, q, bool(normal @ (centre - profile.origin) > 0)))
    return 0.55 * float(np.mean(supports)) + 0.45 * float(min(supports))


def _corners(lines: np.ndarray) -> np.ndarray | None:
    """Corner n is where line n - 1 meets line n."""
    corners = []
    for n in range(4):
        point = np.cross(lines[n - 1], lines[n])
        if abs(point[2]) < 1e-6:
            return None
        corners.append(point[:2] / point[2])
    return np.array(corners)


def _plausible(corners: np.ndarray, width: int, height: int) -> bool:
    """Convex, not too small, not too slanted, and not far outside the photo."""
    slack = 0.12 * max(width, height)
    if (corners < -slack).any() or (corners > [width + slack, height + slack]).any():
        return False
    sides = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    if lengths.min() < 0.2 * min(width, height):
        return False
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    turns = turns / (lengths * np.roll(lengths, -1))
    if not (np.all(turns > 0.6) or np.all(turns < -0.6)):
        return False
    if abs(_signed_area(corners)) < SMALLEST_SHEET * width * height:
        return False
    facing = np.sort(lengths.reshape(2, 2), axis=0)
    return bool(np.all(facing[0] / facing[1] > 0.45))


def _signed_area(corners: np.ndarray) -> float:
    x, y = corners[:, 0], corners[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def _angle_between(a: float, b: float) -> float:
    difference = abs(a - b) % 180
    return min(difference, 180 - difference)


def _gap(first: np.ndarray, second: np.ndarray, width: int, height: int) -> float:
    """Distance of the second line from the middle part of the first."""
    centre = np.array([width / 2, height / 2])
    foot = centre - first[:2] * (first[:2] @ centre + first[2])
    return abs(float(second[:2] @ foot + second[2]))


def _refined(photo: np.ndarray, corners: np.ndarray, cut: tuple[bool, ...]) -> np.ndarray:
    """Corners moved so that each side lies on the strongest edge near it."""
    scale = min(1.0, _REFINE / max(photo.shape[:2]))
    small = cv2.resize(photo, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    lab = _paper_lab(small, 7)
    points = corners * scale
    offsets = np.arange(-14, 15)
    lines = []
    for n in range(4):
        p, q = points[n], points[(n + 1) % 4]
        line = _through(p, q)
        if not cut[n]:
            along = np.linspace(0.04, 0.96, 80)[:, None]
            base = p + along * (q - p)
            places = base[:, None] + offsets[None, :, None] * line[:2]
            inside = np.all((places > 1) & (places < np.array(lab.shape[1::-1]) - 2), axis=2)
            values = _sample(lab, places.reshape(-1, 2)).reshape(len(base), len(offsets), 3)
            step = np.zeros((len(base), len(offsets)))
            change = values[:, 4:] - values[:, :-4]
            step[:, 2:-2] = np.sqrt((change**2).sum(axis=2))
            step = step * inside * np.exp(-((offsets / 10.0) ** 2))
            where = step.argmax(axis=1)
            good = step.max(axis=1) > 4
            if good.sum() > 20:
                chosen = places[np.arange(len(base)), where][good].astype(np.float32)
                vx, vy, x, y = cv2.fitLine(chosen, cv2.DIST_WELSCH, 0, 0.01, 0.01).ravel()
                line = np.array([-vy, vx, vy * x - vx * y], float)
        lines.append(line)
    refined = _corners(np.array(lines))
    if refined is None or np.abs(refined - points).max() > 40:
        return corners
    return refined / scale


# --- size, turn, skew ----------------------------------------------------------------------


def page_size(sheet: Sheet, shape: tuple[int, ...]) -> tuple[int, int]:
    """(width, height) of the page: the sheet's true proportions at PAGE_AREA."""
    aspect = _aspect(sheet.corners, (shape[1] / 2, shape[0] / 2))
    if sheet.found and not any(sheet.cut):
        for paper in PAPER_ASPECTS:
            for ratio in (paper, 1 / paper):
                if abs(aspect / ratio - 1) < 0.05:
                    aspect = ratio
                    break
            else:
                continue
            break
    width = (PAGE_AREA * aspect) ** 0.5
    return round(width), round(width / aspect)


def _aspect(corners: np.ndarray, centre: tuple[float, float]) -> float:
    """Width over height of the rectangle seen as ``corners``.

    Z. Zhang, L. He, "Whiteboard scanning and image enhancement", Digital Signal Processing 17
    (2007), section 3: the photo's centre is taken as principal point, pixels as square. Where
    the view is too straight for it, the mean side lengths serve.
    """
    a, b, c, d = (np.array([*(p - centre), 1.0]) for p in corners)
    lengths = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    plain = float((lengths[0] + lengths[2]) / (lengths[1] + lengths[3]))
    k2 = np.dot(np.cross(a, c), d) / np.dot(np.cross(b, c), d)
    k3 = np.dot(np.cross(a, c), b) / np.dot(np.cross(d, c), b)
    n2, n3 = k2 * b - a, k3 * d - a
    if min(abs(n2[2]), abs(n3[2])) < 0.03:
        return plain
    focal2 = -(n2[0] * n3[0] + n2[1] * n3[1]) / (n2[2] * n3[2])
    longest = 2 * max(centre)
    if not 0.5 * longest < focal2**0.5 if focal2 > 0 else True:
        return plain
    scale = np.array([1 / focal2, 1 / focal2, 1.0])
    ratio = float(np.sqrt((n2**2 * scale).sum() / (n3**2 * scale).sum()))
    return ratio if 0.75 < ratio / plain < 1.33 else plain


def _homography(corners: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Page pixels -> photo pixels."""
    width, height = size
    page = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    return cv2.getPerspectiveTransform(page, corners.astype(np.float32))


def _turned(
    to_photo: np.ndarray, size: tuple[int, int], quarters: int
) -> tuple[np.ndarray, tuple[int, int]]:
    """The same page turned by ``quarters`` of a turn anticlockwise."""
    width, height = size
    steps = {
        0: (np.eye(3), size),
        1: (np.array([[0, -1, width], [1, 0, 0], [0, 0, 1.0]]), (height, width)),
        2: (np.array([[-1, 0, width], [0, -1, height], [0, 0, 1.0]]), size),
        3: (np.array([[0, 1, 0], [-1, 0, height], [0, 0, 1.0]]), (height, width)),
    }
    step, new_size = steps[quarters % 4]
    return to_photo @ step, new_size


def _rotation(size: tuple[int, int], degrees: float) -> np.ndarray:
    """Page pixels of the level page -> pixels of the page whose text slopes by ``degrees``."""
    centre = (size[0] / 2, size[1] / 2)
    matrix = cv2.getRotationMatrix2D(centre, -degrees, 1.0)
    return np.vstack([matrix, [0, 0, 1]])


def _draft(photo: np.ndarray, to_photo: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """Ink of the page at draft size: uint8 (height, width), 255 at ink, rules included."""
    scale = _DRAFT / max(size)
    small_size = (round(size[0] * scale), round(size[1] * scale))
    shrink = min(1.0, 1.25 * _DRAFT / max(photo.shape[:2]))
    small = cv2.resize(photo, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    matrix = np.diag([shrink, shrink, 1.0]) @ to_photo @ np.diag([1 / scale, 1 / scale, 1.0])
    page = cv2.warpPerspective(
        grey,
        matrix,
        small_size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    background = cv2.medianBlur(
        cv2.morphologyEx(page, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8)), 21
    ).astype(np.float32)
    dark = 255 - np.clip(page / np.maximum(background, 8) * 255, 0, 255)
    level = max(28.0, 0.35 * float(np.percentile(dark, 99.3)))
    ink = (dark > level).astype(np.uint8) * 255
    edge = max(4, _DRAFT // 80)
    ink[:edge] = ink[-edge:] = 0
    ink[:, :edge] = ink[:, -edge:] = 0
    return ink


def without_long_lines(ink: np.ndarray, length: int) -> np.ndarray:
    """``ink`` less all straight runs of at least ``length`` pixels, level or upright."""
    rules = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((1, length), np.uint8))
    upright = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((length, 1), np.uint8))
    grown = cv2.dilate(cv2.bitwise_or(rules, upright), np.ones((3, 3), np.uint8))
    return cv2.bitwise_and(ink, cv2.bitwise_not(grown))


def find_turn(draft: np.ndarray) -> tuple[int, float]:
    """Quarter turns (0 or 1, anticlockwise) and degrees of slope that make text lines level.

    The way with more length of lines wins. How sharply rows stand out tells the slope only: on a
    page with little writing, the flush left edge is as sharp as the lines are.
    """
    ink = without_long_lines(draft, 70)
    ways = []
    for quarters in (0, 1):
        page = np.ascontiguousarray(np.rot90(ink, quarters))
        slope = _slope(page)
        length = sum(w for _, _, w, _ in _line_boxes(_sheared(page, slope)))
        ways.append((length, quarters, slope))
    _, quarters, slope = max(ways, key=lambda way: way[0])
    return quarters, slope


def _sheared(ink: np.ndarray, degrees: float) -> np.ndarray:
    """``ink`` with its columns shifted so that lines sloping by ``degrees`` come level."""
    height, width = ink.shape
    shear = np.array([[1, 0, 0], [-np.tan(np.radians(degrees)), 1, 0]], np.float32)
    shear[1, 2] = -shear[1, 0] * width / 2
    return cv2.warpAffine(ink, shear, (width, height))


def _slope(ink: np.ndarray) -> float:
    """Degrees by which rows must be levelled for text lines to stand out most in row sums."""
    small = cv2.resize(ink, None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)

    def sharpness(degrees: float) -> float:
        level = _sheared(small, degrees)
        strips = np.array_split(level, 6, axis=1)
        sums = np.array([s.sum(axis=1, dtype=np.float64) for s in strips])
        return float((np.diff(sums, axis=1) ** 2).sum() / ((sums**2).sum() + 1e-9)) * float(
            (np.diff(level.sum(axis=1, dtype=np.float64)) ** 2).sum()
        )

    coarse = max(np.arange(-12, 12.1, 1.0), key=sharpness)
    return float(max(np.arange(coarse - 0.8, coarse + 0.81, 0.2), key=sharpness))


def is_upside_down(draft: np.ndarray) -> bool:
    """True when the text lines stand on their heads.

    Latin text has more ascenders and capitals than descenders, and lines start flush at the
    left; both are counted over all lines.
    """
    ink = without_long_lines(draft, 70)
    votes = 0.0
    starts, ends = [], []
    for x, y, w, h in _line_boxes(ink):
        rows = ink[y : y + h, x : x + w].sum(axis=1, dtype=np.float64)
        core = rows > 0.45 * np.percentile(rows, 90)
        where = np.flatnonzero(core)
        if len(where) < 3:
            continue
        above, below = rows[: where[0]].sum(), rows[where[-1] + 1 :].sum()
        votes += np.sqrt(w) * (above - below) / (above + below + 0.05 * rows.sum())
        starts.append(x)
        ends.append(x + w)
    if len(starts) >= 4:
        flush = np.subtract(*np.percentile(starts, [60, 20])) - np.subtract(
            *np.percentile(ends, [80, 40])
        )
        votes -= 10.0 * np.clip(flush / draft.shape[1], -0.3, 0.3) * np.sqrt(len(starts))
    return votes < 0


def _line_boxes(ink: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Boxes of likely text lines at draft size."""
    smear = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((1, 17), np.uint8))
    _, _, stats, _ = cv2.connectedComponentsWithStats(smear)
    return [
        (int(x), int(y), int(w), int(h))
        for x, y, w, h, area in stats[1:]
        if w > 40 and 5 <= h <= 45 and w > 2.5 * h and area > 0.25 * w * h
    ]


# --- curl ----------------------------------------------------------------------------------

Field = Callable[[np.ndarray, np.ndarray], np.ndarray]
_TERMS = [(1, 0), (1, 1), (1, 2), (2, 0), (2, 1), (2, 2), (3, 0), (3, 1)]


def find_curl(draft: np.ndarray) -> Field | None:
    """How far below its level place each point lies, from text and ruled lines.

    Returns:
        A function of x and y in shares of the page (0 to 1) giving the drop as a share of the
        page height, or None where the lines are level already or too few to tell.
    """
    traces = _traces(draft)
    if len(traces) < 4 or sum(len(t) for t in traces) < 60:
        return None
    height, width = draft.shape
    design, target, weight = [], [], []
    for trace in traces:
        x, y = trace[:, 0] / width * 2 - 1, trace[:, 1] / height * 2 - 1
        columns = np.column_stack([x**a * y**b for a, b in _TERMS])
        design.append(columns - columns.mean(axis=0))
        target.append(trace[:, 1] - trace[:, 1].mean())
        weight.append(np.ones(len(trace)))
    matrix, drop, weights = np.vstack(design), np.concatenate(target), np.concatenate(weight)
    ridge = np.diag([0.5 if a == 1 and b == 0 else 4.0 for a, b in _TERMS])
    solution = np.zeros(len(_TERMS))
    for _ in range(12):
        root = np.sqrt(weights)[:, None]
        normal = (matrix * root).T @ (matrix * root) + ridge
        solution = np.linalg.solve(normal, (matrix * weights[:, None]).T @ drop)
        residual = np.abs(drop - matrix @ solution)
        weights = 1.0 / np.maximum(1.0, residual / 1.5) ** 2
    if np.abs(matrix @ solution).max() < 0.8:
        return None

    def field(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        across, down = x * 2 - 1, y * 2 - 1
        return sum(
            c * across**a * down**b for c, (a, b) in zip(solution, _TERMS, strict=True)
        ) / np.float32(height)

    return field


def _traces(draft: np.ndarray) -> list[np.ndarray]:
    """Middle lines of long text lines and of rules, float (points, 2) each, draft pixels."""
    text = without_long_lines(draft, 70)
    smear = cv2.morphologyEx(text, cv2.MORPH_CLOSE, np.ones((1, 21), np.uint8))
    smear = cv2.morphologyEx(smear, cv2.MORPH_OPEN, np.ones((3, 9), np.uint8))
    rules = cv2.morphologyEx(
        cv2.dilate(draft, np.ones((2, 1), np.uint8)), cv2.MORPH_OPEN, np.ones((1, 40), np.uint8)
    )
    rules = cv2.morphologyEx(rules, cv2.MORPH_CLOSE, np.ones((1, 15), np.uint8))
    rules = cv2.dilate(rules, np.ones((3, 1), np.uint8))
    traces = []
    for mask, tallest, step in ((smear, 45, 12), (rules, 30, 8)):
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
        for label in range(1, count):
            x, y, w, h, _ = stats[label]
            if w < 0.15 * draft.shape[1] or h > tallest or w < 4 * h:
                continue
            part = labels[y : y + h, x : x + w] == label
            trace = _middle(part, step)
            if len(trace) >= 6:
                traces.append(trace + [x, y])
    return traces


def _middle(part: np.ndarray, step: int) -> np.ndarray:
    """Mean height of ink in windows of ``2 * step`` columns."""
    rows = np.arange(part.shape[0])[:, None]
    mass = _running(part.sum(axis=0))
    moment = _running((part * rows).sum(axis=0))
    centres = np.arange(step, part.shape[1] - step, step)
    amounts = mass[centres + step] - mass[centres - step]
    centres = centres[amounts > 0]
    amounts = amounts[amounts > 0]
    heights = (moment[centres + step] - moment[centres - step]) / amounts
    return np.column_stack([centres, heights]).astype(float)


# --- resampling and light ------------------------------------------------------------------


def _resample(
    photo: np.ndarray, to_photo: np.ndarray, size: tuple[int, int], curl: Field | None
) -> tuple[np.ndarray, np.ndarray, float]:
    """Raw page, the best homography page -> photo, and its largest error in photo pixels."""
    width, height = size
    if curl is None:
        page = cv2.warpPerspective(
            photo,
            to_photo,
            size,
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return page, to_photo / to_photo[2, 2], 0.0
    # The field is smooth: it is computed on a coarse grid and enlarged.
    grid = 16
    columns, rows = -(-width // grid) + 1, -(-height // grid) + 1
    x, y = np.meshgrid(
        np.arange(columns, dtype=np.float32) * grid, np.arange(rows, dtype=np.float32) * grid
    )
    drop = curl(x / width, y / height)
    drop = curl(x / width, y / height + drop) * height
    points = np.stack([x, y + drop], axis=-1).reshape(-1, 1, 2)
    placed = cv2.perspectiveTransform(points, to_photo).reshape(rows, columns, 2)
    enlarge = np.array([[1 / grid, 0, 0], [0, 1 / grid, 0]], np.float32)
    maps = cv2.warpAffine(
        placed.astype(np.float32),
        enlarge,
        size,
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    page = cv2.remap(
        photo, maps[..., 0], maps[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    flat = np.stack([x, y], axis=-1).reshape(-1, 1, 2)
    best, _ = cv2.findHomography(flat, placed.reshape(-1, 1, 2))
    error = cv2.perspectiveTransform(flat, best).reshape(-1, 2) - placed.reshape(-1, 2)
    return page, best / best[2, 2], float(np.hypot(*error.T).max())


def paper_colour(page: np.ndarray) -> np.ndarray:
    """The paper under the ink: uint8 RGB of a quarter of the page's size."""
    small = cv2.resize(page, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    element = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (13, 13))
    closed = cv2.morphologyEx(small, cv2.MORPH_CLOSE, element)
    return cv2.GaussianBlur(cv2.medianBlur(closed, 9), (9, 9), 0)


def even_light(page: np.ndarray) -> np.ndarray:
    """The page divided by its paper: shadows, light and tint gone, ink colours kept."""
    height, width = page.shape[:2]
    paper = cv2.resize(paper_colour(page), (width, height), interpolation=cv2.INTER_LINEAR)
    return cv2.divide(page, np.maximum(paper, 12), scale=250.0)


def has_lines(image: np.ndarray) -> bool:
    """True when something on the page looks like at least one line of print or writing."""
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA)
    ink = without_long_lines((small < 190).astype(np.uint8) * 255, 70)
    if (ink > 0).mean() > 0.35:
        return False
    return len(_line_boxes(ink)) >= 1


def _refuse_dark(raw: np.ndarray) -> None:
    if float(np.median(paper_colour(raw))) < DARK_PAPER / 2:
        raise BadPhoto("The photo is too dark to read; take it again in better light.")


def _problems(sheet: Sheet, image: np.ndarray) -> list[str]:
    problems = []
    if sheet.found and any(sheet.cut):
        problems.append(
            "Part of the sheet lies outside the photo; take it again with all four corners in view."
        )
    if edge_width(image) > BLUR_WIDTH:
        problems.append(
            "The photo is blurred; hold the phone still, wait for focus and take it again."
        )
    return problems


def edge_width(image: np.ndarray) -> float:
    """Pixels from paper to full ink at the sharper strokes; 0 where there is no ink."""
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    depth = 255 - cv2.erode(grey, np.ones((5, 5), np.uint8)).astype(np.float32)
    slope = cv2.morphologyEx(grey, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) / 2.0
    peak = cv2.dilate(slope.astype(np.float32), np.ones((5, 5), np.uint8))
    ink = depth > 70
    if ink.sum() < 200:
        return 0.0
    return float(np.percentile(depth[ink] / np.maximum(peak[ink], 1), 40))
