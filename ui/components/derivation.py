"""Expected results and how to get there, step by step."""

from __future__ import annotations

import streamlit as st

from solver.findings import Derivation, Expected, QuestionFindings
from ui import pretty, words
from ui.components.text import escaped, sentence, with_decimal_mark
from ui.findings_words import expected_line
from ui.settings import DecimalMark


def expected_results(found: QuestionFindings, mark: DecimalMark) -> None:
    """Each expected result of a question with its derivation, numbers with this decimal mark."""
    for place, expected in enumerate(found.expected):
        _one_expected(found, place, expected, mark)


def _one_expected(
    found: QuestionFindings, place: int, expected: Expected, mark: DecimalMark
) -> None:
    said = with_decimal_mark(expected_line(found, place, expected), mark)
    st.markdown(f"**{escaped(said)}**")
    if expected.derivation:
        _derivation(expected.derivation, mark)


def _derivation(derivation: Derivation, mark: DecimalMark) -> None:
    for number, step in enumerate(derivation.steps, 1):
        text = sentence(step.sentence) if step.sentence else step.law
        st.markdown(f"{number}. {escaped(with_decimal_mark(text, mark))}")
        rearranged = pretty.rearranged_latex(step)
        _formula(pretty.law_latex(step), mark)
        if rearranged:
            _formula(rearranged, mark)
        if step.inputs:
            put_in = ", ".join(
                f"${with_decimal_mark(piece, mark, latex=True)}$"
                for piece in pretty.inputs_latex(step)
            )
            st.markdown(f"{words.WITH} {put_in}:")
            _formula(pretty.substitution_latex(step), mark)
        direction = f", {pretty.direction_words(step.direction)}" if step.direction else ""
        result = with_decimal_mark(pretty.result_latex(step), mark, latex=True)
        st.markdown(f"${result}${escaped(direction)}")


def _formula(latex: str, mark: DecimalMark) -> None:
    """A formula that may break over lines: a box that scrolls cannot be reached by keyboard."""
    st.markdown(rf"&emsp;$\displaystyle {with_decimal_mark(latex, mark, latex=True)}$")
