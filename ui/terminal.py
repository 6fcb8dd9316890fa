"""Findings as calm plain text for the terminal.

A verdict is told by shape and word; colour is added only where the terminal shows it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from solver.findings import Derivation, QuestionFindings, Verdict
from ui import pretty, words
from ui.checked import CheckedSheet
from ui.findings_words import expected_line, first_broken_line, line_text, reasons
from ui.verdict_looks import LOOKS

WIDTH = 88


@dataclass(frozen=True)
class Style:
    """What to show: colours, expected results, marks."""

    colours: bool = False
    expected: bool = True
    marks: bool = False


def sheet_text(sheet: CheckedSheet, style: Style) -> str:
    """One sheet: its name, its problems, its questions."""
    lines = []
    if sheet.page is not None:
        name = sheet.page.photo or ""
        lines.append(f"{name}, page {sheet.page.number}" if sheet.page.number > 1 else name)
        lines.append("─" * min(WIDTH, max(20, len(lines[0]))))
    lines += [wrapped(problem, "! ") for problem in sheet.problems]
    for found in sheet.findings.questions:
        lines += ["", *_question(found, style)]
    return "\n".join(lines) + "\n"


def summary_text(sheets: Sequence[CheckedSheet]) -> str:
    """One line: how many questions carry each verdict, and how many need a person."""
    verdicts = [q.verdict for sheet in sheets for q in sheet.findings.questions]
    counts = [
        f"{LOOKS[verdict].sign} {verdicts.count(verdict)} {words.VERDICT[verdict]}"
        for verdict in Verdict
        if verdict in verdicts
    ]
    looks = sum(q.needs_person for sheet in sheets for q in sheet.findings.questions)
    if looks:
        counts.append(words.TO_LOOK_AT.format(count=looks))
    return "   ".join(counts)


def solved_text(questions: Sequence[QuestionFindings]) -> str:
    """Typed questions with what was understood, the expected results and their derivations."""
    lines: list[str] = []
    for found in questions:
        lines += [wrapped(found.question.text, _head(found)), *_understood(found)]
        lines += [wrapped(reason, "  ! ") for reason in (*found.question.problems, *found.reasons)]
        lines += _expected(found)
        lines.append("")
    return "\n".join(lines)


def wrapped(text: str, start: str = "", indent: str | None = None) -> str:
    after = " " * len(start) if indent is None else indent
    return textwrap.fill(
        text, WIDTH, initial_indent=start, subsequent_indent=after, break_long_words=False
    )


# --- one question -------------------------------------------------------------------------


def _head(found: QuestionFindings) -> str:
    return f"{found.question.number}  " if found.question.number else ""


def _question(found: QuestionFindings, style: Style) -> Iterator[str]:
    yield _verdict_line(found, style)
    yield from _understood(found)
    yield from _written(found)
    yield from (wrapped(why, "  ", "    ") for why in reasons(found))
    if style.expected:
        yield from _expected(found)
    if style.marks and found.marks:
        yield from _marks(found)


def _verdict_line(found: QuestionFindings, style: Style) -> str:
    look = LOOKS[found.verdict]
    verdict = f"{look.sign} {words.VERDICT[found.verdict]}"
    if style.colours:
        verdict = f"\033[{look.ansi}m{verdict}\033[0m"
    name = words.question_name(found.question.number)
    looking = f" ({words.LOOK})" if found.needs_person else ""
    return f"{name}: {verdict}{looking}"


def _understood(found: QuestionFindings) -> Iterator[str]:
    givens = [
        f"{words.given_words(given)} {pretty.plain(given.quantity.text)}"
        for given in found.question.givens
    ]
    if givens:
        yield wrapped("; ".join(givens), f"  {words.HEAD_GIVEN}: ")
    asked = [words.asked_words(ask) for ask in found.question.asked]
    if asked:
        yield wrapped("; ".join(asked), f"  {words.HEAD_ASKED}: ")


def _written(found: QuestionFindings) -> Iterator[str]:
    if not found.working:
        return
    yield f"  {words.HEAD_WRITTEN}:"
    broken = first_broken_line(found)
    for number, line in enumerate(found.working, 1):
        text = pretty.plain(line_text(line)) or words.NOT_READ
        if line.line.struck:
            text += f" ({words.STRUCK})"
        note = line.note or ""
        if number == broken:
            note = f"{words.LINE_BREAKS}: {note}" if note else words.LINE_BREAKS
        yield f"    {number}  {text}" + (f"   <- {note}" if note else "")


def _expected(found: QuestionFindings) -> Iterator[str]:
    for place, expected in enumerate(found.expected):
        yield f"  {words.HEAD_EXPECTED}: {expected_line(found, place, expected)}"
        if expected.derivation:
            yield from _derivation(expected.derivation)


def _derivation(derivation: Derivation) -> Iterator[str]:
    for step in derivation.steps:
        if step.sentence:
            yield wrapped(step.sentence, "    ")
        yield f"    {step.law}: {pretty.law_plain(step)}"
        yield wrapped(pretty.substitution_plain(step), "    ", "      ")


def _marks(found: QuestionFindings) -> Iterator[str]:
    marks = found.marks
    if marks is None:
        return
    yield f"  {words.MARKS.format(suggested=marks.suggested, of=marks.of)}"
    for point in marks.points:
        reason = f" ({point.reason})" if point.reason else ""
        yield f"    {point.marks_for}: {words.EARNED[point.earned]}{reason}"
