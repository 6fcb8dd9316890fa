"""Scoring: a perfect document scores full marks, and each kind of miss is counted as itself."""

import copy
from typing import Any

import pytest

from .score import plain_number, same_unit, score_sheet

TRUTH: dict[str, Any] = {
    "photo": "made.jpg",
    "questions": [
        {
            "number": "2.1",
            "numeric": True,
            "needs_figure": False,
            "givens": [
                {"text": "-3.6 nC", "value": -3.6e-9, "unit": "C", "of": "A"},
                {"text": "12 cm", "value": 0.12, "unit": "m", "of": None},
            ],
            "expected": [{"of": "A", "value": 1.08e-5, "unit": "N", "direction": None}],
            "answers": [
                {"text": "F=1.08×10^{-9} N", "value": 1.08e-9, "unit": "N", "legible": True}
            ],
            "working": [
                {"text": "F=ma", "follows": True, "struck": False},
                {"text": "F=1.08×10^{-9} N", "follows": False, "struck": False},
            ],
            "verdict": "differs",
            "slips": [{"name": "power-of-ten-off", "line": 2}],
            "first_broken": 2,
        }
    ],
}


@pytest.fixture
def sheet():
    question = copy.deepcopy(TRUTH["questions"][0])
    return {"questions": [{**question, "needs_person": False}]}


def failing(score):
    return {n for n, c in score.counts().items() if n != "false_agrees" and c.good < c.of}


def test_a_perfect_document_has_full_marks(sheet):
    score = score_sheet(sheet, TRUTH)
    assert failing(score) == {"sent_to_a_person"}
    assert score.false_agrees.good == 0
    assert not score.misses


def test_a_wrong_answer_called_right_is_a_false_agrees(sheet):
    sheet["questions"][0]["verdict"] = "agrees"
    assert score_sheet(sheet, TRUTH).false_agrees.good == 1


def test_not_so_when_a_person_is_asked(sheet):
    sheet["questions"][0] |= {"verdict": "agrees", "needs_person": True}
    score = score_sheet(sheet, TRUTH)
    assert score.false_agrees.good == 0
    assert score.verdict_right_or_sent.good == 1


def test_a_thousandfold_given_is_a_miss(sheet):
    sheet["questions"][0]["givens"][0]["value"] = -3.6e-6
    assert failing(score_sheet(sheet, TRUTH)) >= {"givens_right", "givens_all_right"}


def test_a_missing_question_counts_everywhere():
    score = score_sheet({"questions": []}, TRUTH)
    assert failing(score) >= {"sheets_whole", "questions_found", "givens_right", "answers_exact"}


def test_numbers_are_compared_without_their_dress():
    assert plain_number("1 (a).") == plain_number("1(a)")
    assert plain_number("Question 2.1") == "2.1"


def test_units_are_compared_by_what_they_are():
    assert same_unit("N/C", "newton / coulomb")
    assert same_unit("V/m", "N/C")
    assert not same_unit("N", "N/C")
