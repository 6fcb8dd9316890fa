"""A worksheet with its written answers becomes findings: verdicts, broken lines, slips, marks.

The questions are solved in order. Where a learner's earlier result differs from the right one,
later parts are judged from the learner's own value too, and the slip is charged once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from parser.quantity import DecimalMark, settle_decimal_mark
from parser.worksheet import Given, ParsedLine, Question, Worksheet
from scanner.page import Candidate, Reading
from solver.answers import JudgedAnswer, asked_of, judge_answers
from solver.derive import Solution, solve
from solver.explain import NEAR_MISCOPY, TIE
from solver.findings import (
    Answer,
    Expected,
    Findings,
    LineFinding,
    Marks,
    Point,
    QuestionFindings,
    SlipFinding,
    Step,
    Verdict,
)
from solver.formulas import states_law
from solver.guideline import Guideline, GuidelinePoint, default_guideline
from solver.numeric import close
from solver.slips import CATALOGUE, Case, Change, Explanation, Own, all_changes, run, search
from solver.verdicts import Rules, is_signed, last_figure, worst
from solver.working import judge_working
from solver.working_types import Working

OwnResults = dict[tuple[str, int], float]


def check_worksheet(
    worksheet: Worksheet,
    rules: Rules = Rules(),  # noqa: B008  frozen, so one shared default is safe
    guidelines: Mapping[str, Guideline] | None = None,
) -> Findings:
    """Solve, judge, explain and mark every question of one script.

    Args:
        rules: tolerances and policies.
        guidelines: marking guidelines by question number; the default one where it is missing.
    """
    solutions: dict[str, Solution] = {}
    own: OwnResults = {}
    rounded: OwnResults = {}
    found: list[QuestionFindings] = []
    mark = worksheet.decimal_mark or _decimal_mark(worksheet)
    for question in worksheet.questions:
        solution = _solution(question, solutions, worksheet.stated_constants)
        solutions[question.number] = solution
        finding = check_question(
            question,
            solution.expected,
            rules,
            own,
            mark,
            (guidelines or {}).get(question.number),
            solution.asks,
            solution.problems,
            rounded,
            _right_results(solutions, question),
        )
        if finding.verdict is Verdict.DIFFERS and _rests_on_unjudged(question, found):
            finding = _left_open(finding)
        for verdict, results in ((Verdict.DIFFERS, own), (Verdict.AGREES, rounded)):
            results |= own_results(
                question.number, finding.answers, solution.expected, solution.asks, verdict
            )
        found.append(finding)
    return Findings(tuple(found), worksheet.problems)


def _rests_on_unjudged(question: Question, found: Sequence[QuestionFindings]) -> bool:
    """Was a written earlier part of the same question unread or not understood?"""
    open_verdicts = (Verdict.UNREAD, Verdict.UNSOLVED)
    return any(
        f.question.number in question.earlier
        and f.question.numeric
        and f.verdict in open_verdicts
        and any(line.reading.candidates or line.box for line in f.question.lines)
        for f in found
    )


# Slips that a value from an earlier part would look like.
_LIKE_OWN_VALUES = frozenset(
    {"given-miscopied", "constant-mistaken", "wrong-pair", "earlier-charge-used"}
)


def _left_open(finding: QuestionFindings) -> QuestionFindings:
    """A part that may rest on an unjudged one: strange numbers in it are not called slips."""
    doubted = {s.line for s in finding.slips if s.name in _LIKE_OWN_VALUES}
    named = {s.line for s in finding.slips} - doubted
    lines = tuple(
        _cleared(line) if i + 1 not in named else line for i, line in enumerate(finding.working)
    )
    reason = "An earlier part could not be judged; this part may build on it."
    return replace(
        finding,
        working=lines,
        slips=tuple(s for s in finding.slips if s.line not in doubted),
        needs_person=True,
        reasons=(*finding.reasons, reason),
    )


def _right_results(
    solutions: Mapping[str, Solution], question: Question
) -> dict[tuple[str, int], Expected]:
    """The right results that a question may build on, by question number and ask."""
    found: dict[tuple[str, int], Expected] = {}
    for number in question.earlier:
        solution = solutions.get(number)
        if solution is not None:
            for result, ask in zip(solution.expected, solution.asks, strict=True):
                found.setdefault((number, ask), result)
    return found


def _decimal_mark(worksheet: Worksheet) -> DecimalMark | None:
    """The mark that the unambiguous numbers of print and pen agree on."""
    texts = []
    for question in worksheet.questions:
        texts.append(question.text)
        texts.extend(line.reading.text for line in question.lines)
    return settle_decimal_mark("\n".join(texts))


def _solution(
    question: Question, solutions: Mapping[str, Solution], constants: Sequence[Given]
) -> Solution:
    if question.expected_by_person:
        expected = tuple(
            Expected(
                question.asked[i].of if i < len(question.asked) else None,
                quantity.value,
                quantity.unit,
                quantity.direction,
                given_by_person=True,
            )
            for i, quantity in enumerate(question.expected_by_person)
        )
        return Solution(question, expected, tuple(range(len(expected))))
    earlier = {n: solutions[n] for n in question.earlier if n in solutions}
    return solve(question, earlier, constants)


def own_results(
    number: str,
    answers: Sequence[Answer],
    expected: Sequence[Expected],
    asks: Sequence[int],
    verdict: Verdict,
) -> OwnResults:
    """A learner's results with this verdict, by question and ask, for what builds on them."""
    own: OwnResults = {}
    for answer in answers:
        if answer.ask is None or answer.quantity is None or answer.verdict is not verdict:
            continue
        result = expected[answer.ask]
        value = answer.quantity.value
        if result.direction is not None or (result.value >= 0 and not is_signed(result, None)):
            value = abs(value)
        own.setdefault((number, asks[answer.ask]), value)
    return own


