"""A worksheet printed for later photos: corner marks, a code on every page, room to work.

All that is printed is known beforehand, so a page that was photographed needs no reading of
print: ``blank_pages`` gives what every copy shares, with the exact words and their places. The
code (``scanner.marks``) says which worksheet a page is of, which page, and which copy; it holds
no learner's name.
"""

from __future__ import annotations

import io
import re
import secrets
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pypdfium2
from pydantic import TypeAdapter
from reportlab.graphics import renderPDF
from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.graphics.shapes import Drawing
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from parser.assemble import worksheet_from_pages, worksheet_from_text
from parser.quantity import canonical
from parser.question_text.numbering import Part, split_parts
from parser.worksheet import Question, Worksheet
from scanner.errors import BadFile, ExitCode, UserError
from scanner.ink import PAPER
from scanner.marks import (
    CELLS,
    CODE_AT,
    CODE_SIDE,
    CORNER_SIDE,
    CORNERS,
    SheetCode,
    corner_pattern,
    corner_places,
)
from scanner.page import IDENTITY, AnswerSpace, Box, Line, Page, Reading, Word
from scanner.stack_consensus import Blank
from ui import pretty
from ui.print_text import BOLD, FACE, register_faces, runs

DPI = 200
_WIDTH, _HEIGHT = A4
_LEFT, _RIGHT = 18 * mm, _WIDTH - 18 * mm
_TOP, _BOTTOM = _HEIGHT - 42 * mm, 20 * mm  # of the questions
_CODE = CODE_SIDE * mm
_CODE_AT = (CODE_AT[0] * mm, _HEIGHT - (CODE_AT[1] + CODE_SIDE) * mm)
_CODE_TEXT = 5 * mm  # below the code, for whose copy it is
_SIZE, _LEADING = 11.0, 16.5  # points
_RAISED_SIZE, _RAISED_BY, _LOWERED_BY = 0.66, 0.36, -0.14  # of the letter's size
_ROOM_PER_MARK, _LEAST_ROOM = 11 * mm, 26 * mm
_LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # none that is taken for another
_CODE_LENGTH = 8  # 31 ** 8, about 10 ** 12: no two worksheets share a code by chance
_NAME = "Name:"
_RAISED_AS_TYPED = re.compile(r"\^\(?([+-]?\d+)\)?")
# A word, or a number with its power of ten and unit, which stay together.
_WORD = re.compile(
    r"[^ ]*\d[^ ]*(?: × 10\^\{[^}]*\}[^ ]*)?"
    r"(?: (?:[pnµmkMGc]?(?:[CNVJWFAgsmTΩ]|Hz|eV|Pa)(?![a-z])[^ ]*))?|[^ ]+"
)


class OtherQuestions(UserError):
    """A stack whose worksheet was printed already, with other questions."""

    exit_code = ExitCode.USAGE


@dataclass(frozen=True)
class Printed:
    """What was printed: ``text`` as typed; ``copies`` names whose each numbered copy is."""

    code: str
    title: str
    text: str
    pages: int
    copies: tuple[str, ...] = ()

    def whose(self, copy: int) -> str | None:
        """Whose copy has this number; None for a copy without a number."""
        return self.copies[copy - 1] if 0 < copy <= len(self.copies) else None


_PRINTED = TypeAdapter(Printed)


def printed_from_json(text: str) -> Printed:
    return _PRINTED.validate_json(text)


def printed_json(printed: Printed) -> str:
    return _PRINTED.dump_json(printed).decode()


def new_printed(title: str, text: str, copies: Sequence[str] = ()) -> Printed:
    """A worksheet to print, with a code of its own.

    Args:
        text: the questions as typed.
        copies: whose each numbered copy is; none for one copy without a number.

    Raises:
        BadFile: there is no question in the text, or one cannot be laid out.
    """
    questions = worksheet_from_text(text)
    if not questions.questions:
        raise BadFile("There is no question in this text; type at least one.")
    pages = _laid_out(text)
    _refuse_changed(questions, pages)
    code = "".join(secrets.choice(_LETTERS) for _ in range(_CODE_LENGTH))
    return Printed(code, title, text, len(pages), tuple(copies))


def worksheet_pdf(printed: Printed) -> bytes:
    """All copies; without numbered ones, one to be photocopied."""
    pages = _laid_out(printed.text)
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=A4)
    canvas.setTitle(printed.title)
    for copy in range(1, len(printed.copies) + 1) if printed.copies else (0,):
        for number, page in enumerate(pages, 1):
            _draw(canvas, printed.title, page, number, len(pages))
            code = SheetCode(printed.code, number, len(pages), copy)
            _draw_code(canvas, code, printed.whose(copy) or "")
            canvas.showPage()
    canvas.save()
    return stream.getvalue()


