"""Why a line is wrong: the slips that make a step give what the learner wrote.

The numbers of the line decide: a slip in what was put in must show among them, and an explanation
that needs numbers which the line lacks weighs less.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import sympy

from parser.expression import leaves
from parser.worksheet import Quantity, Relation
from solver.numeric import close, evaluate
from solver.own_values import EXACT, OwnValues, equal_sizes
from solver.slips import Change, Explanation, has_root, input_value, run
from solver.verdicts import SIGNED_UNITS

# Slips of the calculator that do not show in the line above.
_KEYED = frozenset({"power-of-ten-not-squared"})
TIE = 0.4  # explanations with at least this part of the best score are reported as ties
MISSING_NUMBER = 0.1  # weight for each number that an explanation needs and the line lacks
MISSING_SIGN = 0.5  # weight for each number that stands there with the other sign
NEAR_MISCOPY = 0.25  # prior of a number whose digits differ in one place; our judgement


class Explainer:
    """Explains lines from what the learner has; ``ties`` keeps what fitted nearly as well."""

    def __init__(self, mine: OwnValues) -> None:
        self.mine = mine
        self.ties: dict[Change, tuple[str, ...]] = {}

    def explain(
        self,
        value: float,
        relation: Relation,
        expression: sympy.Expr,
        likely: tuple[int, int] | None,
        factor: float = 1.0,
    ) -> tuple[int, int, tuple[Change, ...]] | None:
        written = [relation.quantities[i].value * factor for i in leaves(expression)]
        written += [
            -factor * relation.quantities[i].value for i in _subtracted(relation, expression)
        ]
        if not written:
            written = [q.value * factor for q in relation.quantities]
        best: tuple[float, int, int, tuple[Change, ...]] | None = None
        for which, case in enumerate(self.mine.cases):
            for step in range(len(case.steps)):
                found = self.explain_step(
                    which, step, value, EXACT * abs(value), written, keyed=False
                )
                if found is None:
                    continue
                score = found.score * (1.5 if likely == (which, step) else 1.0)
                if best is None or score > best[0]:
                    best = (score, which, step, found.changes)
        return None if best is None else best[1:]

    def explain_step(
        self,
        which: int,
        step: int,
        value: float,
        tolerance: float,
        written: Sequence[float],
        keyed: bool,
    ) -> Explanation | None:
        """The likeliest one or two slips that make this step give ``value``.

        ``written`` are the numbers of the line: a slip in a leaf must show among them. ``keyed``:
        the right numbers stand above, so that only a law or the keying can have gone wrong.
        """
        case = self.mine.cases[which]
        unit = case.steps[step].unit
        candidates = [
            c
            for c in (*self._miscopied(which, step, written), *self.mine.changes(which))
            if c.factor == 1.0 and self._acts_on(which, step, c)
        ]
        if keyed:
            candidates = [c for c in candidates if c.law is not None or c.slip in _KEYED]
        supported = [c for c in candidates if self._shows(which, step, c, written)]
        singles = [
            replace(e, score=e.score * self._presence(which, step, e.changes, written))
            for c in supported
            if (e := self._try(which, step, value, tolerance, (c,), unit))
        ]
        if singles:
            if keyed and has_root(case.steps[step].solved):
                singles = [_less_a_square(e) for e in singles]
            best = max(singles, key=lambda e: e.score)
            self.ties[best.changes[0]] = tuple(
                dict.fromkeys(
                    e.changes[0].slip
                    for e in sorted(singles, key=lambda e: -e.score)
                    if e.score >= TIE * best.score and e.changes[0].slip != best.changes[0].slip
                )
            )
            return best
        if not written:
            return None
        together = self._try_together(which, step, value, tolerance, written, supported)
        if together is not None:
            return together
        pairs = []
        for first_index, first in enumerate(supported):
            for second in supported[first_index + 1 :]:
                if first.touches(second):
                    continue
                found = self._try(which, step, value, tolerance, (first, second), unit)
                if found is not None:
                    pairs.append(found)
        if pairs:
            return max(pairs, key=lambda e: e.score)
        return None

    def _try_together(
        self,
        which: int,
        step: int,
        value: float,
        tolerance: float,
        written: Sequence[float],
        supported: Sequence[Change],
    ) -> Explanation | None:
        """Every given that is not among the numbers of the line gone wrong at once."""
        case = self.mine.cases[which]
        forced: dict[int, Change] = {}
        for used in case.steps[step].inputs:
            if used.given is None or any(close(abs(w), abs(used.value), 5e-3) for w in written):
                continue
            for change in supported:
                if change.given == used.given and change.step in (None, step):
                    known = forced.get(used.given)
                    if known is None or change.prior > known.prior:
                        forced[used.given] = change
        if not forced:
            return None
        unit = case.steps[step].unit
        laws = [(c,) for c in supported if c.law is not None]
        for extra in ((), *laws):
            changes = (*forced.values(), *extra)
            found = self._try(which, step, value, tolerance, changes, unit)
            if found is not None:
                return found
        return None

    def _try(
        self,
        which: int,
        step: int,
        value: float,
        tolerance: float,
        changes: tuple[Change, ...],
        unit: str,
    ) -> Explanation | None:
        own = self.mine.own(which)
        own = replace(own, steps={k: v for k, v in own.steps.items() if k != step})
        earlier = tuple(c for c in self.mine.charged if not any(c.touches(x) for x in changes))
        for charged in (earlier, ()) if earlier else ((),):
            results = run(self.mine.cases[which], (*charged, *changes), own)
            if results is None:
                continue
            if equal_sizes(value, results[step], unit, tolerance):
                score = math.prod(c.prior for c in changes) * 0.1 ** (len(changes) - 1)
                return Explanation(changes, score)
        return None

    def _acts_on(self, which: int, step: int, change: Change) -> bool:
        """Can a change alter this step, itself or through the steps it builds on?"""
        case, upstream = self.mine.cases[which], self.mine.upstream(which, step)
        givens = {i.given for s in upstream for i in case.steps[s].inputs}
        return all(
            (c.step is None or c.step in upstream)
            and (c.given in givens if c.given is not None else c.step is not None)
            for c in change.singles
        )

    def _shows(self, which: int, step: int, change: Change, written: Sequence[float]) -> bool:
        """Does a slip in a leaf show among the numbers of the line?"""
        return not written or all(
            c.value is None or any(close(abs(w), abs(c.value), 1e-3) for w in written)
            for c in change.singles
        )

    def _presence(
        self, which: int, step: int, changes: Sequence[Change], written: Sequence[float]
    ) -> float:
        """Less than 1 where the line lacks numbers that the step would need."""
        if not written:
            return 1.0
        case, own = self.mine.cases[which], self.mine.own(which)
        singles = [s for c in changes for s in c.singles]
        charged = [c for c in self.mine.charged if not any(c.touches(x) for x in singles)]
        results = run(case, [*charged, *singles], own)
        if results is None:
            return 0.0

        def share_of(index: int) -> float:
            law = next((c.law for c in singles if c.law is not None and c.step == index), None)
            needed = {s.name for s in (law or case.steps[index].solved).free_symbols}
            share = 1.0
            for used in case.steps[index].inputs:
                if used.constant is not None or used.symbol not in needed:
                    continue
                value = input_value(case, index, used, results, [*charged, *singles], own)
                if not any(close(abs(w), abs(value), 0.01) for w in written):
                    share *= MISSING_NUMBER if used.step is None else share_of(used.step)
                elif used.unit in SIGNED_UNITS and not any(close(w, value, 0.01) for w in written):
                    share *= MISSING_SIGN
            return share

        return share_of(step)

    def _miscopied(self, which: int, step: int, written: Sequence[float]) -> Iterator[Change]:
        """A number of the line that no input has, in the place of a given that is not there."""
        if not written:
            return
        case = self.mine.cases[which]
        results = run(case, tuple(self.mine.charged), self.mine.own(which))
        if results is None:
            return
        inputs = [i for s in sorted(self.mine.upstream(which, step)) for i in case.steps[s].inputs]
        strange = [
            w for w in written
            if not any(close(abs(w), abs(i.value), 5e-3) for i in inputs)
        ]  # fmt: skip
        absent = [
            i for i in inputs
            if i.given is not None and not any(close(abs(w), abs(i.value), 5e-3) for w in written)
        ]  # fmt: skip
        for used in case.steps[step].inputs:
            if used.constant is None or any(close(abs(w), abs(used.value), 5e-3) for w in written):
                continue
            for number in strange:
                note = f"{used.symbol} is not {number:g}"
                yield Change("constant-mistaken", note, 0.1, step, symbol=used.symbol, value=number)
        for used in absent:
            assert used.given is not None
            stated = self.mine.question.givens[used.given].quantity
            for number in strange:
                if not stated.value or not number or _power_apart(number, stated.value):
                    continue
                note = f"{stated.text} is copied as {number:g}"
                prior = NEAR_MISCOPY if _digits_near(number, stated) else 0.05
                for value in {math.copysign(number, stated.value), number}:
                    yield Change("given-miscopied", note, prior, given=used.given, value=value)


# --- helpers --------------------


def _subtracted(relation: Relation, expression: sympy.Expr) -> list[int]:
    """Leaves behind a minus of the line ("-3.6-4.8" takes 4.8 away)."""
    values = leaf_values(relation)
    whole = evaluate(expression, values)
    found = []
    for leaf in leaves(expression):
        value = relation.quantities[leaf].value
        more = evaluate(expression, {**values, f"#{leaf}": value * 1.001 + 1e-30})
        if whole is not None and more is not None and value and (more - whole) / value < 0:
            found.append(leaf)
    return found


def _less_a_square(explanation: Explanation) -> Explanation:
    """Where the line above shows the root, the root went missing, not the square."""
    square = explanation.changes[0].slip == "distance-not-squared"
    return replace(explanation, score=0.5 * explanation.score) if square else explanation


def _power_apart(first: float, second: float) -> bool:
    ratio = abs(first / second)
    power = round(math.log10(ratio)) if ratio else 0
    return close(ratio, 10.0**power, 1e-6)


def _digits_near(number: float, stated: Quantity) -> bool:
    digits = re.sub(r"\D", "", f"{abs(number):.6e}".split("e")[0]).rstrip("0")
    return nearly_same_digits(stated.mantissa, digits)


def nearly_same_digits(first: str, second: str) -> bool:
    """One digit changed, two neighbours exchanged, or one digit more or less."""
    a = re.sub(r"\D", "", first).strip("0")
    b = re.sub(r"\D", "", second).strip("0")
    if len(a) < 2 or len(b) < 2 or a == b:
        return False
    if len(a) == len(b):
        wrong = [i for i in range(len(a)) if a[i] != b[i]]
        if len(wrong) == 1:
            return True
        return len(wrong) == 2 and wrong[1] == wrong[0] + 1 and a[wrong[0]] == b[wrong[1]] and (
            a[wrong[1]] == b[wrong[0]]
        )  # fmt: skip
    longer, shorter = (a, b) if len(a) > len(b) else (b, a)
    return len(longer) == len(shorter) + 1 and any(
        longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer))
    )


def leaf_values(relation: Relation) -> dict[str, float]:
    return {f"#{i}": q.value for i, q in enumerate(relation.quantities)}
