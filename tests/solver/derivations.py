"""Questions with derivations laid out by hand, for tests of the judging alone.

The scenario is our own: beads A, B, C that carry charges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import sympy

from parser.quantity import find_quantities
from parser.worksheet import Asked, Fact, Given, Quantity, Question, WrittenLine
from scanner.page import Candidate, Reading
from solver.findings import Derivation, Expected, Input, Step

K = 9.0e9
E = 1.6e-19


def quantity(text: str) -> Quantity:
    return find_quantities(text, ".")[0].quantity


def given(text: str, kind: str, of: str | None = None) -> Given:
    return Given(quantity(text), kind, of)


def symbols(names: str) -> list[sympy.Symbol]:
    return [sympy.Symbol(n, real=True) for n in names.split()]


def lines(*texts: str) -> tuple[WrittenLine, ...]:
    return tuple(WrittenLine(Reading.certain(t)) for t in texts)


def uncertain_line(*candidates: tuple[str, float]) -> WrittenLine:
    return WrittenLine(Reading(tuple(Candidate(t, p) for t, p in candidates)))


def from_given(symbol: str, givens: Sequence[Given], index: int, size: bool = False) -> Input:
    stated = givens[index].quantity
    value = abs(stated.value) if size else stated.value
    return Input(symbol, value, stated.unit, quantity=stated, given=index)


def coulomb_step(first: Input, second: Input, distance: Input, label: str = "F") -> Step:
    F, k, q1, q2, r = symbols("F k Q_1 Q_2 r")
    value = K * abs(first.value * second.value) / distance.value**2
    constant = Input("k", K, "N*m**2/C**2", constant="k")
    equation = sympy.Eq(F, k * q1 * q2 / r**2)
    return Step(
        "Coulomb's law", equation, equation.rhs, "F", (constant, first, second, distance),
        value, "N", label,
    )  # fmt: skip


def coulomb(
    *written: str,
    charges: tuple[str, str] = ("-3.6 nC", "+4.8 nC"),
    distance: str = "12 cm",
    marks: int | None = 4,
    wants: str = "magnitude",
    direction: str | None = None,
) -> tuple[Question, tuple[Expected, ...]]:
    """The force between beads A and B."""
    givens = (
        given(charges[0], "charge", "A"),
        given(charges[1], "charge", "B"),
        given(distance, "distance"),
    )
    step = coulomb_step(
        from_given("Q_1", givens, 0, True),
        from_given("Q_2", givens, 1, True),
        from_given("r", givens, 2),
    )
    question = Question(
        "1", "What force does B exert on A?", marks, bodies=("A", "B"), givens=givens,
        asked=(Asked("force", "A", ("B",), wants),), lines=lines(*written),  # type: ignore[arg-type]
    )  # fmt: skip
    expected = Expected("A", step.value, "N", direction, derivation=Derivation((step,)))
    return question, (expected,)


def sharing(
    *written: str, charges: tuple[str, str] = ("-3.6 nC", "+4.8 nC"), marks: int | None = 3
) -> tuple[Question, tuple[Expected, ...]]:
    """Beads A and B touch; the charge on each afterwards."""
    givens = (given(charges[0], "charge", "A"), given(charges[1], "charge", "B"))
    Q, q1, q2 = symbols("Q Q_1 Q_2")
    equation = sympy.Eq(Q, (q1 + q2) / 2)
    value = sum(g.quantity.value for g in givens) / 2
    step = Step(
        "sharing on contact", equation, equation.rhs, "Q",
        (from_given("Q_1", givens, 0), from_given("Q_2", givens, 1)), value, "C", "Q",
    )  # fmt: skip
    question = Question(
        "1", "They touch. What is the charge on each?", marks, bodies=("A", "B"), givens=givens,
        facts=(Fact("contact", ("A", "B")),), asked=(Asked("charge", "A"),), lines=lines(*written),
    )  # fmt: skip
    return question, (Expected("A", value, "C", derivation=Derivation((step,))),)


def net_force(
    *written: str, marks: int | None = 6, opposing: bool = True
) -> tuple[Question, tuple[Expected, ...]]:
    """Bead B between A and C on a line: two forces, in opposite or in the same directions."""
    charges = ("+2.0 nC", "+3.0 nC", "+5.0 nC") if opposing else ("+2.0 nC", "+3.0 nC", "-5.0 nC")
    givens = (
        given(charges[0], "charge", "A"),
        given(charges[1], "charge", "B"),
        given(charges[2], "charge", "C"),
        given("3.0 cm", "distance"),
        given("5.0 cm", "distance"),
    )
    first = coulomb_step(
        from_given("Q_1", givens, 0, True), from_given("Q_2", givens, 1, True),
        from_given("r", givens, 3), "F_{AB}",
    )  # fmt: skip
    second = coulomb_step(
        from_given("Q_1", givens, 2, True), from_given("Q_2", givens, 1, True),
        from_given("r", givens, 4), "F_{CB}",
    )  # fmt: skip
    F, f1, f2 = symbols("F_net F_1 F_2")
    sign = -1.0 if opposing else 1.0
    equation = sympy.Eq(F, f1 + f2)
    value = first.value + sign * second.value
    net = Step(
        "net force on a line", equation, equation.rhs, "F_net",
        (Input("F_1", first.value, "N", step=0), Input("F_2", sign * second.value, "N", step=1)),
        value, "N", "F_{net}", "right",
    )  # fmt: skip
    question = Question(
        "2", "What is the net force on B?", marks, bodies=("A", "B", "C"), givens=givens,
        facts=(Fact("on-line", ("A", "B", "C")),), asked=(Asked("force", "B", (), "vector"),),
        lines=lines(*written),
    )  # fmt: skip
    expected = Expected("B", value, "N", "right", derivation=Derivation((first, second, net)))
    return question, (expected,)


def electrons(*written: str, marks: int | None = 2) -> tuple[Question, tuple[Expected, ...]]:
    """How many electrons a bead with -3.2 nC has gained."""
    givens = (given("-3.2 nC", "charge", "A"),)
    n, q, e = symbols("n Q e")
    equation = sympy.Eq(n, q / e)
    value = abs(givens[0].quantity.value) / E
    step = Step(
        "charge is a whole number of electrons", equation, equation.rhs, "n",
        (from_given("Q", givens, 0, True), Input("e", E, "C", constant="e")),
        value, "dimensionless",
    )  # fmt: skip
    question = Question(
        "3", "How many electrons has the bead gained?", marks, bodies=("A",), givens=givens,
        asked=(Asked("electron_count", "A", (), "count"),), lines=lines(*written),
    )  # fmt: skip
    return question, (Expected("A", value, "dimensionless", derivation=Derivation((step,))),)


def one_step(
    expression: str,
    unit: str,
    given_texts: dict[str, tuple[str, str]],
    constants: dict[str, tuple[float, str]] | None = None,
    written: Sequence[str] = (),
    sizes: bool = True,
    marks: int | None = 3,
) -> tuple[Question, tuple[Expected, ...]]:
    """Any one law: ``given_texts`` maps symbols to (text, kind)."""
    constants = constants or {}
    givens = tuple(given(text, kind) for text, kind in given_texts.values())
    names = [*given_texts, *constants]
    solved = sympy.sympify(expression, locals={n: sympy.Symbol(n, real=True) for n in names})
    inputs = [
        from_given(symbol, givens, i, sizes and givens[i].quantity.unit == "C")
        for i, symbol in enumerate(given_texts)
    ]
    inputs += [Input(n, v, u, constant=n) for n, (v, u) in constants.items()]
    values = {sympy.Symbol(i.symbol, real=True): i.value for i in inputs}
    value = float(solved.subs(values))
    x = sympy.Symbol("X", real=True)
    step = Step("law", sympy.Eq(x, solved), solved, "X", tuple(inputs), value, unit)
    question = Question(
        "1", "", marks, givens=givens, asked=(Asked("value"),), lines=lines(*written)
    )
    return question, (Expected(None, value, unit, derivation=Derivation((step,))),)


def with_more_givens(
    example: tuple[Question, tuple[Expected, ...]], *more: tuple[str, str]
) -> tuple[Question, tuple[Expected, ...]]:
    """The same question with givens that its law does not need."""
    question, expected = example
    givens = (*question.givens, *(given(text, kind) for text, kind in more))
    return replace(question, givens=givens), expected


def force_after_contact(
    *written: str, marks: int | None = 4
) -> tuple[Question, tuple[Expected, ...]]:
    """The force between beads A and B whose charges were found in part "1" (0.6 nC each)."""
    givens = (
        given("-3.6 nC", "charge", "A"),
        given("+4.8 nC", "charge", "B"),
        given("12 cm", "distance"),
    )
    shared = 0.6e-9
    step = coulomb_step(
        Input("Q_1", shared, "C", earlier=("1", 0)),
        Input("Q_2", shared, "C", earlier=("1", 0)),
        from_given("r", givens, 2),
    )
    question = Question(
        "2", "What force do they exert on each other now?", marks, bodies=("A", "B"),
        givens=givens, facts=(Fact("contact", ("A", "B")),),
        asked=(Asked("force", "A", ("B",), "magnitude"),), earlier=("1",), lines=lines(*written),
    )  # fmt: skip
    return question, (Expected("A", step.value, "N", derivation=Derivation((step,))),)
