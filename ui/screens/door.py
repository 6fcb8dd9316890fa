"""What a phone sees before the one-time password was given."""

from __future__ import annotations

import streamlit as st

from ui import setting_words as said
from ui.phone import PASSWORD_FIELD, Door

_PASS_FIELD = "pass"


def show(door: Door) -> bool:
    """True when this phone was let in; else ask for the password."""
    if door.knows(known := _pass()):
        st.session_state[_PASS_FIELD] = known
        st.query_params[_PASS_FIELD] = known  # so that the phone may load the page again
        return True
    from_code = st.query_params.pop(PASSWORD_FIELD, "")
    if from_code and _let_in(door, from_code):
        st.rerun()
    with st.container(key="narrow"):
        st.title(said.DOOR)
        if door.is_locked:
            st.error(said.PHONE_LOCKED)
            return False
        st.markdown(said.DOOR_LEAD)
        with st.form("door"):
            typed = st.text_input(said.DOOR_PASSWORD, autocomplete="one-time-code")
            tried = st.form_submit_button(said.DOOR_OPEN, type="primary")
        if tried and _let_in(door, typed):
            st.rerun()
        if tried or from_code:
            st.error(said.PHONE_LOCKED if door.is_locked else said.DOOR_WRONG)
    return False


def _pass() -> str:
    return str(st.session_state.get(_PASS_FIELD) or st.query_params.get(_PASS_FIELD, ""))


def _let_in(door: Door, password: str) -> bool:
    given = door.open(password)
    if given is not None:
        st.session_state[_PASS_FIELD] = given
    return given is not None