def blank_pages(printed: Printed) -> Iterator[Blank]:
    """What all copies share, a page at a time, in pixels at 200 dpi."""
    pages = _laid_out(printed.text)
    for number, page in enumerate(pages, 1):
        stream = io.BytesIO()
        canvas = Canvas(stream, pagesize=A4)
        _draw(canvas, printed.title, page, number, len(pages))
        canvas.save()
        image = _rendered(stream.getvalue())
        yield Blank(image, _lines(page), _spaces(page), (_code_box(),))


# --- laying out -------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Placed:
    """A word in linear notation; ``x``, ``y`` its left end on the baseline, in points."""

    text: str
    x: float
    y: float
    width: float


@dataclass(frozen=True)
class _Sheet:
    """One page: rows of words, and frames (left, bottom, width, height) to work in."""

    rows: tuple[tuple[_Placed, ...], ...] = ()
    frames: tuple[tuple[float, float, float, float], ...] = ()


def _laid_out(text: str) -> list[_Sheet]:
    """The pages; a question and its room stay together where they fit on one page."""
    pages = [_Sheet()]
    y = _TOP
    for paragraphs, part in _questions(text):
        rows = [row for paragraph in paragraphs for row in _rows(paragraph)]
        room = _room(part) if part is not None else 0.0
        needed = len(rows) * _LEADING + room
        if y - needed < _BOTTOM and pages[-1].rows:
            pages.append(_Sheet())
            y = _TOP
        if y - needed < _BOTTOM:
            raise BadFile(f"The text from “{paragraphs[0][:40]}” on is too long for one page.")
        for row in rows:
            y -= _LEADING
            pages[-1] = replace(pages[-1], rows=(*pages[-1].rows, _at(row, y)))
        if part is not None:
            frame = (_LEFT, y - room + 4 * mm, _RIGHT - _LEFT, room - 6 * mm)
            pages[-1] = replace(pages[-1], frames=(*pages[-1].frames, frame))
        y -= room
    return pages


def _questions(text: str) -> Iterator[tuple[list[str], Part | None]]:
    """Paragraphs up to the end of each question that needs room to work, and that question."""
    lines = _RAISED_AS_TYPED.sub(r"^{\1}", canonical(text).strip()).split("\n")
    parts = split_parts(lines)
    starts = {part.first for part in parts}
    needs_room = {part.last: part for part in parts if part.number and not part.has_parts}
    paragraphs: list[str] = []
    ended = True
    for index, line in enumerate(lines):
        if line.strip() and (ended or index in starts):
            paragraphs.append(line.strip())
        elif line.strip():
            paragraphs[-1] += f" {line.strip()}"
        ended = not line.strip() or index in needs_room
        if index in needs_room or (paragraphs and index == len(lines) - 1):
            yield paragraphs, needs_room.get(index)
            paragraphs = []


def _room(part: Part) -> float:
    return max(_LEAST_ROOM, _ROOM_PER_MARK * (part.marks or 0)) + 6 * mm


def _rows(paragraph: str) -> Iterator[list[str]]:
    """The words of each row."""
    row: list[str] = []
    for word in _WORD.findall(paragraph):
        if row and _width(" ".join([*row, word])) > _RIGHT - _LEFT:
            yield row
            row = []
        row.append(word)
    if row:
        yield row


def _at(row: Sequence[str], y: float) -> tuple[_Placed, ...]:
    x = _LEFT
    placed = []
    for word in row:
        width = _width(word)
        placed.append(_Placed(word, x, y, width))
        x += width + _width(" ")
    return tuple(placed)


def _width(text: str) -> float:
    register_faces()
    return sum(
        stringWidth(piece, FACE, _SIZE if place == "level" else _RAISED_SIZE * _SIZE)
        for piece, place in runs(pretty.plain(text))
    )


def _refuse_changed(questions: Worksheet, pages: Sequence[_Sheet]) -> None:
    """Make sure that the printed pages say what was typed."""
    size = (_pixels(_WIDTH), _pixels(_HEIGHT))
    as_pages = [
        Page(None, number, size, IDENTITY, _lines(page)) for number, page in enumerate(pages, 1)
    ]
    again = worksheet_from_pages(as_pages).questions
    typed = {q.number: _said(q) for q in questions.questions}
    laid = {q.number: _said(q) for q in again}
    if typed != laid:
        off = next(number for number in {**typed, **laid} if typed.get(number) != laid.get(number))
        raise BadFile(
            f"Question {off} would not be read the same once it is printed; put each question "
            "and each part on a line of its own, with its number first."
        )


def _said(question: Question) -> tuple:
    givens = [(g.quantity.value, g.quantity.unit, g.kind, g.of) for g in question.givens]
    return givens, [replace(ask, text="") for ask in question.asked], question.marks


# --- what is known of the print ---------------------------------------------------------------


def _lines(page: _Sheet) -> tuple[Line, ...]:
    name = (_Placed(_NAME, _LEFT, _HEIGHT - 30 * mm, _width(_NAME)),)
    return tuple(_line(row) for row in (name, *page.rows))


