"""A small stack with findings in the records, typed in rather than photographed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from parser.assemble import worksheet_from_text
from scanner.page import IDENTITY, Box, Candidate, Line, Page, Reading
from ui.batch import check_scripts, page_as_json
from ui.check import worksheet_as_json
from ui.records import NewPage, Records, Stack

QUESTIONS = """1.1 Bead A carries -3.6 nC and bead B carries +4.8 nC. They are 12 cm apart.
Calculate the magnitude of the force that bead B exerts on bead A. (4)
1.2 Bead C with a charge of +2.0 nC is placed in an electric field of 250 N/C. Calculate the
magnitude of the electric force on bead C. (3)
"""
RIGHT = (
    r"1.1 F=\frac{kQ_{1}Q_{2}}{r^{2}}",
    r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}",
    "F=1.08×10^{-5} N",
    "1.2 F=qE",
    "F=2.0×10^{-9}×250",
    "F=5.0×10^{-7} N",
)
UNCONVERTED = (
    RIGHT[0],
    r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{12^{2}}",
    "F=1.08×10^{-9} N",
    *RIGHT[3:],
)
DOUBTFUL = (*RIGHT[:5], "F=5.0×10^{-7} N")
SCRIPTS = {
    "Aisha": RIGHT,
    "Ben": UNCONVERTED,
    "=Carl": UNCONVERTED,
    "Dineo": DOUBTFUL,
}


def stack_with_scripts(folder: Path) -> tuple[Records, Stack]:
    """Four scripts: one right, two with centimetres left unconverted, one that is hard to read."""
    records = Records.open(folder)
    stack = records.stack_or_new("Beads 11B")
    stack = records.set_worksheet(stack, worksheet_as_json(worksheet_from_text(QUESTIONS)))
    records.add_pages(
        stack, [NewPage(name, name, f"{name}.jpg", Path(f"{name}.jpg")) for name in SCRIPTS]
    )
    names = {script.id: script.name for script in records.scripts(stack)}
    for page in records.pages(stack):
        name = names[page.script]
        drawn = _page(f"{name}.jpg", SCRIPTS[name], doubtful=name == "Dineo")
        assert drawn.image is not None
        Image.fromarray(drawn.image).save(stack.folder / f"{page.id}.jpg")
        records.set_page(page.id, "read", image=f"{page.id}.jpg", scanned=page_as_json(drawn))
    check_scripts(records, stack)
    return records, stack


def _page(name: str, texts: tuple[str, ...], doubtful: bool) -> Page:
    image = np.full((1754, 1240, 3), 250, np.uint8)
    lines = []
    for row, text in enumerate(texts):
        box = Box(160, 200 + 120 * row, 520, 60)
        image[box.y + 20 : box.y + 40, box.x : box.right : 7] = (30, 50, 150)
        lines.append(Line("pen", box, Reading((Candidate(text, 0.97),))))
    if doubtful:
        unsure = Reading((Candidate("F=5.0×10^{-7} N", 0.45), Candidate("F=5.0×10^{-1} N", 0.4)))
        lines[-1] = replace(lines[-1], reading=unsure)
    size = (image.shape[1], image.shape[0])
    return Page(name, 1, size, IDENTITY, tuple(lines), image=image)
