"""A learner tries the same question again with fresh numbers."""

from __future__ import annotations

import pytest

from parser.assemble import worksheet_from_text
from solver.findings import Verdict
from solver.verdicts import Rules
from ui.fresh import fresh_question, judged
from ui.practice import NothingToPractise

WORKSHEET = worksheet_from_text(
    """
1. A force of 6.0 µN acts on a charge of 2.0 nC. Calculate the magnitude of the electric field
   there. (3)
2. Explain why the beads move apart. (2)
"""
)


def fresh(seed: int = 1):
    return fresh_question(WORKSHEET, WORKSHEET.questions[0], seed)


def test_numbers_change_and_the_ask_stays():
    assert fresh(1).text != fresh(2).text
    assert fresh().findings[0].question.asked == WORKSHEET.questions[0].asked


def test_a_right_answer_agrees_and_one_with_its_prefix_left_out_names_the_slip():
    made = fresh()
    right = made.findings[0].expected[0].value
    (found,) = judged(made, [f"E=F/q\nE={right:.2e} N/C"], WORKSHEET, Rules())
    assert found.verdict is Verdict.AGREES
    (found,) = judged(made, [f"E={right * 1e-9:.2e} N/C"], WORKSHEET, Rules())
    assert found.verdict is Verdict.DIFFERS
    assert "prefix-left-unconverted" in [slip.name for slip in found.slips]


def test_a_part_left_out_is_blank():
    (found,) = judged(fresh(), [" \n"], WORKSHEET, Rules())
    assert found.verdict is Verdict.BLANK


def test_a_question_answered_in_words_cannot_be_set_again():
    with pytest.raises(NothingToPractise):
        fresh_question(WORKSHEET, WORKSHEET.questions[1], 1)
