"""One script: a photo in, its findings beside it, corrections in place."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from parser.assemble import worksheet_from_text
from parser.worksheet import Worksheet
from scanner.errors import UserError
from scanner.page import Box
from scanner.reader import LineReader
from solver.findings import Verdict
from ui import words
from ui.check import check_files, rechecked, worksheet_from_file
from ui.checked import CheckedSheet, CheckedSheets
from ui.components.photo import Focus, photo
from ui.components.question import Corrector, badge, escaped, question_card
from ui.corrections import Corrections
from ui.setup import DEMO_PHOTO

PHOTO_TYPES = ("image", "pdf", "zip", "heic", "heif", "tif", "tiff", "webp")
QUESTION_TYPES = (*PHOTO_TYPES, "txt", "json")


@dataclass
class Work:
    """What this browser tab is busy with: the outcome of a check and what a person set right."""

    outcome: CheckedSheets
    corrections: dict[int, Corrections] = field(default_factory=dict)
    focus: Focus | None = None
    problems: dict[tuple[int, int], str] = field(default_factory=dict)


def show() -> None:
    """Draw the page."""
    work: Work | None = st.session_state.get("work")
    if work is not None:
        _show_work(work)
        _about()
        return
    with st.container(key="narrow"):
        _ask_for_photo()
        _about()


# --- before: ask for a photo --------------------------------------------------------------


def _ask_for_photo() -> None:
    st.title(words.ONE_SCRIPT_TITLE)
    st.markdown(words.ONE_SCRIPT_LEAD)
    files = st.file_uploader(
        words.UPLOAD,
        type=PHOTO_TYPES,
        accept_multiple_files=True,
        help=words.UPLOAD_HELP,
        key=f"photos-{st.session_state.get('round', 0)}",
    )
    demo = st.button(words.DEMO)
    with st.expander(words.ELSEWHERE):
        questions = _ask_for_questions()
    try:
        if demo:
            _check([DEMO_PHOTO], None)
        elif files:
            with tempfile.TemporaryDirectory() as folder:
                _check(_saved(files, Path(folder)), questions)
    except UserError as error:
        st.error(str(error))


def _ask_for_questions() -> Worksheet | None:
    st.markdown(words.QUESTIONS_FIRST)
    ways = (words.QUESTIONS_TYPED, words.QUESTIONS_FILE)
    way = st.radio(words.QUESTIONS_FROM, ways, horizontal=True)
    try:
        if way == words.QUESTIONS_TYPED:
            text = st.text_area(
                words.QUESTIONS_TEXT, placeholder=words.QUESTIONS_EXAMPLE, height=160
            )
            return worksheet_from_text(text) if text.strip() else None
        file = st.file_uploader(words.QUESTIONS_UPLOAD, type=QUESTION_TYPES)
        return _questions_of(file) if file else None
    except UserError as error:
        st.error(str(error))
        return None


def _questions_of(file: UploadedFile) -> Worksheet:
    key = hashlib.sha256(file.getvalue()).hexdigest()
    known: dict[str, Worksheet] = st.session_state.setdefault("questions", {})
    if key not in known:
        with tempfile.TemporaryDirectory() as folder, st.spinner(words.WORKING):
            known[key] = worksheet_from_file(_saved([file], Path(folder))[0], reader=_reader())
    return known[key]


def _saved(files: Sequence[UploadedFile], folder: Path) -> list[Path]:
    """The uploads as files, each under its own name's last part in a folder of its own."""
    paths = []
    for index, file in enumerate(files):
        path = folder / str(index) / Path(file.name).name
        path.parent.mkdir()
        path.write_bytes(file.getvalue())
        paths.append(path)
    return paths


def _check(paths: Sequence[Path], questions: Worksheet | None) -> None:
    """Run the whole job, telling what happens; keep the outcome for this tab."""
    with st.status(words.WORKING, expanded=True) as status:
        bar = st.progress(0.0)

        def tell(what: str, share: float) -> None:
            bar.progress(share, escaped(what))

        outcome = check_files(
            paths,
            questions,
            reader=_reader(),
            progress=tell,
        )
        status.update(label=words.DONE, state="complete")
    st.session_state["work"] = Work(outcome)
    st.rerun()


