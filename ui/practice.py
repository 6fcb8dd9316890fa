"""Practise next: the worksheet's own questions with fresh numbers, chosen by the commonest slips.

A variant keeps the wording and the units and changes the numbers. It is taken only when it is
understood and solved like the original: the same asks, the same laws in the same order, and an
expected result that is not out of all proportion to the original's. The answer sheet has every
step.
"""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer

from parser.assemble import worksheet_from_text
from parser.worksheet import Question, Worksheet
from scanner.errors import UserError
from solver.findings import Expected, Findings, QuestionFindings
from solver.marking import check_worksheet
from ui import pretty, words
from ui.findings_words import expected_line
from ui.print_text import markup, pdf, style

_TRIES = 40  # draws of numbers for one variant before it is given up
_PROPORTION = 1e3  # a fresh result stays within this factor of the original's
_LEAST, _MOST = 0.4, 2.2  # fresh numbers are drawn within these times the original ones

_TITLE = "Practise next"
_LEAD = "Work on paper, one line under the other. Give every answer with its unit."


class NothingToPractise(UserError):
    """No question of the worksheet can be set again with fresh numbers."""


@dataclass(frozen=True)
class PracticeQuestion:
    """One question with fresh numbers and its parts, numbered anew; ``aims_at`` names slips."""

    number: int
    text: str
    findings: tuple[QuestionFindings, ...]
    aims_at: tuple[str, ...] = ()


def practice_questions(
    worksheet: Worksheet,
    slips: Sequence[tuple[str, Sequence[str]]],
    count: int = 6,
    seed: int = 1,
) -> tuple[PracticeQuestion, ...]:
    """Fresh questions, those in which the commonest slips were made first.

    Args:
        worksheet: the stack's questions.
        slips: (name, numbers of the questions it was made in), the commonest first; where none
            is given, all questions are set again.
        count: how many questions to set.
        seed: the same seed gives the same sheet.

    Raises:
        NothingToPractise: no question can be set again.
    """
    groups = _groups(worksheet)
    order = _order(groups, slips)
    made: list[PracticeQuestion] = []
    rng = random.Random(seed)
    stuck: set[int] = set()
    place = 0
    while len(made) < count and len(stuck) < len(order):
        group, aims = order[place % len(order)]
        key = place % len(order)
        place += 1
        if key in stuck:
            continue
        fresh = _variant(groups[group], worksheet, len(made) + 1, rng)
        if fresh is None:
            stuck.add(key)
        else:
            made.append(replace(fresh, aims_at=aims))
    if not made:
        raise NothingToPractise(
            "None of the worksheet's questions could be set again with fresh numbers."
        )
    return tuple(made)


# --- which questions ------------------------------------------------------------------------


def _groups(worksheet: Worksheet) -> list[list[Question]]:
    """Parts that share a stem belong together."""

    def root(question: Question) -> str:
        return question.parent or question.number

    return [list(group) for _, group in groupby(worksheet.questions, root)]


def _order(
    groups: Sequence[Sequence[Question]], slips: Sequence[tuple[str, Sequence[str]]]
) -> list[tuple[int, tuple[str, ...]]]:
    """Indices of groups with the slips they practise, the commonest slip first."""
    aims: dict[int, list[str]] = {}
    for name, numbers in slips:
        for index, group in enumerate(groups):
            if any(question.number in numbers for question in group):
                aims.setdefault(index, []).append(name)
    if not aims:
        aims = {index: [] for index in range(len(groups))}
    return [(index, tuple(names)) for index, names in aims.items()]


# --- fresh numbers --------------------------------------------------------------------------


def _variant(
    group: Sequence[Question], worksheet: Worksheet, number: int, rng: random.Random
) -> PracticeQuestion | None:
    text = _text_of(group, number)
    right = _solved(text, worksheet)
    if right is None:
        return None
    numbers = _numbers(group)
    for _ in range(_TRIES):
        fresh = {old: _drawn(old, rng) for old in numbers}
        if any(new is None for new in fresh.values()):
            return None
        changed = _replaced(text, {old: new for old, new in fresh.items() if new})
        found = _solved(changed, worksheet)
        if found is not None and changed != text and _alike(found, right):
            return PracticeQuestion(number, changed, found.questions)
    return None


def _text_of(group: Sequence[Question], number: int) -> str:
    """The group as it would be typed, under a number of its own."""
    if len(group) == 1:
        (only,) = group
        body = "\n".join(piece for piece in (only.stem, only.text) if piece)
        return f"{number}. {body}{_marks(only)}"
    parts = [
        f"{number}.{i} {question.text}{_marks(question)}" for i, question in enumerate(group, 1)
    ]
    return "\n".join([f"{number}. {group[0].stem}", *parts])


def _marks(question: Question) -> str:
    return f" ({question.marks})" if question.marks else ""


