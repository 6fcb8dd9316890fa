"""The findings document: one shape, described by its own schema."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import pytest

from tests.ui.samples import sample_sheet
from ui import document


@pytest.fixture(scope="module")
def written() -> dict:
    return json.loads(document.as_json([sample_sheet()]))


def question(written: dict, number: str) -> dict:
    return next(q for q in written["sheets"][0]["questions"] if q["number"] == number)


def test_document_obeys_its_own_schema(written):
    jsonschema.Draft202012Validator.check_schema(document.schema())
    jsonschema.validate(written, document.schema())


def test_schema_refuses_a_missing_key(written):
    checker = jsonschema.Draft202012Validator(document.schema())
    sheet = written["sheets"][0]
    with_less = {**written, "sheets": [{k: v for k, v in sheet.items() if k != "size"}]}
    assert not checker.is_valid(with_less)


def test_sheet_says_where_it_came_from(written):
    sheet = written["sheets"][0]
    assert written["version"] == 1
    assert (sheet["photo"], sheet["page"], sheet["size"]) == ("beads.jpg", 1, [1240, 1754])
    assert sheet["to_photo"] == [[2.0, 0.0, 5.0], [0.0, 2.0, 7.0], [0.0, 0.0, 1.0]]
    assert sheet["seconds"] == 0.9


def test_question_with_a_slip_keeps_every_part(written):
    found = question(written, "2.2")
    assert found["asked"] == [
        {"quantity": "force", "of": "A", "due_to": ["B"], "wants": "magnitude"}
    ]
    assert found["expected"] == [{"of": "A", "value": 1.08e-5, "unit": "N", "direction": None}]
    assert found["givens"][0] == {
        "text": "-3.6 nC",
        "value": -3.6e-9,
        "unit": "C",
        "of": "A",
        "quantity": "charge",
        "box": [300, 150, 110, 34],
        "confidence": 1.0,
    }
    assert found["answers"][0]["for"] == 0
    assert found["answers"][0]["box"] == [140, 400, 520, 60]
    assert found["answers"][0]["confidence"] == 0.95
    assert found["answers"][0]["other_readings"] == [
        {"text": "F=1.03×10^{-9} N", "probability": 0.02}
    ]
    assert [line["follows"] for line in found["working"]] == [True, False, True]
    assert found["slips"][0]["name"] == "length-unit-left-unconverted"
    assert found["slips"][0]["line"] == 2
    assert found["marks"]["points"][1] == {"for": "substitution", "earned": False}


def test_every_verdict_has_its_word(written):
    assert [q["verdict"] for q in written["sheets"][0]["questions"]] == [
        "agrees",
        "differs",
        "incomplete",
        "unread",
        "unsolved",
        "blank",
    ]


def test_unsolved_question_expects_nothing_and_says_why(written):
    found = question(written, "2.5")
    assert found["expected"] == []
    assert found["needs_person"] is True
    assert found["problems"] == ["What this question asks was not understood."]


def test_typed_questions_have_no_photo():
    sheet = replace(sample_sheet(), page=None)
    written = json.loads(document.as_json([sheet]))
    assert written["sheets"][0]["photo"] is None
    jsonschema.validate(written, document.schema())


def test_value_that_is_not_finite_becomes_null():
    sheet = sample_sheet()
    first, *rest = sheet.findings.questions
    odd = replace(first, expected=(replace(first.expected[0], value=float("inf")),))
    findings = replace(sheet.findings, questions=(odd, *rest))
    written = json.loads(document.as_json([replace(sheet, findings=findings)]))
    assert written["sheets"][0]["questions"][0]["expected"][0]["value"] is None
