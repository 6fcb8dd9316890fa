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

import sympy

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
    first one: contact, replacement, move). ``ask`` is the index of the first ask it counts
    for when it stands in a part of running text; None counts for all.
    """

    quantity: Quantity
    kind: str
    of: str | None = None
    between: tuple[str, str] | None = None
    symbol: str | None = None
    stage: int = 0
    box: Box | None = None
    confidence: float = 1.0
    ask: int | None = None


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
    ask: int | None = None

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
    whose results it may use. ``expected_by_person`` holds the results a person typed for a
    question that was not understood, one for each ask.
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
    stem: str = ""
    problems: tuple[str, ...] = ()
    lines: tuple[WrittenLine, ...] = ()
    expected_by_person: tuple[Quantity, ...] = ()


@dataclass(frozen=True)
class Worksheet:
    """The questions of one sheet; ``unmatched`` are pen lines no question could take."""

    questions: tuple[Question, ...]
    unmatched: tuple[WrittenLine, ...] = ()
    decimal_mark: Literal[".", ","] | None = None
    stated_constants: tuple[Given, ...] = ()
    problems: tuple[str, ...] = ()


# --- written expressions -----------------------------------------------------------------------


@dataclass(frozen=True)
class Side:
    """One side of a written relation.

    ``expression`` is over symbols as written ("Q_{1}") and leaves "#0", "#1" ..., which stand
    for the relation's ``quantities``; None when the side is words. ``unit`` (pint spelling) is
    a unit written behind the whole side, "" when there is none.
    """

    text: str
    expression: sympy.Expr | None = None
    unit: str = ""
    words: str = ""


@dataclass(frozen=True)
class Relation:
    """A chain "side = side ≈ side"; ``signs`` stand between the sides.

    ``continues`` is true when it opens with a sign, so that its first side is the last one of
    the line above. ``label`` holds words in front ("charge on A"). ``direction`` is the
    direction written behind the last side.
    """

    text: str
    sides: tuple[Side, ...]
    signs: tuple[str, ...] = ()
    quantities: tuple[Quantity, ...] = ()
    continues: bool = False
    label: str = ""
    direction: str | None = None


@dataclass(frozen=True)
class ParsedLine:
    """One line of writing: its relations in order, or words only.

    ``words`` is what stood outside every relation; ``direction`` is one that stood alone.
    """

    text: str
    relations: tuple[Relation, ...] = ()
    words: str = ""
    direction: str | None = None


@dataclass(frozen=True)
class Unparsed:
    """A reading that is no valid writing; ``not_understood`` is the part that broke it."""

    text: str
    not_understood: str
