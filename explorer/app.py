"""Headroom: the order of the page, and nothing else. Start it with `streamlit run explorer/app.py`."""

import os
import sys

if (top := os.path.dirname(os.path.dirname(os.path.abspath(__file__)))) not in sys.path:  # runs at every change
    sys.path.insert(0, top)

import streamlit as st

from explorer.components.live_chart import preload
from explorer.frame import bar, drag, header, moments, outside, sidebar
from explorer.questions import pack_gauge, run, sag
from explorer.state.state import current, write_link


def main() -> None:
    """Draw the page once."""
    outside.ask_nobody()
    header.set_up()
    preload()
    drag.start()

    state = current()
    with st.sidebar:
        sidebar.draw(state)
    write_link(state)
    bar.draw(state)
    page = header.page(state)
    header.verdict(page)
    with st.container(key="first"):
        for question in (run, sag, pack_gauge):
            with st.container(key=f"first_{question.__name__.rpartition('.')[2]}", gap=None):
                question.draw(page)
    header.compare(state, page)
    from explorer.questions.registry import MOMENTS  # half a second at the first visit: after the charts

    moments.draw(page, MOMENTS)
    header.foot()
    sidebar.tray(state)
    drag.end(page)


if __name__ == "__main__":  # the processes of `page.results` import this file too
    main()
