"""What a written side is worth, and the shapes of formulas and substitutions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import sympy

from parser.expression import single_quantity, unit_quantity
from parser.worksheet import Quantity, Relation, Side
from solver.explain import leaf_values, nearly_same_digits
from solver.formulas import may_measure
from solver.numeric import close, evaluate
from solver.slips import Case, Change, has_root


def side_value(relation: Relation, side: Side) -> float | None:
    """A numeric side in SI; bare numbers count as SI."""
    single = single_quantity(relation, side)
    if single is not None:
        return single.value
    if side.expression is None:
        return None
    value = evaluate(side.expression, leaf_values(relation))
    if value is None:
        return None
    return value * unit_factor(side.unit)


def unit_factor(unit: str) -> float:
    quantity = unit_quantity(unit) if unit else None
    return quantity.value if quantity is not None else 1.0


def copied_givens(written: Mapping[int, Quantity], stated: Sequence[Quantity]) -> dict[int, int]:
    """Which bare numbers copy which prefixed quantity, digit for digit first, each one once."""
    found: dict[int, int] = {}

    def pair(fits: Callable[[Quantity, Quantity], bool]) -> None:
        for leaf, quantity in written.items():
            for which, one in enumerate(stated):
                usable = one.prefix and one.written_value and which not in found.values()
                if usable and leaf not in found and fits(quantity, one):
                    found[leaf] = which

    pair(lambda q, one: q.mantissa == one.mantissa and not q.exponent)
    pair(lambda q, one: close(abs(one.written_value), abs(q.value), 1e-9))
    pair(
        lambda q, one: (
            nearly_same_digits(one.mantissa, q.mantissa)
            and bool(q.value)
            and abs(math.log10(abs(one.written_value / q.value))) < 1
        )
    )
    return found


def is_change(solved: sympy.Expr) -> bool:
    """after - before"""
    signs = sorted(term.as_coeff_Mul()[0] for term in sympy.Add.make_args(solved))
    return signs == [-1, 1]


def misnames_root(change: Change, left: sympy.Expr, case: Case) -> bool:
    """ "r=kQQ/F" lacks a root, "F=kQQ/r" a square, though both give the same wrong distance."""
    step = case.steps[change.step or 0]
    if step.unit != "m" or not has_root(step.solved):
        return False
    solved_for = bool(left.is_Symbol) and may_measure(left.name, "m")
    return change.slip == ("distance-not-squared" if solved_for else "root-not-taken")


def power_of_symbol(expression: sympy.Expr) -> tuple[str, int] | None:
    """("r", 2) for r**2."""
    if expression.is_Pow and expression.base.is_Symbol and expression.exp.is_Integer:
        name = expression.base.name
        if not name.startswith("#") and expression.exp > 1:
            return name, int(expression.exp)
    return None


def solve_monomial(
    expression: sympy.Expr, number: sympy.Expr, symbol: str, values: Mapping[str, float]
) -> float | None:
    """x from expression(x) = number where expression is c·x^p; None for any other shape."""
    ones = evaluate(expression, {**values, symbol: 1.0})
    twos = evaluate(expression, {**values, symbol: 2.0})
    fours = evaluate(expression, {**values, symbol: 4.0})
    wanted = evaluate(number, values)
    if not ones or not twos or not fours or not wanted:
        return None
    if twos / ones <= 0 or not close(twos / ones, fours / twos, 1e-9):
        return None
    power = math.log2(twos / ones)
    ratio = wanted / ones
    if not power:
        return None
    if ratio < 0:
        return -((-ratio) ** (1 / power)) if close(power, round(power), 1e-9) else None
    return ratio ** (1 / power)
