"""Numbers in the user's style, and text that shows as it stands."""

from __future__ import annotations

import pytest

from ui.components.text import escaped, sentence, with_decimal_mark


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("1.08 × 10⁻⁵ N", "1,08 × 10⁻⁵ N"),
        ("Question 2.1: 0.12 m is in question 1.3.", "Question 2.1: 0,12 m is in question 1.3."),
        ("It is 12. 5 follows.", "It is 12. 5 follows."),
    ],
)
def test_numbers_take_a_comma_and_numbers_of_questions_do_not(text, shown):
    assert with_decimal_mark(text, ",") == shown
    assert with_decimal_mark(text, ".") == text


def test_comma_in_a_formula_has_no_space_behind_it():
    assert with_decimal_mark(r"\frac{0.12}{3.5}", ",", latex=True) == r"\frac{0{,}12}{3{,}5}"


def test_markup_is_shown_as_it_stands():
    assert "<" not in escaped("<b>[x](y) $z$</b>")
    assert "$" not in escaped("<b>[x](y) $z$</b>")


def test_sentence_has_a_capital_and_a_stop():
    assert sentence("12 is in cm") == "12 is in cm."
    assert sentence("look again!") == "Look again!"
