"""A learner's name is not taken for working."""

from __future__ import annotations

from parser.worksheet import Worksheet, WrittenLine
from scanner.page import IDENTITY, Box, Line, Page, Reading, Word
from ui.headings import without_headings


def printed(text: str, box: Box) -> Line:
    reading = Reading.certain(text)
    return Line("print", box, reading, words=(Word(box, reading),))


def test_ink_behind_name_and_class_belongs_to_no_question_and_is_not_asked_about():
    page = Page(
        "sheet.jpg",
        1,
        (1240, 1754),
        IDENTITY,
        (printed("Name:", Box(100, 100, 90, 30)), printed("Class:", Box(800, 100, 90, 30))),
    )
    name = WrittenLine(Reading.certain("Thandi"), Box(210, 90, 200, 50))
    group = WrittenLine(Reading.certain("11B"), Box(910, 95, 80, 40))
    working = WrittenLine(Reading.certain("F=2 N"), Box(210, 400, 200, 50))
    left = without_headings(Worksheet((), (name, group, working)), (page,))
    assert left.unmatched == (working,)
