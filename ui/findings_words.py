"""What the page, the terminal, the document and the annotated photo all say of findings."""

from __future__ import annotations

from solver.findings import Answer, Expected, LineFinding, QuestionFindings, Verdict
from ui import pretty, words


def written_answers(found: QuestionFindings) -> tuple[Answer, ...]:
    """The answers that stand on the paper; an ask left blank has none."""
    return tuple(answer for answer in found.answers if answer.verdict is not Verdict.BLANK)


def verdicts_by_line(found: QuestionFindings) -> dict[int, Verdict]:
    """The verdict of each line, by its number from 1, that holds an answer: its worst one."""
    order = list(Verdict)
    worst: dict[int, Verdict] = {}
    for answer in written_answers(found):
        number = answer.line + 1
        known = worst.get(number, answer.verdict)
        worst[number] = max(known, answer.verdict, key=order.index)
    return worst


def first_broken_line(found: QuestionFindings) -> int | None:
    """Number, from 1, of the first line that does not follow; None when there is none."""
    return next(
        (number for number, line in enumerate(found.working, 1) if line.follows is False), None
    )


def line_text(line: LineFinding) -> str:
    """The reading that the findings of this line rest on; empty when nothing was read."""
    candidates = line.line.reading.candidates
    return candidates[line.reading_used].text if candidates else ""


def reasons(found: QuestionFindings) -> list[str]:
    """Why the verdict is what it is: problems, notes of the answers, slips.

    What another sentence already says is left out.
    """
    notes = [answer.note for answer in found.answers if answer.note]
    slips = [slip.explanation for slip in found.slips]
    kept: list[str] = []
    for text in (*found.question.problems, *found.reasons, *slips, *notes):
        if not any(_core(text) in _core(other) for other in kept):
            kept.append(text)
    return kept


def _core(text: str) -> str:
    return text.strip(" .").casefold()


def expected_line(found: QuestionFindings, place: int, expected: Expected) -> str:
    """``the force on A: 1.08 × 10⁻⁵ N, towards B`` for the ask at ``place``."""
    value = pretty.value_plain(expected.value, expected.unit, expected.direction)
    ask = found.asks[place] if place < len(found.asks) else place
    several = len(found.expected) > 1 or len(found.question.asked) > 1
    if several and ask < len(found.question.asked):
        value = f"{words.asked_words(found.question.asked[ask])}: {value}"
    return f"{value} ({words.BY_PERSON})" if expected.given_by_person else value
