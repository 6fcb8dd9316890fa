"""One question's findings: verdict, what was understood, what was written, where it breaks.

Draws only; what a person corrects is handed to the callbacks of ``Corrector``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import streamlit as st

from parser.worksheet import Given
from scanner.page import Box, Candidate, Page
from solver.findings import LineFinding, Marks, QuestionFindings, Verdict
from ui import pretty, words
from ui.checked import CheckedSheet
from ui.components.derivation import expected_results
from ui.components.help import Ladder, help_ladder
from ui.components.text import badge, escaped, sentence, shown
from ui.findings_words import (
    first_broken_line,
    line_text,
    reasons,
    verdicts_by_line,
)
from ui.settings import DecimalMark
from ui.verdict_looks import LOOKS

_CROP_HEIGHT = 44  # pixels on the screen for one line of handwriting
_EDIT = ":material/edit:"
_AGAIN = ":material/replay:"
_SURE = 0.9  # readings under this show how sure they are


@dataclass(frozen=True)
class Corrector:
    """What to do when a person corrects something of the question with index ``question``.

    ``line`` and ``given`` take the index of the line or given and the new text, or None to
    go back to what was read; ``expected`` takes the index of the ask and the text, or None to
    take it back. ``show`` brings a place of the photo into view; ``once_more`` sets the question
    again with fresh numbers. ``corrected_givens`` and ``typed_expected`` say what a person has set
    so far.
    """

    question: int
    line: Callable[[int, str | None], None]
    given: Callable[[int, str | None], None]
    expected: Callable[[int, str | None], None]
    show: Callable[[Box], None]
    corrected_givens: frozenset[int] = frozenset()
    typed_expected: frozenset[int] = frozenset()
    once_more: Callable[[], None] | None = None
    problem: str | None = None


def question_card(
    sheet: CheckedSheet,
    found: QuestionFindings,
    corrector: Corrector,
    ladder: Ladder | None = None,
    with_marks: bool = False,
    mark: DecimalMark = ".",
) -> None:
    """Draw one question; with a ladder its help unfolds a step at a time."""
    with st.container(border=True, gap="xsmall", key=f"question-{corrector.question}"):
        _head(found, corrector)
        if with_marks and found.marks:
            _marks(found.marks)
        _understood(found, corrector)
        if corrector.problem:
            st.error(escaped(corrector.problem))
        _written(sheet.page, found, corrector)
        if ladder is not None and found.verdict is not Verdict.AGREES:
            help_ladder(found, ladder, str(corrector.question), mark)
        else:
            _why(found, corrector.question)
            if found.expected:
                with st.expander(words.UNFOLD):
                    expected_results(found, mark)
        if found.expected:
            _once_more(corrector)
        if found.verdict is Verdict.UNSOLVED or any(e.given_by_person for e in found.expected):
            _type_expected(found, corrector)


# --- head and reasons ---------------------------------------------------------------------


def _head(found: QuestionFindings, corrector: Corrector) -> None:
    name = escaped(words.question_name(found.question.number))
    box = found.question.box or next((w.line.box for w in found.working if w.line.box), None)
    with st.container(horizontal=True, vertical_alignment="center"):
        st.markdown(f"##### {name} &ensp;{badge(found.verdict)}", width="stretch")
        if box and st.button(
            words.SHOW_ON_PHOTO, key=f"show-{corrector.question}", type="tertiary"
        ):
            corrector.show(box)


def _marks(marks: Marks) -> None:
    st.markdown(f"**{words.MARKS.format(suggested=marks.suggested, of=marks.of)}**")
    for point in marks.points:
        reason = f" ({escaped(point.reason)})" if point.reason else ""
        st.markdown(f"- {escaped(point.marks_for)}: {words.EARNED[point.earned]}{reason}")


def _why(found: QuestionFindings, question: int) -> None:
    broken = first_broken_line(found)
    sentences = [escaped(sentence(reason)) for reason in reasons(found)]
    if found.verdict is Verdict.DIFFERS and broken is not None:
        note = found.working[broken - 1].note
        first = (
            words.FIRST_BREAK_WHY.format(number=broken, note=escaped(note.rstrip(".")))
            if note
            else words.FIRST_BREAK.format(number=broken)
        )
        sentences.insert(0, first)
    elif found.verdict is Verdict.DIFFERS and not sentences:
        sentences = [words.NO_CAUSE]
    if not sentences:
        return
    with st.container(gap=None, key=f"why-{question}"):
        st.markdown(f"**{words.WHY[found.verdict]}**  \n" + "  \n".join(sentences))


# --- what was understood ------------------------------------------------------------------


def _understood(found: QuestionFindings, corrector: Corrector) -> None:
    with st.container(horizontal=True, vertical_alignment="center", gap="xsmall"):
        st.markdown(f"**{words.HEAD_GIVEN}**", width="content")
        if not found.question.givens:
            st.markdown(words.NOTHING_GIVEN, width="content")
        for index, given in enumerate(found.question.givens):
            _given(index, given, corrector)
    asked = [escaped(words.asked_words(ask)) for ask in found.question.asked]
    st.markdown(f"**{words.HEAD_ASKED}** &ensp;" + ("; ".join(asked) or words.NOT_UNDERSTOOD))
    with st.expander(words.QUESTION_AS_READ, expanded=found.verdict is Verdict.UNSOLVED):
        st.markdown(escaped(pretty.plain(found.question.text)))


def _given(index: int, given: Given, corrector: Corrector) -> None:
    """A given as a small button that opens its correction."""
    key = f"given-{corrector.question}-{index}"
    by_person = index in corrector.corrected_givens
    label = escaped(words.given_words(given)) + f" {shown(given.quantity.text)}"
    if by_person:
        label += f" :blue-badge[{words.BY_PERSON}]"
    with st.popover(label, type="tertiary", icon=_EDIT, help=words.CORRECT, key=f"{key}-open"):
        with st.form(key, border=False):
            typed = st.text_input(
                words.CORRECT_GIVEN,
                pretty.typed(given.quantity.text),
                help=words.CORRECT_HELP,
                key=f"{key}-text",
            )
            if st.form_submit_button(words.USE_THIS, key=f"{key}-use"):
                corrector.given(index, typed)
        if by_person and st.button(words.AS_READ, key=f"{key}-back"):
            corrector.given(index, None)


# --- what was written ---------------------------------------------------------------------


def _written(page: Page | None, found: QuestionFindings, corrector: Corrector) -> None:
    st.markdown(f"**{words.HEAD_WRITTEN}**")
    if not found.working:
        st.markdown(words.NOTHING_WRITTEN)
    broken = first_broken_line(found)
    answers = verdicts_by_line(found)
    for number, line in enumerate(found.working, 1):
        _line(page, line, number, corrector, broken == number, answers.get(number))


def _line(
    page: Page | None,
    line: LineFinding,
    number: int,
    corrector: Corrector,
    breaks: bool,
    answer: Verdict | None,
) -> None:
    with st.container(gap="xxsmall"):
        _crop(page, line, number)
        _reading(line, number, corrector, breaks, answer)


def _crop(page: Page | None, line: LineFinding, number: int) -> None:
    if page is not None and page.image is not None and line.line.box:
        crop = page.crop(line.line.box)
        width = round(crop.shape[1] * _CROP_HEIGHT / crop.shape[0])
        st.image(crop, width=max(1, width), alt=words.LINE.format(number=number))


def _reading(
    line: LineFinding, number: int, corrector: Corrector, breaks: bool, answer: Verdict | None
) -> None:
    text = line_text(line)
    by_person = line.line.corrected_by_person
    said = shown(text) if text else f"*{words.NOT_READ}*"
    said = f"{number}.&ensp;{said}"
    if line.line.struck:
        said += f" ({words.STRUCK})"
    if breaks:
        said += f" :orange-badge[{LOOKS[Verdict.DIFFERS].sign} {words.BREAKS_HERE}]"
    if answer is not None:
        said += f" {badge(answer)}"
    if by_person:
        said += f" :blue-badge[{words.BY_PERSON}]"
    elif text and line.line.reading.confidence < _SURE:
        percent = round(100 * line.line.reading.confidence)
        said += f" :gray-badge[{words.SURE.format(percent=percent)}]"
    with st.container(horizontal=True, vertical_alignment="center"):
        st.markdown(said, width="stretch")
        others = line.line.reading.candidates[: line.reading_used]
        others += line.line.reading.candidates[line.reading_used + 1 :]
        _correct_line(number, text, others, corrector, by_person)


def _correct_line(
    number: int,
    text: str,
    others: tuple[Candidate, ...],
    corrector: Corrector,
    by_person: bool,
) -> None:
    key = f"line-{corrector.question}-{number}"
    with st.popover(words.CORRECT, type="tertiary", icon=_EDIT, key=f"{key}-open"):
        with st.form(key, border=False):
            typed = st.text_input(
                words.CORRECT_LINE.format(number=number),
                pretty.typed(text),
                help=words.CORRECT_HELP,
                key=f"{key}-text",
            )
            if st.form_submit_button(words.USE_THIS, key=f"{key}-use"):
                corrector.line(number - 1, typed)
        if others:
            st.markdown(words.ALSO)
        for index, other in enumerate(others[:4]):
            if st.button(pretty.plain(other.text), key=f"{key}-other-{index}"):
                corrector.line(number - 1, other.text)
        if by_person and st.button(words.AS_READ, key=f"{key}-back"):
            corrector.line(number - 1, None)


# --- once more, and what is expected ------------------------------------------------------


def _once_more(corrector: Corrector) -> None:
    key = f"try-{corrector.question}"
    if corrector.once_more and st.button(words.TRY, icon=_AGAIN, type="tertiary", key=key):
        corrector.once_more()


def _type_expected(found: QuestionFindings, corrector: Corrector) -> None:
    asks = max(1, len(found.question.asked))
    for ask in range(asks):
        key = f"expected-{corrector.question}-{ask}"
        head = words.TYPE_EXPECTED_HEAD
        if asks > 1:
            head += f": {words.asked_words(found.question.asked[ask])}"
        with st.form(key, border=False):
            typed = st.text_input(head, placeholder=words.TYPE_EXPECTED, key=f"{key}-text")
            if st.form_submit_button(words.USE_THIS, key=f"{key}-use") and typed.strip():
                corrector.expected(ask, typed)
        if ask in corrector.typed_expected and st.button(words.TAKE_BACK, key=f"{key}-back"):
            corrector.expected(ask, None)
