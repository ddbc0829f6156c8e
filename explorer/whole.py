"""The order of the page, and nothing else."""

from __future__ import annotations

import streamlit as st

from explorer.components.live_chart import preload
from explorer.frame import bar, drag, header, moments, sidebar
from explorer.questions import pack_gauge, run, sag
from explorer.state.state import State, current, write_link


def draw() -> None:
    """Draw the page once; on a server that others use, what needs no run while another process computes the runs.

    On a server of one's own it comes after the charts' figures, for which the browser else had no time.
    """
    unseen = st.container(key="unseen")
    with unseen:
        header.set_up()
        preload()
    state = current()
    asked, make, fault = header.begun(state)
    ahead = asked.under_way and not drag.own_server()
    if ahead:
        _entered(state)
    with unseen:
        page = make()
        drag.start(page)
    if moments.opened():
        from explorer.questions.registry import MOMENTS

        moments.ahead(page, MOMENTS)
    if not ahead:
        _entered(state)
    header.verdict(page, fault)
    with st.container(key="first"):
        for question in (run, sag, pack_gauge):
            with st.container(key=f"first_{question.__name__.rpartition('.')[2]}", gap=None):
                question.draw(page)
    header.compare(state, page)
    from explorer.questions.registry import MOMENTS  # half a second at the first visit: after the charts

    moments.draw(page, MOMENTS)
    header.foot()
    sidebar.tray(state)
    drag.end()


def _entered(state: State) -> None:
    """What was entered, and the way back: the side, the link and the bar."""
    with st.sidebar:
        sidebar.draw(state)
    write_link(state)
    bar.draw(state)
