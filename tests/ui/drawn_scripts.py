"""Quickly drawn scripts of one worksheet, as a flatbed scanner would give them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from tests.sheets.typefaces import hand_files, print_faces

SIZE = (1240, 1754)
PEN = (90, 110, 210)  # paler than print, so that a test's reader can tell them apart
CAMERA = 0x010F  # EXIF tag of the maker
QUESTIONS = (
    "1.1 One small bead carries a charge of +4.8 nC and another one -3.6 nC.",
    "They are 35 cm apart in a vacuum on two insulated stands.",
    "Calculate the magnitude of the force that they exert on each other. (4)",
    "1.2 Some droplet carries a charge of -6.4 nC in an electric field of 250 N/C.",
    "Calculate the magnitude of the electric force on this droplet. (3)",
    "1.3 How many electrons must be removed from a neutral comb to give it",
    "a charge of +8.0 nC? Show your working in the space below. (3)",
)
_ROWS = (150, 190, 230, 650, 690, 1150, 1190)


def drawn_script(writer: int) -> Image.Image:
    """One script, RGB; ``writer`` settles place, hand, size and the values written."""
    rng = np.random.default_rng(writer)
    image = Image.new("RGB", SIZE, "white")
    draw = ImageDraw.Draw(image)
    print_font = ImageFont.truetype(print_faces()[0].path, 26)
    for text, y in zip(QUESTIONS, _ROWS, strict=True):
        draw.text((110, y), text, "black", print_font)
    hands = hand_files()
    pen = ImageFont.truetype(hands[writer % len(hands)], int(rng.integers(36, 46)))
    for top in (290, 760, 1260):
        for row in range(2):
            place = (150 + int(rng.integers(0, 60)), top + 110 * row + int(rng.integers(0, 30)))
            draw.text(place, f"F = {rng.uniform(1, 9):.2f} N", PEN, pen)
    turned = image.rotate(float(rng.normal(0, 0.25)), Image.Resampling.BICUBIC, fillcolor="white")
    return turned


def write_scripts(folder: Path, writers: range) -> list[Path]:
    """``learner-N.jpg`` for each writer, with camera data; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    exif = Image.Exif()
    exif[CAMERA] = "Camera of Marula Ridge"
    paths = []
    for writer in writers:
        paths.append(folder / f"learner-{writer}.jpg")
        drawn_script(writer).save(paths[-1], quality=92, exif=exif)
    return paths
