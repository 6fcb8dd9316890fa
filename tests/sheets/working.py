"""What a learner writes for one question: lines of working, with at most one planned slip.

A question is a chain of calculations. Each one has operands (given amounts, results of the
learner's own earlier lines or questions), a formula, a substitution and plain arithmetic.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from .amounts import UNITS, Amount, Style, learner_number

K = 9.0e9
E = 1.6e-19


@dataclass(frozen=True)
class Step:
    """Result of an earlier calculation of the same question."""

    index: int
    magnitude: bool = True


@dataclass(frozen=True)
class Prior:
    """Result of an earlier question, by its key."""

    key: str
    magnitude: bool = True


Operand = Amount | Step | Prior
Texts = Mapping[str, str]
Values = Mapping[str, float]


@dataclass(frozen=True)
class Calculation:
    """One formula put to use.

    ``substitute(texts, slip)`` gives the right-hand side with numbers, ``compute(values,
    slip)`` its value; both act out the slips named in ``own_slips``. ``signed`` operands
    carry their sign in the substitution.
    """

    symbol: str
    formula: str
    operands: Mapping[str, Operand]
    substitute: Callable[[Texts, str | None], str]
    compute: Callable[[Values, str | None], float]
    unit: str
    signed: bool = False
    own_slips: tuple[str, ...] = ()


@dataclass(frozen=True)
class Task:
    """What a question wants: the chain, whether a direction is owed, and what the answer is of."""

    chain: tuple[Calculation, ...]
    quantity: str
    of: str | None = None
    due_to: tuple[str, ...] = ()
    wants: str = "value"
    direction: Callable[[float], str | None] = lambda value: None
    magnitude: bool = True
    unit_word: str | None = None
    also_of: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One pen line: label in linear notation, and whether it follows from what stands above."""

    text: str
    follows: bool | None = True
    struck: bool = False


@dataclass(frozen=True)
class Written:
    """All that a learner wrote for one question, with the truth about it."""

    rows: tuple[Row, ...] = ()
    value: float | None = None
    unit: str | None = None
    direction: str | None = None
    verdict: str = "blank"
    slips: tuple[tuple[str, int | None], ...] = ()
    legible: bool = True
    results: Mapping[str, float] = field(default_factory=dict)

    @property
    def first_broken(self) -> int | None:
        """Number of the first line that does not follow, from 1, struck lines counted."""
        return next((i for i, r in enumerate(self.rows, 1) if r.follows is False), None)


@dataclass(frozen=True)
class Manner:
    """How this learner works: decimal mark, how much is shown, habits."""

    style: Style
    detail: str = "full"  # full, short, answer
    figures: int = 3  # of answers
    middle_figures: int = 3  # of results on the way
    conversions: bool = False
    therefore: bool = False
    prefixes: bool = False


FINAL_SLIPS = ("power-of-ten-off", "unit-missing", "unit-wrong", "arithmetic-slip")
DIRECTION_SLIPS = ("direction-missing", "direction-reversed")
OPPOSITE = {
    "left": "right",
    "right": "left",
    "up": "down",
    "down": "up",
    "north": "south",
    "south": "north",
    "east": "west",
    "west": "east",
}
WRONG_UNITS = {"N": "N/C", "N/C": "N", "C": "N"}


def exact(task: Task, prior: Mapping[str, float]) -> tuple[float, str | None]:
    """The right result, neither slip nor rounding, and its direction."""
    results: list[float] = []
    for part in task.chain:
        values = {n: _value(o, results, prior, part.signed) for n, o in part.operands.items()}
        results.append(part.compute(values, None))
    value = abs(results[-1]) if task.magnitude else results[-1]
    return value, task.direction(results[-1])


def possible_slips(task: Task) -> list[str]:
    """Names of slips that can be acted out in this question."""
    unit = task.chain[-1].unit
    names = [s for s in FINAL_SLIPS if s != "unit-wrong" or unit in WRONG_UNITS]
    if unit == "dimensionless":
        names.remove("unit-missing")
    for part in task.chain:
        names += part.own_slips
        given = [o for o in part.operands.values() if isinstance(o, Amount)]
        if any(o.prefixed and UNITS[o.unit][0] == "m" for o in given):
            names.append("length-unit-left-unconverted")
        if any(o.prefixed and UNITS[o.unit][0] != "m" for o in given):
            names.append("prefix-left-unconverted")
        if given:
            names.append("given-miscopied")
    if task.wants == "vector":
        names += DIRECTION_SLIPS
    return sorted(set(names))


