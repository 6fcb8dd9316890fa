"""The mark sheet of a stack: a row a script, a column a question; as CSV and as XLSX.

A mark is the teacher's where one was decided, else the suggestion. Where a person must look and
nothing was decided there is no mark: the cell stays empty and the row says how many to look at.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import openpyxl
from openpyxl.cell import Cell as XlsxCell
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from pydantic import TypeAdapter

from scanner.errors import BadFile
from solver.findings import Verdict
from ui import words
from ui.batch import page_from_json, worksheet_from_json
from ui.class_list import Learner, Whose, whose_scripts
from ui.decisions import lines_without_question
from ui.document import Document
from ui.document import Question as FoundQuestion
from ui.records import Decision, Page, Records, Script, Stack
from ui.verdict_looks import LOOKS

_DOCUMENT = TypeAdapter(Document)

SCRIPT, LEARNER = "Script", "Learner"
TOTAL, OUT_OF, TO_LOOK_AT = "Total", "Out of", "To look at"
_NOTE = f"{words.CARE} An empty mark: a person must look first."
# A cell that starts so may be run as a formula (OWASP, "CSV Injection"); an apostrophe in front
# makes it text.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


@dataclass(frozen=True)
class Mark:
    """One question of one script; ``decided`` is the teacher's mark, None where none was given."""

    question: str
    verdict: Verdict
    suggested: int | None
    of: int | None
    needs_person: bool
    slips: tuple[str, ...] = ()
    decided: int | None = None

    @property
    def value(self) -> int | None:
        """The mark that stands; None where a person must look first or none is printed."""
        if self.decided is not None:
            return self.decided
        return None if self.needs_person else self.suggested


@dataclass(frozen=True)
class Row:
    """One script; ``doubts`` are problems of the script as a whole."""

    script: str
    marks: tuple[Mark, ...]
    doubts: int = 0
    learner: Learner | None = None

    @property
    def total(self) -> int:
        return sum(mark.value or 0 for mark in self.marks)

    @property
    def of(self) -> int:
        return sum(mark.of or 0 for mark in self.marks)

    @property
    def to_look_at(self) -> int:
        open_marks = sum(m.needs_person and m.decided is None for m in self.marks)
        return open_marks + self.doubts

    def mark(self, question: str) -> Mark | None:
        return next((mark for mark in self.marks if mark.question == question), None)


@dataclass(frozen=True)
class MarkSheet:
    """All scripts of a stack; ``questions`` are (number, marks) in the order of the worksheet.

    ``with_learners`` is True where the stack has a class list.
    """

    stack: str
    questions: tuple[tuple[str, int | None], ...]
    rows: tuple[Row, ...]
    with_learners: bool = False


def mark_sheet(records: Records, stack: Stack) -> MarkSheet:
    """The mark sheet as it stands now."""
    decisions = records.decisions(stack)
    pages = records.pages(stack)
    whose = whose_scripts(records, stack)
    rows = [
        _row(
            script,
            [page for page in pages if page.script == script.id],
            [d for d in decisions if d.script == script.id],
            whose.get(script.id),
        )
        for script in records.scripts(stack)
    ]
    questions: dict[str, int | None] = {}
    for row in rows:
        for mark in row.marks:
            if questions.get(mark.question) is None:
                questions[mark.question] = mark.of
    return MarkSheet(stack.name, tuple(questions.items()), tuple(rows), bool(whose))


def found_questions(script: Script) -> tuple[FoundQuestion, ...]:
    """The findings of a script; none before it is checked."""
    if script.findings is None:
        return ()
    sheets = _DOCUMENT.validate_json(script.findings).sheets
    return tuple(question for sheet in sheets for question in sheet.questions)