def _spaces(page: _Sheet) -> tuple[AnswerSpace, ...]:
    return tuple(
        AnswerSpace(
            "box",
            Box(
                _pixels(left),
                _pixels(_HEIGHT - bottom - height),
                _pixels(width),
                _pixels(height),
            ),
        )
        for left, bottom, width, height in page.frames
    )


def _line(row: Sequence[_Placed]) -> Line:
    words = tuple(Word(_box(word), Reading.certain(word.text), reread=True) for word in row)
    box = words[0].box
    for word in words[1:]:
        box = box.union(word.box)
    return Line("print", box, Reading.certain(" ".join(word.text for word in row)), words=words)


def _box(word: _Placed) -> Box:
    top, bottom = _HEIGHT - word.y - 0.86 * _SIZE, _HEIGHT - word.y + 0.24 * _SIZE
    x, y = _pixels(word.x), _pixels(top)
    return Box(x, y, max(1, _pixels(word.x + word.width) - x), _pixels(bottom) - y)


def _code_box() -> Box:
    """The code and the words below it, with a little around them."""
    x, y = _CODE_AT
    around = 1.5 * mm
    left, top = _pixels(x - around), _pixels(_HEIGHT - y - _CODE - around)
    right = _pixels(x + _CODE + around)
    return Box(left, top, right - left, _pixels(_HEIGHT - y + _CODE_TEXT) - top)


def _pixels(points: float) -> int:
    return round(points * DPI / 72)


def _rendered(pdf: bytes) -> np.ndarray:
    document = pypdfium2.PdfDocument(pdf)
    try:
        image = document[0].render(scale=DPI / 72, rev_byteorder=True).to_numpy()[..., :3]
    finally:
        document.close()
    return np.minimum(image, PAPER).astype(np.uint8)


# --- drawing ------------------------------------------------------------------------------------


def _draw(canvas: Canvas, title: str, page: _Sheet, number: int, pages: int) -> None:
    register_faces()
    for corner in range(CORNERS):
        _draw_corner(canvas, corner)
    canvas.setFont(BOLD, 13)
    canvas.drawString(
        _LEFT, _HEIGHT - 22 * mm, _fitting(title, BOLD, 13, _CODE_AT[0] - _LEFT - 6 * mm)
    )
    canvas.setFont(FACE, _SIZE)
    canvas.drawString(_LEFT, _HEIGHT - 30 * mm, _NAME)
    canvas.setStrokeGray(0.45)
    canvas.setLineWidth(0.5)
    name_from = _LEFT + _width(_NAME) + 3 * mm
    canvas.line(name_from, _HEIGHT - 31 * mm, _CODE_AT[0] - 8 * mm, _HEIGHT - 31 * mm)
    for left, bottom, width, height in page.frames:
        canvas.rect(left, bottom, width, height)
    for row in page.rows:
        for word in row:
            _draw_word(canvas, word)
    canvas.setFont(FACE, 8)
    canvas.drawCentredString(_WIDTH / 2, 10 * mm, f"Page {number} of {pages}")


def _draw_word(canvas: Canvas, word: _Placed) -> None:
    text = canvas.beginText(word.x, word.y)
    for piece, place in runs(pretty.plain(word.text)):
        rise = {"level": 0.0, "raised": _RAISED_BY, "lowered": _LOWERED_BY}[place]
        text.setFont(FACE, _SIZE if place == "level" else _RAISED_SIZE * _SIZE)
        text.setRise(rise * _SIZE)
        text.textOut(piece)
    canvas.drawText(text)


def _draw_corner(canvas: Canvas, corner: int) -> None:
    """One of the four, clockwise from the top left."""
    x, top = corner_places()[corner][0] * mm
    top = _HEIGHT - top
    cell = CORNER_SIDE * mm / CELLS
    canvas.setFillGray(0)
    for row, column in np.argwhere(corner_pattern(corner)):
        canvas.rect(x + column * cell, top - (row + 1) * cell, cell, cell, stroke=0, fill=1)


def _draw_code(canvas: Canvas, code: SheetCode, whose: str) -> None:
    widget = QrCodeWidget(str(code), barLevel="M")
    left, bottom, right, top = widget.getBounds()
    scale = (_CODE / (right - left), 0, 0, _CODE / (top - bottom), 0, 0)
    drawing = Drawing(_CODE, _CODE, transform=scale)
    drawing.add(widget)
    renderPDF.draw(drawing, canvas, *_CODE_AT)
    canvas.setFont(FACE, 8)
    said = _fitting(whose, FACE, 8, _CODE + 4 * mm)
    canvas.drawCentredString(_CODE_AT[0] + _CODE / 2, _CODE_AT[1] - 3 * mm, said)


def _fitting(text: str, face: str, size: float, room: float) -> str:
    """As much of a text as fits into so many points."""
    shown = "".join(piece for piece, _ in runs(text))
    while shown and stringWidth(shown, face, size) > room:
        shown = shown[:-1]
    return shown
