"""The catalogue of slips, and the search for those that explain what a learner wrote.

A slip transforms a derivation: a leaf (a given, a constant), a law (one step's expression) or the
written answer. ``CATALOGUE`` holds one entry a slip: its stable name, a sentence for the learner,
a hint that does not give the answer, how common it is, and the function that lists the concrete
``Change``s it could make to a derivation. ``search`` tries them, fewest and likeliest first.

Sources name the published account of a slip; the rest is common practice, no source. Priors are
relative frequencies by our judgement, no source: they only order explanations that fit equally.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Literal

import sympy

from parser.worksheet import Given, Question
from solver.findings import Derivation, Expected, Input, Step
from solver.numeric import close, evaluate

COMMON = "common practice, no source"


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
class Slip:
    """One entry of the catalogue."""

    name: str
    acts_on: Literal["leaf", "law", "answer", "writing"]
    explanation: str
    hint: str
    prior: float
    changes: Callable[[Case], Iterator[Change]] = field(repr=False)
    source: str = COMMON


# --- running a derivation with slips in it --------------------


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


# --- what each slip can do to a derivation --------------------


def _number(value: float) -> str:
    return f"{value:g}"


def _written(given: Given) -> str:
    """A given as the question writes it, without its direction."""
    quantity = given.quantity
    if quantity.direction is None:
        return quantity.text
    return f"{quantity.written_value:g} {quantity.written_unit}".strip()


def _signs_dropped(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.value < 0 and used.value < 0:
            note = f"the minus sign of {_written(given)} is gone"
            yield Change("sign-dropped", note, 1, step, used.given, value=-given.quantity.value)


def _signs_added(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.value > 0 and given.quantity.unit == "C" and used.value > 0:
            note = f"{_written(given)} is positive"
            yield Change("sign-added", note, 1, step, used.given, value=-given.quantity.value)


def _sign_of_result(case: Case) -> Iterator[Change]:
    yield Change("sign-reversed", "the sign of the result is turned round", 1, factor=-1.0)


def _unconverted(slip: str, unit: str | None) -> Callable[[Case], Iterator[Change]]:
    def changes(case: Case) -> Iterator[Change]:
        for step, used, given in case.leaves:
            quantity = given.quantity
            length = quantity.unit == "m"
            other = quantity.unit not in ("m", "rad") and not quantity.prefix
            kind = "m" if length else "other" if other else "prefix"
            if kind != unit or not quantity.written_unit or quantity.written_value == 0:
                continue
            if close(quantity.written_value, quantity.value, 1e-9) or used.value == 0:
                continue
            note = f"{_number(abs(quantity.written_value))} is in {_unit_text(given)}"
            yield Change(slip, note, 1, step, used.given, value=quantity.written_value)

    return changes


def _unit_text(given: Given) -> str:
    match = given.quantity.written_unit
    return match.replace("**", "^").replace("*", "·")


def _all_at_once(
    changes: Callable[[Case], Iterator[Change]],
) -> Callable[[Case], Iterator[Change]]:
    """A slip made in one place, and the same slip made in every place where it can be."""

    def either(case: Case) -> Iterator[Change]:
        found = list(changes(case))
        yield from found
        whole = {c.given: c for c in found if c.step is None}
        if len(whole) > 1:
            note = "; ".join(dict.fromkeys(c.note for c in whole.values()))
            yield Change(found[0].slip, note, 0.8, together=tuple(whole.values()))

    return either


def _prefix_mistaken(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        if not quantity.prefix or quantity.unit == "m":
            continue
        for power in (3, -3, 6, -6):
            note = f"{_written(given)} is taken {_times(power)}"
            value = quantity.value * 10.0**power
            prior = 1 if abs(power) == 3 else 0.3
            yield Change("prefix-mistaken", note, prior, step, used.given, value=value)


def _times(power: int) -> str:
    return f"10^{abs(power)} times too {'large' if power > 0 else 'small'}"


def _length_misconverted(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        if quantity.unit != "m" or not quantity.prefix:
            continue
        for power in (1, -1, 2, -2, 3, -3):
            value = quantity.value * 10.0**power
            if close(value, quantity.written_value, 1e-9):
                continue
            note = f"{_written(given)} is taken {_times(power)}"
            prior = 1 if abs(power) == 1 else 0.4
            yield Change("length-unit-misconverted", note, prior, step, used.given, value=value)


def _area_misconverted(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        if quantity.unit in ("m**2", "m**3") and quantity.prefix:
            right = quantity.value / quantity.written_value if quantity.written_value else 1.0
            power = 2 if quantity.unit == "m**2" else 3
            value = quantity.written_value * right ** (1 / power)
            note = f"the conversion of {_written(given)} is not raised to the power {power}"
            yield Change("area-unit-misconverted", note, 1, step, used.given, value=value)


def _exponent_sign_lost(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        power = _power_of_ten(given)
        if power:
            note = f"the sign of the power of ten of {_written(given)} is gone"
            value = quantity.value * 10.0 ** (-2 * power)
            yield Change("exponent-sign-lost", note, 1, step, used.given, value=value)


def _constant_mistaken(case: Case) -> Iterator[Change]:
    """The power of ten of a constant with its sign turned round or lost."""
    for index, used in case.uses:
        if used.constant is None or not used.value:
            continue
        power = math.floor(math.log10(abs(used.value)))
        if abs(power) > 2:
            note = f"the power of ten of {used.symbol} has the wrong sign"
            value = used.value * 10.0 ** (-2 * power)
            yield Change("constant-mistaken", note, 1, index, symbol=used.symbol, value=value)


def _power_of_ten(given: Given) -> int:
    """The power of ten a given has once it is in SI as the learner would write it."""
    quantity = given.quantity
    if not quantity.value or not quantity.written_value:
        return 0
    ratio = quantity.value / quantity.written_value
    prefix = round(math.log10(abs(ratio))) if ratio > 0 else 0
    if ratio <= 0 or not close(10.0**prefix, ratio, 1e-6):
        return 0
    return (quantity.exponent or 0) + prefix


def _exponent_miskeyed(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if not _power_of_ten(given):
            continue
        for power in (1, -1):
            note = f"the power of ten of {_written(given)} is off by one"
            value = given.quantity.value * 10.0**power
            yield Change("exponent-miskeyed", note, 1, step, used.given, value=value)


def _power_not_squared(case: Case) -> Iterator[Change]:
    """(12×10^-2)² keyed as 12²×10^-2."""
    for index, used in case.uses:
        if used.given is None or not _squared(case.steps[index].solved, used.symbol):
            continue
        given = case.question.givens[used.given]
        power = _power_of_ten(given)
        if power:
            value = math.copysign(abs(used.value) * 10.0 ** (-power / 2), used.value)
            note = f"the power of ten of {_written(given)} is not squared with the number"
            yield Change(
                "power-of-ten-not-squared", note, 1, index, symbol=used.symbol, value=value
            )


def _squared(expression: sympy.Expr, symbol: str) -> bool:
    return any(
        p.exp in (2, -2) and any(s.name == symbol for s in p.base.free_symbols)
        for p in expression.atoms(sympy.Pow)
    )


def _power_of_ten_off(case: Case) -> Iterator[Change]:
    for power in (1, -1, 2, -2, 3, -3, 6, -6, 9, -9, 4, -4, 5, -5):
        note = f"the result is {_times(power)}"
        prior = 1 / (1 + 0.5 * abs(power))
        yield Change("power-of-ten-off", note, prior, factor=10.0**power)


def _powers(case: Case) -> Iterator[tuple[int, Step, sympy.Pow]]:
    for index, step in enumerate(case.steps):
        for power in sorted(step.solved.atoms(sympy.Pow), key=str):
            yield index, step, power


def _is_length(step: Step, expression: sympy.Expr) -> bool:
    units = {i.symbol: i.unit for i in step.inputs}
    return any(units.get(s.name) == "m" for s in expression.free_symbols)


def _not_squared(slip: str, length: bool) -> Callable[[Case], Iterator[Change]]:
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


def has_root(expression: sympy.Expr) -> bool:
    """Is an expression as a whole a square root?"""
    powers = [f.as_base_exp() for f in sympy.Mul.make_args(expression) if f.free_symbols]
    return bool(powers) and all(exp.is_Rational and exp.q == 2 for _, exp in powers)


def _root_not_taken(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if has_root(step.solved):
            law = sympy.powdenest(step.solved**2, force=True)
            yield Change("root-not-taken", "the square root is not taken", 1, index, law=law)
    for index, step, power in _powers(case):
        if power.exp in (sympy.Rational(1, 2), sympy.Rational(-1, 2)):
            law = step.solved.xreplace({power: power.base ** (2 * power.exp)})
            yield Change("root-not-taken", "the square root is not taken", 1, index, law=law)


def _doubled_for_squared(case: Case) -> Iterator[Change]:
    for index, step, power in _powers(case):
        if power.exp in (2, -2):
            law = step.solved.xreplace({power: (2 * power.base) ** (power.exp / 2)})
            note = "it is doubled where it should be squared"
            yield Change("doubled-for-squared", note, 1, index, law=law)


def _other_distances(case: Case) -> Iterator[Change]:
    stated = [abs(g.quantity.value) for _, g in case.of_unit("m")]
    totals = [a + b for a, b in combinations(stated, 2)]
    gaps = [abs(a - b) for a, b in combinations(stated, 2)]
    for index, used in case.uses:
        if used.unit != "m":
            continue
        tried = [abs(used.value)]
        for value, prior in [(v, 1.0) for v in stated] + [(v, 0.5) for v in totals + gaps]:
            if value == 0 or any(close(value, t, 1e-9) for t in tried):
                continue
            tried.append(value)
            note = f"{_number(value)} m is not the distance between these two"
            yield Change("wrong-distance", note, prior, index, symbol=used.symbol, value=value)


def _diameter(case: Case) -> Iterator[Change]:
    for index, used in case.uses:
        if used.unit != "m" or used.value == 0:
            continue
        for factor, note in (
            (2.0, "twice the distance is used"),
            (0.5, "half the distance is used"),
        ):
            yield Change(
                "diameter-for-radius", note, 1, index, symbol=used.symbol, value=used.value * factor
            )


def _surface(case: Case) -> Iterator[Change]:
    radii = [g.quantity.value for _, g in case.of_unit("m") if g.kind in ("radius", "diameter")]
    for index, used in case.uses:
        if used.unit != "m" or used.given is not None and len(case.of_unit("m")) < 2:
            continue
        for radius in radii:
            for gap in (radius, 2 * radius, radius / 2):
                value = used.value - gap
                if value > 0:
                    note = "the distance runs from the surface, not from the centre"
                    yield Change(
                        "surface-for-centre", note, 1, index, symbol=used.symbol, value=value
                    )


def _wrong_pair(case: Case) -> Iterator[Change]:
    charges = case.of_unit("C")
    for index, used in case.uses:
        if used.unit != "C" or used.constant is not None or used.given is None:
            continue
        tried = [abs(used.value)]
        for _, other in charges:
            value = other.quantity.value
            if value == 0 or any(close(abs(value), t, 1e-9) for t in tried):
                continue
            tried.append(abs(value))
            note = f"{_written(other)} belongs to another pair"
            yield Change("wrong-pair", note, 1, index, symbol=used.symbol, value=value)


def _before_contact(case: Case) -> Iterator[Change]:
    """The charges given at the start in the place of those found in an earlier part."""
    stated = [g for _, g in case.of_unit("C") if g.stage == 0]
    places = [(i, u) for i, u in case.uses if u.unit == "C" and u.earlier is not None]
    places += [
        (i, u) for i, u in case.uses if u.unit == "C" and u.step is not None and u.constant is None
    ]
    note = "this is the charge before contact"
    singles = [
        Change("earlier-charge-used", note, 1, i, symbol=u.symbol, value=g.quantity.value)
        for i, u in places
        for g in stated
        if not close(abs(g.quantity.value), abs(u.value), 1e-6)
    ]
    yield from singles
    for first, second in combinations(singles, 2):
        if first.step == second.step and first.symbol != second.symbol:
            yield Change("earlier-charge-used", note, 1, together=(first, second))


def _added_for_multiplied(case: Case) -> Iterator[Change]:
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


def _opposing_added(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        terms = _term_values(case, step, total)
        if step.unit not in VECTOR_UNITS or len(terms) < 2:
            continue
        if min(v for _, v in terms) < 0 < max(v for _, v in terms):
            flipped = sum((-t if v < 0 else t for t, v in terms), start=sympy.Integer(0))
            law = step.solved.xreplace({total: flipped})
            note = "they point in opposite directions and are added"
            yield Change("opposing-forces-added", note, 1, index, law=law)


def _like_subtracted(case: Case) -> Iterator[Change]:
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


def _right_angle_added(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if _is_pythagoras(step.solved, total):
            plain = sum((sympy.Abs(sympy.sqrt(t)) for t in total.args), start=sympy.Integer(0))
            law = step.solved.xreplace({sympy.sqrt(total): plain})
            note = "they are at right angles and are added as if on one line"
            yield Change("right-angle-forces-added", note, 1, index, law=law)


def _pythagoras_misused(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if step.unit in VECTOR_UNITS and step.solved == total and len(total.args) == 2:
            law = sympy.sqrt(sum((t**2 for t in total.args), start=sympy.Integer(0)))
            note = "they lie on one line; Pythagoras does not apply"
            yield Change("pythagoras-misused", note, 1, index, law=law)


def _components_swapped(case: Case) -> Iterator[Change]:
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


def _is_sharing(step: Step) -> bool:
    return step.unit == "C" and any(
        all(a.free_symbols for a in t.args) for t in step.solved.atoms(sympy.Add)
    )


def _halving_forgotten(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if not _is_sharing(step):
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


def _bracket_left_out(case: Case) -> Iterator[Change]:
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


def _charges_subtracted(case: Case) -> Iterator[Change]:
    for index, step, total in _sums(case):
        if step.unit == "C" and len(total.args) == 2 and all(a.free_symbols for a in total.args):
            first, second = total.args
            for law in (first - second, second - first):
                note = "the charges are subtracted instead of added"
                yield Change(
                    "charges-subtracted", note, 1, index, law=step.solved.xreplace({total: law})
                )


def _transfer_for_final(case: Case) -> Iterator[Change]:
    """The change of one charge instead of the charge it ends with, and the other way round."""
    for index, step in enumerate(case.steps):
        if not _is_sharing(step):
            continue
        for symbol in sorted(step.solved.free_symbols, key=str):
            if any(i.symbol == symbol.name and i.unit == "C" for i in step.inputs):
                note = "this is the charge that moved, not the charge that is left"
                yield Change("transfer-for-final", note, 1, index, law=step.solved - symbol)


def _field_for_force(case: Case) -> Iterator[Change]:
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


def _force_for_field(case: Case) -> Iterator[Change]:
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


def _potential_for_energy(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if step.unit != "J" or step.solved.is_Add:
            continue
        for used in step.inputs:
            symbol = _symbol(step, used.symbol)
            if used.unit == "C" and symbol is not None:
                law = step.solved.subs(symbol, 1)
                note = "this is a potential; the charge is left out"
                yield Change("potential-for-energy", note, 1, index, law=law)


def _constant_left_out(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        for used in step.inputs:
            symbol = _symbol(step, used.symbol)
            if used.constant is not None and symbol is not None:
                law = step.solved.subs(symbol, 1)
                note = f"the constant {used.symbol} is left out"
                yield Change("constant-left-out", note, 1, index, law=law)


def _half_left_out(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if _is_sharing(step):
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


def _sheet_for_plates(case: Case) -> Iterator[Change]:
    for index, step in enumerate(case.steps):
        if any(i.unit == "C/m**2" for i in step.inputs) and step.unit in ("N/C", "V/m"):
            for factor in (sympy.Rational(1, 2), sympy.Integer(2)):
                note = "one sheet and a pair of plates are exchanged"
                yield Change("sheet-for-plates", note, 1, index, law=step.solved * factor)


def _series_for_parallel(case: Case) -> Iterator[Change]:
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


def _rearranged_wrongly(case: Case) -> Iterator[Change]:
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


def _digits_swapped(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        mantissa = given.quantity.mantissa
        for index in range(len(mantissa) - 1):
            swapped = _swap(mantissa, index)
            if swapped is None:
                continue
            right, wrong = _as_number(mantissa), _as_number(swapped)
            if not right or right == wrong:
                continue
            value = given.quantity.value * wrong / right
            note = f"{mantissa} is copied as {swapped}"
            yield Change("given-miscopied", note, 1, step, used.given, value=value)


def _swap(mantissa: str, index: int) -> str | None:
    """Two neighbouring digits exchanged, the decimal mark staying where it is."""
    second = index + 1
    if second < len(mantissa) and not mantissa[second].isdigit():
        second += 1
    if second >= len(mantissa) or not (mantissa[index].isdigit() and mantissa[second].isdigit()):
        return None
    digits = list(mantissa)
    digits[index], digits[second] = digits[second], digits[index]
    return "".join(digits)


def _as_number(mantissa: str) -> float:
    try:
        return float(mantissa.replace(" ", "").replace(",", "."))
    except ValueError:
        return 0.0


def _charge_left_out(case: Case) -> Iterator[Change]:
    """One charge squared, or used twice, in the place of two different ones."""
    for index, step in enumerate(case.steps):
        charges = [i for i in step.inputs if i.unit == "C" and i.constant is None]
        if len(charges) != 2 or step.solved.is_Add or _is_sharing(step):
            continue
        for used, other in (charges, reversed(charges)):
            if not close(abs(used.value), abs(other.value), 1e-9):
                note = f"{used.symbol} is used twice"
                yield Change(
                    "one-charge-used-twice", note, 1, index, symbol=other.symbol, value=used.value
                )


def _radians(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.unit == "rad" and given.quantity.written_unit == "deg":
            note = "the calculator took the angle in radians"
            yield Change(
                "angle-in-radians", note, 1, step, used.given, value=given.quantity.written_value
            )


def _nothing(case: Case) -> Iterator[Change]:
    """For slips that are seen in the writing itself, not searched for."""
    return iter(())


UP2 = "University Physics Volume 2"

_ENTRIES = (
    # signs
    Slip("sign-dropped", "leaf",
         "The sign of a charge was lost: a negative charge became a positive one.",
         "Write every charge with its sign before you put it into the formula.", 1.0,
         _all_at_once(_signs_dropped)),
    Slip("sign-added", "leaf", "A positive charge was used as a negative one.",
         "Compare the sign of each charge with the question.", 0.3, _signs_added),
    Slip("sign-reversed", "answer", "The size is right, but the sign is turned round.",
         "Ask which sign the result must have before you calculate it.", 0.5, _sign_of_result),
    Slip("sign-kept-in-magnitude", "writing",
         "The signs of the charges were put into a formula for a magnitude, so the size of a force "
         "or field came out negative.",
         "Use the sizes of the charges; decide attraction or repulsion from their kinds.", 0.5,
         _nothing,
         f"{UP2}, chapter 5.3, after the superposition example"),
    # prefixes and units
    Slip("prefix-left-unconverted", "leaf",
         "A prefix (milli, micro, nano ...) was not turned into a power of ten.",
         "Write each given in SI units first, with its power of ten.", 1.0,
         _all_at_once(_unconverted("prefix-left-unconverted", "prefix")),
         "College Physics 2e, chapter 18, problem-solving strategy; chapter 1.2 on prefixes"),
    Slip("length-unit-left-unconverted", "leaf",
         "A length was not turned into metres.",
         "Check the unit of every length before it goes into the formula.", 1.0,
         _all_at_once(_unconverted("length-unit-left-unconverted", "m")),
         "College Physics 2e, chapter 18, problem-solving strategy"),
    Slip("unit-left-unconverted", "leaf", "A given was not turned into SI units.",
         "Check the unit of every given before it goes into the formula.", 0.7,
         _unconverted("unit-left-unconverted", "other")),
    Slip("prefix-mistaken", "leaf", "A prefix was taken for another one, such as milli for micro.",
         "Look up which power of ten belongs to the prefix.", 0.5, _prefix_mistaken),
    Slip("length-unit-misconverted", "leaf", "A length was converted with the wrong power of ten.",
         "How many of this unit make one metre?", 0.5, _length_misconverted),
    Slip("area-unit-misconverted", "leaf",
         "An area or volume was converted as if it were a length.",
         "How many square centimetres fit in a square metre?", 0.7, _area_misconverted),
    # powers of ten
    Slip("power-of-ten-off", "answer", "The digits are right, but the power of ten is not.",
         "Work out the powers of ten on their own, apart from the digits.", 0.6, _power_of_ten_off),
    Slip("exponent-sign-lost", "leaf",
         "The minus sign of a power of ten was lost, so that a small number became a large one.",
         "Is this number smaller or larger than one?", 0.3, _exponent_sign_lost),
    Slip("constant-mistaken", "leaf", "A constant was not written as the data sheet has it.",
         "Compare the constant with the data sheet, power of ten included.", 0.3,
         _constant_mistaken),
    Slip("exponent-miskeyed", "leaf", "A power of ten was keyed in wrongly by one.",
         "Read the powers of ten on the calculator's screen again.", 0.2, _exponent_miskeyed),
    Slip("power-of-ten-not-squared", "leaf",
         "When the number was squared, its power of ten was not: a bracket is missing.",
         "Put brackets round the whole number, power of ten included, before you square it.", 0.4,
         _power_not_squared),
    # squares and roots
    Slip("distance-not-squared", "law", "The distance was not squared.",
         "Look at the power of the distance in the formula.", 1.0,
         _not_squared("distance-not-squared", True)),
    Slip("square-left-out", "law", "A quantity was not squared.",
         "Look at the powers in the formula.", 0.7, _not_squared("square-left-out", False)),
    Slip("root-not-taken", "law", "The square root was not taken at the end.",
         "Is this the quantity that was asked, or its square?", 0.8, _root_not_taken),
    Slip("doubled-for-squared", "law", "A number was doubled where it should be squared.",
         "What does the small raised 2 tell you to do?", 0.4, _doubled_for_squared,
         "College Physics 2e, chapter 18.3: force falls with the square of the distance"),
    # geometry
    Slip("wrong-distance", "leaf", "The distance used is not the one between these two bodies.",
         "Make a sketch and mark the distance between the two bodies of this formula.", 0.8,
         _other_distances),
    Slip("diameter-for-radius", "leaf", "A diameter was used for a radius, or the other way round; "
         "a distance came out doubled or halved.",
         "From where to where does the distance in the formula run?", 0.35, _diameter,
         "College Physics 2e, chapter 18, conceptual strategy: distances run from the centre"),
    Slip("surface-for-centre", "leaf",
         "The distance was measured from the surface of a sphere, not from its centre.",
         "From which point of a sphere is the distance measured?", 0.7, _surface,
         f"{UP2}, chapter 6.4, on spherical charge distributions"),
    Slip("wrong-pair", "leaf", "The charge of another body was used.",
         "Which two bodies act on each other here?", 0.6, _wrong_pair,
         f"{UP2}, chapter 5.4: the source charge and the test charge"),
    Slip("earlier-charge-used", "leaf",
         "The charge before contact was used where the charge afterwards is needed.",
         "Which charges do the bodies carry at this moment?", 0.8, _before_contact),
    Slip("one-charge-used-twice", "leaf", "One charge was used twice; the other was left out.",
         "The formula has two charges. Which two are they?", 0.5, _charge_left_out),
    # vectors
    Slip("opposing-forces-added", "law",
         "Vectors that point in opposite directions were added.",
         "Draw an arrow for each one. Do they help or oppose each other?", 1.0, _opposing_added,
         f"{UP2}, chapter 5.3, problem-solving on superposition"),
    Slip("like-forces-subtracted", "law",
         "Vectors that point in the same direction were subtracted.",
         "Draw an arrow for each one. Do they help or oppose each other?", 0.7, _like_subtracted),
    Slip("right-angle-forces-added", "law",
         "Vectors at right angles were added like numbers.",
         "Draw the two arrows. How long is the third side?", 0.8, _right_angle_added,
         f"{UP2}, chapter 5.3: forces add as vectors"),
    Slip("pythagoras-misused", "law",
         "Pythagoras was used for vectors that lie on one line.",
         "Is there a right angle between them?", 0.4, _pythagoras_misused),
    Slip("components-swapped", "law", "Sine and cosine were exchanged in a component.",
         "Which side of the triangle lies next to the angle?", 0.6, _components_swapped),
    Slip("angle-in-radians", "leaf", "The calculator was set to radians.",
         "Check the angle setting of the calculator.", 0.5, _radians),
    # sharing
    Slip("halving-forgotten", "law",
         "The total charge was found, but not shared equally among the spheres.",
         "How many spheres share the total?", 1.0, _halving_forgotten),
    Slip("charges-subtracted", "law", "The charges were subtracted where their sum is needed.",
         "What happens to the total charge when they touch?", 0.6, _charges_subtracted),
    Slip("transfer-for-final", "law",
         "The charge that moved was given for the charge that is left.",
         "Is the question about the charge that moves or the charge afterwards?", 0.4,
         _transfer_for_final),
    # wrong law
    Slip("field-for-force", "law",
         "A field was worked out where a force was asked: one charge is missing.",
         "How many charges does the formula for the force have?", 0.5, _field_for_force,
         f"{UP2}, chapter 5.4: the source charge and the test charge"),
    Slip("force-for-field", "law",
         "A force was worked out where a field was asked: the test charge does not belong in it.",
         "Which charge makes the field?", 0.5, _force_for_field,
         f"{UP2}, chapter 5.4: the field does not depend on the test charge"),
    Slip("potential-for-energy", "law",
         "A potential was given for an energy: the charge was left out.",
         "An energy belongs to a charge at a place. Which charge is it?", 0.5,
         _potential_for_energy,
         "College Physics 2e, chapter 19.1: voltage is not the same as energy"),
    Slip("constant-left-out", "law", "A constant was left out of the formula.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.5, _constant_left_out),
    Slip("factor-left-out", "law", "A fixed factor of the formula, such as one half, was left out.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.6, _half_left_out),
    Slip("sheet-for-plates", "law", "The field of one sheet and of two plates were exchanged.",
         "How many charged surfaces make this field?", 0.4, _sheet_for_plates),
    Slip("series-for-parallel", "law", "Series and parallel rules were exchanged.",
         "Must the total be larger or smaller than each part?", 0.8, _series_for_parallel,
         "College Physics 2e, chapter 19.6: the series total is smaller than the smallest"),
    Slip("reciprocal-not-taken", "law", "The sum of reciprocals was not turned back at the end.",
         "Is this the quantity itself, or one divided by it?", 0.7, _series_for_parallel),
    Slip("added-for-multiplied", "law", "Charges were added where they should be multiplied.",
         "Compare your line with the formula sheet, symbol by symbol.", 0.4,
         _added_for_multiplied),
    Slip("rearranged-wrongly", "law", "The formula was rearranged wrongly.",
         "Do the same to both sides, one step at a time.", 0.4, _rearranged_wrongly),
    # copying
    Slip("given-miscopied", "leaf", "A number from the question was copied wrongly.",
         "Compare each number with the question.", 0.5, _digits_swapped),
    # calculator and rounding
    Slip("bracket-left-out", "law",
         "A bracket was left out on the calculator, so that only part was divided.",
         "Key in the top and the bottom of the fraction in brackets.", 0.5, _bracket_left_out),
    Slip("arithmetic-slip", "writing", "The numbers are right, but the result of this line is not.",
         "Key this line in again.", 0.5, _nothing),
    Slip("rounded-too-early", "writing",
         "A value was rounded so much on the way that the result is off.",
         "Keep one or two more figures until the last line.", 0.4, _nothing),
    Slip("too-few-figures", "writing", "The result has fewer figures than the givens.",
         "How many figures do the given numbers have?", 0.3, _nothing),
    # following on, and how the answer is written
    Slip("carried-forward-error", "writing",
         "This part is worked rightly from a value that went wrong in an earlier part.",
         "Put the earlier part right first.", 1.0, _nothing),
    Slip("unit-missing", "writing", "The unit is missing.", "A number needs its unit.", 0.8,
         _nothing),
    Slip("unit-wrong", "writing", "The unit does not belong to this quantity.",
         "Which unit measures what was asked?", 0.8, _nothing),
    Slip("direction-missing", "writing", "The direction is missing.",
         "A vector needs its direction, in the words of the question.", 0.8, _nothing),
    Slip("direction-reversed", "writing", "The direction is wrong.",
         "Draw the arrow of the result. Which way does it point?", 0.8, _nothing,
         f"{UP2}, chapter 5.4: a negative charge is pushed against the field"),
)  # fmt: skip

CATALOGUE: dict[str, Slip] = {entry.name: entry for entry in _ENTRIES}


def all_changes(case: Case) -> tuple[Change, ...]:
    """Every concrete slip that could happen to a derivation, likeliest first."""
    found: dict[tuple[object, ...], Change] = {}
    for entry in _ENTRIES:
        for change in entry.changes(case):
            prior = entry_prior(change.slip) * change.prior
            key = (change.slip, change.step, change.given, change.symbol, change.value, change.law,
                   change.factor, change.together)  # fmt: skip
            found.setdefault(key, replace(change, prior=prior))
    return tuple(sorted(found.values(), key=lambda c: -c.prior))


def entry_prior(slip: str) -> float:
    """How common a slip is, relative to the commonest."""
    return CATALOGUE[slip].prior


# --- the search --------------------


@dataclass(frozen=True)
class Explanation:
    """Slips that together reproduce a value; a higher score is likelier."""

    changes: tuple[Change, ...]
    score: float


TWO_SLIP_PENALTY = 0.05  # two slips at once are rarer than any single one; our judgement


def search(
    case: Case,
    value: float,
    tolerance: float,
    signed: bool,
    own: Own = NOTHING_OWN,
    most_slips: int = 1,
    fixed: Sequence[Change] = (),
    changes: Sequence[Change] | None = None,
) -> tuple[Explanation, ...]:
    """Slips that turn the derivation's result into ``value``, best first.

    Args:
        tolerance: absolute, in the unit of ``value``.
        signed: compare signs too (a charge), or sizes only (a force).
        most_slips: try pairs when no single slip fits.
        fixed: changes already known from the working; they are part of every trial.
    """
    candidates = all_changes(case) if changes is None else tuple(changes)
    found = []
    for change in candidates:
        if any(change.touches(f) for f in fixed):
            continue
        score = _fit(case, value, tolerance, signed, own, (*fixed, change))
        if score:
            found.append(Explanation((change,), change.prior * score))
    if not found and most_slips > 1:
        likely = [c for c in candidates if c.prior >= 0.15][:MOST_IN_PAIRS]
        for first, second in combinations(likely, 2):
            again = first.slip == second.slip and first.slip not in REPEATED
            if first.touches(second) or (again and first.law is None):
                continue
            score = _fit(case, value, tolerance, signed, own, (*fixed, first, second))
            if score:
                prior = first.prior * second.prior * TWO_SLIP_PENALTY
                found.append(Explanation((first, second), prior * score))
    return tuple(sorted(found, key=lambda e: -e.score))


MOST_IN_PAIRS = 60
# Slips a learner makes twice on one line as easily as once.
REPEATED = frozenset({"prefix-left-unconverted", "sign-dropped", "prefix-mistaken"})


def _fit(
    case: Case,
    value: float,
    tolerance: float,
    signed: bool,
    own: Own,
    changes: Sequence[Change],
) -> float:
    """0 when the changed derivation misses ``value``, else 0.5 ... 1 by how closely it hits."""
    results = run(case, changes, own)
    if results is None:
        return 0.0
    result = results[-1]
    off = abs(result - value) if signed else abs(abs(result) - abs(value))
    if off > tolerance:
        return 0.0
    return 1.0 - 0.5 * off / tolerance if tolerance else 1.0
