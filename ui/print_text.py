"""Text for printed pages: one typeface that ships with ReportLab, raised figures by markup."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

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
def _face() -> TTFont:
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
    _face()
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
    pieces = re.split(r"([⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾]+|[₀₁₂₃₄₅₆₇₈₉₊₋]+)", text)
    out = []
    for piece in pieces:
        if piece and piece.translate(_RAISED) != piece and piece[0] in "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻ⁿ⁽⁾":
            out.append(f"<super>{piece.translate(_RAISED)}</super>")
        elif piece and piece[0] in "₀₁₂₃₄₅₆₇₈₉₊₋":
            out.append(f"<sub>{piece.translate(_LOWERED)}</sub>")
        else:
            out.append(html.escape(_shown(piece), quote=False))
    return "".join(out)


def _shown(text: str) -> str:
    known = _face().face.charToGlyph
    return "".join(_one(character, known) for character in text)


def _one(character: str, known: dict[int, int]) -> str:
    if character == "\n" or ord(character) in known:
        return character
    other = _LOOK_ALIKES.get(character, "?")
    return other if all(ord(c) in known for c in other) else "?"
