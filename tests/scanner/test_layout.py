"""Pen ink becomes lines: fractions whole, columns apart, neighbours' ink left out."""

import cv2
import numpy as np

from scanner.flatten import even_light
from scanner.ink import find_ink
from scanner.layout import PenLine, line_image, numbered_blocks, pen_lines
from scanner.page import Box, Line, Reading
from tests.scanner.drawn_sheet import BLUE, paper, share_of_overlap, written

SLANT = 5  # pixels that a fraction bar drops along its length


def lines_of(page: np.ndarray):
    even = even_light(cv2.GaussianBlur(page, (3, 3), 0))
    ink = find_ink(even)
    ink, lines = pen_lines(ink, np.ones(len(ink.parts), bool))
    return even, ink, lines


def hull(*boxes) -> Box:
    whole = Box(*boxes[0])
    for box in boxes[1:]:
        whole = whole.union(Box(*box))
    return whole


def fraction(page: np.ndarray, x: int, y: int, over: str, under: str) -> Box:
    """A stacked fraction with its bar at ``y``; the box of its ink."""
    upper = written(page, over, x, y - 20)
    cv2.line(page, (x - 8, y), (x + upper[2] + 8, y + SLANT), BLUE, 4)
    lower = written(page, under, x + upper[2] // 2 - 20, y + 70)
    return hull(upper, lower, (x - 8, y, upper[2] + 16, SLANT))


def equals(page: np.ndarray, x: int, y: int) -> Box:
    for row in (y - 9, y + 9):
        cv2.line(page, (x, row), (x + 38, row), BLUE, 4)
    return Box(x, y - 11, 38, 22)


def assert_found(lines: tuple[PenLine, ...], expected: list[Box]) -> None:
    assert len(lines) == len(expected)
    for line, box in zip(lines, expected, strict=True):
        assert share_of_overlap(line.box, box) > 0.85


def test_lines_are_found_in_reading_order():
    page = paper()
    boxes = [Box(*written(page, f"F = {n}50 N to the left", 200, 400 + 100 * n)) for n in range(5)]
    _, _, lines = lines_of(page)
    assert_found(lines, boxes)


def test_a_stacked_fraction_is_one_line_with_what_stands_beside_it():
    page = paper()
    above = Box(*written(page, "so the force is", 200, 400))
    first = hull(
        written(page, "F", 200, 580),
        equals(page, 260, 565),
        fraction(page, 330, 562, "9 x 4 x 7", "12"),
    )
    below = Box(*written(page, "F = 21 N", 200, 760))
    _, _, lines = lines_of(page)
    assert_found(lines, [above, first, below])


def test_figures_that_touch_the_bar_do_not_split_the_fraction():
    page = paper()
    box = fraction(page, 330, 562, "9 x 4 x 7", "12")
    cv2.line(page, (360, 535), (360, 562), BLUE, 4)
    cv2.line(page, (400, 562), (400, 590), BLUE, 4)
    _, _, lines = lines_of(page)
    assert_found(lines, [box])


def test_raised_figures_and_a_decimal_comma_stay_with_their_base():
    page = paper()
    base = written(page, "Q = 2 5 x 10", 200, 600)
    right = base[0] + base[2]
    raised = written(page, "6", right + 40, 570, size=1.1)
    cv2.line(page, (right + 12, 557), (right + 32, 557), BLUE, 4)
    cv2.line(page, (330, 600), (326, 612), BLUE, 5)
    _, _, lines = lines_of(page)
    assert_found(lines, [hull(base, raised, (326, 600, 6, 14))])


def test_two_columns_of_working_stay_apart():
    page = paper()
    left = [Box(*written(page, "F = 21 N", 200, 500 + 110 * n)) for n in range(3)]
    right = [Box(*written(page, "E = 45 J", 900, 500 + 110 * n)) for n in range(3)]
    _, _, lines = lines_of(page)
    assert sorted(round(line.box.x, -2) for line in lines) == [200] * 3 + [900] * 3
    for box in left + right:
        assert max(share_of_overlap(line.box, box) for line in lines) > 0.85


def test_struck_out_ink_is_kept_and_flagged():
    page = paper()
    struck = written(page, "F = 3021 N", 200, 500)
    cv2.line(page, (190, 484), (struck[0] + struck[2] + 10, 480), BLUE, 5)
    written(page, "F = 3210 N", 200, 640)
    _, _, lines = lines_of(page)
    assert [line.struck for line in lines] == [True, False]


def test_a_line_image_holds_its_own_ink_only():
    page = paper()
    written(page, "gyj gyj gyj", 200, 500)
    cv2.line(page, (230, 530), (260, 541), BLUE, 4)
    written(page, "bdf bdf bdf", 200, 575)
    even, ink, lines = lines_of(page)
    images = [line_image(ink, even, line) for line in lines]
    dark = sum(int((image < 128).sum()) for image in images)
    whole = int((ink.darkness[ink.mask] > 122).sum())
    assert all(image.dtype == np.uint8 and image.ndim == 2 for image in images)
    assert abs(dark - whole) < 0.05 * whole


def test_no_pen_means_no_lines():
    _, _, lines = lines_of(paper())
    assert lines == ()


def test_lines_close_under_each_other_share_a_block():
    def line(ink, y, x=100):
        return Line(ink, Box(x, y, 400, 40), Reading.certain("x"))

    lines = numbered_blocks(
        (
            line("print", 100),
            line("print", 150),
            line("pen", 210),
            line("pen", 260),
            line("pen", 600),
        )
    )
    assert [one.block for one in lines] == [0, 0, 1, 1, 2]
