"""Printed pages of a stack: an annotated script for a learner, and the class summary.

Pages are A4, drawn with ReportLab. A verdict is told by shape and word, never by colour alone.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from PIL import Image as Picture
from reportlab.graphics.shapes import Drawing, Line, Polygon, Rect, String
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    Flowable,
    Image,
    KeepTogether,
    Paragraph,
    Spacer,
)

from solver.findings import QuestionFindings, Verdict
from ui import pretty, words
from ui.annotate import Mark, page_marks
from ui.batch import page_from_json, worksheet_from_json
from ui.checked import CheckedSheet
from ui.class_summary import ClassSummary, SlipSummary, crop
from ui.decisions import check_decided
from ui.findings_words import first_broken_line, reasons
from ui.mark_sheet import Row, mark_sheet
from ui.print_text import BOLD, FACE, MARGIN, markup, pdf, style
from ui.records import Records, Script, Stack
from ui.verdict_looks import LOOKS, Look

_WIDTH = A4[0] - 2 * MARGIN
_GREEN = HexColor(LOOKS[Verdict.AGREES].colour)
_INK = HexColor("#20272e")
_GREY = HexColor("#4f5963")
_BAR = HexColor("#0b5591")
_MOST_SLIPS = 8


# --- a learner's script -------------------------------------------------------------------


def script_pdf(records: Records, stack: Stack, script: Script) -> bytes:
    """The script's pages with marks, then a page that says what was found and what helps.

    Expected results are not given away: where a line breaks, its note and a hint are.
    """
    stream = io.BytesIO()
    canvas = Canvas(stream, pagesize=A4)
    canvas.setTitle(f"{stack.name}: {script.name}")
    row = next(row for row in mark_sheet(records, stack).rows if row.script == script.name)
    checked = checked_script(records, stack, script)
    for sheet in checked:
        _draw_page(canvas, sheet)
        canvas.showPage()
    questions = checked[0].findings.questions if checked else ()
    _flow(canvas, list(_feedback(stack, script, row, questions)))
    canvas.save()
    return stream.getvalue()


def checked_script(records: Records, stack: Stack, script: Script) -> list[CheckedSheet]:
    """The script with all decisions laid over it: its findings once with each of its pages."""
    if script.worksheet is None:
        return []
    decisions = [d for d in records.decisions(stack) if d.script == script.id]
    guideline = records.stack(stack.name).guideline
    found = check_decided(worksheet_from_json(script.worksheet), guideline, decisions)
    return [
        CheckedSheet(*found, page_from_json(page.scanned, page.image))
        for page in records.pages(stack)
        if page.script == script.id and page.scanned is not None and page.state == "read"
    ]


def marks_of_page(sheet: CheckedSheet) -> tuple[Mark, ...]:
    """The marks that stand on this page of a script of several pages."""
    assert sheet.page is not None
    pen = {line.box for line in sheet.page.pen_lines}
    starts = {
        (box.x, box.y)
        for line in sheet.page.print_lines
        for box in (line.box, *(word.box for word in line.words))
    }
    lefts = {x for x, _ in starts}
    return tuple(
        mark
        for mark in page_marks(sheet)
        if mark.box in pen or (mark.kind in ("given", "question") and mark.box.x in lefts)
    )


def _draw_page(canvas: Canvas, sheet: CheckedSheet) -> None:
    page = sheet.page
    assert page is not None and page.image is not None
    width, height = page.size
    scale = min(A4[0] / width, A4[1] / height)
    jpeg = io.BytesIO()
    Picture.fromarray(page.image).save(jpeg, "JPEG", quality=80)
    jpeg.seek(0)
    canvas.saveState()
    canvas.translate((A4[0] - scale * width) / 2, A4[1])
    canvas.scale(scale, -scale)
    canvas.saveState()
    canvas.translate(0, height)
    canvas.scale(1, -1)
    canvas.drawImage(_reader(jpeg), 0, 0, width, height)
    canvas.restoreState()
    for mark in marks_of_page(sheet):
        if mark.kind in ("answer", "broken", "question"):
            _draw_mark(canvas, mark, width)
    for found in sheet.findings.questions:
        for place in _ticks(found):
            box = found.working[place].line.box
            if box is not None and any(box == line.box for line in page.pen_lines):
                _draw_tick(canvas, box.x - 46, box.y + box.height / 2, 34)
    canvas.restoreState()


def _reader(stream: io.BytesIO) -> Any:
    from reportlab.lib.utils import ImageReader

    return ImageReader(stream)


def _draw_mark(canvas: Canvas, mark: Mark, page_width: int) -> None:
    """The outline and its label, in page pixels with y downwards."""
    colour = HexColor(mark.look.colour)
    canvas.setStrokeColor(colour)
    canvas.setLineWidth(3)
    canvas.setDash(*((10, 8) if mark.dashed else ()))
    if mark.kind != "question":
        canvas.roundRect(*mark.box, 8, stroke=1, fill=0)
    canvas.setDash()
    label, letter = mark.label, mark.label.height * 0.58
    style(10)
    size = 0.8 * letter
    room = page_width - label.x - 2.1 * letter
    text = _fitting(canvas, mark.text, size, room)
    width = canvas.stringWidth(text, BOLD, size) + 2.1 * letter
    canvas.setFillColor(colour)
    canvas.roundRect(label.x, label.y, width, label.height, 6, stroke=0, fill=1)
    canvas.setFillColor("white")
    left, top = label.x + 0.35 * letter, label.y + (label.height - letter) / 2
    path = canvas.beginPath()
    corners = [(left + letter * x, top + letter * y) for x, y in mark.look.corners]
    path.moveTo(*corners[0])
    for corner in corners[1:]:
        path.lineTo(*corner)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.saveState()
    canvas.translate(left + 1.3 * letter, top + 0.82 * letter)
    canvas.scale(1, -1)
    canvas.setFont(BOLD, size)
    canvas.drawString(0, 0, text)
    canvas.restoreState()


def _fitting(canvas: Canvas, text: str, size: float, room: float) -> str:
    if canvas.stringWidth(text, BOLD, size) <= room:
        return text
    while text and canvas.stringWidth(text + "...", BOLD, size) > room:
        text = text[:-1]
    return text + "..."


def _draw_tick(canvas: Canvas, x: float, y: float, size: float) -> None:
    canvas.setStrokeColor(_GREEN)
    canvas.setLineWidth(5)
    path = canvas.beginPath()
    path.moveTo(x, y)
    path.lineTo(x + 0.35 * size, y + 0.4 * size)
    path.lineTo(x + size, y - 0.5 * size)
    canvas.drawPath(path, stroke=1, fill=0)


_LINE_OF = {"formula": ("formula",), "substitution": ("substitution",)}


def _ticks(found: QuestionFindings) -> list[int]:
    """The lines that earned a mark point: where its formula, substitution or answer stands."""
    if found.marks is None:
        return []
    answers = [answer.line for answer in found.answers if answer.verdict is not Verdict.BLANK]
    lines: list[int] = []
    for point in found.marks.points:
        if not point.earned or not found.working:
            continue
        kinds = _LINE_OF.get(point.marks_for)
        if kinds is None:
            places = [answer for answer in answers if answer not in lines] or answers
        else:
            places = [
                place
                for place, line in enumerate(found.working)
                if line.kind in kinds and place not in lines
            ]
        lines += places[:1]
    return lines


def _feedback(
    stack: Stack, script: Script, row: Row, questions: Sequence[QuestionFindings]
) -> Iterator[Flowable]:
    yield Paragraph(markup(f"{stack.name}: {script.name}"), style(15, bold=True, spaceAfter=3 * mm))
    looks = f"; {row.to_look_at} for a person to look at" if row.to_look_at else ""
    yield Paragraph(markup(f"{row.total} of {row.of} marks{looks}"), style(11, spaceAfter=1 * mm))
    yield Paragraph(markup(words.CARE), style(9, spaceAfter=4 * mm))
    for found in questions:
        yield from _question_feedback(found, row)
    if not questions:
        yield Paragraph("Nothing on this script could be checked.", style(10))


def _question_feedback(found: QuestionFindings, row: Row) -> Iterator[Flowable]:
    number = found.question.number
    mark = row.mark(number)
    title = f"{words.question_name(number)}: {words.VERDICT[found.verdict]}"
    if mark is not None and mark.of is not None:
        said = "a person marks this" if mark.value is None else f"{mark.value} of {mark.of}"
        title += f" ({said})"
    look = LOOKS[found.verdict]
    yield _headed(title, look)
    for sentence in _sentences(found):
        yield Paragraph(markup(sentence), style(10, leftIndent=7 * mm, spaceAfter=1 * mm))
    yield Spacer(1, 3 * mm)


def _headed(title: str, look: Look) -> Flowable:
    drawing = Drawing(_WIDTH, 16)
    corners = [value for x, y in look.corners for value in (10 * x, 12 - 10 * y)]
    drawing.add(Polygon(corners, fillColor=HexColor(look.colour), strokeColor=None))
    style(10)
    drawing.add(String(20, 3, title, fontName=BOLD, fontSize=11, fillColor=_INK))
    return drawing


def _sentences(found: QuestionFindings) -> list[str]:
    """Where the working first breaks, why, and a hint; never the expected result."""
    broken = first_broken_line(found)
    said = []
    if broken is not None:
        note = found.working[broken - 1].note
        said.append(
            words.FIRST_BREAK_WHY.format(number=broken, note=note.rstrip("."))
            if note
            else words.FIRST_BREAK.format(number=broken)
        )
    if found.verdict is Verdict.AGREES:
        said.append(words.VERDICT_MEANS[Verdict.AGREES])
    said += reasons(found)
    said += [f"Hint: {slip.hint}" for slip in found.slips if slip.hint]
    if not said:
        said.append(words.VERDICT_MEANS[found.verdict])
    ended = (s[0].upper() + s[1:] + ("" if s[-1] in ".?!" else ".") for s in said if s)
    return list(dict.fromkeys(pretty.plain(sentence) for sentence in ended))


def _flow(canvas: Canvas, story: list[Flowable]) -> None:
    """Set flowables on the canvas' next pages."""
    top, bottom = A4[1] - MARGIN, MARGIN
    y = top
    waiting = list(story)
    while waiting:
        block = waiting.pop(0)
        _, height = block.wrapOn(canvas, _WIDTH, y - bottom)
        if height > y - bottom:
            if y < top:
                canvas.showPage()
                y = top
                waiting.insert(0, block)
                continue
            parts = block.splitOn(canvas, _WIDTH, y - bottom)
            if len(parts) > 1:
                waiting = [*parts, *waiting]
                continue
        block.drawOn(canvas, MARGIN, y - height)
        y -= height + block.getSpaceAfter()
    canvas.showPage()


