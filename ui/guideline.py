"""The questions and the marking guideline of a stack: as understood, shown, and set right.

The guideline is a plain text file that people read and change (``solver.guideline``). A stack
without one of its own is marked by the default one.
"""

from __future__ import annotations

from parser.worksheet import Worksheet
from solver.guideline import Guideline, default_guideline, from_text, to_text
from solver.marking import check_worksheet
from solver.verdicts import Rules
from ui.batch import worksheet_from_json
from ui.check import without_writing, worksheet_as_json
from ui.records import Records, Stack


def questions_of(records: Records, stack: Stack) -> Worksheet:
    """The stack's questions: those it was given, else the ones read from its scripts' print."""
    if stack.worksheet is not None:
        return worksheet_from_json(stack.worksheet)
    read = [worksheet_from_json(s.worksheet) for s in records.scripts(stack) if s.worksheet]
    fullest = max(read, key=lambda one: len(one.questions), default=Worksheet(()))
    return without_writing(fullest)


def set_questions(records: Records, stack: Stack, questions: Worksheet) -> Stack:
    """Check the whole stack against these questions from now on; ``check_scripts`` does it."""
    stack = records.set_worksheet(stack, worksheet_as_json(questions))
    records.forget_findings(stack)
    return stack


def guideline_text(records: Records, stack: Stack) -> str:
    """The guideline that the stack is marked by, as text."""
    if stack.guideline is not None:
        return stack.guideline
    return to_text(default_guidelines(questions_of(records, stack)))


def default_guidelines(questions: Worksheet) -> list[Guideline]:
    """The default guideline of every question with printed marks."""
    found = check_worksheet(questions).questions
    made = (default_guideline(one.question, one.expected, Rules()) for one in found)
    return [guideline for guideline in made if guideline is not None]


def set_guideline(records: Records, stack: Stack, text: str) -> Stack:
    """Mark the whole stack by this guideline from now on; an empty text is the default one.

    Raises:
        BadGuideline: a line of it is not understood; nothing is changed.
    """
    from_text(text)
    stack = records.set_guideline(stack, text if text.strip() else None)
    records.forget_findings(stack)
    return stack


def departures(records: Records, stack: Stack) -> list[str]:
    """Where the guideline and the printed marks do not agree, in sentences."""
    guidelines = from_text(guideline_text(records, stack))
    said = []
    for question in questions_of(records, stack).questions:
        own = guidelines.get(question.number)
        if own is not None and question.marks is not None and own.total != question.marks:
            said.append(
                f"Question {question.number}: the guideline gives {own.total}, "
                f"the worksheet prints {question.marks}."
            )
    return said
