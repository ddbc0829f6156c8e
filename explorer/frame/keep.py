"""At the side: which of the named builds is edited, and keeping, sharing and opening builds."""

from __future__ import annotations

from functools import partial
from urllib.parse import urlencode, urlsplit, urlunsplit

import streamlit as st

from explorer.page import words_of_keeping as words_keep
from explorer.state import build_files
from explorer.state.names import LONGEST_NAME, as_file_name
from explorer.state.state import MOST_BUILDS, State, whole_link

_SAID = "keep:said"
_ROUND = "keep:round"
_UPLOAD_MEGABYTES = 1


def switch(state: State) -> None:
    """Which build the page edits; nothing while there is only one."""
    if len(state.builds) > 1:
        key = "keep:build"
        st.session_state[key] = state.name
        st.selectbox(
            "Build", list(state.builds), key=key, on_change=lambda: state.edit(st.session_state[key]),
            help=words_keep.SWITCH,
        )  # fmt: skip


def keep_and_share(state: State) -> None:
    """Name, copies, files and the link, folded away."""
    fold = st.expander("Keep and share", icon=":material/save:", key="group_keep", on_change="rerun")
    if not fold.open:
        return
    with fold:
        _named(state)
        _copies(state)
        _saved(state)
        _opened(state)
        st.caption(words_keep.LINK)
        st.code(address(whole_link(state), st.context.url), language=None, wrap_lines=True, height=110)


def address(link: dict[str, str], page: str | None) -> str:
    """The whole address of a link.

    Parameters
    ----------
    link : dict of str to str
        Its parameters.
    page : str or None
        The address of the page as the browser knows it; without one, the parameters alone are given.

    Examples
    --------
    >>> address({"v": "1", "name": "a b"}, "http://127.0.0.1:8501/?old=1")
    'http://127.0.0.1:8501/?v=1&name=a+b'
    """
    query = urlencode(link)
    parts = urlsplit(page or "")
    if parts.scheme not in ("http", "https"):
        return "?" + query
    return urlunsplit((parts.scheme, parts.netloc, parts.path or "/", query, ""))


def _named(state: State) -> None:
    key = "keep:name"
    st.session_state[key] = state.name
    st.text_input(
        "Name of this build", key=key, max_chars=LONGEST_NAME, on_change=lambda: state.rename(st.session_state[key])
    )


def _copies(state: State) -> None:
    with st.container(horizontal=True, gap="small", key="keep_copies"):
        st.button(
            "Go on with a copy", icon=":material/content_copy:", key="keep:add", on_click=state.add,
            args=(state.name,), disabled=state.full, help=words_keep.COPY,
        )  # fmt: skip
        st.button(
            "Remove", icon=":material/delete:", key="keep:remove", on_click=state.remove,
            disabled=len(state.builds) < 2, help=words_keep.REMOVE,
        )  # fmt: skip
    if state.full:
        st.caption(f"There is room for {MOST_BUILDS} builds.")


def _saved(state: State) -> None:
    mine = {state.name: state.values}
    with st.container(horizontal=True, gap="small", key="keep_files"):
        st.download_button(
            "Save this build", partial(build_files.as_json, mine), f"{as_file_name(state.name)}.json",
            "application/json", key="keep:save", on_click="ignore", icon=":material/download:",
        )  # fmt: skip
        if len(state.builds) > 1:
            st.download_button(
                f"Save all {len(state.builds)}", partial(build_files.as_json, dict(state.builds)), "builds.json",
                "application/json", key="keep:save_all", on_click="ignore", icon=":material/download:",
            )  # fmt: skip


def _opened(state: State) -> None:
    turn = st.session_state.setdefault(_ROUND, 0)
    key = f"keep:open:{turn}"

    def arrived():
        file = st.session_state[key]
        if file is not None:
            st.session_state[_SAID] = take_in(state, file.getvalue())
            st.session_state[_ROUND] = turn + 1  # an empty box again

    st.file_uploader(
        "Open saved builds", ["json"], key=key, on_change=arrived, max_upload_size=_UPLOAD_MEGABYTES,
        help=words_keep.OPEN,
    )  # fmt: skip
    for sentence in st.session_state.get(_SAID, []):
        st.text(sentence)


def take_in(state: State, data: bytes) -> list[str]:
    """Put the builds of a file beside those that are there; what is to be said about it.

    Parameters
    ----------
    state : State
        The page's state.
    data : bytes
        The file.

    Returns
    -------
    list of str
        Plain sentences.
    """
    opened = build_files.from_bytes(data)
    if not opened.builds:
        return opened.sentences
    names = state.take_in(opened.builds)
    return [words_keep.taken_in(names, len(opened.builds)), *(opened.sentences if names else [])]