# --- the class summary ----------------------------------------------------------------------


def class_pdf(records: Records, stack: Stack, summary: ClassSummary) -> bytes:
    """The class summary on paper; crops carry no names."""
    return pdf(f"{stack.name}: class summary", list(_class_story(records, stack, summary)))


def _class_story(records: Records, stack: Stack, summary: ClassSummary) -> Iterator[Flowable]:
    yield Paragraph(markup(f"{summary.stack}: class summary"), style(16, bold=True, spaceAfter=8))
    yield Paragraph(markup(_first_words(summary)), style(10, spaceAfter=3))
    yield Paragraph(markup(words.CARE), style(9, spaceAfter=10))
    yield _head("What to teach again")
    if not summary.slips:
        yield Paragraph("No slip was found.", style(10))
    for slip in summary.slips[:_MOST_SLIPS]:
        yield KeepTogether(list(_slip(records, stack, slip, summary.scripts)))
    yield KeepTogether([_head("Marks earned, by question"), _success_bars(summary)])
    if summary.totals:
        yield KeepTogether([_head("Spread of marks"), _spread_bars(summary)])


def _first_words(summary: ClassSummary) -> str:
    said = f"{summary.scripts} scripts, {summary.of} marks."
    if summary.totals:
        mean = sum(summary.totals) / len(summary.totals)
        said += f" Mean {mean:.1f} over the {len(summary.totals)} scripts that are settled."
    if summary.to_look_at == 1:
        said += " One answer still needs a person; it is not counted."
    elif summary.to_look_at:
        said += f" {summary.to_look_at} answers still need a person; they are not counted."
    return said


