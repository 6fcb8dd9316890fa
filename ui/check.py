"""The whole job: files in, checked sheets out; prints nothing.

The command line, the page and the benchmarks all call it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from parser.assemble import worksheet_from_pages, worksheet_from_text
from parser.worksheet import Question, Worksheet
from scanner.errors import BadFile, ExitCode, UserError
from scanner.page import Page
from scanner.print_words import Reader
from scanner.reader import LineReader
from scanner.scan import scan_file, scan_files
from solver.marking import check_worksheet
from solver.verdicts import Rules
from ui.checked import CheckedSheet, CheckedSheets, FailedFile
from ui.corrections import Corrections, corrected
from ui.headings import without_headings

Progress = Callable[[str, float], None]
"""Told what happens now and the share of the work that is done, 0 to 1."""

_log = logging.getLogger(__name__)
_FAULT = "This sheet could not be checked: the program has a fault; the log says where."
_DEFAULT_RULES = Rules()
_MOST_TEXT_BYTES = 1_000_000  # a worksheet of typed questions is a few thousand
_SAVED = TypeAdapter(Worksheet)


def quiet(stage: str, share: float) -> None:
    """A progress callback that shows nothing."""


def check_files(
    paths: Iterable[Path],
    questions: Worksheet | None = None,
    rules: Rules = _DEFAULT_RULES,
    reader: Reader | None = None,
    progress: Progress = quiet,
) -> CheckedSheets:
    """Check photos, scans, PDFs and zips; all sheets are kept with their images.

    Args and errors as in ``check_each``.
    """
    outcome = list(check_each(paths, questions, rules, reader, progress))
    return CheckedSheets(
        tuple(item for item in outcome if isinstance(item, CheckedSheet)),
        tuple(item for item in outcome if isinstance(item, FailedFile)),
    )


def check_each(
    paths: Iterable[Path],
    questions: Worksheet | None = None,
    rules: Rules = _DEFAULT_RULES,
    reader: Reader | None = None,
    progress: Progress = quiet,
) -> Iterator[CheckedSheet | FailedFile]:
    """Check one file after the other; one that cannot be used does not stop the others.

    Args:
        questions: the questions, when they are not on the photos.
        rules: the teacher's switches.
        reader: a line reader to use again; one is loaded when None.

    Raises:
        MissingPart: Tesseract or the reader's model file is not installed.
    """
    for result in scan_files(paths, reader or LineReader.load(), progress=progress):
        for name, error in result.refused:
            yield FailedFile(name, str(error), error.exit_code)
        for page in result.pages:
            yield _checked_or_failed(page, questions, rules)


def _checked_or_failed(
    page: Page, questions: Worksheet | None, rules: Rules
) -> CheckedSheet | FailedFile:
    """A fault on one sheet is logged and said; the rest of the stack goes on."""
    name = page.photo or ""
    try:
        return check_page(page, questions, rules)
    except UserError as error:
        return FailedFile(name, str(error), error.exit_code)
    except Exception:
        _log.exception("fault while checking %s, page %d", name, page.number)
        return FailedFile(name, _FAULT, ExitCode.BAD_INPUT)


def check_page(
    page: Page, questions: Worksheet | None = None, rules: Rules = _DEFAULT_RULES
) -> CheckedSheet:
    """Understand and check one flattened page."""
    worksheet = without_headings(worksheet_from_pages((page,), questions), (page,))
    return CheckedSheet(worksheet, check_worksheet(worksheet, rules), page)


def rechecked(
    sheet: CheckedSheet, corrections: Corrections, rules: Rules = _DEFAULT_RULES
) -> CheckedSheet:
    """The sheet as a person set it right; nothing is read again.

    Raises:
        NotAQuantity: a correction that should be one quantity is not.
    """
    worksheet = corrected(sheet.worksheet, corrections)
    if worksheet == sheet.worksheet:
        return sheet
    return CheckedSheet(worksheet, check_worksheet(worksheet, rules), sheet.page)


# --- questions from elsewhere -------------------------------------------------------------


def solve_text(text: str, rules: Rules = _DEFAULT_RULES) -> CheckedSheet:
    """Typed questions with their expected results.

    Raises:
        UserError: no question was found.
    """
    worksheet = worksheet_from_text(text)
    return CheckedSheet(worksheet, check_worksheet(worksheet, rules))


def worksheet_from_file(
    path: Path, reader: Reader | None = None, progress: Progress = quiet
) -> Worksheet:
    """Questions from typed text (.txt), a saved worksheet (.json) or a photo of the blank sheet.

    Raises:
        UserError: the file cannot be used.
    """
    if path.suffix.lower() == ".json":
        return _saved_worksheet(path)
    if path.suffix.lower() in (".txt", ".md"):
        return worksheet_from_text(text_of(path))
    pages = scan_file(path, reader or LineReader.load(), progress=progress)
    return worksheet_from_pages(pages)


def text_of(path: Path) -> str:
    """The text of a file of typed questions.

    Raises:
        BadFile: it is missing, too long or not UTF-8 text.
    """
    try:
        if path.stat().st_size > _MOST_TEXT_BYTES:
            raise BadFile(f"{path.name} is too long for typed questions; is it the right file?")
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"{path.name} is not plain text; save it as UTF-8 text.") from error
    except OSError as error:
        raise BadFile(f"{path.name} could not be opened: {error.strerror}.") from error


def worksheet_as_json(worksheet: Worksheet) -> str:
    """A worksheet as the text of a saved worksheet: questions only, no writing, no places."""
    return _SAVED.dump_json(without_writing(worksheet), indent=1).decode("utf-8") + "\n"


def without_writing(worksheet: Worksheet) -> Worksheet:
    """The questions alone, without what a learner wrote and without places on a page."""
    return Worksheet(
        questions=tuple(_without_writing(question) for question in worksheet.questions),
        decimal_mark=worksheet.decimal_mark,
        stated_constants=tuple(replace(c, box=None) for c in worksheet.stated_constants),
    )


def _without_writing(question: Question) -> Question:
    givens = tuple(replace(given, box=None) for given in question.givens)
    return replace(question, box=None, lines=(), givens=givens)


def _saved_worksheet(path: Path) -> Worksheet:
    try:
        return without_writing(_SAVED.validate_json(text_of(path)))
    except ValidationError as error:
        raise BadFile(f"{path.name} is not a saved worksheet.") from error
