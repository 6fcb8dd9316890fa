"""What stands behind a printed "Name:" or "Class:" is no working, and belongs to no question."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from parser.worksheet import Worksheet
from scanner.page import Box, Page

_HEADING = re.compile(
    r"^\W*(?:sur|first |last )?name|"
    r"\b(?:class|grade|date|learner|student|teacher|school)\b\W*$",
    re.I,
)


def heading_boxes(pages: Sequence[Page]) -> list[Box]:
    """Where words such as "Name:", "Class:" and "Date:" are printed."""
    return [
        word.box
        for page in pages
        for line in page.print_lines
        for word in line.words
        if _HEADING.search(word.reading.text.rstrip(":._ ")) is not None
    ]


def is_behind(pen: Box | None, headings: Sequence[Box]) -> bool:
    """On the row of one of the headings and to the right of it."""
    return pen is not None and any(_behind(pen, heading) for heading in headings)


def without_headings(worksheet: Worksheet, pages: Sequence[Page]) -> Worksheet:
    """The worksheet without the name, class and date among its lines of no question."""
    headings = heading_boxes(pages)
    left = tuple(line for line in worksheet.unmatched if not is_behind(line.box, headings))
    return replace(worksheet, unmatched=left)


def _behind(pen: Box, heading: Box) -> bool:
    reach = max(pen.height, heading.height)
    return pen.x >= heading.x and abs(pen.centre[1] - heading.centre[1]) < reach
