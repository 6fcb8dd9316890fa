"""What changed between two photos of the same sheet."""

from __future__ import annotations

from dataclasses import dataclass

from solver.findings import Findings, Verdict


@dataclass(frozen=True)
class Change:
    """The verdict of one question, before and after."""

    number: str
    before: Verdict
    after: Verdict


def changes(before: Findings, after: Findings) -> tuple[Change, ...]:
    """The questions, matched by number, whose verdict is another one now."""
    known = {found.question.number: found.verdict for found in before.questions}
    return tuple(
        Change(found.question.number, known[found.question.number], found.verdict)
        for found in after.questions
        if known.get(found.question.number, found.verdict) is not found.verdict
    )


def is_another_sheet(before: Findings, after: Findings) -> bool:
    """True when nothing is written under any of the questions that were answered before."""
    answered = {
        found.question.number
        for found in before.questions
        if found.verdict is not Verdict.BLANK and found.working
    }
    now = {found.question.number for found in after.questions if found.working}
    return bool(answered) and not answered & now
