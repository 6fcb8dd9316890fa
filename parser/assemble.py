"""Pages or typed text in, a worksheet out: the parser's entry.

``worksheet_from_text`` takes questions as typed; ``worksheet_from_pages`` puts print lines
together into questions and gives every pen line to its question.
"""

from __future__ import annotations

from dataclasses import replace

from parser.quantity import DecimalMark, canonical, settle_decimal_mark
from parser.question_text import read_question
from parser.question_text.numbering import Part, split_parts
from parser.worksheet import Question, Worksheet


def worksheet_from_text(text: str) -> Worksheet:
    """The questions of a typed sheet, numbered or one bare question."""
    flat = canonical(text)
    mark = settle_decimal_mark(flat)
    lines = flat.split("\n")
    parts = split_parts(lines)
    questions = [q for q, _ in read_parts(parts, mark)]
    problems = () if questions else ("There is no question in this text; type at least one.",)
    return Worksheet(tuple(questions), decimal_mark=mark, problems=problems)


def read_parts(parts: list[Part], mark: DecimalMark | None) -> list[tuple[Question, Part]]:
    """Every part that asks something, read with its stem and the siblings before it."""
    read: list[tuple[Question, Part]] = []
    for index, part in enumerate(parts):
        if part.has_parts or not part.text.strip():
            continue
        siblings = [p for p in parts[:index] if _same_stem(p, part) and not p.has_parts]
        earlier_text = "\n".join(p.text for p in siblings)
        question = read_question(part.number, part.text, part.stem, earlier_text, mark)
        read.append(
            (
                replace(
                    question,
                    marks=part.marks,
                    parent=part.parent,
                    earlier=tuple(p.number for p in siblings),
                ),
                part,
            )
        )
    return read


def _same_stem(first: Part, second: Part) -> bool:
    """Parts of one question: "2.1" and "2.3", "(a)" and "(b)", "2.2.1" and "2.3"."""
    return _root(first) == _root(second) and _root(first) != ""


def _root(part: Part) -> str:
    number = part.number
    if number.startswith("("):
        return "("
    head = number.replace("(", ".").split(".")[0]
    return head if part.parent is not None or "." in number or "(" in number else ""
