"""Fast evaluation of sympy expressions over named values, and closeness of numbers as written.

sympy's own substitution is far too slow for a search over slips; an expression is turned once
into nested closures and kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import lru_cache

import sympy

Evaluator = Callable[[Mapping[str, float]], float]

_UNARY: dict[type, Callable[[float], float]] = {
    sympy.Abs: abs,
    sympy.sin: math.sin,
    sympy.cos: math.cos,
    sympy.tan: math.tan,
    sympy.asin: math.asin,
    sympy.acos: math.acos,
    sympy.atan: math.atan,
    sympy.exp: math.exp,
    sympy.log: math.log,
    sympy.sign: lambda x: (x > 0) - (x < 0),
}


@lru_cache(maxsize=20_000)
def compiled(expression: sympy.Expr) -> Evaluator:
    """A function from symbol values (by name) to the expression's value."""
    if expression.is_Symbol:
        name = expression.name
        return lambda values: values[name]
    if expression.is_number and not expression.free_symbols:
        number = float(expression)
        return lambda values: number
    parts = [compiled(a) for a in expression.args]
    if expression.is_Add:
        return lambda values: math.fsum(p(values) for p in parts)
    if expression.is_Mul:
        return lambda values: math.prod(p(values) for p in parts)
    if expression.is_Pow:
        base, power = parts
        return lambda values: base(values) ** power(values)
    if type(expression) in _UNARY:
        apply = _UNARY[type(expression)]
        inner = parts[0]
        return lambda values: apply(inner(values))
    if isinstance(expression, sympy.Max | sympy.Min):
        pick = max if isinstance(expression, sympy.Max) else min
        return lambda values: pick(p(values) for p in parts)
    if isinstance(expression, sympy.atan2):
        return lambda values: math.atan2(parts[0](values), parts[1](values))
    names = sorted(s.name for s in expression.free_symbols)
    plain = sympy.lambdify([sympy.Symbol(n) for n in names], _plain_symbols(expression), "math")
    return lambda values: plain(*(values[n] for n in names))


def _plain_symbols(expression: sympy.Expr) -> sympy.Expr:
    return expression.xreplace({s: sympy.Symbol(s.name) for s in expression.free_symbols})


def evaluate(expression: sympy.Expr, values: Mapping[str, float]) -> float | None:
    """The expression's value, or None where it has no finite real one or a value is missing."""
    try:
        result = compiled(expression)(values)
    except (ArithmeticError, ValueError, KeyError, TypeError):
        return None
    if isinstance(result, complex) or not math.isfinite(result):
        return None
    return float(result)


def close(a: float, b: float, relative: float) -> bool:
    """Equal within a relative tolerance (of the larger)."""
    return abs(a - b) <= relative * max(abs(a), abs(b))
