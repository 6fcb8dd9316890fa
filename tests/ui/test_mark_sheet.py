from __future__ import annotations

import csv
import io

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.findings import Verdict
from tests.ui.stacks import stack_with_scripts
from ui.mark_sheet import Mark, MarkSheet, Row, as_csv, as_xlsx, guarded, mark_sheet


@pytest.fixture(scope="module")
def stack(tmp_path_factory):
    return stack_with_scripts(tmp_path_factory.mktemp("data"))


def test_marks_are_suggested_where_nothing_is_in_doubt(stack):
    sheet = mark_sheet(*stack)
    assert [n for n, _ in sheet.questions] == ["1.1", "1.2"]
    rows = {row.script: row for row in sheet.rows}
    assert (rows["Aisha"].total, rows["Aisha"].of, rows["Aisha"].to_look_at) == (7, 7, 0)
    assert rows["Ben"].marks[0].verdict is Verdict.DIFFERS
    assert "length-unit-left-unconverted" in rows["Ben"].marks[0].slips
    assert rows["Ben"].total < 7


def test_a_doubtful_answer_has_no_mark_until_a_person_decides(tmp_path):
    records, stack = stack_with_scripts(tmp_path)
    doubtful = next(row for row in mark_sheet(records, stack).rows if row.script == "Dineo")
    assert doubtful.marks[1].value is None
    assert doubtful.to_look_at == 1
    dineo = next(script for script in records.scripts(stack) if script.name == "Dineo")
    records.decide(dineo.id, "marks", "1.2", "2")
    decided = next(row for row in mark_sheet(records, stack).rows if row.script == "Dineo")
    assert (decided.marks[1].value, decided.to_look_at) == (2, 0)
    records.undo(stack)
    assert next(r for r in mark_sheet(records, stack).rows if r.script == "Dineo") == doubtful


def test_csv_has_a_row_a_script_and_no_formula(stack):
    rows = list(csv.reader(io.StringIO(as_csv(mark_sheet(*stack)))))
    assert rows[0][:3] == ["Script", "Question 1.1 (4)", "Question 1.1 verdict"]
    assert [row[0] for row in rows[1:]] == ["'=Carl", "Aisha", "Ben", "Dineo"]
    assert rows[2][1:] == ["4", "● agrees", "3", "● agrees", "7", "7", "0"]


def test_workbook_says_the_same_and_holds_no_formula(stack):
    page = openpyxl.load_workbook(io.BytesIO(as_xlsx(mark_sheet(*stack)))).active
    assert page is not None
    assert [page.cell(row, 1).value for row in range(2, 6)] == ["'=Carl", "Aisha", "Ben", "Dineo"]
    assert page.cell(3, 2).value == 4
    assert {cell.data_type for row in page.iter_rows() for cell in row} <= {"s", "n"}


# OWASP, "CSV Injection": =, +, -, @, tab and carriage return open a formula.
@given(st.sampled_from("=+-@\t\r"), st.text(max_size=8))
def test_no_text_is_left_that_a_spreadsheet_would_run(start, rest):
    sheet = MarkSheet("s", ((start + rest, 1),), (Row(start + rest, ()),))
    for row in csv.reader(io.StringIO(as_csv(sheet), newline="")):
        assert not any(cell.startswith(tuple("=+-@\t\r")) for cell in row)


@pytest.mark.parametrize("value", ["Thandi", "1.1", 4, None])
def test_plain_values_stay_as_they_are(value):
    assert guarded(value) == value


def test_a_decided_mark_stands_before_the_suggestion():
    mark = Mark("1", Verdict.DIFFERS, 2, 4, needs_person=False, decided=3)
    assert mark.value == 3
