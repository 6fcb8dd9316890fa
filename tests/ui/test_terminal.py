"""Findings as plain text."""

from __future__ import annotations

from tests.ui.samples import sample_sheet
from ui.terminal import Style, sheet_text, summary_text


def test_verdict_is_told_by_shape_and_word_without_colour():
    text = sheet_text(sample_sheet(), Style())
    assert "Question 2.2: ▲ differs" in text
    assert "Question 2.4: ◆ unread (please look)" in text
    assert "\033[" not in text


def test_colour_is_added_on_a_terminal_that_shows_it():
    assert "\033[31m▲ differs\033[0m" in sheet_text(sample_sheet(), Style(colours=True))


def test_line_that_breaks_is_pointed_at():
    text = sheet_text(sample_sheet(), Style())
    assert "/12²   <- the working first breaks here: 12 is in cm" in text
    assert "The distance was used in cm; it must be in metres." in text


def test_expected_results_can_be_hidden():
    assert "1.08 × 10⁻⁵ N" in sheet_text(sample_sheet(), Style())
    assert "1.08 × 10⁻⁵ N" not in sheet_text(sample_sheet(), Style(expected=False))


def test_marks_are_shown_only_when_wanted():
    assert "marks suggested" not in sheet_text(sample_sheet(), Style())
    text = sheet_text(sample_sheet(), Style(marks=True))
    assert "2 of 4 marks suggested" in text
    assert "substitution: not earned (12 is in cm)" in text


def test_summary_counts_verdicts():
    text = summary_text([sample_sheet()])
    assert "● 1 agrees" in text
    assert "2 to look at" in text
