"""From a crop of one plain line to the image that the recogniser reads.

Training and reading share this code, so that the recogniser meets the same scale and margins.
"""

from __future__ import annotations

import cv2
import numpy as np
from PIL import Image

HEIGHT = 48  # pixels; the recogniser's own
TALL_HEIGHT = 80  # pixels; of a whole line with stacked fractions, for the decoder
MAX_WIDTH = 1600
MIN_WIDTH = 96
WIDTH_STEP = 32  # widths are padded to a multiple of this, so that lines can share a batch
_PAPER_AFTER = 16  # pixels of paper after the ink: the recogniser was trained with some
_MARGIN = 0.08  # paper left around the ink, as a share of the ink's height
_BLANK_CONTRAST = 14  # grey levels; below this a crop holds no ink that could be trimmed to
_BLOCK = 16  # pixels; paper brightness is taken as the brightest pixel of such blocks
_LEAST_CONTRAST = 120  # grey levels between paper and ink; paler pieces came back empty
_LARGEST_SCALE = 2.5  # a lone minus sign or full stop is not blown up beyond this


def piece_image(image: np.ndarray, tall: int = HEIGHT) -> np.ndarray:
    """Trim a crop (uint8 grey, dark on light) to its ink and bring it to height ``tall``.

    Returns uint8 grey of shape (tall, width), width a multiple of 32 from 96 to 1600.
    """
    image = trimmed(image)
    height, width = image.shape
    paper = int(np.percentile(image, 90))
    scale = min(tall / height, _LARGEST_SCALE, MAX_WIDTH / width)
    new_height = min(tall, max(1, round(height * scale)))
    new_width = min(MAX_WIDTH, max(1, round(width * scale)))
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(image, (new_width, new_height), interpolation=method)
    padded_width = min(MAX_WIDTH, -(-(new_width + _PAPER_AFTER) // WIDTH_STEP) * WIDTH_STEP)
    padded_width = max(MIN_WIDTH, padded_width)
    above = (tall - new_height) // 2
    result = np.full((tall, padded_width), paper, np.uint8)
    result[above : above + new_height, :new_width] = small
    return _strengthened(result)


def _strengthened(image: np.ndarray) -> np.ndarray:
    """Faint ink (pencil, low light) darkened to the least contrast that the recogniser sees."""
    paper, ink = (float(np.percentile(image, share)) for share in (90, 1))
    contrast = paper - ink
    if not 0 < contrast < _LEAST_CONTRAST:
        return image
    return (255 - (paper - image) * (_LEAST_CONTRAST / contrast)).clip(0, 255).astype(np.uint8)


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