def work_out(
    task: Task,
    manner: Manner,
    rng: np.random.Generator,
    prior: Mapping[str, float],
    slip: str | None,
) -> Written:
    """Write the question's lines with ``slip`` acted out. ``verdict`` is left to the caller."""
    style = manner.style
    rows: list[Row] = []
    results: list[float] = []
    slip_line: int | None = None
    at = _slip_step(task, slip)
    last = len(task.chain) - 1
    number_text, value, signed_value = "", 0.0, 0.0
    if manner.conversions and manner.detail != "answer" and slip is None:
        rows += _conversions(task, style)
    for index, part in enumerate(task.chain):
        here = slip if index == at else None
        operands, spoilt = _spoil(part.operands, here, part.signed, rng, style)
        texts = {
            n: spoilt.get(n, (None, None))[0] or _text(o, results, prior, part.signed, style)
            for n, o in operands.items()
        }
        values = {
            n: spoilt[n][1] if n in spoilt else _value(o, results, prior, part.signed)
            for n, o in operands.items()
        }
        value = signed_value = part.compute(values, here)
        if index == last and task.magnitude:
            value = abs(value)
        broken_substitution = here is not None and here not in FINAL_SLIPS + DIRECTION_SLIPS
        if index == last and slip == "power-of-ten-off":
            value *= 10.0 ** int(rng.choice([-3, -1, 1, 3]))
        if index == last and slip == "arithmetic-slip":
            value *= float(rng.choice([0.5, 0.71, 1.3, 1.41, 2.0]))
        figures = manner.figures if index == last else manner.middle_figures
        number_text, value = learner_number(value, style, figures)
        shown = style.unit(part.unit) if part.unit != "dimensionless" else ""
        if manner.detail == "full":
            rows.append(Row(f"{part.symbol}={part.formula}", True))
        if manner.detail != "answer":
            lead = f"{part.symbol}=" if manner.detail == "short" else "="
            lead = f"{part.symbol}=" if rng.random() < 0.5 else lead
            follows = not broken_substitution
            rows.append(Row(lead + style.number(part.substitute(texts, here)), follows))
            if broken_substitution:
                slip_line = len(rows)
        results.append(value)
        if index < last and manner.detail != "answer":
            lead = f"{part.symbol}=" if rng.random() < 0.5 else "="
            rows.append(Row(f"{lead}{number_text} {shown}".rstrip(), True))
    part = task.chain[-1]
    unit = part.unit
    written_unit: str | None = unit
    direction = task.direction(signed_value)
    if slip == "unit-missing":
        written_unit = None
    if slip == "unit-wrong":
        written_unit = WRONG_UNITS[unit]
    if slip == "direction-missing":
        direction = None
    if slip == "direction-reversed" and direction is not None:
        direction = _reversed(direction)
    unit_text = "" if written_unit in (None, "dimensionless") else style.unit(written_unit)
    if task.unit_word and rng.random() < 0.6:
        unit_text = task.unit_word
    signed = number_text
    if unit == written_unit == "C" and manner.prefixes and slip is None:
        signed, unit_text, value = _with_prefix(value, style, manner.figures)
    if unit == "C" and not task.magnitude and value > 0 and rng.random() < 0.4:
        signed = "+" + signed
    answer = f"{part.symbol}={signed} {unit_text}".rstrip()
    if manner.detail == "answer" and rng.random() < 0.4:
        answer = f"{signed} {unit_text}".rstrip()
    elif manner.therefore and "=" in answer:
        answer = "∴" + answer
    if direction is not None:
        answer += " " + _direction_words(direction, rng)
    at_answer = slip in FINAL_SLIPS + DIRECTION_SLIPS
    hidden = slip is not None and not at_answer and slip_line is None
    left_out = slip in ("unit-missing", "direction-missing")
    rows.append(Row(answer, left_out or not (at_answer or hidden)))
    if slip is not None and slip_line is None:
        slip_line = len(rows)
    return Written(
        rows=tuple(rows),
        value=value,
        unit="dimensionless" if written_unit is None else written_unit,
        direction=direction,
        slips=() if slip is None else ((slip, slip_line),),
    )


