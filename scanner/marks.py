"""Marks that a worksheet printed by this project carries: one in each corner, and a QR code.

The corner marks are ArUco markers (S. Garrido-Jurado et al., Pattern Recognition 47 (2014),
2280-2292) 0 to 3 of OpenCV's dictionary DICT_4X4_50, clockwise from the top left; the code is a
QR code (ISO/IEC 18004). Both are read on a flattened page by OpenCV.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from scanner.page import Box

# Where the marks stand on a sheet, in millimetres from its top left.
PAGE = (210.0, 297.0)  # A4
CORNERS = 4
CORNER_SIDE = 9.0
CORNER_MARGIN = 8.0  # from the sheet's edges; printers leave some 5 of them white
CODE_SIDE = 24.0  # with the white around it that the standard asks for
CODE_AT = (164.0, 11.0)  # its top left corner
CELLS = 6  # of a corner mark's side: four of its pattern and a black frame

_SCALES = (16, 10, 24)  # pixels for each millimetre at which a code is tried
_CORNER_REACH = 0.2  # of the page: a corner mark lies no further from its corner
_CODE = re.compile(r"SHEET:([0-9A-Z]+):([0-9]+):([0-9]+):([0-9]+)")


@dataclass(frozen=True)
class SheetCode:
    """What a printed page says of itself; ``copy`` 0 is a copy without a number."""

    worksheet: str
    page: int
    pages: int
    copy: int = 0

    def __str__(self) -> str:
        return f"SHEET:{self.worksheet}:{self.page}:{self.pages}:{self.copy}"

    @classmethod
    def of(cls, text: str) -> SheetCode | None:
        """The code that a text says; None where it is no code of ours."""
        match = _CODE.fullmatch(text)
        if match is None:
            return None
        worksheet, page, pages, copy = match.groups()
        return cls(worksheet, int(page), int(pages), int(copy))


def corner_pattern(corner: int) -> np.ndarray:
    """Bool (6, 6): the black cells of a corner mark."""
    return cv2.aruco.generateImageMarker(_dictionary(), corner, CELLS) == 0


def find_corners(image: np.ndarray) -> dict[int, np.ndarray]:
    """Places of the corner marks on a page, upright or turned: float (4, 2) pixels each.

    Args:
        image: flattened page, uint8 RGB or grey.
    """
    height, width = image.shape[:2]
    found, numbers, _ = _corner_finder().detectMarkers(image)
    places = {}
    for points, number in zip(found, () if numbers is None else numbers.ravel(), strict=True):
        points = points.reshape(4, 2).astype(float)
        x, y = points.mean(axis=0) / (width, height)
        if int(number) < CORNERS and max(min(x, 1 - x), min(y, 1 - y)) < _CORNER_REACH:
            places[int(number)] = points
    return places


def corner_places() -> dict[int, np.ndarray]:
    """Where each corner mark stands on the sheet: float (4, 2) millimetres, clockwise."""
    square = CORNER_SIDE * np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    near, (right, bottom) = CORNER_MARGIN, np.array(PAGE) - CORNER_MARGIN - CORNER_SIDE
    places = ((near, near), (right, near), (right, bottom), (near, bottom))
    return {corner: square + place for corner, place in enumerate(places)}


def read_code(image: np.ndarray) -> SheetCode | None:
    """The code on a flattened page, or None where there is none that can be read.

    Args:
        image: flattened page, uint8 RGB, upright or turned.
    """
    found = find_corners(image)
    if not found:
        return None
    there = corner_places()
    millimetres = np.concatenate([there[corner] for corner in found])
    pixels = np.concatenate([found[corner] for corner in found])
    to_page, _ = cv2.findHomography(millimetres, pixels)
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)
    for scale in _SCALES:
        code = _decoded(_code_square(grey, to_page, scale))
        if code is not None:
            return code
    return None


def _code_square(grey: np.ndarray, to_page: np.ndarray, scale: int) -> np.ndarray:
    """The place of the code with some paper around it, ``scale`` pixels a millimetre."""
    around = 2.0
    side = round((CODE_SIDE + 2 * around) * scale)
    left, top = CODE_AT[0] - around, CODE_AT[1] - around
    from_square = np.array([[1 / scale, 0, left], [0, 1 / scale, top], [0, 0, 1]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return cv2.warpPerspective(
        grey, to_page @ from_square, (side, side), flags=flags, borderValue=255
    )


def _decoded(square: np.ndarray) -> SheetCode | None:
    try:
        text, _, _ = cv2.QRCodeDetector().detectAndDecode(square)
    except (cv2.error, UnicodeDecodeError):  # what was found is no code of text
        return None
    return SheetCode.of(text)


def without_codes(image: np.ndarray, codes: tuple[Box, ...], paper: int) -> np.ndarray:
    """The page's image (uint8) with paper where its codes lie."""
    if not codes:
        return image
    out = image.copy()
    for box in codes:
        out[box.y : box.bottom, box.x : box.right] = paper
    return out


@cache
def _dictionary() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def _corner_finder() -> cv2.aruco.ArucoDetector:
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    return cv2.aruco.ArucoDetector(_dictionary(), settings)
