"""A stack: hand in, set the worksheet right, look over, marks, class summary, practise, delete."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path

import altair as alt
import numpy as np
import pandas as pd
import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from parser.assemble import worksheet_from_text
from scanner.errors import UserError
from scanner.page import Box
from ui import pretty, stack_words, words
from ui.batch import Progress, check_scripts, page_from_json, run_stack
from ui.class_list import class_list, decide_learner, read_class_list, without_script
from ui.class_summary import ClassSummary, SlipSummary, class_summary, crop, slips_for_practice
from ui.components.script_marks import marks_buttons, script_marks
from ui.components.text import escaped, sentence
from ui.guideline import departures, guideline_text, questions_of, set_guideline, set_questions
from ui.look_over import (
    KINDS,
    Doubt,
    decide_expected,
    decide_marks,
    decide_question,
    decide_reading,
    doubts,
    leave,
)
from ui.mark_sheet import MarkSheet, as_csv, as_xlsx, mark_sheet
from ui.phone import guests_door
from ui.practice import answers_pdf, practice_pdf, practice_questions
from ui.print_worksheet import print_worksheet
from ui.printed_sheet import printed_from_json
from ui.records import Records, Stack, data_folder
from ui.report import checked_script, class_pdf, script_pdf
from ui.undoing import Step, take_back
from ui.verdict_looks import LOOKS

TYPES = ("image", "pdf", "zip", "heic", "heif", "tif", "tiff", "webp")
_BAR = "#0b5591"
_MOST_NAMES = 5  # as buttons; the others are in a list
_CROP_HEIGHT, _CROP_WIDTH = 130, 700  # pixels on the screen at most for writing in doubt


def show() -> None:
    """Draw the page."""
    st.title(stack_words.STACK)
    if "told" in st.session_state:
        st.success(st.session_state.pop("told"))
    try:
        records = _records(data_folder())
        stack = _choose(records)
        if stack is not None:
            _show_stack(records, stack)
    except UserError as error:
        st.error(escaped(str(error)))
    st.divider()
    st.markdown(f"{words.CARE} {words.PRIVACY}")


def _show_stack(records: Records, stack: Stack) -> None:
    if any(script.findings is None for script in records.scripts(stack)):
        with st.spinner(stack_words.JUDGING):
            check_scripts(records, stack)
    view = st.segmented_control(
        stack_words.VIEW,
        stack_words.VIEWS,
        default=stack_words.HAND_IN,
        required=True,
        key="view",
        label_visibility="collapsed",
    )
    _undo_button(records, stack)
    _VIEWS[view](records, stack)


def _steps() -> list[Step]:
    """What this tab did to stacks, the latest last."""
    return st.session_state.setdefault("steps", [])


def _decided(stack: Stack) -> None:
    """A decision was recorded; show what comes next."""
    _steps().append(Step(stack.id, "decision"))
    st.rerun()


def _undo_button(records: Records, stack: Stack) -> None:
    can = records.decisions(stack) or any(step.stack == stack.id for step in _steps())
    if can and st.button(stack_words.UNDO, shortcut="U", key="undo"):
        taken = take_back(records, stack, _steps())
        if taken is not None:
            what = stack_words.TAKEN_BACK.get(taken) or pretty.plain(taken) or stack_words.AS_IT_IS
            st.session_state["told"] = escaped(stack_words.UNDONE.format(what=what))
        st.rerun()


@st.cache_resource(show_spinner=False)
def _records(folder: Path) -> Records:
    return Records.open(folder)


def _choose(records: Records) -> Stack | None:
    names = [stack.name for stack in records.stacks()]
    chosen = names[0] if names else stack_words.NEW
    if names:
        chosen = st.selectbox(stack_words.WHICH, [*names, stack_words.NEW], key="stack")
    if chosen != stack_words.NEW:
        return records.stack(chosen)
    st.markdown(stack_words.LEAD)
    with st.form("new"):
        name = st.text_input(stack_words.NAME, placeholder=stack_words.NAME_EXAMPLE)
        if st.form_submit_button(stack_words.NEW) and name.strip():
            records.stack_or_new(name.strip())
            st.session_state.pop("stack", None)
            st.rerun()
    return None


# --- print ------------------------------------------------------------------------------------


def _print(records: Records, stack: Stack) -> None:
    st.markdown(stack_words.PRINT_LEAD)
    with st.form("print"):
        known = printed_from_json(stack.printed).text if stack.printed else ""
        text = st.text_area(stack_words.QUESTIONS, known, placeholder=words.QUESTIONS_EXAMPLE)
        listed = st.file_uploader(
            stack_words.CLASS_LIST, type="csv", help=stack_words.COPIES_HELP, key="print-list"
        )
        make = st.form_submit_button(stack_words.MAKE_SHEET, type="primary")
    if make and text.strip():
        if listed is not None:
            stack = _use_class_list(records, stack, listed)
        copies = [learner.name for learner in class_list(stack.class_list)]
        _, pdf = print_worksheet(records, stack.name, text, copies)
        st.download_button(stack_words.WORKSHEET_PDF, pdf, "worksheet.pdf", on_click="ignore")


def _use_class_list(records: Records, stack: Stack, listed: UploadedFile) -> Stack:
    with tempfile.TemporaryDirectory() as kept:
        path = Path(kept) / Path(listed.name).name
        path.write_bytes(listed.getvalue())
        return records.set_class_list(stack, read_class_list(path))


# --- hand in ----------------------------------------------------------------------------------


def _hand_in(records: Records, stack: Stack) -> None:
    pages = records.pages(stack)
    unfinished = sum(page.state in ("waiting", "flat") for page in pages)
    scripts = records.scripts(stack)
    if scripts:
        checked = sum(script.findings is not None for script in scripts)
        st.markdown(stack_words.STANDS.format(checked=checked, scripts=len(scripts)))
    if unfinished:
        st.warning(stack_words.UNFINISHED.format(count=unfinished))
        if st.button(stack_words.GO_ON):
            _run(records, stack, [], 1)
    with st.form("hand-in"):
        files = st.file_uploader(stack_words.UPLOAD, type=TYPES, accept_multiple_files=True)
        # A phone must not look into the folders of this computer.
        folder = (
            st.text_input(stack_words.FOLDER, help=stack_words.FOLDER_HELP)
            if guests_door() is None
            else ""
        )
        count = st.number_input(stack_words.PAGES, 1, 20, 1)
        listed = st.file_uploader(stack_words.CLASS_LIST, type="csv", key="class-list")
        typed = st.text_area(stack_words.TYPED, placeholder=words.QUESTIONS_EXAMPLE)
        begin = st.form_submit_button(stack_words.CHECK, type="primary")
    if begin and listed is not None:
        stack = _use_class_list(records, stack, listed)
    if begin and not files and not folder.strip():
        st.error(stack_words.NOTHING)
    elif begin:
        if typed.strip():
            _steps().append(Step(stack.id, "worksheet", stack.worksheet))
            stack = set_questions(records, stack, worksheet_from_text(typed))
        _take(records, stack, files, folder.strip(), int(count))
    missing = without_script(records, stack) if scripts else []
    if missing:
        st.markdown(escaped(stack_words.NO_SCRIPT_OF.format(names=", ".join(missing))))
    failed = [page for page in pages if page.state == "failed"]
    if failed:
        st.markdown(f"**{stack_words.FAILED}**")
        for page in failed:
            st.markdown(f"- {escaped(page.source)}: {escaped(page.message or '')}")


def _take(
    records: Records, stack: Stack, files: Sequence[UploadedFile], folder: str, count: int
) -> None:
    sources: list[Path] = []
    if folder:
        sources.append(Path(folder).expanduser())
        if not sources[0].is_dir():
            st.error(escaped(stack_words.NO_FOLDER.format(name=folder)))
            return
    with tempfile.TemporaryDirectory() as kept:
        for index, file in enumerate(files):
            path = Path(kept) / str(index) / Path(file.name).name
            path.parent.mkdir()
            path.write_bytes(file.getvalue())
            sources.append(path)
        _run(records, stack, sources, count)


def _run(records: Records, stack: Stack, sources: Sequence[Path], count: int) -> None:
    bar = st.progress(0.0)

    def tell(progress: Progress) -> None:
        said = stack_words.TELL.format(stage=progress.stage, done=progress.done, of=progress.of)
        if progress.seconds_left is not None:
            minutes, seconds = divmod(round(progress.seconds_left), 60)
            left = f"{minutes} min {seconds} s" if minutes else f"{seconds} s"
            said += stack_words.LEFT.format(left=left)
        bar.progress(min(1.0, progress.share), said)

    outcome = run_stack(records, stack, sources, pages_per_script=count, tell=tell)
    for other in outcome.elsewhere:
        run_stack(records, other, tell=tell)
        st.session_state["told"] = escaped(stack_words.WENT_ELSEWHERE.format(stack=other.name))
    for failure in outcome.failures:
        st.error(escaped(f"{failure.name}: {failure.message}"))
    if not outcome.failures:
        st.rerun()


# --- worksheet --------------------------------------------------------------------------------


def _worksheet(records: Records, stack: Stack) -> None:
    questions = questions_of(records, stack).questions
    if not questions:
        st.markdown(stack_words.NO_WORKSHEET)
        return
    st.subheader(stack_words.UNDERSTOOD)
    for question in questions:
        with st.container(border=True):
            marks = f" ({question.marks})" if question.marks else ""
            st.markdown(f"##### {escaped(words.question_name(question.number))}{marks}")
            stem = "" if question.earlier else question.stem  # shown with the first part
            st.markdown(escaped(pretty.plain(f"{stem} {question.text}".strip())))
            givens = [
                f"{words.given_words(given)} {pretty.plain(given.quantity.text)}"
                for given in question.givens
            ]
            st.markdown(
                f"**{words.HEAD_GIVEN}** {escaped('; '.join(givens) or words.NOTHING_GIVEN)}"
            )
            asked = [words.asked_words(ask) for ask in question.asked]
            st.markdown(
                f"**{words.HEAD_ASKED}** {escaped('; '.join(asked) or words.NOT_UNDERSTOOD)}"
            )
    st.subheader(stack_words.GUIDELINE)
    for departure in departures(records, stack):
        st.warning(escaped(departure))
    with st.form("guideline"):
        text = st.text_area(
            stack_words.GUIDELINE,
            guideline_text(records, stack),
            height=320,
            help=stack_words.GUIDELINE_HELP,
        )
        if st.form_submit_button(stack_words.USE_GUIDELINE):
            changed = set_guideline(records, stack, text)
            _steps().append(Step(stack.id, "guideline", stack.guideline))
            check_scripts(records, changed)
            st.rerun()


# --- look over --------------------------------------------------------------------------------


def _look_over(records: Records, stack: Stack) -> None:
    every = doubts(records, stack)
    later: list[tuple] = st.session_state.setdefault("later", [])
    waiting = sorted(every, key=lambda d: later.index(_key(d)) + 1 if _key(d) in later else 0)
    if not waiting:
        st.markdown(stack_words.NOTHING_OPEN)
        return
    doubt = waiting[0]
    st.subheader(KINDS[doubt.kind])
    whose = stack_words.WHOSE if doubt.question else stack_words.WHOSE_LINE
    name = escaped(whose.format(script=doubt.name, question=doubt.question))
    left = stack_words.LEFT_TO_LOOK.format(count=len(every))
    st.markdown(f"**{name}** &ensp;:gray-badge[{left}]")
    seen, decide = st.columns([3, 2], gap="medium")
    with seen:
        _show_doubt(records, stack, doubt)
    with decide:
        _DECIDE[doubt.kind](records, stack, doubt)
        may_stay = doubt.kind != "unsolved"
        with st.container(horizontal=True):
            if may_stay and st.button(stack_words.AS_IT_IS, shortcut="L", key="leave"):
                leave(records, stack, doubt)
                _decided(stack)
            if len(waiting) > 1 and st.button(stack_words.LATER, shortcut="S", key="later-button"):
                later.append(_key(doubt))
                st.rerun()
        if may_stay:
            st.markdown(stack_words.KEYS)


def _key(doubt: Doubt) -> tuple:
    return (doubt.script, doubt.kind, doubt.question, doubt.line)


def _show_doubt(records: Records, stack: Stack, doubt: Doubt) -> None:
    picture = more = None
    if doubt.box is not None:
        picture = _picture(records, stack, doubt.script, doubt.box, 14)
        more = _picture(records, stack, doubt.script, doubt.box, 300)
    if picture is not None:
        high = _CROP_HEIGHT * picture.shape[1] // picture.shape[0]
        st.image(picture, width=min(_CROP_WIDTH, high), alt=stack_words.HANDWRITING)
    for reason in doubt.why:
        st.markdown(escaped(sentence(reason)))
    if doubt.text:
        st.markdown(escaped(pretty.plain(doubt.text)))
    if more is not None:
        with st.expander(stack_words.MORE):
            st.image(more, width="stretch", alt=stack_words.MORE)


def _picture(
    records: Records, stack: Stack, script: int, box: Box, margin: int
) -> np.ndarray | None:
    """A place on the script, from the page that has a line there, else from its first page."""
    own = [p for p in records.pages(stack) if p.script == script and p.scanned and p.image]
    known = [page_from_json(page.scanned or "") for page in own]
    places = [i for i, page in enumerate(known) if any(line.box == box for line in page.lines)]
    if not own:
        return None
    chosen = own[places[0] if places else 0]
    return page_from_json(chosen.scanned or "", chosen.image).crop(box, margin)


def _decide_reading(records: Records, stack: Stack, doubt: Doubt) -> None:
    st.markdown(f"**{stack_words.MAY_SAY}**")
    for number, reading in enumerate(doubt.readings[:9], 1):
        label = pretty.plain(reading) or words.NOT_READ
        if st.button(f"{number}. {label}", shortcut=str(number), key=f"reading-{number}"):
            decide_reading(records, stack, doubt, reading)
            _decided(stack)
    with st.form(f"other-{_key(doubt)}", border=False):
        first = pretty.typed(doubt.readings[0]) if doubt.readings else ""
        text = st.text_input(stack_words.OTHER, first, help=words.CORRECT_HELP)
        if st.form_submit_button(stack_words.USE) and text.strip():
            decide_reading(records, stack, doubt, text)
            _decided(stack)


def _decide_learner(records: Records, stack: Stack, doubt: Doubt) -> None:
    st.markdown(f"**{stack_words.WHOSE_SCRIPT}**")
    for number, name in enumerate(doubt.readings[:_MOST_NAMES], 1):
        if st.button(f"{number}. {escaped(name)}", shortcut=str(number), key=f"name-{number}"):
            decide_learner(records, doubt.script, name)
            _decided(stack)
    with st.form(f"learner-{doubt.script}", border=False):
        names = [learner.name for learner in class_list(stack.class_list)]
        other = st.selectbox(stack_words.OTHER_LEARNER, names, index=None)
        if st.form_submit_button(stack_words.USE) and other is not None:
            decide_learner(records, doubt.script, other)
            _decided(stack)


def _decide_place(records: Records, stack: Stack, doubt: Doubt) -> None:
    if doubt.readings:
        st.markdown(escaped(pretty.plain(doubt.readings[0])))
    st.markdown(f"**{stack_words.WHICH_QUESTION}**")
    with st.container(horizontal=True):
        for number, question in enumerate(questions_of(records, stack).questions, 1):
            key = str(number) if number <= 9 else None
            if st.button(words.question_name(question.number), shortcut=key, key=f"place-{number}"):
                decide_question(records, stack, doubt, question.number)
                _decided(stack)


def _decide_marks(records: Records, stack: Stack, doubt: Doubt) -> None:
    if doubt.suggested is not None and doubt.of is not None:
        said = stack_words.SUGGESTED.format(suggested=doubt.suggested, of=doubt.of)
        st.markdown(f"**{stack_words.GIVE}** {said}")

    def give(marks: int) -> None:
        decide_marks(records, doubt, marks)
        _decided(stack)

    marks_buttons(doubt.of or 0, None, give, f"marks-{_key(doubt)}", by_keys=True)


def _decide_expected(records: Records, stack: Stack, doubt: Doubt) -> None:
    asked = next(
        (q.asked for q in questions_of(records, stack).questions if q.number == doubt.question), ()
    )
    with st.form(f"expected-{_key(doubt)}", border=False):
        labels = [f"{stack_words.EXPECTED}: {words.asked_words(ask)}" for ask in asked]
        texts = [
            st.text_input(label, key=f"expected-{_key(doubt)}-{place}")
            for place, label in enumerate(labels if len(labels) > 1 else [stack_words.EXPECTED])
        ]
        if st.form_submit_button(stack_words.USE_FOR_ALL) and all(t.strip() for t in texts):
            decide_expected(records, stack, doubt.question, texts)
            _steps().append(Step(stack.id, "worksheet", stack.worksheet))
            st.rerun()


def _decide_nothing(records: Records, stack: Stack, doubt: Doubt) -> None:
    """A photo that could not be used can only be taken again."""


_DECIDE = {
    "learner": _decide_learner,
    "reading": _decide_reading,
    "place": _decide_place,
    "marks": _decide_marks,
    "unsolved": _decide_expected,
    "photo": _decide_nothing,
}


# --- marks ------------------------------------------------------------------------------------


def _marks(records: Records, stack: Stack) -> None:
    sheet = mark_sheet(records, stack)
    if not sheet.rows:
        st.markdown(stack_words.NOTHING_HANDED_IN)
        return
    picked = st.dataframe(
        _table(sheet),
        hide_index=True,
        placeholder=stack_words.LOOK_FIRST,
        on_select="rerun",
        selection_mode="single-cell",
        key="marks-table",
    )
    st.markdown(stack_words.EMPTY_MARK)
    with st.container(horizontal=True):
        csv = as_csv(sheet).encode("utf-8-sig")
        st.download_button(stack_words.CSV, csv, "marks.csv", "text/csv", on_click="ignore")
        st.download_button(stack_words.XLSX, as_xlsx(sheet), "marks.xlsx", on_click="ignore")
        if st.button(stack_words.MAKE_REPORTS):
            packed = _reports(records, stack)
            st.download_button(stack_words.REPORTS, packed, "scripts.zip", on_click="ignore")
    cells = picked.selection.cells
    if cells and cells != st.session_state.get("cells"):
        st.session_state["script"] = cells[0][0]
    st.session_state["cells"] = cells
    _one_script(records, stack, sheet)


def _table(sheet: MarkSheet) -> pd.DataFrame:
    rows = []
    for row in sheet.rows:
        shown: dict[str, object] = {"Script": row.script}
        if sheet.with_learners:
            shown["Learner"] = row.learner.name if row.learner else None
        for number, of in sheet.questions:
            mark = row.mark(number)
            title = f"{number or words.THE_QUESTION} ({of})" if of else number
            shown[title] = mark.value if mark else None
            look = f"{LOOKS[mark.verdict].sign} {words.VERDICT[mark.verdict]}" if mark else ""
            shown[f"{number} verdict"] = look
        rows.append({**shown, "Total": row.total, "Out of": row.of, "To look at": row.to_look_at})
    return pd.DataFrame(rows)


def _one_script(records: Records, stack: Stack, sheet: MarkSheet) -> None:
    """The marks of one script, each beside its handwriting, and changed there."""
    st.subheader(stack_words.ONE_OF_THEM)
    place = st.selectbox(
        stack_words.WHOSE_MARKS,
        range(len(sheet.rows)),
        format_func=lambda index: sheet.rows[index].script,
        key="script",
    )
    script = records.scripts(stack)[place]
    sheets = checked_script(records, stack, script)
    if not sheets:
        st.markdown(stack_words.NOT_CHECKED)
        return

    def give(number: str, marks: int) -> None:
        decide_marks(records, Doubt("marks", script.id, script.name, number, ()), marks)
        _decided(stack)

    script_marks(sheets, sheet.rows[place], give)


def _reports(records: Records, stack: Stack) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for script in records.scripts(stack):
            safe = "".join(c if c.isalnum() or c in " -_" else "-" for c in script.name)
            packed.writestr(f"{safe}-{script.id}.pdf", script_pdf(records, stack, script))
    return stream.getvalue()


# --- class ------------------------------------------------------------------------------------


def _class(records: Records, stack: Stack) -> None:
    summary = class_summary(records, stack)
    st.subheader(stack_words.TEACH)
    if summary.to_look_at:
        st.markdown(stack_words.NOT_COUNTED.format(count=summary.to_look_at))
    if not summary.slips:
        st.markdown(stack_words.NO_SLIP)
    for slip in summary.slips:
        _slip(records, stack, slip, summary.scripts)
    left, right = st.columns(2)
    with left:
        st.subheader(stack_words.SUCCESS)
        st.altair_chart(_success(summary))
    with right:
        st.subheader(stack_words.SPREAD)
        if summary.totals:
            st.altair_chart(_spread(summary))
        else:
            st.markdown(stack_words.NO_TOTALS)
    pdf = class_pdf(records, stack, summary)
    st.download_button(stack_words.CLASS_PDF, pdf, "class-summary.pdf", on_click="ignore")


def _slip(records: Records, stack: Stack, slip: SlipSummary, scripts: int) -> None:
    where = ", ".join(number for number, _ in slip.questions)
    name = slip.name.replace("-", " ")
    said = stack_words.SLIP.format(name=name, count=slip.count, of=scripts, where=where)
    with st.container(border=True):
        st.markdown(f"**{escaped(said)}**  \n{escaped(slip.explanation)}")
        for script, box in slip.places:
            picture = crop(records, stack, script, box)
            if picture is not None:
                st.image(picture, alt=f"{stack_words.HANDWRITING}: {name}")


def _success(summary: ClassSummary) -> alt.Chart:
    rows = [
        {"question": words.question_name(q.number), "earned": q.success}
        for q in summary.questions
        if q.success is not None
    ]
    earned = alt.X(
        "earned:Q", axis=alt.Axis(format="%"), scale=alt.Scale(domain=[0, 1]), title=None
    )
    return (
        alt.Chart(pd.DataFrame(rows, columns=["question", "earned"]))
        .mark_bar(color=_BAR)
        .encode(x=earned, y=alt.Y("question:N", sort=None, title=None))
    )


def _spread(summary: ClassSummary) -> alt.Chart:
    rows = [
        {"marks": marks, "scripts": summary.totals.count(marks)} for marks in range(summary.of + 1)
    ]
    return (
        alt.Chart(pd.DataFrame(rows, columns=["marks", "scripts"]))
        .mark_bar(color=_BAR)
        .encode(x="marks:O", y=alt.Y("scripts:Q", axis=alt.Axis(tickMinStep=1)))
    )


# --- practise and delete ------------------------------------------------------------------------


def _practise(records: Records, stack: Stack) -> None:
    names = [script.name for script in records.scripts(stack)]
    with st.form("practise"):
        whom = st.selectbox(stack_words.FOR_WHOM, [stack_words.WHOLE_CLASS, *names])
        count = st.number_input(stack_words.COUNT, 1, 20, 6)
        seed = st.number_input(stack_words.SEED, 1, 999, 1, help=stack_words.SEED_HELP)
        make = st.form_submit_button(stack_words.MAKE)
    if make:
        only = None if whom == stack_words.WHOLE_CLASS else whom
        slips = slips_for_practice(records, stack, only)
        made = practice_questions(questions_of(records, stack), slips, int(count), int(seed))
        for question in made:
            st.markdown(escaped(pretty.plain(question.text)))
        with st.container(horizontal=True):
            st.download_button(
                stack_words.SHEET_PDF, practice_pdf(made), "practice.pdf", on_click="ignore"
            )
            st.download_button(
                stack_words.ANSWERS_PDF, answers_pdf(made), "answers.pdf", on_click="ignore"
            )


def _delete(records: Records, stack: Stack) -> None:
    st.markdown(stack_words.DELETE_LEAD)
    with st.form("delete"):
        name = st.text_input(stack_words.DELETE_NAME)
        now = st.form_submit_button(stack_words.DELETE_NOW)
    if now and name.strip() != stack.name:
        st.error(stack_words.OTHER_NAME)
    elif now:
        records.delete(stack)
        st.session_state.pop("stack", None)
        st.session_state["told"] = escaped(stack_words.DELETED.format(name=stack.name))
        st.rerun()


_VIEWS = {
    stack_words.PRINT: _print,
    stack_words.HAND_IN: _hand_in,
    stack_words.WORKSHEET: _worksheet,
    stack_words.LOOK_OVER: _look_over,
    stack_words.MARKS: _marks,
    stack_words.CLASS: _class,
    stack_words.PRACTISE: _practise,
    stack_words.DELETE: _delete,
}