def _numbers(group: Sequence[Question]) -> list[str]:
    """Quantities to change, as they are written; constants and e stay."""
    texts = [
        given.quantity.text
        for question in group
        for given in question.givens
        if given.kind != "constant" and given.quantity.mantissa
    ]
    return sorted(set(texts), key=len, reverse=True)


def _drawn(text: str, rng: random.Random) -> str | None:
    """The quantity with another mantissa of as many figures; None when it has none to change."""
    match = re.search(r"\d+(?:[.,]\d+)?", text)
    if match is None:
        return None
    old = match.group()
    mark = "," if "," in old else "."
    places = len(old.partition(mark)[2])
    value = float(old.replace(",", "."))
    for _ in range(20):
        new = f"{value * rng.uniform(_LEAST, _MOST):.{places}f}"
        if float(new) > 0 and new != old.replace(",", ".") and len(new) == len(old):
            return text[: match.start()] + new.replace(".", mark) + text[match.end() :]
    return None


def _replaced(text: str, fresh: dict[str, str]) -> str:
    """All old quantities changed at once, so that none is changed twice."""
    pattern = "|".join(rf"(?<![\d.,]){re.escape(old)}(?![\d])" for old in fresh)
    return re.sub(pattern, lambda match: fresh[match.group()], text) if fresh else text


def _solved(text: str, worksheet: Worksheet) -> Findings | None:
    """The findings when every part is understood and solved."""
    try:
        again = worksheet_from_text(text)
    except UserError:
        return None
    again = replace(again, stated_constants=worksheet.stated_constants)
    found = check_worksheet(again)
    solved = found.questions and all(
        q.expected and not q.question.problems for q in found.questions
    )
    return found if solved else None


def _alike(found: Findings, right: Findings) -> bool:
    if len(found.questions) != len(right.questions):
        return False
    return all(
        a.question.asked == b.question.asked
        and len(a.expected) == len(b.expected)
        and all(_same_kind(x, y) for x, y in zip(a.expected, b.expected, strict=True))
        for a, b in zip(found.questions, right.questions, strict=True)
    )


def _same_kind(fresh: Expected, right: Expected) -> bool:
    """The same laws and unit, and a result of a like size, not nought."""
    if fresh.unit != right.unit or not fresh.value or not math.isfinite(fresh.value):
        return False
    if not 1 / _PROPORTION < abs(fresh.value / right.value) < _PROPORTION:
        return False
    return _laws(fresh) == _laws(right)


def _laws(expected: Expected) -> list[str]:
    return [step.law for step in expected.derivation.steps] if expected.derivation else []


# --- as PDF -----------------------------------------------------------------------------------


def practice_pdf(questions: Sequence[PracticeQuestion], title: str = _TITLE) -> bytes:
    """The practice sheet, with room to work."""
    return pdf(title, list(_sheet(questions, title)))


def answers_pdf(questions: Sequence[PracticeQuestion], title: str = f"{_TITLE}: answers") -> bytes:
    """The answer sheet with every step."""
    return pdf(title, list(_answers(questions, title)))


def _sheet(questions: Sequence[PracticeQuestion], title: str) -> Iterator[Flowable]:
    yield Paragraph(markup(title), style(16, bold=True, spaceAfter=8))
    yield Paragraph("Name: " + "." * 60, style(10, spaceAfter=6))
    yield Paragraph(_LEAD, style(9, spaceAfter=8))
    for question in questions:
        lines = [Paragraph(_shown(line), style(10.5)) for line in question.text.split("\n")]
        yield KeepTogether([*lines, Spacer(1, 45 * mm)])


def _answers(questions: Sequence[PracticeQuestion], title: str) -> Iterator[Flowable]:
    yield Paragraph(markup(title), style(16, bold=True, spaceAfter=8))
    for question in questions:
        yield Paragraph(_shown(question.text.replace("\n", " ")), style(9.5, spaceBefore=6))
        if question.aims_at:
            names = ", ".join(name.replace("-", " ") for name in question.aims_at)
            yield Paragraph(markup(f"Practises: {names}"), style(8.5, leftIndent=5 * mm))
        for found in question.findings:
            yield KeepTogether(list(_answer(found)))


def _answer(found: QuestionFindings) -> Iterator[Flowable]:
    for place, expected in enumerate(found.expected):
        said = (
            f"{words.question_name(found.question.number)}: {expected_line(found, place, expected)}"
        )
        yield Paragraph(markup(said), style(10, bold=True, leftIndent=5 * mm, spaceBefore=3))
        for step in expected.derivation.steps if expected.derivation else ():
            if step.sentence:
                yield Paragraph(markup(step.sentence), style(9, leftIndent=10 * mm))
            law = f"{step.law}: {pretty.law_plain(step)}"
            yield Paragraph(markup(law), style(9, leftIndent=10 * mm))
            yield Paragraph(markup(pretty.substitution_plain(step)), style(9, leftIndent=10 * mm))


def _shown(text: str) -> str:
    return markup(pretty.plain(text))
