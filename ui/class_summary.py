"""What the class did: success by question, the commonest slips, the spread of marks."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from scanner.page import Box
from solver.findings import Verdict
from ui.batch import page_from_json
from ui.mark_sheet import MarkSheet, found_questions, mark_sheet
from ui.records import Records, Stack

SAMPLES = 2  # crops shown for a slip


@dataclass(frozen=True)
class QuestionSummary:
    """One question over all scripts; ``success`` is the share of its marks that were earned.

    ``counted`` is the number of scripts whose mark stands; ``success`` is None where none does.
    """

    number: str
    of: int | None
    success: float | None
    counted: int
    verdicts: tuple[tuple[Verdict, int], ...]


@dataclass(frozen=True)
class SlipSummary:
    """One slip over all scripts; ``places`` are (script, box of the line) of a few."""

    name: str
    explanation: str
    scripts: tuple[str, ...]
    questions: tuple[tuple[str, int], ...]
    places: tuple[tuple[int, Box], ...] = ()

    @property
    def count(self) -> int:
        return len(self.scripts)


@dataclass(frozen=True)
class ClassSummary:
    """A stack at a glance; ``totals`` are those of scripts on which nobody must look any more."""

    stack: str
    scripts: int
    of: int
    totals: tuple[int, ...]
    to_look_at: int
    questions: tuple[QuestionSummary, ...]
    slips: tuple[SlipSummary, ...]


def class_summary(records: Records, stack: Stack) -> ClassSummary:
    """The summary as the records stand now."""
    sheet = mark_sheet(records, stack)
    settled = [row for row in sheet.rows if not row.to_look_at]
    return ClassSummary(
        stack.name,
        len(sheet.rows),
        sum(of or 0 for _, of in sheet.questions),
        tuple(row.total for row in settled),
        sum(row.to_look_at for row in sheet.rows),
        tuple(_question(sheet, number, of) for number, of in sheet.questions),
        _slips(records, stack),
    )


def _question(sheet: MarkSheet, number: str, of: int | None) -> QuestionSummary:
    marks = [mark for row in sheet.rows if (mark := row.mark(number)) is not None]
    counted = [mark.value for mark in marks if mark.value is not None]
    verdicts = Counter(mark.verdict for mark in marks)
    return QuestionSummary(
        number,
        of,
        sum(counted) / (of * len(counted)) if of and counted else None,
        len(counted),
        tuple((verdict, verdicts[verdict]) for verdict in Verdict if verdicts[verdict]),
    )


def _slips(records: Records, stack: Stack, only: str | None = None) -> tuple[SlipSummary, ...]:
    """The commonest slip first; a script counts once for each slip.

    A question that a person must look at is left out until they did: its slip may be a misreading.
    """
    settled = {
        (decision.script, decision.question)
        for decision in records.decisions(stack)
        if decision.kind in ("marks", "looked")
    }
    scripts: dict[str, list[str]] = {}
    questions: dict[str, Counter[str]] = {}
    places: dict[str, list[tuple[int, Box]]] = {}
    explanations: dict[str, str] = {}
    for script in records.scripts(stack):
        if only is not None and script.name != only:
            continue
        for question in found_questions(script):
            if question.needs_person and (script.id, question.number) not in settled:
                continue
            for slip in question.slips:
                explanations.setdefault(slip.name, slip.explanation)
                names = scripts.setdefault(slip.name, [])
                if script.name not in names:
                    names.append(script.name)
                questions.setdefault(slip.name, Counter())[question.number] += 1
                line = question.working[slip.line - 1] if slip.line else None
                if line is not None and line.box is not None:
                    places.setdefault(slip.name, []).append((script.id, Box(*line.box)))
    found = [
        SlipSummary(
            name,
            explanations[name],
            tuple(names),
            tuple(sorted(questions[name].items())),
            tuple(places.get(name, [])[:SAMPLES]),
        )
        for name, names in scripts.items()
    ]
    return tuple(sorted(found, key=lambda slip: (-slip.count, slip.name)))


def slips_for_practice(
    records: Records, stack: Stack, script: str | None = None
) -> list[tuple[str, tuple[str, ...]]]:
    """(slip, questions it was made in) of the class or of one script, the commonest first."""
    return [
        (slip.name, tuple(number for number, _ in slip.questions))
        for slip in _slips(records, stack, script)
    ]


def crop(records: Records, stack: Stack, script: int, box: Box) -> np.ndarray | None:
    """The picture of a line of a script, RGB; None when its page is not there."""
    for page in records.pages(stack):
        if page.script != script or page.scanned is None or page.image is None:
            continue
        known = page_from_json(page.scanned)
        if any(line.box == box for line in known.lines) and page.image.exists():
            return page_from_json(page.scanned, page.image).crop(box)
    return None
