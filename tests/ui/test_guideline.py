from __future__ import annotations

import pytest

from solver.guideline import BadGuideline
from tests.ui.stacks import stack_with_scripts
from ui.batch import check_scripts
from ui.guideline import departures, guideline_text, set_guideline
from ui.mark_sheet import mark_sheet


@pytest.fixture
def stack(tmp_path):
    return stack_with_scripts(tmp_path)


def test_the_default_guideline_shares_out_the_printed_marks(stack):
    text = guideline_text(*stack)
    assert "Question 1.1 (4 marks)" in text
    assert "  1  answer  with its unit" in text
    assert departures(*stack) == []


def test_a_guideline_of_ones_own_marks_the_whole_stack(stack):
    records, own = stack
    text = "Question 1.1 (2 marks)\n  2  answer\n\nQuestion 1.2 (3 marks)\n  3  answer\n"
    own = set_guideline(records, own, text)
    check_scripts(records, own)
    rows = {row.script: row for row in mark_sheet(records, own).rows}
    assert (rows["Aisha"].total, rows["Aisha"].of) == (5, 5)
    assert rows["Ben"].marks[0].value == 0
    assert departures(records, own) == [
        "Question 1.1: the guideline gives 2, the worksheet prints 4."
    ]


def test_a_line_that_is_not_understood_changes_nothing(stack):
    records, own = stack
    before = guideline_text(records, own)
    with pytest.raises(BadGuideline, match="Line 2 of the marking guideline"):
        set_guideline(records, own, "Question 1.1 (4 marks)\n  two for the answer\n")
    assert guideline_text(records, records.stack(own.name)) == before


def test_an_empty_text_is_the_default_again(stack):
    records, own = stack
    default = guideline_text(records, own)
    own = set_guideline(records, own, "Question 1.1 (1 mark)\n  1  answer\n")
    own = set_guideline(records, own, "\n")
    assert guideline_text(records, own) == default