def _head(text: str) -> Flowable:
    return Paragraph(text, style(12, bold=True, spaceBefore=10, spaceAfter=5))


def _slip(records: Records, stack: Stack, slip: SlipSummary, scripts: int) -> Iterator[Flowable]:
    where = ", ".join(f"{number} ({count})" for number, count in slip.questions)
    name = slip.name.replace("-", " ")
    yield Paragraph(
        f"<b>{markup(name)}</b>: {slip.count} of {scripts} scripts, in question {markup(where)}",
        style(10, spaceBefore=4),
    )
    yield Paragraph(markup(slip.explanation), style(9, leftIndent=6 * mm))
    for script, box in slip.places:
        picture = crop(records, stack, script, box)
        if picture is not None:
            yield _picture(picture)


def _picture(picture: Any) -> Flowable:
    stream = io.BytesIO()
    Picture.fromarray(picture).save(stream, "JPEG", quality=85)
    stream.seek(0)
    height, width = picture.shape[:2]
    scale = min(9 * mm / 60, 0.8 * _WIDTH / width, 18 * mm / height)
    image = Image(stream, width * scale, height * scale)
    image.hAlign = "LEFT"
    image.spaceBefore = 3
    return image


def _success_bars(summary: ClassSummary) -> Drawing:
    row, left = 16, 90
    drawing = Drawing(_WIDTH, row * len(summary.questions) + 8)
    for place, question in enumerate(summary.questions):
        y = row * (len(summary.questions) - 1 - place) + 4
        drawing.add(_text(0, y + 2, words.question_name(question.number)))
        room = _WIDTH - left - 130
        drawing.add(Rect(left, y, room, 11, fillColor=None, strokeColor=_GREY, strokeWidth=0.5))
        if question.success is None:
            drawing.add(_text(left + room + 8, y + 2, "no marks yet"))
            continue
        drawing.add(Rect(left, y, room * question.success, 11, fillColor=_BAR, strokeColor=None))
        said = f"{question.success:.0%} of {question.counted} scripts' marks"
        drawing.add(_text(left + room + 8, y + 2, said))
    return drawing


