"""What a person decided about a script, laid over what was read; only the solver runs again.

Decisions about readings and about lines without a question change the findings. A decision about
marks stands beside the suggestion (``ui.mark_sheet``), and "looked" says that a person saw the
place and left it as it is, so that it is not asked again.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from parser.worksheet import Worksheet, WrittenLine
from scanner.page import Box, Page
from solver.findings import Findings
from solver.guideline import from_text
from solver.marking import check_worksheet
from ui.corrections import Corrections, corrected
from ui.records import Decision

NO_QUESTION = ""
"""The question of decisions about lines that no question could take."""


def check_decided(
    worksheet: Worksheet, guideline: str | None, decisions: Sequence[Decision]
) -> tuple[Worksheet, Findings]:
    """The worksheet and findings of a script with all that a person decided.

    Raises:
        BadGuideline: the marking guideline is not understood.
    """
    decided = with_decisions(worksheet, decisions)
    guidelines = from_text(guideline) if guideline else None
    return decided, check_worksheet(decided, guidelines=guidelines)


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


_HEADING = re.compile(
    r"^\W*(?:sur|first |last )?name|"
    r"\b(?:class|grade|date|learner|student|teacher|school)\b\W*$",
    re.I,
)


def lines_without_question(
    worksheet: Worksheet, pages: Sequence[Page], decisions: Sequence[Decision]
) -> list[tuple[int, WrittenLine]]:
    """(place, line) of lines that no question could take and nobody decided about.

    What stands behind a printed "Name:" or "Class:" is no working and is left out.
    """
    decided = {d.line for d in decisions if d.question == NO_QUESTION}
    headings = [
        word.box
        for page in pages
        for line in page.print_lines
        for word in line.words
        if _HEADING.search(word.reading.text.rstrip(":._ ")) is not None
    ]
    return [
        (place, line)
        for place, line in enumerate(worksheet.unmatched)
        if place not in decided
        and not (line.box is not None and any(_behind(line.box, box) for box in headings))
    ]


def _behind(pen: Box, heading: Box) -> bool:
    """On the heading's row and to the right of it."""
    reach = max(pen.height, heading.height)
    return pen.x >= heading.x and abs(pen.centre[1] - heading.centre[1]) < reach


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
