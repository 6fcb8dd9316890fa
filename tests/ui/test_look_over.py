from __future__ import annotations

import pytest

from tests.ui.stacks import stack_with_scripts
from ui.look_over import decide_marks, decide_reading, doubts, leave, undo
from ui.mark_sheet import mark_sheet


@pytest.fixture
def stack(tmp_path):
    return stack_with_scripts(tmp_path)


def verdicts(stack, script):
    return [m.verdict.value for r in mark_sheet(*stack).rows if r.script == script for m in r.marks]


def test_only_what_is_in_doubt_is_asked_with_its_crop_and_readings(stack):
    (doubt,) = doubts(*stack)
    assert (doubt.kind, doubt.name, doubt.question, doubt.line) == ("reading", "Dineo", "1.2", 2)
    assert doubt.readings == ("F=5.0×10^{-7} N", "F=5.0×10^{-1} N")
    assert doubt.box is not None


def test_a_decided_reading_is_judged_and_not_asked_again(stack):
    (doubt,) = doubts(*stack)
    decide_reading(*stack, doubt, "F=5.0x10^-7 N")
    assert doubts(*stack) == []
    assert verdicts(stack, "Dineo") == ["agrees", "agrees"]
    undone = undo(*stack)
    assert undone is not None and undone.text == "F=5.0×10^{-7} N"
    assert doubts(*stack) == [doubt]


def test_another_reading_gives_another_verdict(stack):
    (doubt,) = doubts(*stack)
    decide_reading(*stack, doubt, "F=5.0x10^-1 N")
    assert verdicts(stack, "Dineo") == ["agrees", "differs"]


def test_decided_marks_settle_the_question(stack):
    (doubt,) = doubts(*stack)
    decide_marks(stack[0], doubt, 2)
    assert doubts(*stack) == []


def test_what_is_left_as_it_is_is_not_asked_again(stack):
    (doubt,) = doubts(*stack)
    leave(*stack, doubt)
    assert doubts(*stack) == []
