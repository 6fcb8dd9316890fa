"""Which written value answers which ask, and how it is judged with every plausible reading."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from parser.expression import is_plausible, parse_line, single_quantity
from parser.quantity import DecimalMark
from parser.worksheet import Asked, ParsedLine, Quantity, Question, Unparsed
from solver.findings import Answer, Expected, Verdict
from solver.formulas import LETTER_UNITS, letter_of, may_measure, subscript_of
from solver.numeric import close
from solver.slips import Case, Own, equal_ways, run, twins
from solver.units import same_dimension
from solver.verdicts import Judgement, Rules, is_signed, judge_answer, same_direction
from solver.working_types import ValueEvent, Working


@dataclass(frozen=True)
class JudgedAnswer:
    """An answer, the slips its writing shows, and whether it is right from an own earlier value."""

    answer: Answer
    slips: tuple[str, ...] = ()
    carried: bool = False
    uncertain: bool = False
    direction_same: bool | None = None
    rounded_line: int | None = None
    own_before: Mapping[tuple[str, int], float] = field(default_factory=dict)


def asked_of(question: Question, asks: Sequence[int], result: int) -> Asked | None:
    """The ask that an expected result belongs to."""
    ask = asks[result] if result < len(asks) else result
    return question.asked[ask] if ask < len(question.asked) else None


def judge_answers(
    question: Question,
    expected: Sequence[Expected],
    asks: Sequence[int],
    own: Mapping[tuple[str, int], float],
    rounded: Mapping[tuple[str, int], float],
    right: Mapping[tuple[str, int], Expected],
    working: Working,
    rules: Rules,
    decimal_mark: DecimalMark | None,
) -> tuple[JudgedAnswer, ...]:
    """One judged answer for each expected result, in order.

    Args:
        asks: the index of the ask that each result belongs to.
        own: the learner's own earlier results, by question number and ask, where they differ.
        rounded: those that agree, as the learner rounded them.
        right: the right results of earlier questions.
    """
    chosen = choose_events(question, expected, working)
    so_far = dict(own)
    found = []
    for index, result in enumerate(expected):
        asked = asked_of(question, asks, index)
        event = chosen[index]
        if event is None:
            found.append(_without_value(index, question, result, working))
            continue
        from_own = results_from_own(question, result, so_far, right)
        from_rounded = results_from_own(question, result, {**rounded, **so_far}, right)
        judged = _judge(
            index, event, result, from_own, from_rounded, asked, question, working, rules,
            decimal_mark,
        )  # fmt: skip
        if judged.answer.verdict is Verdict.DIFFERS and not judged.carried:
            judged = _rounding_excused(judged, question, expected, asks, so_far, working, rules)
        found.append(replace(judged, own_before=dict(so_far)))
        if judged.answer.verdict is Verdict.DIFFERS:
            so_far.setdefault((question.number, asks[index]), event.quantity.value)
    return tuple(found)


def _rounding_excused(
    judged: JudgedAnswer,
    question: Question,
    expected: Sequence[Expected],
    asks: Sequence[int],
    own: Mapping[tuple[str, int], float],
    working: Working,
    rules: Rules,
) -> JudgedAnswer:
    """A result that is off only because values on the way were rounded is no wrong one."""
    answer = judged.answer
    assert answer.ask is not None and answer.quantity is not None
    derivation = expected[answer.ask].derivation
    if derivation is None or working.pinned or judged.slips or not answer.quantity.value:
        return judged
    with_derivation = [i for i, e in enumerate(expected) if e.derivation is not None]
    which, last = with_derivation.index(answer.ask), len(derivation.steps) - 1
    kept = {s: v for (w, s), v in working.values.items() if w == which and s < last}
    case = Case(derivation, question)
    steps = {s: math.copysign(v, derivation.steps[s].value) for s, (v, _) in kept.items()}
    results = run(case, (), Own(steps, own, working.constants)) if kept else None
    if results is None or not close(abs(results[-1]), abs(answer.quantity.value), 0.01):
        return judged
    result = expected[answer.ask]
    value = math.copysign(results[-1], result.value)
    rounded = replace(result, value=value, accepted=(), derivation=None)
    asked = asked_of(question, asks, answer.ask)
    again = judge_answer(answer.quantity, answer.direction, rounded, asked, question, rules)
    if again.verdict not in (Verdict.AGREES, Verdict.INCOMPLETE):
        same = replace(answer, verdict=again.verdict, note=again.note)
        return replace(judged, answer=same, slips=again.slips)
    off = {s: abs(abs(v) / abs(derivation.steps[s].value) - 1) for s, (v, _) in kept.items()}
    note = "values were rounded on the way, so that the result is off"
    return replace(
        judged,
        answer=replace(answer, verdict=Verdict.INCOMPLETE, note=note),
        slips=(*again.slips, "rounded-too-early"),
        rounded_line=kept[max(off, key=off.__getitem__)][1],
    )


def results_from_own(
    question: Question,
    expected: Expected,
    own: Mapping[tuple[str, int], float],
    right: Mapping[tuple[str, int], Expected],
) -> tuple[Expected, ...]:
    """The results that follow from the learner's own earlier values; none where it is the same."""
    if expected.derivation is None or not own or not expected.value:
        return ()
    case = Case(expected.derivation, question)
    basis = Own(twins(case, own, right), own)
    found = []
    for ways in ((), *((way,) for way in equal_ways(case))):
        results = run(case, ways, basis)
        if results is None or close(results[-1], expected.value, 1e-6):
            continue
        value = results[-1]
        if expected.direction is not None or (expected.value > 0 and not is_signed(expected, None)):
            value = abs(value)
        ratio = value / expected.value
        found.append(
            replace(
                expected,
                value=value,
                accepted=tuple(v * ratio for v in expected.accepted),
                direction=expected.direction if results[-1] * expected.value > 0 else None,
                derivation=None,
            )
        )
    return tuple(found)


