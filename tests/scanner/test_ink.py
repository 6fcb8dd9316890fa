"""Rules go, ink stays; print, coloured pen and grey pen are told apart."""

import cv2
import numpy as np
import pytest

from scanner.flatten import even_light
from scanner.ink import Ink, all_but, answer_spaces, coloured, find_ink
from scanner.print_or_pen import is_pen
from scanner.print_words import find_words, print_only
from tests.scanner.drawn_sheet import (
    BLACK,
    BLUE,
    GREY,
    HEIGHT,
    QUESTION,
    WIDTH,
    paper,
    printed,
    share_of_overlap,
    written,
)

RULE = (90, 90, 90)
PALE_BLUE = (176, 196, 226)


def ink_of(page: np.ndarray) -> Ink:
    return find_ink(even_light(cv2.GaussianBlur(page, (3, 3), 0)))


def ink_inside(ink: Ink, x0: int, y0: int, x1: int, y1: int) -> int:
    return int(ink.mask[y0:y1, x0:x1].sum())


def test_ruled_lines_go_and_the_writing_on_them_stays():
    page = paper()
    for y in range(600, 1300, 90):
        cv2.line(page, (160, y), (1500, y), RULE, 3)
    clean = paper()
    for target in (page, clean):
        written(target, "F = 2 N to the right", 240, 775)
    ink, alone = ink_of(page), ink_of(clean)
    assert ink_inside(ink, 900, 560, 1490, 1300) == 0
    assert len([rule for rule in ink.rules if rule.level]) == 8
    kept = (ink.mask & alone.mask).sum() / alone.mask.sum()
    assert kept > 0.93


def test_squared_paper_and_its_margin_go():
    page = paper()
    for y in range(0, HEIGHT, 47):
        cv2.line(page, (0, y), (WIDTH, y), PALE_BLUE, 2)
    for x in range(0, WIDTH, 47):
        cv2.line(page, (x, 0), (x, HEIGHT), PALE_BLUE, 2)
    cv2.line(page, (150, 0), (150, HEIGHT), (220, 130, 130), 3)
    written(page, "Q = 3 C", 400, 700)
    ink = ink_of(page)
    outside = ink.mask.copy()
    outside[600:760, 380:800] = False
    assert outside.sum() < 100
    assert answer_spaces(ink.rules, (WIDTH, HEIGHT)) == ()


def test_fraction_bars_minus_and_equals_signs_are_no_rules():
    page = paper()
    cv2.rectangle(page, (160, 500), (1500, 1100), RULE, 4)
    x, _, width, _ = written(page, "9 x 8 x 7 x 6 x 5 x 4 x 3", 400, 690, BLACK)
    cv2.line(page, (x - 10, 716), (x + width + 10, 720), BLACK, 4)
    written(page, "12 x 11", x + 120, 790, BLACK)
    for y in (710, 730):
        cv2.line(page, (330, y), (372, y), BLACK, 4)
    cv2.line(page, (1100, 720), (1150, 720), BLACK, 4)
    ink = ink_of(page)
    for x0, x1 in ((x, x + width), (332, 370), (1102, 1148)):
        columns = ink.mask[700:740, x0:x1].any(axis=0)
        assert columns.mean() > 0.97


def test_print_is_shown_with_its_palest_marks_and_without_pen_or_rules():
    page = printed(paper(), ["Its charge is 4 x 10"])
    end = int(np.flatnonzero((page < 128).any(axis=(0, 2))).max())
    page[208:210, end + 6 : end + 16] = 212
    cv2.line(page, (160, 300), (1500, 300), RULE, 3)
    written(page, "so it repels", 300, 500)
    even = even_light(page)
    ink = find_ink(even)
    pen = np.concatenate([[False], coloured(ink.parts)])[ink.labels]
    shown = print_only(even, all_but(ink, pen))
    assert shown[206:212, end + 6 : end + 16].min() < 230
    assert (shown[280:] < 200).sum() == 0


def test_a_lone_coloured_stroke_is_pen_and_a_lone_grey_one_a_rule():
    page = paper()
    cv2.line(page, (300, 700), (800, 700), BLUE, 4)
    cv2.line(page, (300, 1300), (800, 1300), RULE, 4)
    ink = ink_of(page)
    assert ink.mask[690:710, 310:790].any(axis=0).all()
    assert not ink.mask[1290:1310].any()


def test_a_bar_written_on_a_ruled_line_stays():
    page = paper()
    for y in range(600, 1300, 90):
        cv2.line(page, (160, y), (1500, y), RULE, 3)
    written(page, "9 x 8", 420, 760)
    cv2.line(page, (400, 780), (640, 780), BLUE, 4)
    written(page, "12", 470, 845)
    ink = ink_of(page)
    assert ink.mask[772:790, 405:635].any(axis=0).mean() > 0.9


def test_boxes_and_runs_of_rules_are_answer_spaces():
    page = paper()
    cv2.rectangle(page, (160, 500), (1500, 900), RULE, 4)
    for y in range(1200, 1500, 90):
        cv2.line(page, (160, y), (1500, y), RULE, 3)
    box, rules = answer_spaces(ink_of(page).rules, (WIDTH, HEIGHT))
    assert (box.kind, rules.kind) == ("box", "rule")
    assert share_of_overlap(box.box, (160, 500, 1340, 400)) > 0.95
    assert share_of_overlap(rules.box, (160, 1110, 1340, 360)) > 0.9


@pytest.mark.parametrize("colour", [BLUE, (150, 30, 40), (20, 110, 60)])
def test_coloured_pen_is_known_by_its_colour_alone(colour):
    page = printed(paper(), QUESTION)
    written(page, "They share it", 300, 600, colour)
    ink = ink_of(page)
    pen = coloured(ink.parts)
    low = ink.parts.boxes[:, 1] > 450
    big = ink.parts.area > 40
    assert pen[low & big].all() and not pen[~low & big].any()


def test_pen_that_touches_print_is_cut_from_it_by_colour():
    page = printed(paper(), QUESTION)
    written(page, "ghjk", 300, 250, BLUE, 2.4)
    ink = ink_of(page)
    table = np.concatenate([[False], coloured(ink.parts)])
    pen = table[ink.labels]
    blue = (page[..., 2].astype(int) - page[..., 0]) > 60
    assert (pen & blue).sum() / (ink.mask & blue).sum() > 0.9


@pytest.mark.parametrize("colour", [BLACK, GREY])
def test_black_pen_and_pencil_are_told_from_print(colour):
    page = printed(paper(), [*QUESTION, *QUESTION])
    boxes = [written(page, text, 300, 700 + 110 * n, colour, 2.0) for n, text in enumerate(WORK)]
    even = even_light(cv2.GaussianBlur(page, (3, 3), 0))
    ink = find_ink(even)
    pen = is_pen(ink.parts, coloured(ink.parts), find_words(print_only(even, ink.mask)))
    low = ink.parts.boxes[:, 1] > boxes[0][1] - 20
    assert np.average(pen[low], weights=ink.parts.area[low]) > 0.97
    assert np.average(pen[~low], weights=ink.parts.area[~low]) < 0.02


WORK = ("F = kQQ over r", "F = 9 x 4 x 7", "F = 252 N left", "so they repel")
