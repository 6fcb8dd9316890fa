"""Simple sheets and photos of them, drawn in code with every place known."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from scanner.page import Candidate, Reading

WIDTH, HEIGHT = 1654, 2339  # A4 at 200 dpi
BLUE, BLACK, GREY = (30, 60, 160), (25, 25, 25), (110, 110, 110)

QUESTION = (
    "1. Two beads hang on threads in a dry room.",
    "Bead A carries a charge of 4 nC and bead B has none.",
    "Explain what happens when they touch each other.",
)


class SayNothing:
    """A reader that reads every line as the same sign, for tests of everything but reading."""

    def read(self, images: Sequence[np.ndarray]) -> list[Reading]:
        return [Reading((Candidate("?", 0.5),)) for _ in images]


def paper() -> np.ndarray:
    return np.full((HEIGHT, WIDTH, 3), 252, np.uint8)


def printed(page: np.ndarray, lines: Sequence[str], x: int = 160, y: int = 200) -> np.ndarray:
    """The page with lines of print, 46 pixels apart."""
    image = Image.fromarray(page)
    drawing = ImageDraw.Draw(image)
    font = ImageFont.load_default(32)
    for n, line in enumerate(lines):
        drawing.text((x, y + 46 * n), line, fill=(20, 20, 20), font=font)
    return np.array(image)


def written(
    page: np.ndarray, text: str, x: int, y: int, colour=BLUE, size: float = 1.8
) -> tuple[int, int, int, int]:
    """Draw stroke letters with their feet at ``y``; the box (x, y, width, height) they fill."""
    blank = np.zeros(page.shape[:2], np.uint8)
    face = cv2.FONT_HERSHEY_SCRIPT_SIMPLEX
    cv2.putText(blank, text, (x, y), face, size, 255, 4, cv2.LINE_AA)
    page[blank > 90] = colour
    rows, columns = np.nonzero(blank > 90)
    return (
        int(columns.min()),
        int(rows.min()),
        int(np.ptp(columns)) + 1,
        int(np.ptp(rows)) + 1,
    )


def photographed(
    page: np.ndarray, corners: np.ndarray, size: tuple[int, int], desk=(90, 70, 55)
) -> np.ndarray:
    """The page seen with its corners (top left first, clockwise) at ``corners`` of the photo."""
    height, width = page.shape[:2]
    source = np.float32([[0, 0], [width, 0], [width, height], [0, height]])
    matrix = cv2.getPerspectiveTransform(source, np.float32(corners))
    photo = np.empty((size[1], size[0], 3), np.uint8)
    photo[:] = desk
    cv2.warpPerspective(
        page, matrix, size, photo, cv2.INTER_AREA, borderMode=cv2.BORDER_TRANSPARENT
    )
    return cv2.GaussianBlur(photo, (3, 3), 0)


def shaded(photo: np.ndarray) -> np.ndarray:
    """The photo with light falling off to one side and a soft shadow across."""
    height, width = photo.shape[:2]
    x, y = np.meshgrid(np.linspace(0, 1, width), np.linspace(0, 1, height))
    light = 1.0 - 0.35 * x
    light *= 1 - 0.35 / (1 + np.exp(-(y - 0.55 - 0.2 * x) / 0.02))
    return np.clip(photo * light[..., None], 0, 255).astype(np.uint8)


def share_of_overlap(a: Sequence[float], b: Sequence[float]) -> float:
    """Intersection over union of two boxes (x, y, width, height)."""
    across = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
    down = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
    shared = max(0, across) * max(0, down)
    return shared / (a[2] * a[3] + b[2] * b[3] - shared)