def _without_value(
    index: int, question: Question, expected: Expected, working: Working
) -> JudgedAnswer:
    """No value answers this ask: blank where nothing is written, else a person looks."""
    written = [i for i, line in enumerate(question.lines) if not line.struck and line.reading.text]
    if not written:
        return JudgedAnswer(Answer(index, 0, "", None, Verdict.BLANK))
    line = ([i for i in written if question.lines[i].role == "answer"] or written)[-1]
    text = question.lines[line].reading.text
    if (
        len(question.asked) > 1
        and working.events
        and all(isinstance(p, ParsedLine) for p in working.parsed)
    ):
        return JudgedAnswer(Answer(index, line, "", None, Verdict.BLANK, "no answer was found"))
    note = "no value could be read as the answer"
    return JudgedAnswer(Answer(index, line, text, None, Verdict.UNREAD, note), uncertain=True)


# --- which value is the answer --------------------


def choose_events(
    question: Question, expected: Sequence[Expected], working: Working
) -> list[ValueEvent | None]:
    """For each ask the value that answers it, the last fitting one."""
    events = [e for e in working.events if not question.lines[e.line].struck]
    events = [
        e
        for e in events
        if not _is_listed_given(e, question) or any(_fits(e, result) for result in expected)
    ]
    in_space = [e for e in events if question.lines[e.line].role == "answer"]
    pool = in_space or events
    if len(expected) == 1:
        return [_last_fitting(pool, expected[0], events)]
    chosen: list[ValueEvent | None] = [None] * len(expected)
    for index, result in enumerate(expected):
        named = [e for e in pool if _fits(e, result) and _names_body(e, result.of)]
        if named:
            chosen[index] = named[-1]
    rest = [e for e in pool if e not in chosen]
    missing = [i for i, one in enumerate(chosen) if one is None]
    groups: dict[str, list[int]] = {}
    for index in missing:
        groups.setdefault(expected[index].unit, []).append(index)
    for indices in groups.values():
        fitting = [e for e in rest if _fits(e, expected[indices[0]])]
        fitting = [e for e in fitting if not _is_listed_given(e, question)] or fitting
        if len(fitting) >= len(indices):
            for index, event in zip(indices, fitting[-len(indices) :], strict=True):
                chosen[index] = event
        elif fitting and _all_alike(expected, indices):
            for index in indices:
                chosen[index] = fitting[-1]
        else:
            for index, event in zip(indices, fitting, strict=False):
                chosen[index] = event
    for index, one in enumerate(chosen):
        if one is None and _all_alike(expected, range(len(expected))):
            chosen[index] = next((c for c in reversed(chosen) if c is not None), None)
    return chosen


def _all_alike(expected: Sequence[Expected], indices: Sequence[int]) -> bool:
    values = {expected[i].value for i in indices}
    return len(values) == 1


def _is_listed_given(event: ValueEvent, question: Question) -> bool:
    return any(
        abs(g.quantity.value - event.quantity.value) <= 1e-9 * abs(g.quantity.value)
        for g in question.givens
    )


def _last_fitting(
    pool: Sequence[ValueEvent], result: Expected, events: Sequence[ValueEvent]
) -> ValueEvent | None:
    if pool and _is_of(pool[-1], result):
        return pool[-1]
    fitting = [e for e in pool if _fits(e, result)]
    if fitting:
        return fitting[-1]
    return pool[-1] if pool else (events[-1] if events else None)


def _is_of(event: ValueEvent, result: Expected) -> bool:
    """Does the name before a value say that it is what was asked, whatever its unit?"""
    known = [n for n in event.names if letter_of(n) in LETTER_UNITS]
    return any(may_measure(n, result.unit) for n in known)


def _fits(event: ValueEvent, result: Expected) -> bool:
    quantity = event.quantity
    if quantity.written_unit and quantity.written_unit != "percent":
        return same_dimension(quantity.unit, result.unit)
    if not event.names:
        return True
    return any(may_measure(n, result.unit) for n in event.names)


