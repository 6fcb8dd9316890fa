"""What a person must look at, by kind of doubt, and what they decide; nothing is asked twice."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from parser.worksheet import Worksheet
from scanner.page import Box
from solver.findings import Verdict
from ui.batch import check_again, check_scripts, page_from_json, worksheet_from_json
from ui.class_list import Whose, decide_learner, whose_scripts
from ui.corrections import linear, quantity_of
from ui.decisions import NO_QUESTION, lines_without_question
from ui.document import Question as FoundQuestion
from ui.guideline import questions_of, set_questions
from ui.mark_sheet import found_questions
from ui.records import Decision, Page, Records, Script, Stack

Kind = Literal["unsolved", "learner", "reading", "place", "marks", "photo"]

KINDS: dict[Kind, str] = {
    "unsolved": "Questions that were not understood",
    "learner": "Scripts without a learner",
    "reading": "Writing that could not be read surely",
    "place": "Writing of no question",
    "marks": "Marks that a person decides",
    "photo": "Photos that could not be used",
}
_LINE = re.compile(r"\bLine (\d+)\b")


@dataclass(frozen=True)
class Doubt:
    """One thing to look at.

    ``line`` counts from 0 in the question's working (for "place": in the lines of no question);
    ``box`` and ``script`` say what to show; ``readings`` are what it may say, likeliest first.
    For "unsolved" the script is one that shows the question, and the decision is for all; for
    "learner" the readings are names of the class list.
    """

    kind: Kind
    script: int
    name: str
    question: str
    why: tuple[str, ...]
    line: int | None = None
    box: Box | None = None
    readings: tuple[str, ...] = ()
    text: str = ""
    suggested: int | None = None
    of: int | None = None


def doubts(records: Records, stack: Stack) -> list[Doubt]:
    """All that is open, in the order of ``KINDS``; an unsolved question once for the stack."""
    decisions = records.decisions(stack)
    pages = records.pages(stack)
    found: list[Doubt] = []
    seen: set[str] = set()
    whose = whose_scripts(records, stack)
    for script in records.scripts(stack):
        own_pages = [page for page in pages if page.script == script.id]
        own = [d for d in decisions if d.script == script.id]
        if script.id in whose and not whose[script.id].settled:
            found.append(_of_learner(script, whose[script.id]))
        for doubt in _of_script(script, own_pages, own):
            if doubt.kind == "unsolved":
                if doubt.question in seen:
                    continue
                seen.add(doubt.question)
            found.append(doubt)
    order = list(KINDS)
    return sorted(found, key=lambda doubt: order.index(doubt.kind))


def _of_script(script: Script, pages: Sequence[Page], decisions: Sequence[Decision]) -> list[Doubt]:
    found = [
        Doubt("photo", script.id, script.name, NO_QUESTION, (page.message or "",), text=page.source)
        for page in pages
        if page.state == "failed"
    ]
    if script.worksheet is None:
        return found
    worksheet = worksheet_from_json(script.worksheet)
    settled = {d.question for d in decisions if d.kind in ("marks", "looked")}
    read_again = {(d.question, d.line) for d in decisions if d.kind == "reading"}
    for question in found_questions(script):
        if question.needs_person and question.number not in settled:
            found.append(_of_question(script, worksheet, question, read_again))
    scanned = [page_from_json(page.scanned) for page in pages if page.scanned is not None]
    for place, line in lines_without_question(worksheet, scanned, decisions):
        readings = tuple(candidate.text for candidate in line.reading.candidates)
        why = ("This line could not be given to a question.",)
        found.append(
            Doubt("place", script.id, script.name, NO_QUESTION, why, place, line.box, readings)
        )
    return found


def _of_learner(script: Script, who: Whose) -> Doubt:
    why = ("The name on this script could not be matched surely with one on the class list.",)
    return Doubt(
        "learner", script.id, script.name, NO_QUESTION, why, box=who.box, readings=who.suggested
    )


def _of_question(
    script: Script,
    worksheet: Worksheet,
    question: FoundQuestion,
    read_again: set[tuple[str, int | None]],
) -> Doubt:
    parsed = next(q for q in worksheet.questions if q.number == question.number)
    marks = question.marks
    doubt = Doubt(
        "marks",
        script.id,
        script.name,
        question.number,
        question.problems,
        box=Box(*question.box) if question.box else None,
        text=question.text,
        suggested=marks.suggested if marks else None,
        of=marks.of if marks else None,
    )
    if parsed.numeric and not question.expected:
        return replace(doubt, kind="unsolved")
    line = _doubtful_line(question)
    if line is None or (question.number, line) in read_again or line >= len(parsed.lines):
        return doubt
    written = parsed.lines[line]
    return replace(
        doubt,
        kind="reading",
        line=line,
        box=written.box,
        readings=tuple(candidate.text for candidate in written.reading.candidates),
    )


def _doubtful_line(question: FoundQuestion) -> int | None:
    """The line whose reading is in doubt: one that the reasons name, else an unread answer's."""
    for reason in question.problems:
        named = _LINE.search(reason)
        if named is not None:
            return int(named[1]) - 1
    if question.verdict is not Verdict.UNREAD or not question.working:
        return None
    boxes = [line.box for line in question.working]
    places = [boxes.index(a.box) for a in question.answers if a.box is not None and a.box in boxes]
    return places[-1] if places else len(question.working) - 1


# --- deciding -------------------------------------------------------------------------------


def decide_reading(records: Records, stack: Stack, doubt: Doubt, text: str) -> None:
    """The line says this."""
    records.decide(doubt.script, "reading", doubt.question, linear(text), doubt.line)
    check_again(records, stack, doubt.script)


def decide_question(records: Records, stack: Stack, doubt: Doubt, number: str) -> None:
    """The line belongs to this question."""
    records.decide(doubt.script, "question", NO_QUESTION, number, doubt.line)
    check_again(records, stack, doubt.script)


def decide_marks(records: Records, doubt: Doubt, marks: int) -> None:
    """The question earns so many marks."""
    records.decide(doubt.script, "marks", doubt.question, str(marks))


def leave(records: Records, stack: Stack, doubt: Doubt) -> None:
    """Looked at, and right as it is."""
    if doubt.kind == "learner":
        decide_learner(records, doubt.script, "")
        return
    records.decide(doubt.script, "looked", doubt.question, "", doubt.line)
    check_again(records, stack, doubt.script)


def decide_expected(records: Records, stack: Stack, question: str, texts: Sequence[str]) -> None:
    """The expected results of a question that was not understood, one an ask, for all scripts.

    Raises:
        NotAQuantity: a text is not one number with its unit; nothing is changed.
    """
    questions = questions_of(records, stack)
    expected = tuple(quantity_of(text, questions) for text in texts)
    changed = tuple(
        replace(one, expected_by_person=expected) if one.number == question else one
        for one in questions.questions
    )
    stack = set_questions(records, stack, replace(questions, questions=changed))
    check_scripts(records, stack)


def undo(records: Records, stack: Stack) -> Decision | None:
    """Take the latest decision about a script back; None when there is none."""
    decision = records.undo(stack)
    if decision is not None:
        check_again(records, stack, decision.script)
    return decision
