"""The app over a small stack that is already checked, for the browser tests; see /stack."""

import os
import tempfile
from pathlib import Path

import streamlit as st

from tests.ui.stacks import stack_with_scripts
from ui.app import main
from ui.records import DATA_FOLDER_VARIABLE


@st.cache_resource
def _data() -> str:
    folder = tempfile.mkdtemp()
    stack_with_scripts(Path(folder))[0].close()
    return folder


os.environ[DATA_FOLDER_VARIABLE] = _data()
main()