def _names_body(event: ValueEvent, body: str | None) -> bool:
    if not body:
        return False
    lowered = [subscript_of(n) for n in event.names]
    if body in lowered or any(s.endswith(body) and len(s) <= len(body) + 1 for s in lowered):
        return True
    return bool(re.search(rf"(?<!\w){re.escape(body)}(?!\w)", event.label))


# --- judging it --------------------


def _judge(
    index: int,
    event: ValueEvent,
    expected: Expected,
    own: Sequence[Expected],
    rounded: Sequence[Expected],
    asked: Asked | None,
    question: Question,
    working: Working,
    rules: Rules,
    decimal_mark: DecimalMark | None,
) -> JudgedAnswer:
    quantity = _as_count(event, expected)
    direction = _direction(event, question, expected, working)
    judged = judge_answer(quantity, direction, expected, asked, question, rules)
    carried = False
    for basis in (*own, *rounded):
        if judged.verdict is not Verdict.DIFFERS or carried:
            continue
        from_own = judge_answer(quantity, direction, basis, asked, question, rules)
        if from_own.verdict not in (Verdict.AGREES, Verdict.INCOMPLETE):
            continue
        if not own:
            note = "right from your own earlier value, which was rounded"
            judged = Judgement(Verdict.INCOMPLETE, note, (*from_own.slips, "rounded-too-early"))
            continue
        carried = True
        note = "right from your own earlier value"
        if from_own.note:
            note += f"; {from_own.note}"
        judged = Judgement(Verdict.DIFFERS, note, from_own.slips)
    uncertain = _readings_disagree(
        event, direction, expected, asked, question, working, rules, decimal_mark, judged.verdict
    )
    if quantity.comma_unsettled and decimal_mark is None:
        uncertain = "the comma may be a decimal mark or group thousands"
    line = event.line
    answer = Answer(
        index,
        line,
        event.relation.text if event.relation.text else question.lines[line].reading.text,
        quantity,
        Verdict.UNREAD if uncertain else judged.verdict,
        uncertain or judged.note,
        direction,
        quantity.unit,
    )
    same = None
    if direction is not None and expected.direction is not None:
        same = same_direction(direction, expected.direction, expected.of, question)
    return JudgedAnswer(answer, judged.slips, carried, bool(uncertain), same)


def _as_count(event: ValueEvent, expected: Expected) -> Quantity:
    """ "3×10^{9} electrons" is a pure number."""
    if event.count_noun and expected.unit == "dimensionless":
        return replace(event.quantity, unit="dimensionless", written_unit="")
    return event.quantity


def _direction(
    event: ValueEvent, question: Question, expected: Expected, working: Working
) -> str | None:
    if event.direction is not None:
        return event.direction
    for index in range(len(working.parsed) - 1, event.line - 1, -1):
        parsed = working.parsed[index]
        if isinstance(parsed, ParsedLine) and not question.lines[index].struck:
            if parsed.direction is not None:
                return parsed.direction
            way = _way_in_words(question.lines[index].reading.text, question, expected)
            if way is not None:
                return way
    for parsed in working.parsed[: event.line]:
        if isinstance(parsed, ParsedLine) and parsed.direction and not parsed.relations:
            return parsed.direction
    return None


def _way_in_words(text: str, question: Question, expected: Expected) -> str | None:
    """ "attraction" and "repulsion" point towards and away from the one other body."""
    lower = text.lower()
    attract, repel = "attract" in lower, "repel" in lower or "repuls" in lower
    if attract == repel:
        return None
    others = [b for b in question.bodies if b != expected.of]
    if len(others) != 1:
        return None
    return f"towards {others[0]}" if attract else f"away from {others[0]}"


def _readings_disagree(
    event: ValueEvent,
    direction: str | None,
    expected: Expected,
    asked: Asked | None,
    question: Question,
    working: Working,
    rules: Rules,
    decimal_mark: DecimalMark | None,
    verdict: Verdict,
) -> str:
    """Why the answer's readings cannot be trusted; "" when they can."""
    line = question.lines[event.line]
    if line.corrected_by_person:
        return ""
    same = other = 0.0
    used = working.lines[event.line].reading_used
    for position, candidate in enumerate(line.reading.candidates):
        if position == used:
            same += candidate.probability
            continue
        if candidate.probability < rules.plausible_probability / 5:
            continue
        parsed = parse_line(candidate.text, decimal_mark, question.bodies)
        quantity = _last_quantity(parsed)
        if quantity is None or not is_plausible(parsed):
            continue
        assert isinstance(parsed, ParsedLine)
        heading = parsed.relations[-1].direction or direction
        judged = judge_answer(quantity, heading, expected, asked, question, rules)
        if judged.verdict is verdict:
            same += candidate.probability
        else:
            other += candidate.probability
    if other >= rules.plausible_probability:
        return "other readings of this line would be judged differently"
    if same < rules.least_confidence:
        return "this line was not read with enough certainty"
    return ""


def _last_quantity(parsed: ParsedLine | Unparsed) -> Quantity | None:
    if isinstance(parsed, Unparsed) or not parsed.relations:
        return None
    relation = parsed.relations[-1]
    return single_quantity(relation, relation.sides[-1])
