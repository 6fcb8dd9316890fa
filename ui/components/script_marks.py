"""One script of a stack, question by question: each mark beside the handwriting it stands for."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from scanner.page import Box, Page
from solver.findings import LineFinding, QuestionFindings
from ui import pretty, stack_words, words
from ui.checked import CheckedSheet
from ui.components.text import badge, escaped, sentence, shown
from ui.findings_words import first_broken_line, line_text, reasons, verdicts_by_line
from ui.mark_sheet import Row

_CROP_HEIGHT = 40  # pixels on the screen for one line of handwriting
MOST_AS_BUTTONS = 9  # more marks than this are typed


def script_marks(
    sheets: Sequence[CheckedSheet], row: Row, give: Callable[[str, int], None]
) -> None:
    """Draw all questions of a script.

    Args:
        sheets: the script's findings, once with each of its pages.
        give: called with a question's number and the marks that a person gives it.
    """
    pages = [sheet.page for sheet in sheets if sheet.page is not None]
    for place, found in enumerate(sheets[0].findings.questions):
        with st.container(border=True, gap="xsmall", key=f"marked-{place}"):
            _question(found, row, pages, give, place)


def _question(
    found: QuestionFindings,
    row: Row,
    pages: Sequence[Page],
    give: Callable[[str, int], None],
    place: int,
) -> None:
    number = found.question.number
    name = escaped(words.question_name(number))
    st.markdown(f"##### {name} &ensp;{badge(found.verdict)}")
    answers = verdicts_by_line(found)
    broken = first_broken_line(found)
    if not found.working:
        st.markdown(words.NOTHING_WRITTEN)
    for at, line in enumerate(found.working, 1):
        _crop(line.line.box, pages, at)
        said = f"{at}.&ensp;{_reading(line)}"
        if broken == at:
            said += f" :orange-badge[{words.BREAKS_HERE}]"
        if at in answers:
            said += f" {badge(answers[at])}"
        st.markdown(said)
    for reason in reasons(found):
        st.markdown(escaped(sentence(reason)))
    mark = row.mark(number)
    if mark is None or mark.of is None:
        return
    said = f"**{stack_words.GIVE}**"
    if mark.suggested is not None and not mark.needs_person:
        said += f" {stack_words.SUGGESTED.format(suggested=mark.suggested, of=mark.of)}"
    st.markdown(said)
    marks_buttons(mark.of, mark.value, lambda marks: give(number, marks), f"give-{place}")


def marks_buttons(
    of: int,
    stands: int | None,
    give: Callable[[int], None],
    key: str,
    by_keys: bool = False,
) -> None:
    """A button for every mark that can be given; the one that stands is filled."""
    if of > MOST_AS_BUTTONS:
        with st.form(key, border=False):
            marks = st.number_input(stack_words.GIVE, 0, of, stands or 0)
            if st.form_submit_button(stack_words.USE):
                give(int(marks))
        return
    with st.container(horizontal=True, gap="xsmall"):
        for marks in range(of + 1):
            pressed = st.button(
                str(marks),
                type="primary" if marks == stands else "secondary",
                shortcut=str(marks) if by_keys else None,
                key=f"{key}-{marks}",
            )
            if pressed:
                give(marks)


def _crop(box: Box | None, pages: Sequence[Page], number: int) -> None:
    if box is None:
        return
    page = next((p for p in pages if any(line.box == box for line in p.lines)), pages[0])
    if page.image is None:
        return
    crop = page.crop(box)
    width = max(1, round(crop.shape[1] * _CROP_HEIGHT / crop.shape[0]))
    st.image(crop, width=width, alt=words.LINE.format(number=number))


def _reading(line: LineFinding) -> str:
    text = line_text(line)
    if not text:
        return f"*{words.NOT_READ}*"
    return shown(text) if pretty.is_formula(text) else escaped(pretty.plain(text))
