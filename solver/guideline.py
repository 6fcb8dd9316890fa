"""The marking guideline: what earns each mark, by default and as a plain text file.

The file is for people: a heading a question, then one line a mark point::

    Question 2.2 (4 marks)
      1  formula
      1  substitution
      1  substitution
      1  answer  with its unit

The number is what the point is worth, the word what it is for (formula, substitution, answer,
direction, open), the rest is free text for the person who marks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from parser.worksheet import Question
from scanner.errors import UserError
from solver.findings import Expected
from solver.verdicts import Rules, owes_direction

PointKind = Literal["formula", "substitution", "answer", "direction", "open"]


class BadGuideline(UserError):
    """A marking guideline file that could not be understood."""


@dataclass(frozen=True)
class GuidelinePoint:
    """One mark point: what it is for, its worth, a remark for people.

    ``step`` counts the derivation's steps from its end (0 the last law), ``ask`` the asks.
    """

    marks_for: PointKind
    worth: int = 1
    text: str = ""
    step: int = 0
    ask: int = 0


@dataclass(frozen=True)
class Guideline:
    """The mark points of one question."""

    number: str
    points: tuple[GuidelinePoint, ...]

    @property
    def total(self) -> int:
        return sum(p.worth for p in self.points)


def default_guideline(
    question: Question, expected: Sequence[Expected], rules: Rules
) -> Guideline | None:
    """The usual split of a question's printed marks; None when none are printed.

    Common practice, no source: one mark for each answer with its unit, one for a direction that
    is owed (from four marks on), then formula and substitution of each law, the last law first.
    """
    marks = question.marks
    if not marks:
        return None
    if not question.numeric or not expected:
        return Guideline(question.number, (GuidelinePoint("open", marks, "a person marks this"),))
    answers = [
        GuidelinePoint("answer", text="with its unit", ask=i)
        for i in range(min(len(expected), marks))
    ]
    asked = question.asked[0] if question.asked else None
    if marks >= 4 and owes_direction(expected[0], asked, rules):
        answers.append(GuidelinePoint("direction"))
    answers = answers[:marks]
    left = marks - len(answers)
    method = _method_points(expected, left)
    return Guideline(question.number, (*method, *answers))


def _method_points(expected: Sequence[Expected], count: int) -> tuple[GuidelinePoint, ...]:
    derivation = next((e.derivation for e in expected if e.derivation is not None), None)
    laws = len(derivation.steps) if derivation is not None else 1
    order: list[GuidelinePoint] = []
    for step in range(laws):
        text = derivation.steps[-1 - step].law if derivation is not None else ""
        pair = (
            GuidelinePoint("formula", text=text, step=step),
            GuidelinePoint("substitution", step=step),
        )
        order.extend(reversed(pair) if count == 1 else pair)
    points = order[:count]
    while len(points) < count:
        points.append(GuidelinePoint("substitution", step=0))
    rank = {"formula": 0, "substitution": 1}
    return tuple(sorted(points, key=lambda p: (-p.step, rank[p.marks_for])))


# --- as a text file --------------------

_HEADING = re.compile(r"^Question (?P<number>\S*) ?\((?P<marks>\d+) marks?\)$")
_POINT = re.compile(
    r"^\s+(?P<worth>\d+)\s+(?P<kind>[a-z]+)(?: of step (?P<step>\d+))?(?: of ask (?P<ask>\d+))?"
    r"(?:\s{2,}(?P<text>.*))?$"
)


def to_text(guidelines: Iterable[Guideline]) -> str:
    """The guidelines as a text file that people can read and change."""
    blocks = []
    for guideline in guidelines:
        total = guideline.total
        lines = [f"Question {guideline.number} ({total} mark{'s' if total != 1 else ''})"]
        for point in guideline.points:
            step = f" of step {point.step + 1}" if point.step else ""
            ask = f" of ask {point.ask + 1}" if point.ask else ""
            text = f"  {point.text}" if point.text else ""
            lines.append(f"  {point.worth}  {point.marks_for}{step}{ask}{text}")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def from_text(text: str) -> Mapping[str, Guideline]:
    """Guidelines by question number.

    Raises:
        BadGuideline: a line is neither a heading nor a mark point; names the line.
    """
    found: dict[str, list[GuidelinePoint]] = {}
    number: str | None = None
    for count, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        heading = _HEADING.match(line.strip())
        if heading:
            number = heading["number"]
            found[number] = []
            continue
        point = _POINT.match(line)
        if point is None or number is None or point["kind"] not in get_args(PointKind):
            raise BadGuideline(
                f'Line {count} of the marking guideline, "{line.strip()}", is not understood. '
                'Write "Question 2.1 (4 marks)" or "  1  formula".'
            )
        found[number].append(
            GuidelinePoint(
                point["kind"],  # type: ignore[arg-type]
                int(point["worth"]),
                (point["text"] or "").strip(),
                int(point["step"] or 1) - 1,
                int(point["ask"] or 1) - 1,
            )
        )
    return {n: Guideline(n, tuple(points)) for n, points in found.items()}
