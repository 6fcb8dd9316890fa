"""What a person sets right: a misread line, a misread given, the answer to be expected.

Corrections are kept apart from what was read and laid over it, so that they can be taken back
and are always shown as a person's. Only the solver runs again.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from parser.quantity import parse_quantity
from parser.worksheet import Given, Quantity, Question, Worksheet, WrittenLine
from scanner.errors import ExitCode, UserError
from scanner.page import Reading
from scanner.reader.notation import normalise

LinePlace = tuple[int, int]
"""(index of the question, index of its line)."""
GivenPlace = tuple[int, int]
"""(index of the question, index of its given)."""
AskPlace = tuple[int, int]
"""(index of the question, index of its ask; 0 for a question that was not understood)."""


class NotAQuantity(UserError):
    """A correction that should be one number with its unit and is not."""

    exit_code = ExitCode.USAGE

    def __init__(self, text: str) -> None:
        super().__init__(
            f"“{text}” is not one number with its unit; type for example -2.4 µC or 3.6x10^-9 C."
        )


@dataclass(frozen=True)
class Corrections:
    """Texts as a person typed them, by place."""

    lines: Mapping[LinePlace, str] = field(default_factory=dict)
    givens: Mapping[GivenPlace, str] = field(default_factory=dict)
    expected: Mapping[AskPlace, str] = field(default_factory=dict)

    def with_line(self, place: LinePlace, text: str | None) -> Corrections:
        """A new text for a line, or None to go back to what was read."""
        return replace(self, lines=_with(self.lines, place, text))

    def with_given(self, place: GivenPlace, text: str | None) -> Corrections:
        """A new text for a given, or None to go back to what was read."""
        return replace(self, givens=_with(self.givens, place, text))

    def with_expected(self, place: AskPlace, text: str | None) -> Corrections:
        """The expected result of an ask, or None to take it back."""
        return replace(self, expected=_with(self.expected, place, text))


def _with(
    texts: Mapping[tuple[int, int], str], place: tuple[int, int], text: str | None
) -> dict[tuple[int, int], str]:
    others = {other: known for other, known in texts.items() if other != place}
    return others if text is None else {**others, place: text}


def corrected(worksheet: Worksheet, corrections: Corrections) -> Worksheet:
    """The worksheet with the lines, givens and expected results that a person typed.

    A stem's given counts for each of its parts: it is set right in all of them.

    Raises:
        NotAQuantity: a given's or an expected result's text is not one quantity.
    """
    new_givens = {
        worksheet.questions[question].givens[given]: quantity_of(text, worksheet)
        for (question, given), text in corrections.givens.items()
    }
    return replace(
        worksheet,
        questions=tuple(
            _corrected_question(
                question,
                index,
                corrections,
                new_givens,
                tuple(
                    quantity_of(text, worksheet)
                    for place, text in sorted(corrections.expected.items())
                    if place[0] == index
                )
                or question.expected_by_person,
            )
            for index, question in enumerate(worksheet.questions)
        ),
    )


def _corrected_question(
    question: Question,
    index: int,
    corrections: Corrections,
    new_givens: Mapping[Given, Quantity],
    expected: tuple[Quantity, ...],
) -> Question:
    givens = tuple(
        replace(given, quantity=new_givens[given], confidence=1.0) if given in new_givens else given
        for given in question.givens
    )
    lines = tuple(
        _corrected_line(line, corrections.lines.get((index, place)))
        for place, line in enumerate(question.lines)
    )
    return replace(question, givens=givens, lines=lines, expected_by_person=expected)


def _corrected_line(line: WrittenLine, text: str | None) -> WrittenLine:
    if text is None:
        return line
    return replace(line, reading=Reading.certain(linear(text)), corrected_by_person=True)


def quantity_of(text: str, worksheet: Worksheet) -> Quantity:
    """The quantity a person typed.

    Raises:
        NotAQuantity: it is not exactly one.
    """
    quantity = parse_quantity(linear(text), worksheet.decimal_mark)
    if quantity is None:
        raise NotAQuantity(text)
    return quantity


def linear(text: str) -> str:
    """Typed text in the linear notation: ``1.08x10^-9 N`` becomes ``1.08×10^{-9} N``."""
    text = re.sub(r"(?<=\d) ?[xX*] ?(?=10)", "×", text)
    text = re.sub(r"(?<=\d)[eE](?=[-+]?\d)", "×10^", text)
    text = re.sub(r"\^([-+]?\d+)", r"^{\1}", text)
    return normalise(text.replace("*", "·"))
