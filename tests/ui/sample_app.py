"""The page with the hand-made sheet already checked, for the browser tests."""

import streamlit as st

from tests.ui.samples import sample_sheet
from ui.app import main
from ui.checked import CheckedSheets, FailedFile
from ui.screens.one_script import Work

if "begun" not in st.session_state:
    from scanner.errors import ExitCode

    failure = FailedFile("<b>notes</b>.txt", "This file is not an image.", ExitCode.BAD_INPUT)
    st.session_state["work"] = Work(CheckedSheets((sample_sheet(),), (failure,)))
    st.session_state["begun"] = True

main()
