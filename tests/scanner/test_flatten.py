"""The sheet is found on any desk, turned upright, levelled and evenly lit."""

import cv2
import numpy as np
import pytest

from scanner.errors import BadPhoto
from scanner.flatten import Sheet, even_light, find_sheet, flatten, page_size
from tests.scanner.drawn_sheet import (
    HEIGHT,
    QUESTION,
    WIDTH,
    paper,
    photographed,
    printed,
    shaded,
    written,
)

CORNERS = np.array([[210, 160], [1340, 120], [1420, 1790], [150, 1740]], float)
SIZE = (1560, 1900)
DESKS = {
    "dark": (45, 40, 40),
    "wood": (140, 95, 60),
    "blue": (70, 100, 150),
    "white": (222, 220, 216),
}


@pytest.fixture(scope="module")
def sheet() -> np.ndarray:
    page = paper()
    for n in range(5):
        page = printed(page, QUESTION, y=180 + 420 * n)
        written(page, "They share the charge", 220, 420 + 420 * n)
    return page


def corner_error(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance of a corner from its true place, whichever corner comes first."""
    return min(float(np.hypot(*(np.roll(found, turn, axis=0) - true).T).max()) for turn in range(4))


@pytest.mark.parametrize("desk", DESKS)
def test_the_sheet_is_found_on_desks_of_any_colour(sheet, desk):
    photo = shaded(photographed(sheet, CORNERS, SIZE, DESKS[desk]))
    found = find_sheet(photo)
    assert found.found and not any(found.cut)
    assert corner_error(found.corners, CORNERS) < 12


def test_a_flat_scan_is_taken_whole(sheet):
    found = find_sheet(sheet)
    assert not found.found
    assert flatten(sheet).problems == ()


@pytest.mark.parametrize("quarters", range(4))
def test_any_of_four_turns_ends_upright(sheet, quarters):
    photo = np.ascontiguousarray(np.rot90(photographed(sheet, CORNERS, SIZE), quarters))
    flat = flatten(photo)
    height, width = flat.image.shape[:2]
    assert height / width == pytest.approx(HEIGHT / WIDTH, rel=0.02)
    difference = cv2.absdiff(
        cv2.resize(cv2.GaussianBlur(flat.image, (0, 0), 12), (300, 424)),
        cv2.resize(cv2.GaussianBlur(sheet, (0, 0), 12), (300, 424)),
    )
    assert difference.mean() < 4


def test_points_of_the_page_map_back_to_the_photo(sheet):
    photo = photographed(sheet, CORNERS, SIZE)
    flat = flatten(photo)
    height, width = flat.image.shape[:2]
    ends = np.float32([[[0, 0]], [[width, 0]], [[width, height]], [[0, height]]])
    mapped = cv2.perspectiveTransform(ends, np.array(flat.to_photo)).reshape(-1, 2)
    assert np.hypot(*(mapped - CORNERS).T).max() < 15


def test_slight_curl_is_undone(sheet):
    x, y = np.meshgrid(np.arange(WIDTH, dtype=np.float32), np.arange(HEIGHT, dtype=np.float32))
    bent = cv2.remap(
        sheet, x, y - 22 * np.sin(np.pi * x / WIDTH), cv2.INTER_LINEAR, borderValue=(252,) * 3
    )

    def sharpness(page: np.ndarray) -> float:
        rows = (255.0 - cv2.cvtColor(page, cv2.COLOR_RGB2GRAY)).sum(axis=1)
        return float((np.diff(rows) ** 2).sum())

    straightened = flatten(bent)
    assert straightened.residual > 3
    assert sharpness(straightened.image) > 2 * sharpness(even_light(bent))


def test_shadow_and_tint_go_and_pen_stays_blue(sheet):
    tinted = (shaded(sheet) * [1.0, 0.94, 0.8]).astype(np.uint8)
    even = even_light(tinted)
    blank = even[60:130, 60:-60]
    assert blank.std(axis=(0, 1)).max() < 3
    assert np.ptp(blank.mean(axis=(0, 1))) < 3
    pen = even[380:430, 230:500].reshape(-1, 3)
    darkest = pen[pen.sum(axis=1).argsort()[:50]].mean(axis=0)
    assert darkest[2] - darkest[0] > 60


def test_true_proportions_follow_from_perspective():
    seen = np.array([[300, 200], [1250, 230], [1480, 1750], [80, 1800]], float)
    tall = page_size(Sheet(seen, (False,) * 4, 1.0, True), (1900, 1560, 3))
    assert tall[1] > tall[0]
    square = np.array([[100, 100], [900, 100], [900, 900], [100, 900]], float)
    width, height = page_size(Sheet(square, (False,) * 4, 1.0, True), (1000, 1000, 3))
    assert width == pytest.approx(height, rel=0.01)


def test_a_sheet_that_runs_off_the_photo_is_said(sheet):
    photo = photographed(sheet, CORNERS, SIZE)[:, 330:]
    assert any("outside the photo" in problem for problem in flatten(photo).problems)


def test_a_blurred_photo_is_said(sheet):
    photo = cv2.GaussianBlur(photographed(sheet, CORNERS, SIZE), (0, 0), 5)
    assert any("blurred" in problem for problem in flatten(photo).problems)


def test_darkness_and_wrong_subjects_are_refused_with_a_sentence(sheet):
    dark = (photographed(sheet, CORNERS, SIZE) * 0.06).astype(np.uint8)
    with pytest.raises(BadPhoto, match="too dark"):
        flatten(dark)
    with pytest.raises(BadPhoto, match="No lines"):
        flatten(np.full((1200, 900, 3), 180, np.uint8))
