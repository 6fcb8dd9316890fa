"""Pages or typed text in, a worksheet out: the parser's entry.

``worksheet_from_text`` takes questions as typed; ``worksheet_from_pages`` puts print lines
together into questions and gives every pen line to its question, by where it lies or by the
number the learner wrote.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from parser.quantity import DecimalMark, canonical, find_quantities, settle_decimal_mark
from parser.question_text import read_question, stated_constants
from parser.question_text.numbering import Part, split_parts
from parser.worksheet import Given, Question, Worksheet, WrittenLine
from scanner.page import AnswerSpace, Box, Candidate, Line, Page, Reading

_NO_QUESTION_TYPED = "There is no question in this text; type at least one."
_NO_QUESTION_SEEN = "No question was found on this sheet."


# --- typed text ---------------------------------------------------------------------------


def worksheet_from_text(text: str) -> Worksheet:
    """The questions of a typed sheet, numbered or one bare question."""
    flat = canonical(text)
    mark = settle_decimal_mark(flat)
    parts = split_parts(_without_furniture(flat.split("\n")))
    constants, parts = _take_header(parts, mark)
    questions = tuple(q for q, _ in read_parts(parts, mark))
    problems = () if questions else (_NO_QUESTION_TYPED,)
    return Worksheet(questions, decimal_mark=mark, stated_constants=constants, problems=problems)


def read_parts(parts: Sequence[Part], mark: DecimalMark | None) -> list[tuple[Question, Part]]:
    """Every part that asks something, read with its stem and the siblings before it."""
    read: list[tuple[Question, Part]] = []
    for index, part in enumerate(parts):
        if part.has_parts or not part.text.strip():
            continue
        before = [p for p in parts[:index] if _same_stem(p, part)]
        siblings = [p for p in before if not p.has_parts]
        stem_parts = "\n".join(p.text for p in before if not (p.has_parts and p.text in part.stem))
        question = read_question(part.number, part.text, part.stem, stem_parts, mark)
        question = replace(
            question,
            marks=part.marks,
            parent=part.parent,
            earlier=tuple(p.number for p in siblings),
        )
        read.append((question, part))
    return read


def _take_header(
    parts: list[Part], mark: DecimalMark | None
) -> tuple[tuple[Given, ...], list[Part]]:
    """Text above the first number is no question; the constants it states are kept."""
    if len(parts) < 2 or parts[0].number or parts[0].has_parts:
        return (), parts
    return stated_constants(parts[0].text, mark), parts[1:]


def _same_stem(first: Part, second: Part) -> bool:
    """Parts of one question: "2.1" and "2.3", "(a)" and "(b)", "2.2.1" and "2.3"."""
    return _root(first) == _root(second) != ""


def _root(part: Part) -> str:
    number = part.number
    if number.startswith("("):
        return "("
    head = number.replace("(", ".").split(".")[0]
    return head if part.parent is not None or "." in number or "(" in number else ""


_FURNITURE = re.compile(
    r"^\s*(?:(?:answer|ans|working|workings|solution|show (?:all )?your working"
    r"|name|date|class|grade|total|marks?"
    r"|surname|learner|school|teacher|score|turn over|page \d+(?: of \d+)?"
    r"|end of \w+)\b[^.?]{0,60}?[:.]?[\s_.…-]*(?:/\s*\d+)?"
    r"|[\s_.…-]{3,})$",
    re.I,
)


def _is_furniture(text: str) -> bool:
    """Printed matter that is no part of a question: name lines, "Answer:", ruled dots."""
    return bool(_FURNITURE.match(text)) and not re.search(r"[?]|\d\s?[pnµmk]?[A-Z]\b", text)


def _without_furniture(lines: Sequence[str]) -> list[str]:
    return ["" if _is_furniture(line) else line for line in lines]


# --- pages ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Print:
    """One printed line in text, with the word that each character came from."""

    page: int
    line: Line
    text: str
    words: tuple[int, ...]


@dataclass
class _Region:
    """Where a question stands on the pages: first line's place, and all its boxes."""

    question: Question
    page: int
    box: Box
    lines: list[WrittenLine]


