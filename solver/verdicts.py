"""When an answer agrees: every tolerance, accepted constant and policy in one place.

``Rules`` can be changed by the teacher; ``judge_answer`` applies it to one answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from parser.quantity import REGISTRY
from parser.worksheet import Asked, Quantity, Question
from solver.constants import CONSTANTS
from solver.findings import Expected, Verdict
from solver.units import same_dimension


@dataclass(frozen=True)
class Rules:
    """Tolerances, accepted constants and policies of judging and marking.

    Attributes:
        relative_tolerance: an answer agrees within this part of the expected value ...
        last_figure_units: ... or within so many units of its last written figure.
        most_by_last_figure: ... but never by more than this part: "0.001 N" is not 0.00001 N.
        least_figures: fewer written figures than this are incomplete where the givens have it.
        line_tolerance: a line follows from the one above within this part (rounding).
        substitution_tolerance: a substitution equals the law's value within this part
            (rounded constants and earlier values).
        unit_owed, direction_owed: whether a missing one makes an answer incomplete.
        asked_unit_owed: whether a unit asked for must be the one written.
        minus_on_magnitude_agrees: accept a minus sign on a magnitude without a note.
        constants: accepted values by name ("k", "g"); one not named here has all the values
            of ``solver.constants``.
        plausible_probability: readings below it are not weighed.
        least_confidence: an answer whose readings agree with less than this together is unread.
        carry_within_question: an answer that follows from an own slip keeps its answer mark.
    """

    relative_tolerance: float = 0.01
    last_figure_units: float = 1.0
    most_by_last_figure: float = 0.5
    least_figures: int = 2
    line_tolerance: float = 0.01
    substitution_tolerance: float = 0.005
    unit_owed: bool = True
    direction_owed: bool = True
    asked_unit_owed: bool = True
    minus_on_magnitude_agrees: bool = False
    constants: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    plausible_probability: float = 0.05
    least_confidence: float = 0.5
    carry_within_question: bool = False

    def accepted(self, constant: str) -> tuple[float, ...]:
        """The values accepted for a constant, () for an unknown one."""
        if constant in self.constants:
            return self.constants[constant]
        return CONSTANTS[constant].values if constant in CONSTANTS else ()


# Quantities whose sign is part of the value; for all others the sign is a direction.
SIGNED_UNITS = frozenset({"C", "V", "J", "C/m**2", "C/m", "eV", "dimensionless"})

ORDER = {
    Verdict.AGREES: 0,
    Verdict.INCOMPLETE: 1,
    Verdict.DIFFERS: 2,
    Verdict.BLANK: 3,
    Verdict.UNREAD: 4,
    Verdict.UNSOLVED: 5,
}


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict of a question from those of its asks; blank only when all are blank."""
    found = list(verdicts)
    if not found:
        return Verdict.UNSOLVED
    written = [v for v in found if v is not Verdict.BLANK]
    if not written:
        return Verdict.BLANK
    hardest = max(written, key=ORDER.__getitem__)
    if len(written) < len(found):
        return max(hardest, Verdict.INCOMPLETE, key=ORDER.__getitem__)
    return hardest


def last_figure(quantity: Quantity) -> float:
    """One unit of the last written figure, SI (0.05 for "3,65" in 5e-2, 1e-9 C for "12 nC")."""
    decimals = 0
    for mark in (",", "."):
        if mark in quantity.mantissa:
            decimals = len(quantity.mantissa.replace(" ", "").rsplit(mark, 1)[1])
    if not quantity.mantissa:
        return 0.0
    step = 10.0 ** ((quantity.exponent or 0) - decimals)
    if quantity.written_value:
        return abs(step * quantity.value / quantity.written_value)
    return step


def tolerance(quantity: Quantity, expected: float, rules: Rules) -> float:
    """How far an answer may lie from an expected value; nothing but zero is zero."""
    if not expected:
        return 0.0
    by_figure = rules.last_figure_units * last_figure(quantity) * 1.0001
    return max(
        min(by_figure, rules.most_by_last_figure * abs(expected)),
        rules.relative_tolerance * abs(expected),
    )


def value_agrees(quantity: Quantity, expected: float, rules: Rules, value: float) -> bool:
    """Does ``value`` (the answer's, perhaps without sign) equal the expected one?"""
    return abs(value - expected) <= tolerance(quantity, expected, rules)