# --- one question --------------------


def check_question(
    question: Question,
    expected: Sequence[Expected],
    rules: Rules,
    own_earlier: Mapping[tuple[str, int], float],
    decimal_mark: DecimalMark | None = None,
    guideline: Guideline | None = None,
    asks: Sequence[int] | None = None,
    problems: Sequence[str] = (),
    rounded_earlier: Mapping[tuple[str, int], float] | None = None,
    right_earlier: Mapping[tuple[str, int], Expected] | None = None,
) -> QuestionFindings:
    """Judge one question's lines and answers against its expected results.

    ``asks`` holds, for each expected result, the index of its ask (in order when None).
    """
    expected = tuple(expected)
    asks = tuple(range(len(expected))) if asks is None else tuple(asks)
    if guideline is None:
        guideline = default_guideline(question, expected, rules)
    if not question.numeric or not expected or problems:
        return replace(_for_a_person(question, guideline, problems), expected=expected, asks=asks)
    if not any(line.reading.text and not line.struck for line in question.lines):
        marks = _nothing_earned(guideline, "nothing is written")
        return QuestionFindings(question, expected, verdict=Verdict.BLANK, marks=marks, asks=asks)
    right = right_earlier or {}
    own = {k: v for k, v in own_earlier.items() if k in right or _is_used(k, expected)}
    rounded = {
        k: v for k, v in (rounded_earlier or {}).items() if k in right or _is_used(k, expected)
    }
    working = judge_working(
        question, expected, rules, {**rounded, **own}, decimal_mark, asks, right
    )
    answers = judge_answers(
        question, expected, asks, own, rounded, right, working, rules, decimal_mark
    )
    reasons = [
        f"Line {a.answer.line + 1}: {a.answer.note}"
        for a in answers
        if a.answer.verdict is Verdict.UNREAD
    ]
    slips, lines = _explain(question, expected, asks, answers, working, rules, own)
    lines, doubts = _doubtful_lines(
        question, expected, asks, rules, own, right, decimal_mark, lines
    )
    reasons.extend(doubts)
    verdict = worst(a.answer.verdict for a in answers)
    if verdict is Verdict.AGREES and any(line.follows is False for line in lines):
        reasons.append("The result agrees, but a line above it has a slip.")
    marks = _marks(guideline, expected, answers, working, slips, rules)
    if marks is not None and any(p.earned is None for p in marks.points):
        reasons.append("A mark is left open.")
    return QuestionFindings(
        question,
        expected,
        tuple(a.answer for a in answers),
        tuple(lines),
        verdict,
        bool(reasons),
        tuple(dict.fromkeys(reasons)),
        tuple(slips),
        marks,
        asks,
    )


