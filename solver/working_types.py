"""What the judging of a working finds and passes on."""

from __future__ import annotations

from dataclasses import dataclass, field

import sympy

from parser.worksheet import ParsedLine, Quantity, Relation, Unparsed
from solver.findings import LineFinding
from solver.slips import Change


@dataclass(frozen=True)
class Pinned:
    """A slip that a line shows, with that line's index."""

    change: Change
    line: int
    ties: tuple[str, ...] = ()


@dataclass(frozen=True)
class ValueEvent:
    """A quantity the learner arrived at: a possible answer."""

    line: int
    relation: Relation
    quantity: Quantity
    names: tuple[str, ...]
    label: str
    direction: str | None
    count_noun: str = ""


@dataclass
class Working:
    """What was found in a question's working."""

    lines: list[LineFinding] = field(default_factory=list)
    parsed: list[ParsedLine | Unparsed] = field(default_factory=list)
    pinned: list[Pinned] = field(default_factory=list)
    events: list[ValueEvent] = field(default_factory=list)
    formulas: set[tuple[int, int]] = field(default_factory=set)
    substitutions: dict[tuple[int, int], bool] = field(default_factory=dict)
    values: dict[tuple[int, int], tuple[float, int]] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    parts: dict[int, float] = field(default_factory=dict)
    formula_lines: dict[int, list[tuple[sympy.Expr, sympy.Expr, Relation]]] = field(
        default_factory=dict
    )


@dataclass(frozen=True)
class Worth:
    """A numeric side: its value taken as SI, and as worked in the givens' own prefixed units.

    ``prefixed`` is what the side is worth if its bare numbers are in the unit of the givens they
    copy (0.6 for "(-3.6+4.8)/2" in nC gives 0.6e-9), None where that makes no sense.
    """

    value: float
    prefixed: float | None = None
    has_unit: bool = False
    misread: tuple[Change, ...] = ()
    factor: float = 1.0
    raised: float | None = None
    place: tuple[int, int] | None = None
    part: bool = False
