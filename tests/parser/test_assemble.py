"""Typed sheets and pages into worksheets."""

import pytest

from parser.assemble import worksheet_from_pages, worksheet_from_text
from parser.worksheet import Worksheet
from scanner.page import IDENTITY, Box, Candidate, Line, Page, Reading, Word


def _print(text: str, y: int, x: int = 100) -> Line:
    words = []
    at = x
    for word in text.split(" "):
        width = 20 * len(word)
        words.append(Word(Box(at, y, width, 40), Reading((Candidate(word, 0.98),)), reread=True))
        at += width + 20
    box = Box(x, y, at - x, 40)
    return Line("print", box, Reading.certain(text), words=tuple(words))


def _pen(text: str, y: int, x: int = 140) -> Line:
    return Line("pen", Box(x, y, 20 * len(text), 44), Reading.certain(text))


def _page(*lines: Line) -> Page:
    return Page("sheet.png", 1, (2000, 2800), IDENTITY, lines)


_SHEET = (
    _print("Physical Sciences: electrostatics", 40),
    _print("1. Bead R carries +3 nC. Calculate the field 4 cm from R. (3)", 200),
    _print("2. How many electrons make up -3.2 nC? (2)", 900),
)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("1. Find the force.\n2. Find the field.", ["1", "2"]),
        ("QUESTION 2\nA bead.\n2.1 Find the force.\n2.2 Find the field.", ["2.1", "2.2"]),
        ("1 A bead.\n(a) Find the force.\n(b) Find the field.", ["1(a)", "1(b)"]),
        ("A bead.\n(a) Find the force.\n(b) Find the field.", ["(a)", "(b)"]),
        ("Find the force on a 2 nC bead.", [""]),
        ("Q1 = +2 nC is 3 cm from Q2 = +4 nC. Find the force.", [""]),
        ("3.0 kJ is moved by 2 C. Find the potential difference.", [""]),
    ],
)
def test_numbering(text: str, numbers: list[str]) -> None:
    assert [q.number for q in worksheet_from_text(text).questions] == numbers


@pytest.mark.parametrize("marks", ["(4)", "[4]", "(4 marks)", "[4 marks]"])
def test_marks_are_no_values(marks: str) -> None:
    (question,) = worksheet_from_text(
        f"1. Find the field 3 cm from a 2 nC charge. {marks}"
    ).questions
    assert question.marks == 4
    assert len(question.givens) == 2


def test_parts_share_their_stem_and_may_use_earlier_parts() -> None:
    sheet = worksheet_from_text(
        "QUESTION 2\nBead R carries +3 nC.\n2.1 Find A.\n2.2 Find the field."
    )
    last = sheet.questions[-1]
    assert (last.parent, last.earlier) == ("2", ("2.1",))
    assert [g.quantity.value for g in last.givens] == pytest.approx([3e-9])


def test_constants_above_the_first_number_hold_for_the_sheet() -> None:
    sheet = worksheet_from_text(
        "Use g = 9.81 m·s⁻²\n1. Find the weight of 2 kg.\n2. Find that of 3 kg."
    )
    assert [g.kind for g in sheet.stated_constants] == ["constant:g"]
    assert len(sheet.questions) == 2


def test_text_without_a_question_says_so() -> None:
    assert worksheet_from_text("").problems


def test_pen_lines_go_to_the_question_above_them() -> None:
    page = _page(*_SHEET, _pen("E=1.7×10^{4} N/C", 400), _pen("n=2×10^{10}", 1000))
    sheet = worksheet_from_pages([page])
    assert [[line.reading.text for line in q.lines] for q in sheet.questions] == [
        ["E=1.7×10^{4} N/C"],
        ["n=2×10^{10}"],
    ]
    assert [q.marks for q in sheet.questions] == [3, 2]
    assert not sheet.unmatched


def test_givens_know_their_place_on_the_page() -> None:
    first = worksheet_from_pages([_page(*_SHEET)]).questions[0]
    boxes = [g.box for g in first.givens]
    assert all(box is not None and 200 <= box.y < 260 for box in boxes)
    assert all(g.confidence == pytest.approx(0.98) for g in first.givens)


def test_ink_above_every_question_is_unmatched() -> None:
    sheet = worksheet_from_pages([_page(*_SHEET, _pen("Neo", 100))])
    assert [line.reading.text for line in sheet.unmatched] == ["Neo"]


def test_the_last_value_is_the_answer() -> None:
    page = _page(*_SHEET, _pen("E=\\frac{kQ}{r^{2}}", 400), _pen("E=1.7×10^{4} N/C", 500))
    roles = [line.role for line in worksheet_from_pages([page]).questions[0].lines]
    assert roles == ["working", "answer"]


def _elsewhere() -> Worksheet:
    return worksheet_from_text(
        "QUESTION 2\nA bead of 3 nC.\n2.1 Find the force.\n2.2 Find the field."
    )


def test_answers_in_an_exercise_book_are_matched_by_their_numbers() -> None:
    page = _page(_pen("sums", 50), _pen("2.1 F=3 N", 200), _pen("2.2", 400), _pen("E=4 N/C", 500))
    sheet = worksheet_from_pages([page], _elsewhere())
    assert [[line.reading.text for line in q.lines] for q in sheet.questions] == [
        ["F=3 N"],
        ["E=4 N/C"],
    ]
    assert [line.reading.text for line in sheet.unmatched] == ["sums"]


def test_every_reading_of_a_line_is_kept() -> None:
    reading = Reading((Candidate("E=1.7 N/C", 0.7), Candidate("E=1.1 N/C", 0.2)))
    pen = Line("pen", Box(140, 400, 300, 44), reading)
    (line,) = worksheet_from_pages([_page(*_SHEET, pen)]).questions[0].lines
    assert line.reading == reading