def worksheet_from_pages(pages: Sequence[Page], questions: Worksheet | None = None) -> Worksheet:
    """The questions printed on ``pages`` with the pen lines that answer them.

    ``questions`` come from typed text, a blank sheet or a saved worksheet when they are not
    printed on these pages: the pen lines are then matched by their handwritten numbers.
    What no question can take stands in ``unmatched``.
    """
    prints = [
        _as_text(n, line) for n, page in enumerate(pages) for line in _in_rows(page.print_lines)
    ]
    seen, mark, constants = _printed_questions(prints)
    if questions is not None:
        numbers = {_plain_number(q.number) for q in questions.questions}
        shared = [r for r in seen if _plain_number(r.question.number) in numbers]
        if 2 * len(shared) < len(questions.questions) or not shared:
            return _by_number(pages, questions)
        by_number = {_plain_number(q.number): q for q in questions.questions}
        for region in shared:
            known = by_number[_plain_number(region.question.number)]
            region.question = replace(known, box=region.question.box)
        printed = {_plain_number(r.question.number) for r in shared}
        rest = [q for q in questions.questions if _plain_number(q.number) not in printed]
        return replace(
            _by_place(pages, prints, shared, mark, questions.stated_constants, rest),
            problems=questions.problems,
        )
    return _by_place(pages, prints, seen, mark, constants, [])


def _in_order(lines: Sequence[Line]) -> list[Line]:
    """Reading order: block by block, then downwards, then along a row."""
    return sorted(lines, key=lambda one: (one.block, one.box.y, one.box.x))


def _in_rows(lines: Sequence[Line]) -> list[Line]:
    """Reading order in which lines that stand side by side, as marks do, count as one row."""
    rows: list[list[Line]] = []
    for line in _in_order(lines):
        last = rows[-1][0] if rows else None
        if last is not None and last.block == line.block and _level(last.box, line.box):
            rows[-1].append(line)
        else:
            rows.append([line])
    return [line for row in rows for line in sorted(row, key=lambda one: one.box.x)]


def _level(a: Box, b: Box) -> bool:
    overlap = min(a.bottom, b.bottom) - max(a.y, b.y)
    apart = a.right <= b.x or b.right <= a.x
    return apart and overlap > 0.5 * min(a.height, b.height)


def _as_text(page: int, line: Line) -> _Print:
    if not line.words:
        text = canonical(line.text)
        return _Print(page, line, text, (-1,) * len(text))
    pieces: list[str] = []
    words: list[int] = []
    for index, word in enumerate(line.words):
        text = canonical(word.reading.text)
        if pieces:
            pieces.append(" ")
            words.append(index)
        pieces.append(text)
        words.extend([index] * len(text))
    return _Print(page, line, "".join(pieces), tuple(words))


def _printed_questions(
    prints: Sequence[_Print],
) -> tuple[list[_Region], DecimalMark | None, tuple[Given, ...]]:
    mark = settle_decimal_mark("\n".join(p.text for p in prints))
    texts = _without_furniture([p.text for p in prints])
    parts = split_parts(texts)
    constants, parts = _take_header(parts, mark)
    regions = []
    for question, part in read_parts(parts, mark):
        own = [prints[i] for i in range(part.first, part.last + 1) if texts[i].strip()]
        first_page = own[0].page
        box = own[0].line.box
        for one in own[1:]:
            if one.page == first_page:
                box = box.union(one.line.box)
        above = [
            prints[i] for p in parts if p.number == part.parent for i in range(p.first, p.last + 1)
        ]
        givens = _with_boxes(question.givens, [*above, *own])
        regions.append(_Region(replace(question, box=box, givens=givens), first_page, box, []))
    return regions, mark, constants


