"""The flattened photo with its marks: zoomable, by mouse, finger and keyboard.

The page scrolls inside its frame, so that a finger moves it as any other page; a mark of an
answer leads to its question.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st
from PIL import Image

from scanner.page import Box, Page
from ui import words
from ui.annotate import Mark, page_marks
from ui.checked import CheckedSheet

LETTERS_ACROSS = 50  # labels on a screen must be larger than in a file of the whole page
_MAX_WIDTH = 1700  # pixels sent to the browser; enough to read pen strokes at 3 x zoom
_FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class Focus:
    """A place to bring into view; ``turn`` grows by one with each wish."""

    box: Box
    turn: int


def photo(sheet: CheckedSheet, key: str, focus: Focus | None = None) -> None:
    """Show the sheet's page with its marks."""
    if sheet.page is None or sheet.page.image is None:
        return
    _viewer()(
        key=key,
        data={
            "image": _jpeg_address(sheet.page),
            "size": sheet.page.size,
            "marks": [_plain(mark) for mark in page_marks(sheet, LETTERS_ACROSS)],
            "focus": {"box": focus.box, "turn": focus.turn} if focus else None,
            "words": words.PHOTO,
        },
    )


@st.cache_resource
def _viewer() -> Any:
    return st.components.v2.component(
        "sheet_photo",
        html='<div class="sheet"></div>',
        css=(_FOLDER / "photo.css").read_text(encoding="utf-8"),
        js=(_FOLDER / "photo.js").read_text(encoding="utf-8"),
    )


def _jpeg_address(page: Page) -> str:
    """The page's image as a data address."""
    assert page.image is not None
    image = Image.fromarray(page.image)
    image.thumbnail((_MAX_WIDTH, 4 * _MAX_WIDTH))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=80)
    return "data:image/jpeg;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")


def _plain(mark: Mark) -> dict[str, Any]:
    return {
        "kind": mark.kind,
        "box": mark.outline,
        "letter": mark.letter,
        "label": mark.label,
        "text": mark.text,
        "colour": mark.look.colour,
        "corners": mark.look.corners,
        "question": mark.question,
        "dashed": mark.dashed,
        "filled": mark.filled,
    }
