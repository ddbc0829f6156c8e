"""The thin bar at the top: which build, units, the way back, keeping and sharing."""

from __future__ import annotations

from collections.abc import MutableMapping
from functools import partial
from typing import Any

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from explorer.frame import provenance
from explorer.frame.sidebar import setting
from explorer.inputs.presets import PRESETS, STARTS
from explorer.page import words, words_of_keeping
from explorer.state import build_files, share_link
from explorer.state.names import LONGEST_NAME, as_file_name
from explorer.state.offers import OFFERS
from explorer.state.state import MOST_BUILDS, State, whole_link

_SENTENCES = "keep:sentences"
_UPLOADS = "keep:uploads"
_UPLOAD_MEGABYTES = 1


def draw(state: State) -> None:
    """The bar, and under it what a link held that could not be used."""
    with st.container(horizontal=True, vertical_alignment="center", gap="small", key="bar"):
        st.title(words.TITLE, anchor=False, width="content")
        _switch(state)
        _start(state)
        with st.container(
            horizontal=True, horizontal_alignment="right", vertical_alignment="center", gap="small", key="bar_end"
        ):
            setting(state, "units", "Units", ("metric", "US"), collapsed=True)
            st.button(
                "Undo",
                icon=":material/undo:",
                on_click=state.undo,
                disabled=not state.past,
                key="undo",
                type="tertiary",
            )
            st.button(
                "Reset",
                icon=":material/restart_alt:",
                on_click=state.reset,
                key="reset",
                disabled=not state.can_reset,
                type="tertiary",
                help="Back to the build you started from.",
            )
            keep_and_share(state)
        provenance.bar(state)
    for note in state.notes:
        st.info(note, icon=":material/link_off:")


def _switch(state: State) -> None:
    """Which build the page edits; nothing while there is only one."""
    if len(state.builds) > 1:
        key = "keep:build"
        st.session_state[key] = state.name
        st.selectbox(
            "Build",
            list(state.builds),
            key=key,
            on_change=lambda: state.edit(st.session_state[key]),
            label_visibility="collapsed",
            width=200,
        )


def _start(state: State) -> None:
    """The build it started from."""
    key = "in:preset"
    if st.session_state.get(key) != state.preset:
        st.session_state[key] = state.preset
    st.selectbox(
        "Start from",
        list(dict.fromkeys([*PRESETS, state.preset])),
        format_func=lambda name: STARTS[name].name,
        key=key,
        on_change=lambda: state.use_preset(st.session_state[key]),
        label_visibility="collapsed",
        width=270,
    )


def keep_and_share(state: State) -> None:
    """Name, copies, files and the link, one tap away."""
    popover = st.popover(
        "Keep and share", icon=":material/save:", key="group_keep", type="tertiary", on_change="rerun"
    )
    if not popover.open:
        return
    with popover:
        st.caption(STARTS[state.preset].story)
        _named(state)
        _copies(state)
        _saved(state)
        _opened(state)
        st.caption(words_of_keeping.LINK)
        st.code(share_link.address(whole_link(state), st.context.url), language=None, wrap_lines=True, height=110)


def _named(state: State) -> None:
    key = "keep:name"
    st.session_state[key] = state.name
    st.text_input(
        "Name of this build", key=key, max_chars=LONGEST_NAME, on_change=lambda: state.rename(st.session_state[key])
    )


def _copies(state: State) -> None:
    with st.container(horizontal=True, gap="small", key="keep_copies"):
        st.button(
            "Duplicate and edit",
            icon=":material/content_copy:",
            key="keep:add",
            on_click=state.add,
            args=(state.name,),
            disabled=state.full,
            help=words_of_keeping.COPY,
        )
        st.button(
            "Remove",
            icon=":material/delete:",
            key="keep:remove",
            on_click=state.remove,
            disabled=len(state.builds) < 2,
            help=words_of_keeping.REMOVE,
        )
    if state.full:
        st.caption(f"There is room for {MOST_BUILDS} builds.")


def _saved(state: State) -> None:
    mine, packs = {state.name: state.values}, st.session_state.get(OFFERS, {})
    with st.container(horizontal=True, gap="small", key="keep_files"):
        st.download_button(
            "Save this build",
            partial(build_files.as_json, mine, packs),
            f"{as_file_name(state.name)}.json",
            "application/json",
            key="keep:save",
            on_click="ignore",
            icon=":material/download:",
        )
        if len(state.builds) > 1:
            st.download_button(
                f"Save all {len(state.builds)}",
                partial(build_files.as_json, dict(state.builds), packs),
                "builds.json",
                "application/json",
                key="keep:save_all",
                on_click="ignore",
                icon=":material/download:",
            )


def _opened(state: State) -> None:
    count = st.session_state.setdefault(_UPLOADS, 0)
    key = f"keep:open:{count}"

    def arrived() -> None:
        file = st.session_state[key]
        if isinstance(file, UploadedFile):  # one that the server has let go of is none
            st.session_state[_SENTENCES] = take_in(state, file.getvalue(), st.session_state)
            st.session_state[_UPLOADS] = count + 1  # an empty box again

    st.file_uploader(
        "Open saved builds",
        ["json"],
        key=key,
        on_change=arrived,
        max_upload_size=_UPLOAD_MEGABYTES,
        help=words_of_keeping.OPEN,
    )
    for sentence in st.session_state.get(_SENTENCES, []):
        st.text(sentence)


def take_in(state: State, data: bytes, session: MutableMapping[Any, Any] | None = None) -> list[str]:
    """Put the builds of a file beside those that are there, its packs into the session; what to say of it."""
    opened = build_files.from_bytes(data)
    if not opened.builds:
        return opened.sentences
    names = state.take_in(opened.builds)
    if opened.offers and names and session is not None:
        session[OFFERS] = opened.offers
    return [words_of_keeping.taken_in(names, len(opened.builds)), *(opened.sentences if names else [])]
