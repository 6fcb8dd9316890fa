"""A question once more with fresh numbers: typed working, judged, help a step at a time."""

from __future__ import annotations

import random
import re
from dataclasses import dataclass, field

import streamlit as st

from parser.worksheet import Question, Worksheet
from scanner.errors import UserError
from solver.findings import QuestionFindings, Verdict
from solver.verdicts import Rules
from ui import pretty, words
from ui.components.help import Ladder, help_ladder
from ui.components.text import badge, escaped
from ui.findings_words import HelpStep
from ui.fresh import fresh_question, judged
from ui.practice import PracticeQuestion
from ui.settings import DecimalMark

_KEY = "trying"
_LIST_NUMBER = re.compile(r"^(\d+)\.")  # Markdown would make a list of it
_SEEDS = 10**6


@dataclass
class Trial:
    """What this tab is trying: the fresh question, what came of it, how far help is unfolded."""

    fresh: PracticeQuestion
    found: tuple[QuestionFindings, ...] = ()
    reached: dict[int, HelpStep] = field(default_factory=dict)
    turn: int = 0


def begin() -> None:
    """Forget the trial before, so that the next one starts with other numbers."""
    st.session_state.pop(_KEY, None)


@st.dialog(words.TRY_HEAD, width="large")
def try_again(worksheet: Worksheet, question: Question, rules: Rules, mark: DecimalMark) -> None:
    """Set the question again and judge what is typed."""
    try:
        trial = st.session_state.get(_KEY) or _new_trial(worksheet, question)
    except UserError:
        st.markdown(words.TRY_NONE)
        return
    lines = [escaped(pretty.plain(line)) for line in trial.fresh.text.split("\n")]
    st.markdown("  \n".join(_LIST_NUMBER.sub(r"\1&#46;", line) for line in lines))
    with st.form(f"try-{trial.turn}", border=False):
        several = len(trial.fresh.findings) > 1
        typed = [
            st.text_area(
                words.TRY_PART.format(number=part.question.number) if several else words.TRY_TYPE,
                help=words.CORRECT_HELP,
                height=100,
                key=f"try-{trial.turn}-{place}",
            )
            for place, part in enumerate(trial.fresh.findings)
        ]
        if st.form_submit_button(words.TRY_CHECK, type="primary"):
            trial.found = judged(trial.fresh, typed, worksheet, rules)
            trial.reached.clear()
    for place, found in enumerate(trial.found):
        if found.verdict is not Verdict.BLANK:
            _outcome(trial, place, found, mark)
    if st.button(words.TRY_OTHER):
        st.session_state[_KEY] = _new_trial(worksheet, question, trial.turn + 1)
        st.rerun(scope="fragment")


def _new_trial(worksheet: Worksheet, question: Question, turn: int = 0) -> Trial:
    trial = Trial(fresh_question(worksheet, question, random.randrange(_SEEDS)), turn=turn)
    st.session_state[_KEY] = trial
    return trial


def _outcome(trial: Trial, place: int, found: QuestionFindings, mark: DecimalMark) -> None:
    def reach(step: HelpStep) -> None:
        trial.reached[place] = step
        st.rerun(scope="fragment")

    with st.container(border=True, gap="xsmall"):
        name = escaped(words.question_name(found.question.number))
        st.markdown(f"**{name}** &ensp;{badge(found.verdict)}")
        ladder = Ladder(trial.reached.get(place, HelpStep.WHERE), reach)
        help_ladder(found, ladder, f"try-{place}", mark)