def _conversions(task: Task, style: Style) -> list[Row]:
    """The line on which a careful learner turns a distance into metres."""
    for part in task.chain:
        for name, operand in part.operands.items():
            if name == "r" and isinstance(operand, Amount) and operand.prefixed:
                converted = operand.converted(style)
                return [Row(f"r={operand.written(style)}={converted} m", True)]
    return []


def _with_prefix(value: float, style: Style, figures: int) -> tuple[str, str, float]:
    """A charge in nC or µC: number, unit, and the SI value that then stands there."""
    power, unit = (-6, "µC") if abs(value) >= 1e-6 else (-9, "nC")
    text, number = learner_number(value / 10.0**power, style, figures)
    return text, unit, number * 10.0**power


def _slip_step(task: Task, slip: str | None) -> int:
    if slip is None or slip in FINAL_SLIPS + DIRECTION_SLIPS:
        return len(task.chain) - 1
    for index, part in enumerate(task.chain):
        given = [o for o in part.operands.values() if isinstance(o, Amount)]
        if slip in part.own_slips:
            return index
        if slip == "length-unit-left-unconverted" and any(
            o.prefixed and UNITS[o.unit][0] == "m" for o in given
        ):
            return index
        if slip == "prefix-left-unconverted" and any(
            o.prefixed and UNITS[o.unit][0] != "m" for o in given
        ):
            return index
        if slip == "given-miscopied" and given:
            return index
    raise ValueError(f"{slip} cannot be acted out here")


def _spoil(
    operands: Mapping[str, Operand],
    slip: str | None,
    signed: bool,
    rng: np.random.Generator,
    style: Style,
) -> tuple[dict[str, Operand], dict[str, tuple[str, float]]]:
    """Operands after a copying or conversion slip, and the spoilt ones' (text, value)."""
    changed = dict(operands)
    spoilt: dict[str, tuple[str, float]] = {}
    if slip in ("length-unit-left-unconverted", "prefix-left-unconverted"):
        wants_length = slip.startswith("length")
        for name, operand in operands.items():
            if not isinstance(operand, Amount) or not operand.prefixed:
                continue
            if (UNITS[operand.unit][0] == "m") != wants_length:
                continue
            bare = Amount(operand.mantissa, "", operand.exponent, operand.sign)
            minus = "-" if signed and operand.sign == "-" else ""
            value = bare.value if signed else abs(bare.value)
            spoilt[name] = (minus + bare.unconverted(style), value)
    if slip == "given-miscopied":
        names = [n for n, o in operands.items() if isinstance(o, Amount)]
        name = str(rng.choice(names))
        amount = changed[name]
        assert isinstance(amount, Amount)
        changed[name] = amount.miscopied(rng)
    return changed, spoilt


def _value(
    operand: Operand, results: list[float], prior: Mapping[str, float], signed: bool
) -> float:
    if isinstance(operand, Amount):
        return operand.value if signed else abs(operand.value)
    value = results[operand.index] if isinstance(operand, Step) else prior[operand.key]
    return abs(value) if operand.magnitude else value


def _text(
    operand: Operand, results: list[float], prior: Mapping[str, float], signed: bool, style: Style
) -> str:
    if isinstance(operand, Amount):
        minus = "-" if signed and operand.sign == "-" else ""
        return minus + operand.converted(style)
    return learner_number(_value(operand, results, prior, signed), style)[0]


def _reversed(direction: str) -> str:
    if direction.startswith("towards "):
        return direction.replace("towards", "away from")
    if direction.startswith("away from "):
        return direction.replace("away from", "towards")
    return OPPOSITE[direction]


def _direction_words(direction: str, rng: np.random.Generator) -> str:
    if direction in ("left", "right"):
        return str(rng.choice([f"to the {direction}", direction]))
    if direction in ("up", "down"):
        return str(rng.choice([f"{direction}wards", direction]))
    return direction
