"""A question understood in, its expected results with derivations out.

``solve`` answers one question; ``solve_worksheet`` goes through a sheet so that later parts
may use what earlier parts found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from parser.worksheet import Given, Question, Worksheet
from solver.constants import STATED_BY_SYMBOL, STATED_BY_UNIT
from solver.derive import accounting, balance, electric, lists, momentum, scalar
from solver.derive.electric import Answer
from solver.derive.engine import Known, Unsolved, Work, accepted_values
from solver.derive.scene import Prior, build
from solver.findings import Expected


@dataclass(frozen=True)
class Solution:
    """The results of one question in the order of its asks; empty with reasons when unsolved.

    ``asks`` holds, for each result, the index of its ask.
    """

    question: Question
    expected: tuple[Expected, ...] = ()
    asks: tuple[int, ...] = ()
    problems: tuple[str, ...] = ()


def solve_worksheet(worksheet: Worksheet) -> tuple[Solution, ...]:
    """Every question of a sheet, in order; a part may use the results of those before it."""
    solved: dict[str, Solution] = {}
    out: list[Solution] = []
    for question in worksheet.questions:
        earlier = {n: solved[n] for n in question.earlier if n in solved}
        solution = solve(question, earlier, worksheet.stated_constants)
        solved[question.number] = solution
        out.append(solution)
    return tuple(out)


def solve(
    question: Question,
    earlier: Mapping[str, Solution] | None = None,
    stated: Sequence[Given] = (),
) -> Solution:
    """The expected results of one question, or none and the reasons.

    ``earlier`` holds the solutions of the questions before it that it may use, ``stated`` the
    constants that the sheet states. Wrong is worse than unsolved: one ask that cannot be
    answered leaves its own results out, and says so.
    """
    if not question.numeric:
        return Solution(question)
    if question.problems:
        return Solution(question, problems=question.problems)
    if question.needs_figure and not question.givens:
        return Solution(question, problems=("This question leans on a figure.",))
    prior: dict[tuple[str, int], Prior] = {}
    for number, solution in (earlier or {}).items():
        for one, ask in zip(solution.expected, solution.asks, strict=True):
            prior[(number, ask)] = Prior(solution.question.asked[ask], one)
    expected: list[Expected] = []
    asks: list[int] = []
    problems: list[str] = []
    for index in range(len(question.asked)):
        try:
            results = _solve_ask(question, index, prior, stated)
        except Unsolved as reason:
            problems.append(str(reason))
            continue
        for one in results:
            expected.append(one)
            asks.append(index)
        if results:
            prior[(question.number, index)] = Prior(question.asked[index], results[0])
    if problems:
        return Solution(question, problems=tuple(dict.fromkeys(problems)))
    return Solution(question, tuple(expected), tuple(asks))


def _solve_ask(
    question: Question, index: int, prior: Mapping[tuple[str, int], Prior], stated: Sequence[Given]
) -> list[Expected]:
    work = Work(_stated(question, index, stated))
    scene = build(question, index, work, prior)
    answer: Answer | None = None
    for topic in (lists.answer, momentum.answer, balance.answer, electric.answer):
        answer = topic(scene)
        if answer is not None:
            break
    if answer is None:
        answer = scalar.answer(scene)
    results = {k: p.expected for k, p in prior.items()}
    out = []
    for one in answer:
        derivation = work.derivation(one.known)
        accounting.check(scene, derivation, prior)
        asked = question.asked[index]
        direction = None if asked.wants in ("magnitude", "ratio", "count") else one.direction
        value = one.known.value
        if asked.wants == "magnitude" and derivation.value < 0:
            value = abs(value)
        accepted = accepted_values(derivation, results)
        if asked.wants == "magnitude":
            accepted = tuple(abs(v) for v in accepted)
        out.append(Expected(one.of, value, one.known.unit, direction, accepted, derivation))
    return out


def _stated(question: Question, index: int, sheet: Sequence[Given]) -> dict[str, Known]:
    """Constants that the sheet or the question states, by their names here."""
    stated: dict[str, Known] = {}
    for given in sheet:
        name = constant_named(given)
        if name:
            stated[name] = Known(
                given.quantity.value,
                given.quantity.unit,
                name,
                constant=name,
                quantity=given.quantity,
            )
    for place, given in enumerate(question.givens):
        if given.ask is not None and given.ask > index:
            continue
        name = constant_named(given)
        if name:
            stated[name] = Known(
                given.quantity.value,
                given.quantity.unit,
                name,
                given=place,
                constant=None,
                quantity=given.quantity,
            )
    return stated


def constant_named(given: Given) -> str | None:
    """The constant that a given states ("k = 9.0 × 10^9 N·m²·C⁻²"), or None."""
    if given.kind.startswith("constant:"):
        return given.kind.removeprefix("constant:")
    if given.quantity.unit in STATED_BY_UNIT:
        return STATED_BY_UNIT[given.quantity.unit]
    if given.kind == "gravity":
        return "g"
    if (
        given.symbol in STATED_BY_SYMBOL
        and given.quantity.unit == STATED_BY_SYMBOL[given.symbol][1]
    ):
        return STATED_BY_SYMBOL[given.symbol][0]
    return None
