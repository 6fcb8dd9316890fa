"""Corner marks and codes of printed worksheets, on a sheet drawn as the marks prescribe."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest

from scanner.marks import (
    CELLS,
    CODE_AT,
    CODE_SIDE,
    CORNER_SIDE,
    PAGE,
    SheetCode,
    corner_pattern,
    corner_places,
    find_corners,
    read_code,
    without_codes,
)
from scanner.page import Box

DOTS = 200 / 25.4  # a millimetre
CODE = SheetCode("7KQ2M9XA", 2, 3, 17)


@cache
def sheet(code: str = str(CODE)) -> np.ndarray:
    """An empty sheet with its marks, uint8 RGB."""
    image = np.full((round(PAGE[1] * DOTS), round(PAGE[0] * DOTS)), 250, np.uint8)
    for corner, (place, *_) in corner_places().items():
        put(image, np.where(corner_pattern(corner), 0, 250), place, CORNER_SIDE)
    put(image, cv2.QRCodeEncoder.create().encode(code), np.array(CODE_AT), CODE_SIDE)
    return cv2.cvtColor(image, cv2.COLOR_GRAY2RGB)


def put(image: np.ndarray, cells: np.ndarray, place: np.ndarray, side: float) -> None:
    size = round(side * DOTS)
    x, y = np.round(place * DOTS).astype(int)
    drawn = cv2.resize(cells.astype(np.uint8), (size, size), interpolation=cv2.INTER_NEAREST)
    image[y : y + size, x : x + size] = drawn


def test_a_code_says_which_page_of_which_copy_and_nothing_of_the_learner():
    assert str(CODE) == "SHEET:7KQ2M9XA:2:3:17"
    assert SheetCode.of(str(CODE)) == CODE


@pytest.mark.parametrize("text", ["", "https://example.org", "SHEET:7KQ2M9XA:2:3", "SHEET:a:1:1:1"])
def test_other_codes_are_none_of_ours(text):
    assert SheetCode.of(text) is None


def test_corner_marks_are_those_of_the_dictionary():
    """Marker 0 of DICT_4X4_50 as OpenCV documents it: its bits are b5 32 in hexadecimal."""
    inside = ~corner_pattern(0)[1:-1, 1:-1]
    assert corner_pattern(0).shape == (CELLS, CELLS)
    assert np.packbits(inside.ravel()).tolist() == [0xB5, 0x32]


def test_corner_marks_are_found_where_they_stand():
    found = find_corners(sheet())
    assert sorted(found) == [0, 1, 2, 3]
    for corner, points in corner_places().items():
        assert np.abs(found[corner] - points * DOTS).max() < 1.5


@pytest.mark.parametrize("turns", range(4))
def test_a_code_is_read_whichever_way_the_page_lies(turns):
    assert read_code(np.ascontiguousarray(np.rot90(sheet(), turns))) == CODE


def test_a_code_is_read_with_two_corners_cut_off():
    cut = sheet().copy()
    cut[: round(40 * DOTS), : round(60 * DOTS)] = 250
    cut[-round(40 * DOTS) :, -round(60 * DOTS) :] = 250
    assert sorted(find_corners(cut)) == [1, 3]
    assert read_code(cut) == CODE


def test_a_page_without_marks_or_with_a_strange_code_has_no_code():
    assert read_code(np.full((2339, 1654, 3), 250, np.uint8)) is None
    assert read_code(sheet("https://example.org")) is None


def test_where_a_code_lies_there_is_paper():
    box = Box(10, 20, 30, 40)
    image = np.zeros((100, 100, 3), np.uint8)
    plain = without_codes(image, (box,), 250)
    assert (plain[20:60, 10:40] == 250).all()
    assert plain.sum() == 250 * 3 * 30 * 40
    assert not image.any()
