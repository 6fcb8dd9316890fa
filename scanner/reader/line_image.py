"""From a crop of one line to the small grey image that the model reads.

Training and reading share this code, so that the model meets the same scale and
margins in both.
"""

from __future__ import annotations

import numpy as np
from PIL import Image

# A line is scaled to the tallest of these heights at which it stays under AREA pixels, so that
# short, tall lines (stacked fractions) keep their small figures legible at the same cost.
HEIGHTS = (96, 80, 64)
AREA = 64 * 640
MAX_WIDTH = 1600
MIN_WIDTH = 32

_MARGIN = 0.08  # paper left around the ink, as a share of the ink's height
_BLANK_CONTRAST = 14  # grey levels; below this a crop holds no ink that could be trimmed to
_BLOCK = 16  # pixels; paper brightness is taken as the brightest pixel of such blocks


def line_image(image: np.ndarray) -> np.ndarray:
    """Trim a crop to its ink and scale it for the model.

    Args:
        image: uint8 grey, shape (height, width), dark ink on light paper, any size.

    Returns:
        uint8 grey of shape (96 | 80 | 64, 32 ... 1600).
    """
    if image.ndim != 2 or image.dtype != np.uint8:
        raise ValueError("a line image is a two-dimensional uint8 array")
    if image.shape[0] < 2 or image.shape[1] < 2:
        return np.full((HEIGHTS[0], MIN_WIDTH), 255, np.uint8)
    return scaled(trimmed(image))


def trimmed(image: np.ndarray) -> np.ndarray:
    """The crop cut to its outermost ink plus a small margin; never cuts ink away."""
    darkness = _paper(image).astype(np.int16) - image
    ink_level = np.percentile(darkness, 99)
    if ink_level < _BLANK_CONTRAST:
        return image
    ink = darkness > 0.35 * ink_level
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    top, bottom, left, right = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
    margin = max(2, round(_MARGIN * (bottom - top)))
    height, width = image.shape
    return image[
        max(0, top - margin) : min(height, bottom + margin),
        max(0, left - margin) : min(width, right + margin),
    ]


def scaled(image: np.ndarray) -> np.ndarray:
    """The crop at the height that its proportions call for (see ``HEIGHTS``)."""
    height, width = image.shape
    target = next((h for h in HEIGHTS if h * h * width / height <= AREA), HEIGHTS[-1])
    new_width = max(1, round(target * width / height))
    new_height = target
    if new_width > MAX_WIDTH:
        new_width, new_height = MAX_WIDTH, max(8, round(MAX_WIDTH * height / width))
    resized = np.asarray(
        Image.fromarray(image).resize((new_width, new_height), Image.Resampling.BILINEAR)
    )
    short_rows, short_columns = target - new_height, max(0, MIN_WIDTH - new_width)
    if short_rows or short_columns:
        paper = int(np.percentile(resized, 90))
        above, left = short_rows // 2, short_columns // 2
        resized = np.pad(
            resized,
            ((above, short_rows - above), (left, short_columns - left)),
            constant_values=paper,
        )
    return resized


def _paper(image: np.ndarray) -> np.ndarray:
    """Brightness of the paper at each pixel: the brightest spot near by."""
    height, width = image.shape
    rows, columns = -(-height // _BLOCK), -(-width // _BLOCK)
    padded = np.pad(
        image, ((0, rows * _BLOCK - height), (0, columns * _BLOCK - width)), mode="edge"
    )
    blocks = padded.reshape(rows, _BLOCK, columns, _BLOCK).max(axis=(1, 3))
    around = np.pad(blocks, 1, mode="edge")
    wide = np.max(
        [around[i : i + rows, j : j + columns] for i in range(3) for j in range(3)], axis=0
    ).astype(np.uint8)
    return np.asarray(Image.fromarray(wide).resize((width, height), Image.Resampling.BILINEAR))
