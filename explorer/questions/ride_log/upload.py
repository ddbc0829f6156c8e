"""Where a ride log is opened, tried or let go of."""

from __future__ import annotations

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from explorer.questions.ride_log import words
from explorer.questions.ride_log.demo_ride import NAME, demo_csv
from explorer.questions.ride_log.source import KEY, LARGEST_MB, Source, take_demo
from explorer.state.state import current


def choose(source: Source) -> None:
    """The upload and the demo log, or the log that is held and a way to let go of it."""
    if source.data is not None:
        _held(source)
    else:
        _offered(source)
    st.caption(words.PRIVACY)


def _held(source: Source) -> None:
    with st.container(horizontal=True, vertical_alignment="center", key=f"{KEY}_held"):
        st.text(source.name, width="stretch")
        st.button(words.FORGET, icon=":material/delete:", on_click=source.forget, key=f"{KEY}_forget")
    if source.demo:
        st.info(words.INVENTED, icon=":material/science:")


def _offered(source: Source) -> None:
    key, preset = f"{KEY}_upload", current().preset

    def uploaded() -> None:
        file = st.session_state.get(key)
        if isinstance(file, UploadedFile):  # one that the server has let go of is none
            source.hold(file.getvalue(), file.name)

    st.file_uploader(words.UPLOAD, key=key, on_change=uploaded, max_upload_size=LARGEST_MB)
    with st.container(horizontal=True, key=f"{KEY}_demo"):
        st.button(words.TAKE_DEMO, icon=":material/science:", on_click=take_demo, key=f"{KEY}_take")
        st.download_button(
            words.SAVE_DEMO,
            lambda: demo_csv(preset),
            NAME,
            "text/csv",
            icon=":material/download:",
            on_click="ignore",
            key=f"{KEY}_download_demo",
        )
