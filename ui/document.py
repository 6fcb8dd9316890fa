"""The findings document, version 1: what ``check`` and ``solve`` write as JSON.

The frozen dataclasses below are the document; ``as_json`` and ``schema`` are derived from
them. Sizes and boxes are pixels of the flattened page, ``[x, y, width, height]``;
``to_photo`` (3x3, row-major) maps a point of it back to the photo. Values are SI.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter

from parser import worksheet as parsed
from scanner.page import IDENTITY, Matrix
from solver import findings as found
from solver.findings import Verdict
from ui.checked import CheckedSheet
from ui.findings_words import line_text, written_answers

VERSION: Literal[1] = 1

Box = tuple[int, int, int, int]
Probability = Annotated[float, Field(ge=0, le=1)]


@dataclass(frozen=True)
class Given:
    """A stated quantity; ``value`` in ``unit`` (SI)."""

    text: str
    value: float | None
    unit: str
    of: str | None
    quantity: str
    box: Box | None
    confidence: Probability


@dataclass(frozen=True)
class Asked:
    """One thing the question wants."""

    quantity: str
    of: str | None
    due_to: tuple[str, ...]
    wants: parsed.Wants


@dataclass(frozen=True)
class Expected:
    """The right result of the ask with the same index."""

    of: str | None
    value: float | None
    unit: str
    direction: str | None


@dataclass(frozen=True)
class OtherReading:
    """What the answer may say instead."""

    text: str
    probability: Probability


@dataclass(frozen=True)
class Answer:
    """A final answer of the learner; ``for`` is an index into ``asked``, or null."""

    ask: Annotated[int | None, Field(alias="for")]
    text: str
    value: float | None
    unit: str | None
    direction: str | None
    box: Box | None
    confidence: Probability
    other_readings: tuple[OtherReading, ...]


@dataclass(frozen=True)
class WorkingLine:
    """A pen line in reading order; ``follows`` is null when it was not judged."""

    text: str
    box: Box | None
    follows: bool | None
    note: str | None


@dataclass(frozen=True)
class Slip:
    """A named slip; ``line`` counts from 1 in ``working``, or is null."""

    name: str
    line: int | None
    explanation: str


@dataclass(frozen=True)
class Point:
    """A mark point; ``earned`` is null where a person must decide."""

    marks_for: Annotated[str, Field(alias="for")]
    earned: bool | None


@dataclass(frozen=True)
class Marks:
    """Suggested marks; a person confirms."""

    suggested: int
    of: int
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Question:
    """One question with its givens, asks, expected results and what was written."""

    number: str
    text: str
    box: Box | None
    problems: tuple[str, ...]
    givens: tuple[Given, ...]
    asked: tuple[Asked, ...]
    expected: tuple[Expected, ...]
    answers: tuple[Answer, ...]
    working: tuple[WorkingLine, ...]
    verdict: Verdict
    needs_person: bool
    slips: tuple[Slip, ...]
    marks: Marks | None


@dataclass(frozen=True)
class Sheet:
    """One page; ``photo`` is null for typed questions."""

    photo: str | None
    page: int
    size: tuple[int, int]
    to_photo: Matrix
    problems: tuple[str, ...]
    seconds: float
    questions: tuple[Question, ...]


@dataclass(frozen=True)
class Document:
    """The findings document."""

    version: Literal[1]
    sheets: tuple[Sheet, ...]


_DOCUMENT = TypeAdapter(Document)


def document(sheets: Sequence[CheckedSheet]) -> Document:
    """The findings document of checked sheets, in their order."""
    return Document(version=VERSION, sheets=tuple(_sheet(sheet) for sheet in sheets))


def as_json(sheets: Sequence[CheckedSheet]) -> str:
    """The findings document as JSON text."""
    plain = _DOCUMENT.dump_python(document(sheets), mode="json", by_alias=True)
    return json.dumps(plain, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the findings document."""
    described = _DOCUMENT.json_schema(by_alias=True, mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **described}


# --- from findings to the document --------------------------------------------------------


def _sheet(sheet: CheckedSheet) -> Sheet:
    page = sheet.page
    return Sheet(
        photo=page.photo if page else None,
        page=page.number if page else 1,
        size=page.size if page else (0, 0),
        to_photo=page.to_photo if page else IDENTITY,
        problems=sheet.problems,
        seconds=round(page.seconds, 3) if page else 0.0,
        questions=tuple(_question(q) for q in sheet.findings.questions),
    )


def _question(q: found.QuestionFindings) -> Question:
    return Question(
        number=q.question.number,
        text=q.question.text,
        box=_box(q.question.box),
        problems=tuple(dict.fromkeys((*q.question.problems, *q.reasons))),
        givens=tuple(_given(given) for given in q.question.givens),
        asked=tuple(Asked(a.kind, a.of, a.due_to, a.wants) for a in q.question.asked),
        expected=tuple(Expected(e.of, _finite(e.value), e.unit, e.direction) for e in q.expected),
        answers=tuple(_answer(answer, q.working) for answer in written_answers(q)),
        working=tuple(
            WorkingLine(line_text(w), _box(w.line.box), w.follows, w.note) for w in q.working
        ),
        verdict=q.verdict,
        needs_person=q.needs_person,
        slips=tuple(Slip(s.name, s.line, s.explanation) for s in q.slips),
        marks=_marks(q.marks),
    )


def _given(given: parsed.Given) -> Given:
    return Given(
        text=given.quantity.text,
        value=_finite(given.quantity.value),
        unit=given.quantity.unit,
        of=given.of,
        quantity=given.kind,
        box=_box(given.box),
        confidence=_probability(given.confidence),
    )


def _answer(answer: found.Answer, working: Sequence[found.LineFinding]) -> Answer:
    line = working[answer.line]
    used = line.reading_used
    candidates = line.line.reading.candidates
    quantity = answer.quantity
    return Answer(
        ask=answer.ask,
        text=answer.text,
        value=_finite(quantity.value) if quantity else None,
        unit=quantity.unit if quantity else None,
        direction=answer.direction,
        box=_box(line.line.box),
        confidence=_probability(candidates[used].probability) if candidates else 0.0,
        other_readings=tuple(
            OtherReading(candidate.text, _probability(candidate.probability))
            for index, candidate in enumerate(candidates)
            if index != used
        ),
    )


def _marks(marks: found.Marks | None) -> Marks | None:
    if marks is None:
        return None
    points = tuple(Point(point.marks_for, point.earned) for point in marks.points)
    return Marks(marks.suggested, marks.of, points)


def _box(box: Sequence[int] | None) -> Box | None:
    if box is None:
        return None
    x, y, width, height = (int(side) for side in box)
    return x, y, width, height


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _probability(value: float) -> float:
    return round(min(1.0, max(0.0, float(value))), 4)
