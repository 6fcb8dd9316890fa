"""The Streamlit app: set up the page, then hand over to the chosen screen."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import stack_words, words
from ui.screens import one_script, stack

_STYLE = Path(__file__).parent / "app.css"


def main() -> None:
    st.set_page_config(page_title=words.APP, layout="wide")
    st.html(_STYLE)
    screens = [
        st.Page(one_script.show, title=words.ONE_SCRIPT, url_path="one-script", default=True),
        st.Page(stack.show, title=stack_words.STACK, url_path="stack"),
    ]
    st.navigation(screens, position="top").run()


if __name__ == "__main__":
    main()
