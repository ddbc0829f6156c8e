"""Headroom: the order of the page, and nothing else. Start it with `streamlit run explorer/app.py`."""

import os
import sys

if (top := os.path.dirname(os.path.dirname(os.path.abspath(__file__)))) not in sys.path:  # runs at every change
    sys.path.insert(0, top)

import streamlit as st

from explorer.components.live_chart import preload
from explorer.frame import drag, header, moments, provenance, sidebar
from explorer.questions import MOMENTS, run, sag
from explorer.state.state import current, write_link


def main() -> None:
    """Draw the page once."""
    header.set_up()
    preload()
    drag.start()

    state = current()
    with st.sidebar:
        sidebar.draw(state)
    write_link(state)
    header.masthead(state)
    provenance.bar(state)
    page = header.page(state)
    header.verdict(page)
    run.draw(page)
    header.compare(state, page)
    header.section_heading("What the pack does under load")
    sag.draw(page)
    moments.draw(page, MOMENTS)
    header.foot()
    drag.end(page)


if __name__ == "__main__":  # the processes of `page.results` import this file too
    main()
