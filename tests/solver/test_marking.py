"""Verdicts, slips and marks of whole questions and of sheets with parts that build on each other.

The wording of the verdicts is the project's; the split of marks and "a slip is charged once" are
common practice, no source. Beads and numbers are our own.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parser.assemble import worksheet_from_text
from parser.worksheet import Question, Worksheet, WrittenLine
from scanner.page import Reading
from solver.findings import Expected, Findings, QuestionFindings, Verdict
from solver.guideline import BadGuideline, default_guideline, from_text, to_text
from solver.marking import check_question, check_worksheet
from solver.verdicts import Rules
from tests.solver.derivations import (
    coulomb,
    net_force,
    quantity,
    sharing,
    uncertain_line,
)

Example = tuple[Question, tuple[Expected, ...]]
SUBSTITUTION = r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{0.12^{2}}"

TWO_PARTS = (
    "1. Bead A carries a charge of -3.6 nC and an identical bead B carries a charge of +4.8 nC. "
    "The beads are brought into contact and then placed 12 cm apart.\n"
    "1.1 Calculate the charge on each bead after contact. (3)\n"
    "1.2 Calculate the magnitude of the electrostatic force between the beads after contact. (4)\n"
)


def checked(example: Example, rules: Rules | None = None) -> QuestionFindings:
    question, expected = example
    return check_question(question, expected, rules or Rules(), {}, ".")


def sheet(text: str, *parts: tuple[str, ...]) -> Worksheet:
    typed = worksheet_from_text(text)
    questions = tuple(
        replace(q, lines=tuple(WrittenLine(Reading.certain(t)) for t in lines))
        for q, lines in zip(typed.questions, parts, strict=True)
    )
    return replace(typed, questions=questions)


def points(finding: QuestionFindings) -> list[tuple[str, bool | None]]:
    assert finding.marks is not None
    return [(p.marks_for, p.earned) for p in finding.marks.points]


# --- verdicts --------------------


@pytest.mark.parametrize(
    ("answer", "verdict"),
    [
        ("F=1.08×10^{-5} N", Verdict.AGREES),
        ("F=10.8 µN", Verdict.AGREES),
        ("F=1.1×10^{-5} N", Verdict.AGREES),  # one unit of the last figure
        ("F=1.09×10^{-5} N", Verdict.AGREES),  # one unit and within 1 %
        ("F=1.085×10^{-5} N", Verdict.AGREES),  # within 1 %
        ("F=1.10×10^{-5} N", Verdict.DIFFERS),  # 1.9 % off and two units of the last figure
        ("F=1.079×10^{-5} N", Verdict.AGREES),  # k = 8.99 × 10⁹
        ("F=0 N", Verdict.DIFFERS),
        ("F=0.001 N", Verdict.DIFFERS),  # one unit of its last figure away, and a hundredfold
        ("F=1.08×10^{-5}", Verdict.INCOMPLETE),
        ("F=1×10^{-5} N", Verdict.INCOMPLETE),
        ("F=-1.08×10^{-5} N", Verdict.INCOMPLETE),
        ("F=1.08×10^{-5} J", Verdict.DIFFERS),
        ("F=1.08×10^{-6} N", Verdict.DIFFERS),
        ("1.08×10^{-5} kg·m/s^{2}", Verdict.AGREES),
    ],
)
def test_a_magnitude_is_judged_by_value_unit_and_figures(answer: str, verdict: Verdict) -> None:
    assert checked(coulomb(answer)).verdict is verdict


@pytest.mark.parametrize(
    ("answer", "verdict"),
    [
        ("F=1.08×10^{-5} N to the right", Verdict.AGREES),
        ("F=1.08×10^{-5} N → ", Verdict.AGREES),
        ("F=1.08×10^{-5} N", Verdict.INCOMPLETE),
        ("F=1.08×10^{-5} N left", Verdict.DIFFERS),
        ("F=1.08×10^{-5} N towards C", Verdict.UNREAD),  # no such body: a person looks
    ],
)
def test_a_vector_owes_its_direction(answer: str, verdict: Verdict) -> None:
    assert checked(coulomb(answer, wants="vector", direction="right")).verdict is verdict


def test_a_direction_on_its_own_line_counts() -> None:
    example = coulomb("F=1.08×10^{-5} N", "to the right", wants="vector", direction="right")
    assert checked(example).verdict is Verdict.AGREES


def test_towards_a_body_is_a_side_where_the_layout_is_known() -> None:
    finding = checked(net_force("F=6.0×10^{-6} N towards C"))
    assert finding.verdict is Verdict.AGREES
    assert checked(net_force("F=6.0×10^{-6} N towards A")).verdict is Verdict.DIFFERS


def test_the_sign_of_a_charge_is_part_of_its_value() -> None:
    negative = sharing(charges=("-3.6 nC", "+1.2 nC"))
    question, expected = negative
    for text, verdict in (("-1.2 nC", Verdict.AGREES), ("1.2 nC", Verdict.DIFFERS)):
        written = replace(question, lines=(WrittenLine(Reading.certain(f"Q={text}")),))
        assert checked((written, expected)).verdict is verdict


def test_policies_can_be_switched() -> None:
    example = coulomb("F=1.08×10^{-5}", wants="vector", direction="right")
    lenient = Rules(unit_owed=False, direction_owed=False)
    assert checked(example).verdict is Verdict.INCOMPLETE
    assert checked(example, lenient).verdict is Verdict.AGREES


def test_nothing_written_is_blank_and_earns_nothing() -> None:
    finding = checked(coulomb())
    assert finding.verdict is Verdict.BLANK
    assert finding.marks is not None and finding.marks.suggested == 0


def test_givens_alone_are_no_answer() -> None:
    finding = checked(coulomb("Q_{1}=-3.6 nC, Q_{2}=4.8 nC", "r=12 cm"))
    assert finding.verdict is Verdict.UNREAD
    assert finding.needs_person


def test_readings_that_disagree_go_to_a_person() -> None:
    question, expected = coulomb()
    line = uncertain_line(("F=1.08×10^{-5} N", 0.7), ("F=1.08×10^{-8} N", 0.25))
    finding = checked((replace(question, lines=(line,)), expected))
    assert finding.verdict is Verdict.UNREAD
    assert finding.needs_person and finding.reasons
    assert points(finding)[-1] == ("answer", None)


def test_readings_that_agree_in_their_verdict_need_no_person() -> None:
    question, expected = coulomb()
    line = uncertain_line(("F=1.08×10^{-5} N", 0.7), ("F=1.08·10^{-5} N", 0.25))
    finding = checked((replace(question, lines=(line,)), expected))
    assert finding.verdict is Verdict.AGREES
    assert not finding.needs_person


def test_a_reading_that_is_no_valid_writing_gives_way_to_the_next() -> None:
    question, expected = coulomb()
    line = uncertain_line((r"F=1.08×10^{-5", 0.55), ("F=1.08×10^{-5} N", 0.44))
    finding = checked((replace(question, lines=(line,)), expected), Rules(least_confidence=0.4))
    assert finding.verdict is Verdict.AGREES


def test_a_broken_line_whose_other_reading_follows_is_not_called_wrong() -> None:
    question, expected = coulomb("", "F=1.08×10^{-9} N")
    wrong = SUBSTITUTION.replace("0.12", "12")
    first = uncertain_line((wrong, 0.6), (SUBSTITUTION, 0.35))
    finding = checked((replace(question, lines=(first, question.lines[1])), expected))
    assert finding.working[0].follows is None
    assert finding.needs_person


def test_results_typed_by_a_person_are_judged_like_any_other() -> None:
    question = Question(
        "1", "?", 2, expected_by_person=(quantity("4.2 N"),),
        lines=(WrittenLine(Reading.certain("4.2 N")),),
    )  # fmt: skip
    finding = check_worksheet(Worksheet((question,))).questions[0]
    assert finding.verdict is Verdict.AGREES
    assert finding.expected[0].given_by_person


def test_a_question_in_words_is_left_to_the_teacher() -> None:
    question = Question(
        "1", "State Coulomb's law.", 2, numeric=False,
        lines=(WrittenLine(Reading.certain("The force is proportional to the charges")),),
    )  # fmt: skip
    finding = check_worksheet(Worksheet((question,))).questions[0]
    assert finding.needs_person
    assert points(finding) == [("open", None)]
    assert finding.marks is not None and finding.marks.of == 2


def test_a_question_not_understood_says_so() -> None:
    question = Question("1", "What?", 2, problems=("The distance is missing.",))
    finding = check_worksheet(Worksheet((question,))).questions[0]
    assert finding.verdict is Verdict.UNSOLVED
    assert finding.needs_person
    assert "The distance is missing." in finding.reasons


# --- slips --------------------


def test_the_example_of_the_findings_document() -> None:
    finding = checked(
        coulomb(
            r"F=\frac{kQ_{1}Q_{2}}{r^{2}}",
            r"F=\frac{9×10^{9}×3.6×10^{-9}×4.8×10^{-9}}{12^{2}}",
            "F=1.08×10^{-9} N",
        )
    )
    assert finding.verdict is Verdict.DIFFERS
    assert [line.follows for line in finding.working] == [True, False, True]
    assert finding.working[1].note == "12 is in cm"
    assert [(s.name, s.line) for s in finding.slips] == [("length-unit-left-unconverted", 2)]
    assert finding.marks is not None
    assert (finding.marks.suggested, finding.marks.of) == (2, 4)


def test_a_bare_wrong_answer_is_explained_and_earns_no_method_mark() -> None:
    finding = checked(coulomb("F=1.30×10^{-6} N"))
    assert finding.slips[0].name == "distance-not-squared"
    assert finding.marks is not None and finding.marks.suggested == 0


def test_ties_are_reported_together_likeliest_first() -> None:
    finding = checked(sharing(r"Q=\frac{-3.6×10^{-9}-4.8×10^{-9}}{2}", "=-4.2×10^{-9} C"))
    names = [s.name for s in finding.slips]
    assert {"charges-subtracted", "sign-added"} <= set(names)
    assert all(s.line == 1 for s in finding.slips)


def test_every_slip_comes_with_a_hint_that_does_not_give_the_answer() -> None:
    finding = checked(coulomb("F=1.08×10^{-9} N"))
    assert all(s.hint and "1.08" not in s.hint for s in finding.slips)


def test_rounding_on_the_way_is_named_and_not_called_wrong() -> None:
    finding = checked(
        net_force("F_{AB}=6.1×10^{-5} N", "F_{CB}=5.4×10^{-5} N", "F_{net}=7.0×10^{-6} N right")
    )
    assert finding.verdict is Verdict.INCOMPLETE
    assert "rounded-too-early" in {s.name for s in finding.slips}


# --- carried forward --------------------


def two_parts(first: tuple[str, ...], second: tuple[str, ...]) -> Findings:
    return check_worksheet(sheet(TWO_PARTS, first, second))


def test_a_slip_is_charged_once_and_later_parts_go_on_from_it() -> None:
    first, second = two_parts(
        (r"Q=\frac{3.6×10^{-9}+4.8×10^{-9}}{2}", "=4.20×10^{-9} C"),
        (r"F=\frac{9×10^{9}×(4.2×10^{-9})^{2}}{0.12^{2}}", "=1.10×10^{-5} N"),
    ).questions
    assert [s.name for s in first.slips] == ["sign-dropped"]
    assert [s.name for s in second.slips] == ["carried-forward-error"]
    assert second.verdict is Verdict.DIFFERS
    assert second.marks is not None and second.marks.suggested == second.marks.of == 4
    assert all(line.follows for line in second.working)


def test_a_new_slip_on_a_carried_value_is_charged_there() -> None:
    _, second = two_parts(
        (r"Q=\frac{3.6×10^{-9}+4.8×10^{-9}}{2}", "=4.20×10^{-9} C"),
        (r"F=\frac{9×10^{9}×(4.2×10^{-9})^{2}}{0.12}", "=1.32×10^{-6} N"),
    ).questions
    assert "distance-not-squared" in {s.name for s in second.slips}
    assert second.marks is not None and second.marks.suggested < 4


def test_a_part_that_may_rest_on_an_unjudged_one_goes_to_a_person() -> None:
    sheet_ = sheet(
        TWO_PARTS, ("Q=%%(",), (r"F=\frac{9×10^{9}×(4.2×10^{-9})^{2}}{0.12^{2}}=1.1×10^{-5} N",)
    )
    first, second = check_worksheet(sheet_).questions
    assert first.verdict is Verdict.UNREAD
    assert second.needs_person
    assert not second.slips
    assert second.working[0].follows is None


def test_an_earlier_value_rounded_by_the_learner_is_no_slip() -> None:
    text = TWO_PARTS.replace("-3.6", "-9.1").replace("+4.8", "-2.8")
    first, second = check_worksheet(
        sheet(
            text,
            ("Q=-6.0 µC".replace("µ", "n"),),
            (r"F=\frac{9×10^{9}×6.0×10^{-9}×6.0×10^{-9}}{0.12^{2}}=2.25×10^{-5} N",),
        )
    ).questions
    assert first.verdict is Verdict.AGREES
    assert second.verdict is Verdict.INCOMPLETE
    assert second.marks is not None and second.marks.suggested == second.marks.of


def test_the_decimal_mark_is_settled_by_the_pen_where_print_does_not() -> None:
    text = TWO_PARTS.replace("-3.6", "-3").replace("+4.8", "+5")
    settled = replace(sheet(text, ("Q=1,0 nC", "Q=1,000 nC"), ()), decimal_mark=None)
    first, _ = check_worksheet(settled).questions
    assert first.verdict is Verdict.AGREES
    unsettled = replace(sheet(text, ("Q=1,000 nC",), ()), decimal_mark=None)
    alone, _ = check_worksheet(unsettled).questions
    assert alone.verdict is Verdict.UNREAD


# --- any writing at all --------------------

PIECES = (
    "F", "Q_{1}", "k", "r^{2}", "=", "=", "×", "-", "+", "/", "(", ")", "0", "1.2", "3.6×10^{-9}",
    "12", " cm", " N", " nC", r"\frac{", "}{", "}", r"\sqrt{", "^{2}", "∴", "to the left", ",", "|",
    "≈", "0.12", "10", "e", "%", "and", "°", "sin", ":", "→", "4.8",
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.sampled_from(PIECES), max_size=14).map("".join), max_size=4))
def test_no_writing_breaks_the_check(texts: list[str]) -> None:
    for make in (coulomb, sharing, net_force):
        finding = checked(make(*texts))
        assert finding.verdict in set(Verdict)
        assert len(finding.working) in (0, len(texts))
        if finding.marks is not None:
            assert 0 <= finding.marks.suggested <= finding.marks.of


# --- guideline and marks --------------------


@pytest.mark.parametrize(
    ("marks", "kinds"),
    [
        (1, ["answer"]),
        (2, ["substitution", "answer"]),
        (3, ["formula", "substitution", "answer"]),
        (4, ["formula", "substitution", "substitution", "answer"]),
    ],
)
def test_the_default_guideline_splits_the_printed_marks(marks: int, kinds: list[str]) -> None:
    question, expected = coulomb(marks=marks)
    guideline = default_guideline(question, expected, Rules())
    assert guideline is not None
    assert [p.marks_for for p in guideline.points] == kinds
    assert guideline.total == marks


def test_a_direction_that_is_owed_has_its_mark() -> None:
    question, expected = net_force(marks=6)
    guideline = default_guideline(question, expected, Rules())
    assert guideline is not None
    assert [p.marks_for for p in guideline.points][-2:] == ["answer", "direction"]
    assert guideline.total == 6


def test_without_printed_marks_there_is_no_guideline() -> None:
    question, expected = coulomb(marks=None)
    assert default_guideline(question, expected, Rules()) is None


def test_a_guideline_survives_its_text_file() -> None:
    made = [default_guideline(*net_force(marks=6), Rules()), default_guideline(*coulomb(), Rules())]
    kept = [g for g in made if g is not None]
    assert list(from_text(to_text(kept)).values()) == kept


def test_a_guideline_can_be_written_by_hand() -> None:
    text = "Question 1 (3 marks)\n# my own split\n  1  formula\n  2  answer  with its unit\n"
    guideline = from_text(text)["1"]
    finding = check_question(*coulomb("F=1.08×10^{-5} N"), Rules(), {}, ".", guideline)
    assert finding.marks is not None
    assert (finding.marks.suggested, finding.marks.of) == (3, 3)


def test_a_guideline_that_is_not_understood_names_the_line() -> None:
    with pytest.raises(BadGuideline, match="Line 2"):
        from_text("Question 1 (3 marks)\n  one for the formula\n")


def test_every_mark_says_why() -> None:
    finding = checked(coulomb(SUBSTITUTION, "F=1.08×10^{-4} N"))
    assert finding.marks is not None
    assert all(p.reason for p in finding.marks.points)
    assert points(finding) == [
        ("formula", True), ("substitution", True), ("substitution", True), ("answer", False),
    ]  # fmt: skip


def test_a_missing_unit_costs_the_answer_mark_only() -> None:
    finding = checked(coulomb(SUBSTITUTION, "F=1.08×10^{-5}"))
    assert finding.marks is not None and finding.marks.suggested == 3


def test_a_missing_direction_costs_the_direction_mark_only() -> None:
    finding = checked(net_force("F_{net}=6.0×10^{-6} N", marks=6))
    assert dict(points(finding))["direction"] is False
    assert finding.marks is not None and finding.marks.suggested == 5
