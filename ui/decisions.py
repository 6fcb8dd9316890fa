"""What a person decided about a script, laid over what was read; only the solver runs again.

Decisions about readings and about lines without a question change the findings. A decision about
marks stands beside the suggestion (``ui.mark_sheet``), and "looked" says that a person saw the
place and left it as it is, so that it is not asked again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from parser.worksheet import Worksheet, WrittenLine
from scanner.page import Page
from solver.findings import Findings
from solver.guideline import from_text
from solver.marking import check_worksheet
from ui.corrections import Corrections, corrected
from ui.headings import heading_boxes, is_behind
from ui.records import Decision
from ui.settings import load_settings

NO_QUESTION = ""
"""The question of decisions about lines that no question could take."""


def check_decided(
    worksheet: Worksheet, guideline: str | None, decisions: Sequence[Decision]
) -> tuple[Worksheet, Findings]:
    """The worksheet and findings of a script with all that a person decided.

    It is judged by the rules that are set now.

    Raises:
        BadGuideline: the marking guideline is not understood.
    """
    decided = with_decisions(worksheet, decisions)
    guidelines = from_text(guideline) if guideline else None
    return decided, check_worksheet(decided, load_settings().rules, guidelines)


def with_decisions(worksheet: Worksheet, decisions: Sequence[Decision]) -> Worksheet:
    """The worksheet with decided readings, and lines given to the question a person named."""
    places = {question.number: i for i, question in enumerate(worksheet.questions)}
    lines = {
        (places[d.question], d.line): d.text
        for d in decisions
        if d.kind == "reading" and d.line is not None and d.question in places
    }
    owners = {
        d.line: places[d.text] for d in decisions if d.kind == "question" and d.text in places
    }
    looked = {d.line for d in decisions if d.kind == "looked" and d.question == NO_QUESTION}
    return _with_owners(corrected(worksheet, Corrections(lines)), owners, looked)


def lines_without_question(
    worksheet: Worksheet, pages: Sequence[Page], decisions: Sequence[Decision]
) -> list[tuple[int, WrittenLine]]:
    """(place, line) of lines that no question could take and nobody decided about.

    What stands behind a printed "Name:" or "Class:" is no working and is left out.
    """
    decided = {d.line for d in decisions if d.question == NO_QUESTION}
    headings = heading_boxes(pages)
    return [
        (place, line)
        for place, line in enumerate(worksheet.unmatched)
        if place not in decided and not is_behind(line.box, headings)
    ]


def _with_owners(
    worksheet: Worksheet, owners: dict[int | None, int], looked: set[int | None]
) -> Worksheet:
    """Lines of no question join the one they were given to; those left as they are go.

    A line that joins is the answer where the question has none.
    """
    questions = list(worksheet.questions)
    for place, line in enumerate(worksheet.unmatched):
        if place not in owners:
            continue
        question = questions[owners[place]]
        answered = any(one.role == "answer" for one in question.lines)
        joins = replace(line, role="working") if answered else replace(line, role="answer")
        joined = (*question.lines, joins)
        questions[owners[place]] = replace(question, lines=joined)
    left = tuple(
        line
        for place, line in enumerate(worksheet.unmatched)
        if place not in owners and place not in looked
    )
    return replace(worksheet, questions=tuple(questions), unmatched=left)
