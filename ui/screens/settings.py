"""Settings: looks, help, how answers are judged, the switch for a phone, what is kept where."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from scanner.errors import UserError
from ui import setting_words as said
from ui.components.text import escaped
from ui.phone import PhoneAccess, guests_door, qr_code
from ui.records import Records, data_folder
from ui.settings import Settings, load_settings, save_settings

_LOOK_AGAIN = 2  # seconds between looks whether a phone came in


def show() -> None:
    """Draw the page."""
    with st.container(key="narrow"):
        st.title(said.SETTINGS)
        st.markdown(said.LEAD)
        try:
            settings = load_settings()
            _look(settings)
            _help(settings)
            _rules(settings)
            _phone()
        except UserError as error:
            st.error(escaped(str(error)))
        st.subheader(said.KEPT_WHERE)
        st.markdown(f"{said.KEPT_STACKS} {escaped(str(data_folder()))}")
        st.markdown(said.KEPT_SCRIPT)


def _keep(settings: Settings, **changed: object) -> None:
    new = replace(settings, **changed)  # type: ignore[arg-type]
    if new != settings:
        save_settings(new)
        st.rerun()


def _look(settings: Settings) -> None:
    st.subheader(said.LOOK)
    size = st.segmented_control(
        said.TEXT_SIZE,
        list(said.TEXT_SIZES),
        default=settings.text_size,
        format_func=lambda one: said.TEXT_SIZES[one],
        required=True,
        key="text-size",
    )
    marks = list(said.DECIMALS)
    mark = st.radio(
        said.DECIMAL,
        marks,
        index=marks.index(settings.decimal_mark),
        horizontal=True,
        format_func=lambda one: said.DECIMALS[one],
        key="decimal-mark",
    )
    st.markdown(said.THEME)
    _keep(settings, text_size=size, decimal_mark=mark)


def _help(settings: Settings) -> None:
    st.subheader(said.HELP)
    steps = st.toggle(said.STEP_BY_STEP, settings.step_by_step, key="step-by-step")
    marks = st.toggle(said.SHOW_MARKS, settings.show_marks, key="show-marks")
    _keep(settings, step_by_step=steps, show_marks=marks)


def _rules(settings: Settings) -> None:
    st.subheader(said.RULES)
    st.markdown(said.RULES_CARE)
    with st.form("rules"):
        percent = st.number_input(said.PERCENT, 0.1, 20.0, settings.percent, 0.5, format="%.1f")
        switches = {
            "unit_owed": st.checkbox(said.UNIT_OWED, settings.unit_owed),
            "direction_owed": st.checkbox(said.DIRECTION_OWED, settings.direction_owed),
            "asked_unit_owed": st.checkbox(said.ASKED_UNIT_OWED, settings.asked_unit_owed),
            "minus_on_magnitude_agrees": st.checkbox(
                said.MINUS_AGREES, settings.minus_on_magnitude_agrees
            ),
            "carry_within_question": st.checkbox(said.CARRY, settings.carry_within_question),
        }
        keep = st.form_submit_button(said.KEEP, type="primary")
    if keep:
        _judge_by(settings, replace(settings, percent=percent, **switches))  # type: ignore[arg-type]
    usual = Settings()
    if settings.rules != usual.rules and st.button(said.USUAL):
        _judge_by(
            settings,
            replace(
                usual,
                step_by_step=settings.step_by_step,
                show_marks=settings.show_marks,
                text_size=settings.text_size,
                decimal_mark=settings.decimal_mark,
            ),
        )
    if st.session_state.pop("kept", False):
        st.success(said.KEPT)


def _judge_by(before: Settings, after: Settings) -> None:
    """Keep the rules; every stack is judged again by them when it is opened next."""
    save_settings(after)
    if after.rules != before.rules:
        records = Records.open(data_folder())
        for stack in records.stacks():
            records.forget_findings(stack)
        records.close()
    st.session_state["kept"] = True
    st.rerun()


# --- a phone ------------------------------------------------------------------------------


@st.cache_resource(show_spinner=False)
def _access() -> PhoneAccess:
    return PhoneAccess()


def _phone() -> None:
    st.subheader(said.PHONE)
    if guests_door() is not None:
        st.markdown(said.PHONE_HERE)
        return
    st.markdown(said.PHONE_LEAD)
    access = _access()
    wanted = st.toggle(said.PHONE_ON, access.is_on, key="let-a-phone-in")
    if wanted and not access.is_on:
        with st.spinner(said.PHONE_STARTING):
            access.switch_on()
    elif access.is_on and not wanted:
        access.switch_off()
    if access.is_on:
        _invitation()


@st.fragment(run_every=_LOOK_AGAIN)
def _invitation() -> None:
    access = _access()
    if access.door is None:
        return
    if access.door.is_locked:
        st.error(said.PHONE_LOCKED)
        return
    password = access.door.password
    with st.container(border=True):
        st.markdown(f"**{said.PHONE_CODE}**")
        st.image(qr_code(access.address_with_password), alt=said.PHONE_CODE)
        st.markdown(said.PHONE_TYPE)
        st.markdown(f"**{escaped(access.address)}**")
        st.markdown(f"**{password[:4]} {password[4:]}**")
        st.markdown(said.PHONE_ONCE)
        if access.door.opened:
            st.markdown(said.PHONE_COUNT.format(count=access.door.opened))
