"""A question understood in, its expected results with derivations out.

``solve`` answers one question; ``solve_worksheet`` goes through a sheet so that later parts
may use what earlier parts found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from parser.worksheet import Asked, Given, Question, Worksheet
from solver.constants import STATED_BY_SYMBOL, STATED_BY_UNIT
from solver.derive import accounting, balance, electric, heard, lists, momentum, scalar, scaling
from solver.derive.engine import Known, Unsolved, Work, accepted_values
from solver.derive.results import Answer
from solver.derive.scene import Prior, build
from solver.findings import Derivation, Expected
from solver.laws.book import symbol


@dataclass(frozen=True)
class Solution:
    """The results of one question in the order of its asks, and why any ask has none.

    ``asks`` holds, for each result, the index of its ask. With ``problems`` the results are
    those of the asks that could be answered; the others need a person.
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
        twin = next(
            (i for i in range(index) if _same_but_unit(question.asked[i], question.asked[index])),
            None,
        )
        if twin is not None:
            again = [e for e, a in zip(expected, asks, strict=True) if a == twin]
            expected += again
            asks += [index] * len(again)
            continue
        try:
            results = _solve_ask(question, index, prior, stated)
        except Unsolved as reason:
            results = _changed(question, index, prior, stated) or _one_by_one(
                question, index, prior, stated
            )
            if not results:
                problems.append(str(reason))
                continue
        for one in results:
            expected.append(one)
            asks.append(index)
        if results:
            prior[(question.number, index)] = Prior(question.asked[index], results[0])
    if expected and not problems:
        problems += _left_over(question, expected, prior, stated)
    return Solution(question, tuple(expected), tuple(asks), tuple(dict.fromkeys(problems)))


def _left_over(
    question: Question,
    expected: Sequence[Expected],
    prior: Mapping[tuple[str, int], Prior],
    stated: Sequence[Given],
) -> list[str]:
    """What a question of several asks gives that none of its results rests on."""
    if len(question.asked) < 2 or question.parent is not None or question.earlier:
        return []
    last = len(question.asked) - 1
    scene = build(question, last, Work(_stated(question, last, stated)), prior)
    derivations = [e.derivation for e in expected if e.derivation is not None]
    return [
        f"It is not clear what {given.quantity.text} has to do with this question."
        for given in accounting.left_over(scene, derivations, prior)
    ]


def _same_but_unit(first: Asked, second: Asked) -> bool:
    """ "in joules and in electron volts": one result asked in two units."""
    return first.unit != second.unit and replace(first, unit=second.unit) == second


_EACH = re.compile(r"\b(?:each|both)\b|wavelengths|frequencies|energies|currents|speeds")


def _one_by_one(
    question: Question, index: int, prior: Mapping[tuple[str, int], Prior], stated: Sequence[Given]
) -> list[Expected]:
    """ "the wavelength of each": one result for every value of the one kind stated twice."""
    if not _EACH.search(question.asked[index].text):
        return []
    kinds: dict[str, list[int]] = {}
    for place, given in enumerate(question.givens):
        kinds.setdefault(given.kind, []).append(place)
    several = [p for k, p in kinds.items() if len(p) > 1 and k not in ("charge", "distance")]
    if len(several) != 1:
        return []
    out: list[Expected] = []
    for chosen in several[0]:
        left_out = frozenset(p for p in several[0] if p != chosen)
        try:
            out += _solve_ask(question, index, prior, stated, left_out)
        except Unsolved:
            return []
    return out


def _solve_ask(
    question: Question,
    index: int,
    prior: Mapping[tuple[str, int], Prior],
    stated: Sequence[Given],
    without: frozenset[int] = frozenset(),
) -> list[Expected]:
    asked = question.asked[index]
    if asked.kind == "unknown":
        raise Unsolved(f"What is asked was not understood: {asked.text}")
    if asked.wants == "ratio":
        compared = _compared(question, index, prior, stated)
        if compared is not None:
            return compared
    work = Work(_stated(question, index, stated))
    scene = build(question, index, work, prior, without)
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
        heard.check(scene, derivation, prior)
        if asked.wants == "ratio" and one.known.unit != "dimensionless":
            raise Unsolved("The comparison that is asked was not understood.")
        direction = None if asked.wants in ("magnitude", "ratio", "count") else one.direction
        value = one.known.value
        if asked.wants == "magnitude" and derivation.value < 0:
            value = abs(value)
        accepted = accepted_values(derivation, results)
        if asked.wants == "magnitude":
            accepted = tuple(abs(v) for v in accepted)
        out.append(Expected(one.of, value, one.known.unit, direction, accepted, derivation))
    return out


