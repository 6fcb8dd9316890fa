"""A short tour for each of the two people who use the page."""

from __future__ import annotations

import streamlit as st

from ui import tour_words as said
from ui import words

WAYS = "ways"
"""Where the session keeps the pages that others lead to, by name."""


def offer() -> None:
    """A button that leads here."""
    if st.button(said.OFFER, type="tertiary"):
        st.switch_page(st.session_state[WAYS]["tour"])


def show() -> None:
    """Draw the page."""
    with st.container(key="narrow"):
        st.title(said.TOUR)
        st.markdown(said.LEAD)
        who = st.segmented_control(
            said.WHO, (said.FOR_LEARNER, said.FOR_TEACHER), default=said.FOR_LEARNER, required=True
        )
        learner = who == said.FOR_LEARNER
        for number, (head, text) in enumerate(said.LEARNER if learner else said.TEACHER, 1):
            st.markdown(f"**{number}.&ensp;{head}**  \n{text}")
        go = said.GO_LEARNER if learner else said.GO_TEACHER
        if st.button(go, type="primary"):
            st.switch_page(st.session_state[WAYS]["script" if learner else "stack"])
        st.divider()
        st.markdown(f"{words.CARE} {words.PRIVACY}")
