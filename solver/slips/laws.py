"""Slips in the law: squares and roots, vectors, sharing, a wrong or wrongly rearranged formula.

Each function lists the concrete changes that its slip could make to a derivation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import sympy

from solver.findings import Step
from solver.numeric import evaluate
from solver.slips.changes import Case, Change, has_root, is_sharing


def _powers(case: Case) -> Iterator[tuple[int, Step, sympy.Pow]]:
    for index, step in enumerate(case.steps):
        for power in sorted(step.solved.atoms(sympy.Pow), key=str):
            yield index, step, power


def _is_length(step: Step, expression: sympy.Expr) -> bool:
    units = {i.symbol: i.unit for i in step.inputs}
    return any(units.get(s.name) == "m" for s in expression.free_symbols)


def not_squared(slip: str, length: bool) -> Callable[[Case], Iterator[Change]]:
    def changes(case: Case) -> Iterator[Change]:
        for index, step, power in _powers(case):
            if power.exp in (2, -2) and _is_length(step, power.base) is length:
                law = step.solved.xreplace({power: power.base ** (power.exp / 2)})
                what = "distance" if length else str(power.base)
                yield Change(slip, f"the {what} is not squared", 1, index, law=law)
        for index, step in enumerate(case.steps):
            if length and step.unit == "m" and has_root(step.solved):
                law = sympy.powdenest(step.solved**2, force=True)
                yield Change(slip, "the distance is not squared", 0.9, index, law=law)

    return changes


def root_not_taken(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if has_root(step.solved):
            law = sympy.powdenest(step.solved**2, force=True)
            yield Change("root-not-taken", "the square root is not taken", 1, index, law=law)
    for index, step, power in _powers(case):
        if power.exp in (sympy.Rational(1, 2), sympy.Rational(-1, 2)):
            law = step.solved.xreplace({power: power.base ** (2 * power.exp)})
            yield Change("root-not-taken", "the square root is not taken", 1, index, law=law)


def doubled_for_squared(case: Case) -> Iterator[Change]:
    for index, step, power in _powers(case):
        if power.exp in (2, -2):
            law = step.solved.xreplace({power: (2 * power.base) ** (power.exp / 2)})
            note = "it is doubled where it should be squared"
            yield Change("doubled-for-squared", note, 1, index, law=law)


def added_for_multiplied(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if not step.solved.is_Mul:
            continue
        factors = [_symbol(step, i.symbol) for i in step.inputs if i.unit == "C" and not i.constant]
        symbols = [f for f in factors if f is not None]
        if len(symbols) == 2 and all(step.solved.as_powers_dict().get(f) == 1 for f in symbols):
            law = step.solved.subs(symbols[0], 1).subs(symbols[1], 1) * (symbols[0] + symbols[1])
            note = "the charges are added where they should be multiplied"
            yield Change("added-for-multiplied", note, 1, index, law=law)


VECTOR_UNITS = frozenset({"N", "N/C", "V/m", "m/s", "m/s**2", "kg*m/s", "m"})


def _sums(case: Case) -> Iterator[tuple[int, Step, sympy.Add]]:
    for index, step in enumerate(case.steps):
        for total in sorted(step.solved.atoms(sympy.Add), key=str):
            if len(total.args) >= 2 and any(a.free_symbols for a in total.args):
                yield index, step, total


def _term_values(case: Case, step: Step, total: sympy.Add) -> list[tuple[sympy.Expr, float]]:
    values = {i.symbol: i.value for i in step.inputs}
    found = [(term, evaluate(term, values)) for term in total.args]
    return [(term, value) for term, value in found if value is not None]


def opposing_added(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        terms = _term_values(case, step, total)
        if step.unit not in VECTOR_UNITS or len(terms) < 2:
            continue
        if min(v for _, v in terms) < 0 < max(v for _, v in terms):
            flipped = sum((-t if v < 0 else t for t, v in terms), start=sympy.Integer(0))
            law = step.solved.xreplace({total: flipped})
            note = "they point in opposite directions and are added"
            yield Change("opposing-forces-added", note, 1, index, law=law)


def like_subtracted(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        terms = _term_values(case, step, total)
        same_way = all(v > 0 for _, v in terms) or all(v < 0 for _, v in terms)
        if step.unit not in VECTOR_UNITS or len(terms) != 2 or not same_way:
            continue
        first, second = terms[0][0], terms[1][0]
        if _is_pythagoras(step.solved, total):
            continue
        law = step.solved.xreplace({total: first - second})
        note = "they point in the same direction and are subtracted"
        yield Change("like-forces-subtracted", note, 1, index, law=law)


def _is_pythagoras(solved: sympy.Expr, total: sympy.Add) -> bool:
    squares = all(any(p.exp == 2 for p in t.atoms(sympy.Pow)) for t in total.args)
    return squares and any(
        p.exp == sympy.Rational(1, 2) and p.base == total for p in solved.atoms(sympy.Pow)
    )


def right_angle_added(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if _is_pythagoras(step.solved, total):
            plain = sum((sympy.Abs(sympy.sqrt(t)) for t in total.args), start=sympy.Integer(0))
            law = step.solved.xreplace({sympy.sqrt(total): plain})
            note = "they are at right angles and are added as if on one line"
            yield Change("right-angle-forces-added", note, 1, index, law=law)


def pythagoras_misused(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if step.unit in VECTOR_UNITS and step.solved == total and len(total.args) == 2:
            law = sympy.sqrt(sum((t**2 for t in total.args), start=sympy.Integer(0)))
            note = "they lie on one line; Pythagoras does not apply"
            yield Change("pythagoras-misused", note, 1, index, law=law)


def components_swapped(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        swaps: dict[sympy.Basic, sympy.Basic] = {}
        for function in step.solved.atoms(sympy.sin, sympy.cos):
            other = sympy.cos if isinstance(function, sympy.sin) else sympy.sin
            swaps[function] = other(*function.args)
        for function in step.solved.atoms(sympy.tan):
            swaps[function] = 1 / function
        if swaps:
            note = "sine and cosine are exchanged"
            yield Change("components-swapped", note, 1, index, law=step.solved.xreplace(swaps))


def halving_forgotten(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if not is_sharing(step):
            continue
        for law in _without_division(step):
            note = "the total is not shared among the spheres"
            yield Change("halving-forgotten", note, 1, index, law=law)


def _without_division(step: Step) -> Iterator[sympy.Expr]:
    """The step without its division by a number or by a count."""
    number, rest = step.solved.as_coeff_Mul()
    if number not in (1, -1):
        yield rest * sympy.sign(number)
    totals = [t for t in step.solved.atoms(sympy.Add) if len(t.args) >= 2]
    if (
        step.solved.is_Add
        and number == 1
        and all(t.as_coeff_Mul()[0] != 1 for t in step.solved.args)
    ):
        common = step.solved.args[0].as_coeff_Mul()[0]
        yield step.solved / common
    counts = [i.symbol for i in step.inputs if i.unit == "dimensionless" and i.step is None]
    for total in totals:
        for symbol in step.solved.free_symbols - total.free_symbols:
            if symbol.name in counts:
                yield step.solved.xreplace({symbol: sympy.Integer(1)})


def bracket_left_out(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        yield from _sum_bracket(index, step)
        yield from _divisor_bracket(index, step)


def _sum_bracket(index: int, step: Step) -> Iterator[Change]:
    """(a + b)/n keyed as a + b/n, or as a/n + b."""
    expanded = sympy.expand(step.solved)
    number = None
    if expanded.is_Add:
        numbers = {t.as_coeff_Mul()[0] for t in expanded.args}
        if len({abs(n) for n in numbers}) == 1:
            number = abs(next(iter(numbers)))
    if number is None or number == 1:
        return
    for kept in expanded.args:
        law = sum((t if t is kept else t / number for t in expanded.args), start=sympy.Integer(0))
        note = "only one of the terms is divided"
        yield Change("bracket-left-out", note, 1, index, law=law)


def _divisor_bracket(index: int, step: Step) -> Iterator[Change]:
    """a/(b·c) keyed as a/b·c."""
    _, bottom = step.solved.as_numer_denom()
    factors = [f for f in sympy.Mul.make_args(bottom) if f.free_symbols]
    if len(factors) < 2:
        return
    for factor in factors:
        note = f"{factor} under the line is multiplied"
        law = step.solved * factor**2
        yield Change("bracket-left-out", note, 1, index, law=law)


def charges_subtracted(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if step.unit == "C" and len(total.args) == 2 and all(a.free_symbols for a in total.args):
            first, second = total.args
            for law in (first - second, second - first):
                note = "the charges are subtracted instead of added"
                yield Change(
                    "charges-subtracted", note, 1, index, law=step.solved.xreplace({total: law})
                )


def transfer_for_final(case: Case) -> Iterator[Change]:
    """The change of one charge instead of the charge it ends with, and the other way round."""
    for index, step in enumerate(case.steps):
        if not is_sharing(step):
            continue
        for symbol in sorted(step.solved.free_symbols, key=str):
            if any(i.symbol == symbol.name and i.unit == "C" for i in step.inputs):
                note = "this is the charge that moved, not the charge that is left"
                yield Change("transfer-for-final", note, 1, index, law=step.solved - symbol)


def field_for_force(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        charges = [i for i in step.inputs if i.unit == "C" and i.constant is None]
        if step.unit != "N" or not charges or step.solved.is_Add:
            continue
        for used in charges:
            symbol = _symbol(step, used.symbol)
            if symbol is None:
                continue
            law = step.solved.subs(symbol, 1)
            note = f"one charge is left out: this is a field, not a force ({used.symbol})"
            yield Change("field-for-force", note, 1, index, law=law)


def _symbol(step: Step, name: str) -> sympy.Symbol | None:
    return next((s for s in step.solved.free_symbols if s.name == name), None)


def force_for_field(case: Case) -> Iterator[Change]:
    charges = case.of_unit("C")
    for index, step in enumerate(case.steps):
        if step.unit not in ("N/C", "V/m"):
            continue
        used = {i.given for i in step.inputs}
        for given, stated in charges:
            if given not in used:
                law = step.solved * abs(stated.quantity.value)
                note = "the test charge does not belong in the field"
                yield Change("force-for-field", note, 1, index, law=law)


def potential_for_energy(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if step.unit != "J" or step.solved.is_Add:
            continue
        for used in step.inputs:
            symbol = _symbol(step, used.symbol)
            if used.unit == "C" and symbol is not None:
                law = step.solved.subs(symbol, 1)
                note = "this is a potential; the charge is left out"
                yield Change("potential-for-energy", note, 1, index, law=law)


def constant_left_out(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        for used in step.inputs:
            symbol = _symbol(step, used.symbol)
            if used.constant is not None and symbol is not None:
                law = step.solved.subs(symbol, 1)
                note = f"the constant {used.symbol} is left out"
                yield Change("constant-left-out", note, 1, index, law=law)


def half_left_out(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if is_sharing(step):
            continue
        number, rest = step.solved.as_coeff_Mul()
        if number not in (1, -1, 0):
            note = f"the factor {abs(number)} is left out"
            yield Change("factor-left-out", note, 1, index, law=rest * sympy.sign(number))
        for power in step.solved.atoms(sympy.Pow):
            inner, rest = power.base.as_coeff_Mul()
            if inner not in (1, -1) and inner.is_Rational and rest.free_symbols:
                law = step.solved.xreplace({power: rest**power.exp})
                note = f"the factor {inner} is left out"
                yield Change("factor-left-out", note, 1, index, law=law)
        for power in step.solved.atoms(sympy.Pow):
            if power.base.is_Integer and power.exp.is_Rational and power.exp.q == 2:
                law = step.solved.xreplace({power: sympy.Integer(1)})
                note = f"the factor {power.base} is left out"
                yield Change("factor-left-out", note, 1, index, law=law)


def sheet_for_plates(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if any(i.unit == "C/m**2" for i in step.inputs) and step.unit in ("N/C", "V/m"):
            for factor in (sympy.Rational(1, 2), sympy.Integer(2)):
                note = "one sheet and a pair of plates are exchanged"
                yield Change("sheet-for-plates", note, 1, index, law=step.solved * factor)


def series_for_parallel(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        parts = [i for i in step.inputs if i.unit == step.unit and step.unit in ("F", "ohm")]
        if len(parts) < 2 or len(parts) != len(step.inputs):
            continue
        symbols = [s for s in (_symbol(step, i.symbol) for i in parts) if s is not None]
        total = sum(symbols, start=sympy.Integer(0))
        inverse = 1 / sum((1 / s for s in symbols), start=sympy.Integer(0))
        law = inverse if step.solved == total else total
        note = "series and parallel are exchanged"
        yield Change("series-for-parallel", note, 1, index, law=law)
        if step.solved != total:
            note = "the reciprocal is not turned back"
            yield Change("reciprocal-not-taken", note, 1, index, law=1 / inverse)


def rearranged_wrongly(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if not step.solved.is_Mul and not (step.solved.is_Pow and step.solved.exp == -1):
            continue
        for used in step.inputs:
            symbol = _symbol(step, used.symbol)
            if symbol is None:
                continue
            power = step.solved.as_powers_dict().get(symbol, 0)
            if power in (1, -1):
                law = step.solved * symbol ** (-2 * power)
                what = "multiplied" if power == -1 else "divided"
                note = f"{used.symbol} is {what} where it should be {_other(what)}"
                yield Change("rearranged-wrongly", note, 1, index, law=law)
        top, bottom = step.solved.as_numer_denom()
        if top.free_symbols and bottom.free_symbols:
            note = "the fraction is upside down"
            yield Change("rearranged-wrongly", note, 0.7, index, law=bottom / top)


def _other(what: str) -> str:
    return "divided" if what == "multiplied" else "multiplied"
