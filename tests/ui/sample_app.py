"""The page with a typed sheet already checked, for the browser tests."""

import streamlit as st

from scanner.errors import ExitCode
from tests.ui.typed_sheet import typed_sheet
from ui.app import main
from ui.checked import CheckedSheets, FailedFile
from ui.screens.one_script import Work

if "begun" not in st.session_state:
    failure = FailedFile("<b>notes</b>.txt", "This file is not an image.", ExitCode.BAD_INPUT)
    st.session_state["work"] = Work(CheckedSheets((typed_sheet(),), (failure,)))
    st.session_state["begun"] = True

main()
