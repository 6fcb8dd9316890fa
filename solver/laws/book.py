"""What a law is, and how it is turned round for each of its symbols."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import sympy


@dataclass(frozen=True)
class Law:
    """One law as data.

    ``symbols`` maps each symbol to the kind of quantity it stands for; ``constants`` maps
    symbols to names in ``solver.constants``. ``equation`` is "left = right" in plain algebra.
    ``magnitudes`` are symbols put in without their sign. ``needs`` are fact names that must
    hold, ``unless`` fact names that must not.
    """

    name: str
    equation: str
    symbols: Mapping[str, str]
    source: str
    validity: str = ""
    constants: Mapping[str, str] = field(default_factory=dict)
    magnitudes: frozenset[str] = frozenset()
    needs: frozenset[str] = frozenset()
    unless: frozenset[str] = frozenset()
    cost: float = 1.0

    def __hash__(self) -> int:
        return hash(self.name)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Law) and other.name == self.name


@lru_cache(maxsize=4096)
def symbol(name: str) -> sympy.Symbol:
    """The sympy symbol of a name; real, so that signs survive."""
    return sympy.Symbol(name, real=True)


@lru_cache(maxsize=1024)
def equation_of(law: Law) -> sympy.Eq:
    """The law as a sympy equation."""
    left, right = law.equation.split("=")
    names = {name: symbol(name) for name in (*law.symbols, *law.constants)}
    return sympy.Eq(
        sympy.sympify(left, locals=names), sympy.sympify(right, locals=names), evaluate=False
    )


@dataclass(frozen=True)
class Rearranged:
    """One way to write a symbol in terms of the others, and a fast function of them."""

    expression: sympy.Expr
    names: tuple[str, ...]
    function: Callable[..., object]


@lru_cache(maxsize=4096)
def rearranged(law: Law, unknown: str) -> tuple[Rearranged, ...]:
    """Every solution of the law for ``unknown`` (two for a quadratic)."""
    equation = equation_of(law)
    target = symbol(unknown)
    if equation.lhs == target and target not in equation.rhs.free_symbols:
        solutions = [equation.rhs]
    else:
        positive = {s: sympy.Symbol(s.name, positive=True) for s in equation.free_symbols}
        back = {p: s for s, p in positive.items()}
        signed = {s for s in equation.free_symbols if s.name in _SIGNED}
        plain = {s: (s if s in signed else p) for s, p in positive.items()}
        solutions = [
            sympy.simplify(x).xreplace(back)
            for x in sympy.solve(equation.xreplace(plain), plain[target])
        ]
    out = []
    for expression in solutions:
        names = tuple(sorted(s.name for s in expression.free_symbols))
        function = sympy.lambdify([symbol(n) for n in names], expression, "math")
        out.append(Rearranged(expression, names, function))
    return tuple(out)


# symbols whose sign matters when a law is turned round (velocities, accelerations, ...)
_SIGNED = frozenset({"u", "v", "a", "s", "W", "U", "Q", "V", "F_net", "v_1", "v_2", "E_k", "V_f"})
