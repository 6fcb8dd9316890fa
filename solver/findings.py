"""The solver's whole output language: derivations, verdicts, slips and marks.

Values are SI with coherent units as pint parses them. A result is a derivation: ordered
steps, each a law, what was put in, and what came out. Expected answers, marking, hints
and the slip search all read the same derivation.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

import sympy

from parser.worksheet import Quantity, Question, WrittenLine


class Verdict(StrEnum):
    """Best first; a question carries the worst of its asks."""

    AGREES = "agrees"
    BLANK = "blank"
    INCOMPLETE = "incomplete"
    DIFFERS = "differs"
    UNREAD = "unread"
    UNSOLVED = "unsolved"


# --- derivations --------------------


@dataclass(frozen=True)
class Input:
    """What stands for one symbol of a law in one step.

    ``symbol`` is the name used in the step's equation ("Q_1"). ``value`` is SI, signed.
    Exactly one of ``given`` (index in Question.givens), ``step`` (index of an earlier step),
    ``constant`` (its name) and ``earlier`` (number of an earlier question, and the index of
    its ask) says where it comes from; all are None for a number that the law or the
    situation itself supplies (a count, a factor).
    """

    symbol: str
    value: float
    unit: str
    label: str = ""
    quantity: Quantity | None = None
    given: int | None = None
    step: int | None = None
    constant: str | None = None
    earlier: tuple[str, int] | None = None


@dataclass(frozen=True)
class Step:
    """One use of one law.

    ``equation`` is a sympy equation with named positive-or-real symbols; ``solved`` is the
    right-hand side for ``unknown`` whose free symbols are exactly those of ``inputs``, so
    that ``solved.subs`` of the input values gives ``value``. ``direction`` belongs to
    vectors; ``sentence`` says in words what the step does, for a learner.
    """

    law: str
    equation: sympy.Basic
    solved: sympy.Expr
    unknown: str
    inputs: tuple[Input, ...]
    value: float
    unit: str
    label: str = ""
    direction: str | None = None
    sentence: str = ""


@dataclass(frozen=True)
class Derivation:
    """Steps in order; the last one's value is the result unless ``result`` names another."""

    steps: tuple[Step, ...]

    @property
    def value(self) -> float:
        return self.steps[-1].value

    @property
    def unit(self) -> str:
        return self.steps[-1].unit

    @property
    def direction(self) -> str | None:
        return self.steps[-1].direction


@dataclass(frozen=True)
class Expected:
    """The right result of one ask. ``accepted`` holds the value for every accepted constant."""

    of: str | None
    value: float
    unit: str
    direction: str | None = None
    accepted: tuple[float, ...] = ()
    derivation: Derivation | None = None
    given_by_person: bool = False


# --- judging --------------------


@dataclass(frozen=True)
class Answer:
    """A final answer of the learner. ``ask`` is an index into Question.asked or None.

    ``line`` is an index, from 0, into the question's working. An ask without an answer has one
    of verdict BLANK without text.
    """

    ask: int | None
    line: int
    text: str
    quantity: Quantity | None
    verdict: Verdict
    note: str | None = None
    direction: str | None = None
    unit: str | None = None


@dataclass(frozen=True)
class LineFinding:
    """A pen line judged: does it follow from what stands above and what was given?

    ``follows`` is None when it was not judged. ``kind`` is what the line is.
    """

    line: WrittenLine
    follows: bool | None = None
    note: str | None = None
    kind: Literal["formula", "substitution", "value", "words", "other"] = "other"
    reading_used: int = 0


@dataclass(frozen=True)
class SlipFinding:
    """A named slip; ``line`` counts from 1 in the working or is None; ``score`` ranks ties."""

    name: str
    explanation: str
    hint: str = ""
    line: int | None = None
    score: float = 1.0


@dataclass(frozen=True)
class Point:
    """One mark point of the guideline: what for, how many marks, earned or not, and why.

    ``earned`` is None when a person must decide.
    """

    marks_for: str
    earned: bool | None
    worth: int = 1
    reason: str = ""


@dataclass(frozen=True)
class Marks:
    """Suggested marks; a person confirms."""

    suggested: int
    of: int
    points: tuple[Point, ...] = ()


@dataclass(frozen=True)
class QuestionFindings:
    """All that was found about one question.

    ``asks`` holds, for each of ``expected``, the index of its ask; a question that was only
    partly understood is UNSOLVED, with results for some of its asks.
    """

    question: Question
    expected: tuple[Expected, ...] = ()
    answers: tuple[Answer, ...] = ()
    working: tuple[LineFinding, ...] = ()
    verdict: Verdict = Verdict.UNSOLVED
    needs_person: bool = False
    reasons: tuple[str, ...] = ()
    slips: tuple[SlipFinding, ...] = ()
    marks: Marks | None = None
    asks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Findings:
    """The findings of one worksheet, in question order."""

    questions: tuple[QuestionFindings, ...]
    problems: tuple[str, ...] = ()
