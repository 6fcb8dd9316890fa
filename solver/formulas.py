"""Is a written formula one of a derivation's laws, in any arrangement and with any usual symbols?

Symbols are paired by the kind of quantity their letter usually stands for; the pairing is tried
on random numbers that satisfy the law. That is fast, and blind to how the formula is arranged.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import sympy

from parser.expression import written_symbols
from parser.worksheet import Relation
from solver.findings import Step
from solver.numeric import close, evaluate
from solver.slips import Case
from solver.units import same_dimension

# What a letter usually stands for, as SI units (common practice, no source).
LETTER_UNITS: dict[str, tuple[str, ...]] = {
    "Q": ("C", "J"), "q": ("C",), "e": ("C",), "k": ("N*m**2/C**2", "N/m"),
    "K": ("N*m**2/C**2", "J"), "r": ("m",), "d": ("m",), "x": ("m",), "y": ("m",), "s": ("m",),
    "l": ("m",), "ℓ": ("m",), "L": ("m",), "h": ("m", "J*s"), "a": ("m/s**2", "m"),
    "b": ("m",), "D": ("m",), "R": ("m", "ohm"), "F": ("N",), "f": ("N", "Hz"), "T": ("N", "s"),
    "W": ("J", "N"), "w": ("N", "J"), "E": ("N/C", "V/m", "J"), "V": ("V", "J"), "v": ("m/s", "V"),
    "U": ("J", "V"), "u": ("m/s", "J"), "φ": ("V",), "m": ("kg",), "M": ("kg",),
    "g": ("m/s**2", "N/kg"), "G": ("N",), "t": ("s",), "n": ("dimensionless",),
    "N": ("dimensionless", "N"), "Z": ("dimensionless",), "C": ("F",), "c": ("m/s", "F"),
    "A": ("m**2",), "σ": ("C/m**2",), "λ": ("C/m", "m"), "p": ("kg*m/s",), "P": ("W",),
    "I": ("A",), "i": ("A",), "θ": ("rad", "dimensionless"), "α": ("rad", "dimensionless"),
    "ρ": ("kg/m**3",), "ε": ("F/m", "dimensionless", "C**2/N/m**2"), "κ": ("dimensionless",),
}  # fmt: skip
MOST_PAIRINGS = 3000
DRAWS = 2


@dataclass(frozen=True)
class Slot:
    """A quantity that a written symbol may stand for, with its unit and value in one draw."""

    key: tuple[object, ...]
    unit: str


def letter_of(symbol: str) -> str:
    """ "ΔV_{AB}" -> "V": the letter that says what kind of quantity a symbol is."""
    bare = symbol.lstrip("ΔΣ")
    return bare[:1]


def subscript_of(symbol: str) -> str:
    match = re.search(r"_\{(.*)\}", symbol)
    return match.group(1) if match else ""


@lru_cache(maxsize=4096)
def may_measure(symbol: str, unit: str) -> bool:
    """May a written symbol stand for a quantity with this unit?"""
    known = LETTER_UNITS.get(letter_of(symbol))
    return known is None or any(same_dimension(u, unit) for u in known)


def states_law(
    relation: Relation,
    left: sympy.Expr,
    right: sympy.Expr,
    case: Case,
    changed: Mapping[int, sympy.Expr] | None = None,
) -> int | None:
    """Index of the last step whose law ``left = right`` states, None when it states none.

    ``changed`` puts other expressions in the place of steps' laws, to ask whether the formula is
    a certain wrong one. A formula that joins several steps counts for the last of them.
    """
    symbols = sorted({*written_symbols(left), *written_symbols(right)})
    if len(symbols) < 2:
        return None
    residuals = [(left, right, relation)]
    for index in range(len(case.steps) - 1, -1, -1):
        if changed is not None and index not in changed:
            continue
        if _holds(residuals, symbols, _single_step_draws(case.steps[index], case, index, changed)):
            return index
    if changed is None and len(case.steps) > 1:
        draws = _whole_draws(case)
        for index in range(len(case.steps) - 1, -1, -1):
            if _holds(residuals, symbols, draws, must=("step", index)):
                return index
    return None


def states_total(relation: Relation, left: sympy.Expr, right: sympy.Expr, case: Case) -> bool:
    """Does "left = right" name the sum that a step goes on to divide?"""
    for index, step in enumerate(case.steps):
        top, bottom = step.solved.as_numer_denom()
        divided = top.is_Add and bottom != 1
        if divided and states_law(relation, left, right, case, {index: top}) is not None:
            return True
    return False


Draw = dict[Slot, float]


def _single_step_draws(
    step: Step, case: Case, index: int, changed: Mapping[int, sympy.Expr] | None
) -> list[Draw]:
    law = (changed or {}).get(index, step.solved)
    draws = []
    for seed in range(DRAWS):
        rng = random.Random(seed)
        values: dict[str, float] = {}
        drawn: dict[float, float] = {}
        for used in step.inputs:
            if used.constant is not None or _is_plain_number(used):
                values[used.symbol] = used.value
            else:
                size = round(abs(used.value), 15) if used.value else 0.0
                values[used.symbol] = drawn.setdefault(size, rng.uniform(1.1, 2.9))
        result = evaluate(law, values)
        if result is None:
            return []
        draw = {Slot((index, i.symbol), i.unit): values[i.symbol] for i in step.inputs}
        draw[Slot(("step", index), step.unit)] = result
        draws.append(draw)
    return draws


def _is_plain_number(used: object) -> bool:
    """A count or factor that the situation supplies."""
    return (
        getattr(used, "given", None) is None
        and getattr(used, "step", None) is None
        and getattr(used, "earlier", None) is None
    )


def _whole_draws(case: Case) -> list[Draw]:
    """Random givens carried through every step."""
    draws = []
    for seed in range(DRAWS):
        rng = random.Random(seed + 10)
        scale: dict[object, float] = {}
        draw: Draw = {}
        results: list[float] = []
        for index, step in enumerate(case.steps):
            values = {}
            for used in step.inputs:
                if used.step is not None:
                    right = case.steps[used.step].value
                    values[used.symbol] = (
                        used.value * results[used.step] / right if right else results[used.step]
                    )
                    continue
                if used.constant is not None or _is_plain_number(used):
                    values[used.symbol] = used.value
                else:
                    source = used.given if used.given is not None else used.earlier
                    factor = scale.setdefault(source, rng.uniform(0.7, 1.4))
                    values[used.symbol] = used.value * factor
                draw[Slot((index, used.symbol), used.unit)] = values[used.symbol]
            result = evaluate(step.solved, values)
            if result is None:
                return []
            results.append(result)
            draw[Slot(("step", index), step.unit)] = result
        draws.append(draw)
    return draws


def _holds(
    residuals: Sequence[tuple[sympy.Expr, sympy.Expr, Relation]],
    symbols: Sequence[str],
    draws: Sequence[Draw],
    must: tuple[object, ...] | None = None,
) -> bool:
    if not draws:
        return False
    slots = list(draws[0])
    for pairing in _pairings(symbols, slots, must):
        if all(
            _satisfied(left, right, relation, pairing, draw)
            for left, right, relation in residuals
            for draw in draws
        ):
            return True
    return False


def _pairings(
    symbols: Sequence[str], slots: Sequence[Slot], must: tuple[object, ...] | None
) -> Iterator[dict[str, Slot]]:
    choices: list[list[Slot | None]] = []
    for symbol in symbols:
        if letter_of(symbol) == "ε" and any(_is_coulomb(s.unit) for s in slots):
            choices.append([None])  # 1/(4πε_0) stands for k
            continue
        fitting: list[Slot | None] = [s for s in slots if may_measure(symbol, s.unit)]
        if not fitting:
            return
        choices.append(fitting)
    tried = 0
    for picked in product(*choices):
        tried += 1
        if tried > MOST_PAIRINGS:
            return
        used = [p for p in picked if p is not None]
        if len({p.key for p in used}) < len(used):
            continue
        if must is not None and all(p.key != must for p in used):
            continue
        yield {s: p for s, p in zip(symbols, picked, strict=True) if p is not None}


def _is_coulomb(unit: str) -> bool:
    return same_dimension(unit, "N*m**2/C**2")


def _satisfied(
    left: sympy.Expr,
    right: sympy.Expr,
    relation: Relation,
    pairing: Mapping[str, Slot],
    draw: Draw,
) -> bool:
    values = {symbol: draw[slot] for symbol, slot in pairing.items()}
    for slot, value in draw.items():
        if _is_coulomb(slot.unit) and value:
            values.update(
                dict.fromkeys(("ε", "ε_{0}", "ε_{o}"), 1 / (4 * 3.141592653589793 * value))
            )
    for index, quantity in enumerate(relation.quantities):
        values[f"#{index}"] = quantity.value
    first, second = evaluate(left, values), evaluate(right, values)
    if first is None or second is None:
        return False
    return close(abs(first), abs(second), 2e-3 if relation.quantities else 1e-6)
