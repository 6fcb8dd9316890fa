"""Lines that list a given: is it listed as the question states it?"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from parser.worksheet import Quantity, Question
from solver.explain import nearly_same_digits
from solver.findings import Expected
from solver.formulas import may_measure
from solver.numeric import close
from solver.own_values import OwnValues
from solver.slips import Change, run
from solver.units import same_dimension
from solver.working_types import Worth


class ListedGivens:
    """Compares listed values with the givens of a question.

    ``charge`` pins a slip to a line; ``is_result`` tells a value that is a result already.
    """

    def __init__(
        self,
        question: Question,
        expected: Sequence[Expected],
        mine: OwnValues,
        charge: Callable[[Change, int], int],
        is_result: Callable[[Quantity, tuple[str, ...]], bool],
    ) -> None:
        self.question = question
        self.expected = expected
        self.mine = mine
        self.charge = charge
        self.is_result = is_result

    def as_given(
        self, index: int, quantity: Quantity, names: tuple[str, ...]
    ) -> tuple[bool | None, str | None] | None:
        """A line that lists a given ("Q_{1}=-3.6×10^{-9} C"); None when it is none."""
        if not names and not quantity.written_unit:
            return None
        fitting = [
            (i, g)
            for i, g in enumerate(self.question.givens)
            if not quantity.written_unit or same_dimension(g.quantity.unit, quantity.unit)
        ]
        fitting = [
            (i, g) for i, g in fitting if all(may_measure(n, g.quantity.unit) for n in names)
        ]
        for _, given in fitting:
            if close(given.quantity.value, quantity.value, 1e-3):
                return True, None
        for case in self.mine.cases:
            for _, used in case.uses:
                if used.constant is not None and close(used.value, quantity.value, 0.03):
                    return True, None
        if not names or self.is_result(quantity, names):
            return None
        for _, given in fitting:
            if (
                close(given.quantity.written_value, quantity.value, 1e-9)
                and not quantity.written_unit
            ):
                return None, None
        for which, given in fitting:
            if quantity.value and close(-given.quantity.value, quantity.value, 1e-3):
                return self._sign_of_given(index, which, quantity)
        return self._misstated_given(index, fitting, quantity)

    def _sign_of_given(
        self, index: int, which: int, quantity: Quantity
    ) -> tuple[bool | None, str | None]:
        """A given listed without its sign: a slip only where the sign changes the result's size."""
        for number, case in enumerate(self.mine.cases):
            right = run(case)
            for change in self.mine.changes(number):
                if change.given != which or change.step is not None:
                    continue
                if change.slip in ("sign-dropped", "sign-added") and right is not None:
                    wrong = run(case, (change,))
                    if wrong is not None and not close(abs(wrong[-1]), abs(right[-1]), 1e-3):
                        self.charge(change, index)
                        return False, change.note
        return None, None

    def _misstated_given(
        self, index: int, fitting: Sequence[tuple[int, object]], quantity: Quantity
    ) -> tuple[bool | None, str | None] | None:
        """A listed given that is a power of ten, or a digit, away from the stated one."""
        if not quantity.written_unit:
            return None
        for which, _ in fitting:
            stated = self.question.givens[which].quantity
            if not stated.value or not quantity.value:
                continue
            ratio = abs(quantity.value / stated.value)
            power = round(math.log10(ratio))
            if power and close(ratio, 10.0**power, 1e-6):
                change = self._conversion_change(which, quantity.value, power)
                self.charge(change, index)
                return False, change.note
        near = [
            which
            for which, _ in fitting
            if nearly_same_digits(self.question.givens[which].quantity.mantissa, quantity.mantissa)
            and self._used(which)
        ]
        unit = self.question.givens[near[0]].quantity.unit if near else ""
        if len(near) == 1 and all(not same_dimension(e.unit, unit) for e in self.expected):
            stated = self.question.givens[near[0]].quantity
            note = f"{stated.text} is copied as {quantity.text}"
            change = Change("given-miscopied", note, 1.0, given=near[0], value=quantity.value)
            self.charge(change, index)
            return False, note
        return None

    def _conversion_change(self, which: int, value: float, power: int) -> Change:
        stated = self.question.givens[which].quantity
        written = stated.written_value
        if close(abs(written), abs(value), 1e-9):
            slip = (
                "length-unit-left-unconverted" if stated.unit == "m" else "prefix-left-unconverted"
            )
            return Change(
                slip, f"{abs(written):g} is in {stated.written_unit}", 1.0, given=which, value=value
            )
        slip = "length-unit-misconverted" if stated.unit == "m" else "prefix-mistaken"
        if not stated.prefix:
            slip = "power-of-ten-off"
        return Change(slip, f"{stated.text} is converted wrongly", 1.0, given=which, value=value)

    def conversion_slip(self, quantity: Quantity, previous: Worth) -> Change | None:
        """A given converted wrongly ("12 cm=1.2 m")."""
        if not previous.has_unit or not quantity.written_unit or not previous.value:
            return None
        for which, given in enumerate(self.question.givens):
            stated = given.quantity
            if stated.prefix and close(stated.value, previous.value, 1e-6):
                ratio = quantity.value / stated.value
                power = round(math.log10(abs(ratio))) if ratio else 0
                if ratio > 0 and power and close(ratio, 10.0**power, 1e-6):
                    slip = "length-unit-misconverted" if stated.unit == "m" else "prefix-mistaken"
                    note = f"{stated.text} is converted wrongly"
                    return Change(slip, note, 1.0, given=which, value=quantity.value)
        return None

    def _used(self, given: int) -> bool:
        return any(used.given == given for case in self.mine.cases for _, used in case.uses)