def _is_used(key: tuple[str, int], expected: Sequence[Expected]) -> bool:
    return any(
        i.earlier == key
        for e in expected
        if e.derivation is not None
        for s in e.derivation.steps
        for i in s.inputs
    )


def _for_a_person(
    question: Question, guideline: Guideline | None, problems: Sequence[str]
) -> QuestionFindings:
    written = any(line.reading.text for line in question.lines)
    lines = tuple(LineFinding(line) for line in question.lines)
    marks = None
    if guideline is not None:
        points = tuple(
            Point(p.marks_for, None, p.worth, p.text or "a person marks this")
            for p in guideline.points
        )
        marks = Marks(0, guideline.total, points)
    if not question.numeric:
        verdict = Verdict.UNREAD if written else Verdict.BLANK
        reason = "This is answered in words or by a drawing; a person marks it."
        return QuestionFindings(
            question, (), (), lines, verdict, written, (reason,) if written else (), (), marks
        )
    reasons = tuple(dict.fromkeys((*question.problems, *problems)))
    reasons = reasons or ("The question was not understood.",)
    return QuestionFindings(
        question, (), (), lines, Verdict.UNSOLVED, True, tuple(reasons), (), marks
    )


def _nothing_earned(guideline: Guideline | None, reason: str) -> Marks | None:
    if guideline is None:
        return None
    points = tuple(Point(p.marks_for, False, p.worth, reason) for p in guideline.points)
    return Marks(0, guideline.total, points)


# --- which slips --------------------


def slip_finding(name: str, line: int | None, score: float = 1.0) -> SlipFinding:
    """A slip of the catalogue as it is reported; ``line`` counts from 1."""
    entry = CATALOGUE[name]
    return SlipFinding(name, entry.explanation, entry.hint, line, score)


def _explain(
    question: Question,
    expected: Sequence[Expected],
    asks: Sequence[int],
    answers: Sequence[JudgedAnswer],
    working: Working,
    rules: Rules,
    own: Mapping[tuple[str, int], float],
) -> tuple[list[SlipFinding], list[LineFinding]]:
    """The slips that explain the answers, and the lines with the first broken one marked."""
    lines = list(working.lines)
    wrong = [a for a in answers if a.answer.verdict is Verdict.DIFFERS and not a.carried]
    wrong_value = [a for a in wrong if not ({"unit-wrong", "direction-reversed"} & set(a.slips))]
    slips: list[SlipFinding] = []
    if not wrong_value and not any(a.uncertain for a in answers):
        # A right result clears its working, but for numbers that are plainly copied wrongly.
        sure = [p for p in working.pinned if _is_plain_miscopy(p.change)]
        kept = {p.line for p in sure}
        lines = [line if i in kept else _cleared(line) for i, line in enumerate(lines)]
        slips.extend(slip_finding(p.change.slip, p.line + 1, p.change.prior) for p in sure)
    else:
        for pinned in working.pinned:
            prior = pinned.change.prior
            slips.append(slip_finding(pinned.change.slip, pinned.line + 1, prior))
            slips.extend(slip_finding(name, pinned.line + 1, prior * TIE) for name in pinned.ties)
    for judged in wrong_value:
        if any(line.follows is False for line in lines):
            continue
        own_here = {**own, **judged.own_before}
        found = _search_answer(question, expected, asks, judged, rules, own_here, working)
        line = _first_broken(question, expected, judged, found, working)
        note = _note(found, judged)
        lines[line] = replace(lines[line], follows=False, note=note)
        slips.extend(_as_findings(found, judged, line))
        if not found and any(working.substitutions.values()) and line == judged.answer.line:
            slips.append(slip_finding("arithmetic-slip", line + 1))
    for judged in answers:
        if judged.carried:
            slips.append(slip_finding("carried-forward-error", judged.answer.line + 1))
        for name in judged.slips:
            if name == "sign-dropped" and any(
                s.name in ("sign-dropped", "sign-reversed") for s in slips
            ):
                continue
            at = judged.answer.line
            if name == "rounded-too-early" and judged.rounded_line is not None:
                at = judged.rounded_line
            slips.append(slip_finding(name, at + 1))
            if name in ("unit-wrong", "direction-reversed") and judged in wrong:
                at = judged.answer.line
                reason = lines[at].note or judged.answer.note
                lines[at] = replace(lines[at], follows=False, note=reason)
    unique: dict[tuple[str, int | None], SlipFinding] = {}
    for slip in slips:
        unique.setdefault((slip.name, slip.line), slip)
    return list(unique.values()), lines


