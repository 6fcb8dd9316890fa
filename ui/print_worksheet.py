"""Print a worksheet for a stack: its photos need no reading of print and sort themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from parser.assemble import worksheet_from_text
from ui.batch import add_printed_blanks
from ui.guideline import set_questions
from ui.printed_sheet import (
    OtherQuestions,
    blank_pages,
    new_printed,
    printed_from_json,
    printed_json,
    worksheet_pdf,
)
from ui.records import Records, Stack


def print_worksheet(
    records: Records, name: str, text: str, copies: Sequence[str] = ()
) -> tuple[Stack, bytes]:
    """The stack of this name (made when there is none) and the PDF of its worksheet.

    Printed again, a worksheet keeps its code and the numbers of its copies; new ones come after.

    Args:
        text: the questions as typed.
        copies: whose each numbered copy is.

    Raises:
        OtherQuestions: the stack's worksheet was printed with another text.
        BadFile: the text holds no question, or cannot be laid out.
    """
    known = next((stack for stack in records.stacks() if stack.name == name), None)
    if known is not None and known.printed is not None:
        printed = printed_from_json(known.printed)
        if printed.text.split() != text.split():
            raise OtherQuestions(
                f"“{name}” was printed with other questions; give this worksheet another name."
            )
        new = tuple(copy for copy in copies if copy not in printed.copies)
        printed = replace(printed, copies=(*printed.copies, *new))
    else:
        printed = new_printed(name, text, copies)
    stack = records.stack_or_new(name)
    if stack.printed is None:
        stack = set_questions(records, stack, worksheet_from_text(text))
    stack = records.set_printed(stack, printed_json(printed))
    add_printed_blanks(records, stack, blank_pages(printed))
    return stack, worksheet_pdf(printed)
