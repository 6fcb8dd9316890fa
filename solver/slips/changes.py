"""A derivation run with slips in it, and with the learner's own values put in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import sympy

from parser.worksheet import Given, Question
from solver.findings import Derivation, Expected, Input, Step
from solver.numeric import close, evaluate


@dataclass(frozen=True)
class Change:
    """One slip at one place of a derivation.

    A leaf change gives ``value`` to the input that comes from ``given`` (or, without it, to
    ``symbol``) in ``step``, or in every step when ``step`` is None. A law change puts ``law`` in
    place of the step's expression. An answer change multiplies the result by ``factor``.
    ``note`` says what happened there, for the line it happened in. ``together`` holds the single
    changes of a slip made in several places at once.
    """

    slip: str
    note: str
    prior: float
    step: int | None = None
    given: int | None = None
    symbol: str | None = None
    value: float | None = None
    law: sympy.Expr | None = None
    factor: float = 1.0
    together: tuple[Change, ...] = ()

    @property
    def singles(self) -> tuple[Change, ...]:
        """The changes of single places that this one is made of."""
        return self.together or (self,)

    def touches(self, other: Change) -> bool:
        """Do two changes act on the same place, so that they cannot both happen?"""
        return any(a._meets(b) for a in self.singles for b in other.singles)

    def _meets(self, other: Change) -> bool:
        if self.factor != 1.0 and other.factor != 1.0:
            return True
        if self.law is not None and other.law is not None:
            return self.step == other.step
        if self.value is not None and other.value is not None:
            if self.given is not None or other.given is not None:
                return self.given == other.given
            return (self.step, self.symbol) == (other.step, other.symbol)
        return False


@dataclass(frozen=True)
class Case:
    """What the slips act on: a derivation and the question it answers."""

    derivation: Derivation
    question: Question

    @property
    def steps(self) -> tuple[Step, ...]:
        return self.derivation.steps

    @cached_property
    def uses(self) -> tuple[tuple[int, Input], ...]:
        """Every (step index, input), in order."""
        return tuple((i, inp) for i, step in enumerate(self.steps) for inp in step.inputs)

    @cached_property
    def leaves(self) -> tuple[tuple[int | None, Input, Given], ...]:
        """Each given that is used: once for all its uses and, if several, once for each."""
        by_given: dict[int, list[tuple[int, Input]]] = {}
        for index, used in self.uses:
            if used.given is not None:
                by_given.setdefault(used.given, []).append((index, used))
        found: list[tuple[int | None, Input, Given]] = []
        for given, places in by_given.items():
            stated = self.question.givens[given]
            found.append((None, places[0][1], stated))
            if len(places) > 1:
                found.extend((index, used, stated) for index, used in places)
        return tuple(found)

    def of_unit(self, unit: str) -> tuple[tuple[int, Given], ...]:
        """The question's givens with this SI unit."""
        return tuple((i, g) for i, g in enumerate(self.question.givens) if g.quantity.unit == unit)


@dataclass(frozen=True)
class Own:
    """What the learner's later lines may build on: values of steps, of earlier questions'
    answers (by number and ask), and the constants they use."""

    steps: Mapping[int, float] = field(default_factory=dict)
    earlier: Mapping[tuple[str, int], float] = field(default_factory=dict)
    constants: Mapping[str, float] = field(default_factory=dict)


NOTHING_OWN = Own()


def twins(
    case: Case,
    own: Mapping[tuple[str, int], float],
    right: Mapping[tuple[str, int], Expected],
) -> dict[int, float]:
    """The learner's value for steps that find again what an earlier question found.

    Spheres that touched have equal charges: who got one of them wrong goes on with that value
    for both.
    """
    found: dict[int, float] = {}
    for index, step in enumerate(case.steps[:-1]):
        for key, value in own.items():
            result = right.get(key)
            same = result is not None and result.unit == step.unit
            if result is not None and same and close(result.value, step.value, 1e-9):
                found[index] = value
    return found


def run(case: Case, changes: Sequence[Change] = (), own: Own = NOTHING_OWN) -> list[float] | None:
    """The value of every step with ``changes`` made and the learner's own values put in.

    None where a step has no finite real value.
    """
    results: list[float] = []
    changes = [single for change in changes for single in change.singles]
    for index in range(len(case.steps)):
        computed = step_value(case, index, results, changes, own)
        if computed is None:
            return None
        results.append(own.steps.get(index, computed))
    return results


def step_value(
    case: Case,
    index: int,
    results: Sequence[float],
    changes: Sequence[Change] = (),
    own: Own = NOTHING_OWN,
) -> float | None:
    """The value of one step; ``results`` are those of the steps before it."""
    step = case.steps[index]
    values = {i.symbol: input_value(case, index, i, results, changes, own) for i in step.inputs}
    law = next((c.law for c in changes if c.law is not None and c.step == index), step.solved)
    value = evaluate(law, values)
    if value is None:
        return None
    if index == len(case.steps) - 1:
        for change in changes:
            value *= change.factor
    return value


def input_value(
    case: Case,
    index: int,
    used: Input,
    results: Sequence[float],
    changes: Sequence[Change],
    own: Own,
) -> float:
    """What stands for one symbol, after the changes and with the learner's own values."""
    for change in changes:
        if change.value is None or change.step not in (None, index):
            continue
        if change.given is not None:
            if used.given == change.given:
                stated = case.question.givens[change.given].quantity.value
                return used.value * change.value / stated if stated else change.value
        elif change.symbol == used.symbol and change.step == index:
            return change.value
    if used.step is not None:
        right = case.steps[used.step].value
        return used.value * results[used.step] / right if right else results[used.step]
    if used.earlier is not None and used.earlier in own.earlier:
        return own.earlier[used.earlier]
    if used.constant is not None:
        return own.constants.get(used.constant, used.value)
    return used.value


def equal_ways(case: Case) -> tuple[Change, ...]:
    """Other givens that lead to the same result: either body shows the charge that moved."""
    right = run(case)
    if right is None:
        return ()
    ways = []
    for index, used in case.uses:
        if used.given is None:
            continue
        for _, other in case.of_unit(used.unit):
            value = other.quantity.value
            if close(abs(value), abs(used.value), 1e-9):
                continue
            way = Change("", "", 1.0, index, symbol=used.symbol, value=value)
            results = run(case, (way,))
            if results is not None and close(abs(results[-1]), abs(right[-1]), 1e-9):
                ways.append(way)
    return tuple(ways)


def has_root(expression: sympy.Expr) -> bool:
    """Is an expression as a whole a square root?"""
    powers = [f.as_base_exp() for f in sympy.Mul.make_args(expression) if f.free_symbols]
    return bool(powers) and all(exp.is_Rational and exp.q == 2 for _, exp in powers)


def is_sharing(step: Step) -> bool:
    """Does a step share charges among bodies, or add them up?"""
    return step.unit == "C" and any(
        all(a.free_symbols for a in t.args) for t in step.solved.atoms(sympy.Add)
    )