@st.cache_resource(show_spinner=False)
def _reader() -> LineReader:
    return LineReader.load()


# --- after: photo and findings ------------------------------------------------------------


def _show_work(work: Work) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.title(words.ONE_SCRIPT_TITLE, width="stretch")
        if st.button(words.ANOTHER):
            del st.session_state["work"]
            st.session_state["round"] = st.session_state.get("round", 0) + 1
            st.rerun()
    for failure in work.outcome.failures:
        st.error(escaped(failure.sentence))
    if not work.outcome.sheets:
        st.markdown(words.NO_SHEETS)
        return
    index = _choose_sheet(work.outcome.sheets)
    read = work.outcome.sheets[index]
    sheet = rechecked(read, work.corrections.get(index, Corrections()))
    _summary(sheet)
    left, right = st.columns([6, 5], gap="medium")
    with left, st.container(key="photo"):
        photo(sheet, f"photo-{index}", work.focus)
    with right:
        _findings(work, index, sheet)


def _choose_sheet(sheets: Sequence[CheckedSheet]) -> int:
    if len(sheets) == 1:
        return 0
    names = [f"{place}. {_sheet_name(sheet)}" for place, sheet in enumerate(sheets, 1)]
    chosen = st.selectbox(words.PAGE_CHOICE, names)
    return names.index(chosen)


def _sheet_name(sheet: CheckedSheet) -> str:
    if sheet.page is None:
        return ""
    name = sheet.page.photo or ""
    return f"{name}, page {sheet.page.number}" if sheet.page.number > 1 else name


def _summary(sheet: CheckedSheet) -> None:
    verdicts = [found.verdict for found in sheet.findings.questions]
    counts = [
        f"{verdicts.count(verdict)}&nbsp;{badge(verdict)}"
        for verdict in Verdict
        if verdict in verdicts
    ]
    st.markdown("&ensp; ".join(counts) if counts else words.NO_QUESTIONS)
    st.markdown(words.CARE)
    for problem in sheet.problems:
        st.warning(escaped(problem))


def _findings(work: Work, index: int, sheet: CheckedSheet) -> None:
    with_marks = st.toggle(words.SHOW_MARKS)
    for place, found in enumerate(sheet.findings.questions):
        question_card(sheet, found, _corrector(work, index, place), with_marks)
    if sheet.worksheet.unmatched and sheet.page is not None:
        with st.container(border=True):
            st.markdown(f"##### {words.UNMATCHED_HEAD}")
            for line in sheet.worksheet.unmatched:
                if line.box:
                    st.image(sheet.page.crop(line.box), alt=line.reading.text)


def _corrector(work: Work, sheet: int, question: int) -> Corrector:
    corrections = work.corrections.get(sheet, Corrections())

    def keep(new: Corrections) -> None:
        try:
            rechecked(work.outcome.sheets[sheet], new)
        except UserError as error:
            work.problems[sheet, question] = str(error)
        else:
            work.problems.pop((sheet, question), None)
            work.corrections[sheet] = new
        st.rerun()

    def show_place(box: Box) -> None:
        turn = work.focus.turn + 1 if work.focus else 1
        work.focus = Focus(box, turn)
        st.rerun()

    return Corrector(
        question=question,
        line=lambda line, text: keep(corrections.with_line((question, line), text)),
        given=lambda given, text: keep(corrections.with_given((question, given), text)),
        expected=lambda ask, text: keep(corrections.with_expected((question, ask), text)),
        show=show_place,
        corrected_givens=frozenset(
            given for place, given in corrections.givens if place == question
        ),
        problem=work.problems.get((sheet, question)),
    )


def _about() -> None:
    st.divider()
    st.markdown(f"{words.CARE} {words.PRIVACY}")
    with st.expander(words.LEGEND):
        for verdict in Verdict:
            st.markdown(f"{badge(verdict)}&ensp;{words.VERDICT_MEANS[verdict]}")
    with st.expander(words.ABOUT):
        st.markdown(words.ABOUT_TEXT)
        st.markdown(words.PRIVACY_TEXT)
