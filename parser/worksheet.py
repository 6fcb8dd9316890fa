"""The parser's whole output language: questions, what is given, asked and written.

Every number keeps how it was written beside its SI value: slips live in the
difference. Units are coherent SI units that pint parses ("C", "N/C", "m/s"),
"dimensionless" for a pure number. Directions are "left", "right", "up", "down",
"north" ... "north-west", "towards X", "away from X" or
"N deg anticlockwise from right".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scanner.page import Box, Reading

Wants = Literal["value", "magnitude", "vector", "sign", "ratio", "count", "position", "show"]


# --- quantities -----------------------------------------------------------------------


@dataclass(frozen=True)
class Quantity:
    """A number as it was written, and what it is worth in SI.

    ``text`` is the span in linear notation ("-3,6×10^{-9} C to the left").
    ``written_value`` is sign, mantissa and power of ten together, in ``written_unit``
    (pint spelling, "nC", "cm", "" when no unit was written). ``value`` and ``unit`` are
    SI; without a written unit they are the bare number and "dimensionless".
    """

    text: str
    value: float
    unit: str
    written_value: float
    written_unit: str = ""
    sign: Literal["", "+", "-"] = ""
    mantissa: str = ""
    exponent: int | None = None
    prefix: str = ""
    direction: str | None = None
    significant_figures: int = 1
    comma_unsettled: bool = False


# --- what a question says ---------------------------------------------------------------


@dataclass(frozen=True)
class Given:
    """A quantity the question states: ``kind`` of what, ``of`` which body, at which stage.

    ``between`` names the two bodies of a distance; ``stage`` counts events (0 before the
    first one: contact, replacement, move). ``multiple_of`` is the symbol of "2Q", "-3e".
    """

    quantity: Quantity
    kind: str
    of: str | None = None
    between: tuple[str, str] | None = None
    symbol: str | None = None
    stage: int = 0
    box: Box | None = None
    confidence: float = 1.0


@dataclass(frozen=True)
class Asked:
    """One thing a question wants: "the force on A due to B, magnitude only"."""

    kind: str
    of: str | None = None
    due_to: tuple[str, ...] = ()
    wants: Wants = "value"
    unit: str | None = None
    at: str | None = None
    stage: int = 0
    text: str = ""


@dataclass(frozen=True)
class Fact:
    """Something the text states that is not a number.

    ``name`` is from the table in ``parser.question_text`` ("contact", "on-line",
    "at-rest", "distance-scaled" ...), ``bodies`` are in the stated order, ``detail`` holds
    further (key, value) pairs, ``stage`` the event count at which it holds or happens.
    """

    name: str
    bodies: tuple[str, ...] = ()
    detail: tuple[tuple[str, str | float], ...] = ()
    stage: int = 0

    def get(self, key: str, default: str | float | None = None) -> str | float | None:
        return dict(self.detail).get(key, default)


# --- what a learner wrote -----------------------------------------------------------------


@dataclass(frozen=True)
class WrittenLine:
    """One pen line of a question, in reading order; ``role`` is where it lies."""

    reading: Reading
    box: Box | None = None
    role: Literal["working", "answer"] = "working"
    struck: bool = False
    corrected_by_person: bool = False


# --- questions ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Question:
    """One numbered question (or part on its own line), its stem's givens included.

    ``problems`` are plain sentences: why it was not understood, what is missing.
    ``numeric`` is false for explain, define, draw, state.
    ``number`` may be "" for a bare question. ``parent`` is the number of the question
    whose stem it shares ("2" for "2.1"); ``earlier`` are numbers of questions before it
    whose results it may use.
    """

    number: str
    text: str
    marks: int | None = None
    box: Box | None = None
    bodies: tuple[str, ...] = ()
    givens: tuple[Given, ...] = ()
    facts: tuple[Fact, ...] = ()
    asked: tuple[Asked, ...] = ()
    numeric: bool = True
    parent: str | None = None
    earlier: tuple[str, ...] = ()
    needs_figure: bool = False
    problems: tuple[str, ...] = ()
    lines: tuple[WrittenLine, ...] = ()


@dataclass(frozen=True)
class Worksheet:
    """The questions of one sheet; ``unmatched`` are pen lines no question could take."""

    questions: tuple[Question, ...]
    unmatched: tuple[WrittenLine, ...] = ()
    decimal_mark: Literal[".", ","] | None = None
    stated_constants: tuple[Given, ...] = ()
    problems: tuple[str, ...] = ()
