"""The page with a typed sheet already checked, for the browser tests; nothing is read."""

import os
import tempfile

import streamlit as st

from scanner.errors import ExitCode
from tests.ui.typed_sheet import PUT_RIGHT, typed_sheet
from ui.app import main
from ui.checked import CheckedSheets, FailedFile
from ui.records import DATA_FOLDER_VARIABLE
from ui.screens import one_script


@st.cache_resource
def _data() -> str:
    return tempfile.mkdtemp()


os.environ[DATA_FOLDER_VARIABLE] = _data()
if "begun" not in st.session_state:
    failure = FailedFile("<b>notes</b>.txt", "This file is not an image.", ExitCode.BAD_INPUT)
    st.session_state["work"] = one_script.Work(CheckedSheets((typed_sheet(),), (failure,)))
    st.session_state["begun"] = True
one_script.check_files = lambda *_, **__: CheckedSheets((typed_sheet(PUT_RIGHT),))

main()
