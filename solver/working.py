"""A learner's working, line by line: does each line follow from what was given and stands above?

A line is judged by what it states. A formula is compared with the laws of the derivation, a
substitution with what those laws give for these givens, a value with the line above. Once a line
is broken, the learner's own value is carried on, so that later lines are judged from it. Writing
that is valid but not understood is never called wrong: it is left unjudged (``follows`` None).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import sympy

from parser.expression import is_plausible, leaves, parse_line, single_quantity, written_symbols
from parser.quantity import DecimalMark
from parser.worksheet import ParsedLine, Quantity, Question, Relation, Side, Unparsed, WrittenLine
from solver.explain import Explainer, leaf_values
from solver.findings import Expected, LineFinding
from solver.formulas import may_measure, states_law, states_total, subscript_of
from solver.listed_givens import ListedGivens
from solver.numeric import close, evaluate
from solver.own_values import EXACT, OwnValues, equal_sizes
from solver.slips import Change
from solver.units import same_dimension
from solver.verdicts import SIGNED_UNITS, Rules, last_figure
from solver.working_types import Pinned, ValueEvent, Working, Worth
from solver.written_sides import (
    copied_givens,
    is_change,
    misnames_root,
    power_of_symbol,
    side_value,
    solve_monomial,
    unit_factor,
)

# Slips in a law that a formula of symbols alone does not show: signed symbols, a total, a change.
_NOT_IN_SYMBOLS = frozenset(
    {"opposing-forces-added", "like-forces-subtracted", "halving-forgotten", "transfer-for-final",
     "pythagoras-misused", "right-angle-forces-added", "field-for-force", "potential-for-energy",
     "components-swapped"}
)  # fmt: skip


_CONSTANT_LETTERS = {"k": "k", "K": "k", "e": "e", "g": "g", "ε_{0}": "eps0", "c": "c", "h": "h"}


_TOTAL = re.compile(r"tot|net|sum|all|^T$", re.I)


MOST_FIGURE_TOLERANCE = 0.05  # one written figure must not make every value fit


def judge_working(
    question: Question,
    expected: Sequence[Expected],
    rules: Rules,
    own_earlier: Mapping[tuple[str, int], float] | None = None,
    decimal_mark: DecimalMark | None = None,
    asks: Sequence[int] | None = None,
    right_earlier: Mapping[tuple[str, int], Expected] | None = None,
) -> Working:
    """Every pen line of a question judged in reading order.

    Args:
        expected: the right results; those with a derivation are what lines are compared with.
        own_earlier: the learner's own results of earlier questions, where they differ.
        right_earlier: the right results of those questions.
    """
    asks = range(len(expected)) if asks is None else asks
    mine = OwnValues(question, expected, asks, own_earlier or {}, right_earlier or {})
    judge = _Judge(question, expected, rules, mine, decimal_mark)
    for index, line in enumerate(question.lines):
        judge.take(index, line)
    return judge.working


class _Judge:
    """Walks down the lines and remembers what the learner has."""

    def __init__(
        self,
        question: Question,
        expected: Sequence[Expected],
        rules: Rules,
        mine: OwnValues,
        decimal_mark: DecimalMark | None,
    ) -> None:
        self.question = question
        self.rules = rules
        self.mark = decimal_mark
        self.expected = expected
        self.mine = mine
        self.why = Explainer(mine)
        self.givens = ListedGivens(
            question, expected, mine, self._charge, lambda q, n: self._target_of(q, n) is not None
        )
        self.under_formula = False
        self.working = Working(values=mine.values, constants=mine.constants)
        self.last: Worth | None = None
        self.unfinished = ""
        self.last_names: tuple[str, ...] = ()
        self.last_step: tuple[int, int] | None = None
        self.named: dict[str, float] = {}
        self.doubtful: tuple[int, Worth] | None = None
        self.broken_later: dict[int, str] = {}
        self.seen: list[Quantity] = []
        self.line = 0
        self.unit_ahead: Quantity | None = None
        self.powered: tuple[str, int] | None = None

    # -- a line

    def take(self, index: int, line: WrittenLine) -> None:
        self.line = index
        parsed, reading_used = self._choose(line)
        if line.struck:
            self.working.parsed.append(parsed)
            self._finish(index, line, None, "struck out", "other", reading_used)
            return
        text = line.reading.candidates[reading_used].text if line.reading.candidates else ""
        if self.unfinished:
            parsed = self._parse(self.unfinished + text.strip())
            self.unfinished = ""
        if text and self._goes_on(index, text):
            self.unfinished = text.strip()
            self.working.parsed.append(parsed)
            self._finish(index, line, None, None, "substitution", reading_used)
            return
        self.working.parsed.append(parsed)
        if isinstance(parsed, Unparsed):
            note = None if not text else "this line could not be read as an equation"
            self._finish(index, line, None, note, "other", reading_used)
            return
        follows, note, kind = self._relations(index, parsed)
        if index in self.broken_later:
            follows, note = False, self.broken_later[index]
        self._finish(index, line, follows, note, kind, reading_used)

    def _goes_on(self, index: int, text: str) -> bool:
        """Is this line's expression carried on by the next line?"""
        rest = self.question.lines[index + 1 :]
        following = next((x.reading.text.strip() for x in rest if not x.struck), "")
        if not following:
            return False
        return bool(re.search(r"[×·/÷+-]$", text.strip()) or re.match(r"[×·/÷]", following))

    def _relations(self, index: int, parsed: ParsedLine) -> tuple[bool | None, str | None, str]:
        follows: bool | None = None
        note: str | None = None
        kind = "words"
        for relation in parsed.relations:
            one, why, kind = self._relation(index, relation)
            if one is False and follows is not False:
                follows, note = False, why
            elif one is True and follows is None:
                follows = True
        return follows, note, kind

    def _parse(self, text: str) -> ParsedLine | Unparsed:
        return parse_line(text, self.mark, self.question.bodies)

    def _choose(self, line: WrittenLine) -> tuple[ParsedLine | Unparsed, int]:
        """The likeliest reading that is valid writing."""
        first: ParsedLine | Unparsed = Unparsed(line.reading.text, line.reading.text)
        for index, candidate in enumerate(line.reading.candidates):
            if index and candidate.probability < self.rules.plausible_probability:
                break
            parsed = self._parse(candidate.text)
            if index == 0:
                first = parsed
            if is_plausible(parsed):
                return parsed, index
        return first, 0

    def _finish(
        self,
        index: int,
        line: WrittenLine,
        follows: bool | None,
        note: str | None,
        kind: str,
        reading_used: int,
    ) -> None:
        self.working.lines.append(
            LineFinding(line, follows, note, kind, reading_used)  # type: ignore[arg-type]
        )

    # -- a relation

    def _relation(self, index: int, relation: Relation) -> tuple[bool | None, str | None, str]:
        names: tuple[str, ...] = ()
        previous: Worth | None = None
        previous_side: Side | None = None
        if relation.continues:
            names = self.last_names
            previous = self.last
        verdicts: list[tuple[bool | None, str | None]] = []
        kinds: list[str] = []
        for position, side in enumerate(relation.sides):
            self.unit_ahead = self._unit_ahead(index, relation, position)
            if side.expression is None:
                continue
            symbols = written_symbols(side.expression)
            power = power_of_symbol(side.expression) if not position else None
            if power is not None and len(relation.sides) > 1:
                self.powered = power
                previous_side = side
                continue
            if symbols and side.expression.is_Symbol:
                names = (*names, symbols[0])
                previous_side = side
                if not position and symbols[0] in self.last_names:
                    previous = self.last  # "F=..." again: the line above goes on
                elif not position:
                    previous = self._root_of_last(symbols[0])
                continue
            known = self._with_known(relation, side) if symbols else None
            if known is not None:
                kinds.append("substitution")
                verdicts.append(
                    self._substitution(
                        index, relation, side.expression, known, names, previous, side
                    )
                )
                previous = self.last
                previous_side = side
                continue
            if symbols:
                kinds.append("formula")
                verdicts.append(self._formula(index, relation, previous_side, side, names))
                previous_side = side
                continue
            if self._equation_with_unknown(relation, position):
                kinds.append("substitution")
                verdicts.append(self._implicit(index, relation, position))
                previous_side = side
                continue
            value = side_value(relation, side)
            if value is None:
                verdicts.append((None, None))
                previous = None
                continue
            single = single_quantity(relation, side)
            if single is not None and len(relation.sides) == 1 and not relation.continues:
                kinds.append("value")
                verdicts.append(self._value(index, relation, side, single, names, self.last))
            elif single is not None:
                kinds.append("value")
                verdicts.append(self._value(index, relation, side, single, names, previous))
            else:
                kinds.append("substitution")
                verdicts.append(
                    self._substitution(
                        index, relation, side.expression, value, names, previous, side
                    )
                )
            previous = self.last
            previous_side = side
        for name in names:
            if self.last is not None and kinds and kinds[-1] != "formula":
                self.named[name] = self.last.value
        if names or not relation.continues:
            self.last_names = names
        if not {"substitution", "value"} & set(kinds):
            self.last = None
        if kinds and kinds[-1] != "formula":
            self.under_formula = False
        self._note_event(index, relation, names)
        return (*_together(verdicts), _kind(kinds))

    def _with_known(self, relation: Relation, side: Side) -> float | None:
        """A side of numbers and symbols whose values are known (k, an own result), worked out."""
        expression = side.expression
        assert expression is not None
        if not leaves(expression) or all(
            relation.quantities[i].mantissa in ("1", "2", "4") for i in leaves(expression)
        ):
            return None
        values = leaf_values(relation)
        for symbol in written_symbols(expression):
            value = self.named.get(symbol)
            if value is None:
                value = self._constant_of(symbol)
            if value is None:
                return None
            values[symbol] = value
        result = evaluate(expression, values)
        return None if result is None else result * unit_factor(side.unit)

    def _constant_of(self, symbol: str) -> float | None:
        name = _CONSTANT_LETTERS.get(symbol)
        if name is None:
            return None
        accepted = self.rules.accepted(name)
        return self.mine.constants.get(name, accepted[0] if accepted else None)

    def _root_of_last(self, name: str) -> Worth | None:
        """After "r^{2}=0.0365" the line "r=..." goes on from its root."""
        if self.powered is None or self.powered[0] != name or self.last is None:
            return None
        exponent = self.powered[1]
        self.powered = None
        if self.last.value <= 0:
            return None
        root = self.last.value ** (1 / exponent)
        return replace(self.last, value=root, prefixed=None, raised=self.last.value, part=False)

    def _unit_ahead(self, index: int, relation: Relation, position: int) -> Quantity | None:
        """The next value with a unit that the learner writes from here on."""
        for side in relation.sides[position + 1 :]:
            quantity = single_quantity(relation, side)
            if quantity is not None and quantity.written_unit:
                return quantity
        for line in self.question.lines[index + 1 :]:
            parsed = self._choose(line)[0]
            if isinstance(parsed, Unparsed):
                continue
            for later in parsed.relations:
                quantity = single_quantity(later, later.sides[-1])
                if quantity is not None and quantity.written_unit:
                    return quantity
        return None

    def _note_event(self, index: int, relation: Relation, names: tuple[str, ...]) -> None:
        side = relation.sides[-1]
        quantity = single_quantity(relation, side)
        if quantity is None:
            quantity = self._multiple(relation, side)
        if quantity is None:
            return
        self.seen.append(quantity)
        label = " ".join([relation.label, *(s.words for s in relation.sides[:-1])]).strip()
        self.working.events.append(
            ValueEvent(index, relation, quantity, names, label, relation.direction, side.words)
        )

    def _multiple(self, relation: Relation, side: Side) -> Quantity | None:
        """ "4F" or "F/4" as the answer to "how many times": the number before the symbol."""
        if side.expression is None or len(written_symbols(side.expression)) != 1:
            return None
        symbol = next(s for s in side.expression.free_symbols if not s.name.startswith("#"))
        values = leaf_values(relation) | {symbol.name: 1.0}
        factor = evaluate(side.expression, values)
        double = evaluate(side.expression, values | {symbol.name: 2.0})
        if factor is None or double is None or not close(double, 2 * factor, 1e-9):
            return None
        text = side.text
        return Quantity(text, factor, "dimensionless", factor, mantissa="", significant_figures=3)

    # -- a formula

    def _formula(
        self,
        index: int,
        relation: Relation,
        before: Side | None,
        side: Side,
        names: tuple[str, ...],
    ) -> tuple[bool | None, str | None]:
        right = side.expression
        assert right is not None
        left = before.expression if before is not None else None
        if left is None:
            name = next(iter(names), None)
            if name is None:
                return None, None
            left = sympy.Symbol(name)
        self.working.formula_lines.setdefault(index, []).append((left, right, relation))
        for which, case in enumerate(self.mine.cases):
            step = states_law(relation, left, right, case)
            if step is not None:
                self.working.formulas.add((which, step))
                self.last_step = (which, step)
                self.under_formula = True
                return True, None
        if any(_TOTAL.search(subscript_of(n)) or n.startswith("Σ") for n in names) and any(
            states_total(relation, left, right, case) for case in self.mine.cases
        ):
            return True, None
        for which, case in enumerate(self.mine.cases):
            for change in self.mine.changes(which):
                if change.law is None or change.step is None or change.slip in _NOT_IN_SYMBOLS:
                    continue
                if misnames_root(change, left, case):
                    continue
                if states_law(relation, left, right, case, {change.step: change.law}) is not None:
                    self._charge(change, index)
                    self.last_step = (which, change.step)
                    return False, change.note
        return None, None

    def _equation_with_unknown(self, relation: Relation, position: int) -> bool:
        """Numbers on this side, numbers with one unknown symbol on a neighbouring one."""
        for other in (position - 1, position + 1):
            if not 0 <= other < len(relation.sides):
                continue
            expression = relation.sides[other].expression
            if expression is None or expression.is_Symbol:
                continue
            if len(written_symbols(expression)) == 1 and leaves(expression):
                return True
        return False

    def _implicit(
        self, index: int, relation: Relation, position: int
    ) -> tuple[bool | None, str | None]:
        """ "5.4×10^{-5}=\frac{9×10^{9}×Q...}{0.1^{2}}": solved for the one unknown, then judged."""
        for other in (position - 1, position + 1):
            if not 0 <= other < len(relation.sides):
                continue
            expression = relation.sides[other].expression
            number = relation.sides[position].expression
            if expression is None or number is None or expression.is_Symbol:
                continue
            symbols = written_symbols(expression)
            if len(symbols) != 1:
                continue
            value = solve_monomial(expression, number, symbols[0], leaf_values(relation))
            if value is None:
                return None, None
            both = expression * number
            return self._substitution(index, relation, both, value, (symbols[0],), None, None)
        return None, None

    # -- a substitution

    def _substitution(
        self,
        index: int,
        relation: Relation,
        expression: sympy.Expr,
        value: float,
        names: tuple[str, ...],
        previous: Worth | None,
        side: Side | None,
    ) -> tuple[bool | None, str | None]:
        worth = self._worth(relation, expression, value, side)
        self._learn_constants(relation)
        if previous is not None and self._same(worth, previous, self.rules.line_tolerance):
            self.last = replace(worth, place=previous.place, part=previous.part)
            return True, None
        place = self._target(value, names, EXACT) or self._target(
            value, names, self.rules.substitution_tolerance, still_open=True
        )
        if place is not None:
            self._matched(place)
            self.last = replace(worth, place=place)
            return True, None
        if self.mine.is_part(value) and not self._is_undivided(value):
            self.working.parts[index] = value
            for place in self.mine.squares(value):
                self.working.substitutions.setdefault(place, True)
            self.last = replace(worth, part=True)
            return True, None
        if worth.prefixed is not None and self._keeps_unit(worth):
            place = self._target(worth.prefixed, names, EXACT)
            part = place is None and not self._is_undivided(worth.prefixed)
            if place is not None or (part and self.mine.is_part(worth.prefixed)):
                if place is not None:
                    self._matched(place)
                else:
                    self.working.parts[index] = worth.prefixed
                self.last = replace(worth, place=place, part=place is None)
                self.doubtful = (index, self.last)
                return True, None
        explained = None
        ahead = self.unit_ahead
        if worth.prefixed is not None and ahead is not None and ahead.prefix:
            explained = self.why.explain(
                worth.prefixed, relation, expression, self.last_step, worth.factor
            )
            if explained is not None:
                value = worth.prefixed
        if explained is None:
            explained = self.why.explain(value, relation, expression, self.last_step)
        self.last = worth
        if explained is None:
            return None, None
        which, step, changes = explained
        here = [self._charge(change, index) == index for change in changes]
        self.last = replace(worth, place=(which, step))
        self.last_step = (which, step)
        self.mine.set_own(which, step, value)
        self.working.substitutions[which, step] = not any(here)
        if not any(here):
            return True, None  # the formula above is already the broken line
        return False, "; ".join(c.note for c in changes)

    def _is_undivided(self, value: float) -> bool:
        """Right under a formula that divides a sum, is this the sum without the division?"""
        return self.under_formula and self.mine.is_undivided(value)

    def _keeps_unit(self, worth: Worth) -> bool:
        """Can a result stand in the unit of the givens (a charge from charges)?"""
        return (
            any(
                same_dimension(step.unit, self.question.givens[c.given].quantity.unit)
                for c in worth.misread
                if c.given is not None
                for case in self.mine.cases
                for step in case.steps
            )
            or not worth.misread
        )

    def _worth(
        self, relation: Relation, expression: sympy.Expr, value: float, side: Side | None
    ) -> Worth:
        has_unit = bool(side.unit) if side is not None else False
        prefixed, changes = self._in_given_units(relation, expression, value, has_unit)
        factor = prefixed / value if prefixed is not None and value else 1.0
        return Worth(value, prefixed, has_unit, changes, factor)

    def _in_given_units(
        self, relation: Relation, expression: sympy.Expr, value: float, has_unit: bool
    ) -> tuple[float | None, tuple[Change, ...]]:
        """The side's worth if its bare numbers are in the prefixed unit of the givens they copy."""
        if has_unit:
            return None, ()
        quantities = {leaf: relation.quantities[leaf] for leaf in leaves(expression)}
        if any(q.written_unit for q in quantities.values()):
            return None, ()
        values = leaf_values(relation)
        factors = set()
        changes = []
        copies = copied_givens(quantities, [g.quantity for g in self.question.givens])
        for leaf, which in copies.items():
            stated = self.question.givens[which].quantity
            factor = stated.value / stated.written_value
            values[f"#{leaf}"] = quantities[leaf].value * factor
            factors.add(float(f"{factor:.6g}"))
            note = f"{abs(stated.written_value):g} is in {stated.written_unit}"
            length = stated.unit == "m"
            slip = "length-unit-left-unconverted" if length else "prefix-left-unconverted"
            changes.append(Change(slip, note, 1.0, given=which, value=stated.written_value))
        rest = {leaf: q for leaf, q in quantities.items() if leaf not in copies}
        for leaf, which in copied_givens(rest, self.seen).items():
            stated = self.seen[which]
            factor = stated.value / stated.written_value
            values[f"#{leaf}"] = quantities[leaf].value * factor
            factors.add(float(f"{factor:.6g}"))
        if len(factors) != 1:
            return None, ()
        whole = evaluate(expression, values)
        factor = factors.pop()
        if whole is None or not close(value * factor, whole, 1e-6):
            return None, ()
        return whole, tuple(changes)

    def _learn_constants(self, relation: Relation) -> None:
        for case in self.mine.cases:
            for _, used in case.uses:
                if used.constant is None:
                    continue
                for value in self.rules.accepted(used.constant):
                    if any(close(q.value, value, 1e-6) for q in relation.quantities):
                        self.mine.constants[used.constant] = value

    # -- a value

    def _value(
        self,
        index: int,
        relation: Relation,
        side: Side,
        quantity: Quantity,
        names: tuple[str, ...],
        previous: Worth | None,
    ) -> tuple[bool | None, str | None]:
        worth = Worth(quantity.value, None, bool(quantity.written_unit))
        chained = previous is not None
        if previous is not None and relation.sides[0] is side and not relation.continues:
            chained = False  # a bare number may be anything
        if chained and previous is not None:
            if self._follows(quantity, previous):
                self._settle(index, quantity, previous)
                place = self._place_of(previous, quantity, names)
                if place is not None:
                    self.mine.record(place, quantity.value, self.line)
                self.last = replace(
                    worth,
                    prefixed=previous.prefixed if not worth.has_unit else None,
                    misread=previous.misread,
                    place=place,
                    part=previous.part,
                )
                return True, None
            place = self._target_of(quantity, names)
            if place is not None and previous.place in (None, place):
                self._matched(place, quantity.value)
                self.last = replace(worth, place=place)
                return True, None
            return self._broken_value(index, quantity, previous, names, worth)
        given = self.givens.as_given(index, quantity, names)
        if given is not None:
            self.last = worth
            return given
        place = self._target_of(quantity, names)
        if place is None and previous is not None and self._follows(quantity, previous):
            self.last = replace(worth, place=previous.place, part=previous.part)
            return True, None
        self.last = replace(worth, place=place)
        if place is not None:
            self._matched(place, quantity.value)
            return True, None
        if self.mine.is_part(quantity.value, self._tolerance(quantity)):
            self.working.parts[index] = quantity.value
            self.last = replace(worth, part=True)
            return True, None
        return self._lone_value(index, quantity, names)

    def _place_of(
        self, previous: Worth, quantity: Quantity, names: tuple[str, ...]
    ) -> tuple[int, int] | None:
        """The step that a value belongs to: that of the line above, else the next of its kind."""
        if previous.place is not None or previous.part:
            return previous.place
        open_steps = [
            (which, step)
            for which, case in enumerate(self.mine.cases)
            for step in range(len(case.steps))
            if (which, step) not in self.mine.values
            and self._fits_step(which, step, quantity, names)
        ]
        if any(n.startswith("Δ") for n in names):
            changes = [p for p in open_steps if is_change(self.mine.cases[p[0]].steps[p[1]].solved)]
            open_steps = changes or open_steps
        return self._preferred(open_steps, names)

    def _follows(self, quantity: Quantity, previous: Worth) -> bool:
        """Is a value the one before it, rounded and perhaps in another unit?"""
        candidates = [previous.value]
        if previous.prefixed is not None and quantity.written_unit:
            candidates.append(previous.prefixed)
        signed = not quantity.written_unit or quantity.unit in SIGNED_UNITS
        for value in candidates:
            if abs(quantity.value - value) <= self._rounding(quantity, value):
                return True
            if not signed and abs(abs(quantity.value) - abs(value)) <= self._rounding(
                quantity, value
            ):
                return True
        return False

    def _rounding(self, quantity: Quantity, value: float) -> float:
        figure = min(last_figure(quantity), MOST_FIGURE_TOLERANCE * 4 * abs(value))
        return max(figure * 1.0001, self.rules.line_tolerance * abs(value))

    def _settle(self, index: int, quantity: Quantity, previous: Worth) -> None:
        """Working in nC is settled by the unit of the value; "0.6 C" shows it was a slip."""
        if self.doubtful is None or previous.prefixed is None or not quantity.written_unit:
            return
        line, worth = self.doubtful
        self.doubtful = None
        if abs(quantity.value - previous.prefixed) <= self._rounding(quantity, previous.prefixed):
            return
        for change in worth.misread:
            self._charge(change, line)
        if worth.place is not None:
            self.working.substitutions[worth.place] = False
        note = "; ".join(dict.fromkeys(c.note for c in worth.misread))
        if line < len(self.working.lines):
            self.working.lines[line] = replace(self.working.lines[line], follows=False, note=note)
        else:
            self.broken_later[line] = note

    def _broken_value(
        self,
        index: int,
        quantity: Quantity,
        previous: Worth,
        names: tuple[str, ...],
        worth: Worth,
    ) -> tuple[bool | None, str | None]:
        """The value does not follow from the line above: why?"""
        changes, note = self._value_slip(quantity, previous)
        for change in changes:
            self._charge(change, index)
        place = self._place_of(previous, quantity, names)
        self.last = replace(worth, place=place, part=previous.part)
        if place is not None:
            self.mine.record(place, quantity.value, self.line)
        return False, note

    def _value_slip(self, quantity: Quantity, previous: Worth) -> tuple[tuple[Change, ...], str]:
        if previous.raised is not None and close(quantity.value, previous.raised, 0.01):
            note = "the square root is not taken"
            factor = quantity.value / previous.value
            return (Change("root-not-taken", note, 0.8, factor=factor),), note
        if previous.prefixed is not None and quantity.prefix:
            previous = replace(previous, value=previous.prefixed)
        conversion = self.givens.conversion_slip(quantity, previous)
        if conversion is not None:
            return (conversion,), conversion.note
        if quantity.unit in SIGNED_UNITS and close(quantity.value, -previous.value, 0.01):
            note = "the sign is lost from the line above"
            slip = "sign-dropped" if quantity.value > 0 else "sign-reversed"
            return (Change(slip, note, 1.0, factor=-1.0),), note
        if previous.value and quantity.value:
            ratio = abs(quantity.value / previous.value)
            power = round(math.log10(ratio)) if 1e-40 < ratio < 1e40 else 0
            slack = max(0.02, min(last_figure(quantity) / abs(quantity.value), 0.06))
            if power and close(ratio, 10.0**power, slack):
                size = "large" if power > 0 else "small"
                note = f"the value is 10^{abs(power)} times too {size}"
                return (Change("power-of-ten-off", note, 0.6, factor=10.0**power),), note
        if previous.place is not None:
            which, step = previous.place
            found = self.why.explain_step(
                which, step, quantity.value, self._tolerance(quantity), (), keyed=True
            )
            if found is not None:
                return found.changes, "; ".join(c.note for c in found.changes)
        if previous.value and quantity.value:
            ratio = abs(quantity.value / previous.value)
            if close(ratio, 1.0, 0.05):
                note = "the value is rounded too much"
                return (Change("rounded-too-early", note, 0.3, factor=ratio),), note
        note = "this value does not follow from the line above"
        factor = quantity.value / previous.value if previous.value else 1.0
        return (Change("arithmetic-slip", note, 0.5, factor=factor or 1.0),), note

    def _lone_value(
        self, index: int, quantity: Quantity, names: tuple[str, ...]
    ) -> tuple[bool | None, str | None]:
        """A value with nothing above it that it could follow from."""
        for which, case in enumerate(self.mine.cases):
            for step in range(len(case.steps) - 1, -1, -1):
                if not self._fits_step(which, step, quantity, names):
                    continue
                found = self.why.explain_step(
                    which, step, quantity.value, self._tolerance(quantity), (), keyed=False
                )
                if found is not None:
                    for change in found.changes:
                        self._charge(change, index)
                    self.mine.set_own(which, step, quantity.value)
                    return False, "; ".join(c.note for c in found.changes)
        return None, None

    def _fits_step(self, which: int, step: int, quantity: Quantity, names: tuple[str, ...]) -> bool:
        unit = self.mine.cases[which].steps[step].unit
        if quantity.written_unit:
            return same_dimension(unit, quantity.unit)
        return bool(names) and all(may_measure(n, unit) for n in names)

    # -- what is right, and what is right from here

    def _target(
        self, value: float, names: tuple[str, ...], tolerance: float, still_open: bool = False
    ) -> tuple[int, int] | None:
        """The step whose value this is, the one meant by the names first.

        ``still_open`` leaves out the steps that have their value already.
        """
        matches = []
        for which, step, target in self.mine.targets():
            if still_open and (which, step) in self.mine.values:
                continue
            one = self.mine.cases[which].steps[step]
            if equal_sizes(value, target, one.unit, tolerance * abs(target)):
                matches.append((which, step))
        return self._preferred(matches, names)

    def _target_of(self, quantity: Quantity, names: tuple[str, ...]) -> tuple[int, int] | None:
        matches = []
        for which, step, target in self.mine.targets():
            unit = self.mine.cases[which].steps[step].unit
            if quantity.written_unit and not same_dimension(quantity.unit, unit):
                continue
            if names and not any(may_measure(n, unit) for n in names):
                continue
            if equal_sizes(quantity.value, target, unit, self._rounding(quantity, target)):
                matches.append((which, step))
        return self._preferred(matches, names)

    def _preferred(
        self, matches: Sequence[tuple[int, int]], names: tuple[str, ...]
    ) -> tuple[int, int] | None:
        if not matches:
            return None
        for name in names:
            lowered = subscript_of(name)
            for which, step in matches:
                label = self.mine.cases[which].steps[step].label
                if lowered and label and set(lowered) <= set(re.findall(r"[A-Z]\b", label)):
                    return which, step
        if self.last_step in matches:
            return self.last_step
        return matches[0]

    def _matched(self, place: tuple[int, int], value: float | None = None) -> None:
        self.last_step = place
        self.working.substitutions.setdefault(place, True)
        if value is not None:
            self.mine.record(place, value, self.line)

    def _charge(self, change: Change, line: int) -> int:
        """Pin a slip to its line and go on from it; the line it was pinned to."""
        if any(p.change == change for p in self.working.pinned):
            return line
        line = self._line_that_states(change, line)
        self.working.pinned.append(Pinned(change, line, self.why.ties.get(change, ())))
        self.mine.charged.extend(
            c for c in change.singles if c.value is not None or c.law is not None
        )
        return line

    def _line_that_states(self, change: Change, line: int) -> int:
        """The unjudged formula line above that already states a changed law, else the line."""
        if change.law is None or change.step is None:
            return line
        for index, formulas in self.working.formula_lines.items():
            if index >= line or self.working.lines[index].follows is not None:
                continue
            for left, right, relation in formulas:
                for case in self.mine.cases:
                    laws = {change.step: change.law}
                    if change.step < len(case.steps) and (
                        states_law(relation, left, right, case, laws) is not None
                    ):
                        self.working.lines[index] = replace(
                            self.working.lines[index], follows=False, note=change.note
                        )
                        return index
        return line

    # -- explaining a wrong value

    def _same(self, worth: Worth, previous: Worth, tolerance: float) -> bool:
        values = [v for v in (previous.value, previous.prefixed) if v is not None]
        return any(close(worth.value, v, tolerance) for v in values)

    def _tolerance(self, quantity: Quantity) -> float:
        figure = min(last_figure(quantity), MOST_FIGURE_TOLERANCE * abs(quantity.value))
        return max(figure, 0.005 * abs(quantity.value))


def _together(
    verdicts: Iterable[tuple[bool | None, str | None]],
) -> tuple[bool | None, str | None]:
    found = list(verdicts)
    for follows, note in found:
        if follows is False:
            return False, note
    if any(follows for follows, _ in found):
        return True, None
    return None, None


def _kind(kinds: Sequence[str]) -> str:
    for kind in ("substitution", "formula", "value"):
        if kind in kinds:
            return kind
    return "other"
