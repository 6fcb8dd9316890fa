"""The latest thing done to a stack is taken back first, whatever it was."""

from __future__ import annotations

from tests.ui.stacks import stack_with_scripts
from ui.batch import check_scripts
from ui.guideline import set_guideline
from ui.look_over import decide_expected, decide_reading, doubts
from ui.mark_sheet import mark_sheet
from ui.undoing import Step, take_back


def suggested(records, stack):
    return [[mark.suggested for mark in row.marks] for row in mark_sheet(records, stack).rows]


def test_guideline_expected_answer_and_decision_are_taken_back_in_turn(tmp_path):
    records, stack = stack_with_scripts(tmp_path)
    usual = suggested(records, stack)
    (doubt,) = doubts(records, stack)
    decide_reading(records, stack, doubt, doubt.readings[0])
    steps = [Step(stack.id, "decision")]
    decided = suggested(records, stack)

    decide_expected(records, stack, "1.2", ["1.0x10^-3 N"])
    steps.append(Step(stack.id, "worksheet", stack.worksheet))
    answered = suggested(records, records.stack(stack.name))
    assert answered != decided

    now = records.stack(stack.name)
    check_scripts(records, set_guideline(records, now, "Question 1.1 (4 marks)\n  4  answer\n"))
    steps.append(Step(stack.id, "guideline", now.guideline))

    assert take_back(records, stack, steps) == "guideline"
    assert suggested(records, stack) == answered
    assert take_back(records, stack, steps) == "worksheet"
    assert suggested(records, stack) == decided
    assert take_back(records, stack, steps) == doubt.readings[0]
    assert suggested(records, stack) == usual
    assert take_back(records, stack, steps) is None


def test_another_stacks_steps_are_left_alone(tmp_path):
    records, stack = stack_with_scripts(tmp_path)
    steps = [Step(stack.id + 1, "guideline", "")]
    assert take_back(records, stack, steps) is None
    assert len(steps) == 1
