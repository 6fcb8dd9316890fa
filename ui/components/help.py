"""Help that unfolds only as far as it is asked for: where, a hint, what went wrong, how it goes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import streamlit as st

from solver.findings import QuestionFindings, Verdict
from ui import words
from ui.components.derivation import expected_results
from ui.components.text import escaped, sentence, with_decimal_mark
from ui.findings_words import HelpStep, help_words
from ui.settings import DecimalMark


@dataclass(frozen=True)
class Ladder:
    """How far the help for one question is unfolded, and what to do when more is asked for."""

    reached: HelpStep
    reach: Callable[[HelpStep], None]


def help_ladder(found: QuestionFindings, ladder: Ladder, key: str, mark: DecimalMark) -> None:
    """Draw the help reached so far and a button for the next step."""
    said = help_words(found)
    for step, sentences in said.items():
        if step <= ladder.reached:
            _step(found, step, sentences, f"why-{key}-{int(step)}", mark)
    solved = bool(found.expected)
    if solved and ladder.reached >= HelpStep.HOW:
        with st.container(gap="xsmall", key=f"how-{key}"):
            st.markdown(f"**{words.HELP_HEADS[HelpStep.HOW]}**")
            expected_results(found, mark)
        return
    left = [step for step in HelpStep if step > ladder.reached and (step in said)]
    following = left[0] if left else HelpStep.HOW
    if (left or solved) and st.button(words.HELP_NEXT[following], key=f"help-{key}"):
        ladder.reach(following)


def _step(
    found: QuestionFindings,
    step: HelpStep,
    sentences: tuple[str, ...],
    key: str,
    mark: DecimalMark,
) -> None:
    with st.container(gap=None, key=key):
        text = "  \n".join(escaped(with_decimal_mark(sentence(one), mark)) for one in sentences)
        st.markdown(f"**{_head(found.verdict, step)}**  \n{text}")


def _head(verdict: Verdict, step: HelpStep) -> str:
    """Where nothing breaks, the first step is not a place but a reason."""
    breaks = verdict is Verdict.DIFFERS
    if step is HelpStep.HINT or breaks or (step, verdict) == (HelpStep.WHERE, Verdict.INCOMPLETE):
        return words.HELP_HEADS[step]
    return words.WHY[verdict]
