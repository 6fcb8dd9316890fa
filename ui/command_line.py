"""The command line, ``python -m ui``: check, solve, page, schema.

Findings go to standard output, progress and troubles to standard error. The exit status is
one of ``scanner.errors.ExitCode``. Each command imports what it needs, so that ``--help`` and
a wrong word answer at once.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from scanner.errors import BadFile, ExitCode, UserError
from ui import words
from ui.stack_commands import add_stack_commands

if TYPE_CHECKING:
    from ui.checked import CheckedSheet, CheckedSheets

_EXIT_CODES = "; ".join(f"{code.value} {code.name.lower().replace('_', ' ')}" for code in ExitCode)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    chosen = _arguments().parse_args(arguments)
    try:
        return int(chosen.run(chosen))
    except UserError as error:
        print(error, file=sys.stderr)
        return int(error.exit_code)
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return int(ExitCode.USAGE)


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m ui",
        description="Check photographed physics worksheets. " + words.CARE,
        epilog=f"Exit status: {_EXIT_CODES}.",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    check = commands.add_parser(
        "check",
        help="photos in, findings out",
        description="Read photographed or scanned sheets, recompute, and say where they differ.",
        epilog=f"Exit status: {_EXIT_CODES}.",
    )
    check.add_argument(
        "photos", nargs="+", type=Path, metavar="PHOTO", help="a photo, scan, PDF or zip of these"
    )
    check.add_argument("--json", type=Path, metavar="FILE", help="write the findings document")
    check.add_argument(
        "--annotated", type=Path, metavar="FOLDER", help="write the flattened photos with marks"
    )
    check.add_argument(
        "--worksheet",
        type=Path,
        metavar="FILE",
        help="take the questions from typed text, a photo of the blank sheet or a saved worksheet",
    )
    check.add_argument(
        "--hide-expected", action="store_true", help="do not print the expected results"
    )
    check.add_argument("--marks", action="store_true", help="print suggested marks")
    check.set_defaults(run=_check)

    solve = commands.add_parser(
        "solve",
        help="typed questions in, expected results out",
        description="Solve typed questions and show how.",
    )
    solve.add_argument("questions", type=Path, metavar="FILE", help="the questions as plain text")
    solve.add_argument("--json", type=Path, metavar="FILE", help="write the findings document")
    solve.add_argument(
        "--save-worksheet",
        type=Path,
        metavar="FILE",
        help="save the questions as understood, for check --worksheet",
    )
    solve.set_defaults(run=_solve)

    page = commands.add_parser(
        "page", help="open the page in the browser", description="Open the page in the browser."
    )
    page.add_argument("--port", type=int, default=8501, help="port on this computer (8501)")
    page.add_argument("--no-browser", action="store_true", help="do not open a browser window")
    page.set_defaults(run=_page)

    schema = commands.add_parser(
        "schema",
        help="print the JSON Schema of the findings document",
        description="Print the JSON Schema of the findings document.",
    )
    schema.set_defaults(run=_schema)

    add_stack_commands(commands)
    return parser


# --- check --------------------------------------------------------------------------------


def _check(chosen: argparse.Namespace) -> ExitCode:
    """Check the photos one by one: what is done is printed and written before the next."""
    from scanner.reader import LineReader
    from ui.check import check_each, worksheet_from_file
    from ui.checked import CheckedSheets, FailedFile
    from ui.settings import load_settings

    reader = LineReader.load()
    questions = None
    if chosen.worksheet:
        questions = worksheet_from_file(chosen.worksheet, reader, _tell)
    sheets, failures = [], []
    annotated: set[Path] = set()
    for item in check_each(chosen.photos, questions, load_settings().rules, reader, _tell):
        _end_telling()
        if isinstance(item, FailedFile):
            print(item.sentence, file=sys.stderr)
            failures.append(item)
        else:
            _show(item, chosen, annotated)
            sheets.append(item.without_image())
    outcome = CheckedSheets(tuple(sheets), tuple(failures))
    _end(outcome, chosen)
    return outcome.exit_code


def _show(sheet: CheckedSheet, chosen: argparse.Namespace, annotated: set[Path]) -> None:
    from ui.terminal import Style, sheet_text

    style = Style(sys.stdout.isatty(), not chosen.hide_expected, chosen.marks)
    print(sheet_text(sheet, style), flush=True)
    if chosen.annotated:
        from ui.annotate import write_annotated

        path = write_annotated(sheet, chosen.annotated, annotated)
        print(words.WROTE.format(path=path), file=sys.stderr)


def _end(outcome: CheckedSheets, chosen: argparse.Namespace) -> None:
    from ui.document import as_json
    from ui.terminal import summary_text

    if outcome.sheets:
        print(summary_text(outcome.sheets))
        print(words.CARE)
    if chosen.json:
        _write(chosen.json, as_json(outcome.sheets))


def _tell(what: str, share: float) -> None:
    """Progress on standard error: one line that renews itself, or plain lines in a log."""
    if sys.stderr.isatty():
        print(f"\r\033[K{share:4.0%}  {what}", end="", file=sys.stderr, flush=True)
    else:
        print(f"{share:4.0%}  {what}", file=sys.stderr, flush=True)


def _end_telling() -> None:
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)


# --- the other commands -------------------------------------------------------------------


def _solve(chosen: argparse.Namespace) -> ExitCode:
    from ui.check import solve_text, text_of, worksheet_as_json
    from ui.document import as_json
    from ui.terminal import solved_text

    sheet = solve_text(text_of(chosen.questions))
    for problem in sheet.problems:
        print(problem, file=sys.stderr)
    if not sheet.findings.questions:
        return ExitCode.BAD_INPUT
    print(solved_text(sheet.findings.questions))
    if chosen.json:
        _write(chosen.json, as_json([sheet]))
    if chosen.save_worksheet:
        _write(chosen.save_worksheet, worksheet_as_json(sheet.worksheet))
    return ExitCode.LOOK if sheet.needs_person else ExitCode.OK


def _page(chosen: argparse.Namespace) -> ExitCode:
    from ui.serve import serve

    return serve(chosen.port, open_browser=not chosen.no_browser)


def _schema(chosen: argparse.Namespace) -> ExitCode:
    from ui.document import schema

    print(json.dumps(schema(), indent=1))
    return ExitCode.OK


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise BadFile(f"{path} could not be written: {error.strerror}.") from error
    print(words.WROTE.format(path=path), file=sys.stderr)
