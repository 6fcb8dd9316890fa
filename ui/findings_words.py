"""What the page, the terminal, the document and the annotated photo all say of findings."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum

from solver.findings import Answer, Expected, LineFinding, QuestionFindings, Verdict
from ui import pretty, words

_MOST_HINTS = 2  # more slips than this that fit equally would only confuse


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
    return list(_distinct((*found.question.problems, *found.reasons, *slips, *notes)))


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


# --- help, a step at a time ---------------------------------------------------------------


class HelpStep(IntEnum):
    """How much a learner has asked for; each step includes those before it."""

    WHERE = 0
    HINT = 1
    WHY = 2
    HOW = 3


def help_words(found: QuestionFindings) -> dict[HelpStep, tuple[str, ...]]:
    """Sentences for each step before the derivation; steps with nothing to say are left out."""
    steps = {
        HelpStep.WHERE: _where(found),
        HelpStep.HINT: _hints(found),
        HelpStep.WHY: _why(found),
    }
    return {step: said for step, said in steps.items() if said}


def _where(found: QuestionFindings) -> tuple[str, ...]:
    reasons = _distinct((*found.question.problems, *found.reasons))
    broken = first_broken_line(found)
    if found.verdict is Verdict.INCOMPLETE:
        return (words.SOMETHING_MISSING, *reasons)
    if found.verdict is Verdict.DIFFERS and broken is not None:
        return (words.FIRST_BREAK.format(number=broken), *reasons)
    if found.verdict is Verdict.DIFFERS:
        return (words.BREAK_NOT_FOUND, *reasons)
    return reasons


def _hints(found: QuestionFindings) -> tuple[str, ...]:
    hints = _distinct(slip.hint for slip in found.slips if slip.hint)
    if hints or found.verdict not in (Verdict.DIFFERS, Verdict.BLANK):
        return hints[:_MOST_HINTS]
    if found.verdict is Verdict.DIFFERS:
        return (words.HINT_GO_THROUGH,)
    laws = _distinct(
        expected.derivation.steps[0].law for expected in found.expected if expected.derivation
    )
    return (words.HINT_LAW.format(law=words.and_words(laws)),) if laws else ()


def _why(found: QuestionFindings) -> tuple[str, ...]:
    broken = first_broken_line(found)
    note = found.working[broken - 1].note if broken is not None else None
    of_line = (words.FIRST_BREAK_WHY.format(number=broken, note=note.rstrip(".")),) if note else ()
    slips = tuple(slip.explanation for slip in found.slips)
    notes = tuple(answer.note for answer in found.answers if answer.note)
    said = _distinct((*of_line, *slips, *notes))
    return said if said or found.verdict is not Verdict.DIFFERS else (words.NO_CAUSE,)


def _distinct(texts: Iterable[str]) -> tuple[str, ...]:
    """The texts in order, without those that another one already says."""
    kept: list[str] = []
    for text in texts:
        if not any(_core(text) in _core(other) for other in kept):
            kept.append(text)
    return tuple(kept)
