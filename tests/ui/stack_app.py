"""The stack's screen over a small stack that is already checked, for the browser tests."""

import os
import tempfile
from pathlib import Path

import streamlit as st

from tests.ui.stacks import stack_with_scripts
from ui.records import DATA_FOLDER_VARIABLE
from ui.screens import stack


@st.cache_resource
def _data() -> str:
    folder = tempfile.mkdtemp()
    stack_with_scripts(Path(folder))[0].close()
    return folder


os.environ[DATA_FOLDER_VARIABLE] = _data()
st.set_page_config(page_title="Stack", layout="wide")
stack.show()
