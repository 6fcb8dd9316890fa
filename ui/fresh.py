"""The same question with fresh numbers for a learner to try again, and what they typed, judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from parser.worksheet import Question, Worksheet, WrittenLine
from scanner.page import Reading
from solver.findings import QuestionFindings
from solver.marking import check_worksheet
from solver.verdicts import Rules
from ui.corrections import linear
from ui.practice import PracticeQuestion, practice_questions


def fresh_question(worksheet: Worksheet, question: Question, seed: int) -> PracticeQuestion:
    """The question, with the parts that share its stem, in other numbers.

    Raises:
        NothingToPractise: it cannot be set again.
    """
    group = tuple(one for one in worksheet.questions if _root(one) == _root(question))
    (made,) = practice_questions(replace(worksheet, questions=group), [], count=1, seed=seed)
    return made


def judged(
    fresh: PracticeQuestion, typed: Sequence[str], worksheet: Worksheet, rules: Rules
) -> tuple[QuestionFindings, ...]:
    """The findings of each part, from its typed working; the last line of a part is its answer.

    Args:
        typed: one text a part, its lines one under the other; empty for a part left out.
        worksheet: where the question came from; its stated constants hold.
    """
    questions = tuple(
        replace(part.question, lines=_lines(text))
        for part, text in zip(fresh.findings, typed, strict=True)
    )
    again = replace(worksheet, questions=questions, unmatched=(), problems=())
    return check_worksheet(again, rules).questions


def _root(question: Question) -> str:
    return question.parent or question.number


def _lines(text: str) -> tuple[WrittenLine, ...]:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return tuple(
        WrittenLine(
            Reading.certain(linear(line)), role="answer" if place == len(lines) else "working"
        )
        for place, line in enumerate(lines, 1)
    )