def _is_plain_miscopy(change: Change) -> bool:
    """Two digits exchanged or one changed; anything wilder may be another way to work."""
    return change.slip == "given-miscopied" and change.prior >= NEAR_MISCOPY


def _cleared(line: LineFinding) -> LineFinding:
    return replace(line, follows=None, note=None) if line.follows is False else line


def _search_answer(
    question: Question,
    expected: Sequence[Expected],
    asks: Sequence[int],
    judged: JudgedAnswer,
    rules: Rules,
    own: Mapping[tuple[str, int], float],
    working: Working,
) -> tuple[Explanation, ...]:
    """Slips that reproduce an answer which no line explains."""
    answer = judged.answer
    assert answer.ask is not None
    result = expected[answer.ask]
    if answer.quantity is None or result.derivation is None:
        return ()
    quantity = answer.quantity
    value = quantity.value
    figure = min(last_figure(quantity), 0.05 * abs(value))
    tolerance = max(figure, 0.005 * abs(value))
    asked = asked_of(question, asks, answer.ask)
    pairs = 2 if quantity.significant_figures >= 2 else 1
    case = Case(result.derivation, question)
    numbers = _numbers_put_in(working)
    changes = [
        c
        for c in all_changes(case)
        if not numbers or all(s.value is None or _is_among(s.value, numbers) for s in c.singles)
    ]
    return search(
        case,
        value,
        tolerance,
        is_signed(result, asked),
        Own(earlier=own, constants=working.constants),
        pairs,
        [p.change for p in working.pinned if p.change.factor == 1.0],
        changes,
    )


def _numbers_put_in(working: Working) -> list[float]:
    """Every number of the substitutions, empty when none is shown."""
    return [
        quantity.value
        for line, parsed in zip(working.lines, working.parsed, strict=True)
        if line.kind == "substitution" and isinstance(parsed, ParsedLine)
        for relation in parsed.relations
        for quantity in relation.quantities
    ]


def _is_among(value: float, numbers: Sequence[float]) -> bool:
    return any(close(abs(value), abs(n), 1e-3) for n in numbers)


MOST_TIES = 3


def _as_findings(
    found: Sequence[Explanation], judged: JudgedAnswer, line: int
) -> list[SlipFinding]:
    if not found:
        return []
    slips: list[SlipFinding] = []
    for explanation in found:
        if explanation.score < TIE * found[0].score or len(slips) >= MOST_TIES:
            break
        names = {s.name for s in slips}
        for change in explanation.changes:
            if change.slip not in names:
                slips.append(slip_finding(change.slip, line + 1, explanation.score))
    return slips


def _note(found: Sequence[Explanation], judged: JudgedAnswer) -> str:
    if found:
        return "; ".join(dict.fromkeys(c.note for c in found[0].changes))
    return judged.answer.note or "this line does not lead to the expected result"


def _first_broken(
    question: Question,
    expected: Sequence[Expected],
    judged: JudgedAnswer,
    found: Sequence[Explanation],
    working: Working,
) -> int:
    """The line to blame when every line was acceptable by itself but the answer is wrong."""
    last = judged.answer.line
    if found:
        for change in found[0].changes:
            line = _line_of_law(question, expected, change, working, last)
            if line is not None:
                return line
    for index in range(last + 1):
        finding = working.lines[index]
        if finding.follows is None and finding.kind == "substitution":
            return index
    line = _line_of_undivided(question, expected, found, working, last)
    if line is not None:
        return line
    quantity = judged.answer.quantity
    if quantity is not None:
        rounding = max(min(last_figure(quantity), 0.05 * abs(quantity.value)), 0.0)
        for index, value in sorted(working.parts.items()):
            off = abs(abs(value) - abs(quantity.value))
            if index <= last and off <= max(rounding, 0.01 * abs(value)):
                return index
    for index in range(last + 1):
        if working.lines[index].follows is None and working.lines[index].kind == "value":
            return index
    return last


