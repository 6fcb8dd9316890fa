"""What a learner has at a line: the right values, their own values, the slips charged so far."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import sympy

from parser.worksheet import Question
from solver.findings import Expected
from solver.numeric import close, evaluate
from solver.slips import (
    Case,
    Change,
    Own,
    all_changes,
    equal_ways,
    has_root,
    input_value,
    run,
    twins,
)
from solver.verdicts import SIGNED_UNITS

EXACT = 2e-3  # a substitution is exact but for rounded constants


def equal_sizes(value: float, target: float, unit: str, tolerance: float) -> bool:
    """Equal within a tolerance; the sign counts where it is part of the value (a charge)."""
    if unit in SIGNED_UNITS:
        return abs(value - target) <= tolerance
    return abs(abs(value) - abs(target)) <= tolerance


class OwnValues:
    """The state that lines are judged from; it changes as the learner's lines are read."""

    def __init__(
        self,
        question: Question,
        expected: Sequence[Expected],
        asks: Sequence[int],
        own_earlier: Mapping[tuple[str, int], float],
        right_earlier: Mapping[tuple[str, int], Expected],
    ) -> None:
        self.question = question
        self.cases = [Case(e.derivation, question) for e in expected if e.derivation is not None]
        self.ask_of_case = [
            ask for e, ask in zip(expected, asks, strict=True) if e.derivation is not None
        ]
        self.ways = [equal_ways(case) for case in self.cases]
        self.own_earlier = dict(own_earlier)
        self.own_steps = [twins(case, own_earlier, right_earlier) for case in self.cases]
        self.charged: list[Change] = []
        self.constants: dict[str, float] = {}
        self.values: dict[tuple[int, int], tuple[float, int]] = {}
        self._changes_of: dict[int, tuple[Change, ...]] = {}

    def own(self, which: int) -> Own:
        return Own(self.own_steps[which], self.own_earlier, self.constants)

    def changes(self, which: int) -> tuple[Change, ...]:
        if which not in self._changes_of:
            self._changes_of[which] = all_changes(self.cases[which])
        return self._changes_of[which]

    def targets(self) -> Iterator[tuple[int, int, float]]:
        """(case, step, value) that a line may rightly state: the true values and those that
        follow from the learner's own."""
        for which, case in enumerate(self.cases):
            own = self.own(which)
            trials = [
                run(case, tuple(self.charged), own),
                run(case, (), own),
                run(case, (), Own(constants=self.constants)),
                run(case, tuple(self.charged), replace(own, steps={})),
                *(run(case, (*self.charged, way), own) for way in self.ways[which]),
            ]
            for step in range(len(case.steps)):
                seen: list[float] = []
                for trial in trials:
                    if trial is not None and trial[step] not in seen:
                        seen.append(trial[step])
                if step in self.own_steps[which]:
                    again = self.recomputed(which, step)
                    if again is not None:
                        seen.append(again)
                for value in seen:
                    yield which, step, value

    def recomputed(self, which: int, step: int) -> float | None:
        """A step's value from the learner's own earlier ones, its own result left out."""
        own = self.own(which)
        steps = {k: v for k, v in own.steps.items() if k != step}
        results = run(self.cases[which], tuple(self.charged), replace(own, steps=steps))
        return results[step] if results is not None else None

    def is_part(self, value: float, tolerance: float | None = None) -> bool:
        """Is this a part of a step: a sum before it is shared, a square, a product on the top?"""
        for which, case in enumerate(self.cases):
            own = self.own(which)
            results = run(case, tuple(self.charged), own)
            if results is None:
                continue
            for parts in (
                self.parts(which, results, ()),
                self.parts(which, results, self.charged),
            ):
                for part, unit in parts:
                    allowed = tolerance if tolerance is not None else EXACT * abs(part)
                    if part and equal_sizes(value, part, unit, allowed):
                        return True
        return False

    def is_undivided(self, value: float) -> bool:
        """Is this the sum of a step that shares it, without the division?"""
        for which, case in enumerate(self.cases):
            for change in self.changes(which):
                if change.slip != "halving-forgotten" or change.step is None:
                    continue
                wrong = run(case, (*self.charged, change), self.own(which))
                if wrong is not None and close(value, wrong[change.step], EXACT):
                    return True
        return False

    def squares(self, value: float) -> list[tuple[int, int]]:
        """Steps that end with a root, of which ``value`` is what stands under it."""
        found = []
        for which, case in enumerate(self.cases):
            results = run(case, tuple(self.charged), self.own(which))
            for step, one in enumerate(case.steps):
                under_root = results is not None and has_root(one.solved)
                if results and under_root and close(abs(value), results[step] ** 2, EXACT):
                    found.append((which, step))
        return found

    def parts(
        self, which: int, results: Sequence[float], changes: Sequence[Change]
    ) -> list[tuple[float, str]]:
        """Values on the way to each step, with the step's unit; the step's own value left out."""
        case, own = self.cases[which], self.own(which)
        found = []
        for index, step in enumerate(case.steps):
            values = {
                i.symbol: input_value(case, index, i, results, changes, own) for i in step.inputs
            }
            for part in _parts_of(step.solved):
                value = evaluate(part, values)
                if value is not None:
                    found.append((value, step.unit))
        return found

    def record(self, place: tuple[int, int], value: float, line: int) -> None:
        """The learner has this value for a step, on this line."""
        self.values[place] = (value, line)
        which, step = place
        results = run(self.cases[which])
        if results is not None and not close(abs(results[step]), abs(value), 1e-4):
            self.set_own(which, step, value)
        else:
            self.own_steps[which].pop(step, None)
            if step == len(self.cases[which].steps) - 1:
                self.own_earlier.pop((self.question.number, self.ask_of_case[which]), None)

    def set_own(self, which: int, step: int, value: float) -> None:
        """The learner goes on with this value, in every case that has the same step."""
        same = self.cases[which].steps[step]
        for number, case in enumerate(self.cases):
            for position, other in enumerate(case.steps):
                if other.law == same.law and other.inputs == same.inputs:
                    own = value
                    if other.unit not in SIGNED_UNITS:
                        own = math.copysign(abs(value), other.value or 1.0)
                    self.own_steps[number][position] = own
                    if position == len(case.steps) - 1:
                        self.own_earlier[self.question.number, self.ask_of_case[number]] = own

    def upstream(self, which: int, step: int) -> set[int]:
        """A step and those it builds on, up to where the learner has a value of their own."""
        case = self.cases[which]
        wanted, upstream = [step], set()
        while wanted:
            index = wanted.pop()
            if index in upstream:
                continue
            upstream.add(index)
            if index in self.own_steps[which] and index != step:
                continue
            wanted.extend(i.step for i in case.steps[index].inputs if i.step is not None)
        return upstream


@lru_cache(maxsize=2048)
def _parts_of(solved: sympy.Expr) -> tuple[sympy.Expr, ...]:
    """What a learner may work out on the way: sums, squares, top and bottom of a fraction."""
    top, bottom = solved.as_numer_denom()
    parts = {top, bottom, *_subexpressions(solved), *_subexpressions(top)} - {solved}
    if has_root(solved):
        parts.add(solved**2)
    return tuple(p for p in parts if not p.is_Symbol and not p.is_number)


def _subexpressions(expression: sympy.Expr) -> Iterator[sympy.Expr]:
    for part in sympy.preorder_traversal(expression):
        if isinstance(part, sympy.Expr) and not part.is_Atom:
            yield part