def _compared(
    question: Question, index: int, prior: Mapping[tuple[str, int], Prior], stated: Sequence[Given]
) -> list[Expected] | None:
    """A ratio to a result found before: the same kind, worked out anew with what changed."""
    asked = question.asked[index]
    if not any(g.ask == index for g in question.givens):
        return None
    before = next(
        (
            (k, p)
            for k, p in reversed(list(prior.items()))
            if p.asked.kind == asked.kind and p.asked.wants != "ratio"
        ),
        None,
    )
    if before is None:
        return None
    plain = tuple(
        replace(a, wants="value", text="") if i == index else a
        for i, a in enumerate(question.asked)
    )
    try:
        new = _solve_ask(replace(question, asked=plain), index, prior, stated)[0]
    except Unsolved:
        return None
    place, found = before
    work = Work(_stated(question, index, stated))
    old = Known(found.expected.value, found.expected.unit, "found before", earlier=place)
    assert new.derivation is not None
    result = _continue(work, new.derivation)
    comparing = "compare" in asked.text
    top, bottom = (old, result) if comparing else (result, old)
    ratio = work.expression(
        "ratio",
        "n",
        symbol("x_1") / symbol("x_2"),
        {"x_1": top, "x_2": bottom},
        "dimensionless",
        "ratio",
    )
    derivation = work.derivation(ratio)
    results = {k: p.expected for k, p in prior.items()}
    return [
        Expected(
            None,
            ratio.value,
            "dimensionless",
            None,
            accepted_values(derivation, results),
            derivation,
        )
    ]


def _changed(
    question: Question, index: int, prior: Mapping[tuple[str, int], Prior], stated: Sequence[Given]
) -> list[Expected]:
    """What is asked as it was before a change of scale, times the factor of the change."""
    asked = question.asked[index]
    if asked.wants in ("ratio", "show", "sign", "position"):
        return []
    work = Work(_stated(question, index, stated))
    scene = build(question, index, work, prior)
    try:
        change = scaling.change_of(scene)
        if change is None:
            return []
        base = scaling.stated_base(scene, change) or _base(question, index, prior, stated, change)
    except Unsolved:
        return []
    before, direction, of = base
    known = before if isinstance(before, Known) else _continue(work, before)
    changed = work.expression(
        "in proportion to what changes",
        "x_2",
        change.factor * symbol("x_1"),
        {"x_1": known} | dict(change.inputs),
        known.unit,
        f"new {asked.kind.replace('_', ' ')}",
    )
    derivation = work.derivation(changed)
    results = {k: p.expected for k, p in prior.items()}
    if asked.wants in ("magnitude", "count"):
        direction = None
    return [
        Expected(
            of,
            changed.value,
            changed.unit,
            direction,
            accepted_values(derivation, results),
            derivation,
        )
    ]


def _base(
    question: Question,
    index: int,
    prior: Mapping[tuple[str, int], Prior],
    stated: Sequence[Given],
    change: scaling.Change,
) -> tuple[Derivation, str | None, str | None]:
    """The asked quantity worked out as if nothing had changed."""
    facts = tuple(f for f in question.facts if f.name not in ("scaled", "scaled-given"))
    found = _solve_ask(replace(question, facts=facts), index, prior, stated, change.givens)
    if len(found) != 1 or found[0].derivation is None:
        raise Unsolved("What it was before the change is not clear.")
    return found[0].derivation, found[0].direction, found[0].of


def _continue(work: Work, derivation: Derivation) -> Known:
    """Take over the steps of a derivation and give its result."""
    work.steps.extend(derivation.steps)
    last = derivation.steps[-1]
    return Known(last.value, last.unit, last.label, step=len(work.steps) - 1)


def _stated(question: Question, index: int, sheet: Sequence[Given]) -> dict[str, Known]:
    """Constants that the sheet or the question states, by their names here."""
    of_sheet = [(given, None) for given in sheet]
    of_question = [
        (given, place)
        for place, given in enumerate(question.givens)
        if given.ask is None or given.ask <= index
    ]
    stated: dict[str, Known] = {}
    for given, place in [*of_sheet, *of_question]:
        name = constant_named(given)
        if name:
            stated[name] = Known(
                given.quantity.value,
                given.quantity.unit,
                name,
                given=place,
                constant=name if place is None else None,
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
        given.symbol is not None
        and given.symbol in STATED_BY_SYMBOL
        and given.quantity.unit == STATED_BY_SYMBOL[given.symbol][1]
    ):
        return STATED_BY_SYMBOL[given.symbol][0]
    return None