def _line_of_undivided(
    question: Question,
    expected: Sequence[Expected],
    found: Sequence[Explanation],
    working: Working,
    last: int,
) -> int | None:
    """The line with a sum that the learner went on with as if it had been divided."""
    cases = [Case(e.derivation, question) for e in expected if e.derivation is not None]
    for explanation in found:
        for change in explanation.changes:
            for case in cases:
                wrong = run(case, (change,)) if change.law is not None else None
                if wrong is None or change.step is None or change.step >= len(wrong):
                    continue
                for index, value in sorted(working.parts.items()):
                    if index <= last and close(value, wrong[change.step], 0.01):
                        return index
    return None


def _line_of_law(
    question: Question,
    expected: Sequence[Expected],
    change: Change,
    working: Working,
    last: int,
) -> int | None:
    """The formula line that states the changed law."""
    if change.law is None or change.step is None:
        return None
    cases = [Case(e.derivation, question) for e in expected if e.derivation is not None]
    for index in range(last + 1):
        for left, right, relation in working.formula_lines.get(index, ()):
            for case in cases:
                if change.step < len(case.steps) and (
                    states_law(relation, left, right, case, {change.step: change.law}) is not None
                ):
                    return index
    return None


def _doubtful_lines(
    question: Question,
    expected: Sequence[Expected],
    asks: Sequence[int],
    rules: Rules,
    own: Mapping[tuple[str, int], float],
    right: Mapping[tuple[str, int], Expected],
    decimal_mark: DecimalMark | None,
    lines: Sequence[LineFinding],
) -> tuple[list[LineFinding], list[str]]:
    """A broken line whose other plausible reading would follow is left to a person."""
    checked, reasons = list(lines), []
    for index, finding in enumerate(lines):
        if finding.follows is not False or finding.line.corrected_by_person:
            continue
        for position, candidate in enumerate(finding.line.reading.candidates):
            likely = candidate.probability >= rules.plausible_probability
            if position == finding.reading_used or not likely:
                continue
            other = replace(finding.line, reading=Reading((Candidate(candidate.text, 1.0),)))
            trial = replace(
                question, lines=(*question.lines[:index], other, *question.lines[index + 1 :])
            )
            again = judge_working(trial, expected, rules, own, decimal_mark, asks, right)
            if again.lines[index].follows is not False and again.lines[index].kind != "words":
                note = "another reading of this line would follow"
                checked[index] = replace(finding, follows=None, note=note)
                reasons.append(f"Line {index + 1}: {note}.")
                break
    return checked, reasons


# --- marks --------------------


@dataclass(frozen=True)
class _Method:
    """What of the working bears on one step."""

    formula: bool
    right: bool | None
    leaf_slips: int
    law_slip: bool


def _marks(
    guideline: Guideline | None,
    expected: Sequence[Expected],
    answers: Sequence[JudgedAnswer],
    working: Working,
    slips: Sequence[SlipFinding],
    rules: Rules,
) -> Marks | None:
    if guideline is None:
        return None
    all_right = all(
        a.answer.verdict in (Verdict.AGREES, Verdict.INCOMPLETE) or a.carried for a in answers
    )
    shown = any(line.kind in ("formula", "substitution") for line in working.lines) or (
        len(working.values) > 1
    )
    lost_substitutions = 0
    points = []
    for point in guideline.points:
        if point.marks_for == "open":
            points.append(Point("open", None, point.worth, point.text))
        elif point.marks_for in ("answer", "direction"):
            points.append(_answer_point(point, answers, working, slips, rules))
        elif all_right:
            reason = "shown by the right result" if not working.formulas else "as it should be"
            points.append(Point(point.marks_for, True, point.worth, reason))
        elif not shown:
            points.append(Point(point.marks_for, False, point.worth, "no working is shown"))
        elif any(a.uncertain for a in answers) and not working.formulas:
            points.append(Point(point.marks_for, None, point.worth, "the reading is uncertain"))
        else:
            method = _method(point, expected, working, slips)
            earned, reason = _method_point(point, method, lost_substitutions)
            if point.marks_for == "substitution" and not earned:
                lost_substitutions += 1
            points.append(Point(point.marks_for, earned, point.worth, reason))
    suggested = sum(p.worth for p in points if p.earned)
    return Marks(suggested, guideline.total, tuple(points))


