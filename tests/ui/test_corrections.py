"""What a person sets right is laid over what was read."""

from __future__ import annotations

import pytest

from tests.ui.samples import sample_sheet
from ui.corrections import Corrections, NotAQuantity, corrected, linear


@pytest.fixture
def worksheet():
    return sample_sheet().worksheet


@pytest.mark.parametrize(
    ("typed", "reading"),
    [
        ("1.08x10^-5 N", "1.08×10^{-5} N"),
        ("1.08 X 10^-5 N", "1.08×10^{-5} N"),
        ("1,08*10^-5N", "1,08×10^{-5}N"),
        ("3.6e-9 C", "3.6×10^{-9} C"),
        ("F = k q / r^2", "F=k q/r^{2}"),
        ("−2.4 μC", "-2.4 µC"),
        ("10⁻⁹", "10^{-9}"),
    ],
)
def test_typed_text_becomes_linear_notation(typed, reading):
    assert linear(typed) == reading


def test_corrected_line_is_certain_and_shown_as_a_persons(worksheet):
    new = corrected(worksheet, Corrections().with_line((1, 2), "F=1.08x10^-5 N"))
    line = new.questions[1].lines[2]
    assert line.reading.text == "F=1.08×10^{-5} N"
    assert line.reading.confidence == 1.0
    assert line.corrected_by_person
    assert new.questions[1].lines[:2] == worksheet.questions[1].lines[:2]
    assert new.questions[0] == worksheet.questions[0]


def test_given_is_set_right_in_every_part_that_shares_it(worksheet):
    new = corrected(worksheet, Corrections().with_given((1, 0), "-36 nC"))
    for question in new.questions:
        assert question.givens[0].quantity.value == pytest.approx(-36e-9)
        assert question.givens[1] == worksheet.questions[1].givens[1]


def test_expected_answer_can_be_typed(worksheet):
    new = corrected(worksheet, Corrections().with_expected((4, 0), "6.0x10^-10 C"))
    assert [q.value for q in new.questions[4].expected_by_person] == [pytest.approx(6e-10)]


def test_correction_can_be_taken_back(worksheet):
    once = Corrections().with_line((1, 2), "F=2 N").with_given((1, 0), "1 nC")
    assert corrected(worksheet, once.with_line((1, 2), None).with_given((1, 0), None)) == worksheet


def test_given_that_is_no_quantity_is_one_sentence(worksheet):
    with pytest.raises(NotAQuantity, match="not one number with its unit"):
        corrected(worksheet, Corrections().with_given((1, 0), "about three"))