def is_signed(expected: Expected, asked: Asked | None) -> bool:
    """Is the sign part of the value (a charge, a potential) rather than a direction?"""
    if asked is not None and asked.wants in ("magnitude", "count", "ratio"):
        return False
    return expected.unit in SIGNED_UNITS and expected.direction is None


def owes_direction(expected: Expected, asked: Asked | None, rules: Rules) -> bool:
    """Must an answer name its direction?"""
    return (
        rules.direction_owed
        and expected.direction is not None
        and (asked is None or asked.wants not in ("magnitude", "ratio", "count", "sign"))
    )


@dataclass(frozen=True)
class Judgement:
    """A verdict, the note that explains it, and the slips of writing it shows."""

    verdict: Verdict
    note: str | None = None
    slips: tuple[str, ...] = ()


def judge_answer(
    quantity: Quantity,
    direction: str | None,
    expected: Expected,
    asked: Asked | None,
    question: Question,
    rules: Rules,
) -> Judgement:
    """One written answer against one expected result (DESIGN section 3)."""
    unitless = expected.unit == "dimensionless"
    has_unit = bool(quantity.written_unit) and quantity.written_unit != "percent"
    if has_unit and not same_dimension(quantity.unit, expected.unit):
        if any(_magnitude_agrees(quantity, v, rules) for v in accepted_values(expected)):
            return Judgement(
                Verdict.DIFFERS,
                f"the value is right, but {quantity.written_unit} is not a unit of this quantity",
                ("unit-wrong",),
            )
        return Judgement(
            Verdict.DIFFERS,
            f"{quantity.written_unit} is not a unit of this quantity",
            ("unit-wrong",),
        )
    value = quantity.value
    if not has_unit and not unitless and asked is not None and asked.unit:
        value = _in_asked_unit(quantity, asked.unit)
    notes: list[str] = []
    slips: list[str] = []
    right = any(value_agrees(quantity, v, rules, value) for v in accepted_values(expected))
    if not right:
        size_right = any(
            value_agrees(quantity, abs(v), rules, abs(value)) for v in accepted_values(expected)
        )
        if not size_right:
            return Judgement(Verdict.DIFFERS)
        if is_signed(expected, asked):
            return Judgement(Verdict.DIFFERS, "the sign is wrong or missing", ("sign-dropped",))
        if value < 0 and not rules.minus_on_magnitude_agrees and expected.direction is None:
            notes.append("a magnitude carries no minus sign")
            slips.append("sign-kept-in-magnitude")
    if not has_unit and not unitless and rules.unit_owed:
        notes.append("the unit is missing")
        slips.append("unit-missing")
    wanted = asked.unit if asked is not None and rules.asked_unit_owed else None
    if has_unit and wanted and not _is_asked_unit(quantity.written_unit, wanted):
        notes.append(f"the answer was asked in {wanted}")
    if _too_few_figures(quantity, question, rules):
        notes.append("too few figures for the figures given")
        slips.append("too-few-figures")
    if owes_direction(expected, asked, rules):
        verdict = _judge_direction(direction, value, expected, question, asked)
        if verdict.verdict is Verdict.DIFFERS:
            return verdict
        if verdict.verdict is not Verdict.AGREES:
            notes.append(verdict.note or "")
            slips.extend(verdict.slips)
            if verdict.verdict is Verdict.UNREAD:
                return Judgement(Verdict.UNREAD, verdict.note)
    if notes:
        return Judgement(Verdict.INCOMPLETE, "; ".join(notes), tuple(slips))
    return Judgement(Verdict.AGREES)


def accepted_values(expected: Expected) -> tuple[float, ...]:
    """The expected value with every accepted constant."""
    return (expected.value, *expected.accepted)


def _magnitude_agrees(quantity: Quantity, expected: float, rules: Rules) -> bool:
    return value_agrees(quantity, abs(expected), rules, abs(quantity.value))


def _in_asked_unit(quantity: Quantity, unit: str) -> float:
    """A bare number taken in the unit that the question asked for."""
    try:
        return float(REGISTRY.Quantity(quantity.written_value, unit).to_base_units().magnitude)
    except Exception:  # pint raises many kinds for a word that is no unit
        return quantity.value


