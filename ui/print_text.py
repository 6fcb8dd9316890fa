"""Text for printed pages: one typeface that ships with ReportLab, raised figures by markup."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Literal

import reportlab
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, SimpleDocTemplate

FACE, BOLD = "Vera", "VeraBd"
MARGIN = 18 * mm

_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾", "0123456789+-n()")
_LOWERED = str.maketrans("₀₁₂₃₄₅₆₇₈₉₊₋", "0123456789+-")
_LOOK_ALIKES = {
    "−": "–", "√": "√", "Ω": "\u2126", "θ": "theta ", "ε": "epsilon", "π": "π", "σ": "sigma ",
    "λ": "lambda ", "Δ": "∆", "≈": "≈", "∴": "so ", "→": "to", "⇒": "so", "ρ": "rho ",
}  # fmt: skip


@cache
def register_faces() -> TTFont:
    """Make the typeface known to ReportLab; returns its upright cut."""
    folder = Path(reportlab.__file__).parent / "fonts"
    for name in (FACE, BOLD):
        pdfmetrics.registerFont(TTFont(name, folder / f"{name}.ttf"))
    pdfmetrics.registerFontFamily(FACE, normal=FACE, bold=BOLD, italic=FACE, boldItalic=BOLD)
    return pdfmetrics.getFont(FACE)


def pdf(title: str, story: Sequence[Flowable]) -> bytes:
    """An A4 document of flowing text."""
    stream = io.BytesIO()
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN)
    SimpleDocTemplate(stream, pagesize=A4, title=title, **margins).build(list(story))
    return stream.getvalue()


def style(size: float = 10, bold: bool = False, **more: float) -> ParagraphStyle:
    """A paragraph style in the pages' typeface."""
    register_faces()
    return ParagraphStyle(
        f"s{size}{bold}{sorted(more.items())}",
        fontName=BOLD if bold else FACE,
        fontSize=size,
        leading=1.45 * size,
        alignment=TA_LEFT,
        **more,
    )


def markup(text: str) -> str:
    """Plain text (``10⁻⁹``) as paragraph markup, fit for the typeface; nothing in it is run."""
    tags = {"raised": "super", "lowered": "sub"}
    return "".join(
        f"<{tags[place]}>{piece}</{tags[place]}>" if place in tags else html.escape(piece, False)
        for piece, place in runs(text)
    )


def runs(text: str) -> Iterator[tuple[str, Literal["level", "raised", "lowered"]]]:
    """Plain text (``10⁻⁹``) in pieces fit for the typeface, with the height each stands at."""
    for piece in re.split(r"([⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾]+|[₀₁₂₃₄₅₆₇₈₉₊₋]+)", text):
        if not piece:
            continue
        if piece[0] in "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾":
            yield piece.translate(_RAISED), "raised"
        elif piece[0] in "₀₁₂₃₄₅₆₇₈₉₊₋":
            yield piece.translate(_LOWERED), "lowered"
        else:
            yield _shown(piece), "level"


def _shown(text: str) -> str:
    known = register_faces().face.charToGlyph
    return "".join(_one(character, known) for character in text)


def _one(character: str, known: dict[int, int]) -> str:
    if character == "\n" or ord(character) in known:
        return character
    other = _LOOK_ALIKES.get(character, "?")
    return other if all(ord(c) in known for c in other) else "?"
