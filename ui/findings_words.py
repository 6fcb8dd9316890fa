"""Sentences about findings that the page, the terminal and reports all say."""

from __future__ import annotations

from solver.findings import Expected, QuestionFindings
from ui import pretty, words


def reasons(found: QuestionFindings) -> list[str]:
    """Why the verdict is what it is: problems, notes of the answers, slips; none twice."""
    notes = [answer.note for answer in found.answers if answer.note]
    slips = [slip.explanation for slip in found.slips]
    every = (*found.question.problems, *found.reasons, *notes, *slips)
    return list(dict.fromkeys(every))


def expected_line(found: QuestionFindings, place: int, expected: Expected) -> str:
    """``the force on A: 1.08 × 10⁻⁵ N, towards B`` for the ask at ``place``."""
    value = pretty.value_plain(expected.value, expected.unit, expected.direction)
    if len(found.expected) > 1 and place < len(found.question.asked):
        value = f"{words.asked_words(found.question.asked[place])}: {value}"
    return f"{value} ({words.BY_PERSON})" if expected.given_by_person else value