def _is_asked_unit(written: str, asked: str) -> bool:
    try:
        one, other = REGISTRY.Quantity(1.0, written), REGISTRY.Quantity(1.0, asked)
        return math.isclose(one.to_base_units().magnitude, other.to_base_units().magnitude)
    except Exception:  # pint raises many kinds for a word that is no unit
        return False


def _too_few_figures(quantity: Quantity, question: Question, rules: Rules) -> bool:
    """Fewer than two figures where the givens have two or more, and the value is not whole."""
    if quantity.unit == "dimensionless" or not quantity.mantissa or not quantity.value:
        return False
    if quantity.significant_figures >= rules.least_figures or not question.givens:
        return False
    fewest = min(g.quantity.significant_figures for g in question.givens)
    return fewest >= rules.least_figures


# --- directions --------------------

_SCREEN = {"right": 0.0, "up": 90.0, "left": 180.0, "down": 270.0}
_COMPASS = {
    "east": 0.0, "north-east": 45.0, "north": 90.0, "north-west": 135.0,
    "west": 180.0, "south-west": 225.0, "south": 270.0, "south-east": 315.0,
}  # fmt: skip
ANGLE_TOLERANCE = 2.0  # degrees; common practice, no source


def _judge_direction(
    written: str | None,
    value: float,
    expected: Expected,
    question: Question,
    asked: Asked | None,
) -> Judgement:
    if written is None:
        return Judgement(Verdict.INCOMPLETE, "the direction is missing", ("direction-missing",))
    assert expected.direction is not None
    same = same_direction(
        written, expected.direction, expected.of or (asked.at if asked else None), question
    )
    if same is None:
        return Judgement(
            Verdict.UNREAD, f'"{written}" could not be compared with the expected direction'
        )
    if value < 0 and not is_signed(expected, asked):
        # A minus beside a direction word turns it round for some teachers, not for others.
        return Judgement(Verdict.UNREAD, "a minus sign stands beside a direction word")
    if not same:
        return Judgement(Verdict.DIFFERS, "the direction is wrong", ("direction-reversed",))
    if (written in _SCREEN) and (expected.direction in _COMPASS):
        return Judgement(
            Verdict.INCOMPLETE, "the question uses compass directions", ("direction-missing",)
        )
    return Judgement(Verdict.AGREES)


def same_direction(written: str, expected: str, of: str | None, question: Question) -> bool | None:
    """Do two directions point the same way? None when the layout is not known."""
    if written == expected:
        return True
    first = _angle(written, of, question)
    second = _angle(expected, of, question)
    if first is not None and second is not None:
        turn = abs((first - second + 180.0) % 360.0 - 180.0)
        return turn <= ANGLE_TOLERANCE
    way, _, body = written.partition(" ")
    other_way, _, other_body = expected.partition(" ")
    bodies = {body.removeprefix("from "), other_body.removeprefix("from ")}
    if {way, other_way} <= {"towards", "away"} and len(bodies) == 1:
        return way == other_way
    return None


def _angle(direction: str, of: str | None, question: Question) -> float | None:
    """Degrees anticlockwise from right, where the words or the question's layout tell."""
    for table in (_SCREEN, _COMPASS):
        if direction in table:
            return table[direction]
    if direction.endswith("deg anticlockwise from right"):
        return float(direction.split()[0])
    body = direction.split()[-1]
    if of is None or body == of:
        return None
    angle = angle_between(question, of, body)
    if angle is None:
        return None
    return (angle + 180.0) % 360.0 if direction.startswith("away") else angle


def angle_between(question: Question, start: str, end: str) -> float | None:
    """Degrees from one body to another where the question tells how they lie."""
    for fact in question.facts:
        if fact.name == "direction" and set(fact.bodies) == {start, end}:
            word = str(fact.get("direction"))
            angle = _SCREEN.get(word, _COMPASS.get(word))
            if angle is not None:
                return angle if fact.bodies[0] == end else (angle + 180.0) % 360.0
    for fact in question.facts:
        if fact.name == "on-line" and start in fact.bodies and end in fact.bodies:
            return 0.0 if fact.bodies.index(end) > fact.bodies.index(start) else 180.0
    return None
