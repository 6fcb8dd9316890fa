from __future__ import annotations

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from scanner.flatten import FlatPage
from scanner.ink import find_ink
from scanner.page import IDENTITY, Candidate, Reading
from scanner.stack_consensus import (
    Blank,
    align,
    consensus,
    learn_blank,
    pen_ink,
    read_against,
)
from tests.sheets.typefaces import print_faces
from tests.ui.drawn_scripts import PEN, QUESTIONS

SIZE = (1654, 2339)
STROKE = np.array([[1300, 330], [1340, 400], [1370, 340], [1400, 410], [1440, 330]])


class Unread:
    """Reads nothing: these tests are about where ink is."""

    def read(self, images):
        return [Reading((Candidate("", 0.9),)) for _ in images]


@cache
def printed(rows: tuple[str, ...] = QUESTIONS, letter: int = 34) -> np.ndarray:
    """A blank sheet with these printed rows, uint8 RGB with paper at 250."""
    image = Image.new("RGB", SIZE, (250, 250, 250))
    draw = ImageDraw.Draw(image)
    font = ImageFont.truetype(print_faces()[0].path, letter)
    for number, row in enumerate(rows):
        draw.text((150, 200 + 260 * number), row, (20, 20, 20), font)
    return np.asarray(image)


def bent(image: np.ndarray, strength: float) -> tuple[np.ndarray, np.ndarray]:
    """The image turned, shifted and curled, and where each of its pixels came from."""
    height, width = image.shape[:2]
    x, y = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    curl = strength * np.sin(np.pi * x / width) * (y / height)
    angle = np.radians(0.4)
    came = np.dstack(
        [
            np.cos(angle) * x - np.sin(angle) * y + 14,
            np.sin(angle) * x + np.cos(angle) * y + curl - 9,
        ]
    ).astype(np.float32)
    moved = cv2.remap(
        image, came[..., 0], came[..., 1], cv2.INTER_LINEAR, borderValue=(250, 250, 250)
    )
    return moved, came


@pytest.mark.parametrize("strength", [0.0, 8.0])
def test_a_bent_page_is_laid_back_to_within_a_pixel_where_there_is_print(strength):
    reference = printed()
    moved, came = bent(reference, strength)
    alignment = align(moved, reference)
    assert alignment is not None
    field = alignment.field()
    there = cv2.remap(came, field[..., 0], field[..., 1], cv2.INTER_LINEAR)
    rows, columns = np.nonzero(reference.min(axis=2) < 100)
    off = np.hypot(there[rows, columns, 0] - columns, there[rows, columns, 1] - rows)
    assert np.quantile(off, 0.95) < 1.0


def test_a_page_of_another_worksheet_is_not_laid_on_this_one():
    other = tuple(" ".join(reversed(row.split())).upper() for row in QUESTIONS)
    assert align(printed(other, 40), printed()) is None
    flat = FlatPage(printed(other, 40), IDENTITY, 0.0, ())
    assert read_against(flat, Blank(printed(), (), ()), "x", 1, Unread()) is None


def written_on(image: np.ndarray, seed: int) -> np.ndarray:
    """The sheet with strokes of a pen in the free room below each row."""
    rng = np.random.default_rng(seed)
    out = image.copy()
    for number in range(len(QUESTIONS)):
        points = rng.uniform((160, 270 + 260 * number), (1200, 400 + 260 * number), (9, 2))
        cv2.polylines(out, [points.astype(np.int32)], False, PEN, 4, cv2.LINE_AA)
    return out


def test_what_most_pages_share_is_print_and_no_pen():
    pages = [cv2.cvtColor(written_on(printed(), s), cv2.COLOR_RGB2GRAY) for s in range(10)]
    blank = cv2.cvtColor(printed(), cv2.COLOR_RGB2GRAY)
    assert np.abs(consensus(pages).astype(int) - blank).mean() < 0.05


def test_pages_that_lie_a_little_off_in_a_corner_do_not_thin_the_print():
    """Three of ten lie 20 pixels off at the bottom; what stands there is still whole print."""
    blank = printed()
    pages = [written_on(blank, seed) for seed in range(10)]
    straight = align(blank, blank)
    assert straight is not None
    bottom = np.linspace(0, 1, len(straight.grid))[:, None] > 0.72
    off = replace(straight, grid=straight.grid + np.where(bottom, 20.0, 0.0)[..., None])
    learnt = learn_blank([(p, off if n < 3 else straight) for n, p in enumerate(pages)], Unread())
    rows = slice(SIZE[1] * 74 // 100, None)
    assert (learnt.image[rows].min(axis=2) < 100).sum() > 0.9 * (blank[rows, :, 0] < 100).sum() > 0


def test_pen_of_several_writers_in_one_place_is_not_print():
    """Six of ten write the same stroke; small print of all shapes stays."""
    blank = printed()
    pages = [written_on(blank, seed) for seed in range(10)]
    for page in pages[:6]:
        cv2.polylines(page, [STROKE], False, (30, 40, 60), 4, cv2.LINE_AA)
    same = align(blank, blank)
    assert same is not None
    learnt = learn_blank([(page, same) for page in pages], Unread())
    x, y, width, height = cv2.boundingRect(STROKE)
    assert learnt.image[y : y + height, x : x + width].min() > 150
    assert np.abs(learnt.image.astype(int) - same.laid(blank)).mean() < 0.05


def test_one_page_that_lies_wrong_does_not_spoil_the_print():
    pages = [printed()[..., 0]] * 5 + [np.roll(printed()[..., 0], 30, axis=0)]
    assert (consensus(pages) == printed()[..., 0]).all()


def test_pen_is_left_and_print_is_gone():
    blank = printed()
    page = written_on(blank, 1)
    rest, pen = pen_ink(page, find_ink(page), find_ink(blank))
    kept = np.concatenate([[False], pen])[rest.labels]
    drawn = np.abs(page.astype(int) - blank).max(axis=2) > 60
    letters = blank.min(axis=2) < 100
    assert (kept & drawn).sum() > 0.97 * drawn.sum()
    assert (kept & letters & ~drawn).sum() < 0.002 * letters.sum()


def test_a_black_stroke_through_print_is_kept_but_for_the_print():
    blank = printed()
    page = blank.copy()
    cv2.line(page, (140, 150), (700, 300), (40, 40, 40), 4, cv2.LINE_AA)
    rest, pen = pen_ink(page, find_ink(page), find_ink(blank))
    kept = np.concatenate([[False], pen])[rest.labels]
    drawn = np.abs(page.astype(int) - blank).max(axis=2) > 60
    assert (kept & drawn).sum() > 0.75 * drawn.sum()
    assert (kept & ~cv2.dilate(drawn.astype(np.uint8), np.ones((9, 9))).astype(bool)).sum() == 0


def test_a_script_is_read_in_the_blanks_place():
    blank = Blank(printed(), (), ())
    moved, _ = bent(written_on(printed(), 3), 6.0)
    page = read_against(FlatPage(moved, IDENTITY, 0.0, ()), blank, "x.jpg", 1, Unread())
    assert page is not None
    assert page.size == SIZE
    assert page.print_lines == ()
    assert len(page.pen_lines) >= len(QUESTIONS) - 1
    back = np.array(page.to_photo) @ [150, 200, 1]
    assert np.allclose(back[:2] / back[2], (150 - 14, 200 + 9), atol=6)
