"""Taking back what was done to a stack, the latest first: decisions, guideline, expected answers.

Decisions about a script are kept in the records and can be taken back at any time. What changes
all scripts at once, the questions and the guideline, can be taken back as long as the page that
changed it is open.
"""

from __future__ import annotations

from collections.abc import MutableSequence
from dataclasses import dataclass
from typing import Literal

from ui.batch import check_scripts
from ui.look_over import undo
from ui.records import Records, Stack


@dataclass(frozen=True)
class Step:
    """One thing done to the stack with this id; ``earlier`` is what stood there before."""

    stack: int
    what: Literal["decision", "worksheet", "guideline"]
    earlier: str | None = None


def take_back(records: Records, stack: Stack, steps: MutableSequence[Step]) -> str | None:
    """Take the latest step of the stack back and check it again.

    Returns what was undone: the text of a decision, or "worksheet" or "guideline"; None when
    there was nothing to take back.
    """
    own = [place for place, step in enumerate(steps) if step.stack == stack.id]
    step = steps.pop(own[-1]) if own else Step(stack.id, "decision")
    if step.what == "decision":
        decision = undo(records, stack)
        return None if decision is None else decision.text
    if step.what == "worksheet":
        stack = records.set_worksheet(stack, step.earlier)
    else:
        stack = records.set_guideline(stack, step.earlier)
    records.forget_findings(stack)
    check_scripts(records, stack)
    return step.what
