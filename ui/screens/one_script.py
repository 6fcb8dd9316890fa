"""One script: a photo in, its findings beside it, corrections in place."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from parser.assemble import worksheet_from_text
from parser.worksheet import Worksheet
from scanner.errors import UserError
from scanner.page import Box
from scanner.reader import LineReader
from solver.findings import Verdict
from solver.verdicts import Rules
from ui import words
from ui.changes import changes, is_another_sheet
from ui.check import check_files, rechecked, without_writing, worksheet_from_file
from ui.checked import CheckedSheet, CheckedSheets
from ui.components.help import Ladder
from ui.components.photo import Focus, photo
from ui.components.question import Corrector, question_card
from ui.components.text import badge, escaped
from ui.components.try_again import begin, try_again
from ui.corrections import Corrections, corrected
from ui.findings_words import HelpStep
from ui.screens import tour
from ui.settings import DecimalMark, Settings, load_settings
from ui.setup import DEMO_PHOTO

PHOTO_TYPES = ("image", "pdf", "zip", "heic", "heif", "tif", "tiff", "webp")
QUESTION_TYPES = (*PHOTO_TYPES, "txt", "json")


@dataclass
class Work:
    """What this browser tab is busy with: the outcome of a check and what a person set right.

    Keys are the index of the sheet, or of the sheet and its question. ``history`` holds
    (sheet, its corrections before), the latest last; ``before`` the sheet as it was on an
    earlier photo.
    """

    outcome: CheckedSheets
    questions: Worksheet | None = None
    corrections: dict[int, Corrections] = field(default_factory=dict)
    history: list[tuple[int, Corrections]] = field(default_factory=list)
    before: dict[int, CheckedSheet] = field(default_factory=dict)
    reached: dict[tuple[int, int], HelpStep] = field(default_factory=dict)
    focus: Focus | None = None
    problems: dict[tuple[int, int], str] = field(default_factory=dict)
    again: bool = False


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
    with st.container(horizontal=True, vertical_alignment="center"):
        demo = st.button(words.DEMO)
        tour.offer()
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
    st.session_state["work"] = Work(_checked(paths, questions), questions)
    st.rerun()


def _checked(paths: Sequence[Path], questions: Worksheet | None) -> CheckedSheets:
    with st.status(words.WORKING, expanded=True) as status:
        bar = st.progress(0.0)

        def tell(what: str, share: float) -> None:
            bar.progress(share, escaped(what))

        rules = load_settings().rules
        outcome = check_files(paths, questions, rules, reader=_reader(), progress=tell)
        status.update(label=words.DONE, state="complete")
    return outcome


@st.cache_resource(show_spinner=False)
def _reader() -> LineReader:
    return LineReader.load()


# --- after: photo and findings ------------------------------------------------------------


def _show_work(work: Work) -> None:
    sheets = work.outcome.sheets
    _head(work)
    for failure in work.outcome.failures:
        st.error(escaped(failure.sentence))
    if not sheets:
        st.markdown(words.NO_SHEETS)
        return
    index = _choose_sheet(sheets)
    settings = load_settings()
    sheet = _as_set_right(work, index, settings.rules)
    if work.again:
        _photograph_again(work, index, sheet)
    _summary(sheet)
    if index in work.before:
        _changes(work.before[index], sheet)
    left, right = st.columns([6, 5], gap="medium")
    with right:
        help_way, with_marks = _ways(settings)
        _findings(work, index, sheet, settings, help_way, with_marks)
    with left, st.container(key="photo"):
        told = sheet if help_way == words.ALL_AT_ONCE else _without_notes(work, index, sheet)
        photo(told, f"photo-{index}", work.focus)


def _head(work: Work) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.title(words.ONE_SCRIPT_TITLE, width="stretch")
        if work.history and st.button(words.UNDO, help=words.UNDO_HELP):
            sheet, corrections = work.history.pop()
            work.corrections[sheet] = corrections
            work.problems.clear()
            st.rerun()
        if work.outcome.sheets and not work.again and st.button(words.AGAIN):
            work.again = True
            st.rerun()
        if st.button(words.ANOTHER):
            del st.session_state["work"]
            st.session_state["round"] = st.session_state.get("round", 0) + 1
            st.rerun()


def _as_set_right(work: Work, index: int, rules: Rules) -> CheckedSheet:
    corrections = work.corrections.get(index, Corrections())
    return rechecked(work.outcome.sheets[index], corrections, rules)


def _ways(settings: Settings) -> tuple[str, bool]:
    """How help unfolds, and whether marks are shown."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        way = st.segmented_control(
            words.HELP_WAY,
            (words.STEP_BY_STEP, words.ALL_AT_ONCE),
            default=words.STEP_BY_STEP if settings.step_by_step else words.ALL_AT_ONCE,
            required=True,
            key="help-way",
        )
        return way, st.toggle(words.SHOW_MARKS, settings.show_marks)


