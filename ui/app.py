"""The Streamlit app: set up the page, then hand over to the chosen screen."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import setting_words, stack_words, tour_words, words
from ui.phone import guests_door
from ui.screens import door, one_script, settings, stack, tour
from ui.settings import TEXT_SIZES, load_settings

_STYLE = Path(__file__).parent / "app.css"


def main() -> None:
    st.set_page_config(page_title=words.APP, layout="wide")
    st.html(_STYLE)
    size = TEXT_SIZES[load_settings().text_size]
    st.html(f"<style>html {{ font-size: {size}px !important; }}</style>")
    if (guests := guests_door()) is not None and not door.show(guests):
        return
    script = st.Page(one_script.show, title=words.ONE_SCRIPT, url_path="one-script", default=True)
    scripts = st.Page(stack.show, title=stack_words.STACK, url_path="stack")
    tours = st.Page(tour.show, title=tour_words.TOUR, url_path="tour")
    set_up = st.Page(settings.show, title=setting_words.SETTINGS, url_path="settings")
    st.session_state[tour.WAYS] = {"script": script, "stack": scripts, "tour": tours}
    st.navigation([script, scripts, tours, set_up], position="top").run()


if __name__ == "__main__":
    main()