def _spread_bars(summary: ClassSummary) -> Drawing:
    """How many scripts have each total."""
    most = summary.of or max(summary.totals)
    counts = [summary.totals.count(total) for total in range(most + 1)]
    height, foot = 90, 24
    drawing = Drawing(_WIDTH, height + foot + 14)
    step = _WIDTH / (most + 1)
    every = max(1, round(18 / step))
    for total, count in enumerate(counts):
        tall = height * count / max(counts)
        x = total * step
        drawing.add(Rect(x + 0.1 * step, foot, 0.8 * step, tall, fillColor=_BAR, strokeColor=None))
        if count:
            drawing.add(_text(x + 0.5 * step, foot + tall + 2, str(count), "middle"))
        if total % every == 0:
            drawing.add(_text(x + 0.5 * step, foot - 11, str(total), "middle"))
    drawing.add(Line(0, foot, _WIDTH, foot, strokeColor=_GREY, strokeWidth=0.5))
    drawing.add(_text(_WIDTH / 2, 0, "marks", "middle"))
    return drawing


def _text(x: float, y: float, text: str, anchor: str = "start") -> String:
    style(10)
    return String(x, y, text, fontName=FACE, fontSize=8, fillColor=_INK, textAnchor=anchor)


# --- files --------------------------------------------------------------------------------


def write_scripts(records: Records, stack: Stack, folder: Path) -> list[Path]:
    """One PDF a script into ``folder``; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for script in records.scripts(stack):
        safe = "".join(c if c.isalnum() or c in " -_" else "-" for c in script.name).strip()
        path = folder / f"{safe or script.id}.pdf"
        if path in written:
            path = folder / f"{safe}-{script.id}.pdf"
        path.write_bytes(script_pdf(records, stack, script))
        written.append(path)
    return written