def _without_notes(work: Work, index: int, sheet: CheckedSheet) -> CheckedSheet:
    """The sheet whose marks on the photo do not yet say what went wrong."""
    questions = tuple(
        found
        if work.reached.get((index, place), HelpStep.WHERE) >= HelpStep.WHY
        else replace(found, working=tuple(replace(line, note=None) for line in found.working))
        for place, found in enumerate(sheet.findings.questions)
    )
    return replace(sheet, findings=replace(sheet.findings, questions=questions))


# --- photograph again ---------------------------------------------------------------------


def _photograph_again(work: Work, index: int, sheet: CheckedSheet) -> None:
    with st.container(border=True, key="again"):
        st.markdown(words.AGAIN_LEAD)
        taken = len(work.before)
        file = st.file_uploader(words.AGAIN_UPLOAD, type=PHOTO_TYPES, key=f"again-{index}-{taken}")
        if st.button(words.AGAIN_NOT_NOW):
            work.again = False
            st.rerun()
        if file is not None:
            _take_again(work, index, sheet, file)


def _take_again(work: Work, index: int, sheet: CheckedSheet, file: UploadedFile) -> None:
    """The new photo takes the place of the old one; what a person set of the questions stays."""
    questions = without_writing(sheet.worksheet) if sheet.worksheet.questions else work.questions
    try:
        with tempfile.TemporaryDirectory() as folder:
            outcome = _checked(_saved([file], Path(folder)), questions)
    except UserError as error:
        st.error(escaped(str(error)))
        return
    for failure in outcome.failures:
        st.error(escaped(failure.sentence))
    if not outcome.sheets:
        return
    sheets = list(work.outcome.sheets)
    sheets[index] = outcome.sheets[0]
    work.outcome = replace(work.outcome, sheets=tuple(sheets))
    work.before[index] = sheet
    work.corrections.pop(index, None)
    work.history = [(place, known) for place, known in work.history if place != index]
    work.reached = {key: step for key, step in work.reached.items() if key[0] != index}
    work.again = False
    st.rerun()


def _changes(before: CheckedSheet, after: CheckedSheet) -> None:
    with st.container(border=True, gap="xsmall", key="changes"):
        st.markdown(f"**{words.CHANGED}**")
        if is_another_sheet(before.findings, after.findings):
            st.warning(words.OTHER_SHEET)
            return
        found = changes(before.findings, after.findings)
        for change in found:
            said = words.CHANGE.format(
                question=escaped(words.question_name(change.number)),
                before=badge(change.before),
                after=badge(change.after),
            )
            st.markdown(said)
        if not found:
            st.markdown(words.UNCHANGED)


# --- the sheet and its questions ----------------------------------------------------------


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


def _findings(
    work: Work,
    index: int,
    sheet: CheckedSheet,
    settings: Settings,
    help_way: str,
    with_marks: bool,
) -> None:
    mark = settings.decimal_mark or sheet.worksheet.decimal_mark or "."
    for place, found in enumerate(sheet.findings.questions):
        ladder = _ladder(work, index, place) if help_way == words.STEP_BY_STEP else None
        corrector = _corrector(work, index, place, settings, mark)
        question_card(sheet, found, corrector, ladder, with_marks, mark)
    if sheet.worksheet.unmatched and sheet.page is not None:
        with st.container(border=True):
            st.markdown(f"##### {words.UNMATCHED_HEAD}")
            for line in sheet.worksheet.unmatched:
                if line.box:
                    st.image(sheet.page.crop(line.box), alt=line.reading.text)


def _ladder(work: Work, sheet: int, question: int) -> Ladder:
    def reach(step: HelpStep) -> None:
        work.reached[sheet, question] = step
        st.rerun()

    return Ladder(work.reached.get((sheet, question), HelpStep.WHERE), reach)


def _corrector(
    work: Work, sheet: int, question: int, settings: Settings, mark: DecimalMark
) -> Corrector:
    corrections = work.corrections.get(sheet, Corrections())

    def keep(new: Corrections) -> None:
        try:
            rechecked(work.outcome.sheets[sheet], new, settings.rules)
        except UserError as error:
            work.problems[sheet, question] = str(error)
        else:
            work.problems.pop((sheet, question), None)
            work.corrections[sheet] = new
            work.history.append((sheet, corrections))
        st.rerun()

    def show_place(box: Box) -> None:
        turn = work.focus.turn + 1 if work.focus else 1
        work.focus = Focus(box, turn)
        st.rerun()

    def once_more() -> None:
        worksheet = corrected(work.outcome.sheets[sheet].worksheet, corrections)
        begin()
        try_again(worksheet, worksheet.questions[question], settings.rules, mark)

    return Corrector(
        question=question,
        line=lambda line, text: keep(corrections.with_line((question, line), text)),
        given=lambda given, text: keep(corrections.with_given((question, given), text)),
        expected=lambda ask, text: keep(corrections.with_expected((question, ask), text)),
        show=show_place,
        corrected_givens=frozenset(
            given for place, given in corrections.givens if place == question
        ),
        typed_expected=frozenset(ask for place, ask in corrections.expected if place == question),
        once_more=once_more,
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
