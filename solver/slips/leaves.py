"""Slips in what is put in (signs, prefixes, powers of ten, distances, copying) and in the answer.

Each function lists the concrete changes that its slip could make to a derivation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import combinations

import sympy

from parser.worksheet import Given
from solver.numeric import close
from solver.slips.changes import Case, Change, is_sharing


def _number(value: float) -> str:
    return f"{value:g}"


def _written(given: Given) -> str:
    """A given as the question writes it, without its direction."""
    quantity = given.quantity
    if quantity.direction is None:
        return quantity.text
    return f"{quantity.written_value:g} {quantity.written_unit}".strip()


def signs_dropped(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.value < 0 and used.value < 0:
            note = f"the minus sign of {_written(given)} is gone"
            yield Change("sign-dropped", note, 1, step, used.given, value=-given.quantity.value)


def signs_added(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.value > 0 and given.quantity.unit == "C" and used.value > 0:
            note = f"{_written(given)} is positive"
            yield Change("sign-added", note, 1, step, used.given, value=-given.quantity.value)


def sign_of_result(case: Case) -> Iterator[Change]:
    yield Change("sign-reversed", "the sign of the result is turned round", 1, factor=-1.0)


def unconverted(slip: str, unit: str | None) -> Callable[[Case], Iterator[Change]]:
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


def all_at_once(
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


def prefix_mistaken(case: Case) -> Iterator[Change]:
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


def length_misconverted(case: Case) -> Iterator[Change]:
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


def area_misconverted(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        if quantity.unit in ("m**2", "m**3") and quantity.prefix:
            right = quantity.value / quantity.written_value if quantity.written_value else 1.0
            power = 2 if quantity.unit == "m**2" else 3
            value = quantity.written_value * right ** (1 / power)
            note = f"the conversion of {_written(given)} is not raised to the power {power}"
            yield Change("area-unit-misconverted", note, 1, step, used.given, value=value)


def exponent_sign_lost(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        quantity = given.quantity
        power = _power_of_ten(given)
        if power:
            note = f"the sign of the power of ten of {_written(given)} is gone"
            value = quantity.value * 10.0 ** (-2 * power)
            yield Change("exponent-sign-lost", note, 1, step, used.given, value=value)


def constant_mistaken(case: Case) -> Iterator[Change]:
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


def exponent_miskeyed(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if not _power_of_ten(given):
            continue
        for power in (1, -1):
            note = f"the power of ten of {_written(given)} is off by one"
            value = given.quantity.value * 10.0**power
            yield Change("exponent-miskeyed", note, 1, step, used.given, value=value)


def power_not_squared(case: Case) -> Iterator[Change]:
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


def power_of_ten_off(case: Case) -> Iterator[Change]:
    for power in (1, -1, 2, -2, 3, -3, 6, -6, 9, -9, 4, -4, 5, -5):
        note = f"the result is {_times(power)}"
        prior = 1 / (1 + 0.5 * abs(power))
        yield Change("power-of-ten-off", note, prior, factor=10.0**power)


def other_distances(case: Case) -> Iterator[Change]:
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


def diameter(case: Case) -> Iterator[Change]:
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


def surface(case: Case) -> Iterator[Change]:
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


def wrong_pair(case: Case) -> Iterator[Change]:
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


def before_contact(case: Case) -> Iterator[Change]:
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


def digits_swapped(case: Case) -> Iterator[Change]:
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


def charge_left_out(case: Case) -> Iterator[Change]:
    """One charge squared, or used twice, in the place of two different ones."""
    for index, step in enumerate(case.steps):
        charges = [i for i in step.inputs if i.unit == "C" and i.constant is None]
        if len(charges) != 2 or step.solved.is_Add or is_sharing(step):
            continue
        for used, other in (charges, reversed(charges)):
            if not close(abs(used.value), abs(other.value), 1e-9):
                note = f"{used.symbol} is used twice"
                yield Change(
                    "one-charge-used-twice", note, 1, index, symbol=other.symbol, value=used.value
                )


def radians(case: Case) -> Iterator[Change]:
    for step, used, given in case.leaves:
        if given.quantity.unit == "rad" and given.quantity.written_unit == "deg":
            note = "the calculator took the angle in radians"
            yield Change(
                "angle-in-radians", note, 1, step, used.given, value=given.quantity.written_value
            )


def nothing(case: Case) -> Iterator[Change]:
    """For slips that are seen in the writing itself, not searched for."""
    return iter(())
