"""The order of the page, and nothing else."""

from __future__ import annotations

import streamlit as st

from explorer.components.live_chart import preload
from explorer.frame import bar, drag, header, moments, sidebar
from explorer.questions import pack_gauge, run, sag
from explorer.state.state import current, write_link


def draw() -> None:
    """Draw the page once."""
    with st.container(key="unseen"):
        header.set_up()
        preload()
        state = current()
        page, fault = header.page(state)
        drag.start(page)
    if moments.opened():
        from explorer.questions.registry import MOMENTS

        moments.ahead(page, MOMENTS)
    with st.sidebar:
        sidebar.draw(state)
    write_link(state)
    bar.draw(state)
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