def _row(
    script: Script, pages: Sequence[Page], decisions: Sequence[Decision], who: Whose | None
) -> Row:
    decided = {d.question: int(d.text) for d in decisions if d.kind == "marks"}
    looked = {d.question for d in decisions if d.kind == "looked"}
    marks = tuple(
        Mark(
            question.number,
            question.verdict,
            question.marks.suggested if question.marks else None,
            question.marks.of if question.marks else None,
            question.needs_person and question.number not in looked,
            tuple(dict.fromkeys(slip.name for slip in question.slips)),
            decided.get(question.number),
        )
        for question in found_questions(script)
    )
    failed = any(page.state == "failed" for page in pages)
    loose = 0
    if script.worksheet is not None:
        scanned = [page_from_json(page.scanned) for page in pages if page.scanned is not None]
        worksheet = worksheet_from_json(script.worksheet)
        loose = len(lines_without_question(worksheet, scanned, decisions))
    nobodys = who is not None and not who.settled
    doubts = int(failed or not marks) + loose + int(nobodys)
    return Row(script.name, marks, doubts, None if who is None else who.learner)


# --- as files -----------------------------------------------------------------------------


def as_csv(sheet: MarkSheet) -> str:
    """The mark sheet as CSV text (RFC 4180), safe to open in a spreadsheet."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([guarded(title) for title in _titles(sheet)])
    for row in sheet.rows:
        writer.writerow([guarded(value) for value in _values(sheet, row)])
    return text.getvalue()


def write_csv(sheet: MarkSheet, path: Path) -> None:
    """Write CSV in UTF-8 with a byte-order mark, by which spreadsheets know the encoding."""
    _write(path, as_csv(sheet).encode("utf-8-sig"))


def write_xlsx(sheet: MarkSheet, path: Path) -> None:
    """Write the mark sheet as a workbook; every cell is text or a number, none a formula."""
    _write(path, as_xlsx(sheet))


def as_xlsx(sheet: MarkSheet) -> bytes:
    book = openpyxl.Workbook()
    page = book.active
    page.title = "Marks"
    titles = _titles(sheet)
    for column, title in enumerate(titles, 1):
        cell = _put(page.cell(1, column), title)
        cell.font = Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        page.column_dimensions[get_column_letter(column)].width = max(11, len(title) + 2)
    for number, row in enumerate(sheet.rows, 2):
        for column, value in enumerate(_values(sheet, row), 1):
            _put(page.cell(number, column), value)
        first = 3 if sheet.with_learners else 2
        for place, (question, _) in enumerate(sheet.questions):
            mark = row.mark(question)
            if mark is not None:
                look = LOOKS[mark.verdict]
                page.cell(number, first + 2 * place + 1).font = Font(color=look.colour.lstrip("#"))
                if mark.value is None and mark.of is not None:
                    empty = page.cell(number, first + 2 * place)
                    empty.fill = PatternFill("solid", start_color="E6EEF5")
    widest = max((len(row.script) for row in sheet.rows), default=8)
    page.column_dimensions["A"].width = min(40, widest + 2)
    page.freeze_panes = "C2" if sheet.with_learners else "B2"
    _put(page.cell(len(sheet.rows) + 3, 1), _NOTE)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def guarded(value: str | int | None) -> str | int | None:
    """A value that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return f"'{value}"
    return value


def _titles(sheet: MarkSheet) -> list[str]:
    titles = [SCRIPT, LEARNER] if sheet.with_learners else [SCRIPT]
    for number, of in sheet.questions:
        name = words.question_name(number)
        titles += [f"{name} ({of})" if of is not None else name, f"{name} verdict"]
    return [*titles, TOTAL, OUT_OF, TO_LOOK_AT]


def _values(sheet: MarkSheet, row: Row) -> Iterable[str | int | None]:
    yield row.script
    if sheet.with_learners:
        yield row.learner.name if row.learner else None
    for number, _ in sheet.questions:
        mark = row.mark(number)
        yield mark.value if mark else None
        yield _verdict_words(mark) if mark else None
    yield row.total
    yield row.of
    yield row.to_look_at


def _verdict_words(mark: Mark) -> str:
    said = f"{LOOKS[mark.verdict].sign} {words.VERDICT[mark.verdict]}"
    if mark.decided is not None:
        return f"{said} (marked by the teacher)"
    return f"{said} ({words.LOOK})" if mark.needs_person else said


def _put(cell: XlsxCell, value: str | int | None) -> XlsxCell:
    if isinstance(value, str):
        cell.value = guarded(value)
        cell.data_type = "s"
    else:
        cell.value = value
    return cell


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise BadFile(f"{path} could not be written: {error.strerror}.") from error