def _with_boxes(givens: Sequence[Given], prints: Sequence[_Print]) -> tuple[Given, ...]:
    """Each given with the box of the words it was read from and their confidence."""
    text = "\n".join(p.text for p in prints)
    owner: list[tuple[int, int]] = []
    for index, one in enumerate(prints):
        owner += [(index, w) for w in one.words] + [(index, -1)]
    out = []
    at = 0
    for given in givens:
        place = text.find(given.quantity.text, at)
        if place < 0:
            place = text.find(given.quantity.text)
        if place < 0:
            out.append(given)
            continue
        at = place
        spots = {o for o in owner[place : place + len(given.quantity.text)] if o[1] >= 0}
        boxes = [prints[i].line.words[w].box for i, w in sorted(spots)]
        sure = [prints[i].line.words[w].reading.confidence for i, w in spots]
        box = boxes[0] if boxes else None
        for other in boxes[1:]:
            box = box.union(other) if box is not None else other
        out.append(replace(given, box=box, confidence=min(sure, default=given.confidence)))
    return tuple(out)


# --- pen lines by place -----------------------------------------------------------------------


def _by_place(
    pages: Sequence[Page],
    prints: Sequence[_Print],
    regions: list[_Region],
    mark: DecimalMark | None,
    constants: tuple[Given, ...],
    unprinted: Sequence[Question],
) -> Worksheet:
    unmatched: list[WrittenLine] = []
    for number, page in enumerate(pages):
        for line in _in_order(page.pen_lines):
            region = _region_of(line, number, regions)
            written = _written(line)
            if region is None:
                unmatched.append(written)
                continue
            region.lines.append(_without_label(written, region.question))
    spaces = [s for page in pages for s in page.spaces]
    cues = [p.line.box for p in prints if re.match(r"\s*(?:final )?answer\b", p.text, re.I)]
    questions = [
        replace(r.question, lines=_with_roles(r.lines, r.question, spaces, cues)) for r in regions
    ]
    problems = () if questions or unprinted else (_NO_QUESTION_SEEN,)
    return Worksheet((*questions, *unprinted), tuple(unmatched), mark, constants, problems)


def _region_of(line: Line, page: int, regions: Sequence[_Region]) -> _Region | None:
    """The question above which no other stands nearer: the last one that starts above the line."""
    height = line.box.centre[1]
    here = [r for r in regions if r.page == page and r.box.y <= height]
    beside = [r for r in here if _share_column(line.box, r.box)]
    chosen = max(beside or here, key=lambda r: r.box.y, default=None)
    if chosen is not None:
        return chosen
    before = [r for r in regions if r.page < page]
    return before[-1] if before and not any(r.page == page for r in regions) else None


def _share_column(pen: Box, question: Box) -> bool:
    return pen.x < question.right and question.x < pen.right


def _written(line: Line) -> WrittenLine:
    return WrittenLine(line.reading, line.box, struck=line.struck)


def _with_roles(
    lines: Sequence[WrittenLine],
    question: Question,
    spaces: Sequence[AnswerSpace],
    cues: Sequence[Box],
) -> tuple[WrittenLine, ...]:
    """Mark the final answers: beside "Answer:", in a box of their own, or the last value."""
    asked = max(1, len(question.asked))
    chosen = {
        i for i, one in enumerate(lines) if one.box and any(_same_row(one.box, c) for c in cues)
    }
    if not chosen:
        boxed = {
            i
            for i, one in enumerate(lines)
            if one.box and any(s.kind == "box" and _inside(one.box, s.box) for s in spaces)
        }
        if 0 < len(boxed) <= asked < len(lines):
            chosen = boxed
    if not chosen:
        chosen = _last_values(lines, asked)
    return tuple(
        replace(one, role="answer") if i in chosen and not one.struck else one
        for i, one in enumerate(lines)
    )


def _last_values(lines: Sequence[WrittenLine], asked: int) -> set[int]:
    """The last line with a value; with several asks, the last of each lettered stretch."""
    ends: list[int] = []
    last: int | None = None
    for index, one in enumerate(lines):
        if asked > 1 and re.match(r"\(?[b-h]\)", one.reading.text) and last is not None:
            ends.append(last)
            last = None
        if not one.struck and _has_value(one.reading.text):
            last = index
    if last is not None:
        ends.append(last)
    return set(ends)