def _method(
    point: GuidelinePoint,
    expected: Sequence[Expected],
    working: Working,
    slips: Sequence[SlipFinding],
) -> _Method:
    """Evidence for the step that a mark point is about, over all asks."""
    places = set()
    cases = [e.derivation for e in expected if e.derivation is not None]
    for which, derivation in enumerate(cases):
        if point.step < len(derivation.steps):
            places.add((which, len(derivation.steps) - 1 - point.step))
    formula = any(p in working.formulas for p in places)
    known = [working.substitutions[p] for p in places if p in working.substitutions]
    right = None if not known else all(known)
    changes = [
        p.change
        for p in working.pinned
        if any(_bears_on(p.change, cases[which].steps[step], step) for which, step in places)
    ]
    pinned = {p.change.slip for p in working.pinned}
    leaf = len({c.slip for c in changes if CATALOGUE[c.slip].acts_on == "leaf"})
    law = any(CATALOGUE[c.slip].acts_on == "law" for c in changes)
    if point.step == 0 and not pinned:
        leaf += sum(1 for s in slips if CATALOGUE[s.name].acts_on == "leaf")
        law |= any(CATALOGUE[s.name].acts_on == "law" for s in slips)
    return _Method(formula, right, leaf, law)


def _bears_on(change: Change, step: Step, index: int) -> bool:
    """Does a slip sit in this step?"""
    return any(
        c.step == index
        if c.step is not None
        else c.given is not None and any(i.given == c.given for i in step.inputs)
        for c in change.singles
    )


def _method_point(point: GuidelinePoint, method: _Method, already_lost: int) -> tuple[bool, str]:
    if point.marks_for == "formula":
        if method.formula:
            return True, "the formula is stated"
        if method.law_slip:
            return False, "the law is not the right one"
        if method.right is not None or method.leaf_slips:
            return True, "the formula shows in the substitution"
        return False, "no formula was found"
    if method.right:
        return True, "the numbers are put in rightly"
    slips = method.leaf_slips + (1 if method.law_slip and method.formula else 0)
    if method.law_slip and not method.formula and method.right is None:
        return False, "the law is not the right one"
    if method.right is None and not slips:
        return False, "no substitution was found"
    if already_lost < max(1, slips):
        return False, "a slip in what was put in"
    return True, "the rest of the substitution is right"


def _answer_point(
    point: GuidelinePoint,
    answers: Sequence[JudgedAnswer],
    working: Working,
    slips: Sequence[SlipFinding],
    rules: Rules,
) -> Point:
    judged = answers[point.ask] if point.ask < len(answers) else answers[-1]
    verdict, worth = judged.answer.verdict, point.worth
    name = point.marks_for
    if verdict is Verdict.UNREAD:
        return Point(name, None, worth, judged.answer.note or "a person must look")
    if verdict is Verdict.BLANK:
        return Point(name, False, worth, "no answer")
    if name == "direction":
        if {"direction-missing", "direction-reversed"} & set(judged.slips):
            return Point(name, False, worth, judged.answer.note or "the direction is missing")
        if verdict is Verdict.DIFFERS and judged.answer.direction is None:
            return Point(name, False, worth, "the direction is missing")
        if verdict is Verdict.DIFFERS and not judged.carried:
            same = judged.direction_same
            reason = "the direction is right" if same else "the direction is not the expected one"
            return Point(name, same, worth, reason)
        return Point(name, True, worth, "the direction is right")
    if judged.carried:
        missing = {"unit-missing", "too-few-figures"} & set(judged.slips)
        if missing:
            return Point(name, False, worth, judged.answer.note or "")
        return Point(name, True, worth, "right from your own earlier value")
    if verdict is Verdict.AGREES:
        return Point(name, True, worth, "the value agrees")
    if verdict is Verdict.INCOMPLETE:
        lost = {"unit-missing"} & set(judged.slips)
        reason = judged.answer.note or "incomplete"
        return Point(name, not lost, worth, reason)
    if {"direction-reversed"} & set(judged.slips):
        return Point(name, True, worth, "the value agrees")
    if rules.carry_within_question and _follows_from_own(judged, working):
        return Point(name, True, worth, "follows from your own value above")
    return Point(name, False, worth, judged.answer.note or "the value differs")


def _follows_from_own(judged: JudgedAnswer, working: Working) -> bool:
    broken = [p.line for p in working.pinned]
    return bool(broken) and all(line < judged.answer.line for line in broken)
