from __future__ import annotations

import re

import pypdfium2
import pytest

from parser.assemble import worksheet_from_text
from ui.practice import NothingToPractise, answers_pdf, practice_pdf, practice_questions

WORKSHEET = worksheet_from_text(
    """1. Bead A carries -3.6 nC and bead B carries +4.8 nC. They are 12 cm apart. Calculate the
magnitude of the force that bead B exerts on bead A. (4)
2. One bead with a charge of +2,5 nC is placed in an electric field of 250 N/C.
2.1 Calculate the magnitude of the electric force on the bead. (3)
"""
)


def values(text: str) -> list[str]:
    return re.findall(r"[-+]?\d+[.,]?\d* (?:nC|cm|N/C)", text)


def test_numbers_are_fresh_and_wording_and_units_stay():
    (fresh,) = practice_questions(WORKSHEET, [("wrong-distance", ["1"])], count=1)
    old = ["-3.6 nC", "+4.8 nC", "12 cm"]
    assert [v.split()[1] for v in values(fresh.text)] == ["nC", "nC", "cm"]
    assert not set(values(fresh.text)) & set(old)
    assert "the force that bead B exerts on bead A" in fresh.text.replace("\n", " ")
    assert fresh.aims_at == ("wrong-distance",)


def test_expected_results_belong_to_the_fresh_numbers():
    for fresh in practice_questions(WORKSHEET, [("wrong-distance", ["1"])], count=3):
        first, second, distance = (float(v.split()[0]) for v in values(fresh.text))
        by_hand = 9.0e9 * abs(first * second) * 1e-18 / (distance / 100) ** 2
        (expected,) = fresh.findings[0].expected
        assert any(
            abs(value / by_hand - 1) < 1e-6 for value in (*expected.accepted, expected.value)
        )


def test_the_commonest_slip_is_practised_first():
    slips = [("power-of-ten-off", ["2.1"]), ("wrong-distance", ["1"])]
    made = practice_questions(WORKSHEET, slips, count=4)
    assert [q.aims_at[0] for q in made] == ["power-of-ten-off", "wrong-distance"] * 2
    assert [q.number for q in made] == [1, 2, 3, 4]
    assert len({q.text for q in made}) == 4


def test_the_same_seed_gives_the_same_sheet():
    assert practice_questions(WORKSHEET, [], seed=4) == practice_questions(WORKSHEET, [], seed=4)


def test_a_worksheet_without_numbers_is_said():
    worksheet = worksheet_from_text("1. State Coulomb's law in words. (2)")
    with pytest.raises(NothingToPractise, match="fresh numbers"):
        practice_questions(worksheet, [])


def text_of(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(document[i].get_textpage().get_text_range() for i in range(len(document)))


def test_the_sheet_gives_no_answer_and_the_answer_sheet_every_step():
    made = practice_questions(WORKSHEET, [("distance-not-squared", ["1"])], count=2)
    sheet, answers = text_of(practice_pdf(made)), text_of(answers_pdf(made))
    assert "Coulomb" not in sheet
    assert "Coulomb" in answers
    assert "distance not squared" in answers
    assert sheet.count("Calculate") == 2