def _has_value(text: str) -> bool:
    return bool(find_quantities(text.rsplit("=", 1)[-1].rsplit("≈", 1)[-1]))


def _same_row(a: Box, b: Box) -> bool:
    overlap = min(a.bottom, b.bottom) - max(a.y, b.y)
    return overlap > 0.4 * min(a.height, b.height) and a.x > b.x


def _inside(inner: Box, outer: Box) -> bool:
    x, y = inner.centre
    return outer.x <= x <= outer.right and outer.y <= y <= outer.bottom


# --- pen lines by handwritten number -------------------------------------------------------------

_LABEL = re.compile(
    r"^\s*(?:(?:q|question|no"
    r"|nr)\.? ?)?(?P<number>\d{1,2}(?:[.,]\d{1,2})*\s?(?:\(?[a-h]\))?"
    r"|\(?[a-h]\))(?=[\s.):]|$)[.):]?\s*",
    re.I,
)


def _plain_number(number: str) -> str:
    return re.sub(r"[()\s]", "", number).replace(",", ".").strip(".").lower()


def _label_of(text: str) -> tuple[str, int] | None:
    """The number a learner wrote at the start of a line, and where it ends."""
    match = _LABEL.match(text)
    if match is None:
        return None
    rest = text[match.end() :]
    if rest[:1] in ("×", "+", "-", "/", "·", "^", "=", "%"):
        return None
    return _plain_number(match.group("number")), match.end()


def _by_number(pages: Sequence[Page], sheet: Worksheet) -> Worksheet:
    """Give each pen line to the question whose number stands at or above it."""
    taken: dict[int, list[WrittenLine]] = {i: [] for i in range(len(sheet.questions))}
    unmatched: list[WrittenLine] = []
    current: int | None = 0 if len(sheet.questions) == 1 else None
    for page in pages:
        for line in _below_labels(page.pen_lines):
            label = _label_of(line.text)
            found = _question_named(label[0], sheet.questions, current) if label else None
            if found is not None:
                current = found
            written = _written(line)
            if current is None:
                unmatched.append(written)
                continue
            if found is not None:
                written = _without_label(written, sheet.questions[current])
                if not written.reading.text:
                    continue
            taken[current].append(written)
    spaces = [s for page in pages for s in page.spaces]
    questions = tuple(
        replace(q, lines=_with_roles(taken[i], q, spaces, ()))
        for i, q in enumerate(sheet.questions)
    )
    return replace(sheet, questions=questions, unmatched=tuple(unmatched))


def _below_labels(lines: Sequence[Line]) -> list[Line]:
    """Reading order in which a number alone in the margin comes before the line beside it."""

    def is_label(line: Line) -> bool:
        label = _label_of(line.text)
        return label is not None and not line.text[label[1] :].strip()

    if not any(is_label(line) for line in lines):
        return _in_order(lines)
    return sorted(lines, key=lambda x: x.box.centre[1] if is_label(x) else x.box.bottom)


def _question_named(label: str, questions: Sequence[Question], current: int | None) -> int | None:
    numbers = [_plain_number(q.number) for q in questions]
    if label in numbers:
        return numbers.index(label)
    if re.fullmatch(r"[a-h]", label):
        base = re.sub(r"[a-h]$", "", numbers[current]) if current is not None else ""
        ending = [i for i, n in enumerate(numbers) if n == base + label]
        if not ending:
            ending = [i for i, n in enumerate(numbers) if n.endswith(label)]
        return ending[0] if len(ending) == 1 else None
    return None


def _without_label(line: WrittenLine, question: Question) -> WrittenLine:
    """The line without the question's own number in front, in every reading that has it."""
    number = _plain_number(question.number)
    letter = number[-1:] if number[-1:].isalpha() else None
    candidates = []
    changed = False
    for text, probability in line.reading.candidates:
        label = _label_of(text) if number else None
        if label is not None and label[0] in (number, letter):
            candidates.append(Candidate(text[label[1] :], probability))
            changed = True
        else:
            candidates.append(Candidate(text, probability))
    return replace(line, reading=Reading(tuple(candidates))) if changed else line
